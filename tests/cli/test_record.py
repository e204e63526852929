"""jarcast record: one batch recorded, whatever else happens at the same time."""

import datetime as dt
import io
import os
import shlex
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

pytestmark = pytest.mark.contract

Run = Callable[..., Any]

OKRA = ("record", "--produce", "Okra", "--jar", "pints", "--jars", "4.5")


def test_a_batch_is_shown_as_it_was_understood_and_the_ledger_named(run: Run, ledger: Path) -> None:
    ran = run(*OKRA, "--cut", "whole", "--pack", "raw", "--trimmed", "2 lb 3 oz")
    assert (ran.code, ran.err) == (0, "")
    assert "okra, whole, raw pack" in ran.out
    assert "2 lb 3 oz" in ran.out
    assert "4.5 pint" in ran.out
    assert f"Recorded in {ledger}." in ran.out


def test_everything_that_was_typed_is_in_the_ledger_in_grams_and_millilitres(run: Run) -> None:
    typed = {
        "--batch": "o1", "--date": "2024-08-31", "--cut": "Whole", "--pack": "raw",
        "--as-bought": "3 lb", "--trimmed": "1,2 kg", "--salt": "50 g", "--cure-hours": "90 min",
        "--cured": "1150 g", "--cooked": "1 kg", "--headspace": "¼ in", "--brine-made": "1 qt",
        "--brine-left": "½ cup", "--sealed": "4", "--recipe": "my aunt's", "--note": "a note",
    }  # fmt: skip
    ran = run(*OKRA, *(word for pair in typed.items() for word in pair), "--json")
    document = ran.document
    assert (document["format"], document["version"]) == ("jarcast record", 1)
    assert document["added"] is True
    assert document["flags"] == []
    # Factors: NIST Handbook 44, Appendix C; a US quart is 946.352946 ml, a cup a quarter of it.
    assert document["batch"] == {
        "batch": "o1", "date": "2024-08-31", "produce": "Okra", "cut": "Whole", "pack": "raw",
        "jar": "pint", "headspace_in": 0.25, "as_bought_g": 1360.77711, "trimmed_g": 1200.0,
        "salt_g": 50.0, "cure_hours": 1.5, "cured_g": 1150.0, "cooked_g": 1000.0, "jars": "4.5",
        "brine_made_ml": 946.352946, "brine_left_ml": 118.29411825, "sealed": 4.0,
        "recipe": "my aunt's", "note": "a note",
    }  # fmt: skip
    assert run("batches", "--json").document["batches"] == [document["batch"]]


def test_what_was_not_weighed_is_not_made_up(run: Run) -> None:
    batch = run(*OKRA, "--json").document["batch"]
    assert batch["date"] == dt.date.today().isoformat()
    assert batch["batch"]
    unsaid = set(batch) - {"batch", "date", "produce", "jar", "jars"}
    assert {batch[column] for column in unsaid} == {None}


def test_a_produce_nobody_knows_is_said_to_be_so_once(run: Run) -> None:
    typed = ("record", "--jar", "pint", "--jars", "5", "--trimmed", "4 lb")
    assert "Nothing is published of 'cucumbr'" in run(*typed, "--produce", "cucumbr", "--yes").err
    assert "Nothing is published" not in run(*typed, "--produce", "cucumbrs").err
    assert "Nothing is published" not in run(*typed, "--produce", "cucumber").err


def test_a_second_batch_of_the_same_day_gets_a_name_of_its_own(run: Run) -> None:
    names = [run(*OKRA, "--json").document["batch"]["batch"] for _ in range(3)]
    assert len(set(names)) == 3
    assert len(run("batches", "--json").document["batches"]) == 3


def test_the_same_name_and_values_again_change_nothing_and_other_values_are_refused(
    run: Run, ledger: Path
) -> None:
    assert run(*OKRA, "--batch", "o1").code == 0
    before = ledger.read_bytes()
    again = run(*OKRA, "--batch", "o1")
    assert again.code == 0
    assert "Already there" in again.out
    assert run(*OKRA, "--batch", "o1", "--json").document["added"] is False
    other = run(*OKRA, "--batch", "o1", "--trimmed", "3 lb")
    assert (other.code, other.out) == (1, "")
    assert "already in the ledger with other values" in other.err
    assert "trimmed weight: nothing there, 3 lb here" in other.err
    assert ledger.read_bytes() == before


