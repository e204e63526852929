"""Odd values: shown wherever they appear, with how to go on, and confirmed or mended."""

import shlex
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from jarcast.files.shipped import shipped
from jarcast.ledger import Ledger
from jarcast.ledger.annotations import annotations

Run = Callable[..., Any]

# data_demo/README.md: batch 25e, 5.4 lb written down as 5.4 kg, is the one slip of the household.
ODD = "25e: trimmed weight looks about 2.1 times too high: pounds typed as kilograms?"
SLIP = ("25e", "trimmed_g", "pounds typed as kilograms?")
HEAVY = ("record", "--produce", "okra", "--batch", "o1", "--jar", "quart", "--jars", "16")


@pytest.fixture
def demo(run: Run, ledger: Path) -> Path:
    """A ledger with the demo household in it."""
    assert run("import", str(shipped("data_demo", "batches.csv"))).code == 0
    return ledger


def named(document: dict[str, Any]) -> list[tuple[str, str, str]]:
    return [(slip["batch"], slip["column"], slip["guess"]) for slip in document["odd"]]


def commands(said: str) -> list[list[str]]:
    """The commands that a message offers, as a shell would read them."""
    lines = [line.partition("jarcast ")[2] for line in said.splitlines() if "jarcast " in line]
    return [shlex.split(line) for line in lines if line.startswith("amend")]


# Shown


def test_an_import_names_what_looks_odd_among_the_batches_it_added(run: Run) -> None:
    file = str(shipped("data_demo", "batches.csv"))
    ran = run("import", file)
    assert ran.code == 0
    assert ODD in ran.err
    assert commands(ran.err) == [
        ["amend", "25e", "trimmed=..."],
        ["amend", "25e", "--as-is", "trimmed"],
    ]
    assert named(run("import", file, "--json").document) == []  # nothing was added this time


def test_import_tells_json_too(run: Run) -> None:
    document = run("import", str(shipped("data_demo", "batches.csv")), "--json").document
    assert named(document) == [SLIP]


def test_batches_name_it_among_those_that_are_listed(run: Run, demo: Path) -> None:
    ran = run("batches")
    assert ODD in ran.err
    assert ODD not in ran.out
    assert named(run("batches", "--json").document) == [SLIP]
    assert ODD not in run("batches", "--produce", "carrot").err
    assert named(run("batches", "--produce", "carrot", "--json").document) == []


CARROTS = (
    "record", "--produce", "carrot", "--cut", "sticks", "--pack", "raw", "--jar", "pint",
    "--batch", "new",
)  # fmt: skip


def test_recording_a_slip_names_it_at_once(run: Run, demo: Path) -> None:
    # 6 kg where 6 lb go into nine pints: 2.2 pounds a kilogram, 3 lb of room short.
    ran = run(*CARROTS, "--as-bought", "15.5 lb", "--trimmed", "6 lb", "--jars", "9")
    assert ran.code == 0
    assert "Recorded" in ran.out
    assert "new: weight as bought looks" in ran.err
    assert "pounds typed as kilograms?" in ran.err or "kilograms typed as pounds?" in ran.err
    assert ["amend", "new", "--as-is", "as_bought"] in commands(ran.err)


def test_recording_a_sound_batch_names_nothing_not_even_older_slips(run: Run, demo: Path) -> None:
    ran = run(*CARROTS, "--as-bought", "7 lb 8 oz", "--trimmed", "6 lb", "--jars", "10.5")
    assert (ran.code, ran.err) == (0, "")
    typed = ("--batch", "newer", "--trimmed", "6 lb", "--jars", "10.5", "--json")
    assert run(*CARROTS, *typed).document["odd"] == []


def test_amending_names_what_is_still_odd_and_stops_when_it_is_mended(run: Run, demo: Path) -> None:
    assert ODD in run("amend", "25e", "note=looked again").err
    assert named(run("amend", "25e", "note=and again", "--json").document) == [SLIP]
    assert run("amend", "25e", "trimmed=5.4 lb").err == ""
    assert run("batches").err == ""


# Confirmed


def test_a_confirmed_value_is_named_nowhere_and_counts_in_full(run: Run, demo: Path) -> None:
    ask = ("forecast", "--produce", "cucumber", "--cut", "slices", "--trimmed", "5 lb", "--json")
    before = run(*ask).document
    ran = run("amend", "25e", "--as-is", "trimmed")
    assert (ran.code, ran.err) == (0, "")
    assert "25e: trimmed weight confirmed as it stands" in ran.out
    assert run("batches").err == ""
    assert "25e" not in run("habits").out
    assert run("habits", "--json").document["slips"] == []
    assert run(*ask).document["jars"] != before["jars"]  # it hardly counted, and now it does


