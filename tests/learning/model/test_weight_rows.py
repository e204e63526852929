"""From batches to rows: which links a batch teaches, what it says, and how exactly."""

import datetime as dt
import math
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
import pytest
from msgspec.structs import replace
from numpy.testing import assert_allclose

from jarcast.domain.batch import Batch, Doubt
from jarcast.domain.contradictions import contradictions
from jarcast.domain.jars import SHELF
from jarcast.domain.stages import Link, was_salted
from jarcast.forecast.habits import habits_from
from jarcast.learning.model.beliefs import starting_beliefs
from jarcast.learning.model.brine_rows import (
    SPACE_SHARE,
    brine_noise,
    brine_rows,
    noise_by_loss,
    ready_from_brine,
)
from jarcast.learning.model.circumstances import (
    Circumstances,
    circumstances_of,
    jar_step,
    ready_weight,
    usual_practice,
)
from jarcast.learning.model.effects import POT_GROWTH, POT_LOSS, Effect
from jarcast.learning.model.endings import (
    KIND,
    LAST_EATEN,
    LAST_SQUEEZED,
    LAST_TOPPED_UP,
    SOME_MISSING,
    Cases,
    Endings,
    cases_of,
)
from jarcast.learning.model.row import Row
from jarcast.learning.model.scales import Instruments, instruments_of
from jarcast.learning.model.weight_rows import weight_rows

BELIEFS = starting_beliefs()
JAR_VARIANCE = BELIEFS.people.jar_to_jar**2
PINT_ML = SHELF["pint"].fill_volume_ml()

# What eight pints lose in the pot over the 4 l of the usual batch: to the power 0.35.
OF_EIGHT = (8.0 * PINT_ML / 4000.0) ** 0.35


def batch(number: int = 1, **values: Any) -> Batch:
    given: dict[str, Any] = {
        "batch": str(number), "date": dt.date(2024, 7, 1) + dt.timedelta(days=number),
        "produce": "carrot", "cut": "sticks", "pack": "raw", "jar": ("pint",), "jars": (8.0,),
        "cure_hours": 0.0,
    }  # fmt: skip
    given.update(values)
    return Batch(**given)


def case_of(one: Batch, *others: Batch) -> Circumstances:
    return circumstances_of(one, BELIEFS, SHELF, usual_practice([one, *others]))


def read_by(*batches: Batch) -> Instruments:
    return instruments_of(batches, {}, [frozenset()] * len(batches))


def ended(*batches: Batch) -> Cases:
    cases = [case_of(one, *batches) for one in batches]
    return cases_of([case.jars for case in cases], jar_step(batches))


def rows(*batches: Batch, hints: Mapping[int, tuple[float, float]] | None = None) -> list[Row]:
    habit = usual_practice(batches)
    cases = [circumstances_of(one, BELIEFS, SHELF, habit) for one in batches]
    return weight_rows(
        batches, cases, BELIEFS.people, hints or {}, JAR_VARIANCE, ended(*batches),
        read_by(*batches),
    )  # fmt: skip


def reading_of(row: Row) -> float:
    """Variance of the error of reading where the last jar was left part full."""
    return row.reading + (0.0 if row.cases is None else float(row.cases.extra[0]))


def taught(found: Sequence[Row]) -> list[tuple[Link, ...]]:
    return [tuple(row.shares) for row in found]


def brine(*batches: Batch) -> list[Row]:
    cases = [case_of(one) for one in batches]
    return brine_rows(batches, cases, BELIEFS.people, ended(*batches), read_by(*batches))


# --- how a person works ---------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("values", "cured"),
    [
        ({"cure_hours": 12.0}, True),
        ({"cure_hours": 0.0}, False),  # 0 hours means not cured
        ({"cure_hours": None}, None),
        ({"cure_hours": None, "salt_g": 60.0}, True),
        ({"cure_hours": None, "salt_g": 0.0}, False),
        ({"cure_hours": None, "cured_g": 2000.0}, True),
        ({"cure_hours": 0.0, "cured_g": 2000.0}, True),  # it was weighed, so it was cured
    ],
)
def test_a_batch_says_whether_it_was_cured(values: dict[str, Any], cured: bool | None) -> None:
    assert was_salted(batch(**values)) is cured


