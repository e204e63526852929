"""Rows gathered into a table: all of them, or every problem at once."""

from collections.abc import Iterable

from jarcast.batch import Batch, Flag
from jarcast.errors import BatchError
from jarcast.interchange.rows import Problem, shortened
from jarcast.ledger.entry import Entry, differences

MOST_SHOWN = 20  # problems printed in one message
MOST_KEPT = 10_000  # problems kept in BatchError.problems; beyond it they are only counted


class Gathering:
    """Entries of one table, in order, and what was wrong with the rest.

    ``name`` names the table in messages.
    """

    def __init__(self, name: str) -> None:
        """Start with nothing."""
        self.name = name
        self.entries: list[Entry] = []
        self.repeated: list[str] = []
        self._seen: dict[str, tuple[str, Batch]] = {}
        self._problems: list[str] = []
        self._count = 0

    def take(self, place: str, entry: Entry) -> None:
        """Take in an entry; one that was there before with the same values is skipped."""
        batch = entry.batch
        before = self._seen.setdefault(batch.batch, (place, batch))
        if before[1] is batch:
            self.entries.append(entry)
        elif other := differences(before[1], batch):
            why = f"this batch is also in {before[0]} with other values: {'; '.join(other)}"
            self.problem(place, Problem("batch", batch.batch, f"{why}; keep one of the two"))
        else:
            self.repeated.append(batch.batch)

    def problem(self, place: str, problem: Problem) -> None:
        """Note a problem of one row."""
        self._count += 1
        if self._count > MOST_KEPT:
            return
        where = f"{self.name}, {place}"
        if problem.column:
            where += f", {problem.column}"
        if problem.cell not in ("", None):
            where += f" '{shortened(problem.cell)}'"
        self._problems.append(f"{where}: {problem.why}")

    def problems(self, place: str, problems: Iterable[Problem]) -> None:
        """Note the problems of one row."""
        for problem in problems:
            self.problem(place, problem)

    def broken(self, message: str) -> None:
        """Note that the table could not be read further; the message names the place."""
        self._count += 1
        self._problems.append(message)

    def finish(self) -> None:
        """Raise BatchError with every problem, if there is one."""
        if not self._problems:
            return
        if self._count == 1:
            raise BatchError(f"{self._problems[0]}; nothing was taken in", tuple(self._problems))
        lines = [f"{self.name}: {self._count} problems; nothing was taken in:"]
        lines += [f"  {problem}" for problem in self._problems[:MOST_SHOWN]]
        if self._count > MOST_SHOWN:
            lines.append(f"  ... and {self._count - MOST_SHOWN} more")
        raise BatchError("\n".join(lines), tuple(self._problems))


Flagged = tuple[str, Flag]  # name of the batch, what contradicts what in it
