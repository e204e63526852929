"""jarcast import: all of a file or nothing of it, and what is wrong said plainly."""

import datetime as dt
import hashlib
import os
import subprocess
import sys
import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

pytestmark = pytest.mark.contract

Run = Callable[..., Any]
Put = Callable[..., Path]

NEEDED = "batch,date,produce,jar,jars"
GOOD = "1,2024-08-31,carrot,pint,7.5"
SOON = (dt.date.today() + dt.timedelta(days=2)).isoformat()


def all_files(folder: Path) -> dict[str, str]:
    """Every file below a folder, with a digest of what is in it."""
    return {
        str(path.relative_to(folder)): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }


def one_sentence_or_a_table(said: str) -> None:
    """What a refusal looks like: one line, or one and then a line for each problem."""
    first, *others = said.splitlines()
    assert first.startswith("jarcast: ")
    assert all(line.startswith("  ") for line in others)
    for word in ("Traceback", "should not have happened", "Error:", "Errno"):
        assert word not in said


# What goes well


def test_batches_are_counted_and_the_ledger_is_named(run: Run, table: Put, ledger: Path) -> None:
    ran = run("import", str(table(GOOD, header=NEEDED)))
    assert (ran.code, ran.err) == (0, "")
    assert ran.out.splitlines() == [f"1 batch added to {ledger}."]
    assert ledger.is_file()


def test_the_same_file_twice_adds_nothing_and_says_so(run: Run, filled: Path, table: Put) -> None:
    before = filled.read_bytes()
    ran = run("import", "batches.csv")
    assert ran.code == 0
    assert "0 batches added" in ran.out
    assert "4 batches already there, skipped" in ran.out
    again = run("import", "batches.csv", "--json").document
    assert again["added"] == []
    assert again["skipped"] == ["c1", "c2", "k1", "b1"]
    assert filled.read_bytes() == before


def test_a_file_that_has_grown_adds_what_is_new(run: Run, filled: Path, kitchen: Path) -> None:
    with (kitchen / "batches.csv").open("a") as file:
        file.write("n1,2024-10-05,okra,whole,raw,pint,2 lb,0,4,,,\n")
    document = run("import", "batches.csv", "--json").document
    assert document["added"] == ["n1"]
    assert len(document["skipped"]) == 4


def test_columns_of_one_s_own_are_reported_as_ignored(run: Run, table: Put) -> None:
    path = table(f"{GOOD},sunny", header=f"{NEEDED},weather")
    ran = run("import", str(path))
    assert ran.code == 0
    assert "weather" in ran.err
    assert run("import", str(path), "--json").document["ignored_columns"] == ["weather"]


def test_heavier_after_trimming_is_taken_in_and_named_on_screen_with_a_guess(
    run: Run, table: Put
) -> None:
    # 5.9 kg written down as if it were 13 lb read in kilograms: the ratio of the two is 2.2, the
    # pounds in a kilogram (NIST Handbook 44, Appendix C).
    path = table(f"{GOOD},5.9 kg,13 kg", header=f"{NEEDED},as_bought,trimmed")
    ran = run("import", str(path))
    assert ran.code == 0
    assert "1 batch added" in ran.out
    named = next(line for line in ran.err.splitlines() if line.startswith("  1:"))
    assert "heavier" in named
    assert "pounds typed as kilograms" in named
    flag = run("import", str(path), "--json").document["flags"][0]
    assert flag["batch"] == "1"
    assert flag["columns"] == ["as_bought_g", "trimmed_g"]
    assert "heavier" in run("batches").err  # and it goes on being said until it is mended


def test_of_very_many_contradictions_the_first_are_told_and_json_has_them_all(
    run: Run, table: Put
) -> None:
    rows = [f"{number},2024-08-31,carrot,pint,7,9" for number in range(50)]
    path = table(*rows, header=f"{NEEDED},sealed")
    told = run("import", str(path)).err.splitlines()
    assert len([line for line in told if "9 sealed of 7 pint filled" in line]) == 20
    assert "... and 30 more; 'jarcast batches' shows them all." in told[-1]
    assert run("batches").err.count("9 sealed of 7 pint filled") == 50
    assert len(run("import", str(path), "--json").document["flags"]) == 50


