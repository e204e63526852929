"""A pseudo-terminal that does what a page shows: types its commands, and answers its questions."""

import contextlib
import os
import re
import select
import signal
import subprocess
import sys
import time
from datetime import UTC, date, datetime
from pathlib import Path

_ESCAPES = re.compile(r"\x1b\[[0-9;?]*[A-Za-z]|\x1b[()][A-Z0-9]")
_ASKS = (": ", "? ")
_QUIET_SECONDS, _MOST_SECONDS = 0.4, 60.0
INTERRUPT = "^C"  # how a page shows that Ctrl-C was pressed


def surroundings(folder: Path) -> dict[str, str]:
    """The environment of somebody who has nothing yet: a home, no ledger, 80 columns."""
    programs = Path(sys.executable).parent
    home = folder / "home"
    home.mkdir(exist_ok=True)
    return {
        "PATH": os.pathsep.join([str(programs), "/usr/local/bin", "/usr/bin", "/bin"]),
        "HOME": str(home),
        "XDG_DATA_HOME": str(home / "data"),
        "XDG_CONFIG_HOME": str(home / "config"),
        "XDG_CACHE_HOME": str(home / "cache"),
        "JARCAST_LEDGER": "ledger.sqlite3",  # in the folder: what is printed holds no other name
        "LANG": "C.UTF-8",
        "PYTHONUTF8": "1",
        "TERM": "xterm",
        "COLUMNS": "80",
        "LINES": "60",
        "OMP_NUM_THREADS": "1",
        "OPENBLAS_NUM_THREADS": "1",
    }


class Terminal:
    """One command line at a pseudo-terminal, and all that stands on the screen after it."""

    def __init__(self, typed: str, folder: Path, environment: dict[str, str]) -> None:
        self._screen, follower = os.openpty()
        self._process = subprocess.Popen(
            ["sh", "-c", typed],
            stdin=follower,
            stdout=follower,
            stderr=follower,
            cwd=folder,
            env=environment,
            start_new_session=True,
        )
        os.close(follower)
        self._read = b""

    def printed(self) -> str:
        """What stands on the screen up to now; of a line written over, what it says last."""
        text = _ESCAPES.sub("", self._read.decode(errors="replace")).replace("\r\n", "\n")
        return "\n".join(line.rpartition("\r")[2] for line in text.split("\n"))

    def run(self, shown: list[str]) -> tuple[int, str]:
        """Run it to its end; answer what is asked as the page has it. Gives code and text."""
        until = time.monotonic() + _MOST_SECONDS
        answered = 0
        try:
            while self._more():
                assert time.monotonic() < until, f"still waiting after:\n{self.printed()}"
                text = self.printed()
                if text.endswith(_ASKS) and len(text) > answered:
                    self._answer(text.rpartition("\n")[2], shown)
                    answered = len(text)
        finally:
            if self._process.poll() is None:
                with contextlib.suppress(ProcessLookupError):
                    os.killpg(self._process.pid, signal.SIGKILL)
                self._process.wait(30)
            os.close(self._screen)
        return self._process.wait(30), self.printed()

    def _more(self) -> bool:
        """Read until it is quiet; False once it has ended."""
        while select.select([self._screen], [], [], _QUIET_SECONDS)[0]:
            try:
                some = os.read(self._screen, 65536)
            except OSError:  # Linux ends the reading of a terminal that nobody writes to so
                some = b""
            if not some:
                self._process.wait(30)
                return False
            self._read += some
        return True

    def _answer(self, question: str, shown: list[str]) -> None:
        """Type what the page shows behind a question that was asked."""
        number = self.printed().count("\n")
        for line in [*shown[number:], *shown]:
            if line.startswith(question.rstrip()):
                answer = line[len(question.rstrip()) :].strip()
                break
        else:
            raise AssertionError(f"the page does not answer {question!r}, asked after\n{shown}")
        if answer == INTERRUPT:
            self._read += INTERRUPT.encode()
            os.killpg(self._process.pid, signal.SIGINT)
        else:
            os.write(self._screen, f"{answer}\n".encode())


def on_the_day(text: str, day: date) -> str:
    """A text with the day of the page in place of today's: pages do not grow old."""
    for today in {date.today(), datetime.now(UTC).date()}:
        text = text.replace(today.isoformat(), day.isoformat())
    return text
