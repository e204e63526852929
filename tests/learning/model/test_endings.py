"""How a batch may have ended: chances by enumeration, jars and shares by latent jars filled."""

import itertools
import math
from collections.abc import Sequence

import numpy as np
import pytest
from msgspec.structs import replace
from numpy.testing import assert_allclose
from scipy import special

from jarcast.domain.jars import SHELF
from jarcast.domain.last_jar import LastJar
from jarcast.learning.model.endings import (
    CASES,
    EATEN,
    KIND,
    LAST_EATEN,
    LAST_SQUEEZED,
    LAST_TOPPED_UP,
    LEAST_MISSING,
    LEFT_PART_FULL,
    MOST_MISSING,
    NO_USUAL_WAY,
    NOT_JARRED,
    NOT_JARRED_WEIGHT,
    PART_FULL,
    SMALLER,
    SOME_MISSING,
    SQUEEZED,
    TEMPER,
    TOPPED_UP,
    Endings,
    Seen,
    cases_of,
    endings_of,
    last_size,
    ways_seen,
)

OTHERS = TOPPED_UP + SQUEEZED + EATEN
WAYS = np.array([TOPPED_UP, SQUEEZED, EATEN]) / OTHERS
SOME = Endings(0.4, 0.3, 0.2, 0.1, 0.05)


# --- how a household ends its batches -------------------------------------------------------------


def not_whole_by_enumeration(
    whole: int, halves: int, others: int, named: int, step: float
) -> tuple[float, float]:
    """Chances of a part-full jar next and of a smaller one, every way it may come gone through.

    A household leaves its last jar part full always, never, or now and then, with a Beta belief in
    the share of part-full jars; of those, ``step`` are written as a whole number. Or the rest
    always has a jar of half the size where that will do, as it will every other time; one in fifty
    of its counts is odd for other reasons. In one batch of fifty the others
    end on a smaller jar by its name.
    """
    parts = halves + others
    keeps = np.array([PART_FULL, OTHERS, SMALLER])
    keeps *= (1.0 - NO_USUAL_WAY) / keeps.sum()
    always = keeps[0] * step**whole * (1.0 - step) ** parts * 0.02**named
    smaller = keeps[2] * 0.5 ** (whole + halves + named) * 0.02**others
    total, ahead = always + smaller + keeps[1] * (parts == 0) * 0.02**named, always
    for ways in itertools.product([True, False], repeat=whole):
        parted = parts + sum(ways)
        chance = NO_USUAL_WAY * step ** sum(ways) * (1.0 - step) ** parts * 0.02**named
        chance *= special.beta(PART_FULL + parted, OTHERS + whole + parts - parted)
        chance /= special.beta(PART_FULL, OTHERS)
        total += chance
        ahead += chance * (PART_FULL + parted) / (PART_FULL + OTHERS + whole + parts)
    return float(ahead / total), float(smaller / total)


@pytest.mark.parametrize("step", [0.5, 0.25])
@pytest.mark.parametrize(("whole", "halves"), [(0, 0), (1, 0), (3, 0), (8, 0), (2, 1), (5, 3)])
@pytest.mark.parametrize(("others", "named"), [(0, 0), (0, 1), (0, 4), (1, 0), (2, 1)])
def test_how_often_a_jar_is_left_part_full_is_bayes_rule_over_every_way(
    whole: int, halves: int, others: int, named: int, step: float
) -> None:
    # Bernardo and Smith, Bayesian Theory, section 5.2: Beta-binomial, by brute force here.
    counts = [7.0] * whole + [6.5] * halves + [6.25] * others
    found = endings_of(counts, step, named=named)
    due = not_whole_by_enumeration(whole, halves, others, named, step)
    assert (found.part_full, found.smaller) == pytest.approx(due)


@pytest.mark.parametrize("counts", [[], [7.0], [7.0] * 9, [6.5, 7.0, 8.0], [6.25] * 5])
@pytest.mark.parametrize("told", LastJar)
def test_chances_of_the_ways_add_up_to_one(counts: Sequence[float], told: LastJar) -> None:
    found = endings_of(counts, 0.5, told)
    ways = (found.part_full, found.topped_up, found.squeezed, found.eaten, found.smaller)
    assert math.fsum(ways) == pytest.approx(1.0)
    assert min(ways) >= 0.0
    assert 0.0 < found.not_jarred < 0.2


