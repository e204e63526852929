"""A record of one's own forecast one step ahead, beside what one would use instead: a table."""

import warnings
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from statistics import NormalDist
from typing import TYPE_CHECKING

import numpy as np

from jarcast.batchtable import batches_from_table
from jarcast.domain.batch import Batch
from jarcast.domain.jars import SHELF, Jar
from jarcast.errors import ForecastError, in_short
from jarcast.forecast.habits import check_learning
from jarcast.forecast.outcome import Outcome
from jarcast.learning.arrays import Array
from jarcast.learning.model.beliefs import Beliefs
from jarcast.trackrecord.average import OwnRatios, crop_key, jars_of
from jarcast.trackrecord.hindsight import Scored, score
from jarcast.trackrecord.replay import (
    as_one_import,
    check_parts,
    first_versions,
    known_before,
    replay,
)
from jarcast.trackrecord.scoring import RANGES, Mark, mark
from jarcast.trackrecord.stored import StoredForecast

if TYPE_CHECKING:
    import pandas as pd

COLUMNS = (
    "batch", "date", "produce", "cut", "stage", "own_batches", "forecaster", "outcome", "was",
    "at_least", "median", "low", "high", "miss", "crps", "held_50", "held_80", "held_90", "short",
)  # fmt: skip
_DRAWS = 2000
_LEAST = 1e-3  # a normal range about a ratio may reach below nothing
Row = tuple[object, ...]
# Draws of a ratio for a crop, by those of earlier batches; None where they are too few to say.
Crop = tuple[str, str]  # produce and cut
Peer = Callable[[Sequence[Crop], Array, Crop, np.random.Generator], Array | None]


def hindsight(
    batches: object,
    peers: Sequence[str] = ("average", "bayesian-ridge"),
    *,
    beliefs: Beliefs | None = None,
    shelf: Mapping[str, Jar] = SHELF,
    latest: int | None = None,
    jobs: int | None = None,
) -> "pd.DataFrame":
    """Forecast each batch from the batches before it, score that, and the same of ``peers``.

    ``batches`` is what ``learn`` takes. A peer works by two ratios of one's own earlier batches,
    jar filled for each gram and brine for each ml filled, from two batches on: 'average' is their
    mean and spread for that crop, 'bayesian-ridge' scikit-learn's BayesianRidge on the crops.

    A row for each batch, weight recorded (``stage``), ``forecaster`` ('jarcast' or a peer) and
    ``outcome`` ('jars' or 'brine_ml', in its own unit): ``was`` is what happened, ``at_least`` that
    the pot was empty, so that more may have been needed; ``low`` to ``high`` the 8-in-10 range,
    ``miss`` what happened less the median, ``crps`` the score (less is better), ``held_50`` and so
    on whether ranges held, ``short`` whether an order at 1 chance in 20 ran short. In a row
    ``at_least``, ``miss`` is what was surely missed, never below 0, and a range held unless it was
    surely passed: leave such rows out where you count how often ranges held.

    What cannot be scored fairly, as a batch whose numbers contradict one another, has no row. Of a
    long record ``latest`` batches may be enough: those are forecast, each from all before it. It is
    spread over ``jobs`` cores, all unless given. ``date`` is as ``read_batches`` has it, and
    ``jarcast.plot.hindsight`` draws the table. Raises BatchError and BeliefsError as ``learn``, and
    ForecastError for a peer that is not known and a ``latest`` or ``jobs`` that is no number.
    """
    import pandas as pd

    names = _names(peers)
    check_learning(beliefs, shelf)
    check_parts(latest, jobs)
    record = as_one_import(batches_from_table(batches, shelf, stacklevel=2))
    firsts = {first.batch.batch: first for first in first_versions(record)}
    before: dict[str, list[Batch]] = {}
    own = OwnRatios(shelf)
    rows: list[Row] = []
    for one in replay(record, beliefs, shelf, latest=latest, jobs=jobs):
        batch = firsts[one.stored.batch].batch
        scored = score(one.stored, None, batch, shelf)
        if not isinstance(scored, Scored):
            continue
        if names and batch.batch not in before:
            before = {batch.batch: known_before(record, firsts[batch.batch])}
        rows += _rows("jarcast", batch, scored, one.stored.jars, one.stored.brine_ml)
        for name in names:
            found = _by_ratios(own, _PEERS[name], before[batch.batch], one.stored)
            rows += _rows(name, batch, scored, *found)
    return pd.DataFrame(rows, columns=list(COLUMNS)).astype({"date": "datetime64[us]"})


