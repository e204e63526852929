"""One equation that a batch gives, the input of a fit."""

from collections.abc import Mapping
from enum import StrEnum

from msgspec import Struct

from jarcast.domain.stages import Link
from jarcast.learning.arrays import Array
from jarcast.learning.model.effects import Loadings


class Scale(StrEnum):
    """The scale a row's target stands on, and so what its residuals mean."""

    LOG = "log"  # of a ratio
    LOGIT = "logit"  # of a share
    ML = "ml"


class RowCases(Struct, frozen=True, gc=False):
    """What a row would say in each case of how its batch went, each array (CASES,).

    ``shift`` moves the target, ``extra`` is added to the variance of the error of reading,
    ``log_fit`` is a part of the log likelihood that no coefficient has a say in.
    """

    shift: Array
    extra: Array
    log_fit: Array


class Row(Struct, frozen=True, gc=False):
    """One equation: target = sum of effects + noise of its links + error of reading.

    ``target`` is the reading less the published centres. ``shares`` says how strongly each link's
    noise enters; ``reading`` is the variance of the error of reading, ``slip`` the variance that a
    slip of the pen would add. ``cell`` is the produce and cut, whose noise may have a size of its
    own. ``ceiling`` marks a target that is only an upper bound, ``sure`` one whose values the user
    has confirmed. ``amount`` is what ``scale`` needs to turn a residual into a factor: the share
    for a logit, the brine used (ml) for a row in ml.
    ``cases`` are those of the batch, for a row that they matter to.
    """

    batch: str
    time: int
    target: float
    loadings: Loadings
    shares: Mapping[Link, float]
    reading: float
    slip: float
    columns: tuple[str, ...]
    cell: str = ""
    scale: Scale = Scale.LOG
    amount: float = 1.0
    ceiling: bool = False
    sure: bool = False
    cases: RowCases | None = None
