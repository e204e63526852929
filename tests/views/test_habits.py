"""Habits in words: ranges, and what changed since earlier seasons."""

import datetime as dt

import pytest

from jarcast.domain.stages import Link
from jarcast.measures import Units, format_weight
from jarcast.trackrecord.summary import (
    CropHabits,
    Habit,
    HabitSummary,
    JarHabit,
    Known,
    PersonHabits,
    Trend,
)
from jarcast.views.habits import HABIT_WORDS, habits_document, habits_text
from jarcast.views.ranges import ends_words, known_range, percent, range_words, share_range

TODAY = dt.date(2026, 5, 1)
CROP = CropHabits(
    "carrot", "sticks", "raw", 8, "this cut",
    (
        Habit("trim yield", Known(0.84, 0.8, 0.88), Known(0.81, 0.69, 0.9), 8),
        Habit("density", Known(0.51, 0.5, 0.52), Known(0.6, 0.47, 0.77), 8),
    ),
    (),
)  # fmt: skip


def trend(link: Link, since: str, change: float, sure: float = 0.95) -> Trend:
    return Trend(link, since, Known(change, change - 0.01, change + 0.01), sure)


def said(*trends: Trend, units: Units = Units.US, since: dt.date | None = None) -> str:
    summary = HabitSummary((CROP,), Known(150.0, 100.0, 200.0), trends, 8)
    return " ".join(habits_text(summary, (), units, TODAY, since).split())


@pytest.mark.parametrize(
    ("since", "words"),
    [
        ("2024-07-06", "than two summers ago (since 2024-07-06)."),
        ("2025-06-01", "than last summer (since 2025-06-01)."),
        ("2023-09-30", "than three summers ago (since 2023-09-30)."),
        ("2012-07-01", "than 14 summers ago (since 2012-07-01)."),
        ("2024-02-06", "than two years ago (since 2024-02-06)."),
        ("2025-11-06", "than last year (since 2025-11-06)."),
        ("2026-03-06", "than earlier this year (since 2026-03-06)."),
    ],
)
def test_since_when_is_told_in_summers_and_to_the_day(since: str, words: str) -> None:
    assert f"You pack 8 % tighter {words}" in said(trend(Link.PACK, since, 0.08))


@pytest.mark.parametrize(
    ("link", "change", "words"),
    [
        (Link.PACK, 0.08, "You pack 8 % tighter than"),
        (Link.PACK, -0.052, "You pack 5 % looser than"),
        (Link.PACK, 0.003, "You pack less than 1 % tighter than"),
        (Link.CURE, 0.031, "3 % more is left after salting than"),
        (Link.CURE, -0.031, "3 % less is left after salting than"),
        # A quarter more kept for each pound away is a fifth less away for each pound kept.
        (Link.TRIM, 0.25, "You trim away 20 % less for each pound kept than"),
        (Link.TRIM, -0.2, "You trim away 25 % more for each pound kept than"),
    ],
)
def test_a_change_is_told_with_its_size_and_its_direction(
    link: Link, change: float, words: str
) -> None:
    assert f"{words} last summer" in said(trend(link, "2025-07-01", change))


def test_a_metric_kitchen_keeps_kilograms() -> None:
    words = said(trend(Link.TRIM, "2025-07-01", 0.25), units=Units.METRIC)
    assert "20 % less for each kilogram kept" in words


def test_of_each_link_the_clearest_change_is_told_and_json_has_them_all() -> None:
    trends = (
        trend(Link.PACK, "2023-07-01", 0.1, 0.93),
        trend(Link.TRIM, "2023-07-01", 0.25, 0.91),
        trend(Link.PACK, "2024-07-01", 0.08, 0.98),
        trend(Link.PACK, "2025-07-01", 0.05, 0.95),
    )
    text = said(*trends)
    assert text.count("You pack") == text.count("You trim") == 1
    assert "You pack 8 % tighter than two summers ago" in text
    summary = HabitSummary((CROP,), Known(150.0, 100.0, 200.0), trends, 8)
    told = habits_document(summary, ())["trends"]
    assert [(one["arrow"], one["since"]) for one in told] == [
        (one.link.value, one.since) for one in trends
    ]
    change = told[0]["change"]
    assert (change["median"], change["level"]) == (0.1, 0.8)
    assert (change["low"], change["high"]) == (pytest.approx(0.09), pytest.approx(0.11))


def test_asked_since_when_nothing_changed_that_is_said() -> None:
    assert "Nothing has surely changed since 2024-06-01." in said(since=dt.date(2024, 6, 1))
    assert "sure to have changed" not in said()
    one = trend(Link.PACK, "2024-07-01", 0.08)
    assert "sure to have changed" not in said(one, since=dt.date(2024, 6, 1))


