"""An answer settles the question it is given to, and that one alone."""

import random
import re
from collections.abc import Iterator

import pytest

from jarcast.notebook.dated import read_dated
from jarcast.notebook.line import Line, read_line, understood
from jarcast.notebook.reading import Asked
from tests.notebook.test_cooks_lines import ALL, figures
from tests.notebook.test_line import WORDS

MOST_QUESTIONS = 12  # to one line


def examples(why: str) -> list[str]:
    """The answers that a question prints as it asks for them."""
    if found := re.search(r"meant as (\S+) or as (\S+)\?", why):
        return [found[1], found[2]]
    due = re.split(r"[?;] ", why)[-1]
    quoted: list[str] = re.findall(r"'([^']+)'", due)
    return quoted or [one for tail in re.findall(r"like (.+)$", due) for one in tail.split(" or ")]


LINES = [text for text, _, asked in ALL if asked]
ASKED = [
    (text, asked, example)
    for text in LINES
    for asked in read_line(text).asked
    for example in examples(asked[1])
]


def test_every_question_prints_an_answer() -> None:
    questions = [asked for text in LINES for asked in read_line(text).asked]
    assert len(questions) > 100
    assert [why for _, why in questions if not examples(why)] == []


@pytest.mark.parametrize(
    ("text", "asked", "answer"), ASKED, ids=[f"{t}: {answer}" for t, _, answer in ASKED]
)
def test_an_answer_as_printed_settles_its_question_and_leaves_the_other_figures(
    text: str, asked: Asked, answer: str
) -> None:
    before, after = read_line(text), read_line(text, answers={asked: answer})
    assert asked not in after.asked
    for column, old, new in changed(before, after):
        told = f"{asked[0]} {asked[1]} {answer}"
        added = set(old.split(" + ")) <= set(new.split(" + "))
        assert old in told or new in told or added, (column, old, new)
        assert set(numbers(new)) - {"0"} <= {*numbers(told), *numbers(old)}, (column, old, new)
    others = {(part, why.partition("?")[0]) for part, why in before.asked if (part, why) != asked}
    kept = {(part, why.partition("?")[0]) for part, why in after.asked}
    assert {one for one in others if one[0]} <= kept


def changed(before: Line, after: Line) -> Iterator[tuple[str, str, str]]:
    for column in {*before.cells, *after.cells} - {"note"}:
        old, new = before.cells.get(column, ""), after.cells.get(column, "")
        if old != new:
            yield column, old, new


def numbers(text: str) -> list[str]:
    return re.findall(r"[\d./,]*\d", text)


@pytest.mark.parametrize("which", [0, -1], ids=["first example", "last example"])
@pytest.mark.parametrize("text", LINES)
def test_answers_as_printed_come_to_an_end(text: str, which: int) -> None:
    answers: dict[Asked, str] = {}
    for _ in range(MOST_QUESTIONS):
        asked = read_line(text, answers=answers).asked
        if not asked:
            return
        assert asked[0] not in answers
        answers[asked[0]] = examples(asked[0][1])[which]
    pytest.fail(f"still asked: {asked}")


