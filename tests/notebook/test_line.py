"""A line of words is a batch: what is read of it, what is filled in and told, what is asked."""

import random

import pytest

from jarcast.notebook.line import read_line, understood

# The line as it stands in the request for it.
ASKED_FOR = "carrot sticks: 8 lb bought, 6 lb 4 oz trimmed, 9 1/2 pints, 10 cups brine, 1 1/2 left"
CARROTS = {
    "produce": "carrot", "cut": "sticks", "as_bought": "8 lb", "trimmed": "6 lb 4 oz",
    "jars": "9 1/2 pints", "brine_made": "10 cups", "brine_left": "1 1/2 cups",
}  # fmt: skip


def test_the_line_is_read_and_the_unit_that_was_left_out_is_told() -> None:
    line = read_line(ASKED_FOR)
    assert line.cells == CARROTS
    assert line.asked == ()
    assert line.taken == ("1 1/2 brine left taken as 1 1/2 cups",)
    assert understood(line).count("\n") == 0
    assert "trimmed 6 lb 4 oz" in understood(line)


def test_the_order_of_the_pieces_does_not_count() -> None:
    crop, *pieces = ASKED_FOR.replace(":", ",").replace("1 1/2 left", "1 1/2 cups left").split(", ")
    for seed in range(20):
        random.Random(seed).shuffle(pieces)  # noqa: S311
        assert read_line(", ".join([crop, *pieces])).cells == CARROTS, pieces
        assert read_line(", ".join([*pieces, crop])).cells == CARROTS, pieces


@pytest.mark.parametrize(
    ("text", "cells"),
    [
        (
            "11# cukes -> 9.5 trimmed, 14 pts, made 3 qts brine",
            {"as_bought": "11 lb", "trimmed": "9.5 lb", "jars": "14 pts", "brine_made": "3 qts"},
        ),
        ("okra whole 7 pts, none left", {"jars": "7 pts", "brine_left": "0 cups"}),
        ("beets, 7 qts + 8.5 pts, 1 gal + 1.5 qt brine", {"jars": "7 qts + 8.5 pts"}),
        ("beets 12 wide pts hot pack", {"jars": "12 wide pts", "pack": "hot"}),
        ("okra 10.5 half pts, half a cup left", {"jars": "10.5 half pts", "brine_left": "1/2 cup"}),
        ("okra 3 qts brine, made 14 pints", {"jars": "14 pints", "brine_made": "3 qts"}),
        ("okra trimmed 9 lb drained 7 lb, 14 pints", {"trimmed": "9 lb", "cured": "7 lb"}),
        ("okra 9 pt 10 cups brine", {"jars": "9 pt", "brine_made": "10 cups"}),
        (
            "slaw: 10 lb, 1/2 c canning salt 12 h -> 8.25 drained, 13 pts",
            {"salt": "1/2 c canning salt", "cure_hours": "12 h", "cured": "8.25 lb"},
        ),
        ("okra 4 pts, 4 sealed, 1/2 inch headspace", {"sealed": "4", "headspace_in": "1/2 inch"}),
        ("okra 4 pts, recipe dill okra", {"recipe": "dill okra"}),
        ("okra 4 pts, not salted", {"cure_hours": "0"}),
        ("okra: 2 bushels, 40 pts", {"as_bought": "2 bushels"}),
    ],
)
def test_words_as_people_write_them(text: str, cells: dict[str, str]) -> None:
    line = read_line(text)
    assert line.asked == ()
    assert {column: line.cells.get(column) for column in cells} == cells


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("okra: 4 trimmed, 7 pints", "which unit"),  # no weight before it to take one from
        ("okra: 9.5 jars", "which sort"),
        ("okra: 3 lb bought, 4 lb, 7 pints", "what is 4 lb"),
        ("okra: 7 pints, 10 cups", "what is 10 cups"),
        ("okra: made 14 pints", "jars or brine"),
        ("okra: 3 lb trimmed, 4 lb trimmed, 7 pints", "said twice"),
        ("okra: 1 gal + 2 cups brine, 2 left, 7 pints", "which unit"),
        ("okra: 3 lb bought", "how many jars"),
        ("3 lb bought, 4 pints", "what did you put up"),
        ("okra: 7 pints, gave 4 away", "what is 4"),
        ("okra: 7 23 oz jars", "what is"),
    ],
)
def test_what_cannot_be_placed_is_asked_and_never_guessed(text: str, words: str) -> None:
    assert any(words in why for _, why in read_line(text).asked), read_line(text)


def test_words_that_measure_nothing_are_the_note_and_nothing_is_lost() -> None:
    line = read_line(
        "okra: 4 pts (thin ones, mostly), 5% vinegar, boiled 10 min. done for the year"
    )
    assert line.asked == ()
    assert line.cells["note"] == "thin ones; mostly; 5% vinegar; boiled 10 min; done for the year"


WORDS = (
    "carrot", "8", "lb", "1/2", "brine", "left", "->", "(", ")", ":", "pints", "made", "salt", "½",
    "#", "oz", "trimmed", "+", "-", "no", "half a", "two", "\0", "é", "9.5.5", "1,5", "..", "h",
    "12-oz", "jar", "bushel", "99999999999999999999", "/0", "1/0", "and", ",", "recipe", "sealed",
)  # fmt: skip


def test_random_words_are_read_or_asked_and_never_fail() -> None:
    draw = random.Random(21)  # noqa: S311
    for _ in range(500):
        text = " ".join(draw.choices(WORDS, k=draw.randrange(14)))
        line = read_line(text)
        assert line.asked or {"produce", "jars"} <= set(line.cells), text
        understood(line)
