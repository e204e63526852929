"""How a number of jars is spread over counts: by hand, and by numpy's own histogram."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from jarcast.forecast.outcome import Outcome
from jarcast.forecast.shares import FINE, Shares, jar_shares


def test_an_even_spread_falls_evenly_on_its_counts() -> None:
    # 5.5 to 9.5 evenly: a quarter each is nearest to 6, 7, 8 and 9.
    shares = jar_shares(Outcome(np.linspace(5.5, 9.5, 40_000, endpoint=False)), most=5)
    assert (shares.step, shares.counts) == (1.0, (6.0, 7.0, 8.0, 9.0))
    assert shares.chances == pytest.approx((0.25,) * 4, abs=1e-3)


def test_few_whole_jars_are_told_by_halves() -> None:
    shares = jar_shares(Outcome(np.linspace(8.75, 10.25, 30_000, endpoint=False)))
    assert shares.counts == (9.0, 9.5, 10.0)
    assert shares.chances == pytest.approx((1 / 3,) * 3, abs=1e-3)


def test_chances_are_those_of_a_histogram() -> None:
    draws = np.random.default_rng(3).normal(40.0, 6.0, 4096)
    shares = jar_shares(Outcome(draws), most=9)
    edges = [count - shares.step / 2 for count in shares.counts] + [np.inf]
    edges[0] = -np.inf
    due = np.histogram(draws, edges)[0] / draws.size  # numpy's own count
    assert shares.chances == pytest.approx(tuple(due), abs=1e-12)


@given(
    st.floats(0.0, 50_000.0),
    st.floats(0.0, 5_000.0),
    st.integers(3, 30),
    st.sampled_from([{}, {"steps": FINE}]),
)
def test_there_are_never_more_counts_than_asked_and_nothing_is_lost(
    middle: float, spread: float, most: int, steps: dict[str, tuple[float, ...]]
) -> None:
    draws = np.abs(middle + spread * np.linspace(-3.0, 3.0, 501))
    shares = jar_shares(Outcome(draws), most, **steps)
    assert 1 <= len(shares.counts) <= most
    assert sum(shares.chances) == pytest.approx(1.0)
    assert list(shares.counts) == pytest.approx(
        [shares.counts[0] + place * shares.step for place in range(len(shares.counts))]
    )


@pytest.mark.parametrize(
    ("chances", "due"),
    [  # the method of largest remainders, by hand
        ((0.014, 0.126, 0.404, 0.339, 0.096, 0.016, 0.005), (1, 13, 40, 34, 10, 2, 0)),
        ((1 / 3, 1 / 3, 1 / 3), (34, 33, 33)),
        ((1.0,), (100,)),
        ((0.002, 0.998), (0, 100)),
    ],
)
def test_hundredths_add_up_to_a_hundred(chances: tuple[float, ...], due: tuple[int, ...]) -> None:
    found = Shares(1.0, tuple(map(float, range(len(chances)))), chances).in_100
    assert sum(found) == 100
    assert all(abs(one - 100 * chance) < 1.0 for one, chance in zip(found, chances, strict=True))
    assert found == due