# Each line, what is answered to its questions in their order, and its figures as a reader who
# heard the answers would write them down.
TOLD = [
    # A number gets its unit, and keeps the words beside it.
    ("okra: 3 trimmed, 4 pts", ["3 lb"], "trimmed 3 lb; 4 pint"),
    ("okra: 3 trimmed, 4 pts", ["lb"], "trimmed 3 lb; 4 pint"),
    ("okra: 3 trimmed, 4 pts", ["3 lb trimmed"], "trimmed 3 lb; 4 pint"),
    ("okra: 3 trimmed, 4 pts", ["it was 3 lb bought"], "bought 3 lb; 4 pint"),
    ("okra: 3 trimmed, 2.5 drained, 4 pts", ["3 lb"], "trimmed 3 lb; drained 2.5 lb; 4 pint"),
    ("okra: 3 trimmed 2.5 drained, 4 pts", ["3 lb"], "trimmed 3 lb; drained 2.5 lb; 4 pint"),
    ("okra: 3 trimmed, 4 pts", ["3 lb, 7 cups brine"], "trimmed 3 lb; 4 pint; made 7 c"),
    ("okra: 3 trimmed", ["okra: 3 lb trimmed, 4 pts"], "trimmed 3 lb; 4 pint"),
    ("okra: 3 trimmed", ["3 lb, 4 pts"], "trimmed 3 lb; 4 pint"),
    ("okra 6 lb, 9 pts, brine 12", ["6 pints"], "bought 6 lb; 9 pint; made 12 c"),
    ("okra 6 lb, 9 pts, brine 12", ["12 cups"], "bought 6 lb; 9 pint; made 12 c"),
    ("okra 6 lb, 9 pts, 12 brine, 2 left", ["12 cups"], "bought 6 lb; 9 pint; made 12 c; left 2 c"),
    ("okra 6 lb, 9 pts, brine made 12", ["3 qt"], "bought 6 lb; 9 pint; made 12 c"),
    ("okra 6 lb, 9 pts, brine: 12", ["12", "12 cups"], "bought 6 lb; 9 pint; made 12 c"),
    ("okra: 6 lb, jars: 9", ["9 pints"], "bought 6 lb; 9 pint"),
    ("okra: 7#, 6.5# trm, 9 pts", ["trimmed"], "bought 7 lb; trimmed 6.5 lb; 9 pint"),
    ("okra: 7#, 6.5# trm, 9 pts", ["6.5# trimmed"], "bought 7 lb; trimmed 6.5 lb; 9 pint"),
    ("beans, 3kg5 trimmed, 8 pts", ["3 1/2"], "trimmed 7.716 lb; 8 pint"),
    # One of two, another, or both; other sorts of jar stay.
    ("okra 6 lb, 8 pts, 9 pts", ["9 pts"], "bought 6 lb; 9 pint"),
    ("okra 6 lb, 8 pts -> 9 pts", ["8"], "bought 6 lb; 8 pint"),
    ("okra 6 lb, 8 pts, 9 pts", ["both"], "bought 6 lb; 8 pint + 9 pint"),
    ("okra 6 lb, 8 pts, 9 pts", ["yes", "9 pts"], "bought 6 lb; 9 pint"),
    ("okra 6 lb, 2 qts, 8 pts, 9 pts, 3 hp", ["9 pts"],
     "bought 6 lb; 2 quart + 9 pint + 3 half-pint"),
    ("okra 6 lb, 9 pts, 8 c brine, 10 c brine", ["10 c"], "bought 6 lb; 9 pint; made 10 c"),
    ("okra 6 lb, 9 pts, 8 c brine, 10 c brine", ["+ 10 c"], "bought 6 lb; 9 pint; made 18 c"),
    ("okra, 6 lb bought, 7 lb bought, 9 pts", ["7"], "bought 7 lb; 9 pint"),
    ("okra, 6 lb bought, 7 lb bought, 9 pts", ["no, 6 1/2 lb"], "bought 6.5 lb; 9 pint"),
    # A last jar: the count with its part, or the part alone.
    ("okra 6 lb, 8 pts, one half full", ["7 1/2 pints"], "bought 6 lb; 7.5 pint"),
    ("okra 6 lb, 8 pts, one half full", ["no, 7 1/2 pints"], "bought 6 lb; 7.5 pint"),
    ("okra 6 lb, 8 pts, one half full", ["8 1/2"], "bought 6 lb; 8.5 pint"),
    ("okra 6 lb, 8 pts, one half full", ["1/2 pint", "8 1/2 pints"], "bought 6 lb; 8.5 pint"),
    ("okra 6 lb, 8 pts, 1/2 pint", ["1/2 pint", "half a jar"], "bought 6 lb; 8.5 pint"),
    ("okra 6 lb, 8 pts + 1/2 pint", ["a smaller jar"], "bought 6 lb; 8 pint + 1 half-pint"),
    ("okra 6 lb, 8 pts, one half full", ["yes"], "bought 6 lb; 7.5 pint"),
    ("okra 6 lb, 8 pts, one half full", ["no"], "bought 6 lb; 8.5 pint"),
    ("okra 6 lb, 8 pts, one half full", ["half", "yes"], "bought 6 lb; 7.5 pint"),
    ("okra 6 lb, 8 pts, last jar part full", ["half"], "bought 6 lb; 7.5 pint"),
    ("okra 6 lb, 8 pts and 3 qts, last pint part full", ["a third"],
     "bought 6 lb; 7.333 pint + 3 quart"),
    ("okra 6 lb, 3 qts and 8 pts, last jar part full", ["7 1/2 pints"],
     "bought 6 lb; 3 quart + 7.5 pint"),
    ("okra 4 lb, 7 pts + half pint", ["7 1/2 pts"], "bought 4 lb; 7.5 pint"),
    ("okra 4 lb, 7 pts + half pint", ["1 half-pint"], "bought 4 lb; 7 pint + 1 half-pint"),
    ("okra 4 lb, 2 qts and 7 pts, half pint", ["7 1/2 pints"],
     "bought 4 lb; 2 quart + 7.5 pint"),
    # What a measure is, and what it is not.
    ("okra 6 lb, 9 pts, 10 cups", ["brine"], "bought 6 lb; 9 pint; made 10 c"),
    ("okra 6 lb, 9 pts, 10 cups", ["who knows", "brine left"], "bought 6 lb; 9 pint; left 10 c"),
    ("okra 6 lb, 9 pts, 10 cups", ["10 cups", "10 cups brine"], "bought 6 lb; 9 pint; made 10 c"),
    ("okra 6 lb, 9 pts, 2 qts brine, 2nd pot 1 qt", ["brine"], "bought 6 lb; 9 pint; made 12 c"),
    ("okra 6 lb, 9 pts, used 9 of 12 c brine", ["used 9 c"], "bought 6 lb; 9 pint; made 12 c"),
    ("okra 4 lb, 8 pts, 4 pts for Oda", ["yes"], "bought 4 lb; 8 pint + 4 pint"),
    ("okra 4 lb, 8 pts, 4 pts for Oda", ["no"], "bought 4 lb; 8 pint"),
    ("okra 4 lb, 8 pts, 4 pts for Oda", ["brine"], "bought 4 lb; 8 pint; made 8 c"),
    ("okra 4 lb, couple cups of brine left, 7 pts", ["2 cups"], "bought 4 lb; 7 pint; left 2 c"),
    ("carrots, peeled off 2 lb, 14 pts", ["10 lb bought"], "bought 10 lb; trimmed 8 lb; 14 pint"),
    ("carrots, peeled off 2 lb, 14 pts", ["8 lb", "after: 8 lb"], "trimmed 8 lb; 14 pint"),
    ("okra 4 lb, 8 pts, 1 qt vinegar, 1 qt water", ["yes"], "bought 4 lb; 8 pint; made 8 c"),
    ("okra 4 lb, 8 pts, brine: 6 c sour, 6 c water", ["no", "12 cups"],
     "bought 4 lb; 8 pint; made 12 c"),
    ("okra 4 lb, 8 pts, 1 qt vinegar, 1 qt water", ["9 cups"], "bought 4 lb; 8 pint; made 9 c"),
    ("okra 4 lb, 8 pts, used 6 cups brine", ["2 left"], "bought 4 lb; 8 pint; made 8 c; left 2 c"),
    ("okra 10 lb - 8 lb trimmed, 9 pts", ["10 lb, 8 lb"], "bought 10 lb; trimmed 8 lb; 9 pint"),
    # What the line leaves out, with more than was asked for.
    ("okra 6 lb", ["9", "9 pints"], "bought 6 lb; 9 pint"),
    ("okra 6 lb", ["9 pints, 10 cups brine"], "bought 6 lb; 9 pint; made 10 c"),
    ("12 pints of carrots and 3 quarts of beets", ["no", "no", "12 pints"], "12 pint"),
    ("6 lb, 9 pts", ["carrot sticks: "], "bought 6 lb; 9 pint"),
    ("8/3: okra 6 lb, 9 pts", ["Aug 3 2025"], "bought 6 lb; 9 pint"),
    ("okra 6 lb --8 pts-- 9 pts", ["yes"], "bought 6 lb; 9 pint"),
    ("okra 6 lb --2 qts-- 9 pts", ["no"], "bought 6 lb; 2 quart + 9 pint"),
    ("~~okra 6 lb, 9 pts~~", ["okra 6 lb, 9 pts"], "bought 6 lb; 9 pint"),
]  # fmt: skip


