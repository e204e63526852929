"""Jars as people count them: what is read, what is refused, what is shown and read back."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from jarcast.domain.jar_text import (
    counts,
    in_turns,
    on_shelf,
    read_jars,
    table_cells,
    turns_text,
    turns_with,
    with_sorts,
)
from jarcast.domain.jars import REGULAR_BORE_MM, SHELF, Jar
from jarcast.errors import BatchError
from jarcast.views.words import filled_words


# As people were heard to say it.
@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("6 pints and 5 quarts", [(6.0, "pint"), (5.0, "quart")]),
        ("6 pint + 5.5 quart", [(6.0, "pint"), (5.5, "quart")]),
        ("6 pints, 5\u00bd quarts", [(6.0, "pint"), (5.5, "quart")]),
        ("6 pints, and 5 1/2 quarts", [(6.0, "pint"), (5.5, "quart")]),
        ("8 quarts + 1 pint", [(8.0, "quart"), (1.0, "pint")]),
        ("6 half-pint + 2 pints", [(6.0, "half-pint"), (2.0, "pint")]),
        ("5 wide pints", [(5.0, "pint-wide")]),
        ("6 quarts & a pint", [(6.0, "quart"), (1.0, "pint")]),
        ("a dozen half pints", [(12.0, "half-pint")]),
        ("6 and a half pints", [(6.5, "pint")]),
        ("9 quarts and a half", [(9.5, "quart")]),
        ("6 pints and a half pint", [(6.0, "pint"), (1.0, "half-pint")]),
        ("6 1/2 pints", [(6.5, "pint")]),
        ("6 1/2-pint jars", [(6.0, "half-pint")]),
        ("3 24 oz jars", [(3.0, "pint-and-half")]),
        ("5 pint and a half jars and 2 quarts", [(5.0, "pint-and-half"), (2.0, "quart")]),
        ("6 500 ml", [(6.0, "500ml")]),
        ("5,5 quart", [(5.5, "quart")]),
        ("3 x pint; 2 pint", [(3.0, "pint"), (2.0, "pint")]),
        ("12 oz", [(None, "12-oz")]),
        ("pint and a half", [(None, "pint-and-half")]),
        ("pint-wide + pint", [(None, "pint-wide"), (None, "pint")]),
        ("5 + 4 1/2", [(5.0, ""), (4.5, "")]),
        ("nine", [(9.0, "")]),
        ("", []),
    ],
)
def test_jars_are_read_as_people_say_them(text: str, found: list[tuple[float | None, str]]) -> None:
    assert list(read_jars(text)) == found


def test_in_turns_counts_are_whole_and_the_last_sort_takes_the_rest() -> None:
    assert read_jars("4 1/2 pint, then pint", turns=True) == ((4.0, "half-pint"), (None, "pint"))
    assert read_jars("2 quart, then 1 pint", turns=True)[-1] == (None, "pint")


def test_a_jar_of_ones_own_with_an_and_in_its_name_is_one_jar() -> None:
    shelf = {**SHELF, "salt & pepper": Jar("salt & pepper", 300.0, REGULAR_BORE_MM)}
    assert read_jars("3 salt & pepper and 2 pints", shelf) == (
        (3.0, "salt & pepper"),
        (2.0, "pint"),
    )


@pytest.mark.parametrize(
    "text", ["6 pint + 5", "6 pints and quarts", "3 buckets", "6 pints 5 quarts"]
)
def test_a_piece_without_count_or_sort_is_refused_with_the_way_to_write_it(text: str) -> None:
    with pytest.raises(BatchError, match=r"write '9\.5', or each count|there is no jar"):
        on_shelf(read_jars(text))


@pytest.mark.parametrize("text", ["some", "6,5", "1,250", "nan", "1/0", "-", "6 +"])
def test_what_is_no_count_is_refused(text: str) -> None:
    with pytest.raises(BatchError):
        counts(text)


SORTS = st.sampled_from(sorted(SHELF))
EIGHTHS = st.integers(1, 799).map(lambda n: n / 8.0)
FILLED = st.lists(st.tuples(EIGHTHS, SORTS), min_size=1, max_size=4)
TURNS = st.lists(st.tuples(st.integers(1, 99).map(float), SORTS), min_size=1, max_size=4)


@given(FILLED)
def test_jars_shown_are_read_back(filled: list[tuple[float, str]]) -> None:
    assert on_shelf(read_jars(filled_words(filled))) == filled


@given(TURNS)
def test_turns_shown_are_read_back(turns: list[tuple[float, str]]) -> None:
    *firsts, (_, last) = turns
    assert list(read_jars(turns_text(turns), turns=True)) == [*firsts, (None, last)]


@given(FILLED)
def test_jars_with_their_sorts_are_the_cells_of_the_table(filled: list[tuple[float, str]]) -> None:
    cells = with_sorts({"jars": " and ".join(f"{n} {key}" for n, key in filled)})
    sorts, numbers = cells["jar"].split(" + "), [float(n) for n in cells["jars"].split(" + ")]
    assert sorts == list(dict.fromkeys(key for _, key in filled))
    for sort, number in zip(sorts, numbers, strict=True):
        assert number == math.fsum(n for n, key in filled if key == sort)
    assert with_sorts(cells) == cells


@pytest.mark.parametrize("jar", ["pint", "5 pint-wide, then pint", "pint + half-pint"])
def test_counts_in_another_sort_than_said_are_refused_and_both_are_named(jar: str) -> None:
    with pytest.raises(
        BatchError, match=f"of the sort quart, and jar says '{jar}'".replace("+", r"\+")
    ):
        with_sorts({"jar": jar, "jars": "6 quarts"})


@pytest.mark.parametrize("jars", ["9.5", "5 + 4", "7 1/2", "1e1", "", "some"])
def test_counts_alone_are_left_as_they_were_typed(jars: str) -> None:
    assert with_sorts({"jar": "pint", "jars": jars}) == {"jar": "pint", "jars": jars}


def test_one_count_is_dealt_out_in_turns() -> None:
    typed = {"jar": "5 wide pints and 2 quarts, then pints", "jars": "8.5"}
    assert table_cells(typed) == {"jar": "pint-wide + quart + pint", "jars": "5 + 2 + 1.5"}
    assert in_turns(typed) == typed["jar"]


@pytest.mark.parametrize(
    ("filled", "plan", "turns"),
    [
        ([(3.0, "pint")], "pint", ""),
        ([(5.0, "pint-wide"), (2.0, "pint")], "5 pint-wide, then pint", ""),
        ([(2.0, "pint")], "5 pint-wide, then pint", "2 pint, then 5 pint-wide, then pint"),
        ([(3.0, "pint-wide"), (2.0, "pint")], "5 pint-wide, then pint",
         "3 pint-wide, then 2 pint, then 2 pint-wide, then pint"),
        ([(6.0, "pint"), (2.0, "half-pint")], "pint", "6 pint, then 2 half-pint, then pint"),
        ([(1.5, "pint"), (2.0, "quart")], "", "2 quart, then 2 pint, then pint"),
    ],
)  # fmt: skip
def test_a_plan_follows_what_was_filled(
    filled: list[tuple[float, str]], plan: str, turns: str
) -> None:
    assert turns_with(filled, plan) == turns


def test_a_jar_of_ones_own_may_begin_with_an_x() -> None:
    shelf = {**SHELF, "X0": Jar("X0", 500.0, 60.0)}
    assert on_shelf(read_jars("5 X0 + 6x12-oz + 2 x X0", shelf), shelf) == [
        (5.0, "X0"), (6.0, "12-oz"), (2.0, "X0"),
    ]  # fmt: skip
