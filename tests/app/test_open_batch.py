"""Batches in the making: which is meant, what they take from the last, what they will come to."""

import datetime as dt
from collections.abc import Callable
from pathlib import Path

import pytest

from jarcast.app.open_batch import (
    Underway,
    against_card,
    as_last,
    begin_batch,
    by_card,
    entry_of,
    find_open,
    forecast_of,
    in_turns,
    last_like,
    missing_to_close,
    note_problems,
    table_cells,
    underway,
    with_last,
)
from jarcast.app.work import Work
from jarcast.domain.batch import Batch
from jarcast.domain.jars import SHELF
from jarcast.domain.packing import SoFar
from jarcast.errors import BatchError, ForecastError, RecipeError
from jarcast.forecast.habits import Habits, habits_from
from jarcast.ledger import Ledger
from jarcast.ledger.steps import OpenBatch, Step, StepKind, open_batches
from jarcast.recipes import Recipe, shipped_recipes

TODAY = dt.date(2024, 8, 31)
NOW = dt.datetime(2024, 8, 31, 9, tzinfo=dt.UTC)
CARROTS = {"produce": "carrot", "cut": "sticks", "pack": "raw", "jar": "pint", "cure_hours": "0"}


@pytest.fixture(scope="module")
def habits() -> Habits:
    """The starting beliefs."""
    return habits_from([])


@pytest.fixture(scope="module")
def beets() -> Recipe:
    return shipped_recipes()["pickled-beets"]


def opened(name: str = "c1", notes: tuple[SoFar, ...] = (), **typed: str) -> OpenBatch:
    first = Step(name, StepKind.BEGIN, {**CARROTS, **typed}, {}, NOW, 1)
    later = [
        Step(name, StepKind.PACK, {}, {k: getattr(n, k) for k in SoFar.__struct_fields__}, NOW, 2)
        for n in notes
    ]
    return OpenBatch(name, (first, *later))


def at(notes: tuple[SoFar, ...] = (), **typed: str) -> Underway:
    return underway(opened("c1", notes, **typed), TODAY)


def batch(**values: object) -> Batch:
    plain = {"batch": "b", "date": TODAY, "produce": "Carrots", "jar": ("pint",), "jars": (9.0,)}
    return Batch(**{**plain, **values})  # type: ignore[arg-type]


# Which batch is meant


@pytest.mark.parametrize(
    "name", ["2024-08-31 carrot", "2024-08-31  CARROT", "Carrot", "2024-08-31 car"]
)
def test_an_open_batch_is_found_by_its_name_forgivingly(name: str) -> None:
    found = [opened("2024-08-31 carrot"), opened("2024-08-31 cucumber")]
    assert find_open(found, name).name == "2024-08-31 carrot"


def test_the_whole_name_comes_before_the_beginning_of_another() -> None:
    found = [opened("c1 late"), opened("c1")]
    assert find_open(found, "C1").name == "c1"


@pytest.mark.parametrize(
    ("names", "asked", "saying"),
    [
        ((), "c1", "'jarcast begin' opens one"),
        (("c1", "c2"), "c", "could be any of: 'c1', 'c2'"),
        (("c1", "c2"), "b", "open are: 'c1', 'c2'"),
        (("c1", "c2"), " ", "open are: 'c1', 'c2'"),
    ],
)
def test_where_none_or_several_answer_they_are_named(
    names: tuple[str, ...], asked: str, saying: str
) -> None:
    with pytest.raises(BatchError, match=saying):
        find_open([opened(name) for name in names], asked)


def test_names_made_up_at_the_same_time_differ(tmp_path: Path) -> None:
    path = tmp_path / "ledger.sqlite3"
    typed = {**CARROTS, "date": "2024-08-31"}

    def begun(name: str) -> str:
        with Work(path) as work:
            return begin_batch(work, typed, name).name

    names = [begun("") for _ in range(3)]
    assert names[0] == "2024-08-31 carrot sticks"
    assert len(set(names)) == 3
    with pytest.raises(BatchError, match="is already open"):
        begun(names[0])
    with Ledger.open(path) as ledger:
        assert [one.name for one in open_batches(ledger)] == names


