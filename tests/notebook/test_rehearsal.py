"""Notebooks as people keep them: what would come of each is what stands in it."""

import csv
import datetime as dt
import math
import zipfile
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from jarcast.batchtable.meant import meaning
from jarcast.domain.fields import NUMBERS
from jarcast.errors import BatchError
from jarcast.notebook.days import order_of, read_day
from jarcast.notebook.headings import read_map
from jarcast.notebook.rehearsal import Rehearsal, rehearse
from jarcast.notebook.sheets import Sheet
from jarcast.notebook.tables import Found, read_table

HELD = Path(__file__).parents[1] / "data" / "notebooks"
TODAY = dt.date(2026, 11, 28)
LB, CUP = 453.59237, 236.5882365  # NIST Handbook 44, appendix C


@pytest.mark.parametrize("name", ["n1.csv", "n5.txt"])
def test_a_notebook_comes_in_as_its_reader_wrote_it_out(name: str) -> None:
    """The truth was written beside the notebook, outside this project."""
    read = rehearse([HELD / name], today=TODAY)
    with (HELD / f"{name[:2]}.truth.csv").open(encoding="utf-8") as file:
        truth = list(csv.DictReader(file))
    assert (read.refused, read.asked) == ((), ())
    assert len(read.entries) == len(truth)
    for (_, entry), due in zip(read.entries, truth, strict=True):
        batch = entry.batch
        said = (batch.date.isoformat(), batch.produce, batch.cut, batch.pack)
        assert said == (due["date"], due["produce"], due["cut"], due["pack"])
        ours = dict(zip(batch.jar, batch.jars, strict=True))
        counts = map(float, due["jars"].split(" + "))
        assert ours == dict(zip(due["jar"].split(" + "), counts, strict=True))
        for column in NUMBERS:
            value, wanted = getattr(batch, column), due.get(column, "")
            assert (value is None) == (wanted == ""), (column, due["batch"])
            assert value is None or math.isclose(value, float(wanted), rel_tol=0.005)


def test_totals_are_left_out_and_named() -> None:
    left = [why for _, why in rehearse([HELD / "n1.csv"], today=TODAY).left]
    assert len(left) == 7
    assert all("total" in why for why in left)


def put(folder: Path, text: str, name: str = "mine.csv") -> Rehearsal:
    (folder / name).write_text(text, encoding="utf-8")
    return rehearse([folder / name], today=TODAY)


def test_titles_state_units_and_headings_come_again(tmp_path: Path) -> None:
    read = put(
        tmp_path,
        "Pickles 2024\nweights in lb and brine in cups\nDate;Veg;bought;trimmed;Quarts;brine\n"
        "3 May 2024;okra;5;4;6;8\nDate;Veg;bought;trimmed;Quarts;brine\n9 May 2024;okra;;2;3;4\n",
    )
    first, second = (entry.batch for _, entry in read.entries)
    assert first.as_bought_g == pytest.approx(5 * LB)
    assert first.brine_made_ml == pytest.approx(8 * CUP)
    assert (second.jar, second.jars) == (("quart",), (3.0,))
    assert [why for _, why in read.left] == ["the headings again"]


def test_a_measure_without_a_unit_is_asked_about(tmp_path: Path) -> None:
    read = put(tmp_path, "date,veg,trimmed,pints\n2024-05-03,okra,4,6\n")
    assert len(read.asked) == 1
    assert "'trimmed'" in read.asked[0].text


def test_the_order_of_day_and_month_is_asked_and_not_guessed(tmp_path: Path) -> None:
    assert "--dates" in put(tmp_path, "date,veg,pints\n3/5/2024,okra,6\n").asked[0].text


def test_one_date_settles_the_order_of_a_file(tmp_path: Path) -> None:
    read = put(tmp_path, "date,veg,pints\n3/5/2024,okra,6\n25/5/2024,okra,7\n")
    assert [e.batch.date for _, e in read.entries] == [dt.date(2024, 5, 3), dt.date(2024, 5, 25)]


def test_like_batches_of_two_members_stay_two(tmp_path: Path) -> None:
    text = "date,veg,pints\n2024-05-03,okra,6\n"
    both = [put(tmp_path, text, name).entries[0][1].batch.batch for name in ("mo.csv", "al.csv")]
    assert both[0] != both[1]


