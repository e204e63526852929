"""What becomes of jars is said whichever way their count comes in."""

import datetime as dt
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

Run = Callable[..., Any]

# USDA Complete Guide (AIB 539), Guide 1, p. 1-26: within 24 hours, or used within several days.
UNSEALED = "A jar that did not seal is processed again within 24 hours"
PART = "A part-full jar goes in the refrigerator or in a smaller jar"  # Ask Extension 684465
OKRA = ("--produce", "okra", "--pack", "raw", "--jar", "pint")
COUNTS = pytest.mark.parametrize(
    ("jars", "sealed", "said"),
    [
        ("5", "5", ()),
        ("5", "2", (UNSEALED,)),
        ("5", "0", (UNSEALED,)),
        ("5", None, ()),
        ("9 1/2", "9", (PART,)),  # the half jar goes into no canner
        ("9 1/2", "7", (PART, UNSEALED)),
    ],
)


def heard(ran: Any) -> tuple[str, ...]:
    assert ran.code == 0, ran.err
    told = " ".join(ran.err.split())
    return tuple(one for one in (PART, UNSEALED) if one in told)


def in_document(ran: Any) -> tuple[str, ...]:
    told = " ".join(one["text"] for one in ran.document["cautions"])
    return tuple(one for one in (PART, UNSEALED) if one in told)


@COUNTS
@pytest.mark.parametrize("as_json", [False, True])
def test_by_a_close_a_record_and_what_is_amended(
    run: Run, jars: str, sealed: str | None, said: tuple[str, ...], as_json: bool
) -> None:
    more = ("--json",) if as_json else ()
    told = () if sealed is None else ("--sealed", sealed)
    run("begin", *OKRA, "--batch", "o1")
    ran = run("close", "--jars", jars, *told, *more)
    assert heard(ran) == said
    recorded = run("record", *OKRA, "--batch", "o2", "--jars", jars, *told, *more)
    assert heard(recorded) == said
    run("record", *OKRA, "--batch", "o3", "--jars", "3")
    changes = () if sealed is None else (f"sealed={sealed}",)
    amended = run("amend", "o3", f"jars={jars}", *changes, *more)
    assert heard(amended) == said
    if as_json:
        assert {in_document(one) for one in (ran, recorded, amended)} == {said}


def test_a_change_of_something_else_says_it_no_more(run: Run) -> None:
    run("record", *OKRA, "--batch", "o1", "--jars", "5 1/2", "--sealed", "2")
    assert heard(run("amend", "o1", "note=windy")) == ()
    assert heard(run("amend", "o1", "sealed=1")) == (PART, UNSEALED)


@pytest.mark.parametrize(
    ("jars", "sealed", "days", "said"),
    [
        ("9 1/2", None, 0, ()),  # a note of what was put up: nobody holds the half jar in hand
        ("9 1/2", "9", 14, (PART,)),  # just out of the canner
        ("9 1/2", "9", 15, ()),
        ("9 1/2", "7", 400, (UNSEALED,)),
    ],
)
def test_a_part_full_jar_is_spoken_of_while_it_is_at_hand(
    run: Run, jars: str, sealed: str | None, days: int, said: tuple[str, ...]
) -> None:
    day = (dt.date.today() - dt.timedelta(days=days)).isoformat()
    told = () if sealed is None else ("--sealed", sealed)
    put_up = ("record", *OKRA, "--date", day)
    assert heard(run(*put_up, "--batch", "o1", "--jars", jars, *told)) == said
    run(*put_up, "--batch", "o2", "--jars", "3")
    changes = () if sealed is None else (f"sealed={sealed}",)
    assert heard(run("amend", "o2", f"jars={jars}", *changes)) == said
    run("begin", *OKRA, "--batch", "o3", "--date", day)  # at the counter it always is
    assert PART in heard(run("close", "--jars", jars, *told))


def test_what_contradicts_is_said_to_json_too(run: Run) -> None:
    run("begin", *OKRA, "--batch", "o1", "--as-bought", "3 lb")
    ran = run("close", "--jars", "5", "--brine-made", "4 cups", "--brine-left", "6 cups", "--json")
    assert [flag["batch"] for flag in ran.document["flags"]] == ["o1"]
    assert "6 cups" in ran.err


@pytest.mark.parametrize(("days", "told"), [(0, True), (14, True), (15, False), (400, False)])
def test_of_what_is_imported_only_jars_still_to_be_seen_to(
    run: Run, kitchen: Path, days: int, told: bool
) -> None:
    day = (dt.date.today() - dt.timedelta(days=days)).isoformat()
    table = kitchen / "t.csv"
    rows = (
        f"a,{day},okra,raw,pint,5,2",
        f"b,{day},okra,raw,pint,6,4",
        f"c,{day},okra,raw,pint,4,4",
    )
    table.write_text("\n".join(["batch,date,produce,pack,jar,jars,sealed", *rows]) + "\n")
    ran = run("import", str(table))
    assert heard(ran) == ((UNSEALED,) if told else ())
    said = " ".join(ran.err.split())
    assert ("'a', 'b': A jar that did not seal" in said) == told


@pytest.mark.parametrize(
    ("recipe", "jars", "due"),
    # AIB 539, Guide 6, p. 6-15, 6-16: beets go into pints and quarts. No card is a name alone.
    [
        ("pickled-beets", "9.5 pint", "not in the canner with too much headspace: the card lists"),
        ("pickled-beets", "9.5 quart", "or in a smaller jar that the card lists"),
        ("pickled-beets", "4 quart + 2.5 pint", "headspace: the card lists no smaller jar"),
        ("my aunt's", "9.5 pint", "or in a smaller jar that your tested recipe lists"),
    ],
)
def test_a_part_full_jar_is_spoken_of_by_the_batch_s_card(
    run: Run, kitchen: Path, recipe: str, jars: str, due: str
) -> None:
    crop = ("--produce", "beet", "--cut", "slices", "--pack", "hot", "--recipe", recipe)
    run("begin", *crop, "--batch", "b1")
    closed = run("close", "--jars", jars, "--sealed", "4")
    recorded = run("record", *crop, "--batch", "b2", "--jars", jars, "--sealed", "4")
    day = dt.date.today() - dt.timedelta(days=2)
    sorts = " + ".join(part.split()[1] for part in jars.split(" + "))
    counts = " + ".join(part.split()[0] for part in jars.split(" + "))
    (kitchen / "t.csv").write_text(
        "batch,date,produce,cut,pack,jar,jars,sealed,recipe\n"
        f"b3,{day},beet,slices,hot,{sorts},{counts},4,{recipe}\n"
    )
    for ran in (closed, recorded, run("import", "t.csv")):
        assert ran.code == 0, ran.err
        told = " ".join(ran.err.split())
        assert told.count("A part-full jar goes in the refrigerator") == 1
        assert due in told


def test_two_part_full_jars_make_no_whole_one_that_did_not_seal(run: Run) -> None:
    run("begin", "--produce", "okra", "--pack", "raw", "--batch", "o4")
    ran = run("close", "--jars", "5 1/2 pint + 4 1/2 half-pint", "--sealed", "9")
    assert heard(ran) == (PART,)
