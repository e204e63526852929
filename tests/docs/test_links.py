"""Links lead somewhere, and every page can be found from the index."""

import re
from pathlib import Path

import pytest

from .pages import DOCS, ROOT, blocks, page_name

_LINK = re.compile(r"!?\[[^\]]*\]\(([^)\s]+)\)")
PAGES = sorted(
    page
    for page in [
        *ROOT.glob("*.md"),
        *DOCS.rglob("*.md"),
        *(ROOT / "models").rglob("*.md"),
        *(ROOT / "data_demo").rglob("*.md"),
        *(ROOT / "tests").rglob("README.md"),
    ]
)


def headings(page: Path) -> set[str]:
    """What the headings of a page are linked by."""
    found = re.findall(r"^#+ (.*)$", page.read_text(encoding="utf-8"), re.MULTILINE)
    return {re.sub(r"[^\w -]", "", one.casefold()).replace(" ", "-") for one in found}


@pytest.mark.parametrize("page", PAGES, ids=page_name)
def test_every_link_of_a_page_leads_somewhere(page: Path) -> None:
    dead = []
    for link in _LINK.findall(page.read_text(encoding="utf-8")):
        if link.startswith(("https://", "http://", "mailto:")):
            continue
        path, _, heading = link.partition("#")
        target = (page.parent / path).resolve() if path else page
        if not target.exists() or (heading and heading not in headings(target)):
            dead.append(link)
    assert dead == []


def test_the_index_names_every_page_of_docs() -> None:
    index = DOCS / "README.md"
    linked = {
        (DOCS / link.partition("#")[0]).resolve()
        for link in _LINK.findall(index.read_text(encoding="utf-8"))
    }
    assert {page for page in DOCS.rglob("*.md") if page != index} - linked == set()


@pytest.mark.parametrize("page", PAGES, ids=page_name)
def test_every_block_of_code_ends_and_names_its_language(page: Path) -> None:
    for block in blocks(page):
        assert block.language in {
            "",
            "console",
            "csv",
            "json",
            "python",
            "sh",
            "text",
            "toml",
        }, f"line {block.line}: {block.language}"


def test_every_test_that_a_page_names_is_there() -> None:
    named = {
        (page.name, path)
        for page in PAGES
        for path in re.findall(r"`(tests/[\w/.]+)`", page.read_text(encoding="utf-8"))
    }
    assert len(named) > 10
    assert {one for one in named if not (ROOT / one[1]).exists()} == set()
