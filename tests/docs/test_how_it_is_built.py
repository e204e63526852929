"""The page on the way of a weight names every function on it, and none that is not there."""

import ast
import importlib
import re
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from types import CodeType, FrameType

import pytest

import jarcast
from jarcast.app.record import write_down
from jarcast.cli import main
from jarcast.cli.record import record

ROOT = Path(__file__).resolve().parents[2]
SOURCE = Path(jarcast.__file__).resolve().parent
PAGE = ROOT / "docs" / "explanation" / "how-it-is-built.md"

# `ledger/store.Ledger.open`: the file without its ending, then the name in it.
_NAMED = re.compile(r"`((?:[a-z_]+/)*[a-z_]+)\.(?!py`)([A-Za-z_][\w.]*)`")
COMMAND = (
    "record", "--produce", "carrot", "--cut", "sticks", "--pack", "raw", "--as-bought", "8 lb",
    "--trimmed", "6 lb 4 oz", "--cure-hours", "0", "--jar", "pint", "--jars", "9.5",
    "--brine-made", "10 cups", "--brine-left", "1 1/2 cups",
)  # fmt: skip


def named_on_page() -> set[tuple[str, str]]:
    return set(_NAMED.findall(PAGE.read_text(encoding="utf-8")))


@contextmanager
def on_the_way() -> Iterator[set[CodeType]]:
    """Functions of the package from the handler's first line until the batch is written."""
    found: set[CodeType] = set()
    begun = ended = False

    def note(frame: FrameType, event: str, _: object) -> None:
        nonlocal begun, ended
        code = frame.f_code
        begun = begun or code is record.__code__
        if begun and not ended and code.co_filename.startswith(str(SOURCE)):
            found.add(code)
        ended = ended or (event == "return" and code is write_down.__code__)

    before = sys.getprofile()
    sys.setprofile(note)
    try:
        yield found
    finally:
        sys.setprofile(before)
    assert ended, "nothing was written"


def helpers_of_one_line(path: Path) -> set[int]:
    """Lines at which functions begin that say one thing in one line, and do not loop over it."""
    found = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.FunctionDef):
            body = node.body[1:] if ast.get_docstring(node) is not None else node.body
            if len(body) == 1 and body[0].lineno == body[0].end_lineno:
                found.add(min([node.lineno, *(one.lineno for one in node.decorator_list)]))
    return found


@pytest.fixture(scope="module")
def passed(tmp_path_factory: pytest.TempPathFactory) -> set[tuple[str, str]]:
    """Functions passed, as the page names them; lambdas and one-line helpers left out."""
    for _ in range(3):  # in the end all is imported and known, and there is a ledger
        ledger = tmp_path_factory.getbasetemp() / "way.sqlite3"
        with on_the_way() as found, pytest.raises(SystemExit) as ended:
            main([*COMMAND, "--ledger", str(ledger)])
        assert ended.value.code == 0
    names = set()
    for code in found:
        path = Path(code.co_filename)
        if code.co_name[0] != "<" and code.co_firstlineno not in helpers_of_one_line(path):
            place = path.relative_to(SOURCE).with_suffix("").as_posix()
            names.add((place, code.co_qualname))
    return names


def test_the_page_names_every_function_between_the_handler_and_the_write(
    passed: set[tuple[str, str]],
) -> None:
    assert len(passed) > 40  # it is no short way, and all of it was seen
    missing = passed - named_on_page()
    assert not missing, "not named: " + ", ".join(f"{a}.{b}" for a, b in sorted(missing))


def test_every_function_that_the_page_names_is_there() -> None:
    for place, name in sorted(named_on_page()):
        found: object = importlib.import_module("jarcast." + place.replace("/", "."))
        for part in name.split("."):
            assert hasattr(found, part), f"{place}.{name}"
            found = getattr(found, part)


def test_the_way_has_about_a_dozen_hops() -> None:
    # "In about a dozen hops": what was asked for of the way.
    text = PAGE.read_text(encoding="utf-8")
    hops = re.findall(r"^(\d+)\. ", text, re.MULTILINE)
    assert hops == [str(number) for number in range(1, len(hops) + 1)]
    assert 10 <= len(hops) <= 14
