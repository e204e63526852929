"""The brine link: what brine teaches of itself, and of ready weights nobody wrote down."""

import math
from collections.abc import Sequence

from msgspec.structs import replace

from jarcast.domain.batch import Batch
from jarcast.domain.names import makes_its_own_brine
from jarcast.domain.stages import Link
from jarcast.learning.model.beliefs import People
from jarcast.learning.model.circumstances import (
    Circumstances,
    cell_name,
    ready_column,
    ready_weight,
)
from jarcast.learning.model.effects import brine_loadings
from jarcast.learning.model.row import Row, Scale
from jarcast.learning.model.weight_rows import scale_variance

POT_ML = 17.0  # sd of a reading to the quarter cup: 59 ml / sqrt(12)
SPACE_SHARE = 0.015  # trapped air, wet produce: sd of brine in proportion to the space left
SLIP_BRINE = 0.35  # a slip moves the brine by about this share of the fill volume


def brine_used(batch: Batch, case: Circumstances) -> float | None:
    """Brine used in ml; None where it was not written down, or the produce makes its own."""
    if makes_its_own_brine(case.situation.produce, case.situation.cut):
        return None
    return batch.brine_used_ml


def brine_rows(
    batches: Sequence[Batch],
    cases: Sequence[Circumstances],
    people: People,
) -> list[Row]:
    """Rows of the brine link, from batches with a ready weight and with brine made and left.

    ``cases`` are the batches' circumstances. The noise is that of the usual pot loss; see
    ``with_loss``.
    """
    rows = []
    for time, (batch, case) in enumerate(zip(batches, cases, strict=True)):
        used, ready = brine_used(batch, case), ready_weight(batch, case)
        if used is None or ready is None or Link.BRINE in case.barred:
            continue
        own = ready / case.situation.crop.tissue.centre
        noise = brine_noise(case.volume_ml - own, people.loss_ml, people)
        rows.append(
            Row(
                batch=batch.batch,
                time=time,
                target=case.volume_ml - used - own + people.loss_ml,
                loadings=brine_loadings(ready, case.situation, people),
                shares={Link.BRINE: noise},
                reading=case.volume_sd_ml**2 + 2 * POT_ML**2 + ready**2 * scale_variance(ready),
                slip=(SLIP_BRINE * case.volume_ml) ** 2,
                columns=("brine_made_ml", "brine_left_ml", ready_column(case), "jars"),
                cell=cell_name(case.situation),
                scale=Scale.ML,
                amount=used,
                ceiling=batch.brine_left_ml == 0,
                sure=not batch.confirmed.isdisjoint({"brine_made_ml", "brine_left_ml"}),
            )
        )
    return rows


def with_loss(rows: Sequence[Row], loss_ml: float, people: People) -> list[Row]:
    """The same rows, with the noise that belongs to this pot loss (ml)."""
    found = []
    for row in rows:
        space_ml = row.target + row.amount - people.loss_ml  # the target is this less what was used
        found.append(replace(row, shares={Link.BRINE: brine_noise(space_ml, loss_ml, people)}))
    return found


def brine_noise(space_ml: float, loss_ml: float, people: People) -> float:
    """Sd in ml of one batch's brine, from the space its produce leaves and the pot loss."""
    return math.hypot(people.loss_between_batches * loss_ml, SPACE_SHARE * max(space_ml, 0.0))


def ready_from_brine(
    batches: Sequence[Batch],
    cases: Sequence[Circumstances],
    people: People,
    loss: tuple[float, float],
) -> dict[int, tuple[float, float]]:
    """Ready weights that nobody wrote down, read off the brine: batch -> (grams, relative sd).

    ``loss`` is the expected pot loss and its sd in ml. Brine that ran out says too little.
    """
    found = {}
    for time, (batch, case) in enumerate(zip(batches, cases, strict=True)):
        used = brine_used(batch, case)
        if used is None or not batch.brine_left_ml or ready_weight(batch, case) is not None:
            continue
        if Link.BRINE in case.barred:
            continue
        crop = case.situation.crop
        own = case.volume_ml + loss[0] - used
        if not 0.15 * case.volume_ml < own < case.volume_ml:
            continue
        noise = brine_noise(case.volume_ml - own, loss[0], people)
        sd = math.hypot(noise, case.volume_sd_ml, math.sqrt(2.0) * POT_ML, loss[1])
        relative = math.hypot(sd / own, crop.tissue.spread)
        found[time] = (own * crop.tissue.centre, relative)
    return found