@pytest.mark.parametrize(
    ("counts", "step"),
    [
        # Whole counts say how a household ends its batches, not to what it would count a part.
        ([7.0, 8.0, 9.0, 6.0, 11.0] * 4, 0.5),
        ([7.0, 8.0], 0.5),
        ([7.5, 8.0, 9.0, 6.0, 11.0] * 4, 0.5),
        ([7.25, 8.0, 9.5, 6.0, 11.75], 0.25),
        ([7.125, 8.0, 9.5, 6.375], 0.125),
        ([7.31, 8.14, 9.77, 6.02], 0.05),
    ],
)
def test_the_step_part_full_jars_are_counted_in_is_read_off_the_counts(
    counts: list[float], step: float
) -> None:
    assert jar_step([batch(i, jars=(n,)) for i, n in enumerate(counts)]) == step


def test_no_batches_leave_the_usual_ways_open() -> None:
    habit = usual_practice([])
    assert habit.cure_hours is None
    assert habit.cure_chance("cucumber", "slices", 0.7) == pytest.approx(0.7)


def test_what_a_person_does_with_a_crop_outgrows_what_is_believed() -> None:
    always = usual_practice([batch(i, cure_hours=12.0) for i in range(12)])
    never = usual_practice([batch(i) for i in range(12)])
    assert always.cure_chance("carrot", "sticks", 0.1) > 0.8
    assert never.cure_chance("carrot", "sticks", 0.9) < 0.2
    assert always.cure_chance("beet", "slices", 0.1) == pytest.approx(0.1)  # another crop
    assert always.cure_hours == 12.0


def test_a_batch_that_does_not_say_is_no_proof_either_way() -> None:
    habit = usual_practice([batch(i, cure_hours=None) for i in range(9)])
    assert habit.cure_chance("carrot", "sticks", 0.3) == pytest.approx(0.3)


# --- which links ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("values", "links"),
    [
        ({}, []),  # no weight at all
        ({"trimmed_g": 2000.0}, [(Link.PACK,)]),
        ({"as_bought_g": 2500.0}, [(Link.TRIM, Link.PACK)]),
        ({"as_bought_g": 2500.0, "trimmed_g": 2000.0}, [(Link.TRIM,), (Link.PACK,)]),
        (
            {"as_bought_g": 2500.0, "trimmed_g": 2000.0, "cure_hours": 12.0, "cured_g": 1700.0},
            [(Link.TRIM,), (Link.CURE,), (Link.PACK,)],
        ),
        ({"trimmed_g": 2000.0, "cure_hours": 12.0}, [(Link.CURE, Link.PACK)]),
        (
            {"as_bought_g": 2500.0, "cure_hours": 12.0, "cured_g": 1700.0},
            [(Link.TRIM, Link.CURE), (Link.PACK,)],
        ),
        ({"trimmed_g": 2000.0, "pack": "hot"}, [(Link.COOK, Link.PACK)]),
        (
            {"trimmed_g": 2000.0, "pack": "hot", "cooked_g": 1800.0},
            [(Link.COOK,), (Link.PACK,)],
        ),
        (
            {"as_bought_g": 2500.0, "pack": "hot", "cure_hours": 3.0},
            [(Link.TRIM, Link.CURE, Link.COOK, Link.PACK)],
        ),
        ({"cured_g": 1700.0}, [(Link.PACK,)]),
        ({"cooked_g": 1700.0}, [(Link.PACK,)]),
    ],
)
def test_two_weights_teach_the_links_between_them(
    values: dict[str, Any], links: list[tuple[Link, ...]]
) -> None:
    assert taught(rows(batch(**values))) == links


