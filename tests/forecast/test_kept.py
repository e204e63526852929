"""Habits kept: written as JSON, pickled and copied, they forecast as before, to the last digit."""

import copy
import io
import json
import pickle
from collections.abc import Callable
from pathlib import Path
from typing import Any

import joblib
import numpy as np
import pandas as pd
import pytest
from msgspec.structs import replace

import jarcast
from jarcast import Forecast, Habits, Outcome, SoFar, habits_from, load_habits
from jarcast.domain.batch import Batch
from jarcast.errors import BeliefsError, JarcastError
from jarcast.files.shipped import shipped
from jarcast.learning.model.beliefs import load_beliefs
from jarcast.recipes import shipped_recipes

pytestmark = pytest.mark.contract

CARROTS: dict[str, Any] = {"produce": "carrot", "cut": "sticks", "pack": "raw", "trimmed_g": 2700}
ASKED: tuple[dict[str, Any], ...] = (
    CARROTS,
    {"produce": "cucumber", "cut": "slices", "as_bought_g": 3000.0, "person": "Ines"},
    {"produce": "quince", "as_bought_g": 3000.0, "jar": "5 pint-wide, then quart"},
    {**CARROTS, "so_far": SoFar(jars=3, produce_g=760, brine_ml=520)},
)


def joblib_dumped(value: object) -> Any:
    file = io.BytesIO()
    joblib.dump(value, file)
    file.seek(0)
    return joblib.load(file)


def pickled(value: object) -> Any:
    return pickle.loads(pickle.dumps(value))  # noqa: S301 - written on the line before


COPIES = {"pickle": pickled, "deepcopy": copy.deepcopy, "joblib": joblib_dumped}


def kitchens(batches: list[Batch]) -> list[Habits]:
    """One of a single person, one of two people, one by beliefs from a file, and a beginner's."""
    two = [replace(one, person="Ines" if at % 2 else "Teo") for at, one in enumerate(batches)]
    beliefs = load_beliefs(shipped("models", "starting-beliefs.json"))
    packed = {"0": [SoFar(jars=3, produce_g=760, brine_ml=520), SoFar(jars=6, produce_g=1500)]}
    return [
        habits_from(batches, packed=packed),
        habits_from(two, whole_jars=True),
        habits_from(batches, last_jar="smaller"),
        habits_from(batches, beliefs),
        habits_from([]),
    ]


def same_forecasts(one: Habits, other: Habits) -> None:
    for asked in ASKED:
        there, here = (habits.forecast(**asked, seed=3) for habits in (one, other))
        same_draws(there, here)
        assert repr(there) == repr(here)
        assert there.rests_on == here.rests_on


def same_draws(one: Forecast, other: Forecast) -> None:
    for name in ("jars", "brine_ml", "start_g", "ready_g", "jars_to_come", "brine_to_come_ml"):
        assert np.array_equal(getattr(one, name).draws, getattr(other, name).draws), name


def test_habits_written_to_a_file_give_the_same_draws(batches: list[Batch], tmp_path: Path) -> None:
    for number, habits in enumerate(kitchens(batches)):
        path = tmp_path / f"{number}.json"
        habits.save(path)
        same_forecasts(habits, load_habits(str(path)))


def test_what_is_written_is_versioned_json_and_the_same_once_read(
    habits: Habits, tmp_path: Path
) -> None:
    one, other = tmp_path / "one.json", tmp_path / "other.json"
    habits.save(one)
    load_habits(one).save(other)
    assert one.read_bytes() == other.read_bytes()
    written = json.loads(one.read_text(), parse_constant=pytest.fail)  # no NaN, which JSON has not
    assert (written["format"], written["version"]) == ("jarcast habits", 2)
    assert written["jarcast"] == jarcast.__version__


@pytest.mark.parametrize("way", COPIES.values(), ids=COPIES.keys())
def test_habits_forecasts_and_outcomes_can_be_copied(
    way: Callable[[object], Any], batches: list[Batch]
) -> None:
    for habits in kitchens(batches):
        same_forecasts(habits, way(habits))
    card = shipped_recipes()["dilled-beans"]
    forecast = habits_from(batches).forecast(recipe=card, as_bought_g=3000.0)
    found = way(forecast)
    same_draws(forecast, found)
    assert found.brine_to_make() == forecast.brine_to_make()
    assert way(forecast.jars).median == forecast.jars.median


def changed(document: dict[str, Any], *path: Any, to: Any) -> dict[str, Any]:
    at = found = copy.deepcopy(document)
    for step in path[:-1]:
        at = at[step]
    at[path[-1]] = to
    return found


