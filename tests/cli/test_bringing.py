"""jarcast import at a terminal, of a fuller file, and of another ledger."""

import json
import subprocess
import sys
import zipfile
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

Run = Callable[..., Any]

HEAD = "batch,date,produce,cut,jar,jars,trimmed,note"
LB = 453.59237  # NIST Handbook 44, appendix C


@pytest.fixture
def answers(monkeypatch: pytest.MonkeyPatch) -> Iterator[Callable[..., list[str]]]:
    """Somebody at a terminal who gives these answers; keeps what was asked."""
    asked: list[str] = []
    left: list[str] = []

    def answer(question: str, **_: object) -> str:
        asked.append(question)
        return left.pop(0)

    def give(*said: str) -> list[str]:
        left.extend(said)
        return asked

    monkeypatch.setattr("jarcast.cli.notebook.asking", lambda as_json: not as_json)
    monkeypatch.setattr("typer.prompt", answer)
    monkeypatch.setattr("typer.confirm", lambda *words, **more: answer(*words, **more) == "y")
    yield give
    assert left == []


def batches(run: Run) -> dict[str, dict[str, Any]]:
    return {one["batch"]: one for one in run("batches", "--json").document["batches"]}


# At a terminal


def test_what_is_open_is_asked_and_remembered(
    run: Run, kitchen: Path, answers: Callable[..., list[str]]
) -> None:
    text = "When,Veg,trimmed,pts\n3/5/2024,okra,4,6\n"
    (kitchen / "mine.csv").write_text(text)
    asked = answers("d", "stones", "lb", "y")
    assert run("import", "mine.csv").code == 0
    assert "'3/5/2024'" in asked[0]
    assert "'trimmed'" in asked[1]
    (one,) = batches(run).values()
    assert (one["date"], one["trimmed_g"]) == ("2024-05-03", pytest.approx(4 * LB))
    # Neither is asked again of the next file.
    (kitchen / "next.csv").write_text(text.replace("3/5", "4/5"))
    assert "1 batch added" in run("import", "next.csv", "--yes").out


def test_headings_are_corrected_one_by_one(
    run: Run, kitchen: Path, answers: Callable[..., list[str]]
) -> None:
    (kitchen / "mine.csv").write_text("date,veg,Basin (lb),pts,price\n2024-05-03,okra,4,6,3\n")
    asked = answers("c", "", "", "cured:lb", "", "nonsense", "-", "y")
    assert run("import", "mine.csv").code == 0
    assert [q.partition(" (")[0] for q in asked[1:7]] == [
        "date", "veg", "Basin", "pts", "price", "price",
    ]  # fmt: skip
    (one,) = batches(run).values()
    assert one["cured_g"] == pytest.approx(4 * LB)


def test_no_takes_nothing_in(
    run: Run, kitchen: Path, ledger: Path, answers: Callable[..., list[str]]
) -> None:
    (kitchen / "mine.csv").write_text("date,veg,pts\n2024-05-03,okra,6\n")
    answers("what?", "n")
    assert run("import", "mine.csv").code == 0
    assert not ledger.exists()


@pytest.mark.parametrize("text", [
    "Log of Fay Orrin\n\ndate,veg,pts\n2024-05-03,okra,6\n",
    "date;crop;cut;jars;brine made\n2024-05-03;okra;whole;8 pints;2,5 l\n",
    "Log of Fay Orrin,,\n,first,second\nWhen,2024-05-03,2024-05-04\nWhat,okra,beets\nPints,6,7\n",
])  # fmt: skip
def test_a_title_above_is_no_batch_table(run: Run, kitchen: Path, text: str) -> None:
    (kitchen / "mine.csv").write_text(text)
    assert run("import", "mine.csv", "--yes").code == 0
    assert next(iter(batches(run).values()))["produce"] == "okra"


@pytest.mark.parametrize("title", ["Log of Fay Orrin, 2024\n\n", ""])
def test_headings_of_which_none_is_understood_are_told_how_to_say(
    run: Run, kitchen: Path, ledger: Path, title: str
) -> None:
    rows = "Occasion,Stuff,Basin,Stored\n2024-05-03,okra,4,6\n2024-05-04,beets,9,7\n"
    (kitchen / "mine.csv").write_text(title + rows)
    for more in ((), ("--yes",), ("--yes", "--json")):
        ran = run("import", "mine.csv", *more)
        assert (ran.code, ledger.exists()) == (1, False)
        assert "missing: jars" in ran.err + ran.out
        assert "--map" in ran.err + ran.out
    assert run("import", "mine.csv", "--map", "Stored=jars:pint", "--yes").code == 0
    assert [one["jars"] for one in batches(run).values()] == ["6", "7"]


