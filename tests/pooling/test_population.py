"""Households combined: against closed forms, and against invented populations."""

import json

import numpy as np
import pytest

from jarcast.domain.stages import Link
from jarcast.errors import BeliefsError
from jarcast.files.shipped import shipped
from jarcast.learning.model.beliefs import beliefs_from, starting_beliefs
from jarcast.learning.model.effects import Effect
from jarcast.pooling.combine import combine
from jarcast.pooling.population import fit_population
from jarcast.pooling.reduce import CROP, PERSON, Coordinate, Part, Reduced, crop_loadings
from jarcast.pooling.stack import stack_parts
from jarcast.pooling.write import pooled_document

BELIEFS = starting_beliefs()
RAW = json.loads(shipped("models", "starting-beliefs.json").read_text(encoding="utf-8"))
HANDS = Coordinate(Link.PACK, PERSON)
CROPS = [("carrot", "sticks", "raw"), ("beet", "slices", "hot"), ("okra", "whole", "raw"),
         ("cucumber", "slices", "raw"), ("turnip", "sticks", "raw")]  # fmt: skip


def crop_at(crop: tuple[str, str, str]) -> Coordinate:
    return Coordinate(Link.PACK, CROP, crop)


def spread(crop: tuple[str, str, str]) -> float:
    return BELIEFS.crop(*crop).density.spread


def parts(count: int, off: dict, apart: float, hand: float, seed: int) -> list[Part]:
    """Kitchens of three crops, whose sums of hand and crop are read with sd 0.03."""
    rng = np.random.default_rng(seed)
    found = []
    for _ in range(count):
        mine = [CROPS[i] for i in rng.choice(len(CROPS), 3, replace=False)]
        here = rng.normal(0.0, hand)
        X = np.hstack([np.ones((3, 1)), np.eye(3)])
        y = np.array([here + off[c] + rng.normal(0.0, apart * spread(c)) for c in mine])
        y = y + rng.normal(0.0, 0.03, 3)
        found.append(Part((HANDS, *map(crop_at, mine)), X.T @ X / 0.03**2, X.T @ y / 0.03**2))
    return found


def test_a_household_tells_of_means_with_its_own_deviations_integrated_out() -> None:
    # y = X t + e, t ~ N(mu, D): then y ~ N(X mu, X D X' + s^2 I), and the information on mu is
    # X' (X D X' + s^2 I)^-1 X (Laird and Ware 1982, Biometrics 38, equation 3.1).
    rng = np.random.default_rng(1)
    X, s2, D = rng.normal(size=(7, 3)), 0.2, np.array([0.5, 1.5, 0.1])
    y = rng.normal(size=7)
    names = [Coordinate(Link.PACK, CROP, (str(i), "", "")) for i in range(3)]
    stack = stack_parts([Part(tuple(names), X.T @ X / s2, X.T @ y / s2)], names)
    information, vector = stack.combined(np.append(D, 1.0))
    outer = np.linalg.inv(X @ np.diag(D) @ X.T + s2 * np.eye(7))
    assert information[:3, :3] == pytest.approx(X.T @ outer @ X)
    assert vector[:3] == pytest.approx(X.T @ outer @ y)


def test_nothing_told_leaves_what_was_published() -> None:
    fit = fit_population([], (Link.PACK,), BELIEFS)
    for crop in CROPS:
        mean, sd = fit.value(crop_loadings(BELIEFS, Link.PACK, crop, BELIEFS.people),
                                 Link.PACK)  # fmt: skip
        assert mean == 0.0
        assert sd == pytest.approx(spread(crop))
    # What lies between households: hands, and how far a kitchen's yields lie from the printed ones.
    pack = BELIEFS.people.pack
    assert fit.between_people[Link.PACK] == pytest.approx(pack.between_people**2 + pack.kitchens**2)


def test_centres_hands_and_spreads_of_an_invented_population_are_found() -> None:
    off = dict(zip(CROPS, (0.2, -0.2, 0.15, -0.1, 0.25), strict=True))
    count, hand, apart = 400, 0.15, 0.6
    fit = fit_population(parts(count, off, apart, hand, seed=7), (Link.PACK,), BELIEFS)
    # Standard errors of a variance of n normals are sqrt(2 / n) of it; four of them here.
    assert fit.between_people[Link.PACK] == pytest.approx(hand**2, rel=4 * np.sqrt(2 / count))
    assert fit.apart[Link.PACK] == pytest.approx(apart**2, rel=4 * np.sqrt(2 / count))
    for crop, true in off.items():
        found = crop_loadings(BELIEFS, Link.PACK, crop, BELIEFS.people)
        mean, sd = fit.value(found, Link.PACK)
        assert mean == pytest.approx(true, abs=4 * np.hypot(hand, 0.12) / np.sqrt(count * 0.6))
        assert sd == pytest.approx(apart * spread(crop), rel=0.2)


