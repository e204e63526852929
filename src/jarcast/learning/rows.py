"""From batches to the rows that teach each arrow.

Two weights written down one after the other give a row: the logarithm of their ratio is the sum of
the arrows between them. Where a weight in between is missing, the row spans several arrows and is
shared out by the regression. The fill volume of the jars stands at the end of the chain.
"""

import math
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from jarcast.batch import Arrow, Batch, contradictions
from jarcast.kinds import Jar, cut_key, pack_key, produce_key
from jarcast.learning.arrows import (
    Loadings,
    Situation,
    brine_loadings,
    centre,
    cure_strength,
    density_limit,
    loadings,
    logit,
    unlimited,
)
from jarcast.learning.beliefs import Beliefs, People
from jarcast.learning.block import Row, Scale

SCALE_G = 5.0  # a kitchen scale's step and what clings to the bowl, sd in grams
SCALE_SHARE = 0.004  # and its error in proportion; common practice, no source
POT_ML = 17.0  # sd of a reading to the quarter cup: 59 ml / sqrt(12)
SPACE_SHARE = 0.015  # trapped air, wet produce: sd of brine in proportion to the space left
SLIP_LOG = 1.0  # a slip moves a logarithm by about this much (a factor of 2.7)
SLIP_LOGIT = 4.0
SLIP_BRINE = 0.35  # and the brine by this share of the fill volume
_LEAST_CURE_CHANCE = 0.1  # below it a batch with nothing said of a cure is taken as uncured


@dataclass(frozen=True, slots=True)
class Told:
    """What a batch says of itself beyond its weights.

    ``cured`` is the chance that it was cured: 0 or 1 where it says so.
    """

    situation: Situation
    cured: float
    hot: bool
    volume_ml: float
    volume_sd_ml: float


@dataclass(frozen=True, slots=True)
class Habit:
    """How this person usually does a crop, for what was not written down."""

    cured: Mapping[str, tuple[float, float]]  # produce/cut -> (cured, said) batches
    cure_hours: float | None
    jar_step: float  # the least part of a jar that is ever written

    def cure_chance(self, produce: str, cut: str, believed: float) -> float:
        """Chance that a batch of this crop is cured when it does not say."""
        cured, said = self.cured.get(f"{produce}/{cut}", (0.0, 0.0))
        return (2.0 * believed + cured) / (2.0 + said)


