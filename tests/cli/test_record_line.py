"""jarcast record "carrot sticks: 8 lb bought, ...": one line is a batch."""

from collections.abc import Callable
from typing import Any

import pytest
import typer

Run = Callable[..., Any]

# Line and options as the request for it and the page on recording a batch have them.
LINE = "carrot sticks: 8 lb bought, 6 lb 4 oz trimmed, 9 1/2 pints, 10 cups brine, 1 1/2 left"
OPTIONS = (
    "--produce", "carrot", "--cut", "sticks", "--as-bought", "8 lb", "--trimmed", "6 lb 4 oz",
    "--jars", "9 1/2 pints", "--brine-made", "10 cups", "--brine-left", "1 1/2 cups",
)  # fmt: skip


def test_a_line_writes_what_the_options_would_have_written(run: Run) -> None:
    by_line = run("record", LINE, "--batch", "a", "--json")
    assert by_line.err.startswith("Read: carrot, sticks; bought 8 lb")
    by_options = run("record", *OPTIONS, "--batch", "b", "--json")
    assert {**by_line.document["batch"], "batch": "b"} == by_options.document["batch"]


def test_a_line_takes_no_more_keys_than_paper_and_ten(run: Run) -> None:
    """On paper the line is written with its units; here a unit once said need not be again."""
    typed = "jarcast record carrot sticks 8lb bought 6.25 trimmed 9.5pt 10c brine 1.5 left"
    assert len(typed) < len(LINE) + 10
    short = run(*typed.split()[1:], "--batch", "a", "--json").document["batch"]
    assert short == run("record", LINE, "--batch", "a", "--json").document["batch"]


def test_options_beside_a_line_say_what_it_does_not(run: Run) -> None:
    batch = run("record", "okra whole, 3 lb", "--jars", "4 pint", "--date", "2024-08-31", "--json")
    assert (batch.document["batch"]["jars"], batch.document["batch"]["date"]) == ("4", "2024-08-31")
    twice = run("record", "okra whole, 3 lb, 4 pints", "--as-bought", "4 lb")
    assert twice.code == 1
    assert "--as-bought; give it once" in twice.err


def test_what_is_in_doubt_is_refused_where_nobody_can_be_asked(run: Run) -> None:
    ran = run("record", "okra: 3 trimmed, 4 pints, gave 2 away")
    assert ran.code == 1
    assert "which unit? Say '3 lb'" in ran.err
    assert "'gave 2 away': what is 2?" in ran.err
    assert run("batches", "--json").document["batches"] == []


def test_what_is_in_doubt_is_asked_back_at_a_terminal(
    run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    answers = iter(["3 lb trimmed", ""])
    asked: list[str] = []

    def answer(question: str, **_: object) -> str:
        asked.append(question)
        return next(answers)

    monkeypatch.setattr("jarcast.cli.said_line.asking", lambda as_json: True)
    monkeypatch.setattr(typer, "prompt", answer)
    assert run("record", "okra: 3 trimmed, 4 pints, gave 2 away").code == 0
    assert len(asked) == 2
    (batch,) = run("batches", "--json").document["batches"]
    assert batch["trimmed_g"] == pytest.approx(3 * 453.59237)  # NIST Handbook 44, Appendix C


def test_without_a_line_produce_and_jars_are_needed(run: Run) -> None:
    assert run("record", "--jars", "3 pint").code == 2
    assert "one line" in run("record", "--produce", "okra").err


def test_without_a_crop_in_the_line_the_option_names_it(run: Run) -> None:
    ran = run("record", "6 lb, 9 pts", "--produce", "okra", "--date", "2024-08-31")
    assert ran.code == 0, ran.err
    (batch,) = run("batches", "--json").document["batches"]
    assert (batch["produce"], batch["jars"]) == ("okra", "9")
