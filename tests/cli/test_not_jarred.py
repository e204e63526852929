"""What of a batch was not jarred: asked for, recorded, and left out of what is learned."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

Run = Callable[..., Any]

POUND_G = 453.59237  # NIST Handbook 44, Appendix C
# A first batch whose pot ran empty: 20 lb of cucumbers cannot be in seven quarts.
DILLS = ("record", "--batch", "dills", "--produce", "cucumber", "--cut", "spears", "--pack", "raw",
         "--cure-hours", "0", "--as-bought", "20 lb", "--jar", "quart", "--jars", "7",
         "--brine-made", "1 gal", "--brine-left", "0 cups")  # fmt: skip
NEXT = ("forecast", "--produce", "cucumber", "--cut", "spears", "--trimmed", "10 lb", "--jar",
        "quart", "--cure-hours", "0", "--json")  # fmt: skip
CARROTS = ("forecast", "--produce", "carrot", "--cut", "sticks", "--trimmed", "10 lb", "--jar",
           "pint", "--cure-hours", "0", "--json")  # fmt: skip


def test_a_batch_too_heavy_for_its_jars_is_asked_of_and_hardly_counts(run: Run) -> None:
    before, carrots = run(*NEXT).document, run(*CARROTS).document
    ran = run(*DILLS)
    assert ran.code == 0
    assert "was some of it not jarred?" in ran.err
    assert 'jarcast amend "dills" not_jarred="6 lb"' in ran.err
    # One odd batch: its own crop keeps four fifths of its jars and half its brine, another crop
    # moves by less than an eighth.
    after = run(*NEXT).document
    assert after["jars"]["median"] >= 0.8 * before["jars"]["median"]
    assert after["brine_to_make_ml"] >= 0.5 * before["brine_to_make_ml"]
    other = run(*CARROTS).document["jars"]["median"]
    assert other == pytest.approx(carrots["jars"]["median"], rel=0.12)


def test_said_how_much_was_not_jarred_it_is_a_sound_batch(run: Run) -> None:
    ran = run(*DILLS, "--not-jarred", "6 lb")
    assert (ran.code, ran.err) == (0, "")
    assert "Not jarred: 6 lb." in ran.out
    (batch,) = run("batches", "--json").document["batches"]
    assert batch["not_jarred_g"] == pytest.approx(6 * POUND_G)
    assert run("habits", "--json").document["slips"] == []


def test_it_can_be_said_later_and_taken_back(run: Run) -> None:
    run(*DILLS)
    assert "odd" not in run("amend", "dills", "not_jarred=6 lb").err
    (event,) = run("history", "dills", "--json").document["events"][1:]
    assert [change["column"] for change in event["changes"]] == ["not_jarred_g"]
    run("amend", "dills", "not_jarred=")
    assert "not_jarred_g" not in run("batches", "--json").document["batches"][0]


def test_a_batch_is_closed_with_what_was_not_jarred(run: Run) -> None:
    run("begin", "--batch", "c", "--produce", "carrot", "--cut", "sticks", "--pack", "raw", "--jar",
        "pint", "--trimmed", "12 lb", "--cure-hours", "0", "--units", "us")  # fmt: skip
    ran = run("close", "--jars", "8", "--not-jarred", "7 lb")
    assert "Not jarred: 7 lb." in ran.out
    assert "tight" not in ran.err
    (batch,) = run("batches", "--json").document["batches"]
    assert batch["not_jarred_g"] == pytest.approx(7 * POUND_G)


def test_closing_a_batch_too_heavy_for_its_jars_names_the_option(run: Run) -> None:
    run("begin", "--batch", "c", "--produce", "carrot", "--cut", "sticks", "--pack", "raw", "--jar",
        "pint", "--as-bought", "16 lb", "--cure-hours", "0", "--units", "us")  # fmt: skip
    said = " ".join(run("close", "--jars", "8").err.split())
    assert "Was some of it not jarred? Say how much with --not-jarred" in said


@pytest.mark.parametrize(("typed", "why"), [("6", "no unit"), ("-1 lb", "negative")])
def test_what_is_no_weight_is_refused(run: Run, typed: str, why: str) -> None:
    ran = run(*DILLS, "--not-jarred", typed)
    assert ran.code == 1
    assert why in ran.err
    assert run("batches", "--json").document["batches"] == []


def test_more_than_there_was_is_told_and_teaches_nothing_in_the_jars(run: Run) -> None:
    before = run(*NEXT).document["jars"]
    ran = run(*DILLS, "--not-jarred", "25 lb")
    assert ran.code == 0
    assert "leaves nothing of 20 lb as bought for the jars" in " ".join(ran.err.split())
    assert run(*NEXT).document["jars"]["median"] == pytest.approx(before["median"], rel=0.1)


def test_a_table_has_the_column_at_its_end_and_comes_back(run: Run, kitchen: Path) -> None:
    run(*DILLS)
    assert run("export").out.splitlines()[0].endswith(",recipe,note")
    run("amend", "dills", "not_jarred=6 lb")
    run("export", "out.csv")
    assert (kitchen / "out.csv").read_text().splitlines()[0].endswith(",recipe,note,not_jarred_g")
    there = run("batches", "--json").document
    assert run("import", "out.csv", "--ledger", "other.sqlite3").code == 0
    assert run("batches", "--json", "--ledger", "other.sqlite3").document == there
    assert "already" in run("import", "out.csv").out
