"""Ranges of weights in logs: their middle, how far they reach to either side, and back."""

import math


def middle_and_half(low: float, high: float) -> tuple[float, float]:
    """The middle of a range in its own unit, and half its width in logs."""
    return math.sqrt(low * high), math.log(high / low) / 2.0


def reaching(middle: float, half: float) -> tuple[float, float]:
    """The range that reaches so far, in logs, to either side of its middle."""
    reach = math.exp(half)
    return middle / reach, middle * reach