def test_a_confirmation_is_one_entry_and_json_says_what_was_new(run: Run, demo: Path) -> None:
    document = run("amend", "25e", "--as-is", "trimmed", "brine-left", "--json").document
    assert (document["format"], document["version"]) == ("jarcast confirm", 1)
    assert document["confirmed"] == ["trimmed_g", "brine_left_ml"]
    assert document["batch"]["batch"] == "25e"
    assert run("amend", "25e", "--as-is", "Brine left", "--json").document["confirmed"] == []
    assert "was confirmed before" in run("amend", "25e", "--as-is", "trimmed").out
    with Ledger.open(demo) as opened:
        said = annotations(opened)
    assert [mark.column for mark in said] == ["trimmed_g", "brine_left_ml"]
    assert len({mark.action for mark in said}) == 1


def test_amended_to_something_odd_again_it_is_named_again(run: Run, demo: Path) -> None:
    run("amend", "25e", "--as-is", "trimmed")
    assert "25e: trimmed weight looks" in run("amend", "25e", "trimmed=5.5 kg").err


# Contradictions


def test_a_contradiction_cannot_be_confirmed_away(run: Run, ledger: Path) -> None:
    assert run(*HEAVY, "--as-bought", "2 lb", "--trimmed", "20 lb").code == 0
    before = ledger.read_bytes()
    ran = run("amend", "o1", "--as-is", "trimmed")
    assert (ran.code, ran.out) == (1, "")
    assert "nothing was confirmed: trimmed 20 lb is heavier than as bought 2 lb" in ran.err
    assert "cannot all be right" in ran.err
    assert 'jarcast amend "o1" trimmed="..."' in ran.err
    assert ledger.read_bytes() == before
    assert "9.07 kg" in run("amend", "o1", "--as-is", "as_bought", "--units", "metric").err  # 20 lb


def test_other_values_of_that_batch_can_and_the_contradiction_goes_on_being_said(
    run: Run, ledger: Path
) -> None:
    run(*HEAVY, "--as-bought", "2 lb", "--trimmed", "20 lb")
    ran = run("amend", "o1", "--as-is", "jars")
    assert ran.code == 0
    assert "number of jars confirmed" in ran.out
    assert "heavier than as bought" in ran.err
    assert run("amend", "o1", "--as-is", "jars", "--json").document["flags"][0]["batch"] == "o1"


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        (("nobody", "jars"), "there is no batch 'nobody'"),
        (("c1", "cured"), "holds no value of 'cured'"),
        (("c1", "wobble"), "holds no value of 'wobble'"),
    ],
)
def test_what_is_not_there_cannot_be_confirmed_and_the_ledger_stays_as_it_was(
    run: Run, filled: Path, typed: tuple[str, ...], words: str
) -> None:
    before = filled.read_bytes()
    ran = run("amend", *typed, "--as-is")
    assert (ran.code, ran.out) == (1, "")
    assert words in ran.err
    assert ran.err.count("\n") == 1
    assert filled.read_bytes() == before


def test_confirming_in_a_ledger_that_is_not_there_makes_none(run: Run, ledger: Path) -> None:
    assert run("amend", "c1", "--as-is", "jars").code == 1
    assert not ledger.exists()


def test_jars_of_one_s_own_are_judged_by_what_they_hold(run: Run, filled: Path) -> None:
    assert run("kitchen", "jars", "add", "tall", "--water", "1500 g").code == 0
    # 2 kg of carrot do not fit two pints; two tall jars hold three litres.
    typed = ("record", "--produce", "carrot", "--cut", "sticks", "--trimmed", "2 kg")
    own = run(*typed, "--jar", "tall", "--jars", "2", "--batch", "t1")
    assert own.code == 0
    assert "cannot go into" not in own.err
    assert "cannot go into" in run(*typed, "--jar", "pint", "--jars", "2", "--batch", "p1").err
    assert "t1" not in run("batches").err
    assert run("amend", "t1", "jars=2.5").code == 0
    assert run("export", "out.csv").code == 0
    again = run("import", "out.csv")
    assert again.code == 0
    assert "already there, skipped" in again.out
