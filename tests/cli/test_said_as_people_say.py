"""Jars and crops typed as people say them, in every command that takes them."""

import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

Run = Callable[..., Any]
CAULIFLOWER = ("--produce", "cauliflower", "--cut", "florets", "--cure-hours", "0")


def jars_of(run: Run, name: str) -> tuple[str, str]:
    batches = run("batches", "--json").document["batches"]
    found = next(batch for batch in batches if batch["batch"] == name)
    return found["jar"], found["jars"]


@pytest.mark.parametrize(
    ("said", "jar", "jars"),
    [
        ("6 pints and 5 quarts", "pint + quart", "6 + 5"),
        ("6 pint + 5.5 quart", "pint + quart", "6 + 5.5"),
        ("8 quarts + 1 pint", "quart + pint", "8 + 1"),
        ("5 wide pints", "pint-wide", "5"),
    ],
)
def test_counts_with_their_sorts_need_no_jar(run: Run, said: str, jar: str, jars: str) -> None:
    assert run("record", "--batch", "r", "--produce", "carrot", "--jars", said).code == 0
    assert jars_of(run, "r") == (jar, jars)
    assert run("begin", "--batch", "o", "--produce", "carrot", "--trimmed", "5 lb").code == 0
    assert run("close", "--batch", "o", "--jars", said).code == 0
    assert jars_of(run, "o") == (jar, jars)
    assert (
        run("record", "--batch", "a", "--produce", "beet", "--jar", "1l", "--jars", "3").code == 0
    )
    assert run("amend", "a", f"jars={said}").code == 0
    assert jars_of(run, "a") == (jar, jars)


def test_jars_of_another_sort_than_said_are_refused_with_both(run: Run) -> None:
    ran = run("record", "--produce", "carrot", "--jar", "pint", "--jars", "6 quarts")
    assert (ran.code, ran.out) == (1, "")
    assert "'6 quarts'" in ran.err
    assert "jar says 'pint'" in ran.err


def test_a_count_without_any_sort_says_how_to_write_it(run: Run) -> None:
    ran = run("record", "--produce", "carrot", "--jars", "9.5")
    assert ran.code == 2
    assert "Add --jar pint, or say --jars '9.5 pint'" in " ".join(ran.err.split())
    ran = run("record", "--produce", "carrot", "--jars", "6 pint + 5")
    assert ran.code == 1
    assert "each count with its sort" in ran.err
    assert "is empty" not in ran.err


def test_what_came_is_told_as_typed_with_its_sort(run: Run) -> None:
    run("begin", "--batch", "q", *CAULIFLOWER, "--jar", "pint", "--trimmed", "5 lb 10 oz")
    ran = run("close", "--batch", "q", "--jars", "13 3/4")
    assert "13 3/4 pints came" in ran.out
    run("begin", "--batch", "p", *CAULIFLOWER, "--jar", "pint", "--trimmed", "5 lb 10 oz")
    said = " ".join(run("close", "--batch", "p", "--jars", "6 pints, 5 1/2 quarts").out.split())
    assert "6 pints + 5 1/2 quarts (as much as about 17" in said


def test_jars_packed_of_other_sorts_than_planned_count_in_what_is_to_come(run: Run) -> None:
    run("begin", "--batch", "q", *CAULIFLOWER, "--jar", "pint", "--trimmed", "5 lb 10 oz")
    ran = run("pack", "--jars", "3 pint + 2 half-pint", "--json")
    assert ran.document["so_far"]["jars"] == 5.0
    by_sort = run("pack", "--jars", "4 pint + 2 half-pint").out
    assert "6 jars packed" in by_sort
    assert run("close", "--jars", "9").code == 0
    assert jars_of(run, "q") == ("pint + half-pint", "7 + 2")


def test_jars_to_buy_for_may_name_their_sort(run: Run) -> None:
    carrots = ("--produce", "carrot", "--cut", "sticks")
    said = run("buy", "12 quarts", *carrots, "--json").document
    assert said["grams"] == run("buy", "12", *carrots, "--jar", "quart", "--json").document["grams"]
    both = run("buy", "6 pints and 5 quarts", *carrots)
    assert "for 11 jars (6 pints + 5 quarts)" in both.out
    assert run("buy", "12 quarts", *carrots, "--jar", "pint").code == 2


def test_a_line_of_a_harvest_takes_jars_in_turns(run: Run) -> None:
    typed = "carrot, sticks, 5 wide pints, then quarts: 20 lb"
    line = run("harvest", "--line", typed, "--json").document["lines"][0]
    assert line["jar"] == ["pint-wide", "quart"]


