"""What can go wrong, as one tree.

JarcastError
├── MeasureError    a text that is not the measure that was due
├── BatchError      one or more values of a batch that cannot be taken
│   ├── OtherValuesError    a batch is in the ledger with other values
│   └── AskedBackError      values that look wrong, and are taken where the user stands by them
├── LedgerError     the ledger cannot be opened, read or written
├── BeliefsError    starting beliefs, or a file of them or of habits, that cannot be used
├── RecipeError     a recipe card that cannot be read, or asks for what it does not hold
└── ForecastError   a forecast asked for in a way that cannot be answered

A message names the thing, the rule, the value received and the next step. The command line
catches JarcastError once, prints the message and leaves with exit code 1.

NearName and IgnoredColumn are warnings, for Python: the command line asks instead.
"""

from typing import TYPE_CHECKING

if TYPE_CHECKING:  # no public name of this module
    from collections.abc import Sequence

# Problems named in one message, or lines of a list in one answer; an error's ``problems``, and the
# answer's --json, hold all of them.
MOST_SHOWN = 20


def a_line_each(problems: "Sequence[str]", count: int = 0) -> str:
    """Problems for a message, a line each, no more than can be read; ``count`` is how many in all.

    Without ``count`` these are all.
    """
    lines = [f"  {problem}" for problem in problems[:MOST_SHOWN]]
    if (more := max(count, len(problems)) - MOST_SHOWN) > 0:
        lines.append(f"  ... and {more} more")
    return "\n".join(lines)


def cut_short(text: str, longest: int = 60) -> str:
    """A text as a message shows it: one that is too long is cut, and marked as cut."""
    return text if len(text) <= longest else text[: longest - 3] + "..."


def in_short(value: object) -> str:
    """A value that is of a wrong kind, as a message shows it: on one line, and cut."""
    try:
        text = repr(value)
    except Exception:  # an int of more digits than Python writes out, or another's own fault
        text = f"a {type(value).__name__}"
    return cut_short(" ".join(text.split()))


class NearName(UserWarning):
    """A name that is not known, of a produce or a pack, is nearly one that is."""


class IgnoredColumn(UserWarning):
    """A column is not read although its name says that it holds a measure or a count."""


class JarcastError(Exception):
    """Root of everything jarcast raises on purpose; its text is meant for the user.

    ``problems`` holds one line for each thing to mend, where there are several.
    """

    def __init__(self, message: str = "", problems: tuple[str, ...] = ()) -> None:
        """Keep the message, and the problems one by one."""
        super().__init__(message)
        self.problems = problems


class MeasureError(JarcastError, ValueError):
    """A text that is not the measure that was due."""


class BatchError(JarcastError, ValueError):
    """One or more values of a batch, or of a table of batches, that cannot be taken."""


class OtherValuesError(BatchError):
    """Batches are in the ledger with other values.

    ``batches`` holds the name of each that may be answered for, with what differs.
    """

    def __init__(
        self,
        message: str,
        problems: tuple[str, ...] = (),
        batches: tuple[tuple[str, str], ...] = (),
    ) -> None:
        """Keep the batches beside the problems."""
        super().__init__(message, problems)
        self.batches = batches


class AskedBackError(BatchError):
    """Values that look wrong where nobody could be asked; said again with 'yes' they are taken."""


class LedgerError(JarcastError):
    """The ledger cannot be opened, read or written; it is as it was."""


class BeliefsError(JarcastError, ValueError):
    """Starting beliefs that cannot be used, or a file of them or of kept habits."""


class RecipeError(JarcastError, ValueError):
    """A recipe card that cannot be read, or is asked for something it does not hold."""


class ForecastError(JarcastError, ValueError):
    """A forecast asked for in a way that cannot be answered."""
