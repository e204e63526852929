"""Amounts in a message: in the measures of the kitchen it is told to, else in grams and ml.

Deep down nobody knows who reads a message. A program is told in what it gave, grams and ml; while a
command works for a kitchen, in what that kitchen weighs and measures by.
"""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar

from jarcast.measures.showing import format_volume, format_weight
from jarcast.measures.units import Units

KITCHEN: ContextVar[Callable[[], Units] | None] = ContextVar("kitchen", default=None)


@contextmanager
def told_to(kitchen: Callable[[], Units]) -> Iterator[None]:
    """Messages within are told in the units that ``kitchen`` gives, in this thread alone."""
    before = KITCHEN.set(kitchen)
    try:
        yield
    finally:
        KITCHEN.reset(before)


def weights_told(*grams: float) -> tuple[str, ...]:
    """Weights that are held against each other, as they are told: no two that differ read alike."""
    return _told(grams, format_weight, _grams)


def volumes_told(*ml: float) -> tuple[str, ...]:
    """Volumes likewise."""
    return _told(ml, format_volume, _ml)


def weight_told(grams: float) -> str:
    """One weight as it is told."""
    return weights_told(grams)[0]


def both_ways_told(*grams: float) -> tuple[str, ...]:
    """Weights in the kitchen's units, or in grams with pounds beside them where it is not known."""
    if KITCHEN.get() is not None:
        return weights_told(*grams)
    return tuple(f"{_grams(one)} ({format_weight(one, Units.US)})" for one in grams)


def _told(
    amounts: tuple[float, ...], show: Callable[[float, Units], str], plain: Callable[[float], str]
) -> tuple[str, ...]:
    kitchen = KITCHEN.get()
    if kitchen is not None:
        units = kitchen()
        shown = tuple(show(one, units) for one in amounts)
        if len(set(shown)) == len(set(amounts)):
            return shown
    return tuple(plain(one) for one in amounts)


def _grams(grams: float) -> str:
    return f"{grams:.0f} g" if grams >= 10.0 else f"{grams:.2g} g"


def _ml(ml: float) -> str:
    return f"{ml:.0f} ml"
