"""Pictures for a terminal: lengths against the draws they are made from, and where they stop."""

import re

import numpy as np
import pytest
from msgspec.structs import replace

from jarcast.forecast.answer import Forecast
from jarcast.forecast.habits import habits_from
from jarcast.forecast.outcome import Outcome
from jarcast.measures import Units
from jarcast.views.forecast import forecast_text
from jarcast.views.pictures import BLOCKS, Canvas, before_and_now, forecast_picture

CUP_ML = 236.5882365  # NIST Handbook 44, Appendix C
PLAIN, WIDE = Canvas(60, blocks=False), Canvas(100, blocks=True)


@pytest.fixture(scope="module")
def carrots() -> Forecast:
    """Made-up draws: a quarter each nearest to 6, 7, 8 and 9 jars; 0 to 10 cups of brine."""
    asked = habits_from([]).forecast(produce="carrot", cut="sticks", trimmed_g=2700.0, cure_hours=0)
    jars = Outcome(np.linspace(5.5, 9.5, 4000, endpoint=False))
    brine = Outcome(np.linspace(0.0, 10.0, 4000) * CUP_ML)
    return replace(asked, jars=jars, jars_by_sort=(jars,), brine_ml=brine, brine_to_come_ml=brine)


def later(forecast: Forecast) -> Forecast:
    """The same with other jars and less brine, of other numbers at both ends."""
    jars, brine = Outcome(np.linspace(7.0, 8.0, 1001)), Outcome(np.linspace(4.0, 7.0, 400) * CUP_ML)
    return replace(forecast, jars=jars, jars_by_sort=(jars,), brine_ml=brine)


def drawn(forecast: Forecast, canvas: Canvas) -> list[str]:
    return forecast_picture(forecast, Units.US, 0.8, 0.05, canvas).splitlines()


def test_counts_that_are_as_likely_have_bars_as_long(carrots: Forecast) -> None:
    # The first row says what all of them are, in columns that no bar may then take: of 60 that
    # leaves 60 - len("  Pints  6 ") - len(" 100 batches in 100"); of 80 more than the longest, 36.
    for columns, longest in ((60, 60 - 11 - 19), (80, 36)):
        lines = drawn(carrots, Canvas(columns, blocks=False))[:4]
        first, *rows = (line.split() for line in lines)
        assert (first[0], first[3:]) == ("Pints", ["25", "batches", "in", "100"])
        bars = [first[1:4], *rows]
        assert [tuple(bar) for bar in bars] == [(n, "#" * longest, "25") for n in "6789"]


def test_counts_drawn_as_one_are_named_from_the_first_to_the_last(carrots: Forecast) -> None:
    # Evenly from 2.5 to 17.5: of 15 parts 3.5 lie below 6, 4 each up to 10 and 14, 3.5 beyond.
    wide = replace(carrots, jars=Outcome(np.linspace(2.5, 17.5, 15_000, endpoint=False)))
    lines = [line.removeprefix("  Pints").strip() for line in drawn(wide, PLAIN)[:4]]
    rows = [re.split("[ #]{2,}", line.removesuffix(" batches in 100")) for line in lines]
    assert rows == [["2 to 5", "23"], ["6 to 9", "27"], ["10 to 13", "27"], ["14 to 17", "23"]]


def test_brine_used_and_made_are_on_one_scale(carrots: Forecast) -> None:
    used, made = drawn(carrots, PLAIN)[-2:]
    # 8 times in 10 of 0 to 10 cups is 1 to 9; short once in twenty is 9 1/2, the longest.
    assert used.endswith(" 1 to 9 cups")
    assert "about 5 cups; 8 times in 10" in drawn(carrots, PLAIN)[-3]
    assert made.endswith(" 9 1/2 cups")
    whole = made.count("#")
    assert used.count("#") == round(whole * 1 / 9.5)
    assert used.count("#") + used.count("=") == round(whole * 9 / 9.5)