def test_amounts_that_are_not_read_are_named_with_how_to_say_what_they_are(
    run: Run, kitchen: Path
) -> None:
    (kitchen / "mine.csv").write_text("date,veg,pts,Pts given away\n2024-05-03,okra,6,2\n")
    document = run("import", "mine.csv", "--yes", "--json").document
    assert '--map "Pts given away=COLUMN:UNIT"' in document["doubts"][0]["why"]
    assert document["ignored_columns"] == ["Pts given away"]
    assert [one["jars"] for one in batches(run).values()] == ["6"]


# JSON, and what is left out


def test_a_rehearsal_is_one_document(run: Run, kitchen: Path, ledger: Path) -> None:
    (kitchen / "mine.txt").write_text("May 3 2024: okra 8 pts, gave 2 away\nmore lids\n")
    ran = run("import", "mine.txt", "--dry-run", "--json")
    told = ran.document
    assert (ran.code, ran.err, ledger.exists()) == (0, "", False)
    assert [one["produce"] for one in told["batches"]] == ["okra"]
    assert [one["place"] for one in told["left_out"]] == ["mine.txt, line 1", "mine.txt, line 2"]
    (kitchen / "own.csv").write_text(f"{HEAD}\na,2024-05-03,okra,,pint,8,,\n")
    assert run("import", "own.csv", "--dry-run", "--json").document["batches"][0]["batch"] == "a"
    assert not ledger.exists()


def test_what_had_no_place_is_named_among_what_was_left_out(run: Run, kitchen: Path) -> None:
    (kitchen / "mine.txt").write_text("May 3 2024: okra 8 pts, gave 2 away\n")
    ran = run("import", "mine.txt", "--yes")
    assert "gave 2 away" in ran.err.partition("Left out:")[2]
    again = run("import", "mine.txt", "--yes", "--json").document
    assert "gave 2 away" in again["left_out"][0]["why"]


# A fuller file


def own(kitchen: Path, *rows: str, name: str = "own.csv") -> str:
    (kitchen / name).write_text("\n".join([HEAD, *rows]) + "\n")
    return name


@pytest.mark.parametrize("form", ["table", "notebook"])
def test_a_fuller_file_fills_empty_cells_and_undo_takes_that_back(
    run: Run, kitchen: Path, form: str
) -> None:
    """The rule of the batch table: more values fill the empty cells, the same are skipped."""

    def put(weight: str, more: str) -> tuple[str, ...]:
        if form == "table":
            rows = ["a,2024-05-03,okra,,pint,8," + (f"{weight} lb," if weight else ",")]
            return (own(kitchen, *rows, *([f"b,2024-05-04,okra,,pint,9,,{more}"] if more else [])),)
        text = f"date,veg,trim (lb),pts,remarks\n2024-05-03,okra,{weight},8,\n"
        (kitchen / "m.csv").write_text(text + (f"2024-05-04,okra,,9,{more}\n" if more else ""))
        return ("m.csv", "--yes")

    assert run("import", *put("", "")).code == 0
    ran = run("import", *put("4", "late"))
    assert ran.code == 0
    assert "1 batch added" in ran.out
    assert "1 batch already there, filled in" in ran.out
    first = next(iter(batches(run).values()))
    assert first["trimmed_g"] == pytest.approx(4 * LB)
    assert run("import", *put("", "")).code == 0  # an empty cell says nothing
    assert next(iter(batches(run).values())) == first
    assert run("undo", "--yes").code == 0
    assert [one["trimmed_g"] for one in batches(run).values()] == [None]


def test_other_values_are_refused_where_nobody_can_be_asked(
    run: Run, kitchen: Path, ledger: Path
) -> None:
    run("import", own(kitchen, "a,2024-05-03,okra,,pint,8,4 lb,"))
    before = ledger.read_bytes()
    row = "a,2024-05-03,okra,,pint,8,5 lb,hot"
    for more in ((), ("--json",), ("--yes",)):
        ran = run("import", own(kitchen, row, "n,2024-05-03,okra,,pint,8,,"), *more)
        assert ran.code == 1
        assert "'4 lb' there, '5 lb' here" in ran.err
        assert "jarcast amend" in ran.err
        assert ledger.read_bytes() == before


