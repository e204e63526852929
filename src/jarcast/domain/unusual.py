"""Salt and hours beyond what any cure takes: asked back, though nothing contradicts them."""

import re
from collections.abc import Collection

from jarcast.domain.batch import Batch, number_text
from jarcast.domain.contradictions import Amount, Flag
from jarcast.domain.stages import AS_BOUGHT, CURED, STAGE_OF, TRIMMED, Link

# Common practice, no source; the saltiest tables of the trade are far below it.
MOST_SALT_SHARE = 0.5  # of the weight of the produce
# Two weeks; a ferment stands three to six (USDA, Complete Guide to Home Canning, Guide 6).
MOST_CURE_HOURS = 14 * 24.0
_BESIDE = (TRIMMED, AS_BOUGHT, CURED)  # weights that salt is judged beside, the best one first
_FERMENT = re.compile(r"ferment|kraut|kimchi|\bcrock\b|\bbrined dill", re.IGNORECASE)


class Unusual(Flag, frozen=True):
    """An amount beyond all use; ``links`` are those it would mislead."""


def unusual(batch: Batch, columns: Collection[str]) -> tuple[Unusual, ...]:
    """Salt and hours among ``columns``, those just typed, that are hardly meant; none stood by.

    Salt is judged beside the weight trimmed, or as bought or cured where that was not weighed.
    """
    found = [
        *(_salt(batch) if {"salt_g", *_BESIDE} & {*columns} else []),
        *(_hours(batch) if "cure_hours" in columns else []),
    ]
    return tuple(one for one in found if batch.confirmed.isdisjoint(one.columns))


def _salt(batch: Batch) -> list[Unusual]:
    beside = [column for column in _BESIDE if getattr(batch, column) is not None]
    if not batch.salt_g or not beside:
        return []
    produce, word = getattr(batch, beside[0]), STAGE_OF[beside[0]].label
    if batch.salt_g <= MOST_SALT_SHARE * produce:
        return []
    parts = (
        Amount(batch.salt_g, "g"), " of salt for ", Amount(produce, "g"), f" {word} is more than "
        "half the weight of the produce",
    )  # fmt: skip
    return [Unusual(("salt_g",), frozenset({Link.CURE}), parts)]


def _hours(batch: Batch) -> list[Unusual]:
    hours = batch.cure_hours
    if hours is None or hours <= MOST_CURE_HOURS or _ferments(batch):
        return []
    days, over = divmod(hours, 24.0)
    parts = (
        f"{number_text(hours)} hours in salt are {'over ' if over else ''}{days:.0f} days; only a "
        "ferment takes more than two weeks",
    )
    return [Unusual(("cure_hours",), frozenset({Link.CURE}), parts)]


def _ferments(batch: Batch) -> bool:
    """Whether a batch says, in its produce, cut, recipe or note, that it is fermented."""
    return bool(_FERMENT.search(f"{batch.produce} {batch.cut} {batch.recipe} {batch.note}"))
