"""From batches to the rows that teach the weight links.

Two weights written down one after the other give a row: the logarithm of their ratio is the sum of
the links between them. Where a weight in between is missing, the row spans several links and the
regression shares it out among them. The fill volume of the jars stands at the end of the chain.
"""

import math
from collections.abc import Mapping, Sequence

from msgspec import Struct

from jarcast.domain.batch import Batch
from jarcast.domain.stages import STAGES, Link
from jarcast.learning.model.beliefs import People
from jarcast.learning.model.circumstances import LEAST_CURE_CHANCE, Circumstances, cell_name
from jarcast.learning.model.effects import Loadings, loadings
from jarcast.learning.model.links import NEAREST_LIMIT, centre, density_limit, logit, unlimited
from jarcast.learning.model.row import Row, Scale

SCALE_G = 5.0  # a kitchen scale's step and what clings to the bowl, sd in grams
SCALE_SHARE = 0.004  # and its error in proportion; common practice, no source
SLIP_LOG = 1.0  # a slip moves a logarithm by about this much (a factor of 2.7)
SLIP_LOGIT = 4.0


def weight_rows(
    batches: Sequence[Batch],
    cases: Sequence[Circumstances],
    people: People,
    ready_from_brine: Mapping[int, tuple[float, float]],
    jar_variance: float,
) -> list[Row]:
    """Rows of the trim, cure, cook and pack links.

    ``cases`` are the batches' circumstances. ``ready_from_brine`` holds, for batches without a
    ready weight, what their brine says of it: grams and their relative sd. ``jar_variance`` is the
    variance of log density from jar to jar.
    """
    rows: list[Row] = []
    for time, (batch, case) in enumerate(zip(batches, cases, strict=True)):
        found = _pairs(batch, case)
        if time in ready_from_brine:
            grams, relative = ready_from_brine[time]
            # The batch's other rows already carry its own noise: here it counts as reading.
            extra = relative**2 + people.pack.noise**2
            found.append(_Pair("brine", "jars", grams, case.volume_ml, (Link.PACK,), extra))
        kept = (pair for pair in found if case.barred.isdisjoint(pair.links))
        rows.extend(_row(batch, time, case, pair, people, jar_variance) for pair in kept)
    return rows


class _Pair(Struct, frozen=True):
    """Two neighbouring amounts of one batch and the links between them."""

    from_column: str
    to_column: str
    before: float
    after: float
    links: tuple[Link, ...]
    extra: float = 0.0  # variance of reading beyond the scale's


def _pairs(batch: Batch, case: Circumstances) -> list[_Pair]:
    without = {
        Link.CURE: case.cured < LEAST_CURE_CHANCE,
        Link.COOK: not case.hot,
    }
    stages: list[tuple[str, float | None, Link | None]] = [
        (stage.column, getattr(batch, stage.column), stage.link)
        for stage in STAGES
        if stage.link is None or not without.get(stage.link, False)
    ]
    stages.append(("jars", case.volume_ml, Link.PACK))
    pairs = []
    before: tuple[str, float] | None = None
    links: list[Link] = []
    for column, amount, link in stages:
        if link is not None:
            links.append(link)
        if amount is None:
            continue
        if before is not None:
            pairs.append(_Pair(before[0], column, before[1], amount, tuple(links)))
        before, links = (column, amount), []
    return pairs


def _row(
    batch: Batch, time: int, case: Circumstances, pair: _Pair, people: People, jar_variance: float
) -> Row:
    columns = (pair.from_column, pair.to_column)
    told_by = ("brine_made_ml", "brine_left_ml") if pair.from_column == "brine" else ()
    sure = not batch.confirmed.isdisjoint((*columns, *told_by))
    reading = pair.extra + scale_variance(pair.before)
    if pair.to_column == "jars":
        reading += min(case.volume_sd_ml / case.volume_ml, 1e3) ** 2
        reading += jar_variance / max(batch.total_jars, 1e-3)
    else:
        reading += scale_variance(pair.after)
    if pair.links == (Link.TRIM,):
        return _trim_row(batch, time, case, pair, people, reading, sure)
    target = math.log(pair.after / pair.before)
    effects: Loadings = {}
    shares: dict[Link, float] = {}
    for link in pair.links:
        factor, constant, variance = _in_logs(link, case, pair)
        target -= constant
        reading += variance
        if factor:
            shares[link] = abs(factor)
            for effect, value in loadings(link, case.situation, people).items():
                effects[effect] = factor * value
    return Row(
        batch.batch, time, target, effects, shares, reading, SLIP_LOG, columns,
        cell_name(case.situation), sure=sure,
    )  # fmt: skip


def _trim_row(
    batch: Batch,
    time: int,
    case: Circumstances,
    pair: _Pair,
    people: People,
    reading: float,
    sure: bool,
) -> Row:
    """The row of the trim link alone, on its own scale; ``reading`` is in logs of the share."""
    at = case.situation
    # A share close to 1 is read no better than the scale allows, however large its logit.
    share = min(pair.after / pair.before, 1.0 - 0.003)
    return Row(
        batch=batch.batch,
        time=time,
        target=logit(share) - centre(Link.TRIM, at),
        loadings=loadings(Link.TRIM, at, people),
        shares={Link.TRIM: 1.0},
        reading=min(reading / (1.0 - share) ** 2, 4.0),
        slip=SLIP_LOGIT,
        columns=(pair.from_column, pair.to_column),
        cell=cell_name(at),
        scale=Scale.LOGIT,
        amount=share,
        sure=sure,
    )


def _in_logs(link: Link, case: Circumstances, pair: _Pair) -> tuple[float, float, float]:
    """How a link enters a log ratio: the factor of its effects, a constant, an extra variance."""
    at = case.situation
    if link is Link.TRIM:  # linear about the published yield
        expected = at.crop.trim_yield.centre
        return 1.0 - expected, math.log(expected), 0.0
    if link is Link.CURE:
        shrink = centre(Link.CURE, at)
        return case.cured, case.cured * shrink, case.cured * (1.0 - case.cured) * shrink**2
    if link is Link.COOK:
        return 1.0, centre(Link.COOK, at), 0.0
    limit = density_limit(at.crop)
    density = pair.before / pair.after
    for between in pair.links[:-1]:
        density *= math.exp(_in_logs(between, case, pair)[1])
    bent = math.log(unlimited(density, limit) / min(density, NEAREST_LIMIT * limit))
    return -1.0, -centre(Link.PACK, at) + bent, 0.0


def scale_variance(grams: float) -> float:
    """Variance of the logarithm of a weight, from the scale."""
    return (SCALE_G / max(grams, 1e-3)) ** 2 + SCALE_SHARE**2