def test_other_values_are_shown_side_by_side_and_asked_about(
    run: Run, kitchen: Path, answers: Callable[..., list[str]]
) -> None:
    run(
        "import", own(kitchen, "a,2024-05-03,okra,,pint,8,4 lb,", "b,2024-05-04,okra,,pint,8,4 lb,")
    )
    rows = ("a,2024-05-03,okra,,pint,8,5 lb,hot", "b,2024-05-04,okra,,pint,8,5 lb,hot")
    answers("y", "n")
    ran = run("import", own(kitchen, *rows))
    assert "'4 lb' there, '5 lb' here" in ran.err
    found = batches(run)
    weights = [found[name]["trimmed_g"] for name in "ab"]
    assert weights == [pytest.approx(5 * LB), pytest.approx(4 * LB)]
    assert [found[name]["note"] for name in "ab"] == ["hot", "hot"]  # it was empty there


# Another ledger

OURS = ("beets 1,2024-05-03,beet,,pint,8,4 lb,", "okra,2024-05-04,okra,,pint,5,,")


def merged(run: Run, kitchen: Path) -> Any:
    return run("import", "bea.sqlite3", "--person", "Bea")


def test_a_second_ledger_comes_in_once_and_whole(run: Run, kitchen: Path) -> None:
    """Like batches of two members stay two, and a second import counts none again."""
    run("import", own(kitchen, *OURS))
    theirs = ("beets 1,2024-05-03,beet,,pint,8,4 lb,", "beans,2024-05-05,green bean,,pint,6,,")
    assert run("import", own(kitchen, *theirs), "--ledger", "bea.sqlite3").code == 0
    before = (kitchen / "bea.sqlite3").read_bytes()
    assert "2 batches added" in merged(run, kitchen).out
    found = batches(run)
    assert list(found) == ["beets 1", "Bea: beets 1", "okra", "beans"]
    assert [one.get("person") for one in found.values()] == [None, "Bea", None, "Bea"]
    again = merged(run, kitchen)
    assert "0 batches added" in again.out
    assert "2 batches already there, skipped" in again.out
    assert batches(run) == found
    assert (kitchen / "bea.sqlite3").read_bytes() == before
    # What was amended there since is no third batch, and is refused where nobody can be asked.
    run("amend", "beans", "jars=7", "--ledger", "bea.sqlite3")
    refused = merged(run, kitchen)
    assert (refused.code, batches(run)) == (1, found)
    assert "'6' there, '7' here" in refused.err


@pytest.mark.parametrize("form", ["table", "notebook"])
def test_another_kitchen_s_file_comes_in_as_its_ledger_does(
    run: Run, kitchen: Path, form: str
) -> None:
    """Both number their batches: like names are two batches, and none is counted again."""

    def put(*jars: int) -> tuple[str, ...]:
        if form == "table":
            rows = (f"{n},2024-06-0{n},beet,,pint,{j},," for n, j in enumerate(jars, 1))
            (kitchen / "mill.csv").write_text("\n".join([HEAD, *rows]) + "\n")
            return ("mill.csv", "--kitchen", "Mühle")
        rows = (f"2024-06-0{n},beet,{j}" for n, j in enumerate(jars, 1))
        (kitchen / "mill.csv").write_text("\n".join(["day,veg,pts", *rows]) + "\n")
        return ("mill.csv", "--kitchen", "Mühle", "--yes")

    ours = [f"{n},2024-05-0{n},okra,,pint,5,," for n in range(1, 4)]
    ours += [f"mill 2024-06-0{n} beet,2024-05-0{n},okra,,pint,5,," for n in range(1, 4)]
    run("import", own(kitchen, *ours))
    before = batches(run)
    name = "1" if form == "table" else "mill 2024-06-01 beet"
    told = run("import", *put(6, 7, 8), "--dry-run")
    assert told.code == 0
    assert f"is named 'Mühle: {name}' here" in told.out
    assert batches(run) == before
    ran = run("import", *put(6, 7, 8))
    assert ran.code == 0, ran.err
    assert "3 batches added" in ran.out
    assert f"is named 'Mühle: {name}' here" in ran.err
    found = batches(run)
    assert {name: found[name] for name in before} == before
    assert [one["person"] for at, one in found.items() if at not in before] == ["Mühle"] * 3
    again = run("import", *put(6, 7, 8, 9))
    assert "1 batch added" in again.out
    assert "3 batches already there, skipped" in again.out
    other = run("import", *put(6, 7, 9, 9))
    assert (other.code, len(batches(run))) == (1, len(before) + 4)
    assert "jars '8' there, '9' here" in other.err