def usual_ways(batches: Sequence[Batch]) -> Habit:
    """What the batches say of how this person usually works."""
    cured: Counter[str] = Counter()
    said: Counter[str] = Counter()
    hours = []
    for batch in batches:
        answer = was_cured(batch)
        if answer is None:
            continue
        key = f"{produce_key(batch.produce)}/{cut_key(batch.cut)}"
        said[key] += 1
        cured[key] += answer
        if batch.cure_hours:
            hours.append(batch.cure_hours)
    usual = sorted(hours)[len(hours) // 2] if hours else None
    return Habit(
        {key: (float(cured[key]), float(said[key])) for key in said}, usual, jar_step(batches)
    )


def was_cured(batch: Batch) -> bool | None:
    """Whether a batch was cured, where it says so."""
    if batch.cured_g is not None or batch.salt_g or batch.cure_hours:
        return True
    if batch.cure_hours == 0 or batch.salt_g == 0:
        return False
    return None


def jar_step(batches: Sequence[Batch]) -> float:
    """The step to which jars are counted: what all counts are multiples of.

    Halves until at least eight batches show whole jars only.
    """
    counts = [count for batch in batches for count in batch.jars]
    if len(batches) >= 8 and all(count == round(count) for count in counts):
        return 1.0
    for step in (0.5, 0.25, 0.125):
        if sum(abs(c / step - round(c / step)) > 1e-6 for c in counts) <= 0.1 * len(counts):
            return step
    return 0.05


def told(batch: Batch, beliefs: Beliefs, shelf: Mapping[str, Jar], habit: Habit) -> Told:
    """Read a batch's own circumstances."""
    produce, cut, pack = produce_key(batch.produce), cut_key(batch.cut), pack_key(batch.pack)
    crop = beliefs.crop(produce, cut, pack)
    answer = was_cured(batch)
    cured = habit.cure_chance(produce, cut, crop.cured) if answer is None else float(answer)
    volume = batch.fill_volume_ml(shelf)
    wide = sum(n for key, n in zip(batch.jar, batch.jars, strict=True) if shelf[key].wide)
    step_ml = habit.jar_step * volume / batch.total_jars
    share = batch.salt_g / batch.trimmed_g if batch.salt_g and batch.trimmed_g else None
    situation = Situation(
        crop=crop,
        produce=produce,
        cut=cut,
        pack=pack,
        cure=cure_strength(batch.cure_hours, habit.cure_hours or 12.0),
        salt_share=share,
        fill_ml=volume / batch.total_jars,
        wide=wide / batch.total_jars,
    )
    hot = batch.cooked_g is not None or pack == "hot"
    tell = Told(situation, cured, hot, volume, step_ml / math.sqrt(12.0))
    ready = ready_weight(batch, tell) or volume * crop.density.centre
    return replace(tell, situation=replace(situation, ready_g=ready))


def weight_rows(
    batches: Sequence[Batch],
    tellings: Sequence[Told],
    people: People,
    ready_from_brine: Mapping[int, tuple[float, float]],
    shelf: Mapping[str, Jar],
) -> list[Row]:
    """Rows of the trim, cure, cook and pack arrows.

    ``ready_from_brine`` holds, for batches whose ready weight was not written down, what their
    brine says of it: grams and their relative sd.
    """
    rows: list[Row] = []
    for time, (batch, tell) in enumerate(zip(batches, tellings, strict=True)):
        barred = {arrow for flag in contradictions(batch, shelf) for arrow in flag.arrows}
        found = _links(batch, tell)
        if time in ready_from_brine:
            grams, relative = ready_from_brine[time]
            # The batch's own noise is in its other rows already: here it counts as reading.
            doubt = relative**2 + people.pack.noise**2
            link = _Link("brine", "jars", grams, tell.volume_ml, (Arrow.PACK,), doubt)
            found.append(link)
        kept = (link for link in found if barred.isdisjoint(link.arrows))
        rows.extend(_row(batch, time, tell, link, people) for link in kept)
    return rows


@dataclass(frozen=True, slots=True)
class _Link:
    """Two neighbouring amounts of one batch and the arrows between them."""

    from_column: str
    to_column: str
    before: float
    after: float
    arrows: tuple[Arrow, ...]
    extra: float = 0.0  # variance of reading beyond the scale's


def _links(batch: Batch, tell: Told) -> list[_Link]:
    stages: list[tuple[str, float | None, Arrow | None]] = [
        ("as_bought_g", batch.as_bought_g, None),
        ("trimmed_g", batch.trimmed_g, Arrow.TRIM),
    ]
    if tell.cured >= _LEAST_CURE_CHANCE:
        stages.append(("cured_g", batch.cured_g, Arrow.CURE))
    if tell.hot:
        stages.append(("cooked_g", batch.cooked_g, Arrow.COOK))
    stages.append(("jars", tell.volume_ml, Arrow.PACK))
    links = []
    before: tuple[str, float] | None = None
    arrows: list[Arrow] = []
    for column, amount, arrow in stages:
        if arrow is not None:
            arrows.append(arrow)
        if amount is None:
            continue
        if before is not None:
            links.append(_Link(before[0], column, before[1], amount, tuple(arrows)))
        before, arrows = (column, amount), []
    return links


def _row(batch: Batch, time: int, tell: Told, link: _Link, people: People) -> Row:
    at = tell.situation
    columns = (link.from_column, link.to_column)
    cell = cell_name(at)
    reading = link.extra + _scale(link.before)
    shares: dict[Arrow, float] = {}
    if link.to_column == "jars":
        reading += (tell.volume_sd_ml / tell.volume_ml) ** 2
        reading += people.jar_to_jar**2 / batch.total_jars
    else:
        reading += _scale(link.after)
    if link.arrows == (Arrow.TRIM,):
        # Close to 1 a share is read no better than the scale allows, however long its logit.
        share = min(link.after / link.before, 1.0 - 0.003)
        slope = share * (1.0 - share)
        reading = min(reading * (share / slope) ** 2, 4.0)
        target = logit(share) - centre(Arrow.TRIM, at)
        return Row(
            batch.batch, time, target, loadings(Arrow.TRIM, at, people), {Arrow.TRIM: 1.0},
            reading, SLIP_LOGIT, columns, cell, Scale.LOGIT, share,
        )  # fmt: skip
    target = math.log(link.after / link.before)
    effects: Loadings = {}
    for arrow in link.arrows:
        factor, constant, doubt = _in_logs(arrow, tell, link)
        target -= constant
        reading += doubt
        if factor:
            shares[arrow] = abs(factor)
            for effect, value in loadings(arrow, at, people).items():
                effects[effect] = factor * value
    return Row(batch.batch, time, target, effects, shares, reading, SLIP_LOG, columns, cell)


def _in_logs(arrow: Arrow, tell: Told, link: _Link) -> tuple[float, float, float]:
    """How an arrow enters a log ratio: factor of its effects, constant, variance of doubt."""
    at = tell.situation
    if arrow is Arrow.TRIM:  # linear about the published yield
        expected = at.crop.trim_yield.centre
        return 1.0 - expected, math.log(expected), 0.0
    if arrow is Arrow.CURE:
        shrink = centre(Arrow.CURE, at)
        return tell.cured, tell.cured * shrink, tell.cured * (1.0 - tell.cured) * shrink**2
    if arrow is Arrow.COOK:
        return 1.0, centre(Arrow.COOK, at), 0.0
    limit = density_limit(at.crop)
    density = link.before / link.after
    for between in link.arrows[:-1]:
        density *= math.exp(_in_logs(between, tell, link)[1])
    bent = math.log(unlimited(density, limit) / min(density, 0.985 * limit))
    return -1.0, -centre(Arrow.PACK, at) + bent, 0.0


def cell_name(at: Situation) -> str:
    """The cell of a batch: produce and cut."""
    return f"{at.produce}/{at.cut}"


def _scale(grams: float) -> float:
    """Variance of the logarithm of a weight, from the scale."""
    return (SCALE_G / grams) ** 2 + SCALE_SHARE**2


def ready_weight(batch: Batch, tell: Told) -> float | None:
    """Weight as it went into the jars, where it was written down."""
    if tell.hot:
        return batch.cooked_g
    if batch.cured_g is not None:
        return batch.cured_g
    return batch.trimmed_g if tell.cured < _LEAST_CURE_CHANCE else None


def brine_rows(
    batches: Sequence[Batch],
    tellings: Sequence[Told],
    people: People,
    loss_ml: float,
    shelf: Mapping[str, Jar],
) -> list[Row]:
    """Rows of the brine arrow: batches with a ready weight and brine made and left.

    ``loss_ml`` is the pot loss expected so far: its spread between batches goes with it.
    """
    rows = []
    for time, (batch, tell) in enumerate(zip(batches, tellings, strict=True)):
        used, ready = batch.brine_used_ml, ready_weight(batch, tell)
        if used is None or ready is None:
            continue
        if any(Arrow.BRINE in flag.arrows for flag in contradictions(batch, shelf)):
            continue
        own = ready / tell.situation.crop.tissue.centre
        target = tell.volume_ml - used - own + people.loss_ml
        rows.append(
            Row(
                batch=batch.batch,
                time=time,
                target=target,
                loadings=brine_loadings(ready, tell.situation, people),
                shares={Arrow.BRINE: brine_noise(tell.volume_ml - own, loss_ml, people)},
                reading=tell.volume_sd_ml**2 + 2 * POT_ML**2 + ready**2 * _scale(ready),
                slip=(SLIP_BRINE * tell.volume_ml) ** 2,
                columns=("brine_made_ml", "brine_left_ml"),
                cell=cell_name(tell.situation),
                scale=Scale.ML,
                amount=used,
                ceiling=batch.brine_left_ml == 0,
            )
        )
    return rows


def brine_noise(space_ml: float, loss_ml: float, people: People) -> float:
    """Sd in ml of one batch's brine, for its space left by the produce and the pot loss."""
    return math.hypot(people.loss_between_batches * loss_ml, SPACE_SHARE * max(space_ml, 0.0))


def ready_told_by_brine(
    batches: Sequence[Batch],
    tellings: Sequence[Told],
    people: People,
    loss: tuple[float, float],
    shelf: Mapping[str, Jar],
) -> dict[int, tuple[float, float]]:
    """What brine says of the ready weights nobody wrote down: batch -> (grams, relative sd).

    ``loss`` is the pot loss expected and its sd. Brine that ran out says too little to be used.
    """
    found = {}
    for time, (batch, tell) in enumerate(zip(batches, tellings, strict=True)):
        used = batch.brine_used_ml
        if used is None or not batch.brine_left_ml or ready_weight(batch, tell) is not None:
            continue
        if any(Arrow.BRINE in flag.arrows for flag in contradictions(batch, shelf)):
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
