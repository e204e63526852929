"""A plan that is kept: what was planned beside what was filled, as batches are closed."""

import csv
import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest

Run = Callable[..., Any]

PLAN = """row,name,produce,cut,jar,as_bought,days
A,first,carrot,sticks,pint,8 lb,2025-07-01 to 2025-07-07
B,,carrot,sticks,pint,8 lb,2025-07-08 to 2025-07-14
C,beets,beet,slices,pint,10 lb,
D,,cucumber,spears,quart,40 lb,
"""


@pytest.fixture
def kept(run: Run, kitchen: Path) -> Path:
    """A plan kept as 'stall', whose batches count from June on."""
    (kitchen / "p.csv").write_text(PLAN)
    ran = run("harvest", "p.csv", "--keep", "Stall", "--since", "2025-06-01")
    assert ran.code == 0, ran.err
    return kitchen


def close(run: Run, name: str, crop: str, jars: float, date: str, *more: str) -> None:
    """Write down a batch that was put up."""
    produce, cut = crop.split()
    ran = run("record", "--batch", name, "--date", date, "--produce", produce, "--cut", cut,
              "--jar", "pint", "--jars", f"{jars}", *more)  # fmt: skip
    assert ran.code == 0, ran.err


def lines(run: Run, plan: str = "stall") -> list[dict[str, Any]]:
    """The lines of a kept plan, as JSON has them."""
    found = run("harvest", plan, "--json").document["lines"]
    assert isinstance(found, list)
    return found


def test_what_was_planned_stands_and_what_was_filled_is_set_beside_it(run: Run, kept: Path) -> None:
    planned = [one["planned"]["median"] for one in lines(run)]
    close(run, "x", "carrot sticks", 9.0, "2025-07-09")
    found = run("harvest", "stall", "--json").document
    # By crop, cut and days: the batch of the second week is line B's, and no other's.
    assert [one["batches"] for one in found["lines"]] == [[], ["x"], [], []]
    assert [one["filled"] for one in found["lines"]] == [0.0, 9.0, 0.0, 0.0]
    assert found["kept"]["filled"] == 9.0
    # What was planned is of the day it was kept, whatever is learned since.
    assert [one["planned"]["median"] for one in found["lines"]] == planned
    text = run("harvest", "stall").out
    assert "'Stall'" in text
    assert "filled 9" in text
    assert "by 'x'" in text


def test_a_batch_counts_for_one_line_only_in_all_plans(run: Run, kept: Path) -> None:
    assert run("harvest", "p.csv", "--keep", "home", "--since", "2025-06-01").code == 0
    close(run, "x", "beet slices", 9.0, "2025-08-01")
    close(run, "first", "carrot sticks", 7.0, "2025-07-02")
    counted = [
        name for plan in ("stall", "home") for one in lines(run, plan) for name in one["batches"]
    ]
    assert sorted(counted) == ["first", "x"]
    close(run, "y", "beet slices", 8.0, "2025-08-02")
    assert [one["filled"] for one in lines(run)][2] == 9.0  # the other plan's line was empty yet
    assert [one["filled"] for one in lines(run, "home")][2] == 8.0


def test_what_fits_no_line_counts_for_none(run: Run, kept: Path) -> None:
    close(run, "old", "beet slices", 9.0, "2025-05-30")
    close(run, "whole", "carrot rounds", 9.0, "2025-07-02")
    close(run, "late", "carrot sticks", 9.0, "2025-07-15")
    found = run("harvest", "stall", "--json").document
    assert found["kept"]["filled"] == 0.0
    assert found["kept"]["not_counted"] == ["old", "whole", "late"]
    assert "'old'" in run("harvest", "stall").out


def test_a_line_put_up_in_several_batches_adds_up_and_the_rest_is_forecast(
    run: Run, kept: Path
) -> None:
    close(run, "s1", "cucumber spears", 6.0, "2025-07-03", "--as-bought", "10 lb")
    found = lines(run)[3]
    assert (found["state"], found["filled"], found["batches"]) == ("partly", 6.0, ["s1"])
    # 40 lb less 10 lb are left.
    assert found["from"]["grams"] == pytest.approx(30 * 453.59237)
    close(run, "s2", "cucumber spears", 12.0, "2025-07-04", "--as-bought", "28 lb")
    found = lines(run)[3]
    assert (found["state"], found["filled"], found["batches"]) == ("done", 18.0, ["s1", "s2"])
    whole = run("harvest", "stall", "--json").document
    assert whole["jars_done"] == 18.0
    assert whole["kept"]["filled"] == 18.0


def test_a_batch_taken_out_counts_no_more(run: Run, kept: Path) -> None:
    close(run, "x", "beet slices", 9.0, "2025-08-01")
    assert run("withdraw", "x").code == 0
    assert lines(run)[2]["filled"] == 0.0


