"""Put values of every type where jarcast expects its own, and look whether it keeps its word.

    python tests/safety/typed_fuzz.py --target cells --minutes 10 --seed 1

Targets: cells of a ledger, with its digests taken away so that they do not hide it; a file of
beliefs; recipe cards; plans; DataFrames. Of each input: an answer or one of jarcast's own errors,
no NaN or infinity in an answer, at most 2 s of work, and after a command that failed a ledger as it
was. It works in a folder of its own, and ends with 1 when anything broke.
"""

import argparse
import json
import math
import sqlite3
import sys
import tomllib
import warnings
from collections.abc import Callable
from contextlib import closing, suppress
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).resolve().parent))
from command_lines import _no_constant, _run
from frames import any_frame, any_lines
from fuzz import Fuzzer, feed
from mutating import PLANS
from small_ledger import COMMANDS, make
from values import as_json, as_toml, nodes, twisted, value

Made = tuple[bytes, Callable[[], str]]
TARGETS = {
    "cells": "cell",
    "beliefs": "belief",
    "cards": "card",
    "plans": "plan",
    "frames": "frame",
}


class Typed(Fuzzer):
    """One input of a target after another."""

    def __init__(self, folder: Path, seed: int) -> None:
        super().__init__(folder, seed)
        warnings.simplefilter("ignore")
        from jarcast import learn
        from jarcast.files.shipped import shipped

        self.ledger = folder / "ledger.sqlite3"
        make(self.ledger, folder)
        self.whole = self.ledger.read_bytes()
        self.schema, self.loose = _loosened(self.ledger)
        self.beliefs_tree = json.loads(shipped("models", "starting-beliefs.json").read_bytes())
        self.beliefs_tree = _that_is_read(self.beliefs_tree)
        self.card_trees = [tomllib.loads(card.decode()) for card in self.cards]
        self.habits = learn(str(folder / "good.csv"))

    def cell(self) -> Made:
        """A ledger of which some cells are others, and three commands on it."""
        self.ledger.write_bytes(self.loose)
        with closing(sqlite3.connect(self.ledger, isolation_level=None)) as raw:
            count = self.draw.choice((1, 1, 1, 1, 2, 5))
            changed = [self._change(raw) for _ in range(count)]
            _tightened(raw, self.schema)
        commands = self.draw.sample(COMMANDS, 3)
        asked = [[*one, "--json"] if self.draw.random() < 0.5 else one for one in commands]

        return f"{'; '.join(changed)}: {asked}".encode("utf-8", "replace"), lambda: self._all(asked)

    def _change(self, raw: sqlite3.Connection) -> str:
        """Give one cell another value; say which."""
        tables = [name for kind, name, _ in self.schema if kind == "table"]
        while True:
            table = self.draw.choice(tables)
            columns = [(row[1], row[2]) for row in raw.execute(f"PRAGMA table_info({table})")]
            column, kind = self.draw.choice(columns)
            ids = [row[0] for row in raw.execute(f"SELECT id FROM {table}")]  # noqa: S608
            if column == "digest" or not ids or (column == "id" and self.draw.random() < 0.8):
                continue
            at = self.draw.choice(ids)
            old = raw.execute(f'SELECT "{column}" FROM {table} WHERE id = ?', (at,)).fetchone()[0]  # noqa: S608
            new = self._instead(old, kind, raw, table, column)
            try:
                raw.execute(f'UPDATE {table} SET "{column}" = ? WHERE id = ?', (new, at))  # noqa: S608
            except (sqlite3.Error, OverflowError, UnicodeError):  # what SQLite itself never holds
                continue
            return f"{table}.{column} of {at}: {new!r}"[:300]

    def _instead(self, old: Any, kind: str, raw: Any, table: str, column: str) -> Any:
        """Another value for a cell: mostly of the kind that its column holds."""
        if isinstance(old, str) and old.startswith("{") and self.draw.random() < 0.7:
            with suppress(ValueError):  # a cell that was changed before
                return as_json(twisted(self.draw, json.loads(old)))
        if self.draw.random() < 0.2:
            others = raw.execute(f'SELECT "{column}" FROM {table}').fetchall()  # noqa: S608
            return self.draw.choice(others)[0]
        due = {"TEXT": str, "REAL": float, "INTEGER": int}[kind]
        new = value(self.draw)
        if self.draw.random() < 0.8:
            while new is not None and type(new) is not due:
                new = value(self.draw)
        return as_json(new) if isinstance(new, list | dict) else new

    def _all(self, asked: list[list[str]]) -> str:
        return "exit " + "".join(sorted({str(self._checked(words)) for words in asked}))

    def _checked(self, words: list[str]) -> int:
        """Run a command; raise AssertionError where it does not end as it should."""
        before = _rows(self.ledger)
        code, out, err = _run(words)
        assert code in (0, 1, 2), code
        assert "should not have happened" not in err, err
        if code:
            assert err.strip(), "failed and said nothing"
            told = "all the same" in err  # the answer alone failed, and says so
            assert told or _rows(self.ledger) == before, f"half a write: {words} {err}"
        elif "--json" in words:
            json.loads(out, parse_constant=_no_constant)
        return code

    def belief(self) -> Made:
        """A file of beliefs, learned with and forecast by."""
        path = self.folder / "beliefs.json"
        path.write_text(as_json(twisted(self.draw, self.beliefs_tree)))

        def run() -> str:
            from jarcast import learn
            from jarcast.learning import load_beliefs

            habits = learn(str(self.folder / "good.csv"), load_beliefs(path))
            for crop in (("carrot", "sticks"), ("okra", ""), ("rowan", "")):
                _finite(habits.forecast(produce=crop[0], cut=crop[1], as_bought_g=3000.0))
            return "fine"

        return _difference(path.read_text(), as_json(self.beliefs_tree)), run

    def card(self) -> Made:
        """A recipe card: checked, shown, scaled and forecast by."""
        card = self.draw.choice(self.card_trees)
        tree = twisted(self.draw, card)
        path = self.folder / "card.toml"
        path.write_text(as_toml(tree if isinstance(tree, dict) else {"name": tree}), "utf-8")
        self.ledger.write_bytes(self.whole)
        name = str(path)
        asked = self.draw.sample((
            ["recipes", "check", name], ["recipes", "show", name, "--json"],
            ["recipes", "show", name], ["recipes", "scale", name, "--brine", "10 cups", "--json"],
            ["recipes", "scale", name, "--jars", "12"],
            ["recipes", "scale", name, "--weight", "12 lb"],
            ["forecast", "--recipe", name, "--as-bought", "6 lb", "--json"],
            ["forecast", "--recipe", name, "--trimmed", "6 lb", "--as-named"],
            ["harvest", "--line", f"by {name}: 20 lb", "--json"],
        ), 3)  # fmt: skip
        return path.read_bytes(), lambda: self._all(asked)

    def plan(self) -> Made:
        """A plan as CSV or TOML, planned and written."""
        self.ledger.write_bytes(self.whole)
        if self.draw.random() < 0.5:
            path = self.folder / "plan.toml"
            tree = twisted(self.draw, tomllib.loads(PLANS[1].decode()))
            path.write_text(as_toml(tree if isinstance(tree, dict) else {"line": tree}), "utf-8")
        else:
            path = self.folder / "plan.csv"
            rows = twisted(self.draw, [line.split(",") for line in PLANS[0].decode().splitlines()])
            lines = [row if isinstance(row, list) else [row] for row in _listed(rows)]
            text = "\n".join(",".join(map(str, row)) for row in lines)
            path.write_text(text, "utf-8", newline="")
        words = ["harvest", str(path), *self.draw.choice(([], ["--csv", "result.csv"]))]
        words += self.draw.choice(([], ["--json"], ["--canner", "7 quarts / 8 pints"]))
        words += self.draw.choice(([], ["--keep", "again"], ["--have", "14 pint, 9 quart"]))
        return path.read_bytes(), lambda: self._all([words])

    def frame(self) -> Made:
        """What may be a table of batches or of lines: learned from, planned, predicted on."""
        from jarcast import learn, plan_harvest
        from jarcast.learning import ConjugateRegression

        kind = self.draw.choice(("learn", "plan", "predict"))
        table = any_frame(self.draw) if kind != "plan" else any_lines(self.draw)

        def run() -> str:
            if kind == "learn":
                _finite(learn(table).forecast(produce="carrot", trimmed_g=2700.0))
            elif kind == "plan":
                _finite(*plan_harvest(self.habits, table, draws=256).lines)
            else:
                known = ConjugateRegression(noise_dof=1.0, noise_scale=1.0, prior_scale=1.0)
                known.fit([[1.0, 2.0], [2.0, 1.0], [0.5, 0.1]], [1.0, 2.0, 0.0])
                try:
                    assert all(map(math.isfinite, known.predict(table)))
                except (
                    ValueError,
                    TypeError,
                    OverflowError,
                ):  # scikit-learn's own words for what it cannot take
                    return "predict refused"
            return f"{kind} fine"

        return f"{kind} {type(table).__name__} {_brief(table)}".encode("utf-8", "replace"), run


