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
    assert "you filled 13¾ pints." in ran.out
    run("begin", "--batch", "p", *CAULIFLOWER, "--jar", "pint", "--trimmed", "5 lb 10 oz")
    said = " ".join(run("close", "--batch", "p", "--jars", "6 pints, 5 1/2 quarts").out.split())
    assert "6 pints + 5½ quarts (as much as about 17" in said


def test_jars_packed_of_other_sorts_than_planned_count_in_what_is_to_come(run: Run) -> None:
    run("begin", "--batch", "q", *CAULIFLOWER, "--jar", "pint", "--trimmed", "5 lb 10 oz")
    ran = run("pack", "--jars", "3 pint + 2 half-pint", "--json")
    assert ran.document["so_far"]["jars"] == 5.0
    by_sort = run("pack", "--jars", "4 pint + 2 half-pint").out
    assert "4 pints + 2 half-pints packed" in by_sort
    said = " ".join(by_sort.split())
    assert re.search(r"In all about [\d½]+ jars \([\d½]+ pints, then 2 half-pints\)", said)
    assert re.search(r"Still to come: about [\d½]+ pints?\b", said)  # one sort is left


def test_what_an_earlier_note_said_of_the_sorts_gives_way_to_a_later_one(run: Run) -> None:
    run("begin", "--batch", "q", *CAULIFLOWER, "--jar", "pint", "--trimmed", "5 lb 10 oz")
    assert run("pack", "--jars", "3 half-pint").code == 0
    assert run("pack", "--jars", "3 pint").code == 0
    assert "half-pint" not in run().out
    assert run("close", "--jars", "9").code == 0
    assert jars_of(run, "q") == ("pint", "9")


def test_one_count_of_several_sorts_is_not_dealt_out_unasked(run: Run) -> None:
    carrots = ("--produce", "carrot", "--cut", "sticks", "--cure-hours", "0", "--trimmed", "16 lb")
    run("begin", "--batch", "q", *carrots, "--jar", "12 pint, then quart")
    ran = run("close", "--jars", "18.5")
    assert (ran.code, ran.out) == (1, "")
    assert "--jars '12 pint + 6.5 quart'" in " ".join(ran.err.split())
    assert run("batches", "--json").document["batches"] == []
    assert run("close", "--jars", "12 pint + 6.5 quart").code == 0
    assert jars_of(run, "q") == ("pint + quart", "12 + 6.5")


def test_one_count_of_several_sorts_is_dealt_out_with_yes(run: Run) -> None:
    run("begin", "--batch", "q", *CAULIFLOWER, "--trimmed", "5 lb", "--jar", "4 pint, then quart")
    assert run("close", "--jars", "6", "--yes").code == 0
    assert jars_of(run, "q") == ("pint + quart", "4 + 2")


def test_jars_that_sealed_may_be_counted_by_sort(run: Run) -> None:
    carrots = ("record", "--batch", "r", "--produce", "carrot")
    both = "6 pints and 5 quarts"
    assert run(*carrots, "--jars", both, "--sealed", both).code == 0
    assert run("batches", "--json").document["batches"][0]["sealed"] == 11
    run("amend", "r", "sealed=6 pints + 4 quarts")
    assert run("batches", "--json").document["batches"][0]["sealed"] == 10
    ran = run("amend", "r", "sealed=6 pints + a few")
    assert ran.code == 1
    assert "a few" in ran.err


def test_the_last_sort_of_a_forecast_takes_what_is_left_though_it_is_counted(run: Run) -> None:
    asked = ("forecast", "--produce", "carrot", "--cut", "sticks", "--cure-hours", "0")
    counted = run(*asked, "--trimmed", "9 lb", "--jar", "6 pints and 5 quarts", "--json")
    turns = run(*asked, "--trimmed", "9 lb", "--jar", "6 pint, then quart", "--json")
    assert counted.code == 0, counted.err
    assert counted.document["jars_by_sort"] == turns.document["jars_by_sort"]


def test_a_table_needs_no_jar_where_its_counts_name_their_sorts(run: Run, kitchen: Path) -> None:
    table = kitchen / "sorts.csv"
    table.write_text(
        "batch,date,produce,jars\na,2024-08-01,carrot,6 pints and 5 quarts\n"
        "b,2024-08-02,carrot,4 pint\n"
    )
    assert run("import", str(table)).code == 0
    assert jars_of(run, "a") == ("pint + quart", "6 + 5")
    assert jars_of(run, "b") == ("pint", "4")
    table.write_text("batch,date,produce,jars\nc,2024-08-01,carrot,6\n")
    ran = run("import", str(table))
    assert ran.code == 1
    assert "jar" in ran.err
    assert len(run("batches", "--json").document["batches"]) == 2


