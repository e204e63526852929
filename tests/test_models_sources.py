"""The tables of models/sources are refused when a row names what is not there.

Each case is the committed tables with one cell or row changed by hand, as a slip of typing would.
"""

import importlib
import shutil
import sys
from pathlib import Path

import pytest

from jarcast.errors import BeliefsError

MODELS = Path(__file__).resolve().parents[1] / "models"
sys.path.insert(0, str(MODELS))  # the scripts there import one another
builder = importlib.import_module("build_beliefs")
checking = importlib.import_module("checking")


@pytest.fixture
def sources(tmp_path: Path) -> Path:
    """A copy of the tables."""
    return Path(shutil.copytree(MODELS / "sources", tmp_path / "sources"))


def line_of(path: Path, start: str) -> int:
    lines = path.read_text("utf-8").splitlines()
    return 1 + next(number for number, line in enumerate(lines) if line.startswith(start))


def test_the_committed_tables_are_taken(sources: Path) -> None:
    try:
        checking.check_sources(sources)
    except BeliefsError as refused:
        pytest.fail(str(refused))


@pytest.mark.parametrize(
    ("table", "row", "instead", "says"),
    [
        ("crops.csv", "carrot,sticks,", "carot,sticks,", "'carot' (did you mean 'carrot'?) is not"),
        ("produce.csv", "carrot,root,", "carrot,rot,", "'rot' (did you mean 'root'?) is not in"),
        ("produce.csv", "carrot,root,", "carrot,,", "'' is not in kins.csv"),
        ("produce.csv", "carrot,root,", "skirret,root,", "'skirret'"),
        ("produce.csv", "carrot,root,", "carrots,root,", "'carrots' is called 'carrot' here"),
        ("kins.csv", "root,", "roots,", "'roots' (did you mean 'root'?) is not the kin of any"),
        ("crops.csv", "carrot,sticks,raw + hot,", "carrot,sticks,raw + hto,", "'hto'"),
        ("crops.csv", "carrot,sticks,", "carrot,stick,", "'stick' is called 'sticks' here"),
        ("crops.csv", "carrot,sticks,raw + hot,never", "carrot,sticks,raw + hot,nevr", "'nevr'"),
        ("crops.csv", "carrot,sticks,raw + hot,never", "carrot,sticks,never", "fewer cells"),
        ("crops.csv", "carrot,slices,", "carrot,sticks,", "'carrot sticks' stands in line"),
        ("trim-yields.csv", "T01,cucumber,", "T01,cucumbre,", "'cucumber'"),
        ("practice.csv", "C01,trim_yield,", "C01,trim_yeild,", "'trim_yield'"),
    ],
)  # fmt: skip
def test_a_row_that_names_what_is_not_there_is_refused_by_file_and_line(
    sources: Path, table: str, row: str, instead: str, says: str
) -> None:
    path = sources / table
    line = line_of(path, row)
    text = path.read_text("utf-8")
    path.write_text(text.replace(f"\n{row}", f"\n{instead}", 1), "utf-8")
    with pytest.raises(BeliefsError) as refused:
        checking.check_sources(sources)
    assert str(refused.value).startswith(f"{table}, line {line}: ")
    assert says in str(refused.value)


def test_a_produce_without_its_cuts_is_refused(sources: Path) -> None:
    path = sources / "produce.csv"
    path.write_text(path.read_text("utf-8") + "skirret,root,,never\n", "utf-8")
    line = len(path.read_text("utf-8").splitlines())
    with pytest.raises(BeliefsError, match=rf"produce\.csv, line {line}: 'skirret'.*crops\.csv"):
        checking.check_sources(sources)


def test_parts_of_a_mixture_are_produce_and_add_up(sources: Path) -> None:
    path = sources / "produce.csv"
    text = path.read_text("utf-8")
    for slip, says in (("cucumber: 0.76", "do not add up to 1"), ("cucmber: 0.67", "'cucumber'")):
        path.write_text(text.replace("cucumber: 0.67", slip, 1), "utf-8")
        with pytest.raises(BeliefsError, match=says):
            checking.check_sources(sources)


def test_nothing_is_written_from_tables_that_are_refused(
    sources: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    path = sources / "crops.csv"
    path.write_text(path.read_text("utf-8") + "skirret,sticks,raw,never\n", "utf-8")
    line = len(path.read_text("utf-8").splitlines())
    monkeypatch.setattr(builder, "SOURCES", sources)
    monkeypatch.setattr(builder, "OUTPUT", tmp_path / "starting-beliefs.json")
    assert builder.main([]) == 1
    said = capsys.readouterr()
    assert said.out == ""
    assert said.err == (
        f"crops.csv, line {line}: 'skirret' is not in produce.csv; add a row for it there and in "
        "crops.csv. Nothing was written.\n"
    )
    assert not (tmp_path / "starting-beliefs.json").exists()
