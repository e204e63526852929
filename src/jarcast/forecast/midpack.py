"""What the jars filled so far say of the rest of the batch."""

import math
from collections.abc import Callable

import numpy as np
from msgspec.structs import replace

from jarcast.domain.packing import SoFar
from jarcast.domain.stages import STAGE_OF, too_heavy
from jarcast.errors import ForecastError
from jarcast.forecast.conditioning import Seen, condition, resampled
from jarcast.forecast.packed import Packed, nothing_packed
from jarcast.forecast.readings import pot_read, telling, turns_left, volume_of
from jarcast.forecast.remaining import Ahead
from jarcast.forecast.values import Places, Values
from jarcast.learning.arrays import Array
from jarcast.learning.draws import alike, noise_sds, pairs_of
from jarcast.learning.learned import Learned
from jarcast.learning.model.brine_rows import POT_ML, SPACE_SHARE
from jarcast.learning.model.links import density_limit, limited, unlimited
from jarcast.learning.model.weight_rows import SCALE_SHARE
from jarcast.learning.posterior import Noise

_PART_JAR = 0.1  # sd of a part-full jar judged by eye, in jars; common practice, no source
# Sd of a weighing at the counter: less than of a stage's weight, since what clings to a bowl that
# is weighed again and again drops out. Common practice, no source.
_BOWL_G = 2.0
# The pot's loss goes along with the jars, by and large: so many jars' worth of doubt about it.
_LOSS_EVENNESS = 4.0  # common practice, no source
_SPILT = 0.99  # a loss that so many pots stay below; common practice, no source
_FEW = 0.02  # share of the draws that a count alone may leave


def packed_so_far(
    learned: Learned,
    ahead: Ahead,
    so_far: SoFar,
    values: Values,
    ready_of: Callable[[Values], Array],
    loss_ml: Array,
    rng: np.random.Generator,
) -> Packed:
    """The draws that fit the jars filled so far. ``ready_of`` carries draws to the ready weight.

    Raises ForecastError for more in the jars, or left, than there was or they hold.
    """
    request = ahead.request
    jars, turns = turns_left(request, so_far.jars)
    volume = volume_of(request, so_far.jars)
    if volume <= 0.0:
        ready = ready_of(values)
        if so_far.produce_left_g is not None:
            ready = np.full(ready.size, float(so_far.produce_left_g))
        nothing = nothing_packed(values, ready, loss_ml, request)
        return replace(nothing, turns=turns, pot=pot_read(so_far.readings, request))
    if so_far.brine_ml is not None and so_far.brine_ml > volume:
        raise ForecastError(
            f"so far: {so_far.brine_ml:.0f} ml of brine in {so_far.jars:g} jars is more than they "
            f"hold ({volume:.0f} ml); measure again, or leave it out"
        )
    told = telling(so_far)
    known = _packed_grams(ahead, told)
    then, _ = turns_left(request, told.jars)
    seeing = _Seeing(learned, ahead, then, told.jars, rng)
    spent = None
    if known is not None:
        found = seeing.weighed(values, ready_of, known, told.ready_g)
    elif told.produce_left_g is not None:
        found = seeing.left(values, ready_of, told.produce_left_g)
    elif told.brine_ml is None and (used := told.used_ml or 0.0) > 0.0:
        values, ready, packed, loss_ml, spent = seeing.poured(values, ready_of, used, loss_ml)
        found = values, ready, packed
    else:
        found = seeing.counted(values, ready_of, told.brine_ml)
    values, ready, packed = found
    if told.jars < so_far.jars:
        since = tuple(now - before for now, before in zip(jars, then, strict=True))
        rest = _Seeing(learned, ahead, since, so_far.jars - told.jars, rng)
        packed, index = rest.onward(values, ready, packed)
        values = values.weights_picked(index)
        values = values.with_own(values.own_ml[index])
        ready, packed, loss_ml = np.maximum(ready, packed)[index], packed[index], loss_ml[index]
        spent = None if spent is None else spent[index]
    weighed = known is not None and told is so_far
    pot = pot_read((told,) if spent is not None else so_far.readings, request, so_far.jars)
    return Packed(values, ready, packed, jars, volume, turns, loss_ml, spent, weighed, pot)


