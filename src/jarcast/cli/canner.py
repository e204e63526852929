"""The canner of a kitchen: remembered where it is said."""

from collections.abc import Mapping
from typing import TYPE_CHECKING

from jarcast.cli.common import tell
from jarcast.errors import LedgerError

if TYPE_CHECKING:
    from jarcast.app.work import Work
    from jarcast.domain.jars import Jar
    from jarcast.harvest.day import Canner

SETTING = "canner"  # in the ledger: what it holds


def kitchen_canner(work: "Work", typed: str | None, shelf: "Mapping[str, Jar]") -> "Canner | None":
    """The canner: as typed, and then remembered; else as remembered; else None.

    Where it cannot be remembered, that is said and the answer given all the same. Raises
    BatchError for what is no canner.
    """
    from jarcast.harvest.plan.canner import parse_canner

    if typed is None:
        known = work.settings.get(SETTING)
        return None if known is None else parse_canner(known, shelf)
    canner = parse_canner(typed, shelf)
    to_remember(work, canner)
    try:
        work.remember()
    except LedgerError as error:
        tell(f"--canner {typed} is not remembered: {error}")
    return canner


def to_remember(work: "Work", canner: "Canner") -> None:
    """Make this the kitchen's canner from now on, with what the command writes next."""
    from jarcast.harvest.plan.canner import canner_text

    if work.settings.get(SETTING) != canner_text(canner):
        work.remember_with(SETTING, canner_text(canner))