@pytest.mark.parametrize(
    ("path", "to", "says"),
    [
        (["format"], "jarcast starting beliefs", "is not a file of 'jarcast habits'"),
        (["version"], 3, "is version 3 of the format; this jarcast reads 2: update jarcast"),
        (["version"], 1, "is version 1 of the format; this jarcast reads 2: learn and save again"),
        (["habits"], [], "is damaged"),
        (["habits", "learned", "batches"], "6", "is damaged"),
        (["habits", "learned", "endings", "part_full"], "nan", "is damaged .nan"),
        (["habits", "learned", "endings"], {}, "is damaged .Endings has other fields"),
        (["habits", "learned", "blocks", 0, "links"], ["boil"], "is damaged"),
        (["habits", "learned", "blocks", 0, "components", 0, "mean", "shape"], [1], "is damaged"),
    ],
)  # fmt: skip
def test_a_file_that_is_no_file_of_habits_is_refused(
    path: list[Any], to: Any, says: str, habits: Habits, tmp_path: Path
) -> None:
    file = tmp_path / "habits.json"
    habits.save(file)
    file.write_text(json.dumps(changed(json.loads(file.read_text()), *path, to=to)))
    with pytest.raises(BeliefsError, match=says):
        load_habits(file)


def test_a_file_that_is_not_there_or_no_json_is_refused(tmp_path: Path) -> None:
    with pytest.raises(BeliefsError, match="cannot be read"):
        load_habits(tmp_path / "none.json")
    (tmp_path / "x.json").write_bytes(pickle.dumps({"format": "jarcast habits"}))
    with pytest.raises(BeliefsError, match="should be JSON text"):
        load_habits(tmp_path / "x.json")


def test_a_ledger_is_not_overwritten_and_a_wrong_path_is_told(
    habits: Habits, tmp_path: Path
) -> None:
    ledger = tmp_path / "ledger.sqlite3"
    ledger.write_bytes(b"SQLite format 3\0" + bytes(84))
    with pytest.raises(JarcastError, match="is a ledger"):
        habits.save(ledger)
    for ask in (habits.save, load_habits):
        with pytest.raises(JarcastError, match="3 is not the path of a file"):
            ask(3)  # type: ignore[arg-type]


# Shown in a notebook


def test_each_is_shown_in_a_line_and_in_a_small_table(habits: Habits) -> None:
    forecast = habits.forecast(**CARROTS)
    assert repr(habits) == "Habits(batches=6, produce=3)"
    assert repr(forecast).startswith("Forecast(carrot, sticks, raw; trimmed_g 2700: jars ")
    assert len(repr(forecast)) < 120
    for one in (habits, forecast, forecast.jars):
        assert one._repr_html_().count("<table") == 1
    kraut = habits.forecast(produce="sauerkraut", trimmed_g=3000)
    assert "brine" not in repr(kraut) + kraut._repr_html_()


def test_a_text_of_a_person_s_own_is_no_html(habits: Habits) -> None:
    assert "<b>" not in habits.forecast(produce="<b>odd", trimmed_g=900)._repr_html_()


def test_the_draws_of_a_forecast_stand_side_by_side_in_a_frame(habits: Habits) -> None:
    forecast = habits.forecast(**CARROTS)
    frame = forecast.to_frame()
    assert list(frame.columns) == ["jars", "brine_ml", "ready_g"]
    assert np.array_equal(frame["jars"], forecast.jars.draws)
    assert np.array_equal(frame["brine_ml"], forecast.brine_ml.draws)
    assert (frame["ready_g"] == 2700.0).all()
    mixed = habits.forecast(**{**CARROTS, "jar": "5 pint-wide, then quart"}).to_frame()
    assert np.allclose(mixed["jars_pint-wide"] + mixed["jars_quart"], mixed["jars"], rtol=1e-12)
    kraut = habits.forecast(produce="sauerkraut", trimmed_g=3000).to_frame()
    assert kraut["brine_ml"].isna().all()


def test_what_was_learned_is_a_tidy_frame(habits: Habits, beginner: Habits) -> None:
    frame = habits.to_frame()
    assert frame.shape == (3 * 4, 11)  # three crops, four quantities
    assert (frame["low"] < frame["median"]).all()
    assert (frame["median"] < frame["high"]).all()
    trim = frame.set_index(["produce", "quantity"]).loc[("carrot", "trim_yield")]
    # As bought is 1.25 times trimmed in all three, by construction: 0.8 stays.
    assert trim["median"] == pytest.approx(0.8, abs=0.02)
    assert trim["batches"] == 3
    assert trim["high"] - trim["low"] < trim["published_high"] - trim["published_low"]
    empty = beginner.to_frame()
    assert list(empty.columns) == list(frame.columns)
    assert isinstance(empty, pd.DataFrame)
    assert empty.empty


def test_an_outcome_alone_is_kept_too() -> None:
    assert pickled(Outcome(np.arange(3.0))).draws.tolist() == [0.0, 1.0, 2.0]