@pytest.mark.parametrize("blocks", [True, False])
@pytest.mark.parametrize("columns", [40, 45, 60, 80, 300])
def test_no_line_is_wider_than_the_terminal(carrots: Forecast, columns: int, blocks: bool) -> None:
    canvas = Canvas(columns, blocks)
    strips = before_and_now(later(carrots), carrots, Units.US, canvas)
    for text in ("\n".join(drawn(carrots, canvas)), *([strips] if strips else [])):
        assert 0 < max(len(line) for line in text.splitlines()) <= min(columns, 78)
    # A label takes 14, the words 19, or 24 with '1/2' for '½', a strip 8 at least.
    assert bool(strips) == (columns >= 14 + 8 + (19 if blocks else 24))


def test_there_is_no_picture_where_there_is_no_room(carrots: Forecast) -> None:
    assert drawn(carrots, Canvas(39, blocks=True)) == []
    assert before_and_now(later(carrots), carrots, Units.US, Canvas(39, blocks=True)) == ""


def test_plain_signs_are_ascii_and_blocks_are_the_ones_named(carrots: Forecast) -> None:
    assert "\n".join(drawn(carrots, PLAIN)).isascii()
    assert before_and_now(later(carrots), carrots, Units.US, PLAIN).isascii()
    signs = "".join(drawn(carrots, WIDE)) + before_and_now(later(carrots), carrots, Units.US, WIDE)
    assert {sign for sign in signs if not sign.isascii()} <= set(BLOCKS) | set("¼½¾")


def test_before_and_now_stand_one_above_the_other_on_one_scale(carrots: Forecast) -> None:
    now = replace(carrots, jars=Outcome(np.linspace(7.0, 8.0, 1001)))
    _, before, after = before_and_now(now, carrots, Units.US, PLAIN).splitlines()[:3]
    assert before.split()[0] == "before"
    assert before.endswith(" 7 1/2 (6 to 9)")  # the middle of 5.5 to 9.5
    assert after.endswith(" 7 1/2 (7 to 8)")
    starts, ends = zip(*((line.index("|"), line.rindex("|")) for line in (before, after)),
                       strict=True)  # fmt: skip
    # 7.1 to 7.9 on a scale from 5.9 to 9.1.
    wide = ends[0] - starts[0]
    assert (starts[1] - starts[0]) / wide == pytest.approx(1.2 / 3.2, abs=0.04)
    assert (ends[1] - starts[0]) / wide == pytest.approx(2.0 / 3.2, abs=0.04)


def test_what_reads_as_before_is_not_drawn(carrots: Forecast) -> None:
    assert before_and_now(carrots, carrots, Units.US, PLAIN) == ""
    less = replace(carrots, brine_ml=later(carrots).brine_ml)
    assert "Jars in all" not in before_and_now(less, carrots, Units.US, PLAIN)
    assert "Brine in all" in before_and_now(less, carrots, Units.US, PLAIN)


def test_the_words_are_the_same_with_and_without_a_picture(carrots: Forecast) -> None:
    bare = forecast_text(carrots, Units.US)
    with_picture = forecast_text(carrots, Units.US, canvas=WIDE)
    picture = "\n".join(drawn(carrots, WIDE))
    assert picture in with_picture
    # The range of brine is drawn, with its numbers beside it, and not said again.
    said = (
        "           You'll use about 5 cups, with what stays in the pot, 8 times in 10\n"
        "           between 1 and 9 cups.\n"
    )
    assert "about 5 cups; 8 times in 10" in picture
    assert " 1 to 9 cups\n" in picture
    assert said in bare
    assert with_picture.replace(f"{picture}\n\n", "") == bare.replace(said, "")
    assert not re.search("[█▒]", bare)


def test_what_makes_its_own_brine_has_no_bar_for_it() -> None:
    kraut = habits_from([]).forecast(produce="cabbage", cut="kraut", trimmed_g=3000.0)
    assert not kraut.has_brine
    assert "Brine" not in "\n".join(drawn(kraut, PLAIN))
