"""From batches to the rows that teach the weight links.

Two weights recorded one after the other give a row: the logarithm of their ratio is the sum of
the links between them. Where a weight in between is missing, the row spans several links and the
regression shares it out among them. The fill volume of the jars stands at the end of the chain.
"""

import math
from collections.abc import Iterable, Mapping, Sequence
from functools import cache

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from jarcast.domain.batch import Batch
from jarcast.domain.stages import STAGES, Link
from jarcast.learning.model.beliefs import People
from jarcast.learning.model.circumstances import LEAST_CURE_CHANCE, Circumstances, cell_name
from jarcast.learning.model.effects import OWN_SHARES, PERSONAL, Loadings, loadings
from jarcast.learning.model.endings import Cases
from jarcast.learning.model.links import (
    NEAREST_LIMIT,
    centre,
    density_limit,
    logit,
    slope_of_limit,
    unlimited,
)
from jarcast.learning.model.row import Row, RowCases, Scale
from jarcast.learning.model.scales import Instruments

CLING_G = 4.0  # what clings to the bowl beside a scale's step, sd in grams
SCALE_SHARE = 0.004  # and a scale's error in proportion; common practice, no source
SLIP_LOG = 1.0  # a slip moves a logarithm by about this much (a factor of 2.7)
SLIP_LOGIT = 4.0


def weight_rows(
    batches: Sequence[Batch],
    cases: Sequence[Circumstances],
    people: People,
    ready_from_brine: Mapping[int, tuple[float, float]],
    jar_variance: float,
    endings: Cases,
    instruments: Instruments,
) -> list[Row]:
    """Rows of the trim, cure, cook and pack links.

    ``cases`` are the batches' circumstances. ``ready_from_brine`` holds, for batches without a
    ready weight, what their brine says of it: grams and their relative sd. ``jar_variance`` is the
    variance of log density from jar to jar, ``endings`` says how each batch may have ended, and
    ``instruments`` how finely it was weighed.
    """
    rows: list[Row] = []
    filled: dict[int, _Filled] = {}
    for time, (batch, case) in enumerate(zip(batches, cases, strict=True)):
        found = _pairs(batch, case)
        if time in ready_from_brine:
            grams, relative = ready_from_brine[time]
            # The batch's other rows already carry its own noise: here it counts as reading.
            extra = relative**2 + people.pack.noise**2
            found.append(_Pair("brine", "jars", grams, case.volume_ml, (Link.PACK,), extra))
        kept = (pair for pair in found if case.barred.isdisjoint(pair.links))
        for pair in kept:
            if pair.to_column == "jars":
                filled[len(rows)] = _filled(batch, case, pair, jar_variance)
            rows.append(_row(batch, time, case, pair, people, instruments))
    for at, row in zip(
        filled, _ended([rows[at] for at in filled], filled.values(), endings), strict=True
    ):
        rows[at] = row
    return rows


class _Filled(Struct, frozen=True, gc=False):
    """What filled the jars of a batch: ``density`` as is expected of what was weighed, g/ml.

    ``limit`` is the greatest density there is, and ``own`` the variance of the batch's mean log
    density from jar to jar.
    """

    density: float
    limit: float
    own: float


class _Pair(Struct, frozen=True, gc=False):
    """Two neighbouring amounts of one batch and the links between them.

    ``jarred`` is the share of the produce that went into the jars, where that is told.
    """

    from_column: str
    to_column: str
    before: float
    after: float
    links: tuple[Link, ...]
    extra: float = 0.0  # variance of reading beyond the scale's
    jarred: float = 1.0


def _pairs(batch: Batch, case: Circumstances) -> list[_Pair]:
    pairs = []
    before: tuple[str, float] | None = None
    links: list[Link] = []
    for column, link in _stages(case.cured >= LEAST_CURE_CHANCE, case.hot):
        amount = case.volume_ml if column == "jars" else getattr(batch, column)
        if link is not None:
            links.append(link)
        if amount is None:
            continue
        if before is not None:
            jarred = _jarred(batch, case, before[1], links) if column == "jars" else 1.0
            pair = _Pair(before[0], column, before[1], amount, tuple(links), jarred=jarred)
            pairs.append(pair)
        before, links = (column, amount), []
    return pairs


@cache
def _stages(salted: bool, cooked: bool) -> tuple[tuple[str, Link | None], ...]:
    """The columns of a batch's amounts in the order of the chain, each with the link to it."""
    without: dict[Link | None, bool] = {Link.CURE: not salted, Link.COOK: not cooked}
    found = ((stage.column, stage.link) for stage in STAGES if not without.get(stage.link, False))
    return (*found, ("jars", Link.PACK))


def _jarred(batch: Batch, case: Circumstances, before: float, links: Sequence[Link]) -> float:
    """Share of the ready produce that went into the jars, by what the batch says was not.

    Of a weight of an earlier stage the ready produce is what is expected of it; least a twentieth.
    """
    if not batch.not_jarred_g:
        return 1.0
    ready = before * math.exp(sum(_in_logs(link, case)[1] for link in links[:-1]))
    return max(1.0 - batch.not_jarred_g / ready, 0.05)


