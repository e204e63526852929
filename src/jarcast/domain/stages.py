"""The process chain: the stages at which produce is weighed, and the links between them.

as bought -> trimmed -> cured -> cooked -> jars, and the brine that goes in with them. A batch need
not pass every stage: not every one is salted, not every one is cooked. The order, the names and
what follows from them stand here alone; a weight's bounds and how it is read stand in ``fields``.
"""

from collections.abc import Mapping
from enum import StrEnum
from typing import Any

from msgspec import Struct

from jarcast.domain.names import pack_key


class Link(StrEnum):
    """What is learned between one stage and the next, in the order of the chain."""

    TRIM = "trim"
    CURE = "cure"
    COOK = "cook"
    PACK = "pack"
    BRINE = "brine"

    __hash__ = str.__hash__  # Enum's own is slow Python code, and links are keys everywhere


class Stage(Struct, frozen=True):
    """One stage: the column of its weight in grams, how it is said, and the link that leads to it.

    ``link`` is None for the first. ``always`` tells whether every batch passes it, weighed or not.
    """

    column: str
    label: str
    link: Link | None
    always: bool = False

    @property
    def typed(self) -> str:
        """The column as a kitchen types it, with a unit in the cell: 'trimmed'."""
        return self.column.removesuffix("_g")


STAGES = (
    Stage("as_bought_g", "as bought", None, always=True),
    Stage("trimmed_g", "trimmed", Link.TRIM, always=True),
    Stage("cured_g", "cured", Link.CURE),
    Stage("cooked_g", "cooked", Link.COOK),
)
IN_THE_JARS = (Link.PACK, Link.BRINE)  # the links from the ready weight, whatever stage that is

STAGE_OF: Mapping[str, Stage] = {stage.column: stage for stage in STAGES}
STAGE_REACHED_BY: Mapping[Link, Stage] = {s.link: s for s in STAGES if s.link is not None}
STAGE_COLUMNS = tuple(STAGE_OF)
AS_BOUGHT, TRIMMED, CURED, COOKED = STAGE_COLUMNS

# A stage may weigh this much more than the one before: scales, wet produce. Beyond it, one of the
# two is a slip.
HEAVIER_BY = 1.05


def too_heavy(later: float, earlier: float) -> bool:
    """Whether a weight is more than that of an earlier stage allows: one of the two is a slip."""
    return later > HEAVIER_BY * earlier


def weights_of(batch: Any) -> dict[str, Any]:
    """The weights of a batch or of a plan's line, by column; None where there is none."""
    return {column: getattr(batch, column) for column in STAGE_COLUMNS}


def weighed(batch: Any) -> tuple[Stage, ...]:
    """The stages of a batch that have a weight, in order."""
    return tuple(stage for stage in STAGES if getattr(batch, stage.column) is not None)


def stages_after(column: str) -> tuple[Stage, ...]:
    """The stages that come after this one."""
    return STAGES[STAGE_COLUMNS.index(column) + 1 :]


def links_after(column: str) -> tuple[Link, ...]:
    """The links between this stage and the last, those that a batch may do without among them."""
    return tuple(stage.link for stage in stages_after(column) if stage.link is not None)


def links_from(column: str) -> frozenset[Link]:
    """The links that may start at this weight: a wrong one is not to be trusted for them.

    They reach to the next stage that every batch passes, and else into the jars.
    """
    found: list[Link] = []
    for stage in stages_after(column):
        if stage.link is not None:
            found.append(stage.link)
        if stage.always:
            return frozenset(found)
    return frozenset((*found, *IN_THE_JARS))


def before_salt(column: str) -> bool:
    """Whether a weight is that of produce before it is salted, if it is salted at all."""
    return Link.CURE in links_after(column)


def is_hot(pack: str) -> bool:
    """Whether a pack, however it is called, goes into the jars cooked."""
    return pack_key(pack) == "hot"


def is_cooked(batch: Any) -> bool:
    """Whether a batch was cooked: it is a hot pack, or says what it weighed cooked."""
    return getattr(batch, COOKED) is not None or is_hot(batch.pack)


def was_salted(batch: Any) -> bool | None:
    """Whether a batch stood in salt, and so was cured; None where it does not say."""
    if getattr(batch, CURED) is not None or batch.salt_g or batch.cure_hours:
        return True
    if batch.cure_hours == 0 or batch.salt_g == 0:
        return False
    return None


def salt_share(batch: Any) -> float | None:
    """Grams of salt a gram of trimmed produce; None where one of the two is not known, or 0."""
    salt, trimmed = batch.salt_g, getattr(batch, TRIMMED)
    return salt / trimmed if salt and trimmed else None


def ready_stage(*, salted: bool, cooked: bool) -> Stage:
    """The stage whose weight goes into the jars."""
    return STAGE_OF[COOKED if cooked else CURED if salted else TRIMMED]
