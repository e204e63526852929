"""Who packed, in a kitchen of several: said, remembered, shown; and nothing of it for one person.

What is expected is the wording of the answers and plain arithmetic of what was typed.
"""

import csv
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

Run = Callable[..., Any]

BATCH = ("--produce", "carrot", "--cut", "sticks", "--pack", "raw", "--jar", "pint",
         "--trimmed", "5 lb", "--cure-hours", "0", "--jars", "8")  # fmt: skip
ASKED = ("forecast", "--produce", "carrot", "--cut", "sticks", "--trimmed", "6 lb")


def words(text: str) -> str:
    return " ".join(text.split())


def record(run: Run, name: str, *more: str) -> Any:
    ran = run("record", *BATCH, "--batch", name, *more)
    assert ran.code == 0, ran.err
    return ran


def people(run: Run) -> dict[str, str | None]:
    found = run("batches", "--json").document["batches"]
    return {one["batch"]: one.get("person") for one in found}


def test_a_kitchen_in_which_nobody_is_named_sees_nothing_of_it(run: Run, kitchen: Path) -> None:
    said = [record(run, "a").out, record(run, "b", "--json").out]
    begun = ("begin", "--produce", "beet", "--jar", "pint", "--trimmed", "4 lb")
    line = ("harvest", "--line", "carrot, sticks, pint: 20 lb")
    for command in (("batches",), ASKED, begun, line, ("kitchen",), ("habits",)):
        said += [run(*command, *json).out for json in ((), ("--json",))]
    run(*line, "--csv", "out.csv")
    run("export", "batches.csv")
    said += [(kitchen / "out.csv").read_text(), (kitchen / "batches.csv").read_text()]
    assert not [text for text in said if "person" in text or "packed by" in text.casefold()]


def test_who_packed_is_remembered_and_said_only_where_it_was_not_typed(run: Run) -> None:
    assert "as last time" not in record(run, "a", "--person", "Ann").out
    assert "Packed by Ann, as last time: --person to change." in record(run, "b").out
    document = record(run, "c", "--json").document
    assert document["batch"]["person"] == document["person"] == "Ann"
    assert document["person_as_last_time"] is True
    assert record(run, "d", "--person", "Bea", "--json").document["person_as_last_time"] is False
    assert people(run) == {"a": "Ann", "b": "Ann", "c": "Ann", "d": "Bea"}
    assert "Who packs: Bea" in run("kitchen").out
    assert run("kitchen", "--json").document["person"] == "Bea"


def test_nobody_named_forgets(run: Run) -> None:
    record(run, "a", "--person", "Ann")
    record(run, "b", "--person", "")
    assert "Packed by" not in record(run, "c").out.replace("packed by", "")
    assert people(run) == {"a": "Ann", "b": None, "c": None}
    assert "Person" not in run("kitchen").out


def test_case_and_spaces_do_not_matter_and_the_first_spelling_stays(run: Run) -> None:
    record(run, "a", "--person", "Ann  Lee")
    ran = record(run, "b", "--person", " ann lee ")
    assert people(run) == {"a": "Ann Lee", "b": "Ann Lee"}
    assert "new here" not in ran.err


def test_a_name_that_is_new_beside_known_ones_is_kept_and_mentioned(run: Run) -> None:
    assert "new here" not in record(run, "a", "--person", "Ann").err
    assert "Bea is new here; known: Ann." in record(run, "b", "--person", "Bea").err
    assert "Anna is new here; known: Ann, Bea." in record(run, "c", "--person", "Anna").err
    assert people(run)["c"] == "Anna"


def test_a_batch_refused_does_not_change_who_is_remembered(run: Run) -> None:
    record(run, "a", "--person", "Ann")
    refused = run("record", *BATCH[:-1], "many", "--batch", "b", "--person", "Bea")
    assert refused.code == 1
    assert run("kitchen", "--json").document["person"] == "Ann"


def test_taken_back_it_is_as_it_was_before(run: Run) -> None:
    record(run, "a", "--person", "Ann")
    record(run, "b", "--person", "Bea")
    assert run("undo", "b", "--yes").code == 0
    assert run("kitchen", "--json").document["person"] == "Ann"
    assert people(run) == {"a": "Ann"}


def test_typed_again_a_batch_keeps_its_own_person(run: Run) -> None:
    record(run, "a", "--person", "Ann")
    record(run, "b", "--person", "Bea")
    again = record(run, "a", "--json").document
    assert (again["added"], again["batch"]["person"]) == (False, "Ann")
    assert record(run, "b", "--person", "BEA", "--json").document["added"] is False


def test_it_is_amended_and_history_tells_it(run: Run) -> None:
    record(run, "a")
    assert run("amend", "a", "person=Ann").code == 0
    assert people(run) == {"a": "Ann"}
    event = run("history", "a", "--json").document["events"][-1]
    assert [change["column"] for change in event["changes"]] == ["person"]
    run("amend", "a", "person=")
    assert people(run) == {"a": None}