def test_a_crop_that_is_sometimes_cured_teaches_density_weakly_when_it_does_not_say() -> None:
    sometimes = {"produce": "cucumber", "cut": "slices", "trimmed_g": 2000.0}
    believed = BELIEFS.crop("cucumber", "slices", "raw").cured
    assert 0.1 < believed < 1.0
    (said,) = rows(batch(**sometimes))
    (unsaid,) = rows(batch(**sometimes, cure_hours=None))
    assert tuple(unsaid.shares) == (Link.CURE, Link.PACK)
    assert unsaid.shares[Link.CURE] == pytest.approx(believed)
    assert reading_of(unsaid) > reading_of(said)


def test_a_crop_that_is_never_cured_needs_not_say_so() -> None:
    assert BELIEFS.crop("carrot", "sticks", "raw").cured < 0.1
    assert taught(rows(batch(trimmed_g=2000.0, cure_hours=None))) == [(Link.PACK,)]


# --- what they say --------------------------------------------------------------------------------


def test_a_trim_row_says_how_the_odds_differ_from_the_published_ones() -> None:
    (trim, _) = rows(batch(as_bought_g=2500.0, trimmed_g=2000.0))
    published = BELIEFS.crop("carrot", "sticks", "raw").trim_yield.centre
    assert trim.target == pytest.approx(math.log(4.0) - math.log(published / (1.0 - published)))
    assert trim.columns == ("as_bought_g", "trimmed_g")


def test_a_cure_row_says_how_the_keep_differs_from_the_published_one() -> None:
    (cure, _) = rows(batch(trimmed_g=2000.0, cured_g=1700.0, cure_hours=24.0))
    published = BELIEFS.crop("carrot", "sticks", "raw").cure_keep.centre
    assert cure.target == pytest.approx(math.log(0.85 / published))  # 24 hours is a full cure


def test_a_short_cure_is_held_against_less_shrink() -> None:
    def target(hours: float) -> float:
        return rows(batch(trimmed_g=2000.0, cured_g=1990.0, cure_hours=hours))[0].target

    assert target(1.0) < target(6.0) < target(24.0)
    # A keep of nearly 1 after an hour is a reading, not a contradiction.
    assert abs(target(1.0)) < 0.05


def test_a_pack_row_says_how_loose_the_pack_is() -> None:
    published = BELIEFS.crop("carrot", "sticks", "raw").density.centre
    for factor in (0.5, 0.9, 1.2):
        grams = factor * published * 8.0 * PINT_ML
        (pack,) = rows(batch(trimmed_g=grams))
        # Effects are of log density: a positive effect lowers the target.
        assert -pack.target == pytest.approx(math.log(factor), abs=0.02)
        assert pack.loadings[Effect(Link.PACK, "person", "")] < 0


def test_at_the_limit_of_the_jar_a_denser_pack_says_more_than_its_ratio() -> None:
    tissue = BELIEFS.crop("carrot", "sticks", "raw").tissue.centre
    loose, tight, tighter = (
        -rows(batch(trimmed_g=share * tissue * 8.0 * PINT_ML))[0].target
        for share in (0.7, 0.9, 0.99)
    )
    assert tight - loose >= math.log(0.9 / 0.7)
    assert tighter - tight > math.log(0.99 / 0.9)
    assert math.isfinite(tighter)


def test_what_moves_the_links_is_told_by_the_batch() -> None:
    jars = rows(
        batch(1, trimmed_g=2000.0),
        batch(2, trimmed_g=4000.0, jar=("quart",)),
        batch(3, trimmed_g=2000.0, jar=("pint-wide",)),
        batch(4, trimmed_g=3000.0, jar=("pint", "pint-wide"), jars=(6.0, 2.0)),
    )
    size, wide = (Effect(Link.PACK, "covariate", name) for name in ("jar size", "wide mouth"))
    pint, quart, wide_pint, both = (row.loadings for row in jars)
    assert abs(quart[size]) > abs(pint[size]) + 0.01
    assert pint[wide] == 0.0
    assert abs(both[wide]) == pytest.approx(abs(wide_pint[wide]) / 4.0)  # two jars in eight
    salted = rows(batch(trimmed_g=2000.0, salt_g=200.0, cured_g=1700.0, cure_hours=12.0))[
        0
    ].loadings
    assert salted[Effect(Link.CURE, "covariate", "salt")] > 0


