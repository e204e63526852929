"""Many households at once: the same as one regression for each."""

import numpy as np
import pandas as pd
import pytest

from jarcast.batch import Arrow
from jarcast.learning.beliefs import starting_beliefs
from jarcast.learning.regression import posterior
from jarcast.pooling.chain import ManyBatches, learn_many
from jarcast.pooling.many import places, solve, sums

HOUSEHOLDS, CROPS, ROWS = 7, 4, 90
BELIEFS = starting_beliefs()


@pytest.fixture
def rows() -> dict[str, np.ndarray]:
    rng = np.random.default_rng(4)
    return {
        "household": rng.integers(HOUSEHOLDS, size=ROWS),
        "crop": rng.integers(CROPS, size=ROWS),
        "y": rng.normal(size=ROWS),
        "f": rng.uniform(0.5, 1.0, ROWS),
        "z": rng.normal(size=ROWS),
        "weight": rng.uniform(1.0, 5.0, ROWS),
    }


def test_sums_are_those_of_a_groupby(rows: dict[str, np.ndarray]) -> None:
    rows["y"][:5] = np.nan  # not written down
    at = places(rows["household"], rows["crop"], HOUSEHOLDS, CROPS)
    told = sums(at, rows["y"], f=rows["f"], z=(rows["z"],), weight=rows["weight"])
    frame = pd.DataFrame(rows).assign(
        fy=lambda t: t.weight * t.f * t.y, yy=lambda t: t.weight * t.y**2,
        zy=lambda t: t.weight * t.z * t.y,
    )  # fmt: skip
    expected = frame.groupby(["household", "crop"])[["fy", "yy", "zy"]].sum()
    assert list(zip(at.household, at.crop, strict=True)) == list(expected.index)
    assert told.fy == pytest.approx(expected["fy"].to_numpy())
    assert told.yy == pytest.approx(expected["yy"].to_numpy())
    assert told.zy[0] == pytest.approx(expected["zy"].to_numpy())
    assert told.rows.sum() == ROWS - 5


def test_each_household_is_solved_as_one_regression(rows: dict[str, np.ndarray]) -> None:
    # The reference is the QR solver, household by household, on an explicit design matrix; the
    # crops' correlated prior enters there by its Cholesky factor.
    hand, own = 0.3, 0.5
    between = 0.2 * np.eye(CROPS) + 0.1
    at = places(rows["household"], rows["crop"], HOUSEHOLDS, CROPS)
    told = sums(at, rows["y"], f=rows["f"], z=(rows["z"],), weight=rows["weight"])
    found = solve(at, told, hand=hand, crops=between, own=(own,), rounds=1)
    prior = np.zeros((2 + CROPS, 2 + CROPS))
    prior[0, 0], prior[-1, -1], prior[1:-1, 1:-1] = hand, own, between
    root = np.linalg.cholesky(prior)
    for h in range(HOUSEHOLDS):
        mine = rows["household"] == h
        X = np.zeros((mine.sum(), 2 + CROPS))
        X[:, 0], X[:, -1] = rows["f"][mine], rows["z"][mine]
        X[np.arange(mine.sum()), 1 + rows["crop"][mine]] = rows["f"][mine]
        one = posterior(X @ root, rows["y"][mine], weights=rows["weight"][mine],
                        prior_scale=1.0, noise_scale=1.0, noise_dof=np.inf)  # fmt: skip
        mean = root @ one.mean
        covariance = root @ one.covariance() @ root.T
        pairs = at.household == h
        seats, crops = 1 + at.seat[pairs], 1 + at.crop[pairs]
        assert found.mean[h, 0] == pytest.approx(mean[0])
        assert found.mean[h, seats] == pytest.approx(mean[crops])
        assert found.mean[h, -1] == pytest.approx(mean[-1])
        assert found.covariance[h][np.ix_(seats, seats)] == pytest.approx(
            covariance[np.ix_(crops, crops)]
        )


