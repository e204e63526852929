"""One household reduced: what it tells without its prior, and no row."""

import datetime as dt
import math
import pickle

import numpy as np
import pytest
from msgspec.structs import replace

from jarcast.domain.batch import Batch
from jarcast.domain.stages import Link
from jarcast.learning.learned import learn_batches
from jarcast.learning.model.beliefs import starting_beliefs
from jarcast.pooling.reduce import CROP, PERSON, Coordinate, Part, Reduced, reduce_household


def household(shares: dict[str, list[float]], note: str = "") -> list[Batch]:
    """Batches of some crops, uncured, known by as bought, trimmed, jars and brine."""
    rng = np.random.default_rng(3)
    found = []
    for produce, each in shares.items():
        for share in each:
            bought = float(rng.integers(30, 60) * 100)
            volume = bought * share / 0.6
            jars = round(2 * volume / 437.0) / 2
            found.append(
                Batch(
                    batch=f"{note}{len(found)}",
                    date=dt.date(2023, 6, 1) + dt.timedelta(days=len(found)),
                    produce=produce, cut="slices", pack="raw", jar=("pint",), jars=(jars,),
                    as_bought_g=bought, trimmed_g=bought * share, cure_hours=0.0,
                    brine_made_ml=0.6 * volume, brine_left_ml=0.1 * volume, note=note,
                )
            )  # fmt: skip
    return found


CARROTS_AND_BEETS = {
    "carrot": [0.78, 0.81, 0.84, 0.80, 0.79, 0.83, 0.82, 0.77],
    "beet": [0.70, 0.72, 0.69, 0.74, 0.71, 0.73],
}


def part_of(reduced: Reduced, link: Link) -> Part:
    return next(p for p in reduced.parts if any(c.link is link for c in p.coordinates))


def test_what_the_household_tells_and_its_prior_give_its_posterior() -> None:
    # The normal prior times the likelihood is the posterior (Gelman et al., Bayesian Data
    # Analysis, 3rd ed., section 3.5), so reducing must undo nothing that learning knew.
    beliefs = starting_beliefs()
    batches = household(CARROTS_AND_BEETS)
    part = part_of(reduce_household(batches, beliefs), Link.TRIM)
    block = learn_batches(batches, beliefs).block(Link.TRIM)
    component = max(block.components, key=lambda component: component.weight)
    i = part.coordinates.index(Coordinate(Link.TRIM, PERSON))
    crops = [c.crop[0] for c in part.coordinates if c.kind == CROP]
    assert sorted(crops) == ["beet", "carrot"]
    spread, size = beliefs.crop("carrot", "slices", "raw").trim_yield.spread, component.spread
    # LinkSpread, and crops that share the common effect (never rescaled) and the cut's.
    own = size[Link.TRIM]
    other = beliefs.crop("beet", "slices", "raw").trim_yield.spread
    prior = np.zeros((3, 3))
    for j, c in enumerate(part.coordinates):
        for k, d in enumerate(part.coordinates):
            if c.kind == d.kind == PERSON:
                prior[j, k] = beliefs.people.trim.between_people**2
            elif c.kind == d.kind == CROP:
                s = {"carrot": spread, "beet": other}
                shared = 0.4 + own * (0.6 if c == d else 0.1)
                prior[j, k] = s[c.crop[0]] * s[d.crop[0]] * shared
    precision = np.linalg.inv(prior) + part.information
    mean = np.linalg.solve(precision, part.vector)
    hand = next(v for e, v in block.effects.items() if e.group == "person")
    learned = beliefs.people.trim.between_people * component.mean[hand]
    assert mean[i] == pytest.approx(learned, rel=1e-6)


def test_hand_and_crop_are_told_together_but_not_apart() -> None:
    # Of one crop, only the sum of hand and crop is seen: the information has rank one.
    part = part_of(reduce_household(household({"carrot": [0.8, 0.82, 0.78]})), Link.TRIM)
    values = np.linalg.eigvalsh(part.information)
    assert values[-1] > 0
    assert abs(values[0]) < 1e-8 * values[-1]
    there = np.linalg.lstsq(part.information, part.vector, rcond=None)[0]
    belief = starting_beliefs().crop("carrot", "slices", "raw").trim_yield.centre
    seen = np.mean([math.log(s / (1 - s)) for s in (0.8, 0.82, 0.78)])
    assert there.sum() == pytest.approx(seen - math.log(belief / (1 - belief)), abs=0.01)


def test_more_batches_tell_more() -> None:
    few = part_of(reduce_household(household({"carrot": [0.8, 0.82] * 2})), Link.TRIM)
    many = part_of(reduce_household(household({"carrot": [0.8, 0.82] * 8})), Link.TRIM)
    assert many.information.trace() > 2.0 * few.information.trace()


def test_no_text_and_no_date_of_a_row_goes_along() -> None:
    batches = household(CARROTS_AND_BEETS, note="Aunt Wilma's cellar")
    batches = [replace(batch, recipe="private recipe") for batch in batches]
    sent = pickle.dumps(reduce_household(batches))
    for secret in (b"Wilma", b"private", b"2023", b"datetime"):
        assert secret not in sent
    for batch in batches:
        assert np.float64(batch.as_bought_g).tobytes() not in sent
        assert pickle.dumps(batch.trimmed_g)[-11:] not in sent


def test_a_household_without_a_weight_tells_nothing() -> None:
    bare = [
        replace(b, as_bought_g=None, trimmed_g=None, brine_made_ml=None)
        for b in household({"carrot": [0.8, 0.8]})
    ]
    reduced = reduce_household(bare)
    assert reduced.parts == ()
    assert reduced.batches == 2
