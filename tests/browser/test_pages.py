"""The pages in a real browser: what is seen, on a phone and on a desk, and what is printed.

Accessibility is checked by axe-core (its rules for WCAG 2.0 to 2.2, A and AA, and its best
practices); the environment variable AXE_CORE names its script, axe.min.js.
"""

import datetime as dt
import os
import re
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from jarcast.batchtable import read_csv
from jarcast.domain.batch import Batch
from jarcast.files.shipped import shipped
from jarcast.forecast.habits import Habits, habits_from
from jarcast.measures import Units
from jarcast.recipes import Place, safety_block, shipped_recipes
from jarcast.trackrecord.hindsight import look_back
from jarcast.trackrecord.replay import as_one_import
from jarcast.trackrecord.summary import summarise
from jarcast.trackrecord.trends import habits_in_time
from jarcast.views.pages.report import Notebook, report_page
from jarcast.views.pages.sheet import sheet_page

pytestmark = pytest.mark.browser

PHONE, DESKTOP = 390, 1280  # CSS pixels
PRINTED = 726  # Letter's width less two margins of 9 mm, at 96 CSS pixels to the inch
A4_IN = (210 / 25.4, 297 / 25.4)  # ISO 216: 210 mm by 297 mm
LETTER_IN = (8.5, 11.0)  # ANSI/ASME Y14.1, size A
PAPERS = {"A4": A4_IN, "Letter": LETTER_IN}
NASTY = "<script>alert(1)</script>"
HEBREW, CARROT_SIGN = "\u05d2\u05d6\u05e8", "\U0001f955"


@pytest.fixture(scope="module")
def history() -> list[Batch]:
    """The demo household's batches, and some with the worst of names and notes."""
    batches = [entry.batch for entry in read_csv(shipped("data_demo", "batches.csv")).entries]
    rest = {"jar": ("pint",), "trimmed_g": 2700.0, "cut": "sticks"}
    day = dt.date(2025, 10, 20)
    for number, (name, note) in enumerate(
        [(NASTY, NASTY), (HEBREW, f"{HEBREW} " * 20), (CARROT_SIGN, "word" * 2500)]
    ):
        batches.append(
            Batch(batch=f"odd {name}", date=day, produce=name, jars=(6.0 + number,), note=note,
                  **rest)
        )  # fmt: skip
    return batches


@pytest.fixture(scope="module")
def habits(history: list[Batch]) -> Habits:
    """What that history taught."""
    return habits_from(history)


@pytest.fixture(scope="module")
def report(history: list[Batch], habits: Habits) -> str:
    """The notebook of that history, all its parts present."""
    found = look_back(as_one_import(history), jobs=1)
    summary = summarise(habits, history)
    book = Notebook(
        batches=history,
        summary=summary,
        slips=(),
        flags=(),
        kept=found.kept,
        replayed=found.replayed,
        crops=habits_in_time(habits, history, summary),
        today=dt.date(2025, 11, 1),
    )
    return report_page(book, Units.US)


@pytest.fixture(scope="module")
def sheet(habits: Habits) -> str:
    """A sheet by a recipe."""
    card = shipped_recipes()["pickled-carrots"]
    forecast = habits.forecast(recipe=card, trimmed_g=2300.0)
    return sheet_page(forecast, Units.US, place=Place(500.0, steam=False))


@pytest.fixture
def seen(browser: Any, tmp_path: Path) -> Callable[..., Any]:
    """Opens a page at a width, from its file."""

    def open_page(page: str, width: int = DESKTOP) -> Any:
        path = tmp_path / "page.html"
        path.write_text(page, encoding="utf-8")
        browser.open(path, width)
        return browser

    return open_page


@pytest.fixture(params=["sheet", "report"])
def page(request: pytest.FixtureRequest) -> str:
    """Each of the pages."""
    text: str = request.getfixturevalue(request.param)
    return text


def sheets_printed(pdf: bytes) -> int:
    """Pages of a PDF: its objects of the type /Page (ISO 32000-1, 7.7.3.3)."""
    return len(re.findall(rb"/Type\s*/Page\b", pdf))


# Both pages


@pytest.mark.parametrize("width", [PHONE, DESKTOP])
def test_nothing_is_wider_than_the_screen(seen: Any, page: str, width: int) -> None:
    assert seen(page, width).told("document.documentElement.scrollWidth") <= width


@pytest.mark.parametrize("width", [PHONE, DESKTOP])
def test_axe_finds_nothing_amiss(seen: Any, page: str, width: int) -> None:
    browser = seen(page, width)
    script = os.environ.get("AXE_CORE", "")
    assert script, "AXE_CORE does not name axe-core's axe.min.js: npm install axe-core"
    browser.told(f"{Path(script).read_text(encoding='utf-8')};0")
    rules = "['wcag2a','wcag2aa','wcag21a','wcag21aa','wcag22aa','best-practice']"
    found = browser.told(f"axe.run({{runOnly: {rules}}})")
    assert [(rule["id"], rule["nodes"][0]["html"]) for rule in found["violations"]] == []
    assert len(found["passes"]) > 15  # it did look