def test_sums_of_parts_are_the_sums_of_all(rows: dict[str, np.ndarray]) -> None:
    at = places(rows["household"], rows["crop"], HOUSEHOLDS, CROPS)
    whole = sums(at, rows["y"], f=rows["f"], z=(rows["z"],), weight=rows["weight"])
    halves = [
        sums(at.part(s), rows["y"][s], f=rows["f"][s], z=(rows["z"][s],), weight=rows["weight"][s])
        for s in (slice(0, 40), slice(40, None))
    ]
    both = halves[0] + halves[1]
    assert both.ff == pytest.approx(whole.ff)
    assert both.zz[0][0] == pytest.approx(whole.zz[0][0])


def test_the_noise_of_each_household_is_found() -> None:
    rng = np.random.default_rng(9)
    households, each = 200, 60
    household = np.repeat(np.arange(households), each)
    size = np.where(household < 100, 1.0, 4.0)
    y = rng.normal(size=household.size) * np.sqrt(size)
    at = places(household, np.zeros_like(household), households, 1)
    found = solve(at, sums(at, y), hand=0.01, crops=np.array([[0.01]]), rounds=8)
    # With the prior worth 6 rows about 1: (6 + 60 v) / 66; the mean of 100 has sd 2 % of it.
    assert found.noise[:100].mean() == pytest.approx(1.0, rel=0.08)
    assert found.noise[100:].mean() == pytest.approx((6 + 60 * 4.0) / 66, rel=0.08)


def chain_table(hands: dict[str, np.ndarray], each: int) -> ManyBatches:
    """Kitchens whose hands move trim and density off the published centres of carrot sticks."""
    rng = np.random.default_rng(6)
    households = len(hands["trim"])
    household = np.repeat(np.arange(households), each)
    carrot = BELIEFS.crop("carrot", "sticks", "raw")
    odds = carrot.trim_yield.centre / (1 - carrot.trim_yield.centre)
    odds = odds * np.exp(hands["trim"][household] + rng.normal(0, 0.15, household.size))
    bought = rng.uniform(3000, 6000, household.size)
    trimmed = bought * odds / (1 + odds)
    density = carrot.density.centre * np.exp(
        hands["pack"][household] + rng.normal(0, 0.07, household.size)
    )
    volume = trimmed / density
    nothing = np.full(household.size, np.nan)
    return ManyBatches(
        household=household, crop=np.zeros_like(household), as_bought_g=bought, trimmed_g=trimmed,
        salt_g=nothing, cure_hours=np.zeros(household.size), cured_g=nothing, cooked_g=nothing,
        jars=volume / 437.0, fill_volume_ml=volume, wide=np.zeros(household.size),
        brine_used_ml=volume - trimmed / carrot.tissue.centre + 150.0,
    )  # fmt: skip


def test_the_chain_finds_each_kitchens_own_trim_and_density() -> None:
    rng = np.random.default_rng(8)
    hands = {"trim": rng.normal(0, 0.25, 50), "pack": rng.normal(0, 0.15, 50)}
    found = learn_many(chain_table(hands, 30), [("carrot", "sticks", "raw")], 50, BELIEFS)
    assert set(found) == set(Arrow)
    for arrow, noise in ((Arrow.TRIM, 0.15), (Arrow.PACK, 0.09)):
        told = found[arrow].mean[:, 0] + found[arrow].mean[:, 1]  # of one crop only the sum is seen
        off = told - hands[arrow.value]
        assert np.sqrt(np.mean(off**2)) < 2.0 * noise / np.sqrt(30) + 0.02
    # Nobody salts or cooks these: the hand stays where it was.
    assert found[Arrow.COOK].mean[:, 0] == pytest.approx(0.0)
    assert found[Arrow.COOK].covariance[:, 0, 0] == pytest.approx(BELIEFS.people.cook.hand**2)


def test_a_table_without_rows_is_refused() -> None:
    table = chain_table({"trim": np.zeros(0), "pack": np.zeros(0)}, 3)
    with pytest.raises(ValueError, match="no row"):
        learn_many(table, [("carrot", "sticks", "raw")], 0, BELIEFS)
