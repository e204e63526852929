"""Which batches are learned from: of a crop the latest, however long the ledger.

The mean of 400 batches is known twenty times as well as one batch is, and hands change: of 1,600
simulated batches of one crop, the latest 400 gave a range of jars 2 % wider than all of them. No
household comes to so many of one crop in ten years.
"""

import datetime as dt
from collections.abc import Iterable
from itertools import chain
from operator import attrgetter

from jarcast.domain.batch import Batch
from jarcast.domain.names import cut_key, pack_key, person_key, produce_key

MOST = 400  # batches of one produce x cut x pack by one person

Placed = tuple[dt.date, int, Batch]  # with its place among all, which is another's never
_said = attrgetter("produce", "cut", "pack", "person")


def crop_key(batch: Batch) -> tuple[str, ...]:
    """What counts as one crop: produce, cut and pack, by one person."""
    produce, cut, pack, person = _said(batch)
    return produce_key(produce), cut_key(cut), pack_key(pack), person_key(person)


def learned_from(batches: Iterable[Batch]) -> list[Batch]:
    """The batches by date, those of one day as they come; of a crop by one person the latest."""
    by_saying: dict[tuple[str, ...], list[Placed]] = {}  # the same list for what is one crop
    by_crop: dict[tuple[str, ...], list[Placed]] = {}
    for place, batch in enumerate(batches):
        said = _said(batch)
        if (own := by_saying.get(said)) is None:
            own = by_saying[said] = by_crop.setdefault(crop_key(batch), [])
        own.append((batch.date, place, batch))
        if len(own) == 2 * MOST:  # so that no more are ever held
            own[:] = sorted(own)[MOST:]
    latest = chain.from_iterable(sorted(own)[-MOST:] for own in by_crop.values())
    return [batch for _, _, batch in sorted(latest)]