def test_a_page_fetches_nothing_but_itself(seen: Any, page: str) -> None:
    asked = seen(page).asked_for()
    assert len(asked) == 1
    assert asked[0].startswith("file:")


def test_no_page_holds_a_script(seen: Any, page: str) -> None:
    assert seen(page).told("document.scripts.length") == 0


@pytest.fixture
def dark(browser: Any) -> Iterator[None]:
    """A screen that is set to dark."""
    browser.pretend(dark=True)
    yield
    browser.pretend()


@pytest.fixture
def paper(browser: Any) -> Iterator[None]:
    """What is seen is what would be printed."""
    browser.pretend("print")
    yield
    browser.pretend()


def test_on_a_dark_screen_words_can_be_read(dark: None, seen: Any, page: str) -> None:
    """Contrast is axe-core's to measure: WCAG 2.2, 1.4.3."""
    browser = seen(page, PHONE)
    script = os.environ.get("AXE_CORE", "")
    assert script, "AXE_CORE does not name axe-core's axe.min.js: npm install axe-core"
    browser.told(f"{Path(script).read_text(encoding='utf-8')};0")
    found = browser.told("axe.run({runOnly: {type: 'rule', values: ['color-contrast']}})")
    assert [rule["nodes"][0]["html"] for rule in found["violations"]] == []
    assert found["passes"][0]["nodes"]
    assert browser.told("getComputedStyle(document.body).backgroundColor") == "rgb(28, 26, 23)"


def test_on_a_dark_screen_charts_are_dark_and_on_paper_light(
    browser: Any, seen: Any, report: str
) -> None:
    ink = "[...document.querySelectorAll('svg.chart [style*=\"fill: #2d2a26\"]')].map(" \
          "e => getComputedStyle(e).fill)"  # fmt: skip
    for media, due in (("", "rgb(239, 233, 221)"), ("print", "rgb(45, 42, 38)")):
        browser.pretend(media, dark=True)
        try:
            assert set(seen(report).told(ink)) == {due}
        finally:
            browser.pretend()


# The sheet


def test_big_numbers_can_be_read_from_a_metre_away(seen: Any, sheet: str) -> None:
    # A letter of 1/200 of the distance is read with ease (common practice, no source): 5 mm at a
    # metre. A digit is about 0.7 of its type size high, and there are 96 CSS pixels to the inch.
    sizes = seen(sheet).told(
        "[...document.querySelectorAll('.answers .number')]"
        ".map(number => parseFloat(getComputedStyle(number).fontSize))"
    )
    assert len(sizes) == 3
    assert min(sizes) * 0.7 * 25.4 / 96 >= 5.0


def test_the_sheet_shows_the_card_s_block_unbroken(seen: Any, sheet: str) -> None:
    card = shipped_recipes()["pickled-carrots"]
    due = safety_block(card, "pint", pack="hot", altitude_ft=500.0, units=Units.US)
    block = "document.querySelector('.block')"
    assert seen(sheet).told(f"{block}.textContent") == due
    assert seen(sheet).told(f"{block}.getBoundingClientRect().height") > 50


def test_there_is_room_to_write_by_hand(seen: Any, sheet: str) -> None:
    # Ruled paper is 6 to 9 mm a line (common practice, no source).
    heights = seen(sheet).told(
        "[...document.querySelectorAll('.write td')].map(c => c.getBoundingClientRect().height)"
    )
    assert len(heights) >= 6
    assert min(heights) * 25.4 / 96 >= 6.0


def test_on_paper_too_there_is_room_to_write_by_hand(
    paper: None, seen: Any, habits: Habits
) -> None:
    for card in shipped_recipes().values():  # those with much to say are set closer
        stage = "as_bought_g" if str(card.tested.basis) == "as bought" else "trimmed_g"
        page = sheet_page(habits.forecast(recipe=card, **{stage: 3000.0}), Units.US)
        heights = seen(page, PRINTED).told(
            "[...document.querySelectorAll('.write td')].map(c => c.getBoundingClientRect().height)"
        )
        assert min(heights) * 25.4 / 96 >= 6.0, card.name  # as above


def test_the_recipe_s_numbers_are_larger_than_any_words_around_them(
    paper: None, seen: Any, habits: Habits
) -> None:
    card = shipped_recipes()["pickled-carrots"]
    page = sheet_page(
        habits.forecast(recipe=card, trimmed_g=2300.0), Units.US, place=Place(500.0, steam=False)
    )
    browser = seen(page, PRINTED)
    size = "e => parseFloat(getComputedStyle(e).fontSize)"
    band = browser.told(f"[...document.querySelectorAll('.cell .number')].map({size})")
    rest = browser.told(f"[...document.querySelectorAll('.middle *, .small *')].map({size})")
    assert min(band[:3]) > max(rest)  # process, headspace, vinegar


