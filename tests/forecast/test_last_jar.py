"""What becomes of the last jar in each draw: whole jars, what is where, and nothing over the limit.

Sums of weights and volumes are made here by the words of the rule; nothing is copied from it.
"""

import datetime as dt

import numpy as np
import pytest
from msgspec.structs import replace
from numpy.testing import assert_allclose

from jarcast import habits_from
from jarcast.domain.batch import Batch
from jarcast.domain.jars import SHELF
from jarcast.domain.last_jar import LastJar
from jarcast.forecast.last_jar import Ended, Fill, end_batch
from jarcast.learning.model.endings import Endings

PART_FULL = Endings(1.0, 0.0, 0.0, 0.0, 0.0)
TOPPED_UP = Endings(0.0, 1.0, 0.0, 0.0, 0.0)
SQUEEZED = Endings(0.0, 0.0, 1.0, 0.0, 0.0)
EATEN = Endings(0.0, 0.0, 0.0, 1.0, 0.0)
SMALLER = Endings(0.0, 0.0, 0.0, 0.0, 0.0, 1.0)
EACH = Endings(0.25, 0.25, 0.25, 0.25, 0.0)
WHOLE = {"topped up": TOPPED_UP, "squeezed": SQUEEZED, "eaten": EATEN}

FULL_G, FILL_ML, LIMIT = 260.0, 440.0, 1.05
MANY = 10_000.0


