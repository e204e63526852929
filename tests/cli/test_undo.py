"""jarcast undo at the command line, and what jarcast alone and jarcast kitchen show."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

Run = Callable[..., Any]
CARROTS = ("--produce", "carrot", "--cut", "sticks", "--jar", "pint")


def names(run: Run) -> list[str]:
    return [batch["batch"] for batch in run("batches", "--json").document["batches"]]


def test_it_says_what_it_takes_back_and_what_stands_now(run: Run, filled: Path) -> None:
    listed = run("batches", "--json").out
    assert run("amend", "c1", "jars=9").code == 0
    ran = run("undo")
    assert (ran.code, ran.err) == (0, "")
    assert ran.out.startswith("Taken back: the amend of 'c1' (20")
    assert "'c1' is as it was before that." in ran.out
    assert run("batches", "--json").out == listed
    again = run("undo", "c1", "--json").document
    assert (again["kind"], again["batches"], again["undoes"]["kind"]) == ("undo", ["c1"], "amend")
    heads = [
        line.split(None, 2)[2] for line in run("history", "c1").out.splitlines() if line[:2] == "20"
    ]
    assert [head.split()[0] for head in heads] == ["import", "amend", "undo", "undo"]


def test_an_import_goes_as_one_and_the_mended_file_comes_in(
    run: Run, filled: Path, table: Callable[..., Path]
) -> None:
    assert "import of 'b1', 'c1', 'c2', 'k1'" in " ".join(run("undo", "c1").out.split())
    assert names(run) == []
    assert "taken back" in run("history", "c1").out
    rows = ("c1,2024-08-03,carrots,sticks,raw,pint,5 lb 4 oz,0,9.5,10 cups,1 1/2 cups,mended",)
    assert run("import", str(table(*rows))).code == 0
    assert names(run) == ["c1"]


def test_a_closed_batch_is_open_again_and_is_closed_anew(run: Run) -> None:
    run("begin", "--batch", "q", *CARROTS, "--trimmed", "6 lb")
    before = run("--json").document["batches"]
    run("close", "--jars", "9")
    assert "'q' is open again, as it was before it was closed." in run("undo").out
    assert run("--json").document["batches"] == before
    assert run("close", "--jars", "9.5").code == 0
    assert names(run) == ["q"]


def test_a_step_goes_with_the_forecast_it_kept(run: Run) -> None:
    run("begin", "--batch", "q", *CARROTS, "--as-bought", "8 lb")
    before = run("--json").document["batches"]
    run("weigh", "--trimmed", "6 lb")
    assert "the weigh of 'q'" in run("undo").out
    assert run("--json").document["batches"] == before


def test_a_first_weight_is_taken_back_alone_and_its_batch_stays_open(run: Run) -> None:
    # The promise of the command: the last thing you did.
    run("begin", *CARROTS, "--batch", "q")
    run("weigh", "--trimmed", "5 lb")
    assert run("undo", "--json").document["kind"] == "weigh"
    (batch,) = run("--json").document["batches"]
    assert (batch["batch"], batch["values"]["trimmed_g"]) == ("q", None)


def test_a_setting_is_taken_back(run: Run) -> None:
    run("kitchen", "--altitude", "900 ft")
    run("kitchen", "--altitude", "3000 ft")
    assert "altitude 3000 ft" in run("undo").out
    assert run("kitchen", "--json").document["altitude"] == "900 ft"


def test_in_an_empty_ledger_there_is_nothing_to_take_back(run: Run, ledger: Path) -> None:
    ran = run("undo")
    assert (ran.code, ran.out) == (1, "")
    assert "there is nothing to take back" in ran.err
    assert not ledger.exists()


# jarcast alone


def test_alone_it_tells_how_to_begin_and_makes_no_ledger(run: Run, ledger: Path) -> None:
    ran = run()
    assert (ran.code, ran.err) == (0, "")
    assert "To begin:" in ran.out
    assert not ledger.exists()


@pytest.mark.parametrize(
    ("steps", "due"),
    [
        ((), "jarcast weigh"),
        ((("weigh", "--trimmed", "6 lb"),), "jarcast pack"),
        ((("weigh", "--trimmed", "6 lb"), ("pack", "--jars", "3")), "jarcast weigh --brine-made"),
        (
            (("weigh", "--trimmed", "6 lb", "--brine-made", "30 cups"), ("pack", "--jars", "3")),
            "jarcast close",
        ),
    ],
)
def test_of_an_open_batch_it_names_the_next_step(run: Run, steps: Any, due: str) -> None:
    run("begin", "--batch", "q", *CARROTS)
    for step in steps:
        run(*step)
    assert f"  next: {due} " in run().out


def test_a_forecast_that_was_kept_is_told_until_its_batch_is_written_down(run: Run) -> None:
    ask = ("forecast", *CARROTS, "--trimmed", "6 lb", "--keep", "next one")
    assert run(*ask).code == 0
    assert "A forecast is kept for 'next one'" in run().out
    assert run("--json").document["forecasts_waiting"] == ["next one"]
    run("record", "--batch", "next one", *CARROTS, "--jars", "9")
    assert "A forecast is kept" not in run().out
    assert "1 is recorded" in run().out


# jarcast kitchen


def test_the_kitchen_shows_and_keeps_what_is_remembered(run: Run) -> None:
    run("kitchen", "jars", "add", "tall", "--water", "415 g")
    ran = run("kitchen", "--canner", "7 quarts / 8 pints", "--units", "metric", "--json")
    assert ran.document == {
        "format": "jarcast kitchen", "version": 1, "altitude": None, "altitude_ft": None,
        "units": "metric", "canner": {"quart": 7, "pint": 8}, "beliefs": None,
        "own_jars": ["tall"], "last_jar": None, "canner_kind": None,
    }  # fmt: skip
    lines = run("kitchen").out.splitlines()
    assert "Canner: 7 quarts / 8 pints" in lines
    assert "Own jars: tall" in lines
    assert "Starting beliefs: published yields" in lines


def test_what_is_no_canner_changes_nothing(run: Run, ledger: Path) -> None:
    ran = run("kitchen", "--altitude", "900 ft", "--canner", "a big one")
    assert (ran.code, ran.out) == (1, "")
    assert "write it like" in ran.err
    assert not ledger.exists()


@pytest.mark.parametrize("further", [(), ("--further",), ("kf1",)])
def test_a_forecast_kept_before_its_batch_is_taken_back_like_anything_else(
    run: Run, filled: Path, further: tuple[str, ...]
) -> None:
    asked = ("forecast", "--produce", "carrot", "--cut", "sticks", "--trimmed", "5 lb")
    assert run(*asked, "--keep", "kf1").code == 0
    assert run("--json").document["forecasts_waiting"] == ["kf1"]
    ran = run("undo", "--yes", *further)
    assert ran.code == 0, ran.err
    assert "'kf1' no longer has that forecast kept." in ran.out
    assert run("--json").document["forecasts_waiting"] == []
    assert run("undo", "--yes").code == 0  # the undo, taken back
    assert run("--json").document["forecasts_waiting"] == ["kf1"]
    assert run("undo", "--yes").code == 0
    assert "import of" in run("undo", "--yes", "--further").out  # what came before it
