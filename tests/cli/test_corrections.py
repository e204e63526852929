"""Batches withdrawn and taken back in, and everything that was entered of one."""

import datetime as dt
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from jarcast.files.shipped import shipped

Run = Callable[..., Any]
ASK = ("forecast", "--produce", "carrot", "--cut", "sticks", "--trimmed", "5 lb", "--json")


def names(run: Run, *how: str) -> list[str]:
    return [one["batch"] for one in run("batches", *how, "--json").document["batches"]]


# Withdrawing


def test_a_withdrawn_batch_is_out_of_everything(run: Run, filled: Path, kitchen: Path) -> None:
    before = run(*ASK).document
    ran = run("withdraw", "c1")
    assert (ran.code, ran.err) == (0, "")
    assert "c1 is withdrawn" in ran.out
    assert 'jarcast undo "c1"' in ran.out
    assert names(run) == ["c2", "k1", "b1"]
    assert "c1" not in run("export").out
    after = run(*ASK).document
    assert after["rests_on"]["this"] == before["rests_on"]["this"] - 1
    assert after["jars"] != before["jars"]
    assert run("hindsight", "--json").document["batches"] == 3


def test_taken_back_in_everything_is_as_it_was(run: Run, filled: Path) -> None:
    listed, asked = run("batches", "--json").out, run(*ASK).out
    run("withdraw", "c1")
    ran = run("undo", "c1")
    assert (ran.code, ran.err) == (0, "")
    assert "counts again" in ran.out
    assert (run("batches", "--json").out, run(*ASK).out) == (listed, asked)


def test_withdrawing_leaves_the_ledger_as_if_the_batch_had_never_been(
    run: Run, filled: Path, kitchen: Path
) -> None:
    run("withdraw", "c2")
    asked, habits = run(*ASK).document, run("habits", "--json").document
    rows = (kitchen / "batches.csv").read_text(encoding="utf-8").splitlines()
    without = [row for row in rows if not row.startswith("c2,")]
    assert len(without) == len(rows) - 1
    (kitchen / "without.csv").write_text("\n".join(without), encoding="utf-8")
    assert run("import", "without.csv", "--ledger", "without.sqlite3").code == 0
    assert run(*ASK, "--ledger", "without.sqlite3").document == asked
    assert run("habits", "--json", "--ledger", "without.sqlite3").document == habits


def test_those_that_were_withdrawn_are_listed_apart_as_they_stood(run: Run, filled: Path) -> None:
    assert f"No batch in {filled} is withdrawn." in run("batches", "--withdrawn").out
    run("amend", "k1", "jars=4 + 4")
    for name in ("k1", "c1"):
        run("withdraw", name)
    ran = run("batches", "--withdrawn")
    assert (ran.code, ran.err) == (0, "")
    assert [line.split()[1] for line in ran.out.splitlines()[1:]] == ["c1", "k1"]
    assert "4 pint-wide + 4 pint" in ran.out
    assert names(run, "--withdrawn") == ["c1", "k1"]
    assert names(run, "--withdrawn", "--produce", "carrot") == ["c1"]
    assert run("batches", "--withdrawn", "--json").document["odd"] == []


def test_a_ledger_with_all_withdrawn_says_so(run: Run, filled: Path) -> None:
    for name in names(run):
        run("withdraw", name)
    assert "All 4" in run("batches").out
    assert "jarcast batches --withdrawn" in run("batches").out
    assert run("habits").out.startswith("No batches yet")


def test_twice_changes_nothing(run: Run, filled: Path) -> None:
    assert run("withdraw", "c1", "--json").document == {
        "format": "jarcast withdraw", "version": 1, "batch": "c1", "changed": True,
    }  # fmt: skip
    before = filled.read_bytes()
    assert run("withdraw", "c1", "--json").document["changed"] is False
    assert "was withdrawn before" in run("withdraw", "c1").out
    assert filled.read_bytes() == before


@pytest.mark.parametrize("command", ["withdraw", "undo", "history"])
def test_a_batch_that_never_was_is_one_sentence_and_makes_no_ledger(
    run: Run, ledger: Path, command: str
) -> None:
    ran = run(command, "nobody")
    assert (ran.code, ran.out) == (1, "")
    assert "there is no batch 'nobody'" in ran.err
    assert ran.err.count("\n") == 1
    assert run(command, "nobody", "--json").error["format"] == "jarcast error"
    assert not ledger.exists()


def test_a_withdrawn_batch_is_amended_and_confirmed_only_once_it_is_back(
    run: Run, filled: Path
) -> None:
    run("withdraw", "c1")
    for typed in (("amend", "c1", "jars=9"), ("amend", "c1", "--as-is", "jars")):
        ran = run(*typed)
        assert ran.code == 1
        assert "is withdrawn; 'jarcast undo' takes it back in" in ran.err


def test_an_open_batch_is_not_withdrawn_but_dropped(run: Run, ledger: Path) -> None:
    assert run("begin", "--produce", "beet", "--batch", "b9").code == 0
    ran = run("withdraw", "b9")
    assert ran.code == 1
    assert "jarcast drop" in ran.err


