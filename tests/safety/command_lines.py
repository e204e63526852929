"""Command lines nobody meant: any command, any of its options, right and wrong values."""

import contextlib
import io
import json
import random
import sqlite3
from contextlib import closing
from pathlib import Path
from typing import Any

from mutating import MEASURES, ODD, mutated

_FILES = ("good.csv", "plan.csv", "plan.toml", "card.toml", ".", "", "nope.csv", "new/x.csv")
VALUES: dict[str, tuple[str, ...]] = {
    "--ledger": ("ledger.sqlite3", "other.sqlite3", ".", "", "good.csv", "nope/deep/l.sqlite3"),
    "--produce": ("carrot", "okra", "cucumber + onion", "zzz", ""),
    "--jar": ("pint", "quart", "5 pint-wide, then pint", "tall", "pint-wide + pint"),
    "--jars": ("9", "7 1/2", "0", "1e9"),
    "--trimmed": ("6 lb 4 oz", "2,7 kg", "0 g", "1 g"),
    "--as-bought": ("20 lb", "9 kg"),
    "--units": ("us", "metric"),
    "--recipe": ("pickled-carrots", "quick-sweet", "beets", "nope"),
    "--cure-hours": ("0", "24", "1 day"),
    "--line": ("carrot, sticks, pint: 20-35 lb", "okra: 2 kg"),
    "--water": ("415 g", "900 g - 485 g"),
    "--salt": ("3/4 cup", "200 g"),
    "--pack": ("raw", "hot"),
    "--cut": ("sticks", "slices", "whole"),
    "--headspace": ("1/2 in", "1/4"),
    "--date": ("2024-08-31", "2024-09-30"),
    "--altitude": ("1500 ft", "300 m"),
    "--have": ("14 pint-wide, 9 quart", "3 pint"),
    "--canner": ("7 quarts / 8 pints",),
    "--brine-made": ("10 cups", "2 l"),
    "--brine-left": ("1 cup", "0 ml"),
    "--batch": ("o", "c1", "k1", "new"),
}
USUAL = ("--produce", "--jar", "--jars", "--trimmed", "--water", "--line")  # most lines have them
ANYTHING = [
    *_FILES, "carrot", "pint", "c1", "o", "3", "1/2 in", "5 lb", "2 cups", "raw", "sticks",
    "2024-08-31", "2099-01-01", "note=x", "jars=9", "trimmed=", "--", "--json", "-h", "-x", "=",
]  # fmt: skip
ANYTHING_RAW = [word.encode() for word in ANYTHING if word] + [*MEASURES, *ODD[1:]]

Param = tuple[tuple[str, ...], bool, bool]  # its names, whether it takes a value, whether many


