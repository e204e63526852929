"""The canner of a kitchen: remembered where it is said."""

from collections.abc import Mapping
from enum import StrEnum
from itertools import takewhile
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
    """How many of a forecast's jars the first load of the kitchen's canner takes.

    As many as usual where the canner is not known. Jars of another size are another load, as they
    are processed for another time: '4 quart, then pint' begins with a load of four.
    """
    from jarcast.forecast.pots import USUAL_LOAD

    turns, load = forecast.request.turns, float(USUAL_LOAD)
    size = size_of(turns[0].jar.key)
    if (canner := kitchen_canner(work, None, work.shelf)) is not None:
        load = canner.holds.get(size, load)
    of_one_size = takewhile(lambda turn: size_of(turn.jar.key) == size, turns)
    return min(load, sum(turn.count for turn in of_one_size))
