"""How an uncertain number of jars is spread over counts that can be read off."""

import math

import numpy as np
from msgspec import Struct

from jarcast.forecast.outcome import Outcome

_STEPS = (1.0, 2.0, 5.0)  # of counts, and ten, a hundred... times as much
FINE = (1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 8.0)  # where each row says which counts it stands for
_FEW = 4  # counts: with fewer whole ones, halves tell more
_TAIL = 0.005  # on either side, put to the outermost count


class Shares(Struct, frozen=True):
    """Counts ``step`` jars apart, and the chance that the number of jars is nearest to each."""

    step: float
    counts: tuple[float, ...]
    chances: tuple[float, ...]

    @property
    def in_100(self) -> tuple[int, ...]:
        """The chances in whole hundredths that add up to 100: the largest rests are rounded up."""
        parts = [100.0 * chance for chance in self.chances]
        found = [math.floor(part) for part in parts]
        by_rest = sorted(range(len(parts)), key=lambda place: found[place] - parts[place])
        for place in by_rest[: 100 - sum(found)]:
            found[place] += 1
        return tuple(found)


def jar_shares(
    jars: Outcome, most: int = 9, *, whole: bool = False, steps: tuple[float, ...] = _STEPS
) -> Shares:
    """The chances of at most ``most`` counts; they add up to 1.

    The step is the least of ``steps``, or of ten times as much, that does with so many, or half a
    jar where that would be fewer than four and not only ``whole`` jars are filled. The outermost
    counts take in what lies beyond them, 1 draw in 200 on either side.
    """
    ends = jars.quantile(_TAIL), jars.quantile(1.0 - _TAIL)
    step, first, last = _fitting(*ends, most, steps, whole=whole)
    place = np.clip(np.floor(jars.draws / step + 0.5), first, last)
    counts = np.arange(first, last + 1)
    chances = (float(np.mean(place == count)) for count in counts)
    return Shares(step, tuple(float(step * count) for count in counts), tuple(chances))


def _fitting(
    low: float, high: float, most: int, steps: tuple[float, ...], *, whole: bool
) -> tuple[float, int, int]:
    """A step, and the first and last multiple of it that is needed."""
    halves = _multiples(low, high, 0.5)
    few = _count(_multiples(low, high, 1.0)) < _FEW
    if few and not whole and _count(halves) <= most:
        return halves
    sizes = (10.0**power * step for power in range(9) for step in steps)
    return next(found for step in sizes if _count(found := _multiples(low, high, step)) <= most)


def _multiples(low: float, high: float, step: float) -> tuple[float, int, int]:
    return step, math.floor(low / step + 0.5), math.floor(high / step + 0.5)


def _count(found: tuple[float, int, int]) -> int:
    """How many multiples there are."""
    return found[2] - found[1] + 1
