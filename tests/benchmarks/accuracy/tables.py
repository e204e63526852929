"""The scores of a run as markdown tables: one a score, forecasters down, own batches across."""

from collections.abc import Iterator, Mapping, Sequence

import numpy as np

from accuracy.peers import ASKS
from accuracy.replay import OUTCOMES, Trial
from accuracy.scores import (
    CRPS,
    CRPS_PRINTED,
    IN50,
    IN80,
    IN90,
    LEFT,
    SHORT,
    TOTAL,
    WIDTH,
    Array,
    Figure,
    by_household,
    mean,
    median_ratio,
    ratio,
)

Scores = Mapping[str, Array]  # peer -> (households, asks, outcomes, sizes, SCORES)

_ASKED = {"ready": "from the ready weight", "as_bought": "from the weight as bought"}
_BRINE_ONLY = ("short", "left")
TITLES = {
    "crps": "CRPS over the true total, oracle = 1",
    "limit": "CRPS over the true total, limit = 1",
    "crps-printed": "CRPS over the printed total, oracle = 1",
    "limit-printed": "CRPS over the printed total, limit = 1",
    "50": "50 % range holds, in %",
    "80": "80 % range holds, in %",
    "90": "90 % range holds, in %",
    "width": "median width of the 80 % range, limit = 1",
    "short": "5 % order runs short, in %",
    "left": "left over of a 5 % order, in % of the brine used",
}
_PLACES = {"50": IN50, "80": IN80, "90": IN90, "short": SHORT}


def figure(scores: Scores, peer: str, ask: int, outcome: int, title: str, size: int) -> Figure:
    """One cell of a table; ``size`` is the place in the run's sizes, -1 all of them together."""

    def column(name: str, which: int) -> Array:
        found = scores[name][:, ask, outcome, :, which]
        return by_household(found) if size < 0 else found[:, size]

    if title.startswith(("crps", "limit")):
        which = CRPS_PRINTED if title.endswith("printed") else CRPS
        base = "oracle" if title.startswith("crps") else "limit"
        return ratio(column(peer, which), column(base, which))
    if title == "width":
        return median_ratio(column(peer, WIDTH), column("limit", WIDTH))
    if title == "left":
        return percent(ratio(column(peer, LEFT), column(peer, TOTAL)))
    return percent(mean(column(peer, _PLACES[title])))


def percent(share: Figure) -> Figure:
    """A share as a percentage."""
    return Figure(100 * share.value, 100 * share.error)


def world_tables(trial: Trial, scores: Scores, about: str, titles: Sequence[str]) -> Iterator[str]:
    """Lines of markdown for one world."""
    yield f"## {trial.world}"
    yield ""
    yield f"{about[0].upper()}{about[1:]}."
    for ask, asked in enumerate(ASKS):
        for outcome, name in enumerate(OUTCOMES):
            for title in titles:
                if title in _BRINE_ONLY and name != "brine":
                    continue
                yield ""
                yield f"**{trial.world}, {name} {_ASKED[asked]}: {TITLES[title]}**"
                yield ""
                yield from _table(trial, scores, ask, outcome, title)
    yield from _failures(trial, scores)


def _table(trial: Trial, scores: Scores, ask: int, outcome: int, title: str) -> Iterator[str]:
    heads = [*(f"n = {size}" for size in trial.sizes), "all n"]
    yield "| forecaster | " + " | ".join(heads) + " |"
    yield "| --- |" + " --- |" * len(heads)
    places = [*range(len(trial.sizes)), -1]
    digits = 2 if title.startswith(("crps", "limit", "width")) else 1
    for peer in trial.peers:
        cells = [figure(scores, peer, ask, outcome, title, place) for place in places]
        yield f"| {peer} | " + " | ".join(_text(cell, digits) for cell in cells) + " |"


def _text(found: Figure, digits: int) -> str:
    if not np.isfinite(found.value):
        return "-"
    return f"{found.value:.{digits}f} ± {2 * found.error:.{digits}f}"


def _failures(trial: Trial, scores: Scores) -> Iterator[str]:
    for peer in trial.peers:
        first = scores[peer][..., CRPS]
        asked, failed = int((~np.isnan(first)).sum()), int(np.isinf(first).sum())
        if failed:
            yield ""
            yield f"{peer}: no forecast in {failed} of {asked} cases; they are left out above."
