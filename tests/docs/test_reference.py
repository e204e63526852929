"""The reference says what the program says, and every command and answer stands in it."""

import importlib.util
import re
from pathlib import Path
from types import ModuleType

import pytest

import jarcast
from jarcast import errors

from .pages import DOCS

pytestmark = pytest.mark.contract

SOURCE = Path(jarcast.__file__).resolve().parent
AGAIN = "run python docs/make_reference.py"


@pytest.fixture(scope="module")
def make_reference() -> ModuleType:
    """docs/make_reference.py, as a module."""
    spec = importlib.util.spec_from_file_location("make_reference", DOCS / "make_reference.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def text_of(*pages: Path) -> str:
    return "\n".join(page.read_text(encoding="utf-8") for page in pages)


@pytest.mark.parametrize(
    ("page", "made_by"), [("commands.md", "commands_page"), ("python.md", "python_page")]
)
def test_a_made_page_is_what_the_program_says_today(
    make_reference: ModuleType, page: str, made_by: str
) -> None:
    made = getattr(make_reference, made_by)()
    assert text_of(DOCS / "reference" / page) == made, AGAIN


def test_every_public_name_and_error_has_its_place_in_the_python_reference() -> None:
    headings = {
        line.lstrip("# ")
        for line in text_of(DOCS / "reference" / "python.md").splitlines()
        if line.startswith("#")
    }
    names = {f"jarcast.{name}" for name in jarcast.__all__ if not name.startswith("_")}
    names |= {name for name, found in vars(errors).items() if isinstance(found, type)}
    assert names | {"jarcast.learning.ConjugateRegression"} <= headings


def test_every_command_is_used_in_the_tutorial_or_a_how_to(make_reference: ModuleType) -> None:
    text = text_of(*(DOCS / "tutorial").glob("*.md"), *(DOCS / "how-to").glob("*.md"))
    names = list(make_reference.command_names())
    groups = {name.split()[0] for name in names if " " in name}
    missing = [
        name
        for name in names
        if name not in groups and not re.search(rf"jarcast {re.escape(name)}\b", text)
    ]
    assert not missing


# Formats whose name is put together when the answer is: where, and what they come to.
PUT_TOGETHER = {
    "views/counter_documents.py": {"jarcast begin", "jarcast weigh", "jarcast pack"},
    "cli/recipes.py": {"jarcast recipe added"},
    "pooling/write.py": set(),  # a file of beliefs, and no answer
    "forecast/kept.py": set(),  # a file of habits, and no answer
}


def test_every_json_answer_is_described_with_its_version() -> None:
    described = set(
        re.findall(r"`(jarcast [a-z -]+)` ([0-9]+)", text_of(DOCS / "reference" / "json.md"))
    )
    written = {(name, "1") for names in PUT_TOGETHER.values() for name in names}
    for source in SOURCE.rglob("*.py"):
        if "shipped_data" in source.parts:  # data, in a wheel
            continue
        text = source.read_text(encoding="utf-8")
        answers = re.findall(r'"format": "(jarcast [^"]+)",\s*"version": ([0-9]+)', text)
        if text.count('"format":') != len(answers):
            assert source.relative_to(SOURCE).as_posix() in PUT_TOGETHER, source
        written |= set(answers)
    assert len(written) > 30
    assert written - described == set()
