"""A notebook of dated lines."""

import datetime as dt

import pytest

from jarcast.notebook.dated import day_of, parted, read_dated, read_lines


@pytest.mark.parametrize(
    ("line", "date", "rest"),
    [
        ("Aug 3: 11# cukes", "Aug 3", "11# cukes"),
        ("7/19/25 dilly beans 8 lb", "7/19/25", "dilly beans 8 lb"),
        ("Aug 16 2025 - 8.25# peppers", "Aug 16 2025", "8.25# peppers"),
        ("Sat, 3 Aug 2025: okra", "3 Aug 2025", "okra"),
        ("- 2025-08-03 okra", "2025-08-03", "okra"),
        ("1/2 cup left", "", "1/2 cup left"),
        ("May 10# cukes", "", "May 10# cukes"),
        ("12 pints okra", "", "12 pints okra"),
    ],
)
def test_a_date_is_parted_from_the_words_behind_it(line: str, date: str, rest: str) -> None:
    assert parted(line) == (date, rest)


def test_lines_keep_their_numbers_and_a_date_alone_heads_those_under_it() -> None:
    text = (
        "pickles!!\n\nAug 3 2025\nokra 3 lb, 4 pts\nbeets 9 pts\n\nAug 9 2025: okra\n   5 pts\nend"
    )
    assert [(one.number, one.date, one.text) for one in read_lines(text)] == [
        (1, "", "pickles!!"),
        (4, "Aug 3 2025", "okra 3 lb, 4 pts"),
        (5, "Aug 3 2025", "beets 9 pts"),
        (7, "Aug 9 2025", "okra, 5 pts"),
        (9, "", "end"),
    ]


def test_a_day_is_known_only_where_order_and_year_are_beyond_doubt() -> None:
    day = dt.date(2025, 8, 3)
    for text in ("2025-08-03", "2025/8/3", "Aug 3 2025", "August 3rd, 2025", "3 Aug 2025"):
        assert day_of(text) == day
    for text in ("8/3/25", "Aug 3", "2025-02-30", "Feb 30 2025"):
        assert day_of(text) is None


def test_a_line_may_begin_with_its_date_and_a_doubtful_one_is_asked() -> None:
    assert read_dated("Aug 3 2025: okra, 4 pts").cells["date"] == "2025-08-03"
    asked = read_dated("8/3/25: okra, 4 pts").asked
    assert [(words, "which day" in why) for words, why in asked] == [("8/3/25", True)]