# Jars of several sorts


def test_jars_in_turns_are_sorts_for_the_table_and_turns_for_a_forecast() -> None:
    typed = {"jar": "5 pint-wide, then 2 x 12-oz, then pint"}
    assert table_cells(typed)["jar"] == "pint-wide + 12-oz + pint"
    assert in_turns(typed) == typed["jar"]
    assert in_turns({"jar": "quart-wide + pint"}) == "quart-wide"
    assert table_cells({"jar": "pint"}) == {"jar": "pint"}
    finished = entry_of("c1", {**CARROTS, **typed, "jars": "5 + 2 + 3.5"}, TODAY)
    assert (finished.batch.jar_text, finished.batch.jars_text) == (
        "pint-wide + 12-oz + pint",
        "5 + 2 + 3.5",
    )


def test_a_batch_of_several_sorts_is_begun_again_in_its_turns() -> None:
    last = batch(jar=("pint-wide", "pint"), jars=(5.0, 4.5), pack="raw pack")
    assert as_last(last) == {"pack": "raw", "jar": "5 pint-wide, then pint"}


# What is taken from the last like batch


def test_the_last_like_batch_is_of_the_same_produce_and_cut() -> None:
    history = [batch(batch=n, cut=c) for n, c in (("1", "sticks"), ("2", "slices"), ("3", ""))]
    assert last_like(history, "carrot", "Stick").batch == "1"  # type: ignore[union-attr]
    assert last_like(history, "CARROT", "").batch == "3"  # type: ignore[union-attr]
    assert last_like(history, "beet", "") is None


def test_what_is_said_is_never_taken_from_the_last_batch() -> None:
    last = batch(pack="hot", recipe="my aunt's")
    assert with_last({"pack": "raw"}, last, None, SHELF)[0] == {
        "jar": "pint",
        "recipe": "my aunt's",
    }
    assert with_last({"recipe": ""}, last, None, SHELF)[0] == {"pack": "hot", "jar": "pint"}


def test_the_recipe_of_last_time_is_left_out_where_it_was_not_tested_so(beets: Recipe) -> None:
    last = batch(produce="beet", cut="slices", recipe=beets.key)
    said = {"produce": "beet", "jar": "1l"}  # no USDA recipe is for litre jars
    taken, why = with_last(said, last, beets, SHELF)
    assert "recipe" not in taken
    assert "does not list" in why
    taken, why = with_last({"produce": "beet", "jar": "pint"}, last, beets, SHELF)
    assert (taken["recipe"], why) == (beets.key, "")


# A recipe's card


def test_the_card_says_what_was_not_said(beets: Recipe) -> None:
    found = by_card({"as_bought": "10 lb"}, beets, SHELF)
    assert beets.safety is not None
    assert found["produce"] == "beet"
    assert found["jar"] == beets.tested.jar
    assert float(found["headspace_in"]) == beets.safety.headspace_in
    assert found["as_bought"] == "10 lb"


@pytest.mark.parametrize(
    ("typed", "error"),
    [
        ({"produce": "carrot"}, ForecastError),
        ({"headspace_in": "1 in"}, ForecastError),
        ({"jar": "1l"}, RecipeError),
        ({"jar": "3 pint, then 1l"}, RecipeError),
    ],
)
def test_what_the_card_does_not_allow_is_refused(
    beets: Recipe, typed: dict[str, str], error: type[Exception]
) -> None:
    with pytest.raises(error):
        by_card(typed, beets, SHELF)


# What it will come to


def test_without_a_weight_it_waits(habits: Habits) -> None:
    assert forecast_of(habits, at(), None) is None
    assert forecast_of(habits, at(note="windy"), None) is None
    assert forecast_of(habits, at(trimmed=""), None) is None


def width(forecast) -> float:
    low, high = forecast.jars.interval()
    return high - low


