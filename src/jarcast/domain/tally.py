"""What was put up, counted: jars by year, crop and sort, and how many of them sealed."""

import math
from collections.abc import Iterable, Mapping, Sequence

from msgspec import Struct

from jarcast.domain.batch import Batch, too_many_sealed
from jarcast.domain.names import cut_key, produce_key

Crop = tuple[str, str]  # keys of produce and cut, '' for a cut that was not written down


class Tally(Struct, frozen=True):
    """Batches counted together: how many, their jars by sort, and how many of those sealed.

    ``sealed`` of ``told`` jars sealed: those of batches that say so, a part-full one left out.
    Batches of which more sealed than there were jars tell nothing; they are ``left_out``.
    ``cost`` is what batches cost that say so, ``paid_jars`` their jars.
    """

    batches: int
    jars: Mapping[str, float]
    sealed: float
    told: float
    cost: float
    paid_jars: float
    left_out: int = 0

    @property
    def rate(self) -> float | None:
        """The share of jars that sealed; None where no batch tells."""
        return self.sealed / self.told if self.told else None

    @property
    def cost_a_jar(self) -> float | None:
        """What a jar cost, on average; None where no batch tells, or none has a jar."""
        return self.cost / self.paid_jars if self.paid_jars else None


def tally(batches: Sequence[Batch]) -> Tally:
    """Batches counted together."""
    sealed = told = cost = paid_jars = 0.0
    jars: dict[str, float] = {}
    for batch in batches:
        for sort, count in zip(batch.jar, batch.jars, strict=True):
            jars[sort] = jars.get(sort, 0.0) + count
        if batch.sealed is not None and not too_many_sealed(batch):
            full = math.fsum(math.floor(count) for count in batch.jars)
            told += max(full, batch.sealed)  # one filled to its part may have been processed too
            sealed += batch.sealed
        if batch.cost is not None:
            cost += batch.cost
            paid_jars += batch.total_jars
    sorts = {sort: n for sort, n in sorted(jars.items()) if n}
    left_out = sum(too_many_sealed(batch) for batch in batches)
    return Tally(len(batches), sorts, sealed, told, cost, paid_jars, left_out)


def by_year(batches: Iterable[Batch]) -> dict[int, dict[Crop, list[Batch]]]:
    """The batches of each year, by crop; years and crops in order."""
    found: dict[int, dict[Crop, list[Batch]]] = {}
    for batch in batches:
        crop = produce_key(batch.produce) or batch.produce, cut_key(batch.cut)
        found.setdefault(batch.date.year, {}).setdefault(crop, []).append(batch)
    return {year: dict(sorted(crops.items())) for year, crops in sorted(found.items())}
