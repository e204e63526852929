"""Rows with more cells than headings: a comma in a note, or one that moved all cells by one."""

import datetime as dt
from pathlib import Path

import pytest

from jarcast.notebook.rehearsal import Rehearsal, rehearse

TODAY = dt.date(2026, 11, 28)


def put(folder: Path, text: str, name: str = "mine.csv") -> Rehearsal:
    (folder / name).write_text(text, encoding="utf-8")
    return rehearse([folder / name], today=TODAY)


def kept(read: Rehearsal) -> list[tuple[str, str, str]]:
    return [(e.batch.produce, e.batch.filled_text, e.batch.note) for _, e in read.entries]


@pytest.mark.parametrize("sign", [",", "\t", ";"])
def test_a_note_with_a_comma_goes_on_behind_the_last_heading(tmp_path: Path, sign: str) -> None:
    rows = ("Date,Crop,Pints,Notes", "2024-07-02,okra,9,ok", "2024-07-01,cukes,20,hot,tired")
    read = put(tmp_path, "".join(f"{row.replace(',', sign)}\n" for row in rows), "mine.tsv")
    assert kept(read) == [("okra", "9 pint", "ok"), ("cucumber", "20 pint", "hot, tired")]
    assert read.refused == ()
    (doubt,) = read.doubts
    assert doubt[0].endswith("row 3")
    assert "'tired' stands behind the last heading" in doubt[1]


def test_words_without_a_heading_are_a_note(tmp_path: Path) -> None:
    text = "Date,Crop,Pints\n2024-07-01,okra,9,gave two away, hot\n2024-07-02,okra,8\n"
    read = put(tmp_path, text + "2024-07-03,okra,7\n2024-07-04,okra,7\n")
    assert kept(read)[0] == ("okra", "9 pint", "gave two away, hot")
    assert "'gave two away, hot'" in read.doubts[0][1]


@pytest.mark.parametrize(
    ("head", "row"),
    [
        ("Date,Crop,Trimmed (g),Pints", "2024-07-02,okra,1,250,8"),
        ("Date,Crop,Trimmed (g),Pints,Notes", "2024-07-02,okra,1,250,8,fine"),
        ("Date,Crop,Trimmed (g),Pints,Notes", "2024-07-02,okra,1,250,8,"),
        ("Date,Crop,Trimmed (lb),Pints,Notes", "2024-07-04,cucumber, spears,12,8,fine"),
        ("Date,Crop,Trimmed (lb),Pints,Who", "2024-07-04,cucumber, spears,12,8,Oda"),
        ("Date,Notes,Crop,Pints", "2024-07-04,hot, tired,okra,8"),
        ("Date,Crop,Pints", "2024-07-04,okra,8,7"),
    ],
)
def test_a_row_whose_cells_were_moved_is_named_and_the_others_stand(
    tmp_path: Path, head: str, row: str
) -> None:
    """Which cell had the comma cannot be told, so nothing of that row may be read."""
    width = head.count(",") + 1
    cells = {"Date": "2024-07-05", "Crop": "okra", "Trimmed (g)": "900", "Trimmed (lb)": "6"}
    good = ",".join({**cells, "Pints": "6"}.get(name, "ok") for name in head.split(","))
    read = put(tmp_path, f"{head}\n{row}\n{good}\n{good}\n{good}\n")
    assert [one[:2] for one in kept(read)] == 3 * [("okra", "6 pint")]
    ((place, why),) = read.refused
    assert place.endswith("row 2")
    assert f"{width + 1} cells stand under {width} headings" in why


def test_a_column_without_a_heading_moves_nothing(tmp_path: Path) -> None:
    text = "Date,Crop,Pints\n2024-07-01,okra,9,7\n2024-07-02,okra,8,6\n2024-07-03,okra,8\n"
    read = put(tmp_path, text)
    assert [jars for _, jars, _ in kept(read)] == ["9 pint", "8 pint", "8 pint"]
    assert read.ignored == ("column 4, without a heading",)
    assert read.refused == ()


def test_thousands_in_two_cells_are_no_column_without_a_heading(tmp_path: Path) -> None:
    rows = "2024-07-02,okra,1,250,8\n2024-07-03,okra,2,500,16\n2024-07-04,okra,900,6\n"
    read = put(tmp_path, f"Date,Crop,Trimmed (g),Pints\n{rows}")
    assert [jars for _, jars, _ in kept(read)] == ["6 pint"]
    assert len(read.refused) == 2