def _row(
    batch: Batch,
    time: int,
    case: Circumstances,
    pair: _Pair,
    people: People,
    instruments: Instruments,
) -> Row:
    columns = (pair.from_column, pair.to_column)
    told_by = ("brine_made_ml", "brine_left_ml") if pair.from_column == "brine" else ()
    sure = bool(batch.confirmed) and not batch.confirmed.isdisjoint((*columns, *told_by))
    reading = pair.extra
    for column, grams in zip(columns, (pair.before, pair.after), strict=True):
        if column not in ("brine", "jars"):
            reading += reading_variance(batch, time, column, grams, instruments)
    if pair.links == (Link.TRIM,):
        return _trim_row(batch, time, case, pair, people, reading, sure)
    target = math.log(pair.after / (pair.before * pair.jarred))
    effects: Loadings = {}
    shares: dict[Link, float] = {}
    for link in pair.links:
        factor, constant, variance = _in_logs(link, case)
        target -= constant
        reading += variance
        if factor:
            shares[link] = abs(factor)
            reading += factor**2 * _who(link, case, people)
            for effect, value in loadings(link, case.situation, people).items():
                effects[effect] = factor * value
    return Row(
        batch.batch, time, target, effects, shares, reading, SLIP_LOG, columns,
        cell_name(case.situation), sure=sure,
    )  # fmt: skip


def _filled(batch: Batch, case: Circumstances, pair: _Pair, jar_variance: float) -> _Filled:
    expected = pair.before * pair.jarred / pair.after
    for between in pair.links[:-1]:
        expected *= math.exp(_in_logs(between, case)[1])
    limit = density_limit(case.situation.crop)
    return _Filled(expected, limit, jar_variance / max(batch.total_jars, 1e-3))


def _ended(rows: Sequence[Row], filled: Iterable[_Filled], endings: Cases) -> list[Row]:
    """Rows of jars with their target in each case of how the batch ended.

    Close to the limit of density a small error of reading leaves the unlimited density wide open;
    past it a case can hold only by as much error as brings it back. Differences from jar to jar are
    the batch's own and bend with it, as its reading does.
    """
    if not rows:
        return []
    time = np.array([row.time for row in rows])
    reading = np.array([row.reading for row in rows])[:, None]
    expected, limit, own = (np.array([(f.density, f.limit, f.own) for f in filled]).T)[:, :, None]
    # What the brine says is in the jars is there, whatever was weighed.
    weighed = np.array([row.columns[0] != "brine" for row in rows])[:, None]
    density = expected * np.where(weighed, endings.share[time], 1.0) / endings.volume[time]
    held = np.minimum(density, NEAREST_LIMIT * limit)
    free = unlimited(held, limit)
    variance = reading + own + endings.spread[time] + weighed * endings.share_spread[time]
    past = np.log(density / held)
    shift = -np.log(free / expected)
    first = shift[:, :1]
    of_each = zip(
        rows, first[:, 0].tolist(), shift - first, slope_of_limit(free, limit) ** 2 * variance,
        -0.5 * past**2 / variance, strict=True,
    )  # fmt: skip
    return [
        replace(row, target=row.target + moved, reading=0.0, cases=RowCases(*cases))
        for row, moved, *cases in of_each
    ]


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
        reading=min(reading / (1.0 - share) ** 2, 4.0) + _who(Link.TRIM, case, people),
        slip=SLIP_LOGIT,
        columns=(pair.from_column, pair.to_column),
        cell=cell_name(at),
        scale=Scale.LOGIT,
        amount=share,
        sure=sure,
    )


def _who(link: Link, case: Circumstances, people: People) -> float:
    """Variance on a link's scale of not knowing who it was, about the mean of who it may be."""
    at = case.situation
    if link not in PERSONAL or not at.people:
        return 0.0
    size = getattr(people, link).between_people
    return float(size**2 * OWN_SHARES[1] * (1.0 - sum(chance**2 for _, chance in at.people)))


def _in_logs(link: Link, case: Circumstances) -> tuple[float, float, float]:
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
    return -1.0, -centre(Link.PACK, at), 0.0


def reading_variance(
    batch: Batch, time: int, column: str, grams: float, instruments: Instruments
) -> float:
    """Variance of the logarithm of a weight recorded: the scale's, and that of its doubt."""
    step = instruments.of(time, column)
    return scale_variance(grams, step) + batch.doubt_of(column) ** 2


def scale_variance(grams: float, step_variance: float) -> float:
    """Variance of the logarithm of a weight, from the scale; ``step_variance`` is in g squared."""
    return (step_variance + CLING_G**2) / max(grams, 1e-3) ** 2 + SCALE_SHARE**2
