"""What would narrow a forecast: what to weigh next, and what it buys."""

from msgspec import Struct

from jarcast.domain.stages import STAGE_REACHED_BY, Link
from jarcast.forecast.after_jars import foreseen, left_open
from jarcast.forecast.chain import Chain
from jarcast.forecast.outcome import Outcome
from jarcast.learning.arrays import Array

LEVEL = 0.8
_WORTH_READING = 1.5  # jars in all, for each of those read: else there is little left to foretell


class Narrowing(Struct, frozen=True):
    """What one more reading buys: the range of jars and of brine after it, over that of now.

    ``weigh`` is the column of the weight, '' where it is bowl and pot that are read once
    ``after_jars`` are full; that takes it that the produce was weighed as it goes into the jars.
    """

    weigh: str
    after_jars: int
    jars: float
    brine: float


def narrowings(chain: Chain, jars_read: int) -> tuple[Narrowing, ...]:
    """The next weight, then the first jars, as far as each of them lies ahead."""
    found = []
    if chain.weights:
        link, weight = _next_weight(chain)
        found.append(_narrowing(chain, [weight], weigh=STAGE_REACHED_BY[link].column))
    if Outcome(chain.in_all).median >= _WORTH_READING * jars_read:
        read = foreseen(chain, jars_read)
        found.append(_narrowing(chain, [read.jars, read.brine_ml], after_jars=jars_read))
    return tuple(found)


def _next_weight(chain: Chain) -> tuple[Link, Array]:
    """The first weight ahead that is sure to come: a cure that may not be is passed over."""
    sure = [one for one in chain.weights if one[0] is not Link.CURE or chain.cured >= 1.0]
    return (sure or list(chain.weights))[0]


def _narrowing(
    chain: Chain, seen: list[Array], *, weigh: str = "", after_jars: int = 0
) -> Narrowing:
    jars, brine = (_ratio(amount, seen) for amount in (chain.in_all, chain.brine_ml))
    return Narrowing(weigh, after_jars, jars, brine)


def _ratio(amount: Array, seen: list[Array]) -> float:
    low, high = Outcome(amount).interval(LEVEL)
    then = left_open(amount, seen).width(LEVEL)
    return min(then / (high - low), 1.0) if high > low else 1.0