def test_a_recipe_that_a_line_names_is_asked_of_its_batches(run: Run, kitchen: Path) -> None:
    (kitchen / "r.csv").write_text(
        "recipe,cut,pack,jar,as_bought\npickled-beets,slices,hot,pint,10 lb\n"
    )
    assert run("harvest", "r.csv", "--keep", "r", "--since", "2025-06-01").code == 0
    close(run, "x", "beet slices", 9.0, "2025-08-01")
    close(run, "y", "beet slices", 8.0, "2025-08-01", "--recipe", "pickled-beets", "--pack", "hot")
    assert lines(run, "r")[0]["batches"] == ["y"]


def test_dropping_a_plan_is_undone(run: Run, kept: Path) -> None:
    before = run("harvest", "stall", "--json").out
    ran = run("harvest", "STALL", "--drop")
    assert ran.code == 0
    assert "undo" in ran.out
    ran = run("harvest", "stall")
    assert ran.code == 1
    assert "no file stall" in ran.err
    ran = run("undo", "--yes")
    assert "'stall'" in ran.out
    assert run("harvest", "stall", "--json").out == before
    assert run("undo", "--yes").code == 0  # the undo
    assert run("harvest", "stall").code == 1


def test_plans_stand_side_by_side(run: Run, kept: Path) -> None:
    (kept / "q.csv").write_text("produce,cut,jar,as_bought\nbeet,slices,pint,10 lb\n")
    assert run("harvest", "q.csv", "--keep", "home", "--since", "2025-06-01").code == 0
    close(run, "x", "carrot sticks", 9.0, "2025-07-09")
    text = run("harvest").out
    assert "Stall" in text
    assert "home" in text
    plans = run("harvest", "--json").document["plans"]
    assert [(one["name"], one["lines"], one["filled"]) for one in plans] == [
        ("Stall", 4, 9.0),
        ("home", 1, 0.0),
    ]


def test_csv_of_a_kept_plan_has_ones_own_columns_and_planned_and_filled(
    run: Run, kept: Path
) -> None:
    close(run, "x", "carrot sticks", 9.0, "2025-07-09")
    (kept / "p.csv").unlink()  # the ledger has it all
    assert run("harvest", "stall", "--csv", "o.csv").code == 0
    with (kept / "o.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert [row["row"] for row in rows] == ["A", "B", "C", "D"]
    assert list(rows[0])[:7] == PLAN.splitlines()[0].split(",")
    assert [row["jars_filled"] for row in rows] == ["0", "9", "0", "0"]
    assert rows[1]["batches"] == "x"
    assert float(rows[1]["jars_planned"]) > 0
    assert run("harvest", "o.csv").code == 0  # a plan again


@pytest.mark.parametrize(
    ("args", "code", "why"),
    [
        (["p.csv", "--keep", "a.csv"], 1, "is not a name for a plan"),
        (["p.csv", "--keep", " "], 1, "is not a name for a plan"),
        (["p.csv", "--keep", "x", "--since", "soon"], 1, "2025-07-01"),
        (["p.csv", "--since", "2025-07-01"], 1, "--keep"),
        (["p.csv", "--drop"], 1, "no plan is kept as 'p.csv'"),
        (["stall", "--keep", "other"], 1, "is kept already"),
        (["stall", "--line", "carrot: 3 lb"], 1, "is kept"),
    ],
)
def test_what_cannot_be_kept_is_told(
    run: Run, kept: Path, args: list[str], code: int, why: str
) -> None:
    ran = run("harvest", *args)
    assert (ran.code, ran.out) == (code, "")
    assert why in " ".join(ran.err.split())


def test_keeping_a_name_again_takes_its_place_and_undo_brings_the_first_back(
    run: Run, kept: Path
) -> None:
    first = run("harvest", "stall", "--json").out
    (kept / "q.csv").write_text("produce,cut,jar,as_bought\nbeet,slices,pint,10 lb\n")
    ran = run("harvest", "q.csv", "--keep", "stall", "--since", "2025-06-01")
    assert "in place of" in " ".join(ran.err.split())
    assert len(lines(run)) == 1
    assert run("undo", "--yes").code == 0
    assert run("harvest", "stall", "--json").out == first


def test_a_plan_that_the_ledger_cannot_hold_is_told_as_damage(run: Run, kept: Path) -> None:
    with closing(sqlite3.connect(kept / "ledger.sqlite3")) as ledger, ledger:
        # As a jarcast left it that kept no digests: nothing but what the plan says can tell.
        (trigger,) = ledger.execute(
            "SELECT sql FROM sqlite_schema WHERE name = 'action_no_update'"
        ).fetchone()
        ledger.execute("DROP TRIGGER action_no_update")
        ledger.execute("UPDATE action SET digest = NULL")
        ledger.execute(trigger)
        ledger.execute(
            "INSERT INTO setting (action_id, key, value) VALUES (1, 'plan: stall', '{\"a\": 1}')"
        )
    ran = run("harvest", "stall")
    assert (ran.code, ran.out) == (1, "")
    assert "is damaged: the plan 'stall'" in " ".join(ran.err.split())
    assert run("batches").code == 0  # nothing else asks for it