@pytest.mark.parametrize(("feet", "grams"), [(None, 3000.0), (3000.0, 3000.0), (3000.0, 9000.0)])
@pytest.mark.parametrize("units", Units)
def test_every_card_s_sheet_prints_on_one_page(
    seen: Any, habits: Habits, units: Units, feet: float | None, grams: float
) -> None:
    counts = {}
    for key, card in shipped_recipes().items():
        stage = "as_bought_g" if str(card.tested.basis) == "as bought" else "trimmed_g"
        forecast = habits.forecast(recipe=card, **{stage: grams})
        packing = habits.pack_check(forecast, units)
        browser = seen(sheet_page(forecast, units, place=Place(feet, steam=False), packing=packing))
        for name, size in PAPERS.items():
            counts[key, name] = sheets_printed(browser.printed(*size))
    assert len(counts) == len(PAPERS) * len(shipped_recipes())
    assert set(counts.values()) == {1}, counts


@pytest.mark.parametrize("grams", [3000.0, 9000.0])
def test_two_sizes_of_jar_print_on_one_page(seen: Any, habits: Habits, grams: float) -> None:
    counts = {}
    for key, card in shipped_recipes().items():
        if card.safety is None or not {"pint", "quart"} <= {*card.safety.jars}:
            continue
        stage = "as_bought_g" if str(card.tested.basis) == "as bought" else "trimmed_g"
        forecast = habits.forecast(recipe=card, jar="5 pint-wide, then quart", **{stage: grams})
        packing = habits.pack_check(forecast, Units.US)
        browser = seen(sheet_page(forecast, Units.US, packing=packing))
        for name, size in PAPERS.items():
            counts[key, name] = sheets_printed(browser.printed(*size))
    assert len(counts) >= 9 * len(PAPERS)
    assert set(counts.values()) == {1}, counts


@pytest.mark.parametrize("paper_name", PAPERS)
@pytest.mark.parametrize("produce", [NASTY, HEBREW, CARROT_SIGN, "carrot " * 2000])
def test_any_name_prints_on_one_page(
    seen: Any, habits: Habits, produce: str, paper_name: str
) -> None:
    forecast = habits.forecast(produce=produce, trimmed_g=50_000.0, jar="9 pint-wide, then quart")
    browser = seen(sheet_page(forecast, Units.US), PHONE)
    assert browser.told("document.documentElement.scrollWidth") <= PHONE
    assert sheets_printed(browser.printed(*PAPERS[paper_name])) == 1
    shown = browser.told("document.querySelector('h1').textContent")
    assert shown.casefold().startswith(forecast.request.produce[:20].casefold())


# The notebook


def test_the_notebook_shows_every_batch(seen: Any, report: str, history: list[Batch]) -> None:
    names = seen(report).told(
        "[...document.querySelectorAll('.batches .name')].map(n => n.textContent)"
    )
    assert sorted(names) == sorted(batch.batch for batch in history)


def test_in_print_nothing_scrolls_and_nothing_is_cut_off(
    paper: None, seen: Any, report: str
) -> None:
    over = seen(report, PRINTED).told(
        "[...document.querySelectorAll('main *')].filter(e => !e.closest('svg, .unseen')"
        " && (e.getBoundingClientRect().right > innerWidth + 1 || e.scrollWidth > e.clientWidth + 1"
        " && getComputedStyle(e).display != 'inline')).map(e => e.outerHTML.slice(0, 80))"
    )
    assert over == []
    wide = "[...document.querySelectorAll('.wide')].map(e => getComputedStyle(e).overflowX)"
    assert set(seen(report, PRINTED).told(wide)) == {"visible"}


def test_its_charts_are_seen_on_a_phone(seen: Any, report: str) -> None:
    widths = seen(report, PHONE).told(
        "[...document.querySelectorAll('svg.chart')].map(c => c.getBoundingClientRect().width)"
    )
    assert len(widths) >= 6
    assert all(300 <= width <= PHONE for width in widths)


def test_no_two_marks_of_its_charts_share_a_name(seen: Any, report: str) -> None:
    names = seen(report).told("[...document.querySelectorAll('[id]')].map(e => e.id)")
    assert len(names) == len(set(names))


def test_a_long_note_is_folded_and_opens(seen: Any, report: str) -> None:
    browser = seen(report, PHONE)
    folded = "document.querySelector('details')"
    before = browser.told(f"{folded}.getBoundingClientRect().height")
    browser.told(f"{folded}.open = true, 0")
    assert browser.told(f"{folded}.getBoundingClientRect().height") > 10 * before
    assert browser.told("document.documentElement.scrollWidth") <= PHONE
