"""How evidence from many sources becomes a centre and a spread for each crop.

The evidence of one quantity is laid on the scale where its noise is even (logit for the trim
yield, natural log for the rest) and shared out by one normal linear model: overall + kin +
produce + cut + crop + pack + kind of evidence, each with a prior spread, so that a cut nobody
published leans on the other cuts of its produce, and these on their kin. The centre is the
precision-weighted mean that follows. The spread is how far sources lie from one another (a crop's
own disagreement shrunk to the pooled one), how uncertain the centre is, and how much further
kitchens lie apart than printed averages.
Method: Gelman et al., Bayesian Data Analysis, 3rd ed., chapters 5 (pooling), 15 (linear models
with several levels) and 17 (long tails). Every number set by hand stands in sources/scales.csv.
"""

import csv
import math
from collections import defaultdict
from collections.abc import Mapping
from copy import copy
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

Design = Mapping[tuple[str, ...], float]
Array = NDArray[np.float64]
OWN_JUICE = ("ferment", "relish")  # kins whose juice goes into the jar with them
SOURCES = Path(__file__).resolve().parent / "sources"


def table(name: str) -> list[dict[str, str]]:
    with (SOURCES / f"{name}.csv").open(encoding="utf-8", newline="") as lines:
        return list(csv.DictReader(lines))


def to_scale(quantity: str, value: float) -> float:
    return math.log(value / (1.0 - value)) if quantity == "trim_yield" else math.log(value)


def from_scale(quantity: str, value: float) -> float:
    return 1.0 / (1.0 + math.exp(-value)) if quantity == "trim_yield" else math.exp(value)


@dataclass(frozen=True, slots=True)
class Point:
    """One piece of evidence: ``y`` and its own ``sd`` on the quantity's scale."""

    source: str
    kind: str
    y: float
    sd: float
    produce: str
    cut: str = ""
    pack: str = ""
    basis: str = "published"


class Crops:
    """Kin and parts of each produce, and the effects a crop is made of."""

    def __init__(self) -> None:
        self.rows = {row["produce"]: row for row in table("produce")}
        self.kin = {name: row["kin"] for name, row in self.rows.items()}
        self.parts: dict[str, dict[str, float]] = {}
        for name, row in self.rows.items():
            shares = (part.split(":") for part in row["parts"].split(" + ") if part)
            self.parts[name] = {part.strip(): float(share) for part, share in shares}

    def design(self, produce: str, cut: str, pack: str, kind: str = "") -> Design:
        """Effect -> coefficient. A mixture is the weighted sum of its parts, and itself."""
        found: dict[tuple[str, ...], float] = defaultdict(float)
        found["overall",] = 1.0
        for name, share in (self.parts[produce] or {produce: 1.0}).items():
            found["kin", self.kin[name]] += share
            found["produce", name] += share
            if cut:
                found["crop", name, cut] += share
        if self.parts[produce]:
            found["crop", produce] += 1.0
        if cut:
            found["cut", cut] = 1.0
        # Half either way, so that a pack not written down lies between the two.
        found["hot",] = {"hot": 0.5, "raw": -0.5}.get(pack, 0.0)
        if self.kin[produce] in OWN_JUICE:
            found["own juice", self.kin[produce]] = 1.0
        if kind:
            found[kind,] = 1.0
        return found


class Scales:
    """Prior centre and spread of each effect of one quantity, and the noise of each kind."""

    def __init__(self, quantity: str) -> None:
        rows = [row for row in table("scales") if row["quantity"] in (quantity, "all")]
        self.centre = {row["effect"]: float(row["centre"]) for row in rows}
        self.spread = {row["effect"]: float(row["spread"]) for row in rows}
        self.noise = {row["effect"]: float(row["noise"]) for row in rows if row["noise"]}
        self.estimated = tuple(row["effect"] for row in rows if row["estimated"] == "yes")

    @property
    def between(self) -> float:
        """Variance between sources of one crop."""
        return self.spread["between sources"] ** 2

    @property
    def any_cut(self) -> float:
        """Variance between cuts of one produce, where the cut is not told."""
        return self.spread.get("cut", 0.0) ** 2 + self.spread.get("crop", 0.0) ** 2


