"""The canner of a kitchen: remembered where it is said."""

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING

from jarcast.cli.common import tell
from jarcast.errors import LedgerError

if TYPE_CHECKING:
    from jarcast.domain.jars import Jar
    from jarcast.harvest.day import Canner

SETTING = "canner"  # in the ledger: what it holds


def kitchen_canner(path: Path, typed: str | None, shelf: "Mapping[str, Jar]") -> "Canner | None":
    """The canner: as typed, and then remembered; else as remembered; else None.

    Where it cannot be remembered, that is said and the answer given all the same. Raises
    BatchError for what is no canner.
    """
    from jarcast.harvest.plan.canner import parse_canner
    from jarcast.ledger import Ledger

    if typed is None:
        with Ledger.open(path) as opened:
            known = opened.setting(SETTING)
        return None if known is None else parse_canner(known, shelf)
    canner = parse_canner(typed, shelf)
    try:
        remember_canner(path, canner)
    except LedgerError as error:
        tell(f"--canner {typed} is not remembered: {error}")
    return canner


def remember_canner(path: Path, canner: "Canner") -> None:
    """Make this the kitchen's canner from now on. Raises LedgerError."""
    from jarcast.harvest.plan.canner import canner_text
    from jarcast.ledger import Ledger

    with Ledger.open(path) as opened:
        known = opened.setting(SETTING)
    if known != canner_text(canner):
        with Ledger.open(path, writing=True) as opened:
            opened.remember(SETTING, canner_text(canner))