def _that_is_read(tree: dict[str, Any]) -> dict[str, Any]:
    """What is read of a file of beliefs, and of its crops two."""
    rows = [row for row in tree["crops"] if row["produce"] in ("carrot", "okra")]
    told = ("evidence", "basis", "source", "sources")
    tree = {key: tree[key] for key in ("format", "version", "people", "anything")}
    for holder, key in nodes(tree | {"crops": rows}):
        if isinstance(holder, dict) and key in told:
            del holder[key]
    return {**tree, "label": "club", "crops": rows}


def _brief(table: Any) -> str:
    with suppress(ValueError):  # an int that Python does not write out
        return str(table.to_dict("list") if hasattr(table, "columns") else table)[:600]
    return "a number of thousands of digits"


def _listed(tree: Any) -> list[Any]:
    return tree if isinstance(tree, list) else [tree]


def _finite(*forecasts: Any) -> None:
    for one in forecasts:
        numbers = (*one.jars.interval(0.8), one.jars.mean(), one.brine_to_make(0.05))
        assert all(map(math.isfinite, numbers)), numbers


def _difference(text: str, right: str) -> bytes:
    """Where a text leaves the one that is right, for a report."""
    at = next((i for i, (a, b) in enumerate(zip(text, right, strict=False)) if a != b), 0)
    return text[max(0, at - 200) : at + 600].encode("utf-8", "replace")