def test_raw_and_hot_packs_share_the_produce_but_not_the_whole() -> None:
    raw, hot = rows(batch(1, trimmed_g=2000.0), batch(2, cooked_g=2000.0, pack="hot"))
    common = set(raw.loadings) & set(hot.loadings)
    assert Effect(Link.PACK, "crop", "carrot") in common
    assert len({e for e in set(raw.loadings) ^ set(hot.loadings) if e.group == "crop"}) == 2


# --- how a batch may have ended ------------------------------------------------------------------


@pytest.mark.parametrize("kind", [LAST_TOPPED_UP, LAST_SQUEEZED, LAST_EATEN, SOME_MISSING])
def test_a_case_says_what_the_batch_would_have_said_written_down_as_it_went(kind: int) -> None:
    # Jars and weight as they were in that case, written down with the last jar part full.
    (row,) = rows(batch(trimmed_g=2000.0))
    cases = ended(batch(trimmed_g=2000.0))
    assert row.cases is not None
    for case in np.flatnonzero(kind == KIND):
        grams = 2000.0 * float(cases.share[0, case])
        (as_it_went,) = rows(batch(trimmed_g=grams, jars=(8.0 * float(cases.volume[0, case]),)))
        assert row.target + row.cases.shift[case] == pytest.approx(as_it_went.target, abs=1e-3)


def test_a_last_jar_left_part_full_is_what_the_target_stands_for() -> None:
    (row,) = rows(batch(trimmed_g=2000.0, jars=(7.5,)))
    assert row.cases is not None
    assert row.cases.shift[0] == 0.0


def test_of_jars_too_full_to_be_the_case_that_fits_is_the_one_with_some_not_jarred() -> None:
    # Twice what the tissue weighs cannot stand in the jars; with half not jarred it just can.
    tissue = BELIEFS.crop("carrot", "sticks", "raw").tissue.centre
    one = batch(trimmed_g=1.6 * tissue * 8.0 * PINT_ML)
    (row,) = weight_rows(
        [one], [case_of(batch())], BELIEFS.people, {}, JAR_VARIANCE, ended(one), read_by(one)
    )
    assert row.cases is not None
    share = ended(one).share[0]
    assert (row.cases.log_fit[1.6 * share > 1.2] < -4.5).all()  # three sd off, at least
    assert (row.cases.log_fit[1.6 * share < 1.0] == 0.0).all()
    assert np.isfinite(row.cases.shift).all()


def test_produce_that_is_not_in_the_jars_takes_no_room_there() -> None:
    # In each case the target is fill volume - brine used - what stands in the jars / tissue + loss.
    one = batch(trimmed_g=2000.0, **USED)
    (row,) = brine(one)
    tissue = BELIEFS.crop("carrot", "sticks", "raw").tissue.centre
    there = 2000.0 * ended(one).share[0]
    assert row.cases is not None
    assert_allclose(
        row.target + row.cases.shift,
        8.0 * PINT_ML - 1700.0 - there / tissue + OF_EIGHT * BELIEFS.people.loss_ml,
    )


def test_what_the_brine_says_is_in_the_jars_is_there_however_the_batch_ended() -> None:
    one = batch(**USED)
    (row,) = rows(one, hints=hint(one))
    assert row.cases is not None
    assert_allclose(row.cases.shift[KIND == SOME_MISSING], 0.0, atol=1e-9)
    assert_allclose(row.cases.shift[KIND == LAST_EATEN], 0.0, atol=1e-9)
    assert (row.cases.shift[KIND == LAST_SQUEEZED] > 0.0).all()  # their own volume was larger


# --- how exactly ----------------------------------------------------------------------------------


def test_small_batches_do_not_count_as_exact() -> None:
    small, large = rows(
        batch(1, trimmed_g=250.0, jars=(1.0,)), batch(2, trimmed_g=5000.0, jars=(20.0,))
    )
    assert reading_of(small) > 10 * reading_of(large)


