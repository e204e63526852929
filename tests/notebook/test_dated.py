"""A notebook of dated lines."""

import datetime as dt
from pathlib import Path

import pytest

from jarcast.notebook.dated import day_of, parted, read_dated, read_lines
from jarcast.notebook.line import read_line
from jarcast.notebook.rehearsal import rehearse


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
        ("22nd of August 2022 okra 4 lb", "22nd of August 2022", "okra 4 lb"),
        ("21/Aug/2022 okra", "21/Aug/2022", "okra"),
        ("3-Aug-23: okra", "3-Aug-23", "okra"),
        ("20220823 okra 4 lb", "20220823", "okra 4 lb"),
        ("on Sept 4, 2023 we did okra", "Sept 4, 2023", "we did okra"),
        ("the 4th of July 2023: okra", "4th of July 2023", "okra"),
        ("1) 2023-09-08 okra", "2023-09-08", "okra"),
        ("12. 2023-09-08 okra", "2023-09-08", "okra"),
        ("[x] 2023-09-05 okra", "2023-09-05", "okra"),
        ("(2023-08-09) okra", "2023-08-09", "okra"),
        ("2023-08-09 14:30 okra", "2023-08-09", "okra"),
        ("2023 Aug 3 okra", "2023 Aug 3", "okra"),
        ("12. Aug 2023 okra", "12. Aug 2023", "okra"),
        ("12. 9. 2023 okra", "12. 9. 2023", "okra"),
        ("Aug 13th '22: okra", "Aug 13th '22", "okra"),
        ("Aug 24-25 2022 okra", "Aug 24-25 2022", "okra"),
        ("okra 4 lb, 8 pts, 2023-09-08", "2023-09-08", "okra 4 lb, 8 pts"),
        ("okra 4 lb, 8 pts (Aug 5 2023)", "Aug 5 2023", "okra 4 lb, 8 pts"),
        ("okra 8 pts, sown April 3 2023", "", "okra 8 pts, sown April 3 2023"),
        ("3-4 lb okra", "", "3-4 lb okra"),
        ("Sept 2022 okra", "", "Sept 2022 okra"),  # no day
    ],
)
def test_a_date_is_parted_from_the_words_behind_it(line: str, date: str, rest: str) -> None:
    assert parted(line) == (date, rest)


@pytest.mark.parametrize(
    ("text", "batches"),
    [
        (  # wrapped where the page ended
            "July 6, 2024\nPicked 9 lb of cukes. Had\n15 quarts on the towel. Made 2 gal\n"
            "brine left 1 cup",
            ["Picked 9 lb of cukes. Had, 15 quarts on the towel. Made 2 gal, brine left 1 cup"],
        ),
        (
            "July 6, 2024 - dilly beans\n9 lb picked\n14 pints",
            ["dilly beans, 9 lb picked, 14 pints"],
        ),
        (  # a crop nobody has published is one all the same
            "July 6, 2024\nokra 4 lb, 8 pts\n4 lb salsify, 6 pts\nsunchokes 3 lb, 5 pts",
            ["okra 4 lb, 8 pts", "4 lb salsify, 6 pts", "sunchokes 3 lb, 5 pts"],
        ),
        ("July 6, 2024: okra 4 lb, 8 pts\n\nmade 9 cups", ["okra 4 lb, 8 pts", "made 9 cups"]),
        ("July 6, 2024: okra 4 lb, 8 pts\nmade 9 c", ["okra 4 lb, 8 pts, made 9 c"]),
    ],
)
def test_a_line_that_only_measures_goes_on_with_the_one_above(
    text: str, batches: list[str]
) -> None:
    assert [one.text for one in read_lines(text)] == batches


