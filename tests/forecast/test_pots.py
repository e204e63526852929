"""What is said of the brine in the middle of packing, whatever order its pots are noted in."""

import datetime as dt
import math
from collections.abc import Sequence

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from msgspec.structs import replace
from numpy.testing import assert_allclose

from jarcast import Forecast, Habits, SoFar, habits_from
from jarcast.app.open_batch import forecast_of, underway
from jarcast.domain.jars import SHELF
from jarcast.domain.pots import Made, packing_by
from jarcast.learning.model.scales import Instruments, exactly
from jarcast.ledger.steps import OpenBatch, Step, StepKind
from jarcast.measures import Units, round_up_volume
from jarcast.recipes import Recipe, shipped_recipes
from jarcast.recipes.scaling import scale_to_volume

CUP = 236.5882365  # ml, NIST Handbook 44, Appendix C
OUNCE_G = 28.349523125
FILL = SHELF["pint"].fill_volume_ml(0.5)
NOW = dt.datetime(2024, 8, 31, tzinfo=dt.UTC)
BEGINNER = habits_from([])
# Whose scale and measure are known, so that no reading tells of their steps.
KNOWN_STEPS = replace(
    BEGINNER,
    learned=replace(BEGINNER.learned, instruments=Instruments(exactly(5.0), exactly(10.0), {})),
)
CARD = "pickled-carrots"


def cauliflower(habits: Habits, *log: Made | SoFar) -> Forecast:
    """5 lb 10 oz of florets, raw, in pints."""
    return habits.forecast(
        produce="cauliflower", cut="florets", pack="raw", jar="pint", trimmed_g=90 * OUNCE_G,
        cure_hours=0.0, so_far=packing_by(log),
    )  # fmt: skip


def width(forecast: Forecast) -> float:
    low, high = forecast.jars.interval(0.8)
    return high - low


EIGHT = SoFar(jars=8.0, pot_left_ml=1.0 * CUP)
FOUR = SoFar(jars=4.0, pot_left_ml=4.5 * CUP)


def test_a_second_pot_changes_nothing_but_the_pot() -> None:
    before = cauliflower(BEGINNER, Made(8 * CUP), EIGHT)
    after = cauliflower(BEGINNER, Made(8 * CUP), EIGHT, Made(12 * CUP))
    assert_allclose(after.jars.draws, before.jars.draws)
    assert_allclose(after.brine_to_come_ml.draws, before.brine_to_come_ml.draws)
    assert after.brine_there_ml is not None
    assert after.brine_there_ml.median == pytest.approx(5 * CUP)
    # Three jars are to come: what is heated is no more than they hold, produce and all.
    assert before.brine_to_make() <= 3.5 * FILL
    assert after.brine_to_make() == 0.0


@pytest.mark.parametrize("jars", [4.0, 5.0, 6.0])
def test_a_note_without_a_reading_keeps_what_the_first_jars_taught(jars: float) -> None:
    read = cauliflower(BEGINNER, Made(8 * CUP), FOUR)
    later = cauliflower(BEGINNER, Made(8 * CUP), FOUR, Made(12 * CUP), SoFar(jars=jars))
    assert width(later) <= 1.05 * width(read)
    assert later.jars.median == pytest.approx(read.jars.median, rel=0.02)
    # 8 1/2 cups were in the pot when the second was added; each jar since took as much as each
    # jar to come takes, but for what the pot loses.
    each = read.brine_to_come_ml.median / read.jars_to_come.median
    assert later.brine_there_ml is not None
    due = 8.5 * CUP - (jars - 4.0) * each
    assert later.brine_there_ml.median == pytest.approx(due, abs=0.25 * CUP)
    assert later.brine_to_come_ml.median < read.brine_to_come_ml.median + 1e-6
    assert later.brine_ml.median == pytest.approx(read.brine_ml.median, rel=0.03)