def _rows(path: Path) -> dict[str, list[Any]]:
    """All rows of the ledger, settings left out: units asked for are remembered all the same."""
    with closing(sqlite3.connect(path)) as raw:
        raw.text_factory = bytes
        found = raw.execute("SELECT name FROM sqlite_schema WHERE type = 'table'").fetchall()
        names = [name.decode() for (name,) in found if name != b"setting"]
        rows = {name: raw.execute(f"SELECT * FROM {name}").fetchall() for name in names}  # noqa: S608
    rows["action"] = [row for row in rows["action"] if row[2] != b"setting"]
    return rows


def _loosened(path: Path) -> tuple[list[tuple[str, str, str]], bytes]:
    """The schema of a ledger, and the ledger with tables that take anything and no digest."""
    with closing(sqlite3.connect(path, isolation_level=None)) as raw:
        raw.execute("PRAGMA journal_mode = DELETE")
        schema = raw.execute("SELECT type, name, sql FROM sqlite_schema WHERE sql > ''").fetchall()
        for kind, name, _ in schema:
            if kind in ("trigger", "view"):
                raw.execute(f"DROP {kind} {name}")
        raw.execute("UPDATE action SET digest = NULL")
        raw.execute("PRAGMA writable_schema = ON")
        raw.execute(
            "UPDATE sqlite_schema SET sql = replace(replace(sql, ') STRICT', ')'), ' NOT NULL', '')"
            " WHERE type = 'table'"
        )
    return schema, path.read_bytes()


def _tightened(raw: sqlite3.Connection, schema: list[tuple[str, str, str]]) -> None:
    """Put back what ``_loosened`` took away, the digests aside."""
    raw.execute("PRAGMA synchronous = OFF")
    raw.execute("BEGIN")
    for kind, _, sql in schema:
        if kind in ("trigger", "view"):
            raw.execute(sql)
    raw.execute("PRAGMA writable_schema = ON")
    for kind, name, sql in schema:
        if kind == "table":
            raw.execute("UPDATE sqlite_schema SET sql = ? WHERE name = ?", (sql, name))
    raw.execute("COMMIT")


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--target", nargs="*", default=list(TARGETS), choices=list(TARGETS))
    parser.add_argument("--minutes", type=float, default=math.inf)
    parser.add_argument("--inputs", type=int, default=10**9)
    parser.add_argument("--seed", type=int, default=1)
    asked = parser.parse_args()
    kinds = {TARGETS[target]: 1 for target in asked.target}
    return feed(Typed, kinds, asked.seed, asked.inputs, 60.0 * asked.minutes)


if __name__ == "__main__":
    sys.exit(main())
