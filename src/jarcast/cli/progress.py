"""A bar on standard error for work that takes its time."""

import shutil
import sys
import time

from jarcast.cli.common import elsewhere

_PATIENCE = 1.0  # seconds before anything is shown
_BETWEEN = 0.1
_WIDTH = 30


class Progress:
    """A line that is written over as work goes on; silent off a terminal and for quick work.

    Called with how much is done, and all. Use it as a context manager: the line is taken away at
    the end, however that comes.
    """

    def __init__(self, label: str) -> None:
        """Start the clock."""
        self._label = label
        self._next = time.monotonic() + _PATIENCE
        self._shown = 0

    def __enter__(self) -> "Progress":
        """The bar itself."""
        return self

    def __exit__(self, *_: object) -> None:
        """Take the line away."""
        if self._shown:
            self._write(f"\r{' ' * self._shown}\r")

    def __call__(self, done: int, total: int) -> None:
        """Show how far it is, if it is time to."""
        now = time.monotonic()
        hidden = elsewhere() or sys.stderr is None or not sys.stderr.isatty()
        if now < self._next or hidden:
            return
        self._next = now + _BETWEEN
        said = f"{done} of {total}"
        beside = len(f"{self._label} [] {said}") + 1  # the last column makes some terminals go on
        wide = max(min(_WIDTH, shutil.get_terminal_size().columns - beside), 1)
        bar = ("#" * round(wide * done / max(total, 1))).ljust(wide, ".")
        line = f"{self._label} [{bar}] {said}"
        line = line.ljust(self._shown)
        self._shown = len(line)  # known before it is shown: the work may be stopped in between
        self._write("\r" + line)

    def _write(self, text: str) -> None:
        sys.stderr.write(text)
        sys.stderr.flush()
