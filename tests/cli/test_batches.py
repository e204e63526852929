"""jarcast batches: what is in the ledger, in the kitchen's measures; looking changes nothing."""

import datetime as dt
import hashlib
import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest
from rich.cells import cell_len

pytestmark = pytest.mark.contract

Run = Callable[..., Any]


def names(ran: Any) -> list[str]:
    return [batch["batch"] for batch in ran.document["batches"]]


def test_batches_are_listed_oldest_first_with_what_was_weighed(run: Run, filled: Path) -> None:
    ran = run("batches")
    assert (ran.code, ran.err) == (0, "")
    head, *rows = ran.out.splitlines()
    assert [row.split()[1] for row in rows] == ["c1", "c2", "k1", "b1"]
    assert "6 lb 4 oz" in rows[0]
    assert "8½ cups" in rows[0]  # 10 cups made, 1 1/2 left
    assert "4 pint-wide + 5 pint" in rows[2]
    assert head.split()[0] == "date"


def test_json_has_the_batch_table_s_columns(run: Run, filled: Path) -> None:
    document = run("batches", "--json").document
    assert (document["format"], document["version"]) == ("jarcast batches", 1)
    assert document["flags"] == []
    first = document["batches"][0]
    assert first["trimmed_g"] == 2834.9523125  # 100 oz; NIST Handbook 44, Appendix C
    assert first["as_bought_g"] is None
    assert first["produce"] == "carrots"


@pytest.mark.parametrize(
    ("asked", "due"),
    [
        (("--produce", "CARROT"), ["c1", "c2"]),
        (("--produce", "carrots", "--since", "2024-08-10"), ["c2"]),
        (("--cut", "sliced"), ["k1", "b1"]),
        (("--since", "2024-08-10", "--until", "2024-08-17"), ["c2", "k1"]),
        (("--until", "2024-08-03"), ["c1"]),
        (("--produce", "okra"), []),
    ],
)
def test_filters_leave_what_was_asked_for(
    run: Run, filled: Path, asked: tuple[str, ...], due: list[str]
) -> None:
    assert names(run("batches", *asked, "--json")) == due
    text = run("batches", *asked)
    assert text.code == 0
    if due:
        assert [row.split()[1] for row in text.out.splitlines()[1:]] == due
    else:
        assert "None of the 4 batches" in text.out


def test_an_empty_ledger_says_where_it_looked_and_what_to_do_next(run: Run, ledger: Path) -> None:
    ran = run("batches")
    assert (ran.code, ran.err) == (0, "")
    assert f"No batches yet in {ledger}" in ran.out
    assert "jarcast record" in ran.out
    assert "jarcast import" in ran.out
    assert names(run("batches", "--json")) == []


def test_looking_makes_no_file(run: Run, ledger: Path, kitchen: Path, tmp_path: Path) -> None:
    run("batches")
    run("export")
    run("forecast", "--produce", "carrot", "--trimmed", "5 lb")
    run("demo")
    run("batches", "--ledger", str(tmp_path / "other" / "ledger.sqlite3"))
    assert list(kitchen.iterdir()) == []
    assert not (tmp_path / "other").exists()
    assert not (tmp_path / "data").exists()


def test_looking_changes_no_file(run: Run, filled: Path, kitchen: Path) -> None:
    before = {path: path.read_bytes() for path in kitchen.iterdir()}
    run("batches")
    run("export")
    run("forecast", "--produce", "carrot", "--trimmed", "5 lb")
    assert {path: path.read_bytes() for path in kitchen.iterdir()} == before


def test_units_are_remembered_until_others_are_asked_for(run: Run, filled: Path) -> None:
    forecast = ("forecast", "--produce", "carrot", "--trimmed", "5 lb")
    assert "6 lb 4 oz" in run("batches").out
    assert "2.83 kg" in run("batches", "--units", "metric").out  # 2834.95 g
    assert "2.83 kg" in run("batches").out
    assert "2.27 kg" in run(*forecast).out  # 5 lb, 2267.96 g
    assert "cups" not in run(*forecast).out
    assert "6 lb 4 oz" in run("batches", "--units", "us").out
    assert "5 lb" in run(*forecast).out
    # The numbers of JSON are grams and millilitres whatever the kitchen's units.
    assert run("batches", "--json").document == run("batches", "--units", "us", "--json").document


def test_contradictions_are_told_in_the_kitchen_s_units_and_json_in_grams(
    run: Run, ledger: Path
) -> None:
    typed = ("--as-bought", "2 lb", "--trimmed", "20 lb", "--jar", "quart", "--jars", "16")
    heavy = run("record", "--produce", "okra", "--batch", "o1", *typed)
    assert "trimmed 20 lb is heavier than as bought 2 lb" in heavy.err
    assert "trimmed 20 lb is heavier than as bought 2 lb" in run("batches").err
    # 20 lb are 9071.8474 g (NIST Handbook 44, Appendix C).
    assert (
        "trimmed 9.07 kg is heavier than as bought 907 g" in run("batches", "--units", "metric").err
    )
    assert "trimmed 9.07 kg" in run("amend", "o1", "note=x").err
    assert "trimmed 9072 g" in run("batches", "--json").document["flags"][0]["message"]


