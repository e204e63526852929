"""A command opens the ledger once, makes no forecast twice, and goes a way that can be followed."""

import os
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from types import CodeType, FrameType
from typing import Any

import pytest

import jarcast
from jarcast.forecast.habits import Habits
from jarcast.ledger import Ledger

Run = Callable[..., Any]
SOURCE = str(Path(jarcast.__file__).resolve().parent) + os.sep

CARROTS = ("--produce", "carrot", "--cut", "sticks")
RECORD = ("record", *CARROTS, "--pack", "raw", "--jar", "pint", "--jars", "9.5")
WEIGHED = (
    "--as-bought", "8 lb", "--trimmed", "6 lb 4 oz", "--cure-hours", "0", "--brine-made", "10 cups",
    "--brine-left", "1 1/2 cups",
)  # fmt: skip
FORECAST = ("forecast", *CARROTS, "--trimmed", "5 lb")
BEGIN = ("begin", *CARROTS, "--as-bought", "8 lb", "--batch", "q")
WEIGH = ("weigh", "--trimmed", "6 lb", "--brine-made", "9 cups")
PACK = ("pack", "--jars", "3", "--produce-left", "3 lb 9 oz", "--pot-left", "5 cups")

KEEP = ("harvest", "--line", "carrot, sticks, pint: 20-35 lb", "--keep", "k")

# Each command, after those that it needs before it.
COMMANDS = (
    (RECORD, ()),
    ((*RECORD, *WEIGHED), ()),
    ((*RECORD, *WEIGHED, "--json", "--units", "metric"), ()),
    (FORECAST, ()),
    ((*FORECAST, "--keep", "next", "--units", "metric"), ()),
    ((*FORECAST, "--json"), ()),
    (BEGIN, ()),
    ((*BEGIN, "--altitude", "900 m", "--units", "metric"), ()),
    (WEIGH, (BEGIN,)),
    ((*WEIGH, "--units", "metric"), (BEGIN,)),
    (PACK, (BEGIN, WEIGH)),
    ((*PACK, "--json"), (BEGIN, WEIGH)),
    (("pack", "--jars", "5", "--pot-left", "3 cups"), (BEGIN, WEIGH, PACK)),
    (("close", "--jars", "8.5", "--brine-left", "1 cup"), (BEGIN, WEIGH, PACK)),
    (("amend", "c1", "trimmed=6 lb 2 oz"), ()),
    (("amend", "c1", "--as-is", "trimmed"), ()),
    (("amend", "q", "trimmed=6 lb 2 oz"), (BEGIN, WEIGH)),
    (("drop", "--yes"), (BEGIN,)),
    (("undo", "--yes"), (BEGIN,)),
    (("withdraw", "c1"), ()),
    (("history", "c1"), ()),
    (("batches",), ()),
    (("habits",), ()),
    (("hindsight",), ()),
    (("buy", "24 pints", *CARROTS), ()),
    (("harvest", "--line", "carrot, sticks, pint: 20-35 lb"), ()),
    (KEEP, ()),
    (("harvest", "k"), (KEEP,)),
    (("harvest",), (KEEP,)),
    (("harvest", "k", "--drop"), (KEEP,)),
    (("kitchen", "--altitude", "900 m", "--units", "metric"), ()),
    (("kitchen", "jars", "add", "tall jar", "--water", "415 g"), ()),
    (("kitchen", "jars", "list"), ()),
    (("recipes", "show", "pickled-beets"), ()),
    (("beliefs", "use", "shipped"), ()),
    (("export",), ()),
    ((), (BEGIN,)),
)


@pytest.fixture
def opened(monkeypatch: pytest.MonkeyPatch) -> list[Path]:
    """The files that are opened as ledgers, as they are opened."""
    seen: list[Path] = []
    really = Ledger.open.__func__  # type: ignore[attr-defined]

    def counted(cls: type[Ledger], path: Path, **more: Any) -> Ledger:
        seen.append(path)
        return really(cls, path, **more)  # type: ignore[no-any-return]

    monkeypatch.setattr(Ledger, "open", classmethod(counted))
    return seen


@pytest.mark.parametrize(
    ("command", "before"),
    COMMANDS,
    ids=[" ".join(command)[:50] or "alone" for command, _ in COMMANDS],
)
def test_a_command_opens_the_ledger_once(
    run: Run,
    filled: Path,
    opened: list[Path],
    command: tuple[str, ...],
    before: tuple[tuple[str, ...], ...],
) -> None:
    for one in before:
        assert run(*one).code == 0
    opened.clear()
    ran = run(*command)
    assert (ran.code, opened) == (0, [filled])


@pytest.mark.parametrize(
    ("command", "before", "most"),
    [
        ((*RECORD, *WEIGHED), (), 0),
        (FORECAST, (), 1),
        (BEGIN, (), 1),
        # Without the note, with it, before the packing, and the one the packing is judged by.
        (PACK, (BEGIN, WEIGH), 4),
    ],
    ids=["record", "forecast", "begin", "pack"],
)  # fmt: skip
def test_no_forecast_is_made_twice(
    run: Run,
    filled: Path,
    monkeypatch: pytest.MonkeyPatch,
    command: tuple[str, ...],
    before: tuple[tuple[str, ...], ...],
    most: int,
) -> None:
    made: list[str] = []
    really = Habits.forecast

    def counted(habits: Habits, **asked: Any) -> Any:
        said = sorted((name, repr(value)) for name, value in asked.items() if value is not None)
        made.append(str(said))
        return really(habits, **asked)

    for one in before:
        assert run(*one).code == 0
    monkeypatch.setattr(Habits, "forecast", counted)
    assert run(*command).code == 0
    assert len(made) == len(set(made)) <= most


@contextmanager
def passed() -> Iterator[set[CodeType]]:
    """The functions of the package that are passed meanwhile; no lambda, no comprehension."""
    found: set[CodeType] = set()

    def note(frame: FrameType, event: str, _: object) -> None:
        code = frame.f_code
        if event == "call" and code.co_filename.startswith(SOURCE) and code.co_name[0] != "<":
            found.add(code)

    before = sys.getprofile()
    sys.setprofile(note)
    try:
        yield found
    finally:
        sys.setprofile(before)


# When this house was measured first, 'record' passed 336 functions in 70 files; six tenths of that.
MOST_FUNCTIONS, MOST_FILES = 201, 42


@pytest.mark.parametrize(("weighed", "apart"), [((), ()), (WEIGHED, ("learning",))])
def test_the_way_of_a_record_can_be_followed(
    run: Run, filled: Path, weighed: tuple[str, ...], apart: tuple[str, ...]
) -> None:
    # What is learned is a subject of its own: a weight is judged by it, and all of it is passed.
    assert run(*RECORD, *weighed).code == 0  # so that everything is imported
    with passed() as found:
        assert run(*RECORD, *weighed).code == 0
    files = {code.co_filename for code in found}
    assert any(name.endswith("readings.py") for name in files), "nothing was written"
    counted = {
        code
        for code in found
        if Path(code.co_filename.removeprefix(SOURCE)).parts[0] not in apart
    }  # fmt: skip
    assert len(counted) <= MOST_FUNCTIONS
    assert len({code.co_filename for code in counted}) <= MOST_FILES
