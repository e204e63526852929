"""One look into the jars filled so far: the draws that fit what was weighed, poured or counted."""

import math
from collections.abc import Callable

import numpy as np
from msgspec import Struct
from msgspec.structs import replace
from numpy.typing import NDArray

from jarcast.domain.packing import SoFar
from jarcast.forecast.cannot_be import FEW, LOOSER, check_packed, packed_grams
from jarcast.forecast.conditioning import Seen, condition, resampled
from jarcast.forecast.elsewhere import beside_the_usual
from jarcast.forecast.remaining import Ahead
from jarcast.forecast.values import Places, Values
from jarcast.forecast.weighing import Weighing
from jarcast.learning.arrays import Array
from jarcast.learning.draws import alike, noise_sds, pairs_of
from jarcast.learning.fit.within_batch import FARTHEST_JARS
from jarcast.learning.learned import Learned
from jarcast.learning.model.brine_rows import SPACE_SHARE
from jarcast.learning.model.links import density_limit, limited, unlimited
from jarcast.learning.model.weight_rows import SCALE_SHARE
from jarcast.learning.posterior import Noise

_PART_JAR = 0.1  # sd of a part-full jar judged by eye, in jars; common practice, no source
# The pot's loss goes along with the jars, by and large: so many jars' worth of doubt about it.
_LOSS_EVENNESS = 4.0  # common practice, no source
# Chance that a pot tells nothing of the jars, spilt or misread, and by how many ml it is off then,
# by and large. Common practice, no source.
_SPILT, _SPILT_ML = 0.02, 500.0
_STEADY = 0.9  # a loss that so many pots stay below; common practice, no source


def share_gone(part: Array, rng: np.random.Generator) -> Array:
    """Draws of the share of the pot loss that is gone when this part of the batch is packed."""
    gone = rng.beta(0.5 + _LOSS_EVENNESS * part, 0.5 + _LOSS_EVENNESS * (1.0 - part))
    return np.where(part > 0.0, gone, 0.0)


def _spilt(off_ml: Array) -> float:
    """How likely, by ml, a pot that was spilt or misread is to be so far off."""
    return float(np.exp(-np.abs(off_ml) / _SPILT_ML).mean()) / (2.0 * _SPILT_ML)


class Jars(Struct, frozen=True):
    """Jars looked into: of each sort, after so many ``before``, of ``in_all`` of the batch."""

    of_sorts: tuple[float, ...]
    before: float
    in_all: float

    @property
    def count(self) -> float:
        """How many they are."""
        return math.fsum(self.of_sorts)

    @property
    def late(self) -> float:
        """How many jars later than the middle of the batch their middle is."""
        late = self.before + 0.5 * self.count - 0.5 * max(self.in_all, self.before + self.count)
        return min(max(late, -FARTHEST_JARS), FARTHEST_JARS)


class Found(Struct, frozen=True):
    """The draws that fit what was seen: the ready produce, that in the jars, and the pot's loss.

    Each (draws,); ``spent_ml`` is what of the loss was gone by then, None where that is not drawn,
    and ``unusual`` which draws take it that the bowl does not tell what is in the jars.
    """

    values: Values
    ready_g: Array
    packed_g: Array
    loss_ml: Array
    spent_ml: Array | None = None
    unusual: NDArray[np.bool_] | None = None