def test_a_long_name_in_another_script_is_taken(run: Run, table: Put) -> None:
    rows = [f"{name},2024-08-31,carrot,pint,7.5" for name in ("x" * 5000, "גזר", "🥕", "007")]
    assert run("import", str(table(*rows, header=NEEDED))).code == 0
    found = [batch["batch"] for batch in run("batches", "--json").document["batches"]]
    assert found == ["x" * 5000, "גזר", "🥕", "007"]


# What cannot be taken


def with_jars(jars: str) -> str:
    return f"{NEEDED}\n1,2024-08-31,carrot,pint,{jars}\n"


def with_cell(column: str, cell: str) -> str:
    return f"{NEEDED},{column}\n{GOOD},{cell}\n"


BAD: dict[str, tuple[str | bytes, str]] = {
    "an empty file": ("", "is empty"),
    "nothing but blank lines": ("\n\n  \n", "is empty"),
    "a header alone": (NEEDED + "\n", "no batches"),
    "a needed column missing": ("batch,date,jar,jars\n", "needed but missing: produce"),
    "a name twice with other values": (
        f"{NEEDED}\n{GOOD}\n1,2024-08-31,beet,pint,7.5\n",
        "keep one of the two",
    ),
    "a date in the future": (f"{NEEDED}\n1,{SOON},carrot,pint,7.5\n", "in the future"),
    "a date that is none": (f"{NEEDED}\n1,2024-02-30,carrot,pint,7.5\n", "no such day"),
    "a date in another order": (f"{NEEDED}\n1,31/8/2024,carrot,pint,7.5\n", "2024-08-31"),
    "no jars": (with_jars("0"), "no jars were filled"),
    "fewer than no jars": (with_jars("-3"), "negative"),
    "jars without number": (with_jars("nan"), "not a number"),
    "jars without end": (with_jars("inf"), "not a number"),
    "a thousand million jars": (with_jars("1000000000"), "more than can be"),
    "a billion jars, as a power": (with_jars("1e9"), "more than can be"),
    "jars beyond any number": (with_jars("1e999"), "not a number"),
    "jars empty": (with_jars(""), "is empty"),
    "a jar unknown": (f"{NEEDED}\n1,2024-08-31,carrot,bucket,7.5\n", "known jars are"),
    "a negative weight": (with_cell("trimmed_g", "-2700"), "negative"),
    "a negative kitchen weight": (with_cell("trimmed", "-6 lb"), "negative"),
    "a weight of nothing": (with_cell("trimmed_g", "0"), "is not a weight"),
    "a weight that is none": (with_cell("trimmed_g", "NaN"), "not a number"),
    "a weight without end": (with_cell("trimmed_g", "-Infinity"), "not a number"),
    "a weight without a unit": (with_cell("trimmed", "6"), "lb, oz, kg or g"),
    "a weight where a volume is due": (with_cell("brine_made", "6 lb"), "a volume is due"),
    "negative brine": (with_cell("brine_made_ml", "-1"), "negative"),
    "a cell too many": (f"{NEEDED}\n{GOOD},extra\n", "6 cells where the header has 5"),
    "a cell too few": (f"{NEEDED}\n1,2024-08-31,carrot,pint\n", "4 cells where the header has 5"),
    "a quote never closed": (f'{NEEDED}\n1,2024-08-31,"carrot,pint,7.5\n', "never closed"),
    "latin-1 text": (f"{NEEDED}\n1,2024-08-31,jalapeño,pint,7.5\n".encode("latin-1"), "UTF-8"),
    "UTF-16 text": (f"{NEEDED}\n{GOOD}\n".encode("utf-16"), "UTF-16"),
    "a NUL": (f"{NEEDED}\n1,2024-08-31,carr\0ot,pint,7.5\n", "NUL"),
    "a picture": (b"\x89PNG\r\n\x1a\n" + bytes(range(256)), "line 1"),
    "a page of a web site": (
        "<!doctype html>\n<html><body>none</body></html>\n",
        "needed but missing",
    ),
}