def test_a_recipe_is_scaled_for_jars_of_several_sorts(run: Run) -> None:
    scale = ("recipes", "scale", "quick-fresh-pack-dill", "--json")
    quarts, pints, both = (
        run(*scale, "--jars", said).document["printed_jars"][0]
        for said in ("5 quarts", "6 pints", "6 pints and 5 quarts")
    )
    assert both == pytest.approx(quarts + pints)
    for said, why in (
        ("6 half-pints", "does not list"),
        ("a few", "--jars 'a few'"),
        ("0", "above 0"),
    ):
        ran = run("recipes", "scale", "quick-fresh-pack-dill", "--jars", said)
        assert (ran.code, ran.out) == (1, "")
        assert why in ran.err


def test_a_harvest_counts_jars_with_their_sorts(run: Run) -> None:
    line = "carrot, sticks, 6 pint then quart: 30 lb"
    said = " ".join(run("harvest", "--line", line).out.split())
    assert re.search(r"By sort: about 6 pints, \d+ quarts\.", said)
    assert re.search(r"about [\d /]+ jars \(6 pints, then [\d /]+ quarts\)", said)


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
    assert "you filled 6 pints + 5 quarts (as much as about 16½ pints)." in said
    assert re.search(r"to [0-9½]+ pints, 16(\.4|½) came \(inside\)", said)


def test_a_filter_by_a_near_name_says_what_may_be_meant(run: Run) -> None:
    assert run("record", "--batch", "r", "--produce", "cucumber", "--jars", "6 pints").code == 0
    for command in ("batches", "habits"):
        ran = run(command, "--produce", "cucmber")
        assert ran.code == 0
        assert "No batch of 'cucmber'; did you mean cucumber?" in ran.err
        assert "did you mean" not in run(command, "--produce", "okra").err
        assert "did you mean" not in run(command, "--produce", "cukes").err


@pytest.mark.parametrize(
    ("typed", "insist"),
    [
        (("forecast", "--produce", "beet", "--pack", "rwa", "--as-bought", "9 lb"), "--as-named"),
        (("forecast", "--produce", "beet", "--pack", "rwa", "--jars", "7"), "--as-named"),
        (("buy", "24", "--produce", "beet", "--pack", "rwa"), "--as-named"),
        (("harvest", "--line", "beet, pint: 9 lb; pack=rwa"), "--as-named"),
        (("begin", "--produce", "beet", "--pack", "rwa"), "--yes"),
        (("record", "--produce", "beet", "--pack", "rwa", "--jars", "9 pints"), "--yes"),
    ],
)
def test_a_misspelt_pack_is_refused_with_what_is_meant_and_the_way_to_insist(
    run: Run, kitchen: Path, typed: tuple[str, ...], insist: str
) -> None:
    ran = run(*typed)
    assert (ran.code, ran.out) == (1, "")
    assert "did you mean raw?" in ran.err
    assert insist in ran.err
    assert run(*typed, insist).code == 0


def test_a_misspelt_pack_is_asked_back_at_a_terminal(
    run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked = []

    def answer(question: str, **_: object) -> bool:
        asked.append(question)
        return True

    monkeypatch.setattr("jarcast.cli.crops.asking", lambda as_json=False: True)
    monkeypatch.setattr("jarcast.cli.crops.typer.confirm", answer)
    record = ("record", "--batch", "b", "--produce", "beet", "--pack", "hott", "--jars", "9 pints")
    assert run(*record).code == 0
    assert asked == ["The pack 'hott' is neither raw nor hot. Did you mean hot?"]
    assert run("batches", "--json").document["batches"][0]["pack"] == "hot"
    assert run("amend", "b", "pack=rwa").code == 0
    assert run("batches", "--json").document["batches"][0]["pack"] == "raw"


def test_a_misspelt_pack_in_a_table_is_taken_in_and_named_first(
    run: Run, table: Callable[..., Path]
) -> None:
    rows = ("1,2025-08-01,beet,rwa,pint,6", "2,2025-08-01,beet,rwa,pint,4")
    path = table(*rows, header="batch,date,produce,pack,jar,jars")
    said = run("import", str(path), "--json", "--ledger", "other.sqlite3").document
    assert said["near_packs"] == [{"pack": "rwa", "near": "raw", "batches": ["1", "2"]}]
    ran = run("import", str(path))
    assert ran.code == 0
    assert ran.err.startswith("These packs are neither raw nor hot")
    assert "'rwa' in \"1\" and 1 more: did you mean raw?" in ran.err
    assert 'jarcast amend "1" pack="raw"' in ran.err
    # A kind of one's own by now: nobody is asked again.
    assert run("forecast", "--produce", "beet", "--pack", "rwa", "--as-bought", "9 lb").code == 0
