"""Forecasts that were kept: into the ledger, and out of it for looking back."""

from jarcast.domain.batch import Batch, text_problem
from jarcast.errors import ForecastError
from jarcast.forecast.answer import Forecast
from jarcast.ledger import Ledger, Reading
from jarcast.ledger.annotations import Annotation, AnnotationKind, annotations, stood_by, withdrawn
from jarcast.ledger.kept_forecasts import keep_forecast, kept_forecasts
from jarcast.ledger.own_measures import shelf
from jarcast.trackrecord.hindsight import Kept, TrackRecord, score_kept
from jarcast.trackrecord.replay import Entered
from jarcast.trackrecord.stored import (
    answer_document,
    known_document,
    stored_from,
    stored_from_documents,
)


def keep(ledger: Ledger, name: str, forecast: Forecast) -> bool:
    """Keep a forecast for a batch to come; False if the very same was kept before.

    Raises ForecastError for a name that no batch can have, BatchError for one that is already
    recorded, and LedgerError.
    """
    name = name.strip()
    problem = "is empty" if not name else text_problem(name)
    if problem:
        raise ForecastError(
            f"--keep: the name {problem}; give the one that the batch will be recorded by"
        )
    stored = stored_from(name, forecast)
    return keep_forecast(ledger, name, known_document(stored), answer_document(stored))


def entered(ledger: Ledger) -> list[Entered]:
    """Every version of every batch, in the order they were entered.

    A value that is confirmed, a batch withdrawn or taken back in, makes a version of its own.
    """
    said: list[Reading | Annotation] = [*ledger.readings(), *annotations(ledger)]
    said.sort(key=lambda one: one.action)
    stood: dict[str, Batch] = {}
    heard: dict[str, list[Annotation]] = {}
    found = []
    for one in said:
        if isinstance(one, Annotation):
            if one.batch not in stood:  # its entry was taken back
                continue
            batch = stood[one.batch]
            heard.setdefault(one.batch, []).append(one)
        else:
            batch = one.entry.batch
        batch = stood_by(batch, heard.get(batch.batch, ()))
        stood[batch.batch] = batch
        out = isinstance(one, Annotation) and one.kind is AnnotationKind.WITHDRAW
        found.append(Entered(batch, one.action, out))
    return found


def kept(ledger: Ledger, name: str | None = None) -> list[Kept]:
    """Forecasts that were kept, for one batch or for all, oldest first; none of withdrawn batches.

    Raises ForecastError for one of a newer form.
    """
    out = set(withdrawn(ledger))
    return [
        Kept(stored_from_documents(one.batch, one.known, one.answer), one.action)
        for one in kept_forecasts(ledger, name)
        if one.batch not in out
    ]


def how_it_did(ledger: Ledger, name: str) -> TrackRecord:
    """The record of the forecasts kept for one batch; an empty one where there are none."""
    return score_kept(entered(ledger), kept(ledger, name), shelf(ledger))
