"""The canner of a kitchen: remembered where it is said."""

from collections.abc import Mapping
from enum import StrEnum
from typing import TYPE_CHECKING

from jarcast.cli.common import remember_now
from jarcast.domain.jars import size_of

if TYPE_CHECKING:
    from jarcast.app.work import Work
    from jarcast.domain.jars import Jar
    from jarcast.forecast.answer import Forecast
    from jarcast.harvest.day import Canner

SETTING = "canner"  # in the ledger: what it holds
KIND = "canner kind"  # in the ledger: one of Kind


class Kind(StrEnum):
    """Kinds of canner; remembered and shown, and no process goes by it."""

    BOILING_WATER = "boiling-water"
    STEAM = "steam"


def kitchen_canner(work: "Work", typed: str | None, shelf: "Mapping[str, Jar]") -> "Canner | None":
    """The canner: as typed, and then remembered; else as remembered; else None.

    Where it cannot be remembered, that is said and the answer given all the same. Raises
    BatchError for what is no canner.
    """
    from jarcast.harvest.plan.canner import canner_text, parse_canner

    if typed is None:
        known = work.settings.get(SETTING)
        return None if known is None else parse_canner(known, shelf)
    canner = parse_canner(typed, shelf)
    work.remember_with(SETTING, canner_text(canner))
    remember_now(work, f"--canner {typed}")
    return canner


def canner_load(work: "Work", forecast: "Forecast") -> float:
    """How many of a forecast's jars the kitchen's canner holds; as many as usual unless known.

    Of several sorts that is the fewest: a load is then never more than it holds.
    """
    from jarcast.forecast.pots import USUAL_LOAD

    canner = kitchen_canner(work, None, work.shelf)
    if canner is None:
        return USUAL_LOAD
    sizes = [size_of(turn.jar.key) for turn in forecast.request.turns]
    return min((canner.holds[size] for size in sizes if size in canner.holds), default=USUAL_LOAD)
