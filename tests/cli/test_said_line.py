"""jarcast record "..." at a terminal: each question is settled by its answer, nothing is lost."""

import os
from collections.abc import Callable, Iterator
from typing import Any

import pytest

from tests.cli.test_guide import Terminal

Run = Callable[..., Any]

pytestmark = [
    pytest.mark.skipif(os.name != "posix", reason="pseudo-terminals are POSIX's"),
    pytest.mark.xdist_group("alone"),
]

LB, CUP = 453.59237, 236.5882365  # grams and millilitres; NIST Handbook 44, Appendix C
LEFT_OUT = " (Enter: it is left out): "


@pytest.fixture
def terminal(run: Run) -> Iterator[Callable[..., Terminal]]:
    """Records a line at a terminal, in a kitchen whose units are known."""
    run("--units", "us")
    started: list[Terminal] = []

    def start(*words: str) -> Terminal:
        started.append(Terminal("record", *words))
        return started[-1]

    yield start
    for one in started:
        one.close()


def recorded(run: Run) -> dict[str, Any]:
    (batch,) = run("batches", "--json").document["batches"]
    assert isinstance(batch, dict)
    return batch


def test_a_unit_that_is_told_goes_with_the_words_of_the_line(
    terminal: Callable[..., Terminal], run: Run
) -> None:
    at = terminal("okra: 3 trimmed, 4 pints, brine: 7")
    at.answers("'3 trimmed': which unit? Say '3 lb'" + LEFT_OUT, "3 lb")
    heard = at.answers("'brine: 7': which unit? Say '7 cups'" + LEFT_OUT, "7 cups")
    assert "Read: okra; trimmed 3 lb; jars 4 pints" in heard
    code, said = at.ends_with()
    assert code == 0
    assert "Read: okra; trimmed 3 lb; jars 4 pints; brine made 7 cups" in said
    batch = recorded(run)
    assert batch["trimmed_g"] == pytest.approx(3 * LB)
    assert batch["brine_made_ml"] == pytest.approx(7 * CUP)
    assert (batch["as_bought_g"], batch["note"]) == (None, None)


def test_what_is_said_twice_is_what_the_answer_says(
    terminal: Callable[..., Terminal], run: Run
) -> None:
    at = terminal("okra 6 lb, 8 pts, 9 pts, one half full")
    at.answers("if both count (Enter: 8 pts is kept): ", "9 pts")
    at.answers("comes on top (Enter: 9 pts is kept): ", "no, 8 1/2 pints")
    assert at.ends_with()[0] == 0
    assert recorded(run)["jars"] == "8.5"


def test_an_answer_that_is_none_is_said_to_be_so_and_asked_again(
    terminal: Callable[..., Terminal], run: Run
) -> None:
    at = terminal("okra 6 lb, 9 pts, 10 cups")
    question = "what is 10 cups? Say 'brine', 'brine left' or 'trimmed' with it" + LEFT_OUT
    at.answers(question, "who knows")
    assert "'who knows' does not answer that." in at.answers(question, "brine")
    assert at.ends_with()[0] == 0
    assert recorded(run)["brine_made_ml"] == pytest.approx(10 * CUP)


def test_the_same_question_of_another_part_is_no_answer_refused(
    terminal: Callable[..., Terminal], run: Run
) -> None:
    at = terminal("okra 6 lb, 9 pts, 2 cups, gave 2 cups to Oda")
    question = "what is 2 cups? Say 'brine', 'brine left' or 'trimmed' with it" + LEFT_OUT
    at.answers(f"'2 cups': {question}", "brine left")
    assert "does not answer" not in at.answers(f"'gave 2 cups to Oda': {question}", "")
    assert at.ends_with()[0] == 0
    assert recorded(run)["brine_left_ml"] == pytest.approx(2 * CUP)


def test_enter_says_what_is_recorded_and_keeps_the_words(
    terminal: Callable[..., Terminal], run: Run
) -> None:
    at = terminal("8/3: okra 6 lb, 8 pts, 9 pts, brine: 12")
    at.answers("(Enter: the date is today): ", "")
    at.answers("'brine: 12': which unit? Say '12 cups'" + LEFT_OUT, "")
    at.answers("(Enter: 8 pts is kept): ", "-")
    code, said = at.ends_with()
    assert code == 0
    due = "'8/3' (the date is today); 'brine: 12' (it is left out); '9 pts' (8 pts is kept)"
    assert f"Not answered, and kept in the note: {due}." in said
    batch = recorded(run)
    assert (batch["jars"], batch["brine_made_ml"]) == ("8", None)
    assert batch["note"] == "9 pts; 8/3; brine: 12"


@pytest.mark.parametrize(
    ("line", "question"),
    [
        ("okra 6 lb", "how many jars were filled"),
        ("okra 6 lb, 9 jars", "'9 jars': which sort of jar are they?"),
        ("6 lb, 9 pts", "what did you put up?"),
    ],
)
def test_without_an_answer_that_a_batch_needs_nothing_is_recorded(
    terminal: Callable[..., Terminal], run: Run, line: str, question: str
) -> None:
    at = terminal(line)
    at.answers("(Enter: nothing is recorded): ", "")
    code, said = at.ends_with()
    assert code == 1
    assert f"nothing was recorded: {question}" in said
    assert run("batches", "--json").document["batches"] == []
