"""A record scored one step ahead, beside what one would use instead: the table it gives."""

from typing import Any

import numpy as np
import pandas as pd
import pytest
from scipy import stats
from sklearn.linear_model import BayesianRidge

import jarcast
from jarcast.batchtable import frame_from_batches
from jarcast.domain.batch import Batch
from jarcast.domain.jars import SHELF
from jarcast.errors import ForecastError, JarcastError
from jarcast.trackrecord.hindsight import look_back
from jarcast.trackrecord.replay import as_one_import


@pytest.fixture(scope="module")
def table(batches: list[Batch]) -> pd.DataFrame:
    return jarcast.hindsight(frame_from_batches(batches))


def test_it_is_what_hindsight_scores(table: pd.DataFrame, batches: list[Batch]) -> None:
    found = look_back(as_one_import(batches)).replayed.scored
    own = table[table["forecaster"] == "jarcast"].set_index(["batch", "stage", "outcome"])
    assert len(own) == sum(1 + (one.brine is not None) for one in found)
    for one in found:
        for name, mark in (("jars", one.jars), ("brine_ml", one.brine)):
            if mark is not None:
                row = own.loc[(one.stored.batch, one.stored.stage, name)]
                assert (row["was"], row["crps"], row["miss"]) == (mark.was, mark.crps, mark.miss)
                assert (row["held_50"], row["held_80"], row["held_90"]) == mark.held
                assert (row["short"], row["at_least"]) == (mark.short, mark.at_least)


def test_coverage_can_be_counted_again_from_the_ranges(table: pd.DataFrame) -> None:
    known = table[~table["at_least"]]
    inside = known["was"].between(known["low"], known["high"])
    assert (inside == known["held_80"]).all()
    assert np.allclose(known["miss"], known["was"] - known["median"])


def test_the_average_is_a_normal_about_the_mean_of_earlier_ratios(table: pd.DataFrame) -> None:
    own = table[(table["forecaster"] == "average") & (table["outcome"] == "jars")]
    third = own[(own["batch"] == "2") & (own["stage"] == "trimmed_g")].iloc[0]
    # Jars a kilogram 9 / 2.3 and 7.5 / 2.0, of 3.15 kg; sd of two with n - 1.
    ratios = np.array([9 / 2.3, 7.5 / 2.0]) * 3.15
    due = stats.norm(ratios.mean(), ratios.std(ddof=1)).ppf([0.1, 0.5, 0.9])
    assert [third["low"], third["median"], third["high"]] == pytest.approx(due, rel=0.01)
    assert set(own["batch"]) == {"2"}  # of no other crop are there two before


def test_the_ridge_is_scikit_learn_s_on_the_crops(table: pd.DataFrame) -> None:
    own = table[(table["forecaster"] == "bayesian-ridge") & (table["outcome"] == "jars")]
    row = own[(own["batch"] == "c0") & (own["stage"] == "trimmed_g")].iloc[0]
    # Three carrots before it in pints, and no cucumber; jars count by what they hold.
    pint, quart = (SHELF[key].fill_volume_ml() for key in ("pint", "quart"))
    logs = np.log(np.array([9 / 2.3, 7.5 / 2.0, 12 / 3.15]) * pint / quart)
    ridge = BayesianRidge().fit([[1.0, 0.0]] * 3, logs)
    middle, spread = ridge.predict([[0.0, 1.0]], return_std=True)
    due = np.exp(stats.norm(middle[0], spread[0]).ppf([0.1, 0.5, 0.9])) * 2.6
    assert [row["low"], row["median"], row["high"]] == pytest.approx(due, rel=0.01)


def test_what_came_later_changes_no_earlier_row(batches: list[Batch], table: pd.DataFrame) -> None:
    early = jarcast.hindsight(frame_from_batches(batches[:3]))
    assert len(early) > 0
    later = table[table["batch"].isin(early["batch"])].reset_index(drop=True)
    pd.testing.assert_frame_equal(early, later)


def test_peers_are_as_asked_and_an_unknown_one_is_refused(batches: list[Batch]) -> None:
    frame = frame_from_batches(batches[:2])
    assert set(jarcast.hindsight(frame, peers=())["forecaster"]) == {"jarcast"}
    assert jarcast.hindsight(frame.iloc[:0]).empty
    with pytest.raises(ForecastError, match="no peer 'oracle'; there are average, bayesian-ridge"):
        jarcast.hindsight(frame, peers=["oracle"])


def test_dates_are_those_of_the_table_it_was_made_of(
    table: pd.DataFrame, batches: list[Batch]
) -> None:
    frame = frame_from_batches(batches)
    assert table["date"].dtype == frame["date"].dtype
    both = table.merge(frame[["batch", "date"]], on=["batch", "date"])
    assert len(both) == len(table)
    assert jarcast.hindsight(frame.iloc[:0])["date"].dtype == frame["date"].dtype


def test_a_peer_that_is_named_twice_has_its_rows_once(batches: list[Batch]) -> None:
    frame = frame_from_batches(batches)
    once = jarcast.hindsight(frame, peers="average")
    pd.testing.assert_frame_equal(jarcast.hindsight(frame, peers=["average", "average"]), once)


@pytest.mark.parametrize(
    ("wrong", "says"),
    [
        ({"latest": 1.5}, "latest=1.5: a number of batches is due, 1 or more; None is all"),
        ({"latest": "3"}, "latest='3'"),
        ({"latest": 0}, "latest=0"),
        ({"latest": True}, "latest=True"),
        ({"jobs": "2"}, "jobs='2': a number of cores is due"),
        ({"jobs": 1.5}, "jobs=1.5"),
        ({"jobs": 0}, "jobs=0"),
        ({"peers": None}, "peers=None: give a list of names"),
        ({"peers": 5}, "peers=5"),
        ({"peers": [["average"]]}, r"no peer \['average'\]"),
        ({"beliefs": "club.json"}, "are not beliefs"),
        ({"shelf": 5}, "shelf=5: give a dict of jars"),
    ],
)
def test_what_is_none_of_a_setting_is_refused(
    batches: list[Batch], wrong: dict[str, Any], says: str
) -> None:
    with pytest.raises(JarcastError, match=says):
        jarcast.hindsight(frame_from_batches(batches[:2]), **wrong)