def test_each_weight_and_each_note_makes_it_sharper(habits: Habits) -> None:
    bought = forecast_of(habits, at(as_bought="8 lb"), None)
    trimmed = forecast_of(habits, at(as_bought="8 lb", trimmed="6 lb 4 oz"), None)
    note = SoFar(jars=3.0, produce_left_g=1900.0)
    packed = forecast_of(habits, at((note,), as_bought="8 lb", trimmed="6 lb 4 oz"), None)
    assert bought is not None
    assert trimmed is not None
    assert packed is not None
    assert width(bought) > width(trimmed) > 3.0 * width(packed)


def test_what_was_packed_is_left_out_of_the_forecast_that_is_kept(habits: Habits) -> None:
    here = at((SoFar(jars=3.0, produce_left_g=1900.0),), trimmed="6 lb 4 oz")
    plain = forecast_of(habits, here, None, packing=False)
    assert plain is not None
    assert plain.so_far is None
    assert plain.jars.median == forecast_of(habits, at(trimmed="6 lb 4 oz"), None).jars.median


def test_brine_made_counts_before_the_first_jar(habits: Habits) -> None:
    little = forecast_of(habits, at(trimmed="6 lb", brine_made="2 cups"), None)
    much = forecast_of(habits, at(trimmed="6 lb", brine_made="4 gal"), None)
    assert little.runs_out > 0.9  # type: ignore[union-attr]
    assert much.runs_out < 0.01  # type: ignore[union-attr]
    assert much.brine_to_make() == 0.0  # type: ignore[union-attr]


def test_brine_made_later_counts_with_the_last_note(habits: Habits) -> None:
    note = SoFar(jars=3.0, produce_left_g=1800.0, brine_made_ml=900.0)
    before = forecast_of(habits, at((note,), trimmed="6 lb", brine_made="900 ml"), None)
    after = forecast_of(habits, at((note,), trimmed="6 lb", brine_made="900 ml + 3 l"), None)
    assert before.runs_out > after.runs_out + 0.3  # type: ignore[union-attr, operator]


def test_a_later_note_without_produce_keeps_what_was_weighed_before(habits: Habits) -> None:
    weighed = SoFar(jars=3.0, produce_left_g=1900.0)
    counted = SoFar(jars=5.0, pot_left_ml=900.0)
    first = forecast_of(habits, at((weighed,), trimmed="6 lb 4 oz"), None)
    later = forecast_of(habits, at((weighed, counted), trimmed="6 lb 4 oz"), None)
    alone = forecast_of(habits, at((counted,), trimmed="6 lb 4 oz"), None)
    assert first is not None
    assert later is not None
    assert alone is not None
    # Two jars more that nobody weighed tell nothing new of how many there will be.
    assert later.jars.interval() == pytest.approx(first.jars.interval(), rel=0.005)
    assert width(alone) > 3.0 * width(later)
    assert later.jars_to_come.draws == pytest.approx(later.jars.draws - 5.0)
    assert later.brine_to_come_ml.median < first.brine_to_come_ml.median


def test_contradictions_are_told_and_not_forecast_from(habits: Habits) -> None:
    with pytest.raises(ForecastError, match="weigh again"):
        forecast_of(habits, at(as_bought="2 lb", trimmed="20 lb"), None)


# Notes that do not fit


@pytest.mark.parametrize(
    ("so_far", "saying"),
    [
        (SoFar(jars=2.0), "fewer than the 3"),
        (SoFar(jars=4.0, brine_ml=5000.0), "more brine in the jars than they hold"),
        (SoFar(jars=4.0, brine_ml=1200.0, pot_left_ml=900.0, brine_made_ml=2000.0), "was made"),
    ],
)
def test_a_note_that_does_not_fit_is_told(so_far: SoFar, saying: str) -> None:
    before = at((SoFar(jars=3.0, brine_made_ml=2000.0),), trimmed="6 lb", brine_made="2 l")
    (problem,) = note_problems(before, so_far, SHELF)
    assert saying in problem