def test_a_value_for_a_batch_that_is_there_is_put_in_by_the_command_that_is_told(run: Run) -> None:
    assert run(*OKRA, "--batch", "o 1", "--trimmed", "3 lb").code == 0
    more_typed = (
        *OKRA,
        "--batch",
        "o 1",
        "--trimmed",
        "4 lb",
        "--as-bought",
        "5 lb",
        "--note",
        "a$b",
    )
    more = run(*more_typed)
    assert more.code == 1
    # As it was typed: 5 lb, and 4 lb in the place of the 3 lb that stand there.
    missing = """to add what is missing: jarcast amend "o 1" as_bought="5 lb" note='a$b'"""
    differs = 'to put in what differs: jarcast amend "o 1" trimmed="4 lb"'
    assert (missing in more.err, differs in more.err) == (True, True)
    for line in (missing, differs):
        assert run(*shlex.split(line.partition("jarcast ")[2])).code == 0
    batch = run("batches", "--json").document["batches"][0]
    pound = 453.59237  # NIST Handbook 44, Appendix C
    assert (batch["as_bought_g"], batch["trimmed_g"]) == pytest.approx((5 * pound, 4 * pound))
    assert batch["note"] == "a$b"
    again = run(
        *OKRA, "--batch", "o 1", "--trimmed", "4 lb", "--as-bought", "5 lb", "--note", "a$b"
    )
    assert "Already there" in again.out


def test_a_time_of_day_does_not_come_into_the_name(run: Run) -> None:
    late = ("--date", "2024-08-31T23:00:00+14:00")
    batch = run(*OKRA, *late, "--json").document["batch"]
    assert (batch["batch"], batch["date"]) == ("2024-08-31 okra", "2024-08-31")
    assert "2024-08-31 okra 2" in run("begin", "--produce", "okra", *late).out


def test_several_sorts_of_jar_are_counted_side_by_side(run: Run) -> None:
    typed = ("--jar", "Pints (wide mouth) + pint", "--jars", "5 + 4 1/2")
    batch = run("record", "--produce", "okra", *typed, "--json").document["batch"]
    assert (batch["jar"], batch["jars"]) == ("pint-wide + pint", "5 + 4.5")


def test_a_contradiction_is_written_down_and_pointed_out(run: Run) -> None:
    typed = ("--as-bought", "2 lb", "--trimmed", "20 lb", "--jar", "quart", "--jars", "16")
    ran = run("record", "--produce", "okra", *typed)
    assert ran.code == 0
    assert "Recorded" in ran.out
    assert "heavier than as bought" in ran.err
    assert "decimal point" in ran.err  # 20 to 2: the likeliest slip
    assert run("batches", "--json").document["flags"][0]["columns"] == ["as_bought_g", "trimmed_g"]


@pytest.mark.parametrize(
    ("typed", "saying"),
    [
        (("--jars", "0"), "no jars were filled"),
        (("--jars", "-1"), "negative"),
        (("--jars", "nan"), "not a number"),
        (("--jars", "inf"), "not a number"),
        (("--jars", "1000000000"), "more than can be"),
        (("--jars", "a few"), "not a plain number"),
        (("--jars", "1 + 2"), "2 counts for 1 sorts of jar"),
        (("--jar", "bucket"), "known jars are"),
        (("--jar", ""), "every batch needs one"),
        (("--produce", " "), "every batch needs one"),
        (("--date", "2999-01-01"), "in the future"),
        (("--date", "yesterday"), "2024-08-31"),
        (("--trimmed", "6"), "lb, oz, kg or g"),
        (("--trimmed", "0 lb"), "is not a weight"),
        (("--cured", "6 cups"), "a weight is due"),
        (("--trimmed", "-6 lb"), "negative"),
        (("--trimmed", "1e9 kg"), "not a unit"),
        (("--brine-made", "12 oz"), "fl oz"),
        (("--cure-hours", "-1"), "negative"),
        (("--headspace", "a foot"), "a number is missing"),
        (("--sealed", "most"), "not a plain number"),
        (("--note", "x" * 100_000), "characters"),
    ],
)
def test_what_cannot_be_is_refused_and_no_ledger_is_begun(
    run: Run, ledger: Path, typed: tuple[str, ...], saying: str
) -> None:
    ran = run(*OKRA, *typed)
    assert (ran.code, ran.out) == (1, "")
    assert ran.err.startswith("jarcast: nothing was recorded: ")
    assert saying in ran.err
    assert len(ran.err) < 500
    assert not ledger.exists()