def test_a_table_counts_jars_with_their_sorts(run: Run, table: Callable[..., Path]) -> None:
    header = "batch,date,produce,jar,jars"
    rows = ("1,2025-08-01,carrot,,6 pints and 5 quarts", '2,2025-08-01,beet,,"6 pint, 5.5 quart"')
    assert run("import", str(table(*rows, header=header))).code == 0
    assert jars_of(run, "1") == ("pint + quart", "6 + 5")
    assert jars_of(run, "2") == ("pint + quart", "6 + 5.5")
    ran = run("import", str(table("3,2025-08-01,beet,pint,6 quarts", header=header)))
    assert ran.code == 1
    assert "jar says 'pint'" in ran.err


FORECAST = ("--as-bought", "9 lb", "--cut", "florets", "--cure-hours", "0")


@pytest.mark.parametrize(
    ("typed", "insist"),
    [
        (("forecast", "--produce", "califlower", *FORECAST), "--as-named"),
        (("forecast", "--produce", "califlower", *FORECAST, "--sheet", "page.html"), "--as-named"),
        (("buy", "24", "--produce", "califlower"), "--as-named"),
        (("harvest", "--line", "califlower, pint: 9 lb"), "--as-named"),
        (("begin", "--produce", "califlower"), "--yes"),
        (("record", "--produce", "califlower", "--jars", "9 pints"), "--yes"),
    ],
)
def test_a_near_name_is_refused_with_the_name_and_the_way_to_insist(
    run: Run, kitchen: Path, typed: tuple[str, ...], insist: str
) -> None:
    ran = run(*typed)
    assert (ran.code, ran.out) == (1, "")
    assert "did you mean cauliflower?" in ran.err
    assert insist in ran.err
    assert run(*typed, insist).code == 0


def test_an_amended_produce_is_looked_at_too(run: Run, filled: Path) -> None:
    ran = run("amend", "c1", "produce=carrott")
    assert (ran.code, ran.out) == (1, "")
    assert "did you mean carrot?" in ran.err
    assert run("amend", "c1", "produce=cauliflower florets", "cut=").code == 0


def test_a_produce_of_ones_own_is_known(run: Run) -> None:
    record = ("record", "--produce", "califlower", "--jars", "9 pints", "--trimmed", "9 lb")
    assert run(*record, "--yes").code == 0
    assert run("forecast", "--produce", "califlower", *FORECAST).code == 0


def test_produce_and_cut_in_one_are_read_as_both(run: Run) -> None:
    apart = run("forecast", "--produce", "cauliflower", *FORECAST).out
    assert (
        run("forecast", "--produce", "cauliflower florets", *FORECAST[:2], *FORECAST[4:]).out
        == apart
    )
    run("record", "--batch", "d", "--produce", "dill spears", "--jars", "7 quarts")
    found = run("batches", "--json").document["batches"][0]
    assert (found["produce"], found["cut"]) == ("cucumber", "spears")
    ran = run("forecast", "--produce", "carrot sticks", "--cut", "rings", "--trimmed", "5 lb")
    assert ran.code == 1
    assert "sticks" in ran.err
    assert "'rings'" in ran.err


def test_a_near_name_in_a_table_is_taken_in_and_named_first(
    run: Run, table: Callable[..., Path]
) -> None:
    rows = ("1,2025-08-01,califlower,pint,6", "2,2025-08-01,shredded green cabbage,pint,4")
    ran = run("import", str(table(*rows, header="batch,date,produce,jar,jars")))
    assert ran.code == 0
    assert ran.err.startswith("Nothing is published of these")
    assert "did you mean cauliflower?" in ran.err
    assert 'jarcast amend "1" produce="cauliflower"' in ran.err
    found = run("batches", "--json").document["batches"][1]
    assert (found["produce"], found["cut"]) == ("cabbage", "shredded")


def test_a_forecast_kept_in_one_sort_is_told_beside_two_that_came(run: Run) -> None:
    crop = ("--produce", "carrot", "--cut", "sticks", "--pack", "raw", "--cure-hours", "0")
    run("begin", "--batch", "two", *crop, "--trimmed", "9 lb")
    ran = run("close", "--batch", "two", "--jars", "6 pints and 5 quarts")
    said = " ".join(ran.out.split())
    assert ran.code == 0
    # A quart less its headspace holds 2.08 pints less theirs: 6 pints and 5 quarts are 16.4.
    assert "6 pints + 5 quarts (as much as about 16 1/2 pints) came" in said
    assert re.search(r"to [0-9/ ]+ pints, 16(\.4| 1/2) came \(inside\)", said)
