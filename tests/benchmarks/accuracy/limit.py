"""The near-Bayes limit: what a forecaster can know who knows the world's law and spreads.

One Gaussian belief over everything constant in a household (hands, pot loss, each crop's offsets
from its published centres), updated batch by batch. Each batch adds its own five quantities
(trim, cure, cook, density, loss) with the world's batch noise, and each number recorded is
one observation of them. Where that is linear in the logs the update is the exact conjugate one;
brine is not, and is linearised at the posterior (iterated extended Kalman filter: Bell and
Cathey 1993, IEEE Trans. Automatic Control 38, 294-297). 'Nothing left' is an observation cut off
from below, matched in its first two moments. Long-tailed noise is a mixture of normals, merged
again after each observation. Nothing of jarcast's own learning is used.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from accuracy.households import QUARTER_CUP_ML, Household
from accuracy.worlds import (
    USUAL_READY_G,
    Array,
    Habits,
    Setting,
    bounded,
    cure_share,
    simmer_minutes,
)
from jarcast.domain.batch import Batch

_LINKS = ("trim", "cure", "cook", "pack")
_LOSS = 4  # place of the pot loss in the state, after the four hands
_FIRST_CROP = 5
_PER_CROP = 5  # trim, cure, cook, pack, tissue
_LINK = {"trimmed": 0, "cured": 1, "cooked": 2}  # the batch quantity that leads to a stage
_PACK, _TISSUE = 3, 5
_BRINE_SD = QUARTER_CUP_ML / math.sqrt(12.0)
_ROUNDS = 3  # of linearising

Local = tuple[float, ...]  # trim, cure, cook, density, loss of a batch; tissue offset of its crop
Reading = Callable[[Local], float]


@dataclass(frozen=True)
class Observation:
    """One number recorded, as a function of the batch's quantities."""

    reading: Reading
    value: float
    variance: float
    owner: int  # the batch quantity it tells most about
    at_least: bool = False