def test_a_cut_nobody_put_up_leans_on_the_other_cuts_of_its_produce() -> None:
    off = dict.fromkeys(CROPS, 0.0) | {CROPS[0]: 0.3}
    fit = fit_population(parts(200, off, 0.4, 0.1, seed=3), (Link.PACK,), BELIEFS)

    def moved(crop: tuple[str, str, str]) -> float:
        found = crop_loadings(BELIEFS, Link.PACK, crop, BELIEFS.people)
        return fit.value(found, Link.PACK)[0]

    there, kin, stranger = (
        moved(c) for c in (CROPS[0], ("carrot", "slices", "raw"), ("onion", "rings", "raw"))
    )
    assert 0.25 < there < 0.35
    assert 0.05 < kin < there
    assert abs(stranger) < 0.5 * kin


def test_the_order_of_households_does_not_matter() -> None:
    told = parts(40, dict.fromkeys(CROPS, 0.1), 0.5, 0.1, seed=5)
    one = fit_population(told, (Link.PACK,), BELIEFS)
    two = fit_population(told[::-1], (Link.PACK,), BELIEFS)
    assert one.apart[Link.PACK] == pytest.approx(two.apart[Link.PACK], rel=1e-9)
    key = Effect(Link.PACK, "crop", "carrot")
    assert one.mean[one.effects[key]] == pytest.approx(two.mean[two.effects[key]], abs=1e-9)


@pytest.mark.parametrize("count", [0, 1])
def test_too_few_households_are_refused(count: int) -> None:
    one = Reduced(1, {CROPS[0]: 1}, tuple(parts(1, dict.fromkeys(CROPS, 0.0), 0.5, 0.1, 1)), {})
    empty = Reduced(3, {CROPS[0]: 3}, (), {})
    with pytest.raises(BeliefsError, match="at least 2"):
        combine([one] * count + [empty], BELIEFS)


def test_the_file_is_read_back_as_beliefs_and_counts_its_evidence() -> None:
    told = parts(60, dict.fromkeys(CROPS, 0.2), 0.5, 0.1, seed=11)
    households = [
        Reduced(5, {c.crop: 2 for c in one.coordinates if c.kind == CROP}, (one,), {})
        for one in told
    ]
    document = pooled_document(combine(households, BELIEFS), RAW, BELIEFS)
    found = beliefs_from(json.loads(json.dumps(document)), "it")
    assert found.label == "published yields and 60 households"
    assert document["pooled"]["batches"] == 300
    count = sum(CROPS[0] in one.crops for one in households)
    row = next(r for r in document["crops"]
               if (r["produce"], r["cut"], r["pack"]) == CROPS[0])  # fmt: skip
    assert row["pooled"] == {"households": count, "batches": 2 * count}
    before, after = BELIEFS.crop(*CROPS[0]).density, found.crop(*CROPS[0]).density
    # Every crop here packs e^0.2 denser; the soft limit of density takes a little off.
    assert 1.12 < after.centre / before.centre < 1.24
    assert after.spread < before.spread
    # Trim was told nothing of: as published.
    assert found.crop("beet", "slices", "hot").trim_yield.centre == pytest.approx(
        BELIEFS.crop("beet", "slices", "hot").trim_yield.centre
    )
    assert found.people.trim.between_people == pytest.approx(BELIEFS.people.trim.between_people)


def test_produce_nobody_published_gets_rows_of_its_own() -> None:
    crop = ("sand leek", "rings", "raw")
    assert "sand leek" not in BELIEFS.produce
    one = parts(30, dict.fromkeys(CROPS, 0.0), 0.5, 0.1, seed=2)
    swapped = [
        Part((HANDS, crop_at(crop), *part.coordinates[2:]), part.information,
             part.vector + part.information @ np.array([0.0, 0.3, 0.0, 0.0]))
        for part in one
    ]  # fmt: skip
    households = [Reduced(4, {crop: 4}, (part,), {}) for part in swapped]
    document = pooled_document(combine(households, BELIEFS), RAW, BELIEFS)
    found = beliefs_from(document, "it")
    told = found.crop(*crop)
    assert told.known == "this cut"
    assert told.density.centre > 1.2 * BELIEFS.anything.density.centre
    assert told.density.spread < BELIEFS.anything.density.spread
    assert found.crop("sand leek", "slices", "raw").known == "this produce"