def test_a_unit_that_both_ends_share_is_said_once_and_never_misread() -> None:
    text = said()
    assert "left after trimming 84 % (80 to 88 %) 81 % (69 to 90 %) 8" in text
    assert "pack density, g/ml 0.51 (0.50 to 0.52) 0.60 (0.47 to 0.77) 8" in text
    # Where one end has ounces alone and the other pounds too, both keep their units.
    loss = Known(453.59237, 14 * 28.349523125, 1.4 * 453.59237)
    said_of = known_range(loss, lambda g: format_weight(g, Units.US))
    assert range_words(said_of) == "1 lb (14 oz to 1 lb 6½ oz)"


def test_without_batches_that_is_said_alone() -> None:
    nothing = HabitSummary((), Known(150.0, 100.0, 200.0), (), 0)
    assert habits_text(nothing, (), Units.US, TODAY).startswith("No batches yet")


@pytest.mark.parametrize(
    ("low", "high", "said"),
    [
        ("1½ cups", "3 cups", "1½ to 3 cups"),
        ("15¼ oz", "1 lb 2 oz", "15¼ oz to 1 lb 2 oz"),
        ("1 lb 2 oz", "1 lb 4 oz", "1 lb 2 oz to 1 lb 4 oz"),
        ("950 g", "1.02 kg", "950 g to 1.02 kg"),
        ("12 %", "15 %", "12 to 15 %"),
        ("¾ cup", "¾ cup", "¾ cup"),
    ],
)
def test_a_unit_is_said_once_only_where_it_is_the_one_unit_of_both_ends(
    low: str, high: str, said: str
) -> None:
    assert ends_words(low, high) == said


def test_next_to_nothing_has_no_sign() -> None:
    assert percent(-0.001) == "0 %"
    assert percent(-0.0001, 1) == "0.0 %"


@pytest.mark.parametrize(
    ("known", "words"),
    [
        (Known(0.8997, 0.8971, 0.9024), "90.0 % (89.7 to 90.2 %)"),  # whole: 90 (90 to 90)
        (Known(0.9, 0.8999, 0.9001), "90.0 %"),
        (Known(0.9, 0.88, 0.92), "90 % (88 to 92 %)"),
    ],
)
def test_ends_that_read_alike_are_told_finer_or_not_at_all(known: Known, words: str) -> None:
    """By hand: 0.8971 is 89.7 %, 0.9024 is 90.2 %."""
    assert range_words(share_range(known)) == words
    cup = known_range(known, lambda _: "¾ cup")
    assert range_words(cup) == "¾ cup"


def test_what_stays_is_told_of_each_stage_and_80_columns_hold_the_table() -> None:
    shown = Known(1.0, 1.0, 1.04)
    habits = tuple(Habit(name, shown, Known(0.99, 0.9, 1.08), 1234) for name in HABIT_WORDS)
    crop = CropHabits("carrot", "sticks", "hot", 1234, "this cut", habits, ())
    summary = HabitSummary((crop,), Known(150.0, 100.0, 200.0), (), 1234)
    lines = habits_text(summary, (), Units.US, TODAY).splitlines()
    assert max(map(len, lines)) <= 80
    for stage in ("trimming", "salting", "cooking"):
        (row,) = (line for line in lines if f"left after {stage}" in line)
        assert "100 % (100 to 104 %)" in row


def test_people_stand_side_by_side_where_there_are_several() -> None:
    known = Known(0.8, 0.7, 0.9)
    jar = JarHabit("pint", Known(150.0, 140.0, 160.0), Known(280.0, 270.0, 290.0))
    crop = CropHabits(
        "carrot", "sticks", "raw", 3, "this cut", (Habit("trim yield", known, known, 3),), (jar,)
    )
    people = (PersonHabits("Ada", 3, crop), PersonHabits("Ben the Second of That Name", 1, crop))
    summary = HabitSummary((crop,), Known(150.0, 100.0, 200.0), (), 4, people=people)
    text = habits_text(summary, [], Units.METRIC, dt.date(2026, 7, 1))
    lines = text[text.index("Side by side") :].splitlines()
    assert lines[0] == "Side by side, with carrot, sticks, raw pack:"
    assert lines[2].split()[:3] == ["Ada", "3", "80"]
    assert "280 g (270 to 290 g)" in lines[2]
    assert max(map(len, lines[:4])) <= 80
    assert [one["person"] for one in habits_document(summary, [])["people"]] == [
        "Ada", "Ben the Second of That Name",
    ]  # fmt: skip
    alone = HabitSummary((crop,), Known(150.0, 100.0, 200.0), (), 4)
    assert "Side by side" not in habits_text(alone, [], Units.METRIC, dt.date(2026, 7, 1))
    assert "people" not in habits_document(alone, [])
