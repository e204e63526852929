"""Which batches are learned from: of a crop the latest, however long the ledger.

The mean of 400 batches is known twenty times as well as one batch is, and hands change: of 1,600
simulated batches of one crop, the latest 400 gave a range of jars 2 % wider than all of them. No
household comes to so many of one crop in ten years.
"""

from collections import Counter
from collections.abc import Iterable
from operator import attrgetter

from jarcast.domain.batch import Batch
from jarcast.domain.names import cut_key, pack_key, person_key, produce_key

MOST = 400  # batches of one produce x cut x pack by one person

_said = attrgetter("produce", "cut", "pack", "person")


def learned_from(batches: Iterable[Batch]) -> list[Batch]:
    """The batches by date, those of one day as they come; of a crop by one person the latest."""
    ordered = sorted(batches, key=attrgetter("date"))
    if len(ordered) <= MOST:
        return ordered
    keys = {
        said: (produce_key(said[0]), cut_key(said[1]), pack_key(said[2]), person_key(said[3]))
        for said in map(_said, ordered)
    }
    met: Counter[tuple[str, ...]] = Counter()
    found = []
    for batch in reversed(ordered):
        crop = keys[_said(batch)]
        met[crop] += 1
        if met[crop] <= MOST:
            found.append(batch)
    return found[::-1]