def test_produce_weighed_and_a_pot_read_at_other_jars_both_count() -> None:
    weighed = SoFar(jars=3.0, produce_g=720.0)
    pot = SoFar(jars=5.0, pot_left_ml=3.2 * CUP)
    both = cauliflower(BEGINNER, Made(8 * CUP), weighed, pot, SoFar(jars=6.0))
    alone = cauliflower(BEGINNER, Made(8 * CUP), weighed, SoFar(jars=6.0))
    assert both.jars.median == pytest.approx(alone.jars.median, rel=0.02)
    assert both.brine_there_ml is not None
    assert alone.brine_there_ml is not None
    # The pot was read a jar ago: it is surer than what is reckoned over all six jars.
    assert both.brine_there_ml.draws.std() < alone.brine_there_ml.draws.std()
    assert both.brine_there_ml.median < 3.2 * CUP


def test_produce_left_of_a_batch_that_was_not_weighed_ready_counts_later_too() -> None:
    asked = {"produce": "cucumber", "cut": "slices", "trimmed_g": 3000.0, "cure_hours": 12.0}
    left = SoFar(jars=4.0, produce_left_g=1700.0)
    then = BEGINNER.forecast(**asked, so_far=left)
    now = BEGINNER.forecast(**asked, so_far=SoFar(jars=6.0, earlier=left))
    alone = BEGINNER.forecast(**asked, so_far=SoFar(jars=6.0))
    assert now.jars.median == pytest.approx(then.jars.median, rel=0.03)
    assert width(now) < 0.8 * width(alone)


def test_brine_measured_in_the_first_jars_counts_later_too() -> None:
    first = SoFar(jars=3.0, brine_ml=700.0)
    then = cauliflower(BEGINNER, first)
    now = cauliflower(BEGINNER, first, SoFar(jars=5.0))
    assert now.jars.median == pytest.approx(then.jars.median, rel=0.03)
    assert width(now) < 0.8 * width(cauliflower(BEGINNER, SoFar(jars=5.0)))


def test_more_gone_from_the_pot_than_any_pot_loses_tells_nothing_of_the_jars() -> None:
    # 7 1/2 cups gone into four pints, which hold 7 1/2 with no produce at all.
    slip = cauliflower(BEGINNER, Made(12 * CUP), FOUR)
    counted = cauliflower(BEGINNER, SoFar(jars=4.0))
    assert slip.jars.median == pytest.approx(counted.jars.median, rel=0.02)
    assert slip.brine_to_make() <= slip.jars_to_come.quantile(0.95) * FILL


def test_what_the_jars_to_come_can_take_is_their_room_less_the_produce_and_the_loss() -> None:
    # By hand, from what is weighed: 3 pints hold 760 g, so 1,940 g are left at about the same
    # density; each gram takes 1 / tissue density.
    found = BEGINNER.forecast(
        produce="carrot", cut="sticks", pack="raw", jar="pint", trimmed_g=2700.0, cure_hours=0.0,
        so_far=SoFar(3, 760.0), draws=20_000,
    )  # fmt: skip
    tissue = BEGINNER.learned.beliefs.crop("carrot", "sticks", "raw").tissue.centre
    room = found.jars_to_come.draws * FILL - 1940.0 / tissue
    assert found.brine_room_ml is not None
    loss = found.brine_room_ml.median - float(np.median(room))
    # What the pot still loses is part of what a batch loses, 1/2 cup or so by the beliefs.
    assert 0.0 < loss < 2.0 * BEGINNER.learned.beliefs.people.loss_ml
    assert found.brine_room_ml.quantile(0.95) == pytest.approx(
        float(np.quantile(room, 0.95)) + loss, rel=0.1
    )


def by_card(*log: Made | SoFar) -> Forecast:
    card = shipped_recipes()[CARD]
    return BEGINNER.forecast(recipe=card, trimmed_g=4000.0, so_far=packing_by(log))


def test_jars_packed_tighter_than_tested_are_told_of_and_no_more_is_heated_for_them() -> None:
    # National Center for Home Food Preservation, pickled carrots: 2 3/4 lb in 4 pints, 312 g each.
    tight = SoFar(jars=5.0, produce_g=5 * 400.0, pot_left_ml=6 * CUP)
    found = by_card(Made(9 * CUP), tight)
    assert found.floor_ml is not None
    assert 9 * CUP + found.most_to_make_ml() < found.floor_ml
    assert found.less_than_recipe()
    assert found.jars_hold_less()
    assert found.fewer_than_printed
    assert not found.limited_by_recipe()
    assert found.brine_to_make() <= round_up_volume(found.most_to_make_ml(), Units.US)
    # Before the first jar the recipe's proportion stands.
    before = by_card(Made(9 * CUP))
    assert not before.jars_hold_less()
    assert before.brine_to_make() >= found.floor_ml - 9 * CUP
    assert before.limited_by_recipe()


