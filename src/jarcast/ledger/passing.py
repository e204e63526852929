"""The batches of a ledger one after another, for those that are too many to be held at once."""

from collections.abc import Iterator
from typing import TYPE_CHECKING

from jarcast.domain.batch import Batch

if TYPE_CHECKING:
    from jarcast.ledger.store import Ledger


class Passing:
    """Every batch as it stands, by date, then in order of entry; read anew at each going through.

    Inside ``Ledger.looking`` it is the same batches each time. Going through it raises LedgerError.
    """

    def __init__(self, ledger: "Ledger") -> None:
        """Of this ledger, which stays open meanwhile."""
        self._ledger = ledger

    def __iter__(self) -> Iterator[Batch]:
        """One after another."""
        return (entry.batch for entry in self._ledger.each())

    def __len__(self) -> int:
        """How many there are."""
        return int(self._ledger.rows("SELECT count(*) FROM standing")[0][0])