def test_with_no_batch_it_is_what_is_believed_of_people() -> None:
    found = endings_of([], 0.5)
    usual, none = (1.0 - NO_USUAL_WAY) / (PART_FULL + OTHERS + SMALLER), NO_USUAL_WAY
    parted = usual * PART_FULL + none * PART_FULL / (PART_FULL + OTHERS)
    assert found.part_full == pytest.approx(parted)
    assert found.smaller == pytest.approx(usual * SMALLER)
    assert found.topped_up + found.squeezed + found.eaten == pytest.approx(
        1.0 - parted - usual * SMALLER
    )
    assert found.topped_up / found.squeezed == pytest.approx(TOPPED_UP / SQUEEZED)
    assert found.not_jarred == pytest.approx(NOT_JARRED)


def test_what_the_person_says_is_not_argued_with() -> None:
    parts, whole = [6.5, 7.5, 8.5], [7.0] * 9
    seen = Seen(np.array([[1e-6, 1.0, 1e-6]]), 0.0)
    for counts in (whole, parts, [6.25] * 5):
        for said, due in (
            (LastJar.PART, (1.0, 0.0, 0.0, 0.0, 0.0)),
            (LastJar.TOPPED, (0.0, 1.0, 0.0, 0.0, 0.0)),
            (LastJar.EATEN, (0.0, 0.0, 0.0, 1.0, 0.0)),
            (LastJar.SMALLER, (0.0, 0.0, 0.0, 0.0, 1.0)),
        ):
            one = endings_of(counts, 0.5, said, seen)
            assert (one.part_full, one.topped_up, one.squeezed, one.eaten, one.smaller) == due
        one = endings_of(counts, 0.5, LastJar.WHOLE, seen)
        assert (one.part_full, one.smaller) == (0.0, 0.0)
        assert one.squeezed > 0.5  # of whole jars it is learned which way


def test_a_smaller_jar_called_by_its_name_speaks_for_one_and_quarters_against_it() -> None:
    chances = [endings_of([7.0] * n, 0.5, named=n).smaller for n in range(5)]
    assert (np.diff(chances) > 0.0).all()
    assert chances[-1] > 0.8
    assert endings_of([6.25, 7.5, 8.75], 0.25).smaller < 1e-3


def test_whole_counts_make_a_household_that_fills_whole_jars_more_likely() -> None:
    chances = [endings_of([7.0] * n, 0.5).part_full for n in range(6)]
    assert (np.diff(chances) < 0.0).all()
    quarters = endings_of([7.0] * 3, 0.25).part_full  # one in four of quarters is a whole number
    assert quarters < chances[3]
    assert endings_of([6.5], 0.5).part_full > chances[0]


@pytest.mark.parametrize("whole", [0, 1, 7, 16])
@pytest.mark.parametrize("halves", [0, 3, 14])
def test_however_sure_it_is_no_chance_is_below_none(whole: int, halves: int) -> None:
    for named in range(60):  # of so many somewhere the sum of the others rounds to more than one
        found = endings_of([7.0] * whole + [7.5] * halves, 0.5, named=named)
        assert min(found.topped_up, found.squeezed, found.eaten, found.smaller) >= 0.0
        with np.errstate(all="raise", under="ignore"):
            chance = np.exp(cases_of([7.0, 7.5], 0.5).log_chance(replace(found, not_jarred=0.1)))
        assert_allclose(chance.sum(axis=1), 1.0)


def test_thousands_of_batches_are_weighed_too() -> None:
    # Nearly a half of so many is left part full; by the law of large numbers twice as many as are
    # written as a part of a jar, where half of them are written as a whole one.
    found = endings_of([7.0] * 6000 + [6.5] * 2000, 0.5).part_full
    assert found == pytest.approx(0.5, abs=0.02)
    assert endings_of([7.0] * 9000, 0.5).part_full < 0.001


def test_the_usual_way_is_bayes_rule_over_households_of_one_way_or_of_none() -> None:
    # By hand: a household keeps to one way, or to none and then does each as often as people do.
    like = np.array([[0.9, 0.2, 0.4], [0.5, 0.1, 0.6], [0.7, 0.7, 0.1]])
    weights = [
        (1.0 - NO_USUAL_WAY) * WAYS[way] * np.prod(like[:, way]) ** TEMPER for way in range(3)
    ]
    mixed = math.prod(float(row @ WAYS) for row in like)
    weights.append(NO_USUAL_WAY * mixed**TEMPER)
    chance = np.array(weights) / sum(weights)
    due = chance[:3] + chance[3] * WAYS
    found = endings_of([7.0, 8.0, 6.0], 0.5, LastJar.WHOLE, Seen(like, 0.0))
    assert_allclose((found.topped_up, found.squeezed, found.eaten), due)


