"""The crops an invented household grows: published centres, or produce that nobody published.

Published centres and the spread between publications come from the starting beliefs that travel
with jarcast, since every forecaster may read the same printed numbers. Which truth a household
has is the world's business, see worlds.py.
"""

import json
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from math import log
from typing import Any

from jarcast.domain.names import makes_its_own_brine
from jarcast.files.shipped import shipped

# Quantities of a crop, each on the scale where its noise is even: trim in logits, the rest in
# natural logs (cure keep, cook keep, pack density in g/ml, tissue density in g/ml).
QUANTITIES = ("trim", "cure", "cook", "pack", "tissue")
_NAMES = {
    "trim": "trim_yield",
    "cure": "cure_keep",
    "cook": "cook_keep",
    "pack": "density",
    "tissue": "tissue",
}


@dataclass(frozen=True)
class Crop:
    """One produce x cut x pack: centre and spread of each quantity on its own scale."""

    produce: str
    cut: str
    pack: str
    cured: str  # 'usual', 'sometimes' or 'never'
    centre: Mapping[str, float]
    spread: Mapping[str, float]

    @property
    def hot(self) -> bool:
        """Whether it is cooked before it goes into the jar."""
        return self.pack == "hot"


def logit(share: float) -> float:
    """Log of the odds."""
    return log(share / (1.0 - share))


def _scaled(quantity: str, value: float) -> float:
    return logit(value) if quantity == "trim" else log(value)


def _crop(row: Mapping[str, Any]) -> Crop:
    return Crop(
        produce=row["produce"],
        cut=row["cut"],
        pack=row["pack"],
        cured=row["cured"],
        centre={q: _scaled(q, row[name]["centre"]) for q, name in _NAMES.items()},
        spread={q: float(row[name]["spread"]) for q, name in _NAMES.items()},
    )


@cache
def published_crops() -> tuple[Crop, ...]:
    """Every published crop with a cut and a pack of its own that takes a brine.

    Mixtures are left out, and what makes its own juice. Raises FileNotFoundError where the starting
    beliefs are not built yet.
    """
    path = shipped("models", "starting-beliefs.json")
    rows = json.loads(path.read_text(encoding="utf-8"))["crops"]
    named = (r for r in rows if r["cut"] and r["pack"] and "+" not in r["produce"])
    poured = (r for r in named if not makes_its_own_brine(r["produce"], r["cut"]))
    return tuple(_crop(row) for row in poured)


# Invented produce, so that no list of published yields can hold it. Centres are chosen freely
# and have no source; the spread is what a printed recipe for 'some vegetable' would have to own
# up to.
_UNLISTED = (
    "kelp stalk", "sand leek", "moss root", "river turnip vine", "hill artichoke bud",
    "salt reed", "winter gourd rind", "thistle heart",
)  # fmt: skip


@cache
def unlisted_crops() -> tuple[Crop, ...]:
    """Produce that nobody published, all with the same vague centre."""
    centre = {"trim": 0.82, "cure": 0.86, "cook": 0.86, "pack": 0.58, "tissue": 1.01}
    spread = {"trim": 0.7, "cure": 0.12, "cook": 0.12, "pack": 0.3, "tissue": 0.04}
    scaled = {q: _scaled(q, value) for q, value in centre.items()}
    return tuple(Crop(name, "pieces", "raw", "sometimes", scaled, spread) for name in _UNLISTED)