def _packed_grams(ahead: Ahead, so_far: SoFar) -> float | None:
    """Ready produce in the jars, where it was weighed on one side or the other.

    Raises ForecastError for more of it than there was.
    """
    request = ahead.request
    weighed = not ahead.links and not request.grams_sd
    most = request.grams  # no link makes produce heavier than it was, but by the doubt of a scale
    words = f"{STAGE_OF[request.stage].label} ({request.grams:.0f} g)"
    for name, grams in (
        ("packed", so_far.produce_g),
        ("left", so_far.produce_left_g),
        ("packed and left together", so_far.ready_g),
    ):
        if grams is not None and not request.grams_sd and too_heavy(grams, most):
            raise ForecastError(
                f"so far: {grams:.0f} g {name} is more than {words}; weigh again, or leave out "
                "the one you doubt"
            )
    if so_far.produce_g is not None:
        return so_far.produce_g
    if so_far.produce_left_g is None or not weighed:
        return None
    packed = request.grams - so_far.produce_left_g
    if packed <= 0.0:
        raise ForecastError(
            f"so far: {so_far.jars:g} jars are packed and {so_far.produce_left_g:.0f} g are left, "
            f"which is all there was: {words}; weigh again, or leave out the one you doubt"
        )
    return packed


def share_gone(part: Array, rng: np.random.Generator) -> Array:
    """Draws of the share of the pot loss that is gone when this part of the batch is packed."""
    gone = rng.beta(0.5 + _LOSS_EVENNESS * part, 0.5 + _LOSS_EVENNESS * (1.0 - part))
    return np.where(part > 0.0, gone, 0.0)


def _weighing(grams: float) -> float:
    """Variance of the logarithm of what was packed, from the scale."""
    return (_BOWL_G / max(grams, 1e-3)) ** 2 + SCALE_SHARE**2


