"""Brine by pots: what to heat for the first load of the canner, and what the next pot may be.

One order that runs short once in twenty is, at first, twice what is used. Made in pots, the first
need only do for the first load, and the next is ordered once a few jars have told of the batch.
"""

import numpy as np
from msgspec import Struct

from jarcast.forecast.after_jars import foreseen, left_open
from jarcast.forecast.chain import Chain
from jarcast.forecast.outcome import Outcome
from jarcast.forecast.seeing import share_gone
from jarcast.measures import Units, round_up_volume

USUAL_LOAD = 7  # quarts that a boiling-water canner of the usual size holds; common practice
READ_AFTER = 3  # jars; then the next pot is ordered
LIKELY = 0.9  # how often the next pot lies in its range
# Of the chance of running short, what the first pot takes: the total may fail yet, once it did.
# Chosen by simulation in tests/benchmarks/counter/pots.py: of 1/4, 1/2, 1 and 2 it leaves as little
# over as any, and the chance that is asked for is about that which is met.
_FIRST_SHARE = 0.5
# A first pot is not called too small for what draws differ by from one answer to the next.
AS_ORDERED = 0.03


class Pot(Struct, frozen=True):
    """Brine heated at one time, in ml, and about the jars that it is for.

    ``low_ml`` and ``high_ml`` are where it will lie 9 times in 10 once it is ordered anew.
    """

    jars: float
    ml: float
    low_ml: float
    high_ml: float


def first_pot_ml(chain: Chain, jars: float, short_chance: float, floor_ml: float = 0.0) -> float:
    """Enough for the first so many jars in ml, to the drop; all of it where there are no more.

    In every draw it is what stands in those jars and what of the pot's loss is gone by then, and
    no less than their part of ``floor_ml``, which is the recipe's own proportion to all of it.
    """
    part, total = chain.part_of_volume(jars), chain.brine_ml
    rng = np.random.default_rng((chain.request.seed, 0))
    loss = np.minimum(chain.loss_ml, total)
    need = (total - loss) * part + share_gone(part, rng) * loss
    need = np.maximum(np.where(part < 1.0, need, total), floor_ml * part)
    return Outcome(need).quantile(1.0 - _FIRST_SHARE * short_chance)


def first_order_ml(first_ml: float, there_ml: float, units: Units) -> float:
    """What to heat for the first load beside what is there; 0 where that was heated for it."""
    lacks = first_ml - there_ml
    return 0.0 if lacks <= AS_ORDERED * first_ml else round_up_volume(lacks, units)


def next_range_ml(
    chain: Chain, had_ml: float, short_chance: float, floor_ml: float, units: Units
) -> tuple[float, float]:
    """Where the next pot likely lies once ``had_ml`` is there, in measures of a kitchen."""
    low, high = next_pot(chain, had_ml, short_chance, floor_ml).interval(LIKELY)
    return round_up_volume(low, units), round_up_volume(high, units)


def next_pot(chain: Chain, first_ml: float, short_chance: float, floor_ml: float = 0.0) -> Outcome:
    """The next pot in ml, as it will be ordered once the first jars are read; 0 where none is."""
    read = foreseen(chain, READ_AFTER)
    order = left_open(chain.brine_ml, [read.jars, read.brine_ml]).ordered(short_chance)
    return Outcome(np.maximum(np.maximum(order, floor_ml) - first_ml, 0.0))
