"""Refuses tables in sources/ that name a produce, kin, cut or pack which is not there.

Without this a misspelt name would quietly become a crop, or a kin, of its own.
"""

import csv
import math
from collections.abc import Callable, Iterable, Iterator, Mapping
from difflib import get_close_matches
from pathlib import Path

from jarcast.domain.names import cut_key, produce_key
from jarcast.errors import BeliefsError
from jarcast.learning.model.beliefs import QUANTITIES

Row = Mapping[str, str]
PACKS = ("raw", "hot")
CURED = ("usual", "sometimes", "never")
# Read in this order, so that a slip is named where it was made and not where it is missed.
FIRST = ("kins.csv", "produce.csv", "crops.csv", "practice.csv")
ONCE = {"kins.csv": ("kin",), "produce.csv": ("produce",), "crops.csv": ("produce", "cut")}


class _Names:
    """The names that rows of other tables may use."""

    def __init__(self, tables: Mapping[str, list[tuple[int, Row]]]) -> None:
        self.kins = [row["kin"] for _, row in tables["kins.csv"]]
        self.kins_used = {row["kin"] for _, row in tables["produce.csv"]}
        self.produce = [row["produce"] for _, row in tables["produce.csv"]]
        self.cut_up = {row["produce"] for _, row in tables["crops.csv"]}


def check_sources(folder: Path) -> None:
    """Raises BeliefsError, naming file and line of the first row that cannot be right."""
    tables = {path.name: list(_rows(path)) for path in sorted(folder.glob("*.csv"))}
    names = _Names(tables)
    checks: Mapping[str, Callable[[Row, _Names], None]] = {
        "kins.csv": _check_kin,
        "produce.csv": _check_produce,
        "crops.csv": _check_crop,
        "practice.csv": _check_practice,
    }
    for name in (*FIRST, *(name for name in tables if name not in FIRST)):
        lines: dict[tuple[str, ...], int] = {}
        for line, row in tables[name]:
            try:
                checks.get(name, _check_names)(row, names)
            except BeliefsError as error:
                raise BeliefsError(f"{name}, line {line}: {error}") from error
            cells = tuple(row[column] for column in ONCE.get(name, ()))
            if cells and (first := lines.setdefault(cells, line)) != line:
                said = " ".join(cells)
                raise BeliefsError(f"{name}, line {line}: '{said}' stands in line {first} already")


def _rows(path: Path) -> Iterator[tuple[int, Row]]:
    with path.open(encoding="utf-8", newline="") as lines:
        reader = csv.DictReader(lines)
        for row in reader:
            if None in row or None in row.values():
                cells = len(reader.fieldnames or ())
                raise BeliefsError(
                    f"{path.name}, line {reader.line_num}: has more or fewer cells than the "
                    f"{cells} of its header; a text with a comma needs quotes around it"
                )
            yield reader.line_num, row


def _check_kin(row: Row, names: _Names) -> None:
    _known(row["kin"], names.kins_used, "the kin of any row of produce.csv")


def _check_produce(row: Row, names: _Names) -> None:
    name = row["produce"]
    if produce_key(name) != name:
        raise BeliefsError(f"'{name}' is called '{produce_key(name)}' here (kinds.py)")
    _known(row["kin"], names.kins, "in kins.csv; add a row there for a new kin")
    _known(name, names.cut_up, "in crops.csv; add a row there for each of its cuts")
    _known(row["cured"], CURED, "a word for how often it is salted")
    parts = [part.rpartition(":") for part in row["parts"].split(" + ") if part]
    for part, _, _ in parts:
        _known(part, names.produce, "in produce.csv; a part of a mixture needs a row of its own")
    if parts and not math.isclose(sum(float(share) for *_, share in parts), 1.0, abs_tol=0.005):
        raise BeliefsError(f"the parts of '{name}' do not add up to 1: {row['parts']}")


def _check_crop(row: Row, names: _Names) -> None:
    _check_names(row, names)
    _known(row["cured"], CURED, "a word for how often it is salted")
    for pack in row["packs"].split(" + "):
        _known(pack, PACKS, "a pack")


def _check_practice(row: Row, names: _Names) -> None:
    _check_names(row, names)
    _known(row["quantity"], QUANTITIES.values(), "a quantity")
    if row["kin"]:
        _known(row["kin"], names.kins, "in kins.csv")


def _check_names(row: Row, names: _Names) -> None:
    """Names are written as the program knows them; a row that is left out may be of anything."""
    if row.get("left_out"):
        return
    if name := row.get("produce", ""):
        _known(name, names.produce, "in produce.csv; add a row for it there and in crops.csv")
    if (cut := row.get("cut", "")) and cut_key(cut) != cut:
        raise BeliefsError(f"the cut '{cut}' is called '{cut_key(cut)}' here")
    if pack := row.get("pack", ""):
        _known(pack, PACKS, "a pack")


def _known(name: str, names: Iterable[str], what: str) -> None:
    names = list(names)
    if name not in names:
        near = "".join(f" (did you mean '{one}'?)" for one in get_close_matches(name, names, 1))
        raise BeliefsError(f"'{name}'{near} is not {what}")