@pytest.mark.parametrize(("text", "said", "due"), TOLD, ids=[f"{t}: {s}" for t, s, _ in TOLD])
def test_an_answer_is_taken_as_one_to_its_question(text: str, said: list[str], due: str) -> None:
    answers: dict[Asked, str] = {}
    for answer in said:
        answers[read_dated(text, answers=answers).asked[0]] = answer
    line = read_dated(text, answers=answers)
    assert (figures(line), line.asked) == (due, ())


def test_an_answer_names_the_crop_its_cut_and_the_day() -> None:
    text, answers = "8/3: 6 lb, 9 pts", dict[Asked, str]()
    for answer in ("Aug 3 2025", "carrot sticks"):
        answers[read_dated(text, answers=answers).asked[0]] = answer
    cells = read_dated(text, answers=answers).cells
    assert (cells["date"], cells["produce"], cells["cut"]) == ("2025-08-03", "carrot", "sticks")


@pytest.mark.parametrize(
    ("text", "note"),
    [
        ("okra 6 lb 9 pts 3rd picking", "3rd picking"),
        ("okra 3rd picking: 6 lb, 9 pts", "3rd picking"),
        ("okra 6 lb, 9 pts from row 2", "from row 2"),
        ("okra 6 lb, row 2 9 pts", "row 2"),
        ("okra 6 lb, 9 pts #3", "#3"),
        ("okra 6 lb, 9 pts, best by July 2026", "best by July 2026"),
        ("okra 6 lb, 9 pts, batch 2", "batch 2"),
        ("okra 6 lb, 9 pts, seeds of 2024", "seeds of 2024"),
        ("okra 6 lb, 9 pts, sown 12 May, ripe Aug 3", "sown 12 May; ripe Aug 3"),
        ("okra 6 lb, 9 pts, 4th of July", "4th of July"),
    ],
)
def test_what_is_numbered_among_its_like_is_no_measure(text: str, note: str) -> None:
    line = read_line(text)
    assert (figures(line), line.asked) == ("bought 6 lb; 9 pint", ())
    assert line.cells["note"] == note


@pytest.mark.parametrize(
    "text", ["okra 6 lb, 9 pts, 2000 g", "okra 6 lb, 9 pts, row 2 lb", "okra 6 lb, 9 pts, in 2 lb"]
)
def test_a_number_with_its_unit_stays_a_measure(text: str) -> None:
    assert len(read_line(text).asked) == 1


def test_random_answers_never_fail_and_settle_or_are_asked_again() -> None:
    draw = random.Random(8)  # noqa: S311
    words = (*WORDS, "yes", "no", "both", "cups", "half full", "-", "bought", "+")
    for _ in range(300):
        text, answers = draw.choice(LINES), dict[Asked, str]()
        for _ in range(6):
            line = read_line(text, answers=answers)
            understood(line)
            assert set(line.asked) == set(line.without)
            for asked in line.asked[:1]:
                answers[asked] = " ".join(draw.choices(words, k=draw.randrange(1, 5)))
