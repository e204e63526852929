"""Kill a writing jarcast at its n-th write, sync, rename or removal of a file, and look.

    python tests/safety/aimed.py --kills 300

A small library (``aimed.c``) loaded before the C library counts these calls. What each piece of
work makes of them is counted first; then it is killed at points spread evenly over all of them,
right before the call and right after it in turn. What must hold after is what ``crash.py`` asks;
a page or a file of beliefs must be there whole, as it was or as it is to be. It ends with 1 at the
first failure, and with 2 where there is no C compiler.
"""

import argparse
import ctypes
import os
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

SOURCE = Path(__file__).with_name("aimed.c")
ROUND = 4  # things a child writes at each aimed kill
EXPORTS = ("pint", "quart")
OLD_PAGE = b"as it was\n" * 1000
NEW_PAGE = b"as it is to be\n" * 1000


def built(folder: Path) -> Path | None:
    """The library, or None where it cannot be made."""
    compiler = shutil.which("cc") or shutil.which("gcc")
    if compiler is None or sys.platform != "linux":
        return None
    library = folder / "aimed.so"
    subprocess.run(
        [compiler, "-shared", "-fPIC", "-O1", "-o", str(library), str(SOURCE), "-ldl"], check=True
    )
    return library


@dataclass(frozen=True)
class Work:
    """A piece of work on a fresh ledger, and what must be true after its end."""

    name: str
    run: Callable[[Path, Callable[[str, str], None]], None]
    check: Callable[[Path, list[list[str]]], None]
    bare: bool = False  # on a ledger of an older schema


def works() -> list[Work]:
    """All of them; crash.py's with a smaller number of rounds."""
    from tests.safety import crash

    crash.ROUNDS = ROUND

    def of(one: Any) -> Work:
        return Work(
            one.name,
            lambda path, say: one.work(path, "k", say),
            lambda path, said: crash.check(path, said, "k", fresh=one.fresh),
            one.fresh,
        )

    def backup(path: Path, say: Callable[[str, str], None]) -> None:
        from jarcast.ledger.backups import make_copy

        crash.do(say, "copy", lambda: make_copy(path, "daily"))

    def copied(path: Path, said: list[list[str]]) -> None:
        from jarcast.ledger.backups import copies

        assert all(copy.sound for copy in copies(path))
        assert copies(path) or ["done", "copy"] not in said
        crash.check(path, [], "k", fresh=False)

    def page(path: Path, say: Callable[[str, str], None]) -> None:
        from jarcast.files.whole import write_whole

        crash.do(say, "page", lambda: write_whole(_page(path), lambda out: out.write(NEW_PAGE)))

    def pool(path: Path, say: Callable[[str, str], None]) -> None:
        from jarcast.pooling.files import pool_files

        exports = [path.with_name(f"{jar}.csv") for jar in EXPORTS]
        crash.do(say, "page", lambda: pool_files(exports, _page(path)))

    return [
        *(of(one) for one in crash.SCENARIOS),
        Work("backup", backup, copied),
        Work("page", page, _whole),
        Work("pool", pool, _whole),
    ]


def _page(path: Path) -> Path:
    return path.with_name("page.html")


def _whole(path: Path, said: list[list[str]]) -> None:
    """The page is the old one or the new one, and the new one if that was said."""
    content = _page(path).read_bytes()
    new = content == NEW_PAGE or (content.startswith(b"{") and content.endswith(b"}\n"))
    assert new or content == OLD_PAGE, content[:60]
    assert new or ["done", "page"] not in said
    assert not [what for word, what in said if word == "error"], said


def start(folder: Path, number: int, *, bare: bool) -> Path:
    """A ledger to work on; of the present schema with a log of its own, or ``bare``: an older."""
    from jarcast.ledger import Ledger
    from tests.safety import crash

    path = crash.start(folder, number)
    if not bare:
        Ledger.open(path, writing=True).close()
        shutil.rmtree(path.with_name(path.name + ".backups"))
        crash.begun_long_ago(path)
    _page(path).write_bytes(OLD_PAGE)
    for jar in EXPORTS:  # a household each
        rows = [f"{n},2024-09-0{n},beet,{jar},{n},{n} lb" for n in range(1, 9)]
        table = "\n".join(["batch,date,produce,jar,jars,trimmed", *rows]) + "\n"
        path.with_name(f"{jar}.csv").write_text(table)
    return path


def child(shim: Any, one: Work, path: Path, at: int, after: int) -> tuple[list[list[str]], int]:
    """Let a child do it, killed at this call; what it said, and the calls it made if it was let."""
    reading, writing = os.pipe()
    pid = os.fork()
    if pid == 0:
        os.close(reading)
        shim.aim(at, after)
        try:
            one.run(path, lambda *words: _say(writing, " ".join(words)))
        except BaseException as error:
            _say(writing, f"error {type(error).__name__}: {error}")
        _say(writing, f"calls {shim.counted()}")
        os._exit(0)
    os.close(writing)
    with open(reading, "rb") as pipe:  # noqa: PTH123 (a pipe has no path)
        lines = [line.split(" ", 1) for line in pipe.read().decode().splitlines()]
    os.waitpid(pid, 0)
    calls = [int(what) for word, what in lines if word == "calls"]
    return [line for line in lines if line[0] != "calls"], calls[0] if calls else 0


def _say(pipe: int, text: str) -> None:
    """Write by writev, which the library does not count."""
    os.writev(pipe, [text.encode() + b"\n"])


def run(kills: int) -> int:
    """Kill so many times, spread over all works; prints the counts. 1 at the first failure."""
    shim = ctypes.CDLL(os.environ["LD_PRELOAD"])
    began, total, hit = time.monotonic(), 0, 0
    counts: dict[str, str] = {}
    every = works()
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name) / "work"
        for place, one in enumerate(every):
            path = start(folder, 0, bare=one.bare)
            said, calls = child(shim, one, path, 0, 0)
            one.check(path, said)
            assert calls, f"{one.name} changes no file"
            share = kills // len(every) + (place < kills % len(every))
            for number in range(share):
                at, after = 1 + number * calls // share, number % 2
                path = start(folder, 0, bare=one.bare)
                said, _ = child(shim, one, path, at, after)
                try:
                    one.check(path, said)
                except Exception as error:
                    when = "after" if after else "before"
                    print(f"{one.name}, killed {when} call {at} of {calls}: {error!r}")
                    return 1
                hit += len([w for w, _ in said if w == "try"]) > len(
                    [w for w, _ in said if w == "done"]
                )
            total += share
            counts[one.name] = f"{one.name} {share} of {calls} calls"
    print(
        f"{total} aimed kills: {', '.join(counts.values())}; {hit} in the middle of a writing; "
        f"nothing lost, nothing half-written ({time.monotonic() - began:.0f} s)"
    )
    return 0


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--kills", type=int, default=300)
    asked = parser.parse_args()
    if "aimed.so" in os.environ.get("LD_PRELOAD", ""):
        sys.path.insert(0, str(Path(__file__).resolve().parents[2]))
        return run(asked.kills)
    with tempfile.TemporaryDirectory() as name:
        library = built(Path(name))
        if library is None:
            print("no C compiler is here, or this is not Linux: no kill is aimed")
            return 2
        again = [sys.executable, __file__, "--kills", str(asked.kills)]
        return subprocess.run(again, env={**os.environ, "LD_PRELOAD": str(library)}).returncode


if __name__ == "__main__":
    sys.exit(main())
