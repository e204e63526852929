"""What must hold of every forecast, whatever was recorded before: the chain as a whole.

These are rules, not figures: none needs an expected value.
"""

import datetime as dt
import json
import tempfile
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from jarcast.batchtable import read_csv
from jarcast.domain.batch import Batch
from jarcast.domain.contradictions import contradictions
from jarcast.domain.packing import SoFar
from jarcast.errors import BatchError, ForecastError
from jarcast.forecast.answer import Forecast
from jarcast.forecast.habits import Habits, habits_from
from jarcast.harvest.together import plan_harvest

QUICK = settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])
DRAWS = 512

CROPS = st.sampled_from(
    [
        ("carrot", "sticks", "raw"), ("cucumber", "slices", "raw"), ("beet", "slices", "hot"),
        ("okra", "whole", ""), ("cabbage", "", "raw"), ("never heard of", "cubes", "raw"),
    ]
)  # fmt: skip
JARS = st.sampled_from(["pint", "quart", "pint-wide", "half-pint", "1l"])
SHARE = st.floats(0.05, 1.3)  # of the stage before: slips among them
GRAMS = st.floats(1.0, 60_000.0)


@st.composite
def households(draw: st.DrawFn, most: int = 10) -> list[Batch]:
    """Up to ten batches, with gaps and slips, no two of a day."""
    days = draw(st.lists(st.integers(0, 1500), max_size=most, unique=True))
    found = []
    for number, day in enumerate(days):
        produce, cut, pack = draw(CROPS)
        bought = draw(GRAMS)
        trimmed = bought * draw(SHARE)
        cured = draw(st.none() | SHARE)
        made = draw(st.none() | st.floats(0.0, 20_000.0))
        batch = _batch(
            batch=f"b{number}",
            date=dt.date(2020, 5, 1) + dt.timedelta(days=day),
            produce=produce, cut=cut, pack=pack, jar=(draw(JARS),),
            jars=(draw(st.floats(0.1, 60.0)),),
            as_bought_g=draw(st.sampled_from([None, bought])),
            trimmed_g=draw(st.sampled_from([None, trimmed])),
            cure_hours=None if cured is None else draw(st.sampled_from([0.0, 3.0, 24.0])),
            cured_g=None if cured is None else trimmed * cured,
            brine_made_ml=made,
            brine_left_ml=None if made is None else draw(st.sampled_from([None, 0.0, 0.2 * made])),
        )  # fmt: skip
        if batch is not None:
            found.append(batch)
    return found


def _batch(**values: Any) -> Batch | None:
    try:
        return Batch(**values)
    except BatchError:  # a single value that cannot be: such a batch is never taken in
        return None


@st.composite
def questions(draw: st.DrawFn) -> dict[str, Any]:
    """What a forecast may be asked by."""
    produce, cut, pack = draw(CROPS)
    stage = draw(st.sampled_from(["as_bought_g", "trimmed_g", "cured_g"]))
    asked: dict[str, Any] = {"produce": produce, "cut": cut, "pack": pack, "jar": draw(JARS)}
    asked[stage] = draw(GRAMS)
    if draw(st.booleans()):
        asked["cure_hours"] = 24.0 if stage == "cured_g" else draw(st.sampled_from([0.0, 12.0]))
    return asked


def asked(habits: Habits, line: dict[str, Any], **more: Any) -> Forecast:
    try:
        return habits.forecast(**line, draws=DRAWS, **more)
    except (BatchError, ForecastError):
        assume(False)
        raise


@QUICK
@given(batches=households(), line=questions(), short=st.floats(0.001, 0.05))
def test_no_nan_or_infinity_comes_out_and_nothing_below_nothing(
    batches: list[Batch], line: dict[str, Any], short: float
) -> None:
    habits = habits_from(batches)
    found = asked(habits, line)
    for outcome in (found.jars, found.brine_ml):
        assert np.all(np.isfinite(outcome.draws))
        assert np.all(outcome.draws >= 0.0)
        for p in (0.0, 0.001, 0.5, 0.999, 1.0):
            assert np.isfinite(outcome.quantile(p))
    make = found.brine_to_make(short)
    assert np.isfinite(make)
    assert make >= 0.0
    for batch in batches:
        contradictions(batch)  # never an error, whatever it is


@QUICK
@given(batches=households(), line=questions())
def test_ranges_nest(batches: list[Batch], line: dict[str, Any]) -> None:
    found = asked(habits_from(batches), line)
    for outcome in (found.jars, found.brine_ml):
        inner = outcome.interval(0.01)
        for level in (0.5, 0.8, 0.9, 0.99):
            low, high = outcome.interval(level)
            assert low <= inner[0] <= inner[1] <= high
            inner = (low, high)
        assert inner[0] <= outcome.median <= inner[1]


@QUICK
@given(batches=households(), line=questions(), times=st.floats(1.0, 5.0), seed=st.integers(0, 99))
def test_more_produce_never_gives_fewer_jars(
    batches: list[Batch], line: dict[str, Any], times: float, seed: int
) -> None:
    habits = habits_from(batches)
    stage = next(key for key in line if key.endswith("_g"))
    less = asked(habits, line, seed=seed).jars
    more = asked(habits, {**line, stage: line[stage] * times}, seed=seed).jars
    assert np.all(more.draws >= less.draws * (1.0 - 1e-9))
    for level in (0.5, 0.8, 0.9):
        assert more.interval(level)[0] >= less.interval(level)[0] * (1.0 - 1e-9)
        assert more.interval(level)[1] >= less.interval(level)[1] * (1.0 - 1e-9)


