"""Batches that come in and say the very same as another one: these may be one batch, kept twice.

Two batches of one day may well be alike, so none is left out: it is told.
"""

from collections.abc import Hashable, Iterable, Mapping, Sequence

from jarcast.domain.batch import Batch
from jarcast.domain.fields import NUMBERS
from jarcast.domain.names import person_key
from jarcast.ledger.entry import Entry

_SAME = "the same day, crop, jars and measures"
_FEW = 3  # told one by one


def repeated_among(entries: Sequence[tuple[str, Entry]]) -> list[tuple[str, str]]:
    """What is told of batches that are alike among those that come in, by place."""
    told: list[tuple[str, str]] = []
    seen: dict[Hashable, list[tuple[str, Batch]]] = {}
    for place, entry in entries:
        alike = seen.setdefault(_said(entry.batch), [])
        if other := next((at for at, one in alike if _of_one_person(one, entry.batch)), ""):
            where = _beside(other, place)
            told.append((place, f"{_SAME} as in {where}; if they are one batch, leave one out"))
        alike.append((place, entry.batch))
    return told


def repeated_in(
    entries: Sequence[tuple[str, Entry]], ledger: Iterable[Batch]
) -> list[tuple[str, str]]:
    """What is told of batches that stand in the ledger under another name.

    Of many in one file or sheet it is told once.
    """
    names: set[str] = set()
    there: dict[Hashable, list[Batch]] = {}
    for batch in ledger:
        names.add(batch.batch)
        there.setdefault(_said(batch), []).append(batch)
    found: dict[str, list[tuple[str, str]]] = {}
    for place, entry in entries:
        if entry.batch.batch not in names and (own := _alike(entry.batch, there)):
            found.setdefault(place.rpartition(", ")[0] or place, []).append((place, own))
    told: list[tuple[str, str]] = []
    for file, ones in found.items():
        if len(ones) <= _FEW:
            told += (
                (place, f"'{own}' in the ledger has {_SAME}; if it is this one, leave the row out")
                for place, own in ones
            )
            continue
        first = f"'{ones[0][1]}' and others"
        told.append(
            (
                file,
                f"{len(ones)} batches have {_SAME} as some in the ledger, {first}; if it came in "
                "before under another name, they would be there twice",
            )
        )
    return told


def _alike(batch: Batch, there: Mapping[Hashable, Sequence[Batch]]) -> str:
    alike = there.get(_said(batch), ())
    return next((one.batch for one in alike if _of_one_person(one, batch)), "")


def _said(batch: Batch) -> Hashable:
    """The day, the crop, the jars and every measure of a batch."""
    filled = tuple(sorted(zip(batch.jar, batch.jars, strict=True)))
    numbers = tuple(getattr(batch, column) for column in NUMBERS)
    return batch.date, batch.produce, batch.cut, batch.pack, filled, numbers


def _of_one_person(one: Batch, other: Batch) -> bool:
    """Whether two batches may be of one person: where either names nobody, they may."""
    return not (one.person and other.person) or person_key(one.person) == person_key(other.person)


def _beside(other: str, place: str) -> str:
    """A place, said from another: only its row where it is in the same file or sheet."""
    file, _, row = other.rpartition(", ")
    return row if place.rpartition(", ")[0] == file else other