class CommandLines:
    """Draws command lines for a ledger in a folder, and says what became of each."""

    def __init__(self, draw: random.Random, folder: Path) -> None:
        self.draw = draw
        self.folder = folder
        self.commands = _commands()
        self.template: bytes = b""
        self.copies: list[str] = []

    def check(self, words: list[str]) -> str:
        """Run a line; raise AssertionError where it does not end as it should."""
        before = _state(self.folder / "ledger.sqlite3")
        code, out, err = _run(words)
        assert code in (0, 1, 2), code
        if code:
            assert err.strip(), "failed and said nothing"
            assert _state(self.folder / "ledger.sqlite3") == before, f"half a write: {err}"
        elif "--json" in words and out.startswith("{"):  # '--csv --json' names a file
            json.loads(out, parse_constant=_no_constant)
        return f"exit {code}"

    def new_ledger(self) -> None:
        """Begin again with three batches, one open batch and a copy."""
        path = self.folder / "ledger.sqlite3"
        if not self.template:
            path.unlink(missing_ok=True)
            code, _, err = _run(["import", str(self.folder / "good.csv")])
            assert code == 0, err
            code, _, err = _run(["begin", "--produce", "okra", "--trimmed", "5 lb", "--batch", "o"])
            assert code == 0, err
            self.template = path.read_bytes()
            from jarcast.ledger.backups import DAILY, make_copy

            self.copies = [make_copy(path, DAILY).stem]
        path.write_bytes(self.template)
        for aside in self.folder.glob("ledger.sqlite3.backups/*set-aside*"):
            aside.unlink()

    def line(self) -> list[str]:
        """A command line."""
        draw = self.draw
        words, params = draw.choice(self.commands)
        typed = list(words)
        most = draw.choice((len(params), 6, 6, 3))
        usual = [one for one in params if any(option in USUAL for option in one[0])]
        drawn = draw.sample(params, draw.randrange(min(most, len(params)) + 1))
        for options, takes, many in drawn + [one for one in usual if one not in drawn]:
            for _ in range(draw.randrange(1, 3) if many else 1):
                if options:
                    typed.append(draw.choice(options))
                if takes and words == ["restore"] and not options and draw.random() < 0.5:
                    typed += self.copies
                elif takes:
                    typed.append(self._value(options))
        for _ in range(draw.choice((0, 0, 0, 0, 0, 0, 1, 2))):
            typed.insert(draw.randrange(len(typed) + 1), self._value(()))
        if draw.random() < 0.03:
            draw.shuffle(typed)
        return typed

    def _value(self, options: tuple[str, ...]) -> str:
        names = [word for option in options for word in VALUES.get(option, ())]
        if names and self.draw.random() < 0.8:
            return self.draw.choice(names)
        pool = ANYTHING if self.draw.random() < 0.7 else [mutated(self.draw, ANYTHING_RAW, 300)]
        word = self.draw.choice(pool)
        return _tame(word if isinstance(word, str) else word.decode("utf-8", "surrogateescape"))


def _tame(word: str) -> str:
    """A word that leads to no place outside the folder."""
    word = word.replace("..", ".").replace("\0", "")  # no system passes a NUL to a program
    head, equals, tail = word.partition("=")
    return head.lstrip("/~ ") + equals + tail.lstrip("/~ ")


def _commands() -> list[tuple[list[str], list[tuple[tuple[str, ...], bool, bool]]]]:
    """Every command and its parameters: names, whether it takes a value, whether many."""
    import typer.main

    from jarcast.cli.app import build_app

    found: list[tuple[list[str], list[tuple[tuple[str, ...], bool, bool]]]] = []

    def walk(command: Any, words: list[str]) -> None:
        if hasattr(command, "commands"):
            for name, inner in command.commands.items():
                walk(inner, [*words, name])
            if not command.invoke_without_command:
                return
        if words == ["serve"]:  # it listens until it is stopped; tests/page tries it
            return
        params = [
            (
                tuple(param.opts + param.secondary_opts)
                if param.param_type_name == "option"
                else (),
                not getattr(param, "is_flag", False),
                bool(getattr(param, "multiple", False)) or param.nargs == -1,
            )
            for param in command.params
        ]
        found.append((words, params))

    command = typer.main.get_command(build_app())
    typer.main.get_command = lambda _: command  # built once, not for every line
    walk(command, [])
    return found


def _run(words: list[str]) -> tuple[int, str, str]:
    """Run a command line here; what goes wrong in it is raised, as JARCAST_DEBUG is set."""
    from jarcast.cli import main

    out, err = io.StringIO(), io.StringIO()
    code: object = None
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        try:
            main(words)
        except SystemExit as ended:
            code = ended.code
    return int(code) if isinstance(code, int) else 0, out.getvalue(), err.getvalue()


def _state(path: Path) -> list[tuple[str, int]]:
    """How many rows each table of the ledger has: none is ever changed or taken away.

    Settings are left out: units asked for, and a kitchen's altitude, are remembered, whatever
    comes after.
    """
    if not path.exists():
        return []
    with closing(sqlite3.connect(path)) as raw:
        tables = raw.execute("SELECT name FROM sqlite_schema WHERE type = 'table'").fetchall()
        counts = [
            (name, raw.execute(f'SELECT count(*) FROM "{name}"').fetchone()[0])  # noqa: S608
            for (name,) in tables
            if name not in ("action", "setting")
        ]
        actions = raw.execute("SELECT count(*) FROM action WHERE kind <> 'setting'").fetchone()
        return [*counts, ("action", actions[0])]


def _no_constant(name: str) -> float:
    raise AssertionError(f"{name} in JSON")
