"""Workbooks: what was struck through, sheets that are no logs, what a spreadsheet makes of cells.

Names of people and places are invented.
"""

import datetime as dt
import zipfile
from collections.abc import Callable
from pathlib import Path

import pytest

from jarcast.domain.batch import Batch
from jarcast.notebook.rehearsal import Rehearsal, rehearse
from jarcast.notebook.struck import struck_cells

TODAY = dt.date(2026, 11, 28)
LB = 453.59237  # NIST Handbook 44, appendix C


def rehearsed(file: Path) -> Rehearsal:
    return rehearse([file], today=TODAY)


def only(read: Rehearsal) -> Batch:
    """The one batch: 7 pints of okra on the first of July."""
    ((_, entry),) = read.entries
    assert str(entry.batch.date) == "2022-07-01"
    assert (entry.batch.produce, entry.batch.filled_text) == ("okra", "7 pint")
    return entry.batch


HEAD = ("Date", "Crop", "Bought lb", "Pints", "Brine made (c)")


def test_rows_that_are_struck_through_are_left_out(workbook: Callable[..., Path]) -> None:
    rows = [
        HEAD, ("2022-07-01", "okra", 4, 7, 6), ("2022-07-02", "okra", 5, 99, 6),
        ("2022-07-03", "beets", 14, 12, 9),
    ]  # fmt: skip
    struck = [f"{letter}3" for letter in "ABCDE"]
    read = rehearsed(workbook({"Log": rows}, [*struck, "C4"]))
    kept = [(entry.batch.produce, entry.batch.as_bought_g) for _, entry in read.entries]
    assert kept == [("okra", pytest.approx(4 * LB)), ("beet", None)]
    assert "struck through: '2022-07-02, okra" in read.left[0][1]
    assert "struck through, and not read: '14'" in read.doubts[0][1]


def test_rows_struck_through_in_an_ods_are_left_out(tmp_path: Path) -> None:
    """An .ods made by hand after OASIS OpenDocument 1.2: 16.2 for styles, 9.1 for repeated rows."""
    urn = "urn:oasis:names:tc:opendocument:xmlns"
    spaces = " ".join(
        f'xmlns:{n}="{urn}:{n}:1.0"' for n in ("office", "table", "text", "style", "fo")
    )
    rows = (("Date", "Crop", "Pints"), ("2022-07-01", "okra", "7"), ("2022-07-02", "okra", "99"))

    def row(cells: tuple[str, ...], style: str) -> str:
        name = f' table:style-name="{style}"' if style else ""
        cell = (
            '<table:table-cell office:value-type="string"{}><text:p>{}</text:p></table:table-cell>'
        )
        return (
            f"<table:table-row>{''.join(cell.format(name, one) for one in cells)}</table:table-row>"
        )

    empty = '<table:table-row table:number-rows-repeated="2"><table:table-cell/></table:table-row>'
    lines = row(rows[0], "") + row(rows[1], "plain") + empty + row(rows[2], "gone")
    styles = "".join(
        f'<style:style style:name="{name}" style:family="table-cell"><style:text-properties '
        f'style:text-line-through-style="{line}"/></style:style>'
        for name, line in (("plain", "none"), ("gone", "solid"))
    )
    body = f'<table:table table:name="Log">{lines}</table:table>'
    with zipfile.ZipFile(tmp_path / "mine.ods", "w") as book:
        book.writestr("mimetype", "application/vnd.oasis.opendocument.spreadsheet")
        manifest = f'<manifest:manifest xmlns:manifest="{urn}:manifest:1.0"/>'
        book.writestr("META-INF/manifest.xml", manifest)
        text = (
            f"<office:document-content {spaces}><office:automatic-styles>{styles}"
            f"</office:automatic-styles><office:body><office:spreadsheet>{body}"
            "</office:spreadsheet></office:body></office:document-content>"
        )
        book.writestr("content.xml", text)
    read = rehearsed(tmp_path / "mine.ods")
    only(read)
    assert "struck through: '2022-07-02, okra, 99'" in read.left[0][1]


# A billion signs of ten entities: https://www.w3.org/TR/xml/#sec-entity-decl lets them nest.
_ENTITIES = "".join(f'<!ENTITY e{n} "{f"&e{n - 1};" * 10}">' for n in range(1, 10))


