"""jarcast batches --tally: what was put up in each year, crop by crop, and what sealed."""

import csv
from collections import Counter
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

Run = Callable[..., Any]
DEMO = Path(__file__).parents[2] / "data_demo" / "batches.csv"
ROWS = (
    "a,2023-12-30,carrot,sticks,pint + quart,4 + 2.5,6",
    "b,2024-01-02,Carrots,stick,pint,7.5,7",
    "c,2024-08-01,carrot,sticks,pint,3,",
    "d,2024-08-02,beets,,pint,6,5",
)
HEADER = "batch,date,produce,cut,jar,jars,sealed"


@pytest.fixture
def put_up(run: Run, table: Callable[..., Path]) -> None:
    assert run("import", str(table(*ROWS, header=HEADER))).code == 0


@pytest.mark.usefixtures("put_up")
def test_jars_are_counted_by_year_crop_and_sort(run: Run) -> None:
    document = run("batches", "--tally", "--json").document
    assert document["batches"] == 4
    assert document["jars"] == {"pint": 4 + 7.5 + 3 + 6, "quart": 2.5}
    first, second = document["years"]
    assert (first["year"], second["year"]) == (2023, 2024)
    crops = {(one["produce"], one["cut"]): one["jars"] for one in second["crops"]}
    assert crops == {("beet", None): {"pint": 6.0}, ("carrot", "sticks"): {"pint": 10.5}}


@pytest.mark.usefixtures("put_up")
def test_what_sealed_is_of_full_jars_where_it_was_written_down(run: Run) -> None:
    document = run("batches", "--tally", "--json").document
    # 4 pints and 2 full quarts, 7 full pints, 6 pints: 19 full jars; of 3 pints nothing is told.
    assert (document["sealed"], document["sealed_of"]) == (6 + 7 + 5, 6 + 7 + 6)
    assert document["sealed_rate"] == pytest.approx(18 / 19)
    text = run("batches", "--tally").out
    assert text.endswith("Sealed: 18 of 19 full jars, 95 %, where it was recorded.\n")
    assert "2024  in all          16.5 pint" in text


@pytest.mark.usefixtures("put_up")
def test_the_tally_is_of_the_batches_that_are_asked_for(run: Run) -> None:
    asked = ("batches", "--tally", "--produce", "carrot", "--since", "2024-01-01")
    document = run(*asked, "--json").document
    assert (document["batches"], document["jars"]) == (2, {"pint": 10.5})
    assert "in all" not in run(*asked).out
    untold = run("batches", "--tally", "--since", "2024-08-01", "--produce", "carrot")
    assert "No batch says how many jars sealed" in untold.out


def test_a_part_full_jar_that_sealed_too_makes_no_more_than_all(run: Run) -> None:
    run("record", "--produce", "okra", "--jars", "3.5 pint", "--sealed", "4", "--yes")
    assert run("batches", "--tally", "--json").document["sealed_rate"] == 1.0


def test_without_batches_the_tally_is_empty_and_says_so(run: Run) -> None:
    assert run("batches", "--tally", "--json").document["years"] == []
    assert run("batches", "--tally").out.startswith("No batches yet")


def test_the_demo_s_seasons_add_up_to_the_rows_of_its_file(run: Run) -> None:
    with DEMO.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    due: Counter[tuple[str, str]] = Counter()
    for row in rows:
        for sort, count in zip(row["jar"].split(" + "), row["jars"].split(" + "), strict=True):
            due[row["date"][:4], sort] += float(count)  # type: ignore[assignment]
    run("import", str(DEMO))
    document = run("batches", "--tally", "--json").document
    found = {
        (str(one["year"]), sort): count
        for one in document["years"]
        for sort, count in one["jars"].items()
    }
    assert found == pytest.approx(dict(due))
    assert document["batches"] == len(rows)


def test_what_a_jar_cost_is_what_was_paid_over_its_jars(run: Run) -> None:
    # By hand: 18.50 and 11.50 for 7 1/2 and 4 1/2 pints of carrots are 30 for 12, 2.50 a jar.
    one = ("record", "--yes", "--produce", "carrot", "--date", "2024-08-01")
    assert run(*one, "--jars", "7.5 pint", "--cost", "$18.50").code == 0
    assert run("record", "2024-08-02 carrots: 6 lb trimmed, 4 1/2 pints, paid 11.50").code == 0
    assert run(*one, "--batch", "gift", "--jars", "6 pint").code == 0
    document = run("batches", "--tally", "--json").document
    assert (document["cost"], document["cost_a_jar"]) == (30.0, pytest.approx(2.5))
    heading, row, *_ = run("batches", "--tally").out.splitlines()
    assert heading.endswith("cost a jar")
    assert row.endswith("2.50")


def test_a_cost_is_kept_mended_and_moved_with_its_batch(run: Run, tmp_path: Path) -> None:
    assert run("begin", "--produce", "okra", "--batch", "o1", "--as-bought", "4 lb").code == 0
    assert run("close", "--jars", "6 pint", "--cost", "9", "--yes").code == 0
    assert run("amend", "o1", "cost=9.60").code == 0
    out = tmp_path / "out.csv"
    assert run("export", str(out)).code == 0
    (row,) = csv.DictReader(out.read_text(encoding="utf-8").splitlines())
    assert row["cost"] == "9.6"
    other = tmp_path / "other.sqlite3"
    assert run("import", str(out), "--ledger", str(other)).code == 0
    kept = run("batches", "--tally", "--json", "--ledger", str(other)).document
    assert kept["cost_a_jar"] == pytest.approx(1.6)


@pytest.mark.parametrize("cost", ["-5", "12 lb", "1,50", "much"])
def test_what_is_no_amount_of_money_is_refused(run: Run, cost: str) -> None:
    ran = run("record", "--produce", "okra", "--jars", "6 pint", f"--cost={cost}", "--yes")
    assert (ran.code, ran.out) == (1, "")
    assert "cost" in ran.err


def test_without_a_cost_there_is_no_column_of_it(run: Run) -> None:
    run("record", "--produce", "okra", "--jars", "6 pint", "--yes")
    assert "cost" not in run("batches", "--tally").out
    assert run("batches", "--tally", "--json").document["cost_a_jar"] is None
