"""The brine link: what brine teaches of itself, and of ready weights nobody wrote down."""

import math
from collections.abc import Sequence

import numpy as np

from jarcast.domain.batch import Batch
from jarcast.domain.names import makes_its_own_brine
from jarcast.domain.stages import Link
from jarcast.learning.arrays import Array
from jarcast.learning.model.beliefs import People
from jarcast.learning.model.circumstances import (
    Circumstances,
    cell_name,
    ready_column,
    ready_weight,
)
from jarcast.learning.model.effects import POT_LOSS, brine_loadings, loss_factor
from jarcast.learning.model.endings import CASES, LEFT_PART_FULL, Cases
from jarcast.learning.model.row import Row, RowCases, Scale
from jarcast.learning.model.scales import Instruments
from jarcast.learning.model.weight_rows import reading_variance

SPACE_SHARE = 0.015  # trapped air, wet produce: sd of brine in proportion to the space left
_FITS = np.zeros(CASES)  # in any case brine fits what was read
SLIP_BRINE = 0.35  # a slip moves the brine by about this share of the fill volume


def brine_used(batch: Batch, case: Circumstances) -> float | None:
    """Brine used in ml; None where it was not recorded, or the produce makes its own."""
    if makes_its_own_brine(case.situation.produce, case.situation.cut):
        return None
    return batch.brine_used_ml


def brine_rows(
    batches: Sequence[Batch],
    cases: Sequence[Circumstances],
    people: People,
    endings: Cases,
    instruments: Instruments,
) -> list[Row]:
    """Rows of the brine link, from batches with a ready weight and with brine made and left.

    ``cases`` are the batches' circumstances, ``endings`` how each may have ended,
    ``instruments`` how finely it was read. The noise is that of the usual pot loss; see
    ``noise_by_loss``.
    """
    rows = []
    gone = 1.0 - endings.share  # what is not in the jars takes no room there
    gone_variance = endings.share**2 * endings.share_spread
    for time, (batch, case) in enumerate(zip(batches, cases, strict=True)):
        used, ready = brine_used(batch, case), ready_weight(batch, case)
        if used is None or ready is None or Link.BRINE in case.barred:
            continue
        own = ready / case.situation.crop.tissue.centre
        lost = people.loss_ml * loss_factor(case.volume_ml)
        noise = brine_noise(case.volume_ml - own, lost, people)
        rows.append(
            Row(
                batch=batch.batch,
                time=time,
                target=case.volume_ml - used - own + lost,
                loadings=brine_loadings(ready, case.situation, people, case.volume_ml),
                shares={Link.BRINE: noise},
                reading=pot_variance(time, instruments)
                + ready**2 * reading_variance(batch, time, ready_column(case), ready, instruments),
                slip=(SLIP_BRINE * case.volume_ml) ** 2,
                columns=("brine_made_ml", "brine_left_ml", ready_column(case), "jars"),
                cell=cell_name(case.situation),
                scale=Scale.ML,
                amount=used,
                ceiling=batch.brine_left_ml == 0,
                sure=not batch.confirmed.isdisjoint({"brine_made_ml", "brine_left_ml"}),
                cases=_ended(own * gone[time], own**2 * gone_variance[time], case.counting_sd_ml),
            )
        )
    return rows


def pot_variance(time: int, instruments: Instruments) -> float:
    """Variance in ml squared of the brine used, from reading what was made and what was left."""
    return instruments.of(time, "brine_made_ml") + instruments.of(time, "brine_left_ml")


def _ended(room_ml: Array, variance: Array, counting_sd_ml: float) -> RowCases:
    """The room that is freed in each case; a part-full jar was counted to its step."""
    variance[LEFT_PART_FULL] = counting_sd_ml**2  # the first case, and the only one of its kind
    return RowCases(room_ml, variance, _FITS)


def noise_by_loss(rows: Sequence[Row], loss_ml: float, people: People) -> Array:
    """The rows' noise (n,) that belongs to this pot loss of the usual batch: sds in ml."""
    usual = np.array([-row.loadings[POT_LOSS] for row in rows]) / people.loss_between_people
    # A row's target is the space its produce leaves and the usual loss, less what was used.
    space = np.array([row.target + row.amount for row in rows]) - usual
    between = people.loss_between_batches * loss_ml / people.loss_ml
    return np.hypot(between * usual, SPACE_SHARE * np.maximum(space, 0.0))


def brine_noise(space_ml: float, loss_ml: float, people: People) -> float:
    """Sd in ml of one batch's brine, from the space its produce leaves and the pot loss."""
    return math.hypot(people.loss_between_batches * loss_ml, SPACE_SHARE * max(space_ml, 0.0))


def ready_from_brine(
    batches: Sequence[Batch],
    cases: Sequence[Circumstances],
    people: People,
    loss: tuple[float, float],
    instruments: Instruments,
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
        times = loss_factor(case.volume_ml)
        lost, lost_sd = loss[0] * times, loss[1] * times
        own = case.volume_ml + lost - used
        if not 0.15 * case.volume_ml < own < case.volume_ml:
            continue
        noise = brine_noise(case.volume_ml - own, lost, people)
        pot = math.sqrt(pot_variance(time, instruments))
        sd = math.hypot(noise, case.counting_sd_ml, pot, lost_sd)
        relative = math.hypot(sd / own, crop.tissue.spread)
        found[time] = (own * crop.tissue.centre, relative)
    return found
