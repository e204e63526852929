"""What is known of a crop's habits: draws of a link's value beside the published one."""

from itertools import accumulate, pairwise

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from jarcast.domain.said_weight import Z80
from jarcast.domain.stages import Link
from jarcast.learning.arrays import Array
from jarcast.learning.draws import draw_effects
from jarcast.learning.learned import Learned
from jarcast.learning.model.beliefs import QUANTITIES, Belief
from jarcast.learning.model.effects import loadings
from jarcast.learning.model.links import (
    WEIGHT_LINKS,
    Situation,
    centre,
    cure_strength,
    density_limit,
    limited,
)

COLUMNS = (
    "produce", "cut", "pack", "batches", "quantity", "median", "low", "high",
    "published", "published_low", "published_high",
)  # fmt: skip
DRAWS = 4000
SEED = 0


class Known(Struct, frozen=True):
    """A quantity: its middle, and the range that holds it with chance 0.8."""

    middle: float
    low: float
    high: float


def crops_put_up(learned: Learned) -> dict[tuple[str, str, str], int]:
    """Batches by produce, cut and pack; a pack that was left out is the crop's usual one."""
    found: dict[tuple[str, str, str], int] = {}
    for (produce, cut, pack), count in learned.cells.items():
        cell = produce, cut, pack or learned.usual_pack.get((produce, cut), "")
        found[cell] = found.get(cell, 0) + count
    return found


def usual_situation(
    learned: Learned,
    cell: tuple[str, str, str],
    who: tuple[tuple[str, float], ...] = (),
) -> Situation:
    """A batch of a crop as it usually is, by those who may make it; the kitchen's people if not
    said.
    """
    produce, cut, pack = cell
    crop = learned.beliefs.crop(produce, cut, pack)
    people = who or learned.practice.who("")
    at = Situation(crop=crop, produce=produce, cut=cut, pack=pack, people=people)
    usual = learned.practice.cure_hours
    return at if usual is None else replace(at, cure=cure_strength(usual))


def own_values(learned: Learned, link: Link, at: Situation) -> Array:
    """Draws of a link's value: a share that stays, or a density in g/ml.

    Of several people who may have made it, of each by their chance.
    """
    rng = np.random.default_rng(SEED)
    people = at.people or (("", 1.0),)
    ends = [round(DRAWS * part) for part in accumulate(chance for _, chance in people)]
    found = []
    for (name, _), (first, end) in zip(people, pairwise([0, *ends]), strict=True):
        own = replace(at, people=((name, 1.0),) if name else ())
        effects = loadings(link, own, learned.beliefs.people)
        drawn, _ = draw_effects(learned.block(link), [effects], end - first, rng)
        found.append(drawn[:, 0])
    return _values(link, np.asarray(centre(link, at) + np.concatenate(found)), at)


def _values(link: Link, drawn: Array, at: Situation) -> Array:
    """Draws turned from a link's scale into a share or a density."""
    if link is Link.TRIM:
        return np.asarray(1.0 / (1.0 + np.exp(-drawn)))
    values: Array = np.exp(drawn)
    return limited(values, density_limit(at.crop)) if link is Link.PACK else values


def known(draws: Array) -> Known:
    """Middle and range of draws."""
    low, middle, high = np.quantile(draws, (0.1, 0.5, 0.9))
    return Known(float(middle), float(low), float(high))


def published(link: Link, at: Situation) -> Known:
    """What is published of a link's value."""
    belief: Belief = getattr(at.crop, QUANTITIES[link])
    reach = Z80 * belief.spread * (at.cure if link is Link.CURE else 1.0)
    middle = centre(link, at)
    ends = _values(link, np.array([middle, middle - reach, middle + reach]), at)
    return Known(*(float(end) for end in ends))


def known_rows(learned: Learned) -> list[tuple[object, ...]]:
    """A row of COLUMNS for each crop put up and each quantity: what is known and what published."""
    found: list[tuple[object, ...]] = []
    for cell, batches in sorted(crops_put_up(learned).items()):
        at = usual_situation(learned, cell)
        for link in WEIGHT_LINKS:
            own, book = known(own_values(learned, link, at)), published(link, at)
            row: tuple[object, ...] = (*cell, batches, QUANTITIES[link])
            row += (own.middle, own.low, own.high, book.middle, book.low, book.high)
            found.append(row)
    return found