@pytest.mark.parametrize(
    "styles",
    [
        b"<styleSheet><fonts><font>",
        f'<!DOCTYPE s [<!ENTITY e0 "x">{_ENTITIES}]><s>&e9;</s>'.encode(),
        b'<!DOCTYPE s SYSTEM "file:///etc/passwd"><styleSheet/>',
        b"<styleSheet>" + b" " * 60_000_000 + b"</styleSheet>",
    ],
    ids=["garbled", "swelling entities", "a file elsewhere", "swelling"],
)
def test_styles_that_cannot_be_read_tell_of_no_cell_that_is_struck_through(
    workbook: Callable[..., Path], styles: bytes
) -> None:
    path = workbook({"Log": [HEAD, ("2022-07-01", "okra", 4, 7, 6)]}, ["A2", "B2"])
    assert struck_cells(path)["Log"] == {(2, 0), (2, 1)}
    with zipfile.ZipFile(path) as book:
        parts = {name: book.read(name) for name in book.namelist()}
    parts["xl/styles.xml"] = styles
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as book:
        for name, text in parts.items():
            book.writestr(name, text)
    assert struck_cells(path) == {}


def test_numbers_of_a_workbook_have_decimal_points(workbook: Callable[..., Path]) -> None:
    rows = [("Date", "Crop", "Trimmed (g)", "Pints"), ("2022-07-01", "okra", 907.185, 7)]
    read = rehearsed(workbook({"Log": rows}))
    assert only(read).trimmed_g == pytest.approx(2 * LB)
    assert read.doubts == ()


def test_a_fraction_that_became_a_day_is_told(workbook: Callable[..., Path]) -> None:
    rows = [HEAD, ("2022-07-01", "okra", "2022-06-01", 7, 6)]
    read = rehearsed(workbook({"Log": rows}))
    assert only(read).as_bought_g is None
    assert "out of a fraction" in read.doubts[0][1]


def test_sheets_of_plans_and_stocks_are_left_out_by_name(workbook: Callable[..., Path]) -> None:
    row = ("2022-07-01", "okra", 4, 7, 6)
    garden = [("Date", "Crop", "lb picked", "Pint boxes"), ("2022-07-01", "okra", 5, 4)]
    sheets = {"Log": [HEAD, row], "Plan 2023": [HEAD, row], "Cellar": [HEAD, row], "Beds": garden}
    read = rehearsed(workbook(sheets))
    only(read)  # and nothing of the others
    assert [place.rpartition("'")[0].rpartition("'")[2] for place, _ in read.left] == [
        "Plan 2023", "Cellar", "Beds",
    ]  # fmt: skip
    for name in ("Plan and log", "Pantry pickles", "Stall 2022"):
        assert len(rehearsed(workbook({name: [HEAD, row]})).entries) == 1


def test_a_sheet_of_one_crop_is_of_the_crop_in_its_name(workbook: Callable[..., Path]) -> None:
    rows = [("Date", "Bought lb", "Pints"), ("2022-07-01", 4, 7)]
    read = rehearsed(workbook({"Okra 2022": rows}))
    only(read)
    assert "'Okra'" in read.doubts[0][1]


@pytest.mark.parametrize(
    ("formula", "cups"),
    [("=8+3", 11), ("=2*4", 8), ("=12-1/2", 11.5), ("=2*4+3", 11), ("=1.5+2.25", 3.75)],
)
def test_arithmetic_without_its_result_is_worked_out(
    workbook: Callable[..., Path], formula: str, cups: float
) -> None:
    read = rehearsed(workbook({"Log": [HEAD, ("2022-07-01", "okra", 4, 7, formula)]}))
    assert only(read).brine_made_ml == pytest.approx(cups * 236.5882365)  # NIST Handbook 44
    assert read.doubts == ()


@pytest.mark.parametrize("formula", ["=D2*1.5", "=SUM(E3:E9)", "=8/0", "="])
def test_a_formula_without_its_result_is_told(workbook: Callable[..., Path], formula: str) -> None:
    rows = [HEAD, ("2022-07-01", "okra", 4, 7, formula), ("2022-07-02", "okra", 4, formula, 6)]
    read = rehearsed(workbook({"Log": rows}))
    assert only(read).brine_made_ml is None
    assert (
        f"brine made '{formula}': the result of this formula is not in the file"
        in (read.doubts[0][1])
    )
    assert f"jars '{formula}': the result of this formula is not in the file" in read.refused[0][1]


def test_a_result_that_is_in_the_file_stands_and_an_empty_one_too(
    workbook: Callable[..., Path],
) -> None:
    path = workbook({"Log": [HEAD, ("2022-07-01", "okra", 4, 7, "=E9"), ("", "", "", "", "=E8")]})
    with zipfile.ZipFile(path) as book:
        parts = {name: book.read(name) for name in book.namelist()}
    name = "xl/worksheets/s1.xml"
    parts[name] = parts[name].replace(b"<f>E9</f><v></v>", b"<f>E9</f><v>6</v>")
    parts[name] = parts[name].replace(b's="0"><f>E8', b's="0" t="str"><f>E8')
    with zipfile.ZipFile(path, "w") as book:
        for part, text in parts.items():
            book.writestr(part, text)
    read = rehearsed(path)
    assert only(read).brine_made_ml == pytest.approx(6 * 236.5882365)  # NIST Handbook 44
    assert (read.doubts, read.left, read.refused) == ((), (), ())
