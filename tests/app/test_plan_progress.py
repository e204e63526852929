"""A plan beside the ledger: done, open, to do; and the pace that notes of the counter tell."""

import datetime as dt
from pathlib import Path

import pytest

from jarcast.app.harvest import Asked, answer
from jarcast.app.open_batch import underway
from jarcast.app.plan_progress import State, progress
from jarcast.domain.batch import Batch
from jarcast.domain.jars import SHELF, OwnShelf
from jarcast.domain.packing import SoFar
from jarcast.forecast.habits import habits_from
from jarcast.harvest.pace import Timed
from jarcast.harvest.plan.line import Plan, PlanLine
from jarcast.harvest.plan.times import own_times
from jarcast.ledger import Entry, Ledger
from jarcast.ledger.steps import Step, StepKind, add_step, begin, open_batches

TODAY = dt.date(2025, 8, 2)
PLAN = Plan(
    (
        PlanLine(place="line 2", name="c1", produce="carrot", cut="sticks", as_bought_g=5000.0),
        PlanLine(
            place="line 3", name="c2", produce="carrot", cut="sticks", as_bought_g=(4000.0, 9000.0)
        ),
        PlanLine(place="line 4", name="c3", produce="carrot", cut="sticks", as_bought_g=6000.0),
        PlanLine(place="line 5", produce="carrot", cut="sticks", as_bought_g=6000.0),
    )
)


@pytest.fixture
def ledger(tmp_path: Path) -> Path:
    """One batch closed, one open and weighed."""
    path = tmp_path / "ledger.sqlite3"
    batch = Batch(
        batch="c1", date=dt.date(2025, 8, 1), produce="carrot", cut="sticks", jar=("pint",),
        jars=(8.5,), trimmed_g=4000.0,
    )  # fmt: skip
    with Ledger.open(path, writing=True) as opened:
        opened.add([Entry(batch)], "record")
        begin(opened, "c2", {"batch": "c2", "produce": "carrot", "as_bought": "6 kg"})
        add_step(opened, "c2", StepKind.WEIGH, {"trimmed": "5 kg"})
    return path


def test_lines_are_done_open_or_to_do_by_the_names_of_their_batches(ledger: Path) -> None:
    with Ledger.open(ledger) as opened:
        found = progress(PLAN, opened.batches(), open_batches(opened))
    assert [one.state for one in found] == [State.DONE, State.OPEN, State.TO_DO, State.TO_DO]
    done, begun = found[0].batch, found[1].line
    assert done is not None
    assert done.total_jars == 8.5
    # What was weighed stands in place of what was guessed.
    assert (begun.as_bought_g, begun.trimmed_g) == (6000.0, 5000.0)


def test_an_open_batch_that_was_not_weighed_keeps_the_plans_guess(tmp_path: Path) -> None:
    with Ledger.open(tmp_path / "l.sqlite3", writing=True) as opened:
        begin(opened, "c2", {"batch": "c2", "produce": "carrot"})
        assert progress(PLAN, opened.batches(), open_batches(opened))[1].line.as_bought_g == (
            4000.0,
            9000.0,
        )


def test_what_is_packed_goes_into_the_forecast(ledger: Path) -> None:
    with Ledger.open(ledger, writing=True) as opened:
        cells = {"jars": 3.0, "produce_g": 1200.0}
        add_step(opened, "c2", StepKind.PACK, {}, cells)
        found = progress(PLAN, opened.batches(), open_batches(opened))
    assert found[1].so_far == SoFar(jars=3.0, produce_g=1200.0)
    result = answer(PLAN, found, habits_from([]), Asked())
    packed = result.forecasts[1]
    assert packed is not None
    assert packed.jars.quantile(0.0) >= 3.0


def test_the_rest_is_forecast_anew_and_what_is_done_counts_as_it_turned_out(
    ledger: Path,
) -> None:
    habits = habits_from([])
    with Ledger.open(ledger) as opened:
        found = progress(PLAN, opened.batches(), open_batches(opened))
    with Ledger.open(ledger.with_name("none.sqlite3")) as opened:
        before = answer(
            PLAN, progress(PLAN, opened.batches(), open_batches(opened)), habits, Asked()
        )
    after = answer(PLAN, found, habits, Asked())
    assert after.jars_done == 8.5
    assert after.forecasts[0] is None
    assert after.to_do == (1, 2, 3)
    assert after.jars is not None
    assert after.harvest is not None
    assert after.jars.median == pytest.approx(after.harvest.jars.median + 8.5)
    assert before.shopping is not None
    assert after.shopping is not None
    assert before.shopping.lines[0].need.name == "pint"
    assert after.shopping.lines[0].amount < before.shopping.lines[0].amount


