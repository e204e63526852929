"""Forecasts that were kept, to be scored when their batch is recorded."""

import datetime as dt
from collections.abc import Mapping
from typing import Any

from msgspec import Struct

from jarcast.errors import BatchError
from jarcast.ledger.backups import legible
from jarcast.ledger.cells import from_json, to_json
from jarcast.ledger.schema import STANDS
from jarcast.ledger.store import Ledger


class KeptForecast(Struct, frozen=True):
    """A forecast kept for a batch: what was known, what was answered, when (UTC), by which jarcast.

    ``action`` stands in the same order as those of the readings.
    """

    batch: str
    known: Mapping[str, Any]
    answer: Mapping[str, Any]
    at: dt.datetime
    version: str
    action: int


def kept_forecasts(ledger: Ledger, name: str | None = None) -> list[KeptForecast]:
    """Forecasts that were kept, for one batch or for all, oldest first."""
    rows = ledger.rows(
        "SELECT f.batch, f.known, f.answer, action.at, action.version, action.id "
        "FROM forecast AS f JOIN action ON action.id = f.action_id "
        f"WHERE f.batch = coalesce(?, f.batch) AND {STANDS} ORDER BY f.id",
        name,
    )
    with legible(ledger.path, "a forecast kept in it"):
        return [
            KeptForecast(
                batch, from_json(known), from_json(answer), dt.datetime.fromisoformat(at),
                version, action,
            )
            for batch, known, answer, at, version, action in rows
        ]  # fmt: skip


def keep_forecast(
    ledger: Ledger, batch: str, known: Mapping[str, Any], answer: Mapping[str, Any]
) -> bool:
    """Keep a forecast for the batch of this name.

    ``known`` and ``answer`` are kept as JSON, numbers exactly. Gives whether anything was
    written: the same forecast twice is kept once. Raises BatchError for a batch that is
    already there, since that would be hindsight, and LedgerError.
    """
    cells = [to_json(known), to_json(answer)]
    with ledger.writing("forecast") as action:
        if ledger.find(batch) is not None:
            raise BatchError(
                f"batch '{batch}' is already in the ledger, so a forecast for it now would be "
                "hindsight; keep one under the next batch's name"
            )
        last = ledger.rows(
            f"SELECT known, answer FROM forecast WHERE batch = ? AND {STANDS} "
            "ORDER BY id DESC LIMIT 1",
            batch,
        )
        if last and list(last[0]) == cells:
            return False
        ledger.execute(
            "INSERT INTO forecast (action_id, batch, known, answer) VALUES (?, ?, ?, ?)",
            action,
            batch,
            *cells,
        )
        return True
