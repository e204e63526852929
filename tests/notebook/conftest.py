"""Workbooks for tests, made by hand."""

import zipfile
from collections.abc import Callable, Mapping, Sequence
from html import escape
from pathlib import Path

import pytest

Rows = Sequence[Sequence[object]]
_SPACE = "http://schemas.openxmlformats.org"


def _cell(place: str, value: object, style: int) -> str:
    if isinstance(value, int | float):
        return f'<c r="{place}" s="{style}"><v>{value}</v></c>'
    text = escape(str(value))
    if text.startswith("="):  # as programs write it that work nothing out
        return f'<c r="{place}" s="{style}"><f>{text[1:]}</f><v></v></c>'
    return f'<c r="{place}" s="{style}" t="inlineStr"><is><t>{text}</t></is></c>'


def _sheet(rows: Rows, struck: frozenset[str]) -> str:
    lines = []
    for line, row in enumerate(rows, start=1):
        places = [(f"{chr(65 + at)}{line}", value) for at, value in enumerate(row)]
        cells = (
            _cell(p, value, int(p in struck)) for p, value in places if value not in ("", None)
        )
        lines.append(f'<row r="{line}">{"".join(cells)}</row>')
    main = f'xmlns="{_SPACE}/spreadsheetml/2006/main"'
    return f"<worksheet {main}><sheetData>{''.join(lines)}</sheetData></worksheet>"


@pytest.fixture
def workbook(tmp_path: Path) -> Callable[..., Path]:
    """Writes sheets as an .xlsx after ECMA-376, part 1; cells named in ``struck`` are so.

    '=8+3' is a formula without its result (18.3.1.40).
    """

    def put(sheets: Mapping[str, Rows], struck: Sequence[str] = ()) -> Path:
        main = f'xmlns="{_SPACE}/spreadsheetml/2006/main"'
        kinds = "application/vnd.openxmlformats-officedocument.spreadsheetml"
        link = f"{_SPACE}/officeDocument/2006/relationships"
        numbers = range(1, len(sheets) + 1)
        parts = {
            "[Content_Types].xml": f'<Types xmlns="{_SPACE}/package/2006/content-types">'
            '<Default Extension="rels" '
            'ContentType="application/vnd.openxmlformats-package.relationships+xml"/>'
            f'<Override PartName="/xl/workbook.xml" ContentType="{kinds}.sheet.main+xml"/></Types>',
            "_rels/.rels": f'<Relationships xmlns="{_SPACE}/package/2006/relationships">'
            f'<Relationship Id="r1" Type="{link}/officeDocument" Target="xl/workbook.xml"/>'
            "</Relationships>",
            "xl/workbook.xml": f'<workbook {main} xmlns:r="{link}"><sheets>'
            + "".join(
                f'<sheet name="{escape(name)}" sheetId="{n}" r:id="r{n}"/>'
                for n, name in zip(numbers, sheets, strict=True)
            )
            + "</sheets></workbook>",
            "xl/_rels/workbook.xml.rels": f'<Relationships xmlns="{_SPACE}/package/2006/'
            'relationships">'
            + "".join(
                f'<Relationship Id="r{n}" Type="{link}/worksheet" Target="worksheets/s{n}.xml"/>'
                for n in numbers
            )
            + f'<Relationship Id="s" Type="{link}/styles" Target="styles.xml"/></Relationships>',
            "xl/styles.xml": f"<styleSheet {main}><fonts><font/><font><strike/></font></fonts>"
            '<cellXfs><xf numFmtId="0" fontId="0"/><xf numFmtId="0" fontId="1"/></cellXfs>'
            "</styleSheet>",
        } | {
            f"xl/worksheets/s{n}.xml": _sheet(rows, frozenset(struck) if n == 1 else frozenset())
            for n, rows in zip(numbers, sheets.values(), strict=True)
        }
        path = tmp_path / "mine.xlsx"
        with zipfile.ZipFile(path, "w") as book:
            for name, text in parts.items():
                book.writestr(name, text)
        return path

    return put
