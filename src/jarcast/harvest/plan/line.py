"""One line of a plan: one batch to come, as far as it is known."""

import datetime as dt
from collections.abc import Mapping
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

from msgspec import Struct, field

from jarcast.domain.said_weight import Weight
from jarcast.domain.stages import STAGES, weights_of

if TYPE_CHECKING:
    from jarcast.domain.containers import Counted
    from jarcast.recipes import Recipe

# What a line may say, in the order of the columns. The weights and measures are a kitchen's.
WEIGHTS = tuple(stage.typed for stage in STAGES)
COLUMNS = (
    "name", "produce", "cut", "pack", "jar", "recipe", *WEIGHTS, "cure_hours", "salt", "headspace",
    "note", "person", "days",
)  # fmt: skip
SELDOM = ("person", "days")  # written only where a line says them
TEXTS = ("name", "produce", "cut", "pack", "jar", "recipe", "note", "person")

MOST_LINES = 5_000


class PlanLine(Struct, frozen=True, kw_only=True):
    """One batch to come. Weights in g, one number or a (low, high) that holds 8 times in 10.

    ``place`` says where it stands in the plan, ``typed`` what stood there, by column; ``counted``
    the containers its weight was counted in. '' and None are 'not said'. ``days`` are the first and
    the last day of its batches, and ``own`` its row of the file, cell by cell.
    """

    place: str
    name: str = ""
    produce: str = ""
    cut: str = ""
    pack: str = ""
    jar: str = ""
    recipe: "Recipe | None" = None
    as_bought_g: Weight | None = None
    trimmed_g: Weight | None = None
    cured_g: Weight | None = None
    cooked_g: Weight | None = None
    cure_hours: float | None = None
    salt_g: float | None = None
    headspace_in: float | None = None
    note: str = ""
    person: str = ""
    counted: "Counted | None" = None
    typed: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}))
    days: tuple[dt.date, dt.date] | None = None
    own: tuple[str, ...] = ()

    @property
    def put_up(self) -> str:
        """Its produce, or else that of its recipe."""
        return self.produce or ("" if self.recipe is None else self.recipe.produce)

    def forecast_keywords(self) -> dict[str, Any]:
        """Keywords for ``Habits.forecast`` and ``plan_harvest``, without what was not said."""
        said = {
            "produce": self.produce, "cut": self.cut, "pack": self.pack, "jar": self.jar,
            "recipe": self.recipe, **weights_of(self), "cure_hours": self.cure_hours,
            "salt_g": self.salt_g, "headspace_in": self.headspace_in,
            "person": self.person,
        }  # fmt: skip
        return {key: value for key, value in said.items() if value not in (None, "")}


class Plan(Struct, frozen=True):
    """The lines of a plan in order, and the columns of its file that are not of a plan.

    ``columns`` is the header of the file as it is written, without results of an earlier answer.
    """

    lines: tuple[PlanLine, ...]
    ignored_columns: tuple[str, ...] = ()
    columns: tuple[str, ...] = ()