@pytest.mark.parametrize("name", BAD)
def test_a_bad_file_is_refused_in_plain_words_and_the_ledger_is_as_it_was(
    run: Run, filled: Path, kitchen: Path, name: str
) -> None:
    content, saying = BAD[name]
    bad = kitchen / "bad.csv"
    bad.write_bytes(content if isinstance(content, bytes) else content.encode())
    before = all_files(kitchen)
    ran = run("import", "bad.csv")
    assert ran.code == 1
    assert ran.out == ""
    one_sentence_or_a_table(ran.err)
    assert "bad.csv" in ran.err
    assert saying in ran.err
    ran = run("import", "bad.csv", "--json")
    assert (ran.code, ran.out) == (1, "")
    assert saying in ran.error["error"]
    assert all_files(kitchen) == before


@pytest.mark.parametrize("name", ["a jar unknown", "a header alone", "an empty file"])
def test_a_first_file_that_is_refused_leaves_no_ledger_behind(
    run: Run, ledger: Path, kitchen: Path, name: str
) -> None:
    (kitchen / "bad.csv").write_bytes(str(BAD[name][0]).encode())
    assert run("import", "bad.csv", "--units", "metric").code == 1
    assert not ledger.exists()


def test_every_bad_row_is_in_the_table_with_file_line_column_value_and_mend(
    run: Run, table: Put, ledger: Path
) -> None:
    rows = [GOOD, "2,2024-08-31,carrot,bucket,7.5", "3,someday,carrot,pint,none", "4,,,,"]
    table(*rows, header=NEEDED)
    ran = run("import", "batches.csv")
    assert ran.code == 1
    one_sentence_or_a_table(ran.err)
    lines = ran.err.splitlines()[1:]
    assert len(lines) == 1 + 2 + 4
    assert "batches.csv, line 3, jar 'bucket': there is no jar" in lines[0]
    assert "line 4, date 'someday'" in lines[1]
    assert "line 4, jars 'none'" in lines[2]
    assert all("line 5" in line for line in lines[3:])
    problems = run("import", "batches.csv", "--json").error["problems"]
    assert [line.strip() for line in lines] == problems
    assert not ledger.exists()


def test_a_known_name_with_other_values_is_refused_with_both(
    run: Run, filled: Path, kitchen: Path
) -> None:
    (kitchen / "more.csv").write_text(
        f"{NEEDED}\nnew,2024-09-09,okra,pint,2\nb1,2024-09-01,beets,pint,7\n"
    )
    before = all_files(kitchen)
    ran = run("import", "more.csv")
    assert ran.code == 1
    one_sentence_or_a_table(ran.err)
    assert "jars '6' there, '7' here" in ran.err
    assert "amend" in ran.err
    assert all_files(kitchen) == before


def test_a_cell_of_fifty_megabytes_is_refused(run: Run, filled: Path, kitchen: Path) -> None:
    big = kitchen / "big.csv"
    big.write_bytes(f"{NEEDED},note\n{GOOD},".encode() + b"x" * 50_000_000 + b"\n")
    before = filled.read_bytes()
    ran = run("import", "big.csv")
    assert ran.code == 1
    one_sentence_or_a_table(ran.err)
    assert len(ran.err) < 500
    assert filled.read_bytes() == before


@pytest.mark.parametrize("file", ["none.csv", "batches.csv/none.csv", "x" * 5000])
def test_what_is_no_file_is_refused(run: Run, filled: Path, kitchen: Path, file: str) -> None:
    before = all_files(kitchen)
    ran = run("import", file)
    assert ran.code == 1
    one_sentence_or_a_table(ran.err)
    assert all_files(kitchen) == before


