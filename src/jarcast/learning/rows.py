"""From batches to the rows that teach the weight arrows.

Two weights written down one after the other give a row: the logarithm of their ratio is the sum of
the arrows between them. Where a weight in between is missing, the row spans several arrows and is
shared out by the regression. The fill volume of the jars stands at the end of the chain.
"""

import math
from collections.abc import Mapping, Sequence

from msgspec import Struct

from jarcast.batch import Arrow, Batch
from jarcast.learning.arrows import (
    Loadings,
    centre,
    density_limit,
    loadings,
    logit,
    unlimited,
)
from jarcast.learning.beliefs import People
from jarcast.learning.block import Row, Scale
from jarcast.learning.circumstances import LEAST_CURE_CHANCE, Told, cell_name

SCALE_G = 5.0  # a kitchen scale's step and what clings to the bowl, sd in grams
SCALE_SHARE = 0.004  # and its error in proportion; common practice, no source
SLIP_LOG = 1.0  # a slip moves a logarithm by about this much (a factor of 2.7)
SLIP_LOGIT = 4.0


def weight_rows(
    batches: Sequence[Batch],
    tellings: Sequence[Told],
    people: People,
    ready_from_brine: Mapping[int, tuple[float, float]],
    jar_variance: float,
) -> list[Row]:
    """Rows of the trim, cure, cook and pack arrows.

    ``ready_from_brine`` holds, for batches whose ready weight was not written down, what their
    brine says of it: grams and their relative sd; ``jar_variance`` is that of log density from
    jar to jar.
    """
    rows: list[Row] = []
    for time, (batch, tell) in enumerate(zip(batches, tellings, strict=True)):
        found = _links(batch, tell)
        if time in ready_from_brine:
            grams, relative = ready_from_brine[time]
            # The batch's own noise is in its other rows already: here it counts as reading.
            doubt = relative**2 + people.pack.noise**2
            link = _Link("brine", "jars", grams, tell.volume_ml, (Arrow.PACK,), doubt)
            found.append(link)
        kept = (link for link in found if tell.barred.isdisjoint(link.arrows))
        rows.extend(_row(batch, time, tell, link, people, jar_variance) for link in kept)
    return rows


class _Link(Struct, frozen=True):
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
    if tell.cured >= LEAST_CURE_CHANCE:
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


def _row(
    batch: Batch, time: int, tell: Told, link: _Link, people: People, jar_variance: float
) -> Row:
    at = tell.situation
    columns = (link.from_column, link.to_column)
    cell = cell_name(at)
    told_by = ("brine_made_ml", "brine_left_ml") if link.from_column == "brine" else ()
    sure = not batch.confirmed.isdisjoint((*columns, *told_by))
    reading = link.extra + scale_variance(link.before)
    shares: dict[Arrow, float] = {}
    if link.to_column == "jars":
        reading += min(tell.volume_sd_ml / tell.volume_ml, 1e3) ** 2
        reading += jar_variance / max(batch.total_jars, 1e-3)
    else:
        reading += scale_variance(link.after)
    if link.arrows == (Arrow.TRIM,):
        # Close to 1 a share is read no better than the scale allows, however long its logit.
        share = min(link.after / link.before, 1.0 - 0.003)
        slope = share * (1.0 - share)
        reading = min(reading * (share / slope) ** 2, 4.0)
        target = logit(share) - centre(Arrow.TRIM, at)
        return Row(
            batch.batch, time, target, loadings(Arrow.TRIM, at, people), {Arrow.TRIM: 1.0},
            reading, SLIP_LOGIT, columns, cell, Scale.LOGIT, share, sure=sure,
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
    return Row(
        batch.batch, time, target, effects, shares, reading, SLIP_LOG, columns, cell, sure=sure
    )


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


def scale_variance(grams: float) -> float:
    """Variance of the logarithm of a weight, from the scale."""
    return (SCALE_G / max(grams, 1e-3)) ** 2 + SCALE_SHARE**2
