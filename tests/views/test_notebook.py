"""What would come of a notebook, as text: every batch with all it says, real doubts first."""

import datetime as dt
from pathlib import Path

from jarcast.notebook.rehearsal import rehearse
from jarcast.views.notebook import rehearsal_document, rehearsal_text

TODAY = dt.date(2026, 11, 28)


def told(folder: Path, text: str, name: str) -> str:
    (folder / name).write_text(text, encoding="utf-8")
    return rehearsal_text(rehearse([folder / name], today=TODAY))


def test_every_batch_is_told_with_all_its_weights_and_its_brine(tmp_path: Path) -> None:
    head = "Date,Crop,Bought (lb),Drained (lb),Pints,Brine made (c),Brine left (c),Sealed,By"
    rows = [f"2022-07-{day:02d},okra,{day} 1/2,{day},7,6,1/2,all,Oda" for day in range(1, 31)]
    lines = told(tmp_path, "\n".join([head, *rows, ""]), "mine.csv").splitlines()
    batches = [line for line in lines if "; 7 pint; " in line]
    assert len(batches) == 30
    assert batches[-1].strip() == (
        "row 31: 2022-07-30, okra; as bought 30 1/2 lb; cured 30 lb; 7 pint; brine made 6 c; "
        "brine left 1/2 c; sealed 7; by Oda"
    )


def test_what_is_told_of_many_batches_alike_is_told_once_and_after_the_rest(
    tmp_path: Path,
) -> None:
    lines = [f"2022-07-{day:02d}: okra, {day} lb, 7 pints" for day in range(1, 20)]
    lines.insert(9, "2022-08-01: okra, 8 pints, gave 2 away")
    text = told(tmp_path, "\n".join(lines) + "\n", "mine.txt")
    doubts = text.partition("Not sure about:\n")[2].splitlines()
    assert len(doubts) == 2
    assert "gave 2 away" in doubts[0]
    assert "1 lb taken as bought" in doubts[1]
    assert "likewise line 2, line 3" in doubts[1]


def test_json_tells_each_doubt_of_each_batch(tmp_path: Path) -> None:
    lines = [f"2022-07-{day:02d}: okra, {day} lb, 7 pints" for day in range(1, 20)]
    (tmp_path / "mine.txt").write_text("\n".join(lines))
    document = rehearsal_document(rehearse([tmp_path / "mine.txt"], today=TODAY))
    assert len(document["doubts"]) == len(document["batches"]) == 19