class Seeing:
    """One look into jars of each sort: volume, how the sorts share it, and its own doubt."""

    def __init__(
        self,
        learned: Learned,
        ahead: Ahead,
        jars: Jars,
        weighing: Weighing,
        rng: np.random.Generator,
    ) -> None:
        """Draws of ``rng`` for these ``jars``; ``weighing`` is how finely all of it was read."""
        self.learned, self.ahead, self.rng = learned, ahead, rng
        self.jars, self.weighing, count = jars, weighing, jars.count
        sorts = zip(jars.of_sorts, ahead.request.turns, strict=True)
        volumes = np.array([n * turn.fill_ml for n, turn in sorts])
        self.volume = float(volumes.sum())
        self.shares = volumes / max(self.volume, 1e-9)
        usual = learned.within.noise
        noise = usual.variance / max(count, 0.25)
        if count != round(count):
            noise += (_PART_JAR / max(count, 0.25)) ** 2
        self.jar_noise = Noise(noise, usual.dof)
        self.limit = density_limit(ahead.situation.crop)

    def _jar_sd(self, draws: int) -> Array:
        """Sd of how far these jars' mean lies off the batch's, in logs of density, (draws,)."""
        return alike(noise_sds(self.jar_noise, pairs_of(draws), self.rng), draws)

    def _condition(
        self,
        values: Values,
        produce_g: Array,
        extra: float,
        log_prior: Array | float = 0.0,
        *,
        given_ahead: bool = False,
    ) -> tuple[Values, Places, float]:
        """``given_ahead``: what lies ahead was drawn already, and stays as it is."""
        log_density = np.log(unlimited(produce_g / self.volume, self.limit))
        log_density = log_density - values.slope * self.jars.late
        noise = self._jar_sd(produce_g.size) ** 2 + extra
        seen = Seen(self.shares, log_density, noise)
        return condition(
            self.learned, self.ahead, values, seen, self.rng, log_prior, given_ahead=given_ahead
        )

    def told(
        self, values: Values, ready_of: Callable[[Values], Array], told: SoFar, loss_ml: Array
    ) -> Found:
        """By what tells most: the produce weighed, else the pot, else the jars."""
        if told.produce_g is not None or told.produce_left_g is not None:
            return self.weighed(values, ready_of, told, loss_ml)
        if told.brine_ml is None and (used := told.used_ml or 0.0) > 0.0:
            return self.poured(values, ready_of, used, loss_ml)
        return Found(*self.counted(values, ready_of, told.brine_ml), loss_ml)

    def weighed(
        self, values: Values, ready_of: Callable[[Values], Array], told: SoFar, loss_ml: Array
    ) -> Found:
        """The produce in the jars was weighed, or what is left, or both."""
        ahead, read = self.ahead, self.weighing.read
        if told.produce_g is None and told.produce_left_g is not None:
            ready = ready_of(values)
            packed, in_doubt = ready - read(told.produce_left_g), not ahead.weighed
        else:
            packed, in_doubt = read(told.produce_g or 0.0), False
            left = told.produce_left_g
            ready = packed + (0.0 if left is None else read(left))
        expected = self.expected(values)
        known = packed_grams(ahead.request, told, weighed=ahead.weighed)
        check_packed(packed, known, ahead.request, told, (self.volume, expected * self.volume))
        # A pack as loose as these is not taken for none.
        least = 0.02 if in_doubt else min(0.02, expected / LOOSER)
        possible = packed > least * self.volume
        if told.produce_g is None:
            likely, likelihood = self._by_difference(
                values, (ready, packed, possible), loss_ml, in_doubt=in_doubt
            )
            if not told.produce_left_g:  # an empty bowl: nothing is to come, wherever it went
                return likely
            return self._or_elsewhere(likely, likelihood, values, ready, told)
        packed = np.where(possible, packed, 1.0)
        weight = np.where(possible, -np.log(packed), -np.inf)
        values, index, _ = self._condition(values, packed, SCALE_SHARE**2, weight)
        if told.produce_left_g is not None:
            return Found(values, ready[index], packed[index], loss_ml)
        return Found(*self._at_least(values, ready_of(values), packed[index]), loss_ml)

    def _by_difference(
        self,
        values: Values,
        weights: tuple[Array, Array, NDArray[np.bool_]],
        loss_ml: Array,
        *,
        in_doubt: bool,
    ) -> tuple[Found, float]:
        """What is not left is in the jars: the draws that fit that, and how likely it was.

        ``weights`` are all the ready produce, that in the jars, and whether so much can be.
        """
        ready, packed, possible = weights
        if possible.mean() < FEW:  # there was more than any draw foretold
            filled = self._by_density(values)
            return Found(values, ready - packed + filled, filled, loss_ml), 0.0
        packed = np.where(possible, packed, 1.0)
        weight = np.where(possible, -np.log(packed), -np.inf)
        values, index, likelihood = self._condition(
            values, packed, SCALE_SHARE**2, weight, given_ahead=in_doubt
        )
        return Found(values, ready[index], packed[index], loss_ml), likelihood

    def _or_elsewhere(
        self, usual: Found, likelihood: float, values: Values, ready: Array, told: SoFar
    ) -> Found:
        """In so many of the draws as that is likely, not all that is missing is in the jars."""
        filled, left = self._by_density(values), self.weighing.read(told.produce_left_g or 0.0)
        others = beside_the_usual(ready, filled, left)
        as_usual = 1.0 - sum(one.chance for one in others)
        found, chances = [usual], [as_usual * likelihood * self._of_the_pot(usual, told)]
        for one in others:
            weight = np.exp(one.log_weight)
            if not weight.any():
                continue
            index = resampled(one.log_weight, self.rng)
            picked = values.weights_picked(index)
            other = Found(picked, one.ready_g[index], filled[index], usual.loss_ml)
            found.append(other)
            chances.append(one.chance * float(weight.mean()) * self._of_the_pot(other, told))
        if sum(chances) <= 0.0:
            return usual
        ends = np.cumsum(chances) / sum(chances)
        which = np.searchsorted(ends, self.rng.random(filled.size)).clip(max=len(found) - 1)
        mixed = usual
        for number, other in enumerate(found[1:], start=1):
            chosen = which == number
            mixed = Found(
                other.values.where(chosen, mixed.values),
                np.where(chosen, other.ready_g, mixed.ready_g),
                np.where(chosen, other.packed_g, mixed.packed_g),
                usual.loss_ml,
            )
        return replace(mixed, unusual=which > 0)

    def _of_the_pot(self, found: Found, told: SoFar) -> float:
        """How well the brine goes with these draws: the density of what was read, by ml."""
        seen = told.used_ml if told.brine_ml is None else told.brine_ml
        if seen is None:
            return 1.0
        space = np.maximum(self.volume - found.packed_g * found.values.own_ml, 0.0)
        off, variance = seen - space, (SPACE_SHARE * space) ** 2 + self.weighing.pot_variance
        if told.brine_ml is None:
            part = found.packed_g / np.maximum(found.ready_g, found.packed_g)
            off = off - share_gone(part, self.rng) * found.loss_ml
            variance = variance + self.weighing.pot_variance
        near = np.exp(-0.5 * off**2 / variance) / np.sqrt(2.0 * math.pi * variance)
        return (1.0 - _SPILT) * float(near.mean()) + _SPILT * _spilt(off)

    def onward(self, found: Found) -> Found:
        """Once these were filled after those seen, with nothing weighed anew.

        Only draws stay in which there was as much, unless hardly any has it.
        """
        packed = found.packed_g + self._by_density(found.values)
        ready, index = np.maximum(found.ready_g, packed), np.arange(packed.size)
        enough = found.ready_g >= packed
        if not enough.all() and enough.mean() >= FEW:
            index = resampled(np.where(enough, 0.0, -np.inf), self.rng)
        values = found.values.weights_picked(index)
        spent = None if found.spent_ml is None else found.spent_ml[index]
        unusual = None if found.unusual is None else found.unusual[index]
        return Found(
            values.with_own(values.own_ml[index]), ready[index], packed[index],
            found.loss_ml[index], spent, unusual,
        )  # fmt: skip

    def poured(
        self, values: Values, ready_of: Callable[[Values], Array], used: float, loss_ml: Array
    ) -> Found:
        """Only what left the pot is known: less the loss, it is the room the produce leaves.

        Gives the pot loss of the draws kept as well, and what of it is gone. Where it was spilt, or
        misread, it tells nothing of the produce: in so many of the draws as that is likely, given
        how far it is off.
        """
        ready = ready_of(values)
        filled = self._by_density(values)
        gone = share_gone(filled / np.maximum(ready, filled), self.rng)
        # What goes on along with the jars; more than that is lost at once, now or later.
        steady = np.minimum(loss_ml, np.quantile(loss_ml, _STEADY))
        spent = gone * steady
        counted = self._at_least(values, ready, filled)
        used_ml = used + self.weighing.pot_error() - self.weighing.pot_error()
        packed = (self.volume - (used_ml - spent)) / values.own_ml
        possible = (packed > 0.02 * self.volume) & (packed < ready)
        if possible.mean() < FEW:  # it cannot be told from this: the count alone counts
            return Found(*counted, loss_ml, spent)
        off = used - (self.volume - filled * values.own_ml + spent)
        packed = np.where(possible, packed, 1.0)
        weight = np.where(possible, -np.log(packed * values.own_ml), -np.inf)
        told, index, likelihood = self._condition(values, packed, 0.0, weight, given_ahead=True)
        told = told.with_own(values.own_ml[index])
        spilt = _SPILT * _spilt(off)
        chance = spilt / (spilt + (1.0 - _SPILT) * likelihood)
        # What only a draw here and there explains, is hardly explained.
        chance = max(chance, 1.0 - np.unique(index).size / (FEW * index.size))
        is_spilt = self.rng.random(off.size) < chance
        return Found(
            counted[0].where(is_spilt, told),
            np.where(is_spilt, counted[1], ready[index]),
            np.where(is_spilt, counted[2], packed[index]),
            np.where(is_spilt, steady, steady[index]) + loss_ml - steady,
            np.where(is_spilt, spent, spent[index]),
        )

    def counted(
        self, values: Values, ready_of: Callable[[Values], Array], brine_ml: float | None
    ) -> tuple[Values, Array, Array]:
        """Nothing was weighed: the brine in the jars tells of the produce, or their count alone."""
        room = self.volume - brine_ml if brine_ml is not None else 0.0
        if room < 0.15 * self.volume:
            packed = self._by_density(values)
            return self._at_least(values, ready_of(values), packed)
        space = self.volume - room
        doubt = (self.weighing.pot_variance + (SPACE_SHARE * space) ** 2) / room**2
        own = values.own_ml
        middle = np.full(own.size, room / float(own.mean()))
        values, _, _ = self._condition(values, middle, doubt + float(own.var() / own.mean() ** 2))
        packed = room * np.exp(math.sqrt(doubt) * self.rng.standard_normal(own.size)) / own
        return self._at_least(values, ready_of(values), packed)

    def expected(self, values: Values) -> float:
        """About the density expected of these jars before they were seen, in g/ml."""
        return float(np.median(limited(np.exp(values.pack @ self.shares), self.limit)))

    def _by_density(self, values: Values) -> Array:
        """Produce in the jars by the density drawn for them."""
        draws = values.pack.shape[0]
        jitter = self._jar_sd(draws) * self.rng.standard_normal(draws)
        jitter = jitter + values.slope * self.jars.late
        return self.volume * limited(np.exp(values.pack @ self.shares + jitter), self.limit)

    def _at_least(self, values: Values, ready: Array, packed: Array) -> tuple[Values, Array, Array]:
        """Only draws in which there was as much as is packed."""
        enough = ready >= packed
        if enough.all():
            return values, ready, packed
        if enough.mean() < FEW:
            return values, np.maximum(ready, packed), packed
        index = resampled(np.where(enough, 0.0, -np.inf), self.rng)
        return values.weights_picked(index), ready[index], packed[index]