class _Seeing:
    """One look into jars of each sort: volume, how the sorts share it, and its own doubt."""

    def __init__(
        self,
        learned: Learned,
        ahead: Ahead,
        jars: tuple[float, ...],
        count: float,
        rng: np.random.Generator,
    ) -> None:
        self.learned, self.ahead, self.rng = learned, ahead, rng
        volumes = np.array([n * t.fill_ml for n, t in zip(jars, ahead.request.turns, strict=True)])
        self.volume = float(volumes.sum())
        self.shares = volumes / max(self.volume, 1e-9)
        noise = learned.jar_to_jar.variance / max(count, 0.25)
        if count != round(count):
            noise += (_PART_JAR / max(count, 0.25)) ** 2
        self.jar_noise = Noise(noise, learned.jar_to_jar.dof)
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
    ) -> tuple[Values, Places]:
        """``given_ahead``: what lies ahead was drawn already, and stays as it is."""
        log_density = np.log(unlimited(produce_g / self.volume, self.limit))
        noise = self._jar_sd(produce_g.size) ** 2 + extra
        seen = Seen(self.shares, log_density, noise)
        return condition(
            self.learned, self.ahead, values, seen, self.rng, log_prior, given_ahead=given_ahead
        )

    def weighed(
        self,
        values: Values,
        ready_of: Callable[[Values], Array],
        grams: float,
        ready: float | None,
    ) -> tuple[Values, Array, Array]:
        """The produce in the jars was weighed; ``ready`` where all of it was."""
        packed = np.full(values.pack.shape[0], grams)
        values = self._condition(values, packed, _weighing(grams))[0]
        if ready is not None:
            return values, np.full(packed.size, ready), packed
        return self._at_least(values, ready_of(values), packed)

    def onward(self, values: Values, ready: Array, before: Array) -> tuple[Array, Places]:
        """Produce in the jars once these were filled after ``before``, with nothing weighed anew.

        Gives as well the places of the draws in which there was as much.
        """
        packed = before + self._by_density(values)
        enough = ready >= packed
        if enough.all() or enough.mean() < _FEW:
            return packed, np.arange(packed.size)
        return packed, resampled(np.where(enough, 0.0, -np.inf), self.rng)

    def left(
        self, values: Values, ready_of: Callable[[Values], Array], left: float
    ) -> tuple[Values, Array, Array]:
        """What is left was weighed, and how much there was is still in doubt."""
        ready = ready_of(values)
        packed = ready - left
        possible = packed > 0.02 * self.volume
        if possible.mean() < _FEW:  # there was more than any draw foretold
            packed = self._by_density(values)
            return values, packed + left, packed
        packed = np.where(possible, packed, 1.0)
        weight = np.where(possible, -np.log(packed), -np.inf)
        extra = _weighing(float(packed.mean()))
        values, index = self._condition(values, packed, extra, weight, given_ahead=True)
        return values, ready[index], packed[index]

    def poured(
        self, values: Values, ready_of: Callable[[Values], Array], used: float, loss_ml: Array
    ) -> tuple[Values, Array, Array, Array, Array]:
        """Only what left the pot is known: less the loss, it is the room the produce leaves.

        Gives the pot loss of the draws kept as well, and what of it is gone. More gone than a pot
        loses is a spill or a slip, and tells nothing of the produce.
        """
        ready = ready_of(values)
        filled = self._by_density(values)
        gone = share_gone(filled / np.maximum(ready, filled), self.rng)
        spent = gone * loss_ml
        reading = math.sqrt(2.0) * POT_ML * self.rng.standard_normal(spent.size)
        packed = (self.volume - (used - spent + reading)) / values.own_ml
        possible = (packed > 0.02 * self.volume) & (packed < ready)
        if possible.mean() < _FEW:  # it cannot be told from this: the count alone counts
            found = self._at_least(values, ready, filled)
            return *found, loss_ml, spent
        packed = np.where(possible, packed, 1.0)
        weight = np.where(possible, -np.log(packed), -np.inf)
        conditioned, index = self._condition(values, packed, 0.0, weight, given_ahead=True)
        if np.median(loss_ml[index]) > np.quantile(loss_ml, _SPILT):
            found = self._at_least(values, ready, filled)
            return *found, loss_ml, spent
        values = conditioned.with_own(values.own_ml[index])
        return values, ready[index], packed[index], loss_ml[index], spent[index]

    def counted(
        self, values: Values, ready_of: Callable[[Values], Array], brine_ml: float | None
    ) -> tuple[Values, Array, Array]:
        """Nothing was weighed: the brine in the jars tells of the produce, or their count alone."""
        room = self.volume - brine_ml if brine_ml is not None else 0.0
        if room < 0.15 * self.volume:
            packed = self._by_density(values)
            return self._at_least(values, ready_of(values), packed)
        space = self.volume - room
        doubt = (POT_ML**2 + (SPACE_SHARE * space) ** 2) / room**2
        own = values.own_ml
        middle = np.full(own.size, room / float(own.mean()))
        values, _ = self._condition(values, middle, doubt + float(own.var() / own.mean() ** 2))
        packed = room * np.exp(math.sqrt(doubt) * self.rng.standard_normal(own.size)) / own
        return self._at_least(values, ready_of(values), packed)

    def _by_density(self, values: Values) -> Array:
        """Produce in the jars by the density drawn for them."""
        draws = values.pack.shape[0]
        jitter = self._jar_sd(draws) * self.rng.standard_normal(draws)
        return self.volume * limited(np.exp(values.pack @ self.shares + jitter), self.limit)

    def _at_least(self, values: Values, ready: Array, packed: Array) -> tuple[Values, Array, Array]:
        """Only draws in which there was as much as is packed."""
        enough = ready >= packed
        if enough.all():
            return values, ready, packed
        if enough.mean() < _FEW:
            return values, np.maximum(ready, packed), packed
        index = resampled(np.where(enough, 0.0, -np.inf), self.rng)
        return values.weights_picked(index), ready[index], packed[index]