def test_batches_of_which_some_was_not_jarred_are_counted() -> None:
    # A Beta belief: prior and expected count, over prior weight and batches.
    counts = [7.0] * 6
    found = endings_of(counts, 0.5, seen=Seen(np.ones((6, 3)), 1.8))
    due = (NOT_JARRED * NOT_JARRED_WEIGHT + 1.8) / (NOT_JARRED_WEIGHT + 6)
    assert found.not_jarred == pytest.approx(due)


# --- what becomes of a rest -----------------------------------------------------------------------


def test_every_rest_goes_somewhere() -> None:
    rest, jars = np.meshgrid(np.linspace(0.01, 0.99, 21), [0.0, 1.0, 3.0, 12.0, 40.0])
    found = SOME.split(rest, jars)
    whole = SOME.topped_up + SOME.squeezed + SOME.eaten
    assert_allclose(np.sum(found, axis=0), whole)
    assert min(part.min() for part in found) >= 0.0
    assert (found[0] >= SOME.topped_up - 1e-12).all()


def test_a_rest_that_does_not_fit_is_not_squeezed_in() -> None:
    # Half a jar over one jar is half as much again; over thirty it is 1.7 % more.
    always = Endings(0.0, 0.0, 1.0, 0.0, 0.0)
    topped, squeezed, _ = always.split(np.array([0.5, 0.5, 0.5]), np.array([1.0, 5.0, 30.0]))
    assert squeezed[0] == 0.0
    assert squeezed[2] == 1.0
    assert 0.0 < squeezed[1] < 1.0
    assert_allclose(topped, 1.0 - squeezed)


def test_who_tops_up_takes_no_lid_for_a_mouthful() -> None:
    said = endings_of([], 0.5, LastJar.TOPPED)
    rest = np.array([0.01, 0.15, 0.29, 0.31, 0.9])
    topped, squeezed, eaten = said.split(rest, 8.0)
    assert_allclose(topped + eaten, 1.0)
    assert (squeezed == 0.0).all()
    assert (np.diff(topped[:4]) > 0.0).all()
    assert_allclose(topped[3:], 1.0)
    assert topped[0] < 0.05
    # In learning too: of the smallest rests some were eaten, and then no jar more was filled.
    (chance,) = np.exp(cases_of([8.0], 0.5).log_chance(said))
    (always,) = np.exp(cases_of([8.0], 0.5).log_chance(replace(said, least=0.0)))
    assert chance.sum() == pytest.approx(1.0)
    assert chance[KIND == LAST_EATEN].sum() > 0.1
    assert always[KIND == LAST_EATEN].sum() == 0.0


def test_where_no_smaller_jar_may_be_used_the_rest_is_left_part_full() -> None:
    one = Endings(0.2, 0.3, 0.1, 0.1, 0.0, 0.3).without_smaller
    assert (one.part_full, one.smaller) == (pytest.approx(0.5), 0.0)


def test_a_small_rest_is_eaten_before_a_large_one() -> None:
    always = Endings(0.0, 0.0, 0.0, 1.0, 0.0)
    eaten = always.split(np.array([0.05, 0.5, 0.95]), 8.0)[2]
    assert (np.diff(eaten) < 0.0).all()
    assert eaten[0] > 0.9


# --- cases ----------------------------------------------------------------------------------------


@pytest.mark.parametrize("endings", [SOME, Endings(1.0, 0.0, 0.0, 0.0, 0.02), endings_of([], 0.5)])
def test_chances_of_the_cases_add_up_to_one(endings: Endings) -> None:
    jars = [1.0, 4.0, 7.5, 7.25, 30.0]
    chance = np.exp(cases_of(jars, 0.25).log_chance(endings))
    assert chance.shape == (5, CASES)
    assert_allclose(chance.sum(axis=1), 1.0)


@pytest.mark.parametrize("jars", [0.5, 6.5, 7.25, 11.75])
def test_a_part_of_a_jar_shows_that_the_last_one_was_left_part_full(jars: float) -> None:
    (chance,) = np.exp(cases_of([jars], 0.25).log_chance(SOME))
    assert chance[np.isin(KIND, [LAST_TOPPED_UP, LAST_SQUEEZED, LAST_EATEN])].sum() == 0.0
    assert chance[KIND == LEFT_PART_FULL].sum() + chance[
        KIND == SOME_MISSING
    ].sum() == pytest.approx(1.0)


def test_a_whole_count_is_a_part_full_jar_as_often_as_rounding_makes_it_one() -> None:
    # Of jars counted to a quarter one in four comes out whole. Everybody else writes nothing else.
    endings = Endings(0.5, 0.5, 0.0, 0.0, 0.0)
    (chance,) = np.exp(cases_of([7.0], 0.25).log_chance(endings))
    assert chance[0] == pytest.approx(0.25 * 0.5 / (0.25 * 0.5 + 0.5))


