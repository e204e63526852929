"""What was put up, counted: jars by year, crop and sort, and how many of them sealed."""

import math
from collections.abc import Iterable, Mapping, Sequence

from msgspec import Struct

from jarcast.domain.batch import Batch
from jarcast.domain.names import cut_key, produce_key

Crop = tuple[str, str]  # keys of produce and cut, '' for a cut that was not written down


class Tally(Struct, frozen=True):
    """Batches counted together: how many, their jars by sort, and how many of those sealed.

    ``sealed`` of ``told`` jars sealed: those of batches that say so, a part-full one left out.
    """

    batches: int
    jars: Mapping[str, float]
    sealed: float
    told: float

    @property
    def rate(self) -> float | None:
        """The share of jars that sealed; None where no batch tells."""
        return self.sealed / self.told if self.told else None


def tally(batches: Sequence[Batch]) -> Tally:
    """Batches counted together."""
    sealed = told = 0.0
    jars: dict[str, float] = {}
    for batch in batches:
        for sort, count in zip(batch.jar, batch.jars, strict=True):
            jars[sort] = jars.get(sort, 0.0) + count
        if batch.sealed is not None:
            full = math.fsum(math.floor(count) for count in batch.jars)
            told += max(full, batch.sealed)  # one filled to its part may have been processed too
            sealed += batch.sealed
    return Tally(len(batches), {sort: n for sort, n in sorted(jars.items()) if n}, sealed, told)


def by_year(batches: Iterable[Batch]) -> dict[int, dict[Crop, list[Batch]]]:
    """The batches of each year, by crop; years and crops in order."""
    found: dict[int, dict[Crop, list[Batch]]] = {}
    for batch in batches:
        crop = produce_key(batch.produce) or batch.produce, cut_key(batch.cut)
        found.setdefault(batch.date.year, {}).setdefault(crop, []).append(batch)
    return {year: dict(sorted(crops.items())) for year, crops in sorted(found.items())}
