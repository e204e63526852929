"""A track record again from the table of it that ``beside.hindsight`` gives."""

import datetime as dt
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

import numpy as np

from jarcast.errors import ForecastError
from jarcast.forecast.outcome import Outcome
from jarcast.trackrecord.beside import COLUMNS
from jarcast.trackrecord.hindsight import Scored, TrackRecord, groups_of
from jarcast.trackrecord.scoring import Mark
from jarcast.trackrecord.stored import StoredForecast

if TYPE_CHECKING:
    import pandas as pd

_OWN = "jarcast"
# Where low, median and high stand among eleven draws in order: quantiles 0.1, 0.5 and 0.9.
_DRAWS, _KNOWN = np.arange(11.0), (1.0, 5.0, 9.0)

Row = Mapping[Any, Any]


def record_from_table(table: "pd.DataFrame") -> TrackRecord:
    """The forecasts of one forecaster in the table, scored: jarcast's own where they are there.

    Of each outcome its middle and its 8-in-10 range are known again, and not in which jars. Raises
    ForecastError for what is no such table, and one without rows of 'jars'.
    """
    missing = [name for name in COLUMNS if name not in table.columns]
    if missing:
        raise ForecastError(
            f"the column '{missing[0]}' is missing; give the table of jarcast.hindsight, with all "
            "its columns"
        )
    rows = table.to_dict("records")
    names = list(dict.fromkeys(row["forecaster"] for row in rows))
    who = _OWN if _OWN in names else names[0] if names else ""
    found: dict[tuple[str, str], dict[str, Row]] = {}
    for row in rows:
        if row["forecaster"] == who:
            found.setdefault((row["batch"], row["stage"]), {})[row["outcome"]] = row
    scored = [_scored(both) for both in found.values() if "jars" in both]
    if found and not scored:
        raise ForecastError("the rows with outcome 'jars' are missing; leave them in the table")
    return TrackRecord(tuple(scored), (), (), groups_of(scored))


def _scored(both: Mapping[str, Row]) -> Scored:
    jars, brine = both["jars"], both.get("brine_ml")
    stored = StoredForecast(
        batch=jars["batch"], produce=jars["produce"], cut=jars["cut"], pack="", turns=(),
        stage=jars["stage"], grams=0.0, cure_hours=None, salt_g=None,
        own_batches=jars["own_batches"], jars=_outcome(jars),
        brine_ml=None if brine is None else _outcome(brine),
    )  # fmt: skip
    date = jars["date"]
    if isinstance(date, dt.datetime):  # pandas' own are, NaT too
        date = None if date != date else date.date()
    return Scored(stored, _mark(jars), None if brine is None else _mark(brine), date)


def _outcome(row: Row) -> Outcome:
    return Outcome(np.interp(_DRAWS, _KNOWN, [row["low"], row["median"], row["high"]]))


def _mark(row: Row) -> Mark:
    held = tuple(bool(row[name]) for name in ("held_50", "held_80", "held_90"))
    return Mark(
        row["was"], bool(row["at_least"]), held, bool(row["short"]), row["miss"], row["crps"], None
    )