def test_a_note_that_fits_is_none_of_these() -> None:
    before = at((SoFar(jars=3.0, brine_made_ml=2000.0),), trimmed="6 lb", brine_made="2 l")
    note = SoFar(jars=4.0, brine_ml=700.0, pot_left_ml=1200.0, brine_made_ml=2000.0)
    assert note_problems(before, note, SHELF) == ()


# The finished batch


def test_what_is_missing_is_named() -> None:
    assert missing_to_close({"produce": "carrot", "jar": " "}) == ("jar", "jars")
    assert missing_to_close({**CARROTS, "jars": "8"}) == ()


@pytest.fixture
def finished() -> Callable[..., Batch]:
    return lambda **typed: entry_of("c1", {**CARROTS, "jars": "8.5", **typed}, TODAY).batch


def test_bowls_are_added_and_an_empty_one_taken_off(finished: Callable[..., Batch]) -> None:
    # 5 lb 11 oz = 91 oz at 28.349523125 g (NIST Handbook 44, Appendix C), less 410 g.
    done = finished(trimmed="3 lb 2 oz + 2 lb 9 oz - 410 g")
    assert done.trimmed_g == pytest.approx(91 * 28.349523125 - 410, abs=1e-9)
    assert (done.cure_hours, done.jars) == (0.0, (8.5,))


@pytest.mark.parametrize(
    ("jar", "jars", "sorts", "counts"),
    [
        ("4 quart, then pint", "9", ("quart", "pint"), (4.0, 5.0)),
        ("4 quart, then pint", "8 1/2", ("quart", "pint"), (4.0, 4.5)),
        ("4 quart, 2 12-oz, then pint", "7", ("quart", "12-oz", "pint"), (4.0, 2.0, 1.0)),
        ("4 quart, then pint", "3.5", ("quart",), (3.5,)),  # the second was not reached
        ("4 quart, then pint", "3 + 6", ("quart", "pint"), (3.0, 6.0)),
    ],
)
def test_one_count_is_dealt_out_as_the_jars_were_planned(
    finished: Callable[..., Batch],
    jar: str,
    jars: str,
    sorts: tuple[str, ...],
    counts: tuple[float, ...],
) -> None:
    done = finished(jar=jar, jars=jars)
    assert (done.jar, done.jars) == (sorts, counts)


def test_one_count_for_sorts_without_a_plan_is_refused_by_their_names(
    finished: Callable[..., Batch],
) -> None:
    with pytest.raises(BatchError, match=r"is in quart \+ pint; .*'4 quart \+ 5 pint'"):
        finished(jar="quart + pint", jars="9")


def test_what_a_card_does_not_allow_of_a_finished_batch_is_named(
    finished: Callable[..., Batch],
) -> None:
    # USDA Complete Guide, Guide 6, pickled beets: a hot pack, pints or quarts, 1/2 in of headspace.
    beets = shipped_recipes()["pickled-beets"]
    right = finished(produce="beets", pack="boiled", jar="pint", headspace_in="1/2 in")
    assert against_card(right, beets, SHELF) == ()
    wrong = finished(produce="carrots", pack="raw", jar="half-pint", headspace_in="1/4 in")
    assert against_card(wrong, beets, SHELF) == (
        "it is of carrots, the card for beet",
        "a raw pack, the card lists hot",
        "half-pint jars, the card lists pint, quart",
        "a headspace of 0.25 in, the card has 0.5 in",
    )


def test_a_step_that_says_what_no_batch_has_is_told_by_its_name() -> None:
    with pytest.raises(BatchError, match=r"pot left.*is not a column of a batch"):
        at(pot_left="5 cups", trimmed="5 lb")


@pytest.mark.parametrize("odd", ["a", -1.5, {}])
def test_an_earlier_reading_that_is_none_is_refused(odd: object) -> None:
    with pytest.raises(ForecastError, match=r"earlier: .* is not a reading"):
        SoFar(jars=3.0, earlier=odd)  # type: ignore[arg-type]
