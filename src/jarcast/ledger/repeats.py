"""An entry whose answer could not be given, and that comes once more: the same batch, not another.

Two batches that came out the same are two; so what was entered without an answer is marked.
"""

from contextlib import suppress
from pathlib import Path

from jarcast.errors import LedgerError
from jarcast.ledger.steps import UNANSWERED
from jarcast.ledger.store import Ledger


def mark_unanswered(path: Path, action: int) -> None:
    """Note that nobody saw what an action wrote. Where that cannot be written, it is let be."""
    with (
        suppress(LedgerError),
        Ledger.open(path, writing=True) as ledger,
        ledger.writing(UNANSWERED),
    ):
        ledger.remember(UNANSWERED, str(action))