def test_a_file_of_ones_own_keeps_its_names_and_is_told_who_packed(run: Run, kitchen: Path) -> None:
    run("import", own(kitchen, *OURS))
    run("export", "mine.csv")
    ran = run("import", "mine.csv", "--person", "Ann")
    assert ran.code == 0, ran.err
    assert "2 batches already there, filled in" in ran.out
    assert [one["person"] for one in batches(run).values()] == ["Ann", "Ann"]
    # One value of its own that was changed is no other kitchen's batch: it is asked about.
    run("undo", "--yes")
    (kitchen / "mine.csv").write_text((kitchen / "mine.csv").read_text().replace(",8,", ",9,"))
    refused = run("import", "mine.csv", "--person", "Ann")
    assert refused.code == 1
    assert "jars '8' there, '9' here" in refused.err


@pytest.mark.parametrize(
    ("units", "shown"),
    # 1814.36948 g are 4 lb: one pound is 453.59237 g (NIST Handbook 44, Appendix C).
    [("us", "trimmed 4 lb there, '5 lb' here"), ("metric", "trimmed 1.81 kg there, '5 lb' here")],
)
def test_other_values_are_told_in_the_kitchen_s_units(
    run: Run, kitchen: Path, units: str, shown: str
) -> None:
    (kitchen / "g.csv").write_text(
        "batch,date,produce,jar,jars,trimmed_g\na,2024-05-03,okra,pint,8,1814.36948\n"
    )
    run("import", "g.csv")
    run("kitchen", "--units", units)
    ran = run("import", own(kitchen, "a,2024-05-03,okra,,pint,8,5 lb,"))
    assert ran.code == 1
    assert shown in ran.err


def test_a_batch_withdrawn_here_stays_out_and_is_named(run: Run, kitchen: Path) -> None:
    run("import", own(kitchen, *OURS), "--ledger", "bea.sqlite3")
    merged(run, kitchen)
    run("withdraw", "okra")
    ran = merged(run, kitchen)
    assert ran.code == 0
    assert "'okra' is withdrawn" in ran.err
    assert list(batches(run)) == ["beets 1"]


def test_what_the_other_ledger_had_from_here_is_not_counted_twice(run: Run, kitchen: Path) -> None:
    run("import", own(kitchen, *OURS))
    run("import", "ledger.sqlite3", "--person", "Ann", "--ledger", "bea.sqlite3")
    ran = run("import", "bea.sqlite3", "--person", "Bea")
    assert ran.code == 0
    assert [one["person"] for one in batches(run).values()] == ["Ann", "Ann"]


def test_jars_of_ones_own_come_along(run: Run, kitchen: Path) -> None:
    for ledger, water in (("bea.sqlite3", "700 g"), ("ledger.sqlite3", "400 g")):
        ran = run("kitchen", "jars", "add", "tall", "--water", water, "--ledger", ledger)
        assert ran.code == 0, ran.err
    row = "long,2024-05-03,okra,,tall,8,4 lb,"
    assert run("import", own(kitchen, row), "--ledger", "bea.sqlite3").code == 0
    assert merged(run, kitchen).code == 0
    assert batches(run)["long"]["jar"] == "bea-tall"
    assert "0 batches added" in merged(run, kitchen).out
    jars = {one["jar"]: one for one in run("kitchen", "jars", "list", "--json").document["jars"]}
    assert {"tall", "bea-tall"} <= jars.keys()


@pytest.mark.parametrize(
    ("typed", "why"),
    [
        (("bea.sqlite3",), "--person NAME"),
        (("none.sqlite3", "--person", "Bea"), "is not there"),
        (("ledger.sqlite3", "--person", "Bea"), "the ledger itself"),
        (("other.db", "--person", "Bea"), "SQLite"),
    ],
)
def test_what_cannot_be_merged_is_refused(
    run: Run, kitchen: Path, typed: tuple[str, ...], why: str
) -> None:
    run("import", own(kitchen, *OURS))
    run("import", own(kitchen, *OURS), "--ledger", "bea.sqlite3")
    (kitchen / "other.db").write_bytes(b"SQLite format 3\0" + bytes(200))
    ran = run("import", *typed)
    assert ran.code == 1
    assert why in ran.err
    assert list(batches(run)) == ["beets 1", "okra"]


def test_a_notebook_is_of_the_person_who_is_named(run: Run, kitchen: Path) -> None:
    text = "date,veg,pts,by\n2024-05-03,okra,6,\n2024-05-04,okra,6,Pim\n"
    (kitchen / "mine.csv").write_text(text)
    assert run("import", "mine.csv", "--person", "Oda", "--yes").code == 0
    assert run("import", own(kitchen, *OURS), "--person", "Oda").code == 0
    assert [one["person"] for one in batches(run).values()] == ["Oda", "Oda", "Pim", "Oda"]


# Workbooks


