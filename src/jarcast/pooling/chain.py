"""The whole chain of many households learned at once, from a table of plain arrays."""

from collections.abc import Sequence

import numpy as np
from msgspec import Struct

from jarcast.batch import Arrow
from jarcast.learning.arrows import (
    BATCH_SIZE_EFFECT,
    CURE_HOURS,
    JAR_SIZE_EFFECT,
    PINT_ML,
    SALT_EFFECT,
    TISSUE_HAND,
    USUAL_CURE_HOURS,
    USUAL_READY_G,
    USUAL_SALT_SHARE,
    WEIGHT_ARROWS,
    WIDE_EFFECT,
    Situation,
    centre,
    density_limit,
    unlimited_all,
)
from jarcast.learning.beliefs import Beliefs
from jarcast.learning.brine import POT_ML, SPACE_SHARE
from jarcast.learning.circumstances import LEAST_CURE_CHANCE
from jarcast.learning.regression import Array
from jarcast.learning.robust import TAIL_WIDENING
from jarcast.learning.rows import SCALE_G, SCALE_SHARE
from jarcast.pooling.many import Codes, Places, Solved, Sums, places, solve, sums
from jarcast.pooling.reduce import crop_loadings

Crop = tuple[str, str, str]
JAR_STEP = 0.5  # jars are taken to be counted to the half
CHUNK = 65_536  # rows at a time
_OWN = {Arrow.CURE: 1, Arrow.PACK: 3}  # salt; jar size, batch size and wide mouths


class ManyBatches(Struct, frozen=True):
    """Batches of many households, each array (rows,); NaN where nothing was written down.

    ``household`` and ``crop`` are codes from 0; weights in g, volumes in ml, ``wide`` the share of
    jars with a wide mouth.
    """

    household: Codes
    crop: Codes
    as_bought_g: Array
    trimmed_g: Array
    salt_g: Array
    cure_hours: Array
    cured_g: Array
    cooked_g: Array
    jars: Array
    fill_volume_ml: Array
    wide: Array
    brine_used_ml: Array

    def part(self, rows: slice) -> "ManyBatches":
        """Some of the rows."""
        return ManyBatches(*(getattr(self, name)[rows] for name in self.__struct_fields__))


def learn_many(
    table: ManyBatches, crops: Sequence[Crop], households: int, beliefs: Beliefs
) -> dict[Arrow, Solved]:
    """Learn every arrow of every household with the steady kernel.

    ``crops`` are the (produce, cut, pack) that the codes stand for. A missing weight leaves out the
    rows it would have stood in; nothing is read off the brine. Raises ValueError for no rows.
    """
    at = places(table.household, table.crop, households, len(crops))
    people = beliefs.people
    hands = {arrow: getattr(people, arrow.value).hand ** 2 for arrow in WEIGHT_ARROWS}
    hands[Arrow.BRINE] = TISSUE_HAND**2
    loss = (people.loss_ml * people.loss_between_people) ** 2
    return {
        arrow: solve(
            at,
            _summed(at, table, arrow, crops, beliefs),
            hand=hand,
            crops=_covariance(arrow, crops, beliefs),
            own=(loss,) if arrow is Arrow.BRINE else (1.0,) * _OWN.get(arrow, 0),
        )
        for arrow, hand in hands.items()
    }


def _summed(
    at: Places, table: ManyBatches, arrow: Arrow, crops: Sequence[Crop], beliefs: Beliefs
) -> Sums:
    """The sums of one arrow, some rows at a time: that is all the memory the rows take."""
    found = None
    for start in range(0, len(table.household), CHUNK):
        some = slice(start, start + CHUNK)
        row = _Rows(table.part(some), crops, beliefs).of(arrow)
        told = sums(at.part(some), row.y, f=row.f, z=row.z, weight=1.0 / row.variance)
        found = told if found is None else found + told
    if found is None:
        raise ValueError("there is no row to learn from")
    return found


def _covariance(arrow: Arrow, crops: Sequence[Crop], beliefs: Beliefs) -> Array:
    """Prior covariance of the crops' values, shape (crops, crops)."""
    loads = [crop_loadings(beliefs, arrow, crop, beliefs.people) for crop in crops]
    names = {e: i for i, e in enumerate(dict.fromkeys(e for one in loads for e in one))}
    A = np.zeros((len(loads), len(names)))
    for i, one in enumerate(loads):
        A[i, [names[e] for e in one]] = list(one.values())
    return A @ A.T


class _Row(Struct, frozen=True):
    y: Array
    f: Array | float
    z: tuple[Array, ...]
    variance: Array


