"""Forecasts that were kept: into the ledger, and out of it for looking back."""

from jarcast.batch import text_problem
from jarcast.errors import ForecastError
from jarcast.forecasting.habits import Forecast
from jarcast.forecasting.hindsight import Kept, TrackRecord, score_kept
from jarcast.forecasting.past import (
    answer_document,
    known_document,
    past_from,
    past_from_documents,
)
from jarcast.forecasting.replay import Entered
from jarcast.ledger import Ledger


def keep(ledger: Ledger, name: str, forecast: Forecast) -> bool:
    """Keep a forecast for a batch to come; False if the very same was kept before.

    Raises ForecastError for a name that no batch can have, BatchError for one that is already
    written down, and LedgerError.
    """
    name = name.strip()
    problem = "is empty" if not name else text_problem(name)
    if problem:
        raise ForecastError(
            f"--keep: the name {problem}; give the one that the batch will be written down by"
        )
    past = past_from(name, forecast)
    return ledger.keep_forecast(name, known_document(past), answer_document(past))


def entered(ledger: Ledger) -> list[Entered]:
    """Every version of every batch, in the order they were entered."""
    return [Entered(reading.entry.batch, reading.action) for reading in ledger.readings()]


def kept(ledger: Ledger, name: str | None = None) -> list[Kept]:
    """Forecasts that were kept, for one batch or for all, oldest first.

    Raises ForecastError for one of a newer form.
    """
    return [
        Kept(past_from_documents(one.batch, one.known, one.answer), one.action)
        for one in ledger.kept_forecasts(name)
    ]


def how_it_did(ledger: Ledger, name: str) -> TrackRecord:
    """The record of the forecasts kept for one batch; an empty one where there are none."""
    return score_kept(entered(ledger), kept(ledger, name))