@QUICK
@given(batches=households(), line=questions(), seed=st.integers(0, 2**31))
def test_the_same_seed_gives_the_same_draws_and_another_gives_others(
    batches: list[Batch], line: dict[str, Any], seed: int
) -> None:
    first = asked(habits_from(batches), line, seed=seed)
    again = asked(habits_from(list(batches)), line, seed=seed)
    other = asked(habits_from(batches), line, seed=seed + 1)
    assert np.array_equal(first.jars.draws, again.jars.draws)
    assert np.array_equal(first.brine_ml.draws, again.brine_ml.draws)
    assert not np.array_equal(first.jars.draws, other.jars.draws)


@QUICK
@given(batches=households(), line=questions(), order=st.randoms(use_true_random=False))
def test_the_order_of_import_does_not_change_what_is_learned(
    batches: list[Batch], line: dict[str, Any], order: Any
) -> None:
    shuffled = list(batches)
    order.shuffle(shuffled)
    one, other = asked(habits_from(batches), line), asked(habits_from(shuffled), line)
    np.testing.assert_allclose(one.jars.draws, other.jars.draws, rtol=1e-6)
    np.testing.assert_allclose(one.brine_ml.draws, other.brine_ml.draws, rtol=1e-6, atol=1e-6)


@QUICK
@given(batches=households(), lines=st.lists(questions(), min_size=1, max_size=4))
def test_a_harvest_is_the_sum_of_its_lines_draw_by_draw(
    batches: list[Batch], lines: list[dict[str, Any]]
) -> None:
    try:
        found = plan_harvest(habits_from(batches), lines, draws=DRAWS)
    except (BatchError, ForecastError):
        assume(False)
        raise
    for outcome in (found.jars, found.brine_ml):
        assert np.all(np.isfinite(outcome.draws))
    summed = sum(one.jars.draws for one in found.lines)
    np.testing.assert_allclose(found.jars.draws, summed, rtol=1e-12)


@QUICK
@given(
    batches=households(most=4), each=st.floats(60.0, 500.0), left=st.floats(0.0, 8000.0),
    jars=st.integers(1, 12),
)  # fmt: skip
def test_in_the_middle_of_packing_the_jars_packed_are_never_taken_back(
    batches: list[Batch], each: float, left: float, jars: int
) -> None:
    """A pint of 473 ml (NIST Handbook 44, Appendix C) holds so many grams, loose or tight."""
    packed = jars * each
    so_far = SoFar(jars=float(jars), produce_g=packed, produce_left_g=left)
    line = {"produce": "carrot", "cut": "sticks", "pack": "raw", "jar": "pint"}
    line = {**line, "trimmed_g": packed + left}
    found = asked(habits_from(batches), {**line, "so_far": so_far})
    assert np.all(found.jars.draws >= jars)
    assert np.all(np.isfinite(found.brine_ml.draws))


# Units


def spellings(sixteenths: int) -> tuple[str, ...]:
    """One weight, a number of sixteenths of an ounce, as kitchens write it.

    16 oz in a pound, exactly 28.349523125 g in an ounce: NIST Handbook 44, Appendix C.
    """
    ounces = Fraction(sixteenths, 16)
    pounds, rest = divmod(ounces, 16)
    whole, part = divmod(rest, 1)
    grams = ounces * Fraction("28.349523125")
    decimal = f"{grams.numerator * 10**12 // grams.denominator:013d}"
    return (
        f"{pounds} lb {whole} {part.numerator}/{part.denominator} oz",
        f"{float(ounces)} oz",
        f"{float(ounces / 16)} lb",
        f"{decimal[:-12]}.{decimal[-12:]} g",
        f"{float(ounces) / 2} oz + {float(ounces) / 2} ounces",
    )


@QUICK
@given(
    weights=st.lists(st.integers(400, 60_000), min_size=1, max_size=5), asks=st.integers(99, 9999)
)
def test_units_never_change_a_result(weights: list[int], asks: int) -> None:
    from jarcast.measures import parse_weight

    results = []
    with tempfile.TemporaryDirectory() as folder:
        for spelling in range(5):
            path = Path(folder) / f"{spelling}.csv"
            rows = [
                f"{number},2024-08-{number + 1:02d},carrot,sticks,raw,pint,"
                f"{spellings(weight)[spelling]},{max(1, weight // 4000)}"
                for number, weight in enumerate(weights)
            ]
            path.write_text("batch,date,produce,cut,pack,jar,trimmed,jars\n" + "\n".join(rows))
            habits = habits_from([entry.batch for entry in read_csv(path).entries])
            grams = parse_weight(spellings(asks)[spelling])
            found = habits.forecast(
                produce="carrot", cut="sticks", pack="raw", jar="pint", trimmed_g=grams, draws=64
            )
            results.append((grams, found.jars.draws, found.brine_ml.draws))
    for grams, jars, brine in results[1:]:
        assert grams == pytest.approx(results[0][0], rel=1e-12)
        np.testing.assert_allclose(jars, results[0][1], rtol=1e-9)
        np.testing.assert_allclose(brine, results[0][2], rtol=1e-9)


def test_units_to_show_in_never_change_what_is_forecast(filled: Path, run: Any) -> None:
    line = ("forecast", "--produce", "carrot", "--cut", "sticks", "--json")
    documents = [
        run(*line, "--trimmed", weight, "--units", units).document
        for weight in ("5 lb", "80 oz", "2267.96185 g")
        for units in ("us", "metric")
    ]
    for one in documents:  # the brine to make differs: it is rounded to a measure of the kitchen's
        for name in ("jars", "brine_ml"):
            assert one[name] == pytest.approx(documents[0][name], rel=1e-9)
    assert "NaN" not in json.dumps(documents)