def test_jars_no_tighter_than_the_printed_yield_are_not_called_so() -> None:
    # 250 g a pint, where the card prints 312 g: its formula makes more than such jars take.
    loose = SoFar(jars=3.0, produce_g=3 * 250.0, pot_left_ml=6.4 * CUP)
    found = by_card(Made(9 * CUP), loose)
    assert found.jars_hold_less()
    assert found.fewer_than_printed is False
    assert cauliflower(BEGINNER, Made(9 * CUP)).fewer_than_printed is None


def test_where_the_jars_to_come_can_take_it_the_recipes_proportion_stands() -> None:
    # Most of the brine is made: what is missing of the proportion goes into the jars to come.
    floor = by_card().floor_ml
    assert floor is not None
    found = by_card(Made(floor - CUP), SoFar(jars=1.0, produce_g=200.0, pot_left_ml=CUP))
    assert not found.less_than_recipe()
    assert floor - CUP + found.brine_to_make() >= floor


# Random batches: what is true of one, noted in any order that time allows


class _Batch:
    """A batch as it truly goes: produce and brine in each jar, and the pots made for it."""

    def __init__(self, in_jar: float, loss: float, grams: float) -> None:
        self.each_ml, self.grams = FILL - in_jar, grams
        self.in_jar_g, self.loss = in_jar * 1.04, loss
        self.jars, self.made = 0.0, 0.0

    @property
    def left_ml(self) -> float:
        return self.made - self.jars * (self.each_ml + self.loss)


@st.composite
def logs(draw: st.DrawFn) -> tuple[float, list[Step]]:
    """A batch's weight and its steps: pots, jars with a reading or without, in any order."""
    in_jar = draw(st.floats(0.45, 0.75)) * FILL
    true = _Batch(in_jar, draw(st.floats(5.0, 30.0)), draw(st.floats(1500.0, 6000.0)))
    typed, steps = "", [_step(StepKind.BEGIN, {"produce": "carrot", "cut": "sticks",
                                               "pack": "raw", "jar": "pint"})]  # fmt: skip
    for what in draw(st.lists(st.sampled_from("mmwjJpP"), min_size=2, max_size=9)):
        if what == "w":
            steps.append(_step(StepKind.WEIGH, {"trimmed": f"{true.grams} g", "cure_hours": "0"}))
            continue
        more = what in "mP"
        if what in "jJpP":
            true.jars += draw(st.integers(0, 3))
            if true.jars * true.in_jar_g > 0.9 * true.grams:
                break
        pot = draw(st.integers(200, 2400)) if more or true.left_ml < 0.0 else 0
        pot += max(math.ceil(-true.left_ml - pot), 0)
        said: dict[str, str] = {}
        if pot:
            typed = f"{typed} + {pot} ml" if typed else f"{pot} ml"
            true.made += pot
            said["brine_made"] = typed
        if what == "m":
            steps.append(_step(StepKind.WEIGH, said))
            continue
        cells: dict[str, float | None] = {"jars": true.jars, "brine_made_ml": true.made or None}
        if what in "pP" and true.made:
            cells["pot_left_ml"] = max(true.left_ml, 0.0)
        if what == "J" and true.jars:
            cells["produce_g"] = true.jars * true.in_jar_g
        steps.append(_step(StepKind.PACK, said, cells))
    if not any("trimmed" in step.typed for step in steps):
        steps.append(_step(StepKind.WEIGH, {"trimmed": f"{true.grams} g", "cure_hours": "0"}))
    return true.grams, steps


def _step(kind: StepKind, typed: dict[str, str], cells: dict[str, float | None] | None = None):
    return Step("q", kind, typed, cells or {}, NOW, 1)


def expected(
    steps: Sequence[Step], card: Recipe | None = None, habits: Habits = BEGINNER
) -> Forecast:
    if card is not None:  # another pack than the card's would be refused
        begun = {**steps[0].typed, "pack": card.packs[0]}
        steps = [replace(steps[0], typed=begun), *steps[1:]]
    at = underway(OpenBatch("q", tuple(steps)), dt.date(2024, 8, 31))
    found = forecast_of(habits, at, card)
    assert found is not None
    return found