@pytest.mark.parametrize("file", [".", ""])
def test_a_folder_is_read_through_and_nothing_taken_without_yes(
    run: Run, filled: Path, kitchen: Path, file: str
) -> None:
    before = all_files(kitchen)
    ran = run("import", file)
    assert ran.code == 1
    assert "nothing was imported" in ran.err.splitlines()[-1]
    assert all_files(kitchen) == before


def test_a_notebook_goes_in_as_one_action_and_comes_out_as_one(
    run: Run, kitchen: Path, ledger: Path
) -> None:
    text = "When,Veg,Weight (lbs),Fruit jars (pts)\n4 July 2024,okra,4,6\n5 July 2024,okra,?,x\n"
    (kitchen / "mine.csv").write_text(text)
    assert run("import", "mine.csv").code == 1
    assert run("import", "mine.csv", "--dry-run").code == 0
    assert not ledger.exists()
    ran = run("import", "mine.csv", "--map", "Fruit jars (pts)=jars:pint", "--yes")
    assert (ran.code, "1 batch added" in ran.out) == (0, True)
    assert "row 3" in ran.err
    assert run("undo", "--yes").code == 0
    assert run("export").out.count("okra") == 0
    again = run("import", "mine.csv", "--yes")  # the heading is remembered
    assert "1 batch added" in again.out


def test_a_weight_under_a_heading_of_ones_own_is_not_lost(run: Run, kitchen: Path) -> None:
    (kitchen / "mine.csv").write_text(f"{NEEDED},Weight (lbs)\n{GOOD},8\n")
    assert run("import", "mine.csv").code == 1
    assert run("import", "mine.csv", "--yes").code == 0
    assert "3628.7" in run("export").out  # 8 x 453.59237 g, NIST Handbook 44


def test_the_ledger_is_no_csv_file(run: Run, filled: Path) -> None:
    before = filled.read_bytes()
    ran = run("import", str(filled))
    assert ran.code == 1
    one_sentence_or_a_table(ran.err)
    assert filled.read_bytes() == before


# Without the right to it, and without room for it

needs_posix = pytest.mark.skipif(os.name != "posix", reason="rights and limits are POSIX's here")

# Root may do anything, so as root this acts as another user. What it needs is loaded before, since
# another user may have no way to where it is installed.
_AS_ANOTHER = """
import contextlib, io, os, pkgutil, sys
import encodings.utf_8_sig, platformdirs
from importlib import import_module
import jarcast
from jarcast.cli import main
for found in pkgutil.walk_packages(jarcast.__path__, "jarcast."):
    if not found.name.endswith("__main__"):
        import_module(found.name)
for first in (["--version"], ["import", "--help"]):
    with contextlib.suppress(SystemExit), contextlib.redirect_stdout(io.StringIO()):
        main(first)
if os.geteuid() == 0:
    os.setgroups([])
    os.setgid(65534)
    os.setuid(65534)
main(sys.argv[1:])
"""


def as_another(*typed: str) -> "subprocess.CompletedProcess[str]":
    return subprocess.run(
        [sys.executable, "-c", _AS_ANOTHER, *typed], capture_output=True, text=True, timeout=60
    )


@pytest.fixture
def open_folder() -> Iterator[Path]:
    """A folder that other users can reach, as pytest's own cannot be."""
    with tempfile.TemporaryDirectory() as name:
        Path(name).chmod(0o755)
        yield Path(name)
        Path(name).chmod(0o755)


@needs_posix
def test_a_file_that_may_not_be_read_is_said_to_be_so(run: Run, open_folder: Path) -> None:
    path, ledger = open_folder / "batches.csv", open_folder / "ledger.sqlite3"
    path.write_text(f"{NEEDED}\n{GOOD}\n")
    path.chmod(0o000)
    ran = as_another("import", str(path), "--ledger", str(ledger))
    assert (ran.returncode, ran.stdout) == (1, "")
    one_sentence_or_a_table(ran.stderr)
    assert "Permission denied" in ran.stderr
    assert not ledger.exists()