# Looking back


def test_a_withdrawal_changes_no_past_forecast_and_the_batch_is_scored_no_more(run: Run) -> None:
    file = Path(str(shipped("data_demo", "batches.csv"))).read_text(encoding="utf-8").splitlines()
    Path("early.csv").write_text("\n".join(file[:13]), encoding="utf-8")
    assert run("import", "early.csv").code == 0
    past = _replayed(run)
    out = next(name for name in names(run) if (name, "trimmed_g") in past)
    assert run("withdraw", out).code == 0
    after = _replayed(run)
    assert after == {key: one for key, one in past.items() if key[0] != out}
    # A batch entered later is forecast without it.
    Path("late.csv").write_text("\n".join([file[0], *file[13:16]]), encoding="utf-8")
    assert run("import", "late.csv").code == 0
    later = _replayed(run)
    assert {key: later[key] for key in after} == after
    new = [one["own_batches"] for key, one in later.items() if key not in after]
    assert new
    assert max(new) <= 11 + 2  # twelve less the one that is out, and earlier ones of its own file
    assert run("undo", out).code == 0
    assert {key: one for key, one in _replayed(run).items() if key in past} == past


def _replayed(run: Run) -> dict[tuple[str, str], dict[str, Any]]:
    """Forecasts of the replay, each with what it said."""
    forecasts = run("hindsight", "--json").document["replayed"]["forecasts"]
    return {(one["batch"], one["stage"]): one for one in forecasts}


def test_a_forecast_kept_for_a_withdrawn_batch_is_neither_scored_nor_waited_for(
    run: Run, filled: Path
) -> None:
    ask = ("forecast", "--produce", "carrot", "--cut", "sticks", "--jar", "pint")
    assert run(*ask, "--trimmed", "6 lb", "--keep", "next").code == 0
    typed = ("record", "--produce", "carrot", "--cut", "sticks", "--jar", "pint", "--jars", "9.5")
    assert run(*typed, "--trimmed", "6 lb", "--batch", "next").code == 0
    assert len(run("hindsight", "--json").document["kept"]["forecasts"]) == 1
    run("withdraw", "next")
    kept = run("hindsight", "--json").document["kept"]
    assert (kept["forecasts"], kept["waiting"]) == ([], [])
    run("undo", "next")
    assert len(run("hindsight", "--json").document["kept"]["forecasts"]) == 1


def test_a_confirmation_counts_in_the_replay_from_when_it_was_made(run: Run) -> None:
    file = Path(str(shipped("data_demo", "batches.csv"))).read_text(encoding="utf-8").splitlines()
    slip = next(number for number, row in enumerate(file) if row.startswith("25e,"))
    Path("early.csv").write_text("\n".join(file[: slip + 1]), encoding="utf-8")
    Path("late.csv").write_text("\n".join([file[0], *file[slip + 1 :]]), encoding="utf-8")

    def replayed(where: str, *between: str) -> dict[tuple[str, str], dict[str, Any]]:
        there = ("--ledger", where)
        run("import", "early.csv", *there)
        if between:
            assert run(*between, *there).code == 0
        run("import", "late.csv", *there)
        forecasts = run("hindsight", "--json", *there).document["replayed"]["forecasts"]
        return {(one["batch"], one["stage"]): one for one in forecasts}

    plain, confirmed = (
        replayed("a.sqlite3"),
        replayed("b.sqlite3", "amend", "25e", "--as-is", "trimmed"),
    )
    early = {row.split(",")[0] for row in file[1 : slip + 1]}
    assert {k: v for k, v in plain.items() if k[0] in early} == {
        k: v for k, v in confirmed.items() if k[0] in early
    }
    assert plain.keys() == confirmed.keys()
    assert plain != confirmed


# What was entered