def test_a_column_of_numbers_is_no_batch_that_goes_on_for_ever() -> None:
    found = read_lines("July 6, 2024: okra\n" + "9\n" * 2000)
    assert len(found) > 1800
    assert max(len(one.text) for one in found) < 600


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
    for text in (
        "2025-08-03", "2025/8/3", "Aug 3 2025", "August 3rd, 2025", "3 Aug 2025", "20250803",
        "3rd of August 2025", "3/Aug/2025", "3-Aug-25", "Aug 3 '25", "2025 Aug 3",
    ):  # fmt: skip
        assert day_of(text) == day
    for text in ("8/3/25", "Aug 3", "2025-02-30", "Feb 30 2025", "20251303", "Aug 3-4 2025"):
        assert day_of(text) is None


def test_an_indented_line_goes_on_though_a_date_ends_it() -> None:
    text = "Aug 9 2025: okra 4 lb\n  8 pts, 2025-10-01\n"
    ((number, date),) = [(one.number, one.date) for one in read_lines(text)]
    assert (number, date) == (1, "Aug 9 2025")


@pytest.mark.parametrize(
    "line",
    [
        "2023-09-11 --okra 4 lb, 8 pts--  VOID", "2023-09-11 okra 4 lb, 8 pts VOID",
        "2023-09-11 --okra 4 lb, 8 pts--", "~~Aug 6 2023 cauliflower 9 lb, 8 pints~~",
        "2023-09-11 ~~okra 4 lb, 8 pts~~", "<s>2023-09-11 okra 4 lb</s>",
        "xxx crossed out xxx Aug 5 2023 okra 4 lb 9 pts", "2023-09-11 cancelled: okra 4 lb, 8 pts",
        "2023-09-11 o\u0336k\u0336r\u0336a\u0336 8\u0336 p\u0336t\u0336s\u0336",
        "2023-09-11 okra 4 lb, 8 pts - entered twice", "Aug 5 2023: struck out. okra 4 lb",
    ],
)  # fmt: skip
def test_a_line_that_is_struck_out_is_no_batch(line: str) -> None:
    ((struck, text),) = [(one.struck, one.text) for one in read_lines(line)]
    assert struck
    ((_, why),) = read_line(text).asked
    assert why.startswith("it is struck out")
    assert read_line(text).cells == {}


@pytest.mark.parametrize(
    "line",
    [
        "2023-09-11 okra 4 lb, 8 pts ~~7 pts~~", "2023-09-11 -- okra 4 lb, 8 pts",
        "2023-09-11 okra, 4 lb -- the small ones -- 8 pts", "2023-09-11 - okra 4 lb, avoid wax",
    ],
)  # fmt: skip
def test_a_line_struck_in_part_or_dashed_is_read(line: str) -> None:
    ((struck, text),) = [(one.struck, one.text) for one in read_lines(line)]
    assert not struck
    assert read_line(text).cells["as_bought"] == "4 lb"


def test_a_part_between_dashes_that_touch_it_is_asked() -> None:
    line = read_line("okra 4 lb, 9 qts --8 pts--")
    assert (line.cells["jars"], [part for part, _ in line.asked]) == ("9 qts", ["8 pts"])


def test_a_line_may_begin_with_its_date_and_a_doubtful_one_is_asked() -> None:
    assert read_dated("Aug 3 2025: okra, 4 pts").cells["date"] == "2025-08-03"
    asked = read_dated("8/3/25: okra, 4 pts").asked
    assert [(words, "which day" in why) for words, why in asked] == [("8/3/25", True)]


MARKS = ("ditto", "do", "do.", "Ditto,", "same", "same again,", "same as above:", '" "', "''")


@pytest.mark.parametrize("mark", MARKS)
def test_a_mark_for_the_crop_above_is_that_crop_and_told(mark: str, tmp_path: Path) -> None:
    book = tmp_path / "mine.txt"
    first = "2024-07-22: carrot sticks 5 lb, 9 pts"
    book.write_text(f"{first}\n2024-07-23 {mark} 6 lb, 10 pts\n", encoding="utf-8")
    read = rehearse([book], today=dt.date(2026, 11, 28))
    (_, one), (_, other) = read.entries
    assert (other.batch.produce, other.batch.cut) == (one.batch.produce, one.batch.cut)
    assert other.batch.jars == (10.0,)
    assert "is taken as the crop above, carrot sticks" in " ".join(why for _, why in read.doubts)
