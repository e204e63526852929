"""'-' where a file is to be written: standard output for a table, refused for anything else."""

import csv
import io
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

Run = Callable[..., Any]

LINE = ("harvest", "--line", "carrot, sticks, raw, pint: 8 lb")


@pytest.fixture(autouse=True)
def nothing_called_so(kitchen: Path) -> Any:
    yield
    assert not list(kitchen.rglob("-"))


def table(text: str) -> list[list[str]]:
    return list(csv.reader(io.StringIO(text, newline="")))


def test_an_export_to_it_is_what_it_is_without_a_file(run: Run, filled: Path) -> None:
    plain = run("export")
    assert table(plain.out)[0][:3] == ["batch", "date", "produce"]
    assert run("export", "-").out == plain.out
    assert run("export", "-", "--json").document == run("export", "--json").document


def test_a_harvest_s_table_has_standard_output_and_the_answer_stands_beside_it(
    run: Run, kitchen: Path
) -> None:
    for option, name in (("--csv", "plan.csv"), ("--shopping", "list.csv")):
        answer = run(*LINE, option, name).out
        ran = run(*LINE, option, "-")
        assert ran.code == 0, ran.err
        assert ran.out == (kitchen / name).read_bytes().decode()
        assert answer in ran.err


@pytest.mark.parametrize(
    "more",
    [
        ("--csv", "-", "--json"),
        ("--csv", "-", "--shopping", "-"),
        ("--shopping", "-", "--json"),
    ],
)
def test_standard_output_holds_one_document(run: Run, more: tuple[str, ...]) -> None:
    ran = run(*LINE, *more)
    assert ran.code == 1
    assert ran.out == ""
    assert f"cannot all go to standard output; name a file for {more[0]}" in ran.err


@pytest.mark.parametrize(
    ("command", "mend"),
    [
        (("report", "-"), "report.html"),
        (("forecast", "--produce", "carrot", "--trimmed", "6 lb", "--sheet", "-"), "sheet.html"),
        (("forecast", "--produce", "carrot", "--trimmed", "6 lb", "--chart", "-"), "chart.svg"),
        (("hindsight", "--chart", "-"), "chart.svg"),
        (("habits", "--chart", "-"), "chart.svg"),
        (("restore", "--salvage", "-"), "salvaged.sqlite3"),
        (("beliefs", "pool", "batches.csv", "--to", "-"), "beliefs.json"),
        (("batches", "--ledger", "-"), "ledger.sqlite3"),
        (("record", "aug 22 carrots 9 pints", "--ledger", "-"), "ledger.sqlite3"),
    ],
)
def test_what_is_no_table_is_refused_and_the_mend_is_said(
    run: Run, filled: Path, command: tuple[str, ...], mend: str
) -> None:
    ran = run(*command)
    assert ran.code == 1
    assert ran.out == ""
    assert "goes into a file, not to standard output ('-')" in " ".join(ran.err.split())
    assert f"such as {mend}" in " ".join(ran.err.split())