def test_halves_of_a_jar_are_read_less_exactly_than_quarters() -> None:
    def reading(last: float) -> float:
        counts = (8.0, 7.0, 9.0, 6.0, last) * 4
        batches = [batch(i, trimmed_g=2000.0, jars=(n,)) for i, n in enumerate(counts)]
        return reading_of(rows(*batches)[0])

    assert reading(8.0) > reading(7.25)


def test_a_trim_yield_near_one_is_read_no_better_than_the_scale_allows() -> None:
    near, middle = (
        rows(batch(as_bought_g=2000.0, trimmed_g=trimmed))[0] for trimmed in (1995.0, 1600.0)
    )
    assert near.reading > 5 * middle.reading
    (component,) = [
        r for r in rows(batch(as_bought_g=2000.0, trimmed_g=2000.0)) if Link.TRIM in r.shares
    ]
    assert math.isfinite(component.target)


# --- contradictions -------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("values", "links"),
    [
        # Heavier trimmed than bought: either may be wrong, so nothing hangs on them.
        ({"as_bought_g": 2000.0, "trimmed_g": 4400.0}, []),
        # Heavier cured than trimmed: nor on either side of these two.
        (
            {"as_bought_g": 2500.0, "trimmed_g": 2000.0, "cured_g": 4400.0, "cure_hours": 12.0},
            [],
        ),
        # More in the jars than they hold: the trim is sound.
        ({"as_bought_g": 9500.0, "trimmed_g": 9000.0}, [(Link.TRIM,)]),
        # Sealed more than filled touches no link.
        ({"trimmed_g": 2000.0, "sealed": 11.0}, [(Link.PACK,)]),
        # Five per cent is the scales and wet produce.
        ({"as_bought_g": 2000.0, "trimmed_g": 2080.0}, [(Link.TRIM,), (Link.PACK,)]),
    ],
)
def test_a_contradiction_teaches_nothing_on_what_it_touches(
    values: dict[str, Any], links: list[tuple[Link, ...]]
) -> None:
    assert taught(rows(batch(**values))) == links


def test_more_brine_left_than_made_teaches_no_brine_but_all_the_rest() -> None:
    swapped = batch(trimmed_g=2000.0, brine_made_ml=200.0, brine_left_ml=2000.0)
    assert brine(swapped) == []
    assert taught(rows(swapped)) == [(Link.PACK,)]


# --- brine ----------------------------------------------------------------------------------------

USED = {"brine_made_ml": 2000.0, "brine_left_ml": 300.0}


def test_a_brine_row_says_what_space_the_produce_took() -> None:
    # Fill volume - brine used = ready weight / tissue density - pot loss.
    (row,) = brine(batch(trimmed_g=2000.0, **USED))
    tissue = BELIEFS.crop("carrot", "sticks", "raw").tissue.centre
    expected = 8.0 * PINT_ML - 1700.0 - 2000.0 / tissue + OF_EIGHT * BELIEFS.people.loss_ml
    assert row.target == pytest.approx(expected)
    assert not row.ceiling


def test_the_noise_of_a_brine_row_goes_with_the_pot_loss_and_nothing_else_does() -> None:
    # Spread of the loss between batches and of the space the produce leaves, as a root of squares.
    (row,) = brine(batch(trimmed_g=2000.0, **USED))
    tissue = BELIEFS.crop("carrot", "sticks", "raw").tissue.centre
    space = 8.0 * PINT_ML - 2000.0 / tissue
    between = BELIEFS.people.loss_between_batches
    for loss in (BELIEFS.people.loss_ml, 400.0):
        due = math.sqrt((between * OF_EIGHT * loss) ** 2 + (SPACE_SHARE * space) ** 2)
        assert noise_by_loss([row], loss, BELIEFS.people) == pytest.approx([due])
    usual = noise_by_loss([row], BELIEFS.people.loss_ml, BELIEFS.people)
    assert row.shares == {Link.BRINE: pytest.approx(usual[0])}


