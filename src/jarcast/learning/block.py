"""The frozen values learning works with: rows in, one block of arrows out."""

from collections.abc import Mapping
from enum import StrEnum

from msgspec import Struct

from jarcast.batch import Arrow
from jarcast.learning.arrows import Effect, Loadings
from jarcast.learning.regression import Array


class Scale(StrEnum):
    """On what scale a row's target stands: what its misses mean."""

    LOG = "log"  # of a ratio
    LOGIT = "logit"  # of a share
    ML = "ml"


class Row(Struct, frozen=True):
    """One equation that a batch gives: target = sum of effects + noise of its arrows.

    ``target`` is what was read less the published centres; ``shares`` how strongly each arrow's
    noise enters; ``reading`` the variance of reading it; ``slip`` the variance a slip would have;
    ``cell`` the produce and cut, which may scatter in their own way; ``ceiling`` marks a target
    that may lie anywhere below; ``sure`` one whose values the user stands by, odd as they may be.
    ``amount`` is what ``scale`` needs to turn a miss into a factor:
    the share of a logit, the brine used of a row in ml.
    """

    batch: str
    time: int
    target: float
    loadings: Loadings
    shares: Mapping[Arrow, float]
    reading: float
    slip: float
    columns: tuple[str, ...]
    cell: str = ""
    scale: Scale = Scale.LOG
    amount: float = 1.0
    ceiling: bool = False
    sure: bool = False


class Noise(Struct, frozen=True):
    """A noise variance and how well it is known; of an arrow relative to its rows' share."""

    variance: float
    dof: float


class Level(Struct, frozen=True):
    """One block learned at one walking speed.

    ``mean`` (p,) and ``root`` (p, k): the block's effects, then the stretches walked by each of
    ``walkers``; ``walked`` their loadings now, for a hand of unit size (empty when steady).
    ``spread`` is the learned variance of the crops' effects in units of the prior's, ``scatter``
    the noise variance of each cell in units of its arrows'.
    """

    weight: float
    mean: Array
    root: Array
    walked: Array
    walkers: tuple[Arrow, ...]
    noise: Mapping[Arrow, Noise]
    tails: Array
    spread: Mapping[Arrow, float]
    scatter: Mapping[str, float]


class RowVerdict(Struct, frozen=True):
    """How a row fits the forecast by all the others.

    ``surprise`` is on the row's own scale; ``factor`` how many times more than expected the later
    of the two ``columns`` is, against the earlier (for brine: the brine used).
    """

    batch: str
    columns: tuple[str, ...]
    surprise: float
    factor: float
    slip_chance: float


class Block(Struct, frozen=True):
    """What was learned of the arrows of one block.

    ``stretches`` are the lengths of the walk's stretches in batches, oldest first.
    """

    arrows: tuple[Arrow, ...]
    effects: Mapping[Effect, int]
    stretches: tuple[int, ...]
    levels: tuple[Level, ...]
    verdicts: tuple[RowVerdict, ...]
