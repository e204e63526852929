"""The rows of a table gathered: all of them, or every problem at once."""

import math
import re
from collections.abc import Iterable
from functools import partial

from jarcast.batchtable.rows import Problem, shortened
from jarcast.domain.batch import Batch
from jarcast.errors import BatchError, a_line_each
from jarcast.ledger.entry import Entry, differences

MOST_KEPT = 10_000  # problems kept in BatchError.problems; beyond it they are only counted


def _line_in(named: str, problem: str) -> float:
    """The line that a problem names first, after a table's name; those of no line come last."""
    found = re.match(rf"{re.escape(named)}([0-9]+)", problem)
    return int(found[1]) if found else math.inf


class Gathering:
    """What was wrong with a table, and which of its batches come twice.

    ``name`` names the table in messages; ``count`` counts the problems so far, and ``repeated``
    are the names of batches that came again with the same values.
    """

    def __init__(self, name: str) -> None:
        """Start with nothing."""
        self.name = name
        self.count = 0
        self.repeated: list[str] = []
        self._seen: dict[str, tuple[str, Batch]] | None = {}
        self._problems: list[str] = []

    def is_new(self, place: str, entry: Entry) -> bool:
        """Whether the batch of an entry has not come before; notes it if its values differ."""
        if self._seen is None:
            return True
        batch = entry.batch
        before = self._seen.setdefault(batch.batch, (place, batch))
        if before[1] is batch:
            return True
        if other := differences(before[1], batch):
            self.twice(place, batch.batch, before[0], "; ".join(other))
        else:
            self.repeated.append(batch.batch)
        return False

    def leave_to_ledger(self) -> None:
        """Forget the batches that came so far, and take every further one for new.

        Whoever writes them down as they come is told by the ledger which came twice.
        """
        self._seen = None

    def twice(self, place: str, name: str, first: str, other: str) -> None:
        """Note a batch that came before, at ``first``, with other values."""
        why = f"this batch is also in {first} with other values: {other}; keep one of the two"
        self.problem(place, Problem("batch", name, why))

    def problem(self, place: str, problem: Problem) -> None:
        """Note a problem of one row."""
        self.count += 1
        if self.count > MOST_KEPT:
            return
        where = f"{self.name}, {place}"
        if problem.column:
            where += f", {problem.column}"
        if problem.cell is not None and not (isinstance(problem.cell, str) and not problem.cell):
            where += f" '{shortened(problem.cell)}'"
        self._problems.append(f"{where}: {problem.why}")

    def problems(self, place: str, problems: Iterable[Problem]) -> None:
        """Note the problems of one row."""
        for problem in problems:
            self.problem(place, problem)

    def broken(self, message: str) -> None:
        """Note that the table could not be read further; the message names the place."""
        self.count += 1
        self._problems.append(message)

    def join(self, other: "Gathering") -> None:
        """Take over the problems that another gathered of the same table."""
        self.count += other.count
        self._problems += other._problems[: max(MOST_KEPT - len(self._problems), 0)]

    def by_line(self) -> None:
        """Put the problems of a file in the order of its lines; what names none keeps its place."""
        self._problems.sort(key=partial(_line_in, f"{self.name}, line "))

    def finish(self) -> None:
        """Raise BatchError with every problem, if there is one."""
        if not self._problems:
            return
        if self.count == 1:
            raise BatchError(f"{self._problems[0]}; nothing was read in", tuple(self._problems))
        head = f"{self.name}: {self.count} problems; nothing was read in:"
        listed = a_line_each(self._problems, self.count)
        raise BatchError(f"{head}\n{listed}", tuple(self._problems))
