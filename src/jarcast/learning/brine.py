"""The brine arrow: what brine teaches, of itself and of ready weights nobody wrote down."""

import math
from collections.abc import Sequence

from msgspec.structs import replace

from jarcast.batch import Arrow, Batch
from jarcast.kinds import makes_its_own_brine
from jarcast.learning.arrows import brine_loadings
from jarcast.learning.beliefs import People
from jarcast.learning.block import Row, Scale
from jarcast.learning.circumstances import Told, cell_name, ready_weight
from jarcast.learning.rows import scale_variance

POT_ML = 17.0  # sd of a reading to the quarter cup: 59 ml / sqrt(12)
SPACE_SHARE = 0.015  # trapped air, wet produce: sd of brine in proportion to the space left
SLIP_BRINE = 0.35  # a slip moves the brine by about this share of the fill volume


def brine_used(batch: Batch, tell: Told) -> float | None:
    """Brine used, where it tells of the brine arrow: relishes and ferments make their own."""
    if makes_its_own_brine(tell.situation.produce, tell.situation.cut):
        return None
    return batch.brine_used_ml


def ready_column(batch: Batch, tell: Told) -> str:
    """Where the ready weight of a batch stands."""
    if tell.hot:
        return "cooked_g"
    return "cured_g" if batch.cured_g is not None else "trimmed_g"


def brine_rows(
    batches: Sequence[Batch],
    tellings: Sequence[Told],
    people: People,
) -> list[Row]:
    """Rows of the brine arrow: batches with a ready weight and brine made and left.

    Their noise is that of the usual pot loss; see ``with_loss``.
    """
    rows = []
    for time, (batch, tell) in enumerate(zip(batches, tellings, strict=True)):
        used, ready = brine_used(batch, tell), ready_weight(batch, tell)
        if used is None or ready is None or Arrow.BRINE in tell.barred:
            continue
        own = ready / tell.situation.crop.tissue.centre
        target = tell.volume_ml - used - own + people.loss_ml
        rows.append(
            Row(
                batch=batch.batch,
                time=time,
                target=target,
                loadings=brine_loadings(ready, tell.situation, people),
                shares={Arrow.BRINE: brine_noise(tell.volume_ml - own, people.loss_ml, people)},
                reading=tell.volume_sd_ml**2 + 2 * POT_ML**2 + ready**2 * scale_variance(ready),
                slip=(SLIP_BRINE * tell.volume_ml) ** 2,
                columns=("brine_made_ml", "brine_left_ml", ready_column(batch, tell), "jars"),
                cell=cell_name(tell.situation),
                scale=Scale.ML,
                amount=used,
                ceiling=batch.brine_left_ml == 0,
                sure=not batch.confirmed.isdisjoint({"brine_made_ml", "brine_left_ml"}),
            )
        )
    return rows


def with_loss(rows: Sequence[Row], loss_ml: float, people: People) -> list[Row]:
    """The same rows with the noise that goes with this pot loss."""
    found = []
    for row in rows:
        space_ml = row.target + row.amount - people.loss_ml  # the target is what it leaves over
        found.append(replace(row, shares={Arrow.BRINE: brine_noise(space_ml, loss_ml, people)}))
    return found


def brine_noise(space_ml: float, loss_ml: float, people: People) -> float:
    """Sd in ml of one batch's brine, for its space left by the produce and the pot loss."""
    return math.hypot(people.loss_between_batches * loss_ml, SPACE_SHARE * max(space_ml, 0.0))


def ready_told_by_brine(
    batches: Sequence[Batch],
    tellings: Sequence[Told],
    people: People,
    loss: tuple[float, float],
) -> dict[int, tuple[float, float]]:
    """What brine says of the ready weights nobody wrote down: batch -> (grams, relative sd).

    ``loss`` is the pot loss expected and its sd. Brine that ran out says too little to be used.
    """
    found = {}
    for time, (batch, tell) in enumerate(zip(batches, tellings, strict=True)):
        used = brine_used(batch, tell)
        if used is None or not batch.brine_left_ml or ready_weight(batch, tell) is not None:
            continue
        if Arrow.BRINE in tell.barred:
            continue
        crop = tell.situation.crop
        own = tell.volume_ml + loss[0] - used
        if not 0.15 * tell.volume_ml < own < tell.volume_ml:
            continue
        noise = brine_noise(tell.volume_ml - own, loss[0], people)
        sd = math.hypot(noise, tell.volume_sd_ml, math.sqrt(2.0) * POT_ML, loss[1])
        relative = math.hypot(sd / own, crop.tissue.spread)
        found[time] = (own * crop.tissue.centre, relative)
    return found