def test_a_plan_that_is_done_leaves_nothing_to_buy(ledger: Path) -> None:
    plan = Plan(PLAN.lines[:1])
    with Ledger.open(ledger) as opened:
        result = answer(
            plan, progress(plan, opened.batches(), open_batches(opened)), habits_from([]), Asked()
        )
    assert (result.harvest, result.shopping, result.day, result.jars) == (None,) * 4
    assert result.jars_done == 8.5


def test_a_batch_withdrawn_is_to_do_again(ledger: Path) -> None:
    from jarcast.ledger.annotations import withdraw

    with Ledger.open(ledger, writing=True) as opened:
        withdraw(opened, "c1")
        assert progress(PLAN, opened.batches(), open_batches(opened))[0].state is State.TO_DO


DAY = dt.datetime(2025, 8, 2, 9, 0, tzinfo=dt.UTC)


def step(minutes: float, kind: StepKind, typed: dict[str, str], jars: float | None = None) -> Step:
    cells = {} if jars is None else {"jars": jars}
    return Step("b", kind, typed, cells, DAY + dt.timedelta(minutes=minutes), 1)


def test_trimming_and_packing_are_timed_from_note_to_note() -> None:
    times = own_times(
        [
            step(0, StepKind.BEGIN, {"as_bought": "6 kg"}),
            step(60, StepKind.WEIGH, {"trimmed": "5 kg"}),
            step(80, StepKind.PACK, {}, jars=4),
            step(110, StepKind.PACK, {}, jars=10),
            step(115, StepKind.CLOSE, {}),
        ]
    )
    assert times.trimmed == (Timed(6000.0, 60.0),)
    assert times.packed == (Timed(4.0, 20.0), Timed(6.0, 30.0))


def test_a_night_between_two_notes_is_no_work_and_two_notes_at_once_are_none_either() -> None:
    times = own_times(
        [
            step(0, StepKind.BEGIN, {"as_bought": "6 kg"}),
            step(0.5, StepKind.WEIGH, {"trimmed": "5 kg"}),
            step(800, StepKind.WEIGH, {"cured": "4 kg"}),
            step(801, StepKind.PACK, {}, jars=4),
            step(1500, StepKind.PACK, {}, jars=6),
        ]
    )
    assert times.trimmed == ()
    assert times.packed == ()


def test_an_open_batch_is_read_as_it_is_at_the_counter(ledger: Path) -> None:
    # What is one and the same batch must not have two forecasts: the counter's is the measure.
    with Ledger.open(ledger, writing=True) as opened:
        add_step(opened, "c2", StepKind.WEIGH, {"brine_made": "8 cups"})
        assert (
            progress(PLAN, opened.batches(), open_batches(opened))[1].so_far
            == underway(open_batches(opened)[0], TODAY).so_far
        )
        cells = {"jars": 2.0, "produce_g": 700.0, "brine_made_ml": 1892.0}
        add_step(opened, "c2", StepKind.PACK, {}, cells)
        add_step(opened, "c2", StepKind.PACK, {}, {"jars": 4.0, "pot_left_ml": 900.0})
        add_step(opened, "c2", StepKind.WEIGH, {"brine_made": "10 cups"})
        found = progress(PLAN, opened.batches(), open_batches(opened))[1].so_far
        assert found == underway(open_batches(opened)[0], TODAY).so_far
    assert found is not None
    # 10 cups of 236.5882365 ml: NIST Handbook 44, Appendix C.
    assert found.brine_made_ml == pytest.approx(2365.882365)
    assert found.earlier is not None
    assert (found.jars, found.earlier.jars, found.earlier.produce_g) == (4.0, 2.0, 700.0)


@pytest.mark.parametrize(
    ("typed", "pounds"), [("2 bushels", 100.0), ("2 buckets", 20.0), ("2 sacks of 15 lb", 30.0)]
)
def test_an_open_batch_begun_by_count_goes_by_that(
    tmp_path: Path, typed: str, pounds: float
) -> None:
    """A bushel of carrots without tops is 50 lb: USDA Complete Guide to Home Canning, guide 4."""
    shelf = OwnShelf(SHELF)
    shelf.baskets = {"bucket": {"carrot": "10 lb"}}
    with Ledger.open(tmp_path / "l.sqlite3", writing=True) as opened:
        begin(opened, "c2", {"batch": "c2", "produce": "carrot", "as_bought": typed})
        found = progress(PLAN, opened.batches(), open_batches(opened), shelf)[1].line.as_bought_g
    assert isinstance(found, tuple)
    low, high = (grams / 453.59237 for grams in found)  # NIST Handbook 44, appendix C
    assert low < pounds < high < 1.2 * pounds
