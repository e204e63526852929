"""Inputs made to fill the memory or take for ever: refused early, in one sentence.

They run in processes that may use 500 MB of address space; each may take 2 s of processor time.
"""

import json
import os
import subprocess
import sys
import threading
from pathlib import Path

import pytest

pytestmark = [
    pytest.mark.skipif(os.name != "posix", reason="such limits are POSIX's"),
    pytest.mark.xdist_group("alone"),
]

MEMORY, SECONDS = 500_000_000, 2.0
GIGABYTE = 1_000_000_000
WIDE = "\ufdfa"  # one sign that compatibility forms make eighteen: https://unicode.org/reports/tr15

_LIMITED = """
import contextlib, io, json, resource, sys, time
resource.setrlimit(resource.RLIMIT_AS, (int(sys.argv[1]),) * 2)
resource.setrlimit(resource.RLIMIT_CPU, (60, 60))
from jarcast.cli import main
ends = []
for line in json.load(sys.stdin):
    err, began = io.StringIO(), time.process_time()
    with contextlib.redirect_stdout(io.StringIO()), contextlib.redirect_stderr(err):
        try:
            main(line)
        except SystemExit as ended:
            code = int(ended.code)
    ends.append([code, err.getvalue(), time.process_time() - began])
json.dump(ends, sys.stdout)
"""


def limited(*lines: tuple[str | Path, ...]) -> list[tuple[int, str]]:
    """How command lines end in a process with little memory, and what each said."""
    ran = subprocess.run(
        [sys.executable, "-c", _LIMITED, str(MEMORY)],
        input=json.dumps([[str(word) for word in line] for line in lines]),
        capture_output=True, text=True, timeout=120,
    )  # fmt: skip
    assert ran.returncode == 0, ran.stderr[-2000:]
    for line, (_, said, took) in zip(lines, json.loads(ran.stdout), strict=True):
        assert took < SECONDS, line[:2]
        assert len(said) < 5_000 + sum(len(str(word)) for word in line)
        for word in ("Traceback", "should not have happened", "MemoryError"):
            assert word not in said, (line[:2], said)
    return [(code, said) for code, said, _ in json.loads(ran.stdout)]


def refused(*lines: tuple[str | Path, ...]) -> list[str]:
    """What each line was refused with."""
    ends = limited(*lines)
    for line, (code, said) in zip(lines, ends, strict=True):
        assert code in (1, 2), (line[:2], said)
        assert said.strip()
    return [said for _, said in ends]