HARD_NAMES = {
    "long": "a very long name indeed, " * 200,
    "pictures": "🥕🥒🧅 harvest",
    "wide letters": "大根の漬物 二回目",
    "right to left": "גזר חמוץ",
    "marks": "e\u0301te\u0301 jalapen\u0303o",
    "joined": "👩‍🌾 market",
    "colours": "\x1b[31mred\x1b[0m",
    "moving up": "up\x1b[2A\rover",
    "bell and backspace": "\a\b\b\bding",
    "turned round": "\u202egnp.exe",
    "a tab": "a\tb",
    "markup": "[bold]brackets[/bold]",
    "lines": "one\ntwo\u2028three",
}


def test_hard_names_upset_neither_the_table_nor_the_terminal(run: Run, kitchen: Path) -> None:
    for number, name in enumerate(HARD_NAMES.values()):
        day = (dt.date(2024, 1, 1) + dt.timedelta(days=number)).isoformat()
        typed = ("--batch", name, "--produce", name, "--date", day, "--jar", "pint", "--jars", "3")
        ran = run("record", *typed, "--note", name)
        assert ran.code == 0, ran.err
    listed = run("batches").out
    lines = listed.split("\n")[:-1]
    assert len(lines) == 1 + len(HARD_NAMES)
    assert all(line.isprintable() or "\u200d" in line for line in lines)
    assert "\x1b" not in listed
    assert "[bold]brackets[/bold]" in listed
    # Every line's last columns stand under their heading: measured by rich's table of cell widths.
    # It counts what a joiner joins as one sign, which not every terminal does; so that line is out.
    start = cell_len(lines[0][: lines[0].index("jars")])
    for line in lines[1:]:
        if "\u200d" not in line:
            assert cell_len(line[: line.index("3 pint")]) == start, line
    # In JSON every name is whole.
    assert names(run("batches", "--json")) == list(HARD_NAMES.values())


def test_a_table_of_many_sorts_of_jar_stays_readable(run: Run) -> None:
    jar, jars = " + ".join(["pint", "quart"] * 30), " + ".join(["1"] * 60)
    assert run("record", "--produce", "okra", "--jar", jar, "--jars", jars).code == 0
    assert max(len(line) for line in run("batches").out.splitlines()) < 200


# A ledger that cannot be used


def digest(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest()


def another_program_s(path: Path) -> None:
    with closing(sqlite3.connect(path)) as raw:
        raw.execute("CREATE TABLE song (name TEXT)")
        raw.commit()


def a_newer_one(path: Path) -> None:
    with closing(sqlite3.connect(path)) as raw:
        version = raw.execute("PRAGMA user_version").fetchone()[0]
        raw.execute(f"PRAGMA user_version = {version + 1}")
        raw.commit()


def a_text(path: Path) -> None:
    path.write_text("batch,date,produce,jar,jars\n" * 100)


def a_torn_one(path: Path) -> None:
    whole = bytearray(path.read_bytes())
    whole[4096:] = b"\xff" * (len(whole) - 4096)
    path.write_bytes(whole)


@pytest.mark.parametrize(
    ("spoil", "saying"),
    [
        (a_text, "not a ledger"),
        (another_program_s, "another program"),
        (a_newer_one, "newer jarcast"),
        (a_torn_one, "damaged"),
    ],
)
@pytest.mark.parametrize("json", [(), ("--json",)], ids=["text", "json"])
def test_a_ledger_that_cannot_be_used_is_left_alone_and_said_to_be_so(
    run: Run, filled: Path, spoil: Callable[[Path], None], saying: str, json: tuple[str, ...]
) -> None:
    if spoil is another_program_s:
        filled.unlink()
    spoil(filled)
    before = digest(filled)
    for typed in (
        ("batches",),
        ("export",),
        ("export", "out.csv"),
        ("import", "batches.csv"),
        ("record", "--produce", "okra", "--jar", "pint", "--jars", "3"),
        ("forecast", "--produce", "carrot", "--trimmed", "5 lb"),
        ("batches", "--units", "metric"),
    ):
        ran = run(*typed, *json)
        assert (ran.code, ran.out) == (1, ""), typed
        message = ran.error["error"] if json else ran.err
        assert saying in message
        assert str(filled) in message
        assert message.strip().count("\n") == 0
        assert digest(filled) == before
    assert not (filled.parent / "out.csv").exists()


def test_a_folder_is_no_ledger(run: Run, kitchen: Path) -> None:
    ran = run("batches", "--ledger", str(kitchen))
    assert ran.code == 1
    assert "is a folder" in ran.err
    assert ran.err.count("\n") == 1


def test_a_name_that_was_made_up_is_shown_whole_for_it_is_needed_to_amend(
    run: Run, kitchen: Path
) -> None:
    run("record", "--produce", "green tomatoes", "--cut", "quarters", "--jar", "pint", "--jars",
        "4", "--date", "2024-08-31")  # fmt: skip
    (batch,) = run("batches", "--json").document["batches"]
    assert len(batch["batch"]) > 24
    assert batch["batch"] in run("batches").out