def end(
    endings: Endings, jars: np.ndarray, before: float = 0.0, full_g: float = FULL_G
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Jars to come, produce in them, and what there was, of batches in one sort of jar."""
    each = np.full(jars.size, full_g)
    fill = Fill(before, jars, MANY, each, FILL_ML)
    found = end_batch(endings, [fill], jars * each, LIMIT, np.random.default_rng(3))
    return found.jars[0], found.produce_g, jars * each


def counts(size: int = 4000, low: float = 0.0, high: float = 20.0) -> np.ndarray:
    return np.random.default_rng(1).uniform(low, high, size)


def test_a_last_jar_left_part_full_stays_as_it_was_drawn() -> None:
    jars = counts()
    found, produce, there = end(PART_FULL, jars)
    assert_allclose(found, jars)
    assert_allclose(produce, there)


@pytest.mark.parametrize("before", [0.0, 3.0])
def test_a_rest_that_half_a_jar_takes_has_one_and_a_larger_one_a_whole_jar(before: float) -> None:
    jars = counts()
    found, produce, there = end(SMALLER, jars, before)
    assert_allclose(found, np.floor(jars) + np.where(jars % 1 <= 0.5, 0.5, 1.0))
    assert_allclose(produce, there)


def test_where_the_last_sort_is_the_smaller_jar_it_is_filled_whole() -> None:
    # Five pints and a rest for half-pints: 0.3, 1.2 and 1.8 of these.
    pint, half = (SHELF[key].fill_volume_ml() for key in ("pint", "half-pint"))
    first = Fill(0.0, np.full(3, 5.0), 5.0, np.full(3, 0.6 * pint), pint)
    last = Fill(0.0, np.array([0.3, 1.2, 1.8]), MANY, np.full(3, 0.6 * half), half)
    produce = first.jars * first.full_g + last.jars * last.full_g
    found = end_batch(SMALLER, [first, last], produce, LIMIT, np.random.default_rng(3))
    assert_allclose(found.jars[0], 5.0)
    assert_allclose(found.jars[1], [1.0, 2.0, 2.0])
    assert_allclose(found.produce_g, produce)


@pytest.mark.parametrize("way", WHOLE)
@pytest.mark.parametrize("before", [0.0, 3.0])
def test_who_only_fills_whole_jars_ends_on_a_whole_number(way: str, before: float) -> None:
    found, _, _ = end(WHOLE[way], counts(), before)
    assert_allclose(found, np.round(found), atol=1e-9)
    assert (found >= 0.0).all()


def test_a_jar_topped_up_is_one_more_with_all_the_produce_in_it() -> None:
    jars = counts()
    found, produce, there = end(TOPPED_UP, jars)
    assert_allclose(found, np.ceil(jars))
    assert_allclose(produce, there)


def test_what_is_squeezed_in_stands_in_one_jar_less() -> None:
    jars = counts(low=8.0)
    found, produce, there = end(SQUEEZED, jars)
    down = found == np.floor(jars)
    assert down.mean() > 0.5
    assert_allclose(found[~down], np.ceil(jars)[~down])  # what does not go in has a jar
    assert_allclose(produce, there)
    # A fifth of a jar over eight or more always goes in; most of a jar over a few never does.
    assert down[jars % 1.0 < 0.2].all()
    few = counts(high=3.0)
    assert not (end(SQUEEZED, few)[0] == np.floor(few))[few % 1.0 > 0.7].any()


def test_what_is_eaten_is_no_longer_there() -> None:
    jars = counts(low=1.0)
    found, produce, there = end(EATEN, jars)
    eaten = found == np.floor(jars)
    # Mass balance: produce in = in the jars + eaten, the rest over the full jars.
    gone = np.where(eaten, (jars - np.floor(jars)) * FULL_G, 0.0)
    assert_allclose(produce + gone, there)
    small = jars % 1.0 < 0.1
    assert eaten[small].mean() > 0.9
    assert 0.0 < eaten[jars % 1.0 > 0.9].mean() < 0.6


@pytest.mark.parametrize("endings", [EACH, *WHOLE.values()])
def test_produce_is_in_jars_or_eaten_and_never_more_than_there_was(endings: Endings) -> None:
    jars = counts()
    found, produce, there = end(endings, jars)
    assert (produce <= there + 1e-9).all()
    assert (produce >= there - FULL_G).all()
    assert (np.abs(found - jars) < 1.0).all()


def test_each_way_is_drawn_as_often_as_it_is_believed() -> None:
    # Rests small enough that all of them can be squeezed in, or eaten: four binomial errors.
    jars = 18.0 + counts(40_000, 0.05, 0.06)
    endings = Endings(0.4, 0.3, 0.2, 0.1, 0.0)
    found, produce, there = end(endings, jars)
    error = 4.0 * 0.5 / np.sqrt(jars.size)
    assert (found == jars).mean() == pytest.approx(0.4, abs=error)
    assert (found == 19.0).mean() == pytest.approx(0.3, abs=error + 0.01)
    assert ((found == 18.0) & (produce == there)).mean() == pytest.approx(0.2, abs=error)
    # Of a twentieth of a jar 97 in 100 are eaten.
    assert (produce < there).mean() == pytest.approx(0.1, abs=error + 0.01)


@pytest.mark.parametrize("density", [0.6, 0.9, 0.98, 1.04])
def test_nothing_is_squeezed_in_past_the_limit_of_density(density: float) -> None:
    jars = counts(low=4.0)
    found, produce, _ = end(SQUEEZED, jars, full_g=density * FILL_ML)
    assert (produce / (found * FILL_ML) <= max(density, LIMIT)).all()
    squeezed = found < jars
    if density > 0.99:
        assert not squeezed.any()
    if density < 0.7:
        assert squeezed.any()


def test_of_less_than_a_jar_a_jar_is_made_all_the_same() -> None:
    jars = counts(low=0.05, high=0.95)
    for endings in WHOLE.values():
        found, produce, there = end(endings, jars)
        assert (found == 1.0).all()
        assert_allclose(produce, there)


def test_whole_jars_stay_whole_with_nothing_over() -> None:
    jars = np.repeat([1.0, 5.0, 12.0], 100)
    for endings in (EACH, *WHOLE.values()):
        found, produce, there = end(endings, jars)
        assert_allclose(found, jars)
        assert_allclose(produce, there)


def in_turns(endings: Endings, jars: np.ndarray) -> tuple[Ended, np.ndarray]:
    """Five pints and then quarts, of batches that would fill so many pints' worth."""
    pints = np.minimum(jars, 5.0)
    quarts = (jars - pints) / 2.0
    fills = [
        Fill(0.0, pints, 5.0, np.full(jars.size, FULL_G), FILL_ML),
        Fill(0.0, quarts, MANY, np.full(jars.size, 2.0 * FULL_G), 2.0 * FILL_ML),
    ]
    return end_batch(endings, fills, jars * FULL_G, LIMIT, np.random.default_rng(4)), jars


@pytest.mark.parametrize("way", WHOLE)
def test_only_the_last_jar_of_the_last_sort_is_ended(way: str) -> None:
    found, jars = in_turns(WHOLE[way], counts(low=0.2))
    pints, quarts = found.jars
    assert_allclose(pints, np.round(pints))
    assert_allclose(quarts, np.round(quarts))
    assert (pints <= 5.0).all()
    assert (pints[jars > 5.0] == 5.0).all()
    assert (quarts[jars < 4.0] == 0.0).all()
    # Never a jar's difference from what would have been filled part full.
    assert (np.abs(pints - np.minimum(jars, 5.0)) < 1.0).all()
    assert (np.abs(quarts - np.maximum(jars - 5.0, 0.0) / 2.0) < 1.0).all()


def test_in_several_sorts_what_is_eaten_is_of_the_sort_it_was_in() -> None:
    found, jars = in_turns(EATEN, counts(low=1.0))
    held = (found.jars[0] + 2.0 * found.jars[1]) * FULL_G
    eaten = found.produce_g < jars * FULL_G - 1e-9
    assert eaten.any()
    assert_allclose(found.produce_g[eaten], held[eaten])  # the full jars, and nothing else


# --- in a forecast --------------------------------------------------------------------------------

ASKED = {"produce": "carrot", "cut": "sticks", "pack": "raw", "trimmed_g": 2700.0,
         "cure_hours": 0.0}  # fmt: skip


def test_a_household_of_whole_jars_is_forecast_in_whole_jars() -> None:
    jars = habits_from([], whole_jars=True).forecast(**ASKED).jars.draws
    assert_allclose(jars, np.round(jars))
    assert jars.min() >= 1.0


def test_one_of_part_full_jars_in_parts() -> None:
    jars = habits_from([], whole_jars=False).forecast(**ASKED).jars.draws
    assert (np.abs(jars - np.round(jars)) > 1e-6).mean() > 0.99


def test_one_of_smaller_jars_in_halves() -> None:
    jars = habits_from([], last_jar="smaller").forecast(**ASKED).jars.draws
    assert_allclose(2.0 * jars, np.round(2.0 * jars))
    assert 0.4 < np.mean(np.abs(jars - np.round(jars)) > 1e-6) < 0.6  # of even rests one in two


@pytest.mark.parametrize("batches", [1, 13, 40])
@pytest.mark.parametrize("jar", [("pint", "half-pint"), ("half-pint", "pint")])
def test_a_smaller_jar_by_its_name_is_learned_wherever_it_is_named(
    batches: int, jar: tuple[str, str]
) -> None:
    count = {"pint": 7.0, "half-pint": 1.0}
    record = [
        Batch(batch=f"b{at}", date=dt.date(2025, 6, 1) + dt.timedelta(days=at), produce="carrot",
              cut="sticks", pack="raw", cure_hours=0.0, trimmed_g=2000.0 + at, jar=jar,
              jars=(count[jar[0]], count[jar[1]]))
        for at in range(batches)
    ]  # fmt: skip
    habits = habits_from(record)
    assert (habits.learned.endings.smaller > 0.9) == (batches > 1)
    assert habits.forecast(**ASKED).smaller_jar == (batches > 1)


@pytest.mark.parametrize("way", ["topped up", "squeezed"])
def test_of_the_same_produce_more_or_fewer_jars_take_their_own_volume_in_brine(way: str) -> None:
    # Archimedes: produce takes the same room in however many jars; what they hold more or less of
    # is brine.
    one = habits_from([])

    def forecast(endings: Endings) -> tuple[float, float]:
        ended = replace(one, learned=replace(one.learned, endings=endings))
        found = ended.forecast(**ASKED, draws=40_000)
        return float(found.jars.draws.mean()), float(found.brine_ml.draws.mean())

    (jars, brine), (others, other) = forecast(PART_FULL), forecast(WHOLE[way])
    assert abs(others - jars) > 0.2
    pint = SHELF["pint"].fill_volume_ml()
    assert (other - brine) / (others - jars) == pytest.approx(pint, rel=0.02)


def test_what_was_told_of_the_last_jar_counts_from_the_first_batch_on() -> None:
    assert habits_from([], whole_jars=True).learned.endings.part_full == 0.0
    assert habits_from([], whole_jars=False).learned.endings.part_full == 1.0
    assert habits_from([], last_jar="smaller").learned.endings.smaller == 1.0
    assert habits_from([], last_jar="topped").learned.endings.topped_up == 1.0
    for said, whole in (("whole", True), (LastJar.PART, False), ("learn", None)):
        same = habits_from([], last_jar=said), habits_from([], whole_jars=whole)
        assert same[0].learned.endings == same[1].learned.endings
    assert 0.0 < habits_from([]).learned.endings.part_full < 1.0