@needs_posix
def test_a_ledger_that_may_only_be_read_takes_nothing_in_and_still_answers(
    run: Run, open_folder: Path
) -> None:
    path, ledger = open_folder / "batches.csv", open_folder / "ledger.sqlite3"
    path.write_text(f"{NEEDED}\n{GOOD}\n")
    assert run("import", str(path), "--ledger", str(ledger)).code == 0
    path.write_text(f"{NEEDED}\n2,2024-08-31,beet,pint,7\n")
    ledger.chmod(0o444)
    open_folder.chmod(0o555)
    before = all_files(open_folder)
    ran = as_another("import", str(path), "--ledger", str(ledger))
    assert (ran.returncode, ran.stdout) == (1, "")
    one_sentence_or_a_table(ran.stderr)
    assert "the file or its folder is read-only" in " ".join(ran.stderr.split())
    served = as_another("serve", "--no-browser", "--ledger", str(ledger))
    assert (served.returncode, served.stdout) == (1, "")
    assert "is read-only, and the page keeps there" in " ".join(served.stderr.split())
    listed = as_another("batches", "--ledger", str(ledger), "--units", "metric")
    assert listed.returncode == 0
    assert "carrot" in listed.stdout
    assert "--units metric is not remembered" in listed.stderr
    assert all_files(open_folder) == before


_WITH_LITTLE_ROOM = """
import resource, sys
from jarcast.cli import main
# No file may grow beyond this: setrlimit(2). A write then fails as it does on a full disk.
resource.setrlimit(resource.RLIMIT_FSIZE, (int(sys.argv[1]), int(sys.argv[1])))
main(sys.argv[2:])
"""


@needs_posix
def test_without_room_for_it_the_ledger_and_an_export_are_as_they_were(
    run: Run, filled: Path, kitchen: Path
) -> None:
    rows = [f"n{number},2024-08-31,carrot,pint,7,{'x' * 500}" for number in range(2000)]
    for name, count in (("some.csv", 200), ("many.csv", 2000)):
        (kitchen / name).write_text("\n".join([f"{NEEDED},note", *rows[:count]]) + "\n")
    assert run("import", "some.csv").code == 0
    (kitchen / "out.csv").write_text("an export made before\n")
    before = all_files(kitchen)
    for typed in (("import", "many.csv"), ("import", "many.csv", "--json"), ("export", "out.csv")):
        ran = subprocess.run(
            [sys.executable, "-c", _WITH_LITTLE_ROOM, "60000", *typed],
            capture_output=True,
            text=True,
            timeout=60,
        )
        assert (ran.returncode, ran.stdout) == (1, "")
        assert any(word in ran.stderr for word in ("full", "no room", "File too large"))
        assert "Traceback" not in ran.stderr
        assert "should not have" not in ran.stderr
        assert all_files(kitchen) == before


def test_what_record_would_ask_back_is_said_of_a_notebook(
    run: Run, table: Callable[..., Path]
) -> None:
    header = "batch,date,produce,cut,pack,jar,trimmed,salt,cure_hours,jars,recipe"
    rows = (
        "a,2024-08-01,carrot,slices,raw,pint,5 lb,,0,9,pickled-carrots",
        "b,2024-08-02,cucumber,slices,raw,pint,12 lb,9 lb 6 oz,1200,14,",
        "c,2024-08-03,sauerkraut,,raw,pint,12 lb,5 oz,900,10,my own",
    )
    ran = run("import", str(table(*rows, header=header)))
    said = " ".join(ran.err.split())
    assert ran.code == 0
    # Pickled carrots (NCHFP; AIB 539, Guide 6) are packed hot.
    assert "a: not what the card of Pickled carrots says: a raw pack, the card lists hot" in said
    assert "b: 9 lb 6 oz of salt for 12 lb trimmed" in said
    assert "b: 1200 hours in salt are 50 days" in said
    assert "c: " not in said