def pouring(path: Path, start: bytes, total: int) -> threading.Thread:
    """A pipe by this name into which that much is poured, as long as somebody reads."""
    os.mkfifo(path)

    def pour() -> None:
        try:
            with path.open("wb") as pipe:
                pipe.write(start)
                for _ in range(total // 65536):
                    pipe.write(b"x" * 65536)
        except BrokenPipeError:  # it has seen enough
            pass

    thread = threading.Thread(target=pour, daemon=True)
    thread.start()
    return thread


HEADER = "batch,date,produce,jar,jars,note"


@pytest.mark.parametrize(
    "start", [b"", f"{HEADER}\n1,2024-08-31,okra,pint,3,".encode(), f'{HEADER}\n1,"'.encode()]
)
def test_a_line_of_a_gigabyte_is_not_read_to_its_end(kitchen: Path, start: bytes) -> None:
    pipe = kitchen / "batches.csv"
    thread = pouring(pipe, start, GIGABYTE)
    (said,) = refused(("import", pipe))
    assert "longer than" in said
    thread.join(timeout=10)
    assert not thread.is_alive()


def test_a_table_from_a_pipe_is_taken_in(kitchen: Path) -> None:
    pipe = kitchen / "batches.csv"
    pouring(pipe, f"{HEADER}\n".encode() + b"1,2024-08-31,okra,pint,3,\n", 0)
    assert limited(("import", pipe)) == [(0, "")]


def test_a_plan_without_end_is_not_read_to_its_end(kitchen: Path) -> None:
    pipe = kitchen / "plan.csv"
    thread = pouring(pipe, b"produce,as_bought\n", GIGABYTE)
    (said,) = refused(("harvest", pipe))
    assert "longer than 4 MB" in said
    thread.join(timeout=10)
    assert not thread.is_alive()


def test_a_file_that_never_ends_is_no_table_no_plan_and_no_card(kitchen: Path) -> None:
    said = refused(
        ("import", "/dev/zero"), ("harvest", "/dev/zero"), ("recipes", "add", "/dev/zero")
    )
    for sentence, due in zip(said, ("longer than", "longer than 4 MB", "not a file"), strict=True):
        assert due in sentence


def test_a_million_columns_are_refused_by_their_number(kitchen: Path) -> None:
    lines: list[tuple[str | Path, ...]] = []
    for number, cell in enumerate(("", "c", "column")):
        path = kitchen / f"{number}.csv"
        path.write_text(",".join([HEADER, *[cell] * 1_000_000]) + "\n")
        lines += [("import", path), ("harvest", path)]
    path = kitchen / "row.csv"
    path.write_text(f"{HEADER}\n1,2024-08-31,okra,pint,3," + "," * 1_000_000 + "\n")
    refused(*lines, ("import", path))


COLUMNS = ("batch", "date", "produce", "cut", "jar", "jars", "trimmed")
ROW = ("1", "2024-08-31", "okra", "whole", "pint", "3", "5 lb")


@pytest.mark.parametrize("filling", [WIDE, "\u00bd", "9", "(", "a b ", "1 + ", '""'])
def test_a_cell_that_swells_does_not_fill_the_memory(kitchen: Path, filling: str) -> None:
    """A name or a crop may be as long as a cell may be; nothing else may."""
    lines = []
    for at, column in enumerate(COLUMNS):
        cell = filling * (60_000 // len(filling.encode()))
        row = [f'"{cell if at == place else text}"' for place, text in enumerate(ROW)]
        (kitchen / f"{column}.csv").write_text(",".join(COLUMNS) + "\n" + ",".join(row) + "\n")
        lines.append(("import", kitchen / f"{column}.csv", "--ledger", f"{column}.sqlite3"))
    for column, (code, said) in zip(COLUMNS, limited(*lines), strict=True):
        assert code == (0 if column in ("batch", "produce", "cut") else 1), (column, said)


def test_headers_that_swell_do_not_fill_the_memory(kitchen: Path) -> None:
    many, one = kitchen / "many.csv", kitchen / "one.csv"
    many.write_text(",".join([HEADER, *[WIDE * 300] * 900]) + "\n")
    one.write_text(HEADER + "," + WIDE * 600_000 + "\n")
    refused(("import", many), ("import", one), ("harvest", many), ("harvest", one))


def test_a_card_or_a_plan_in_toml_that_goes_too_deep_or_too_far(kitchen: Path) -> None:
    contents = (
        "x" * 50_000_000,
        "a." * 30_000 + "a = 1\n",
        "[" * 60_000,
        "x = " + "[" * 30_000 + "]" * 30_000,
        "x = " + "{a=" * 10_000,
        "x = " + "9" * 60_000,
        'x = "' + "\\\\" * 30_000 + '"',
        "[[line]]\n" * 7_000,
        "x = [" + "1," * 30_000 + "]",
        'name = """' + "\n" * 900,
        "".join(f"k{number} = 1\n" for number in range(990)),
    )
    lines: list[tuple[str | Path, ...]] = []
    for number, content in enumerate(contents):
        path = kitchen / f"{number}.toml"
        path.write_text(content)
        lines += [("recipes", "add", path), ("harvest", path)]
    refused(*lines)


def test_a_measure_or_a_name_without_end_is_refused(kitchen: Path) -> None:
    lines: list[tuple[str | Path, ...]] = []
    for repeated in ("9", "a", "1 lb + ", "(", WIDE, "1/", "\u00bd ", "then "):
        long = repeated * (100_000 // len(repeated.encode()))  # Linux passes 128 kB at most
        lines += [
            ("forecast", "--produce", "carrot", "--trimmed", long),
            ("forecast", "--produce", "carrot", "--trimmed", "5 lb", "--jar", long),
            ("harvest", "--line", long),
            ("buy", long),
            ("kitchen", "jars", "add", long, "--water", "415 g"),
        ]
    refused(*lines)