def test_a_pot_loses_more_over_a_larger_batch() -> None:
    # As fill volume to the power 0.35, and so does what the loss differs by from batch to batch.
    small, large = brine(
        batch(1, trimmed_g=500.0, jars=(2.0,), brine_made_ml=900.0, brine_left_ml=200.0),
        batch(2, trimmed_g=4000.0, jars=(16.0,), brine_made_ml=5000.0, brine_left_ml=900.0),
    )
    for effect, much in ((POT_LOSS, 8.0**0.35), (POT_GROWTH, None)):
        here, there = small.loadings[effect], large.loadings[effect]
        if much is None:  # 2 pints are under the usual batch, 16 over it
            assert here > 0.0 > there
        else:
            assert there / here == pytest.approx(much)


def test_an_empty_pot_says_at_least_this_much() -> None:
    (row,) = brine(batch(trimmed_g=2000.0, brine_made_ml=1700.0, brine_left_ml=0.0))
    assert row.ceiling


@pytest.mark.parametrize(
    "values",
    [
        {"trimmed_g": 2000.0},
        {"trimmed_g": 2000.0, "brine_made_ml": 2000.0},
        {"trimmed_g": 2000.0, "brine_left_ml": 300.0},
        {**USED},
        {"trimmed_g": 2000.0, "pack": "hot", **USED},  # the cooked weight is not known
        {"trimmed_g": 2000.0, "cure_hours": 12.0, **USED},  # nor the cured one
    ],
)
def test_brine_without_both_its_ends_gives_no_row(values: dict[str, Any]) -> None:
    assert brine(batch(**values)) == []


@pytest.mark.parametrize(
    ("values", "grams"),
    [
        ({"trimmed_g": 2000.0}, 2000.0),
        ({"trimmed_g": 2000.0, "cured_g": 1700.0}, 1700.0),
        ({"trimmed_g": 2000.0, "cure_hours": 12.0}, None),
        ({"trimmed_g": 2000.0, "pack": "hot"}, None),
        ({"trimmed_g": 2000.0, "pack": "hot", "cooked_g": 1800.0}, 1800.0),
        ({"as_bought_g": 2500.0}, None),
    ],
)
def test_the_ready_weight_is_the_last_before_the_jars(
    values: dict[str, Any], grams: float | None
) -> None:
    one = batch(**values)
    assert ready_weight(one, case_of(one)) == grams


def hint(one: Batch) -> dict[int, tuple[float, float]]:
    return ready_from_brine([one], [case_of(one)], BELIEFS.people, (100.0, 30.0), read_by(one))


def test_brine_tells_of_a_ready_weight_nobody_wrote_down() -> None:
    # What the jars hold less the brine that stands in them is the produce.
    ((grams, relative),) = hint(batch(as_bought_g=2500.0, **USED)).values()
    tissue = BELIEFS.crop("carrot", "sticks", "raw").tissue.centre
    assert grams == pytest.approx((8.0 * PINT_ML - (1700.0 - OF_EIGHT * 100.0)) * tissue)
    assert 0 < relative < 0.3


def test_a_ready_weight_from_brine_gives_a_row_of_its_own() -> None:
    one = batch(**USED)
    (row,) = rows(one, hints=hint(one))
    assert tuple(row.shares) == (Link.PACK,)
    (weighed,) = rows(batch(trimmed_g=hint(one)[0][0]))
    assert row.target == pytest.approx(weighed.target)
    assert reading_of(row) > reading_of(weighed)


@pytest.mark.parametrize(
    "values",
    [
        {"trimmed_g": 2000.0, **USED},  # the weight is known
        {"brine_made_ml": 1700.0, "brine_left_ml": 0.0},  # it ran out: it says too little
        {"brine_made_ml": 200.0, "brine_left_ml": 2000.0},  # a contradiction
        {"brine_made_ml": 9000.0, "brine_left_ml": 100.0},  # more than the jars hold
        {"as_bought_g": 2500.0},
    ],
)
def test_brine_tells_nothing_where_it_cannot(values: dict[str, Any]) -> None:
    assert hint(batch(**values)) == {}


def test_brine_is_surer_of_full_jars_than_of_half_empty_ones() -> None:
    people = BELIEFS.people
    assert brine_noise(3000.0, 100.0, people) > brine_noise(500.0, 100.0, people)
    assert brine_noise(500.0, 300.0, people) > brine_noise(500.0, 50.0, people)
    assert brine_noise(-50.0, 100.0, people) == brine_noise(0.0, 100.0, people)