@pytest.mark.xdist_group("alone")
def test_processes_that_record_at_once_lose_nothing(run: Run, ledger: Path) -> None:
    # Without a name, so that they all make up the same one.
    started = [
        subprocess.Popen(
            [sys.executable, "-m", "jarcast", *OKRA], stdout=subprocess.PIPE, stderr=subprocess.PIPE
        )
        for _ in range(6)
    ]
    said = [process.communicate(timeout=60) for process in started]
    assert [err.decode() for _, err in said] == [""] * 6
    assert [process.returncode for process in started] == [0] * 6
    names = [batch["batch"] for batch in run("batches", "--json").document["batches"]]
    assert len(set(names)) == 6


@pytest.mark.skipif(os.name != "posix", reason="home folders are POSIX's here")
def test_a_home_folder_that_the_shell_left_alone_is_found(
    run: Run, kitchen: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("HOME", str(kitchen / "home"))
    assert run(*OKRA, "--ledger=~/mine.sqlite3").code == 0
    assert (kitchen / "home" / "mine.sqlite3").is_file()
    assert not (kitchen / "~").exists()


@pytest.mark.parametrize(("sealed", "said"), [("8", True), ("9", False), (None, False)])
def test_a_jar_that_did_not_seal_is_told_what_becomes_of_it(
    run: Run, sealed: str | None, said: bool
) -> None:
    # USDA Complete Guide to Home Canning, Guide 1 (from memory): reprocess within 24 hours, or
    # keep it in the refrigerator. The half-filled tenth jar is not processed at all.
    typed = ["record", "--produce", "beet", "--jar", "pint", "--jars", "9.5"]
    ran = run(*typed, *(["--sealed", sealed] if sealed else []))
    assert ran.code == 0
    assert ("within 24 hours" in ran.err) is said


class _Terminal(io.StringIO):
    """A terminal at which these lines are typed."""

    def isatty(self) -> bool:
        return True


@pytest.mark.parametrize(("answer", "kept"), [("y\n", True), ("n\n", False)])
def test_an_odd_value_is_asked_back_once_at_a_terminal(
    run: Run, filled: Path, monkeypatch: pytest.MonkeyPatch, answer: str, kept: bool
) -> None:
    # 3 lb in 6 quarts: less than half of what the loosest pack takes.
    odd = ("record", "--produce", "carrot", "--cut", "sticks", "--pack", "raw", "--jar", "quart",
           "--jars", "6", "--trimmed", "3 lb", "--cure-hours", "0", "--batch", "odd")  # fmt: skip
    monkeypatch.setattr(sys, "stdin", _Terminal(answer))
    ran = run(*odd)
    names = {batch["batch"] for batch in run("batches", "--json").document["batches"]}
    assert ran.err.count("Keep it?") == 1
    assert (ran.code == 0) is kept
    assert ("odd" in names) is kept
    if kept:  # stood by: it is not named as odd any more
        assert run("batches", "--json").document["odd"] == []


def test_without_a_terminal_nothing_waits_for_an_answer(run: Run, filled: Path) -> None:
    ran = run(
        "record", "--produce", "carrot", "--cut", "sticks", "--pack", "raw", "--jar", "quart",
        "--jars", "6", "--trimmed", "3 lb", "--cure-hours", "0",
    )  # fmt: skip
    assert ran.code == 0
    assert "Keep it?" not in ran.err


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--produce", "beet", "--jar", "half-pint"), "half-pint jars, the card lists pint"),
        (("--produce", "carrot", "--jar", "pint"), "it is of carrot, the card for beet"),
        (("--produce", "beet", "--jar", "pint", "--headspace", "1/4 in"), "the card has 0.5 in"),
    ],
)
def test_a_batch_put_up_otherwise_than_its_card_is_written_and_its_safety_said(
    run: Run, words: tuple[str, ...], said: str
) -> None:
    # USDA Complete Guide, Guide 6, pickled beets: pints, 1/2 in of headspace.
    ran = run("record", "--recipe", "pickled-beets", "--jars", "4", *words)
    assert ran.code == 0
    assert len(run("batches", "--json").document["batches"]) == 1
    told = " ".join(ran.err.split())
    assert said in told
    assert "keep them in the refrigerator" in told