class Quantity:
    """What the evidence says of one quantity, for any crop."""

    def __init__(self, name: str, points: list[Point], crops: Crops) -> None:
        self.name, self.points, self.crops, self.scales = name, points, crops, Scales(name)
        designs = [crops.design(p.produce, p.cut, p.pack, p.kind) for p in points]
        self.effects = sorted({effect for design in designs for effect in design})
        self.place = {effect: number for number, effect in enumerate(self.effects)}
        self.x = np.array([[d.get(effect, 0.0) for effect in self.effects] for d in designs])
        centres = np.array([self.scales.centre.get(effect[0], 0.0) for effect in self.effects])
        self.residual = np.array([p.y for p in points]) - self.x @ centres
        self.kinds = np.array(
            [effect[0] in self.scales.noise or effect == ("hot",) for effect in self.effects]
        )
        self._tune()
        self._solve()

    def _variances(self) -> Array:
        return np.array([self.scales.spread.get(effect[0], 0.0) ** 2 for effect in self.effects])

    def _own(self) -> Array:
        """Variance of each point about its crop, that between sources aside."""
        noise, any_cut = self.scales.noise, self.scales.any_cut
        return np.array(
            [
                point.sd**2 + noise[point.kind] ** 2 + (not point.cut) * any_cut
                for point in self.points
            ]
        )

    def _cost(self) -> float:
        """Minus log marginal likelihood of the spreads, up to a constant."""
        noise = np.diag(self._own() + self.scales.between)
        root = np.linalg.cholesky((self.x * self._variances()) @ self.x.T + noise)
        return float(
            0.5 * np.sum(np.linalg.solve(root, self.residual) ** 2) + np.sum(np.log(np.diag(root)))
        )

    def _tune(self) -> None:
        """Estimate the spreads marked so: the likeliest, on a grid about where they start."""
        spread, start = self.scales.spread, dict(self.scales.spread)

        def cost(effect: str, steps: int) -> float:
            spread[effect] = start[effect] * 2.0 ** (steps / 4.0)
            return self._cost() + 0.5 * (math.log(spread[effect] / start[effect]) / 0.5) ** 2

        for _ in range(3):
            for effect in self.scales.estimated:
                costs = {steps: cost(effect, steps) for steps in range(-6, 7)}
                cost(effect, min(costs, key=lambda steps: costs[steps]))

    def _solve(self) -> None:
        """Posterior of the effects; a source far off is given less weight (Student-t tails)."""
        prior, tail = self._variances(), self.scales.centre["tail"]
        self.own = self._own()
        spread = self.own + self.scales.between
        stretch = np.ones(len(self.points))
        for _ in range(8):
            noise = np.diag(spread * stretch)
            gain = np.linalg.solve((self.x * prior) @ self.x.T + noise, self.x * prior).T
            self.mean = gain @ self.residual
            off = (self.residual - self.x @ self.mean) ** 2 / spread
            stretch = np.maximum((tail + off) / (tail + 1.0), 1.0)
        self.cov = np.diag(prior) - gain @ (self.x * prior)

    def without(self, sources: frozenset[str]) -> "Quantity":
        """The same without these sources; the spreads stay as all of them have it."""
        found = copy(self)
        kept = [i for i, point in enumerate(self.points) if point.source not in sources]
        found.points = [self.points[i] for i in kept]
        found.x, found.residual = self.x[kept], self.residual[kept]
        found._solve()
        return found

    def about(self, produce: str, cut: str = "", pack: str = "") -> tuple[float, float]:
        """Centre and spread on the scale."""
        design = self.crops.design(produce, cut, pack)
        known, centre, unknown = np.zeros(len(self.effects)), 0.0, 0.0
        for effect, share in design.items():
            centre += share * self.scales.centre.get(effect[0], 0.0)
            if effect in self.place:
                known[self.place[effect]] = share
            else:
                unknown += (share * self.scales.spread.get(effect[0], 0.0)) ** 2
        centre += float(known @ self.mean)
        variance = float(known @ self.cov @ known) + unknown
        variance += self._between(known, self.direct(produce, cut))
        variance += self.scales.spread.get("kitchens", 0.0) ** 2
        variance += 0.0 if cut else self.scales.any_cut
        return centre, math.sqrt(variance)

    def _between(self, known: Array, direct: list[int]) -> float:
        """Variance between sources of this crop, its own disagreement shrunk to the pooled one."""
        pooled, count = self.scales.between, self.scales.centre["prior count"]
        weight = pooled / (pooled + self.own[direct])
        level = self.x[direct] * self.kinds + known * ~self.kinds
        off = self.residual[direct] - level @ self.mean
        return float((count * pooled + np.sum((weight * off) ** 2)) / (count + np.sum(weight)))

    def direct(self, produce: str, cut: str) -> list[int]:
        """Numbers of the points that speak of this produce and this cut, or of any cut of it."""
        return [
            number
            for number, point in enumerate(self.points)
            if point.produce == produce and (not cut or point.cut in ("", cut))
        ]

    def evidence(self, produce: str, cut: str) -> tuple[list[str], str]:
        """Sources a crop's belief rests on, nearest first, and on what basis."""
        points = self.points
        if near := [points[number] for number in self.direct(produce, cut)]:
            bases = {point.basis for point in near}
            order = ("published", "reported", "from memory", "common practice, no source")
            return [p.source for p in near], next(basis for basis in order if basis in bases)
        if near := [point for point in points if point.produce == produce]:
            return [p.source for p in near], f"borrowed from other cuts of {produce}"
        if parts := self.crops.parts[produce]:
            near = [point for point in points if point.produce in parts]
            return [p.source for p in near], f"borrowed from its parts: {', '.join(sorted(parts))}"
        kin = self.crops.kin[produce]
        near = [point for point in points if self.crops.kin[point.produce] == kin]
        return [p.source for p in near], f"borrowed from other crops of its kind ({kin})"