def _names(peers: object) -> tuple[str, ...]:
    """The peers that are named, each once. Raises ForecastError for what is no name of one."""
    names = (peers,) if isinstance(peers, str) else peers
    if not isinstance(names, Iterable):
        raise ForecastError(f"peers={in_short(peers)}: give a list of names; () is none")
    found = list(names)
    if unknown := [name for name in found if not isinstance(name, str) or name not in _PEERS]:
        raise ForecastError(
            f"there is no peer {in_short(unknown[0])}; there are {', '.join(_PEERS)}"
        )
    return tuple(dict.fromkeys(found))


def _rows(
    name: str, batch: Batch, scored: Scored, jars: Outcome | None, brine_ml: Outcome | None
) -> Iterator[Row]:
    """A row for each outcome that is known and was forecast."""
    stored = scored.stored
    for outcome, said, known in (
        ("jars", jars, scored.jars), ("brine_ml", brine_ml, scored.brine)
    ):  # fmt: skip
        if said is None or known is None:
            continue
        found: Mark = mark(said, known.was, None, at_least=known.at_least)
        yield (
            batch.batch, batch.date, stored.produce, stored.cut, stored.stage, stored.own_batches,
            name, outcome, found.was, found.at_least, said.median, *said.interval(RANGES[1]),
            found.miss, found.crps, *found.held, found.short,
        )  # fmt: skip


def _by_ratios(
    own: OwnRatios, peer: Peer, history: Sequence[Batch], stored: StoredForecast
) -> tuple[Outcome | None, Outcome | None]:
    """Jars and brine by the two ratios of earlier batches, each forecast by itself.

    What a peer says; None where it has too few batches.
    """
    known = [own.of(batch, stored.stage) for batch in history]
    crops, wanted = [crop_key(batch) for batch in history], (stored.produce, stored.cut)
    rng = np.random.default_rng(0)
    fill, share = (
        peer(
            [crop for crop, value in zip(crops, column, strict=True) if value],
            np.array([value for value in column if value]),
            wanted,
            rng,
        )
        for column in ([one.fill for one in known], [one.share for one in known])
    )
    if fill is None:
        return None, None
    volume = fill * stored.grams
    jars = np.array([jars_of(float(one), stored.turns) for one in volume])
    return Outcome(jars), None if share is None else Outcome(share * volume)


def _average(
    crops: Sequence[Crop], values: Array, wanted: Crop, rng: np.random.Generator
) -> Array | None:
    own = values[[crop == wanted for crop in crops]] if crops else values
    if len(own) < 2:
        return None
    drawn: Array = own.mean() + own.std(ddof=1) * _normal(rng)
    return drawn.clip(min=_LEAST)


def _ridge(
    crops: Sequence[Crop], values: Array, wanted: Crop, rng: np.random.Generator
) -> Array | None:
    if len(values) < 2:
        return None
    from sklearn.linear_model import BayesianRidge

    kinds = list(dict.fromkeys((*crops, wanted)))
    rows = np.array([[float(crop == kind) for kind in kinds] for crop in (*crops, wanted)])
    with warnings.catch_warnings(), np.errstate(all="ignore"):
        warnings.simplefilter("ignore")
        model = BayesianRidge().fit(rows[:-1], np.log(values))
        middle, spread = model.predict(rows[-1:], return_std=True)
    drawn: Array = np.exp(middle[0] + spread[0] * _normal(rng))
    return drawn


def _normal(rng: np.random.Generator) -> Array:
    """Standard normal draws, evenly spread over its chances, in any order."""
    normal = NormalDist()
    chances = (np.arange(_DRAWS) + 0.5) / _DRAWS
    return rng.permutation([normal.inv_cdf(chance) for chance in chances.tolist()])


_PEERS: Mapping[str, Peer] = {"average": _average, "bayesian-ridge": _ridge}