class _Rows:
    """The rows of each arrow, on its scale, less the published centres."""

    def __init__(self, table: ManyBatches, crops: Sequence[Crop], beliefs: Beliefs) -> None:
        self.table, self.crops, self.beliefs = table, crops, beliefs
        self.believed = [beliefs.crop(*crop) for crop in crops]
        hot = np.array([crop[2] == "hot" for crop in crops])[table.crop]
        sometimes = np.array([one.cured >= LEAST_CURE_CHANCE for one in self.believed])[table.crop]
        said = ~np.isnan(table.cured_g) | (table.salt_g > 0) | (table.cure_hours > 0)
        uncured = ~said & ((table.cure_hours == 0) | ~sometimes)
        before = np.where(uncured, table.trimmed_g, table.cured_g)  # as it went into pot or jars
        self.before = np.where(hot, before, np.nan)
        self.ready = np.where(hot, table.cooked_g, before)
        hours = np.where(np.isnan(table.cure_hours), USUAL_CURE_HOURS, table.cure_hours)
        self.cure = -np.expm1(-hours / CURE_HOURS) / -np.expm1(-24.0 / CURE_HOURS)

    def of(self, arrow: Arrow) -> _Row:
        """The rows of an arrow."""
        return {
            Arrow.TRIM: self._trim, Arrow.CURE: self._cure, Arrow.COOK: self._cook,
            Arrow.PACK: self._pack, Arrow.BRINE: self._brine,
        }[arrow]()  # fmt: skip

    def _centres(self, arrow: Arrow) -> Array:
        found = [
            centre(arrow, Situation(one, *crop))
            for one, crop in zip(self.believed, self.crops, strict=True)
        ]
        return np.array(found)[self.table.crop]

    def _noise(self, arrow: Arrow) -> float:
        return float(getattr(self.beliefs.people, arrow.value).noise ** 2 / TAIL_WIDENING)

    def _trim(self) -> _Row:
        share = np.minimum(self.table.trimmed_g / self.table.as_bought_g, 1.0 - 0.003)
        reading = _scale(self.table.trimmed_g) + _scale(self.table.as_bought_g)
        reading = np.minimum(reading / (1.0 - share) ** 2, 4.0)
        y = np.log(share / (1.0 - share)) - self._centres(Arrow.TRIM)
        return _Row(y, 1.0, (), self._noise(Arrow.TRIM) + reading)

    def _cure(self) -> _Row:
        table = self.table
        y = np.log(table.cured_g / table.trimmed_g) - self.cure * self._centres(Arrow.CURE)
        share = np.where(table.salt_g > 0, table.salt_g, np.nan) / table.trimmed_g
        salt = SALT_EFFECT * np.log(np.clip(share, 0.003, 0.3) / USUAL_SALT_SHARE) * self.cure
        variance = self._noise(Arrow.CURE) + _scale(table.trimmed_g) + _scale(table.cured_g)
        return _Row(y, self.cure, (np.nan_to_num(salt),), variance)

    def _cook(self) -> _Row:
        y = np.log(self.table.cooked_g / self.before) - self._centres(Arrow.COOK)
        reading = _scale(self.table.cooked_g) + _scale(self.before)
        return _Row(y, 1.0, (), self._noise(Arrow.COOK) + reading)

    def _pack(self) -> _Row:
        table = self.table
        limits = np.array([density_limit(one) for one in self.believed])[table.crop]
        density = unlimited_all(self.ready / table.fill_volume_ml / limits, 1.0) * limits
        y = np.log(density) - self._centres(Arrow.PACK)
        jar_to_jar = self.beliefs.people.jar_to_jar**2
        reading = jar_to_jar / table.jars + (JAR_STEP / table.jars) ** 2 / 12.0
        size = JAR_SIZE_EFFECT * np.log(table.fill_volume_ml / table.jars / PINT_ML)
        batch = BATCH_SIZE_EFFECT * np.log(np.clip(self.ready / USUAL_READY_G, 0.02, 50.0))
        variance = self._noise(Arrow.PACK) + reading + _scale(self.ready)
        return _Row(y, 1.0, (size, batch, WIDE_EFFECT * table.wide), variance)

    def _brine(self) -> _Row:
        table, people = self.table, self.beliefs.people
        tissue = np.array([one.tissue.centre for one in self.believed])[table.crop]
        own = self.ready / tissue
        space = table.fill_volume_ml - own
        y = space - table.brine_used_ml + people.loss_ml
        loss = people.loss_between_batches * people.loss_ml
        variance = (loss**2 + (SPACE_SHARE * np.maximum(space, 0.0)) ** 2) / TAIL_WIDENING
        step = JAR_STEP * table.fill_volume_ml / table.jars
        variance += step**2 / 12.0 + 2.0 * POT_ML**2 + self.ready**2 * _scale(self.ready)
        return _Row(y, own, (np.full(y.shape, -1.0),), variance)


def _scale(grams: Array) -> Array:
    """Variance of the logarithm of a weight, from the scale."""
    return (SCALE_G / grams) ** 2 + SCALE_SHARE**2