@pytest.fixture
def in_new_york(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """Local time four hours behind UTC, all year."""
    monkeypatch.setenv("TZ", "XXX4")
    time.tzset()
    yield
    monkeypatch.undo()
    time.tzset()


def test_everything_entered_of_a_batch_is_listed_oldest_first(
    run: Run, filled: Path, in_new_york: None
) -> None:
    run("amend", "c1", "trimmed=2.7 kg", "note=")
    run("amend", "c1", "--as-is", "jars")
    run("withdraw", "c1")
    ran = run("history", "c1")
    assert (ran.code, ran.err) == (0, "")
    heads = [line for line in ran.out.splitlines() if line[:2] == "20"]
    assert [head.split()[-1] for head in heads] == ["import", "amend", "confirm", "withdraw"]
    local = dt.datetime.now(dt.UTC) - dt.timedelta(hours=4)
    first = dt.datetime.strptime(heads[0][:16], "%Y-%m-%d %H:%M").replace(tzinfo=dt.UTC)
    assert abs(local - first) < dt.timedelta(minutes=3)
    said = [" ".join(line.split()) for line in ran.out.splitlines()]
    assert "trimmed weight 6 lb 4 oz" in said
    assert "trimmed weight 6 lb 4 oz -> 5 lb 15 oz (typed '2.7 kg')" in said
    assert "note first of the year -> taken away" in said
    assert "jars 9.5 is right" in said
    assert "withdrawn" in said[0]


def test_history_as_json_has_every_value_before_and_after(run: Run, filled: Path) -> None:
    run("amend", "c1", "trimmed=2.7 kg")
    document = run("history", "c1", "--json").document
    assert (document["format"], document["version"]) == ("jarcast history", 1)
    assert document["standing"] == "closed"
    first, second = document["events"]
    # 100 oz of 28.349523125 g (NIST Handbook 44, Appendix C).
    assert second["changes"] == [
        {"column": "trimmed_g", "before": 2834.9523125, "after": 2700.0, "typed": "2.7 kg"}
    ]
    assert second["at"] > first["at"]
    assert dt.datetime.fromisoformat(first["at"]).utcoffset() == dt.timedelta(0)


def test_a_batch_made_at_the_counter_has_its_steps_and_then_its_corrections(run: Run) -> None:
    begin = ("begin", "--produce", "carrot", "--cut", "sticks", "--jar", "pint", "--batch", "c9")
    assert run(*begin, "--as-bought", "8 lb").code == 0
    assert run("history", "c9", "--json").document["standing"] == "open"
    assert run("weigh", "--trimmed", "3 lb 2 oz + 3 lb 9 oz - 200 g").code == 0
    assert run("pack", "--jars", "3", "--pot-left", "5 cups", "--brine-made", "9 cups").code == 0
    assert run("close", "--jars", "9.5", "--brine-left", "1 cup").code == 0
    assert run("amend", "c9", "sealed=9").code == 0
    document = run("history", "c9", "--json").document
    assert document["standing"] == "closed"
    kinds = [event["kind"] for event in document["events"]]
    assert kinds == ["begin", "weigh", "pack", "close", "amend"]
    weighed = document["events"][1]["changes"]
    (trimmed,) = [one for one in weighed if one["column"] == "trimmed_g"]
    assert trimmed["typed"] == "3 lb 2 oz + 3 lb 9 oz - 200 g"
    # 6 lb 11 oz, 107 oz, less the bowl.
    assert trimmed["after"] == pytest.approx(107 * 28.349523125 - 200.0)
    closed = {one["column"] for one in document["events"][3]["changes"]}
    assert {"jars", "brine_left_ml"} <= closed
    assert not closed & {"trimmed_g", "as_bought_g", "produce", "jar", "brine_made_ml"}
    text = run("history", "c9").out
    assert "left in the pot" in text
    assert "5 cups" in text


def test_a_dropped_batch_keeps_its_history(run: Run) -> None:
    assert run("begin", "--produce", "beet", "--batch", "b9").code == 0
    assert run("drop").code == 0
    document = run("history", "b9", "--json").document
    assert document["standing"] == "dropped"
    assert [event["kind"] for event in document["events"]] == ["begin", "drop"]


# Which batch is meant


def test_a_part_of_a_name_will_do_and_the_whole_one_is_told(run: Run, filled: Path) -> None:
    assert run("record", "--batch", "Carrots late", "--produce", "carrot", "--jar", "pint",
               "--jars", "3").code == 0  # fmt: skip
    assert run("amend", "LATE", "jars=3.5").out.endswith(
        "Carrots late: amended; the old value is kept.\n"
    )
    assert run("amend", "carrots", "--as-is", "jars").out.startswith("Carrots late: ")
    assert run("withdraw", "late").out.startswith("Carrots late is withdrawn")
    assert run("history", "carrots  LATE").out.startswith("Carrots late: withdrawn")
    assert run("undo", "late", "--json").document["batches"] == ["Carrots late"]
    assert "Carrots late" in names(run)


@pytest.mark.parametrize(
    "typed",
    [
        ("withdraw", "c"),
        ("amend", "C", "jars=9"),
        ("amend", "c", "--as-is", "jars"),
        ("history", "c"),
    ],
    ids=lambda typed: typed[0],
)
def test_where_several_batches_answer_nothing_is_done(
    run: Run, filled: Path, typed: tuple[str, ...]
) -> None:
    before = filled.read_bytes()
    ran = run(*typed)
    assert (ran.code, ran.out) == (1, "")
    assert "could be any of: 'c1', 'c2'; say which one" in ran.err
    assert filled.read_bytes() == before


def test_an_open_batch_is_amended_by_a_part_of_its_name_too(run: Run, filled: Path) -> None:
    run("begin", "--produce", "okra", "--jar", "pint", "--batch", "okra late")
    ran = run("amend", "okra", "trimmed=3 lb")
    assert (ran.code, ran.err) == (0, "")
    assert ran.out.startswith("okra late: trimmed 3 lb.")


def test_history_calls_an_amendment_of_an_open_batch_by_its_name(run: Run) -> None:
    run("begin", "--batch", "q", "--produce", "carrot", "--as-bought", "8 lb")
    run("weigh", "--trimmed", "5 lb")
    run("amend", "q", "trimmed=6 lb")
    events = run("history", "q", "--json").document["events"]
    assert [event["kind"] for event in events] == ["begin", "weigh", "amend"]