class Limit:
    """Belief about one household; ``observe`` its batches in order, then ask ``habits``."""

    def __init__(self, household: Household, walk: float | None = None) -> None:
        """Before any batch; ``walk`` is the sd of the hand's step, log density a batch."""
        self.household = household
        self.world = household.world
        self.walk = self.world.walk if walk is None else walk
        self.size = _FIRST_CROP + _PER_CROP * len(household.crops)
        spread = [self.world.hand[link] for link in _LINKS] + [self.world.loss_people]
        crop = [
            math.hypot(spread, self.world.off_book.get(quantity, 0.0))
            for quantity, spread in self.world.crop.items()
        ]
        spread += crop * len(household.crops)
        self.mean = np.zeros(self.size)
        self.cov = np.diag(np.square(spread))
        self.scales = _noise_scales(self.world.tail_dof)

    def observe(self, batch: Batch, crop: int, setting: Setting) -> None:
        """Learn from one batch as it was recorded."""
        self.cov[_PACK, _PACK] += self.walk**2
        mean, cov = self._with_batch(batch, crop, setting)
        where = np.array([*range(self.size, self.size + 5), self._crop_at(crop) + 4])
        for seen in self._observations(batch, crop, setting):
            place, spread = self.size + seen.owner, self._noise(seen.owner)
            mixture = []
            for share, scale in self.scales:
                wider = cov.copy()
                if seen.owner <= _PACK:
                    wider[place, place] += (scale - 1.0) * spread**2
                mixture.append((share, *_update(mean, wider, where, seen)))
            mean, cov = _merged(mixture)
        self.mean, self.cov = mean[: self.size], cov[: self.size, : self.size]

    def habits(self, crop: int, rng: np.random.Generator, draws: int) -> Habits:
        """Draws of the household's habits for one crop at the next batch."""
        rows = self._rows(crop, hours=24.0)
        tissue = np.zeros(self.size)
        tissue[self._crop_at(crop) + 4] = 1.0
        rows = np.vstack([rows, tissue])
        cov = rows @ self.cov @ rows.T
        cov[_PACK, _PACK] += self.walk**2
        values, vectors = np.linalg.eigh(cov)
        root = vectors * np.sqrt(np.maximum(values, 0.0))
        found = rows @ self.mean + rng.standard_normal((draws, len(rows))) @ root.T
        centre = self.household.crops[crop].centre
        return Habits(
            trim=found[:, 0] + centre["trim"],
            cure=found[:, 1] + centre["cure"],
            cook=found[:, 2] + centre["cook"],
            pack=found[:, 3] + centre["pack"],
            loss=found[:, 4] + math.log(self.world.loss_ml),
            tissue=found[:, 5] + centre["tissue"],
        )

    def _crop_at(self, crop: int) -> int:
        return _FIRST_CROP + _PER_CROP * crop

    def _rows(self, crop: int, hours: float) -> Array:
        """Which constants move a batch's five quantities; shape (5, size)."""
        rows = np.zeros((5, self.size))
        for i in range(4):
            weight = cure_share(hours) if i == 1 else 1.0
            rows[i, i] = rows[i, self._crop_at(crop) + i] = weight
        rows[_LOSS, _LOSS] = 1.0
        return rows

    def _noise(self, quantity: int) -> float:
        return self.world.loss_batches if quantity == _LOSS else self.world.noise[_LINKS[quantity]]

    def _with_batch(self, batch: Batch, crop: int, setting: Setting) -> tuple[Array, Array]:
        """Mean and covariance with the batch's five quantities added at the end."""
        centre = self.household.crops[crop].centre
        share = cure_share(setting.hours)
        rows = self._rows(crop, setting.hours)
        base = np.array([
            centre["trim"], share * centre["cure"], centre["cook"],
            centre["pack"] + self._size_effect(batch, crop, setting),
            math.log(self.world.loss_ml),
        ])  # fmt: skip
        noise = np.square([self._noise(i) for i in range(5)])
        noise[_PACK] += self.world.jar_to_jar**2 / max(batch.total_jars, 1.0)
        mean = np.concatenate([self.mean, base + rows @ self.mean])
        across = rows @ self.cov
        cov = np.block([[self.cov, across.T], [across, across @ rows.T + np.diag(noise)]])
        return mean, cov

    def _size_effect(self, batch: Batch, crop: int, setting: Setting) -> float:
        if not self.world.size_slope:
            return 0.0
        ready = math.exp(self.household.crops[crop].centre["pack"]) * (
            batch.total_jars * setting.fill_ml
        )
        weight = getattr(batch, f"{setting.stages[-1]}_g") or ready
        return self.world.size_slope * math.log(weight / USUAL_READY_G)

    def _observations(self, batch: Batch, crop: int, setting: Setting) -> list[Observation]:
        known = [s for s in setting.stages if getattr(batch, f"{s}_g") is not None]
        found = []
        for before, after in pairwise(known):
            start, end = getattr(batch, f"{before}_g"), getattr(batch, f"{after}_g")
            links = _links(setting, before, after)
            variance = (5.0 / start) ** 2 / 4 + (5.0 / end) ** 2 / 12
            value = math.log(end / start)
            found.append(Observation(_chain(links), value, variance, links[0]))
        if not known:
            return found
        weight = getattr(batch, f"{known[-1]}_g")
        packed = _Packed(self, batch, crop, setting, weight, _links(setting, known[-1], None))
        jars, step = batch.total_jars, 0.5
        if self.world.topped_up:  # from 0.6 below the whole jar to 0.4 above it
            jars, step = jars - 0.1, 1.0
        rounding = step / math.sqrt(12.0) / jars
        found.append(Observation(packed.log_jars, math.log(jars), rounding**2, _PACK))
        used, at_least = batch.brine_used_ml, batch.brine_left_ml == 0
        if used is not None:
            variance = _BRINE_SD**2
            found.append(Observation(packed.brine_ml, used, variance, _LOSS, at_least))
        return found


@dataclass(frozen=True)
class _Packed:
    """Jars and brine of a batch as functions of its quantities."""

    limit: Limit
    batch: Batch
    crop: int
    setting: Setting
    weight_g: float
    links: Sequence[int]  # still between that weight and the jars

    def _ready(self, z: Local) -> float:
        return self.weight_g * math.exp(_chain(self.links)(z))

    def _tissue(self, z: Local) -> float:
        return self.limit.household.crops[self.crop].centre["tissue"] + z[_TISSUE]

    def _log_density(self, z: Local) -> float:
        return float(bounded(z[_PACK], self._tissue(z)))

    def log_jars(self, z: Local) -> float:
        return math.log(self._ready(z) / self.setting.fill_ml) - self._log_density(z)

    def brine_ml(self, z: Local) -> float:
        world = self.limit.world
        ready = self._ready(z)
        fill = ready * math.exp(-self._log_density(z))
        if world.topped_up:
            fill = self.batch.total_jars * self.setting.fill_ml
        loss = math.exp(z[_LOSS])
        if world.simmer:
            loss *= float(simmer_minutes(fill))
        return fill - ready * math.exp(-self._tissue(z)) + loss