def test_batches_show_and_pick_who_packed(run: Run) -> None:
    record(run, "a", "--person", "Ann")
    record(run, "b", "--person", "Bea")
    record(run, "c", "--person", "")
    lines = run("batches").out.splitlines()
    assert lines[0].endswith("packed by")
    assert [line.split()[-1] for line in lines[1:]] == ["Ann", "Bea", "-"]
    for said, names in ((" ANN", ["a"]), ("", ["c"]), ("Cid", [])):
        found = run("batches", "--person", said, "--json").document["batches"]
        assert [one["batch"] for one in found] == names


def test_export_and_import_carry_it(run: Run, kitchen: Path, tmp_path: Path) -> None:
    record(run, "a", "--person", "Ann")
    record(run, "b", "--person", "")
    run("export", "out.csv")
    with (kitchen / "out.csv").open(newline="") as file:
        assert [row["person"] for row in csv.DictReader(file)] == ["Ann", ""]
    other = ("--ledger", str(tmp_path / "other.sqlite3"))
    assert run("import", "out.csv", *other).code == 0
    found = run("batches", "--json", *other).document["batches"]
    assert [one.get("person") for one in found] == ["Ann", None]
    assert run("import", "out.csv", "--json").document["skipped"] == ["a", "b"]


def test_an_open_batch_keeps_who_packs_from_its_beginning_on(run: Run) -> None:
    begun = run("begin", "--produce", "beet", "--cut", "slices", "--jar", "pint", "--trimmed",
                "4 lb", "--batch", "one", "--person", "Ann", "--json").document  # fmt: skip
    assert begun["values"]["person"] == "Ann"
    record(run, "b", "--person", "Bea")
    assert run("pack", "--jars", "2", "--json").document["values"]["person"] == "Ann"
    closed = run("close", "--jars", "5", "--yes", "--json")
    assert closed.code == 0, closed.err
    assert closed.document["batch"]["person"] == "Ann"
    said = run("begin", "--produce", "beet", "--jar", "pint", "--batch", "two").out
    assert "Packed by Bea, as last time: --person to change." in said


def test_a_forecast_is_by_who_packs_and_remembers_nothing(run: Run) -> None:
    record(run, "a", "--person", "Ann")
    assert run(*ASKED).out.splitlines()[0].endswith("trimmed, packed by Ann (--person)")
    by_bea = run(*ASKED, "--person", "Bea", "--json")
    assert by_bea.document["person"] == "Bea"
    assert by_bea.document["person_as_last_time"] is False
    assert "person" not in run(*ASKED, "--person", "", "--json").document
    jars = ("forecast", "--produce", "carrot", "--cut", "sticks", "--jars", "7 pints")
    assert run(*jars, "--json").document["person"] == "Ann"
    assert run("kitchen", "--json").document["person"] == "Ann"


def test_a_harvest_names_who_packs_by_the_line(run: Run, kitchen: Path) -> None:
    record(run, "a", "--person", "Ann")
    (kitchen / "plan.csv").write_text(
        "name,produce,cut,jar,as_bought,person\n"
        "n1,carrot,sticks,pint,20 lb,Bea\nn2,carrot,sticks,pint,10 lb,\n"
    )
    ran = run("harvest", "plan.csv", "--line", "beet, slices, pint: 9 lb; person=ann", "--json")
    assert [one["person"] for one in ran.document["lines"]] == ["Bea", "Ann", "ann"]
    assert "Bea is new here; known: Ann." in ran.err
    said = words(run("harvest", "plan.csv", "--csv", "out.csv").out)
    assert "Packed by Ann, as last time, where a line names nobody" in said
    with (kitchen / "out.csv").open(newline="") as file:
        assert [row["person"] for row in csv.DictReader(file)] == ["Bea", ""]
    run("begin", "--produce", "carrot", "--cut", "sticks", "--jar", "pint", "--batch", "n2",
        "--trimmed", "8 lb", "--person", "Cid")  # fmt: skip
    lines = run("harvest", "plan.csv", "--json").document["lines"]
    assert [one["person"] for one in lines] == ["Bea", "Cid"]


def test_the_kitchen_is_told_who_packs(run: Run) -> None:
    assert "Who packs: Ann" in run("kitchen", "--person", "Ann").out
    assert record(run, "a", "--json").document["person"] == "Ann"
    assert "Person" not in run("kitchen", "--person", "").out


@pytest.mark.parametrize("name", ["A\0", "x" * 60_001], ids=["NUL", "long"])
def test_a_name_that_cannot_be_written_down_is_refused(run: Run, name: str) -> None:
    ran = run("record", *BATCH, "--person", name)
    assert ran.code == 1
    assert "--person: the name h" in ran.err
    assert run("batches", "--json").document["batches"] == []