def test_what_was_not_jarred_is_no_part_of_what_the_jars_hold() -> None:
    # The same row as of a batch that weighed so much less; by hand 3000 g less 700 g.
    told, plain = batch(trimmed_g=3000.0, not_jarred_g=700.0), batch(trimmed_g=2300.0)
    assert ready_weight(told, case_of(told)) == 2300.0
    assert ready_weight(replace(told, not_jarred_g=3000.0), case_of(told)) is None
    (row,), (due,) = rows(told), rows(plain)
    assert row.target == pytest.approx(due.target)
    assert row.cases is not None
    assert due.cases is not None
    assert_allclose(row.cases.shift, due.cases.shift)


def test_nothing_more_is_missing_of_a_batch_that_says_what_was_not_jarred() -> None:
    told = cases_of([8.0, 8.0, 7.5], 0.5, [True, False, True])
    chance = np.exp(told.log_chance(Endings(0.3, 0.4, 0.2, 0.1, 0.05)))
    assert_allclose(chance.sum(axis=1), 1.0)
    assert_allclose(chance[:, KIND == SOME_MISSING].sum(axis=1), [0.0, 0.05, 0.0])


def test_a_part_full_jar_stays_one_though_only_whole_ones_are_said_to_be_filled() -> None:
    (chance,) = np.exp(cases_of([7.5], 0.5).log_chance(Endings(0.0, 0.6, 0.3, 0.1, 0.02)))
    assert chance[0] == pytest.approx(0.98)
    assert chance[KIND == SOME_MISSING].sum() == pytest.approx(0.02)


# --- weights that were counted in containers or cups ----------------------------------------------


def test_a_counted_weight_is_read_less_exactly_by_its_doubt() -> None:
    """Independent errors in logs add their variances."""
    weighed = batch(trimmed_g=3000.0, cured_g=2700.0, cure_hours=12.0)
    counted = replace(weighed, doubt=frozenset({Doubt("trimmed_g", 0.2, "25 cups")}))
    (cure, pack), (unsure, same) = rows(weighed), rows(counted)
    assert tuple(cure.shares) == tuple(unsure.shares) == (Link.CURE,)
    assert unsure.reading - cure.reading == pytest.approx(0.2**2)
    assert unsure.target == cure.target
    assert reading_of(same) == reading_of(pack)


def test_brine_is_told_less_exactly_by_a_counted_weight() -> None:
    weighed = batch(trimmed_g=2300.0, brine_made_ml=2400.0, brine_left_ml=400.0)
    counted = replace(weighed, doubt=frozenset({Doubt("trimmed_g", 0.1, "18 cups")}))
    ((exact,), (unsure,)) = brine(weighed), brine(counted)
    assert unsure.reading - exact.reading == pytest.approx((0.1 * 2300.0) ** 2)


def test_a_forecast_that_rests_on_counted_weights_is_wider() -> None:
    weighed = [batch(n, trimmed_g=2300.0 + 10 * n, jars=(8.0 + n / 30,)) for n in range(4)]
    counted = [
        replace(one, doubt=frozenset({Doubt("trimmed_g", 0.25, "18 cups")})) for one in weighed
    ]
    low, high = (
        habits_from(them, None, SHELF)
        .forecast(produce="carrot", cut="sticks", pack="raw", jar="pint", trimmed_g=2700.0)
        .jars.interval(0.8)
        for them in (weighed, counted)
    )
    assert math.log(high[1] / high[0]) > math.log(low[1] / low[0])


def test_a_counted_weight_tells_nothing_of_the_scale_and_contradicts_only_surely() -> None:
    light = batch(as_bought_g=3000.0, trimmed_g=3300.0, jars=(8.0,))
    assert contradictions(light)
    unsure = replace(light, doubt=frozenset({Doubt("as_bought_g", 0.1, "half a bag")}))
    assert not contradictions(unsure)
    assert contradictions(replace(unsure, trimmed_g=6000.0, jars=(16.0,)))