@pytest.mark.parametrize(("count", "whole"), [(7.0, True), (7.5, False), (7.0000000001, True)])
def test_a_whole_count_is_told_from_one_with_a_part(count: float, whole: bool) -> None:
    assert cases_of([count], 0.5).whole.tolist() == [whole]


def test_half_a_jar_may_be_a_smaller_one_topped_up() -> None:
    # Of who leaves one part full half the counts are halves, and of who has smaller jars half too.
    endings = Endings(0.6, 0.0, 0.0, 0.0, 0.0, 0.4)
    cases = cases_of([7.5, 8.0], 0.5)
    chance = np.exp(cases.log_chance(endings))
    topped = KIND == LAST_TOPPED_UP
    assert_allclose(chance[:, 0], 0.6)
    assert_allclose(chance[:, topped].sum(axis=1), 0.4)
    # What it would have filled at its own density: half a jar holds no more than half a jar, and
    # what takes a whole one was more than half: of its thirds, half of the middle one and the last.
    mean = (chance * cases.volume)[:, topped].sum(axis=1) / 0.4 * np.array([7.5, 8.0])
    assert_allclose(mean, [7.25, 7.0 + (0.5 + 2.0 * 5.0 / 6.0) / 3.0], atol=1e-9)
    assert (cases.volume[0, topped] * 7.5 > 7.0).all()
    assert (cases.volume[0, topped] * 7.5 < 7.5).all()


def test_of_two_sorts_the_count_shows_how_it_ended_and_not_the_volume() -> None:
    # 4 wide pints and 3 pints hold as much as 6.8 pints: three whole ones stood at the end.
    mixed = cases_of([6.8, 6.8, 6.8], 0.5, counted=[3.0, 3.5, 3.25])
    assert mixed.whole.tolist() == [True, False, False]
    chance = np.exp(mixed.log_chance(SOME))
    ended = np.isin(KIND, [LAST_TOPPED_UP, LAST_SQUEEZED, LAST_EATEN])
    assert chance[0, ended].sum() > 0.5
    assert (chance[1:, ended] == 0.0).all()
    assert_allclose(mixed.volume[0, KIND == LAST_TOPPED_UP], (5.8 + np.arange(1, 6, 2) / 6) / 6.8)


def test_another_size_is_one_and_another_mouth_is_not() -> None:
    fill = {key: SHELF[key].fill_volume_ml() for key in SHELF}
    assert last_size(fill["pint"], fill["half-pint"]) == 1.0
    assert last_size(fill["quart"], fill["pint-wide"]) == 1.0
    assert last_size(fill["pint"], fill["12-oz"]) == 1.0
    assert last_size(fill["half-pint"], fill["half-pint-wide"]) == 0.5
    assert last_size(fill["pint"], fill["pint-wide"]) == 0.5
    assert last_size(fill["pint"], fill["pint"]) == 0.5
    assert last_size(fill["pint"], fill["quart"]) == 0.5


def test_how_much_was_not_jarred_is_as_likely_to_be_each_share() -> None:
    missing = KIND == SOME_MISSING
    cases = cases_of([7.5], 0.5)
    chance = np.exp(cases.log_chance(Endings(1.0, 0.0, 0.0, 0.0, 0.3))[0])[missing]
    kept = cases.share[0, missing]
    assert kept.max() < 1.0 - LEAST_MISSING
    assert kept.min() > 1.0 - MOST_MISSING
    # Middle of an even spread, and its sd, the cells' own included (a twelfth of their width
    # squared, in logs).
    share = chance / chance.sum()
    middle = float(share @ kept)
    assert middle == pytest.approx(1.0 - 0.5 * (LEAST_MISSING + MOST_MISSING), abs=0.01)
    square = float(share @ (kept**2 * (1.0 + cases.share_spread[0, missing])))
    due = (MOST_MISSING - LEAST_MISSING) / math.sqrt(12.0)
    assert math.sqrt(square - middle**2) == pytest.approx(due, rel=0.03)


def latent_jars(way: str, full: int, size: int = 200_000) -> tuple[np.ndarray, np.ndarray]:
    """Batches that come to a count of ``full``: what they would fill part full, and their share.

    Latent jars are spread evenly: each is ended the household's way, and those written as ``full``
    are kept. The share is that of the produce which stands in the jars.
    """
    rng = np.random.default_rng(0)
    latent = rng.uniform(full - 1.0, full + 1.0, size)
    written = np.ceil(latent) if way == "topped up" else np.floor(latent)
    latent = latent[written == full]
    return latent, np.minimum(full / latent, 1.0) if way == "eaten" else np.ones(latent.size)