@pytest.mark.parametrize(
    ("heading", "name", "unit"),
    [
        ("Weight (lbs)", "as_bought", "lbs"), ("after trimming", "trimmed", ""),
        ("Pints", "jars", "pint"), ("brine made (c)", "brine_made", "c"), ("Price", "", ""),
    ],
)  # fmt: skip
def test_headings_are_read_by_meaning(heading: str, name: str, unit: str) -> None:
    """The headings that the work order names."""
    assert (meaning(heading).name, meaning(heading).unit) == (name, unit)


def test_a_heading_can_be_told() -> None:
    told = read_map("Pints=jars:pint")
    assert (told.heading, told.name, told.unit) == ("Pints", "jars", "pint")
    with pytest.raises(BatchError, match="no column 'jam'"):
        read_map("Pints=jam")


def test_dates_are_read_as_people_write_them() -> None:
    assert read_day("4 July 2025") == read_day("2025/07/04") == dt.date(2025, 7, 4)
    assert read_day("7/4/25") is None
    assert read_day("7/4/25", "mdy") == dt.date(2025, 7, 4)
    assert order_of(["7/4/25", "7/14/25"]) == "mdy"


def test_a_date_that_can_be_read_one_way_alone_is_read_so_whatever_the_order() -> None:
    assert read_day("20.8.2022", "mdy") == dt.date(2022, 8, 20)
    assert read_day("8/20/2022", "dmy") == dt.date(2022, 8, 20)
    assert read_day("22.8.20", "mdy") is None  # 2020 or 2022


def test_struck_lines_of_a_text_are_left_out_and_named(tmp_path: Path) -> None:
    text = (
        "2024-05-03 okra 4 lb, 8 pts\n2024-05-04 --okra 4 lb, 9 pts-- VOID\n~~May 5 2024 okra~~\n"
    )
    read = put(tmp_path, text, "mine.txt")
    assert [entry.batch.jars for _, entry in read.entries] == [(8.0,)]
    assert [why[:11] for _, why in read.left] == ["struck out:", "struck out:"]


def test_lines_of_a_text_are_dated_as_people_date_them(tmp_path: Path) -> None:
    text = "\n".join(
        f"{date} okra 4 lb, 8 pts"
        for date in (
            "22nd of August 2024,",
            "22/Aug/2024",
            "20240822",
            "1) 2024-08-22",
            "Aug 22 '24",
        )
    )
    read = put(tmp_path, text, "mine.txt")
    assert (read.left, read.refused) == ((), ())
    assert {entry.batch.date for _, entry in read.entries} == {dt.date(2024, 8, 22)}
    assert len(read.entries) == 5


@settings(max_examples=150, deadline=None)
@given(st.lists(st.lists(st.text(max_size=12), max_size=6), max_size=6))
def test_no_cells_are_too_odd_to_be_read_through(rows: list[list[str]]) -> None:
    """A row is read as a batch or left out, and never both."""
    found = Found()
    head = ("date", "veg", "pints", "trimmed", "brine", "notes")
    read_table(Sheet("any", (head, *map(tuple, rows))), {}, found)
    assert len(found.said) + len(found.left) <= len(rows)


def test_a_workbook_is_read_sheet_by_sheet(tmp_path: Path) -> None:
    """An .ods made by hand after OASIS OpenDocument 1.2: a table of rows of cells, twice."""
    rows = (("date", "veg", "pints"), ("2024-05-03", "okra", "6"))
    cell = '<table:table-cell office:value-type="string"><text:p>{}</text:p></table:table-cell>'
    lines = "".join(
        f"<table:table-row>{''.join(map(cell.format, row))}</table:table-row>" for row in rows
    )
    urn = "urn:oasis:names:tc:opendocument:xmlns"
    spaces = " ".join(f'xmlns:{n}="{urn}:{n}:1.0"' for n in ("office", "table", "text"))
    tables = "".join(f'<table:table table:name="{n}">{lines}</table:table>' for n in "ab")
    body = f"<office:body><office:spreadsheet>{tables}</office:spreadsheet></office:body>"
    with zipfile.ZipFile(tmp_path / "mine.ods", "w") as book:
        book.writestr("mimetype", "application/vnd.oasis.opendocument.spreadsheet")
        manifest = f'<manifest:manifest xmlns:manifest="{urn}:manifest:1.0"/>'
        book.writestr("META-INF/manifest.xml", manifest)
        text = f"<office:document-content {spaces}>{body}</office:document-content>"
        book.writestr("content.xml", text)
    read = rehearse([tmp_path / "mine.ods"], today=TODAY)
    assert [entry.batch.jars for _, entry in read.entries] == [(6.0,), (6.0,)]
    assert len({entry.batch.batch for _, entry in read.entries}) == 2