def test_a_workbook_of_numbers_and_days_is_read(run: Run, kitchen: Path) -> None:
    """An .xlsx made by hand after ECMA-376, part 1: shared texts, numbers, and a day's number.

    Day 45415 counts from 1899-12-30, and is 2024-05-03: 18.17.4.1 of the standard.
    """
    space = "http://schemas.openxmlformats.org"
    main = f'xmlns="{space}/spreadsheetml/2006/main"'
    kinds = "application/vnd.openxmlformats-officedocument.spreadsheetml"
    texts = ("date", "veg", "trimmed (lb)", "pints", "okra")
    shared = "".join(f"<si><t>{text}</t></si>" for text in texts)
    head = "".join(f'<c r="{c}1" t="s"><v>{at}</v></c>' for at, c in enumerate("ABCD"))
    row = '<c r="A2" s="1"><v>45415</v></c><c r="B2" t="s"><v>4</v></c>'
    row += '<c r="C2"><v>4.5</v></c><c r="D2"><v>8</v></c>'
    link = f"{space}/officeDocument/2006/relationships"
    parts = {
        "[Content_Types].xml": f'<Types xmlns="{space}/package/2006/content-types">'
        '<Default Extension="rels" '
        'ContentType="application/vnd.openxmlformats-package.relationships+xml"/>'
        f'<Override PartName="/xl/workbook.xml" ContentType="{kinds}.sheet.main+xml"/>'
        f'<Override PartName="/xl/worksheets/sheet1.xml" ContentType="{kinds}.worksheet+xml"/>'
        "</Types>",
        "_rels/.rels": f'<Relationships xmlns="{space}/package/2006/relationships">'
        f'<Relationship Id="r1" Type="{link}/officeDocument" Target="xl/workbook.xml"/>'
        "</Relationships>",
        "xl/workbook.xml": f'<workbook {main} xmlns:r="{link}"><sheets>'
        '<sheet name="2024" sheetId="1" r:id="r1"/></sheets></workbook>',
        "xl/_rels/workbook.xml.rels": f'<Relationships xmlns="{space}/package/2006/relationships">'
        f'<Relationship Id="r1" Type="{link}/worksheet" Target="worksheets/sheet1.xml"/>'
        f'<Relationship Id="r2" Type="{link}/sharedStrings" Target="sharedStrings.xml"/>'
        f'<Relationship Id="r3" Type="{link}/styles" Target="styles.xml"/></Relationships>',
        "xl/sharedStrings.xml": f"<sst {main}>{shared}</sst>",
        "xl/styles.xml": f'<styleSheet {main}><cellXfs><xf numFmtId="0"/><xf numFmtId="14"/>'
        "</cellXfs></styleSheet>",
        "xl/worksheets/sheet1.xml": f'<worksheet {main}><sheetData><row r="1">{head}</row>'
        f'<row r="2">{row}</row></sheetData></worksheet>',
    }
    with zipfile.ZipFile(kitchen / "mine.xlsx", "w") as book:
        for name, text in parts.items():
            book.writestr(name, text)
    assert run("import", "mine.xlsx", "--yes").code == 0
    (one,) = batches(run).values()
    assert (one["date"], one["produce"], one["jars"]) == ("2024-05-03", "okra", "8")
    assert one["trimmed_g"] == pytest.approx(4.5 * LB)


def test_standard_output_is_one_document_in_a_process_of_its_own(kitchen: Path) -> None:
    (kitchen / "mine.csv").write_text("date,veg,pts\n2024-05-03,okra,6\n")
    typed = [sys.executable, "-m", "jarcast", "import", "mine.csv", "--yes", "--json"]
    ran = subprocess.run(typed, capture_output=True, text=True, timeout=60)
    assert json.loads(ran.stdout)["added"] == ["mine 2024-05-03 okra"]


def test_a_file_under_another_name_is_told_and_taken_in_where_that_is_wished(
    run: Run, kitchen: Path
) -> None:
    """A browser calls a second download 'log (1).csv'."""
    text = "Date,Crop,Trimmed (lb),Pints\n2024-07-01,okra,6,8\n"
    (kitchen / "log.csv").write_text(text)
    (kitchen / "log (1).csv").write_text(text)
    assert run("import", "log.csv", "--yes").code == 0
    told = run("import", "log (1).csv", "--dry-run", "--json").document["doubts"]
    assert [one["place"] for one in told] == ["log (1).csv, row 2"]
    assert "'log 2024-07-01 okra' in the ledger" in told[0]["why"]
    second = run("import", "log (1).csv", "--yes")
    assert "in the ledger has the same day" in second.err
    assert len(batches(run)) == 2