QUICK = settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])


@QUICK
@given(found=logs(), with_card=st.booleans(), short=st.sampled_from([0.05, 0.02]))
def test_no_more_is_ever_asked_for_than_the_jars_to_come_can_take(
    found: tuple[float, list[Step]], with_card: bool, short: float
) -> None:
    card = shipped_recipes()[CARD] if with_card else None
    forecast = expected(found[1], card)
    so_far, order = forecast.so_far, forecast.brine_to_make(short)
    if so_far is None or not so_far.jars:
        return
    assert forecast.brine_room_ml is not None
    there = 0.0 if forecast.brine_there_ml is None else forecast.brine_there_ml.draws
    room = np.maximum(forecast.brine_room_ml.draws - there, 0.0)
    most = float(np.quantile(room, 1.0 - short))

    def one_step_over(ml: float) -> float:
        """A step of the kitchen's cups, or of the card's whole formula as it can be measured."""
        step = round_up_volume(ml, Units.US)
        return step if card is None or ml <= 0.0 else scale_to_volume(card, step).made_ml

    assert order <= one_step_over(most)
    # By the jars alone, with no word of the forecast on brine: their room, and a generous pot.
    jars = forecast.jars_to_come.quantile(1.0 - short)
    generous = 6.0 * BEGINNER.learned.beliefs.people.loss_ml
    assert order <= one_step_over(jars * FILL + generous)
    short_of_card = forecast.less_than_recipe(short)
    assert not (short_of_card and forecast.limited_by_recipe(short))


@QUICK
@given(found=logs(), place=st.integers(0, 9))
def test_a_weight_noted_earlier_or_later_changes_nothing(
    found: tuple[float, list[Step]], place: int
) -> None:
    grams, steps = found
    others = [step for step in steps if "trimmed" not in step.typed]
    weigh = _step(StepKind.WEIGH, {"trimmed": f"{grams} g", "cure_hours": "0"})
    at = 1 + place % len(others)
    one, other = expected([*others, weigh]), expected([*others[:at], weigh, *others[at:]])
    assert (one.jars.draws == other.jars.draws).all()
    assert one.brine_to_make() == other.brine_to_make()


@QUICK
@given(found=logs())
def test_a_pot_noted_with_the_reading_after_it_or_on_its_own_is_the_same(
    found: tuple[float, list[Step]],
) -> None:
    parted: list[Step] = []
    for step in found[1]:
        if step.kind is StepKind.PACK and "brine_made" in step.typed:
            parted.append(_step(StepKind.WEIGH, dict(step.typed)))
            step = _step(StepKind.PACK, {}, dict(step.cells))
        parted.append(step)
    one, other = expected(found[1]), expected(parted)
    assert one.so_far == other.so_far
    assert (one.jars.draws == other.jars.draws).all()


@QUICK
@given(found=logs(), pot=st.integers(100, 2000), jars=st.sampled_from([0.0, 1.0]))
def test_a_pot_added_after_a_reading_or_read_with_it_is_the_same(
    found: tuple[float, list[Step]], pot: int, jars: float
) -> None:
    steps = found[1]
    so_far = expected(steps).so_far
    if so_far is None or so_far.pot_left_ml is None:
        return
    made = so_far.brine_made_ml or 0.0
    typed = {"brine_made": f"{made!r} ml + {pot} ml"}
    after = [*steps, _step(StepKind.WEIGH, typed)]
    cells = {"jars": so_far.jars, "pot_left_ml": so_far.pot_left_ml + pot,
             "brine_made_ml": made + pot}  # fmt: skip
    within = [*steps, _step(StepKind.PACK, typed, cells)]
    if jars:  # and a jar counted later
        more = {"jars": so_far.jars + jars, "brine_made_ml": made + pot}
        after, within = ([*log, _step(StepKind.PACK, {}, more)] for log in (after, within))
    one, other = (expected(log, habits=KNOWN_STEPS) for log in (after, within))
    assert_allclose(one.jars.draws, other.jars.draws)
    assert_allclose(one.brine_to_come_ml.draws, other.brine_to_come_ml.draws, atol=1e-6)
    assert one.brine_to_make() == pytest.approx(other.brine_to_make())