def _links(setting: Setting, before: str, after: str | None) -> list[int]:
    """Batch quantities between two stages; up to the jars where ``after`` is None."""
    stages = setting.stages
    end = len(stages) if after is None else stages.index(after) + 1
    return [_LINK[stage] for stage in stages[stages.index(before) + 1 : end]]


def _chain(links: Sequence[int]) -> Reading:
    """Log of the share of weight kept over these links."""

    def log_keep(z: Local) -> float:
        return sum(-math.log1p(math.exp(-z[0])) if i == 0 else z[i] for i in links)

    return log_keep


def _noise_scales(dof: float) -> list[tuple[float, float]]:
    """(share, variance scale) of normals that together make Student-t noise."""
    if not dof:
        return [(1.0, 1.0)]
    from scipy.stats import chi2

    edges = [0.0, 0.01, 0.05, 0.15, 0.35, 0.65, 1.0]
    bins = pairwise(edges)
    return [(high - low, dof / float(chi2.ppf((low + high) / 2, dof))) for low, high in bins]


def _slope(reading: Reading, z: Array) -> tuple[float, Array]:
    at = tuple(map(float, z))
    value, step = reading(at), 1e-5
    ahead = [reading((*at[:i], at[i] + step, *at[i + 1 :])) for i in range(len(at))]
    return value, (np.array(ahead) - value) / step


def _update(mean: Array, cov: Array, where: Array, seen: Observation) -> tuple[float, Array, Array]:
    """(evidence, mean, covariance) after one observation."""
    point = mean
    for _ in range(1 if seen.at_least else _ROUNDS):
        value, slope = _slope(seen.reading, point[where])
        across = cov[:, where] @ slope
        variance = float(slope @ across[where]) + seen.variance
        expected = value + float(slope @ (mean[where] - point[where]))
        point = mean + across * ((seen.value - expected) / variance)
    if seen.at_least:
        return _cut_off(mean, cov, across, expected, variance, seen.value)
    miss = seen.value - expected
    evidence = math.exp(-0.5 * miss**2 / variance) / math.sqrt(variance)
    return evidence, point, cov - np.outer(across, across) / variance


def _cut_off(
    mean: Array, cov: Array, across: Array, expected: float, variance: float, least: float
) -> tuple[float, Array, Array]:
    """The update when the value is only known to be at least ``least``: moments of a cut normal.

    Johnson, Kotz and Balakrishnan, Continuous Univariate Distributions 1, 2nd ed., 13.10.1.
    """
    sd = math.sqrt(variance)
    low = (least - expected) / sd
    above = 0.5 * math.erfc(low / math.sqrt(2.0))
    if above < 1e-12:  # far out in the tail the cut normal sits at its edge
        hazard = low + 1.0 / low
    else:
        hazard = math.exp(-0.5 * low**2) / math.sqrt(2 * math.pi) / above
    kept = 1.0 - hazard * (hazard - low)
    moved = mean + across * (hazard / sd)
    return above, moved, cov - np.outer(across, across) * ((1.0 - kept) / variance)


def _merged(mixture: Sequence[tuple[float, float, Array, Array]]) -> tuple[Array, Array]:
    """Mean and covariance of a mixture of (share, evidence, mean, covariance)."""
    if len(mixture) == 1:
        return mixture[0][2], mixture[0][3]
    weight = np.array([share * evidence for share, evidence, _, _ in mixture])
    total = weight.sum()
    weight = weight / total if total > 0 else np.eye(len(weight))[0]
    mean = sum(w * m for w, (_, _, m, _) in zip(weight, mixture, strict=True))
    cov = sum(
        w * (c + np.outer(m - mean, m - mean))
        for w, (_, _, m, c) in zip(weight, mixture, strict=True)
    )
    return np.asarray(mean), np.asarray(cov)