def test_a_batch_as_its_card_has_it_is_told_nothing(run: Run) -> None:
    words = ("--produce", "beets", "--jar", "pint-wide", "--headspace", "1/2 in", "--jars", "4")
    weighed = ("--as-bought", "3 lb")  # by the card 7 lb fill 8 pints
    assert run("record", "--recipe", "pickled-beets", *words, *weighed).err == ""


def test_brine_that_ran_out_is_zero_in_whatever_unit(run: Run) -> None:
    ran = run(*OKRA, "--brine-made", "6 cups", "--brine-left", "0", "--json")
    assert ran.document["batch"]["brine_left_ml"] == 0.0


def test_an_ordinary_first_batch_is_not_odd(run: Run) -> None:
    ran = run(
        "record", "--produce", "carrot", "--cut", "sticks", "--pack", "raw", "--as-bought", "8 lb",
        "--trimmed", "6 lb 4 oz", "--cure-hours", "0", "--jar", "pint", "--jars", "9.5",
        "--brine-made", "10 cups", "--brine-left", "1 1/2 cups",
    )  # fmt: skip
    assert (ran.code, ran.err) == (0, "")


def test_a_first_batch_is_odd_beside_what_is_published_alone(run: Run) -> None:
    typed = ("record", "--produce", "carrot", "--cut", "sticks", "--as-bought", "5 lb",
             "--trimmed", "1 lb", "--jar", "pint", "--jars", "1.5")  # fmt: skip
    said = " ".join(run(*typed).err.split())
    assert "they do not fit what is published" in said
    assert "your other batches" not in said


def test_a_pack_called_boiled_is_not_taken_for_more_than_its_jars_hold(run: Run) -> None:
    # Beets shrink in the pot: 9 lb before cooking into 6 pints contradicts nothing.
    ran = run("record", "--produce", "beet", "--cut", "slices", "--pack", "boiled",
              "--trimmed", "9 lb", "--jar", "pint", "--jars", "6", "--json")  # fmt: skip
    assert ran.document["flags"] == []


def test_values_side_by_side_are_as_typed_or_in_the_kitchen_s_units(
    run: Run, filled: Path, table: Callable[..., Path]
) -> None:
    # c1 came in with 6 lb 4 oz typed; g1 in grams: 9355.3426 g are 20 lb 10 oz (NIST Handbook 44).
    row = "g1,2024-09-01,beet,pint,9355.3426,16"
    table(content=f"batch,date,produce,jar,trimmed_g,jars\n{row}\n")
    assert run("import", "batches.csv").code == 0
    for name, there in {"c1": "6 lb 4 oz", "g1": "20 lb 10 oz"}.items():
        typed = ("--produce", "beet", "--jar", "pint", "--jars", "9.5", "--trimmed", "3 lb")
        ran = run("record", *typed, "--batch", name, "--units", "us")
        assert ran.code == 1
        assert f"trimmed weight: {there} there, 3 lb here" in ran.err
        assert "_g '" not in ran.err