@pytest.mark.parametrize("full", [4, 9, 20])
@pytest.mark.parametrize(
    ("way", "kind"),
    [("topped up", LAST_TOPPED_UP), ("squeezed", LAST_SQUEEZED), ("eaten", LAST_EATEN)],
)
def test_cases_of_a_whole_count_are_the_latent_jars_that_come_to_it(
    way: str, kind: int, full: int
) -> None:
    # The volume is that of the latent jars at the batch's own density; eaten: what stands in the
    # jars is that much less. Mean and variance over the cases of one kind, each as likely as the
    # next (all rests are topped up, and none is too much to squeeze in or to eat), and within each.
    latent, share = latent_jars(way, full)
    cases = cases_of([float(full)], 0.5)
    at = kind == KIND
    volume = np.log(cases.volume[0, at])
    kept = np.log(cases.share[0, at])
    seen = np.log(share) if way == "eaten" else np.log(latent / full)
    own = kept if way == "eaten" else volume
    within = cases.share_spread[0, at] if way == "eaten" else cases.spread[0, at]
    assert own.mean() == pytest.approx(seen.mean(), abs=0.02 / full)
    assert math.sqrt(own.var() + within.mean()) == pytest.approx(seen.std(), rel=0.1)
    other = volume if way == "eaten" else kept
    assert_allclose(other, 0.0)


def test_a_part_full_jar_is_counted_to_the_step() -> None:
    # An even spread over a step has a twelfth of its square as variance.
    cases = cases_of([7.5, 20.0], 0.25)
    assert_allclose(cases.volume[:, 0], 1.0)
    assert_allclose(cases.share[:, 0], 1.0)
    assert_allclose(cases.spread[:, 0] * np.array([7.5, 20.0]) ** 2, 0.25**2 / 12.0)


def test_no_batches_have_no_cases() -> None:
    cases = cases_of([], 0.5)
    assert cases.log_chance(SOME).shape == (0, CASES)
    nothing = ways_seen(cases, np.zeros((0, CASES)), np.zeros((0, CASES)))
    assert nothing.by_way.shape == (0, 3)
    assert nothing.not_jarred == 0.0


# --- what weights and brine say of it -------------------------------------------------------------


def test_likelihoods_of_the_ways_are_sums_over_their_cases() -> None:
    # Law of total probability, case by case; a count with a part tells of none of the ways.
    rng = np.random.default_rng(2)
    told = rng.standard_normal((3, CASES))
    cases = cases_of([6.0, 7.5, 9.0], 0.5)
    chance = cases.log_chance(SOME)
    seen = ways_seen(cases, chance, told)
    assert seen.by_way.shape == (2, 3)
    for row, batch in enumerate((0, 2)):
        for way in range(3):
            due = sum(
                cases.by_way[batch, way, case] * math.exp(told[batch, case])
                for case in range(CASES)
            )
            other = sum(
                cases.by_way[batch, 0, case] * math.exp(told[batch, case]) for case in range(CASES)
            )
            assert seen.by_way[row, way] / seen.by_way[row, 0] == pytest.approx(due / other)
    expected = 0.0
    for batch in range(3):
        weight = np.exp(chance[batch] + told[batch])
        expected += weight[KIND == SOME_MISSING].sum() / weight.sum()
    assert seen.not_jarred == pytest.approx(expected)


@pytest.mark.parametrize("full", [2, 5, 8, 20])
def test_a_count_alone_says_of_the_ways_how_often_latent_jars_come_to_it(full: int) -> None:
    # Latent jars spread evenly about the count: the share of those that each way makes this many.
    rng = np.random.default_rng(1)
    latent = rng.uniform(full - 1.0, full + 1.0, 100_000)
    down = np.floor(latent)
    cases = cases_of([float(full)], 0.5)
    seen = ways_seen(cases, cases.log_chance(SOME), np.zeros((1, CASES))).by_way[0]
    for way, always in enumerate(np.eye(3)):
        topped = Endings(0.0, *map(float, always), 0.0).split(latent - down, down)[0]
        count = np.where(rng.random(latent.size) < topped, down + 1.0, down)
        # Two jars wide: an even chance is one half. A few rests stand for all, which is coarsest
        # over few jars.
        assert seen[way] == pytest.approx(2.0 * (count == full).mean(), abs=0.25 / full)
