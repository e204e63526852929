"""The pages as HTML: everything on them escaped, named and whole, read with html.parser."""

import datetime as dt
import re
import time
from collections import Counter
from html.parser import HTMLParser
from itertools import pairwise
from typing import Any

import pytest
from msgspec.structs import replace

from jarcast.domain.batch import Batch
from jarcast.forecast.habits import Habits, habits_from
from jarcast.learning.slips import Slip
from jarcast.measures import Units
from jarcast.recipes import Place, safety_block, shipped_recipes
from jarcast.trackrecord.hindsight import look_back
from jarcast.trackrecord.replay import as_one_import
from jarcast.trackrecord.summary import summarise
from jarcast.trackrecord.trends import habits_in_time
from jarcast.views.charts import palette
from jarcast.views.forecast import CAUTION, NEVER_LESS
from jarcast.views.pages.filling import big, inline_svg, typeset
from jarcast.views.pages.report import LISTED, Notebook, report_page
from jarcast.views.pages.sheet import sheet_page

NASTY = "<script>alert(1)</script>"
VOID = {"meta", "br", "link", "img", "input", "hr"}  # HTML Living Standard, 13.1.2


class Read(HTMLParser):
    """A page read: its tags in order, the texts in them, and whether each is closed."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.open: list[str] = []
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.texts: dict[str, list[str]] = {}
        self.feed(page)
        self.close()

    def handle_starttag(self, tag: str, attrs: Any) -> None:
        self.tags.append((tag, dict(attrs)))
        if tag not in VOID:
            self.open.append(tag)
            self.texts.setdefault(tag, []).append("")

    def handle_startendtag(self, tag: str, attrs: Any) -> None:
        self.tags.append((tag, dict(attrs)))

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        for tag in set(self.open):
            self.texts[tag][-1] += data


@pytest.fixture(scope="module")
def habits() -> Habits:
    return habits_from([])


def book(batches: list[Batch], **more: Any) -> Notebook:
    habits = habits_from(batches)
    summary = summarise(habits, batches)
    found = look_back(as_one_import(batches), jobs=1)
    given = {
        "slips": (),
        "flags": (),
        "kept": found.kept,
        "replayed": found.replayed,
        "crops": habits_in_time(habits, batches, summary),
        **more,
    }
    return Notebook(batches=batches, summary=summary, today=dt.date(2025, 1, 2), **given)


def batch(number: int, **more: Any) -> Batch:
    given = {"produce": "carrot", "cut": "sticks", "pack": "raw", "jar": ("pint",), "jars": (8.5,),
             "as_bought_g": 3000.0, "trimmed_g": 2400.0, "cure_hours": 0.0,
             "brine_made_ml": 2400.0, "brine_left_ml": 200.0, **more}  # fmt: skip
    date = dt.date(2023, 6, 1) + dt.timedelta(days=number)
    return Batch(batch=f"b{number}", date=date, **given)


def headings(page: Read) -> list[int]:
    return [int(tag[1]) for tag, _ in page.tags if tag in ("h1", "h2", "h3", "h4")]


# Filling


@pytest.mark.parametrize(
    ("text", "due"),
    [("9 1/2", "9½"), ("1/4 cup", "¼ cup"), ("1 2/3 cups", "1⅔ cups"), ("11/2", "11/2"),
     ("4 1/2 to 5", "4½ to 5"), ("1/16", "1/16")],
)  # fmt: skip
def test_fractions_are_set_as_one_sign(text: str, due: str) -> None:
    assert typeset(text) == due


def test_a_measure_is_parted_into_number_and_unit() -> None:
    assert big("12 cups") == ("12", "cups")
    assert big("4 1/2 cups") == ("4½", "cups")
    assert big("2.30 l") == ("2.30", "l")
    assert big("1 gal 2 qt") == ("1\u00a0gal 2\u00a0qt", "")


def test_drawings_of_one_page_keep_their_marks_apart() -> None:
    drawn = b'<?xml version="1.0"?>\n<svg width="9" viewBox="0 0 9 9"><!-- x --><path id="a"/>'
    drawn += b'<use xlink:href="#a" clip-path="url(#b)"/></svg>'
    page = inline_svg(drawn, "one", 'a "b" <c>')
    assert str(page) == (
        '<svg class="chart" role="img" aria-label="a &#34;b&#34; &lt;c&gt;" viewBox="0 0 9 9">'
        '<path id="one-a"/><use href="#one-a" clip-path="url(#one-b)"/></svg>'
    )


# The sheet


def test_the_sheet_has_the_numbers_of_the_forecast(habits: Habits) -> None:
    forecast = habits.forecast(produce="carrot", cut="sticks", trimmed_g=2700.0, cure_hours=0)
    texts = Read(sheet_page(forecast, Units.METRIC)).texts
    assert texts["h1"] == ["Carrot, sticks"]
    words = " ".join(texts["main"][0].split())
    litres = forecast.brine_to_make(units=Units.METRIC) / 1000
    for due in (f"{litres:.2f}", str(forecast.jars_to_have()), "2.70 kg trimmed", CAUTION):
        assert due in words
    assert NEVER_LESS in words


@pytest.mark.parametrize("key", sorted(shipped_recipes()))
@pytest.mark.parametrize("units", Units)
def test_the_block_stands_as_the_card_has_it_byte_for_byte(
    habits: Habits, key: str, units: Units
) -> None:
    card = shipped_recipes()[key]
    stage = "as_bought_g" if str(card.tested.basis) == "as bought" else "trimmed_g"
    forecast = habits.forecast(recipe=card, **{stage: 3000.0})
    page = Read(sheet_page(forecast, units, place=Place(1500.0, steam=False)))
    size = forecast.request.turns[0].jar.key.removesuffix("-wide")
    due = safety_block(card, size, pack=forecast.request.pack, altitude_ft=1500.0, units=units)
    # A newer line right after <pre> is not part of it (HTML Living Standard, 13.1.2.5).
    assert page.texts["pre"] == [f"\n{due}"]


def test_the_formula_is_scaled_as_a_whole(habits: Habits) -> None:
    card = shipped_recipes()["pickled-carrots"]
    forecast = habits.forecast(recipe=card, trimmed_g=3000.0)
    formula = forecast.formula_to_make(0.05, Units.US)
    assert formula is not None
    page = Read(sheet_page(forecast, Units.US))
    rows = [" ".join(text.split()) for text in page.texts["tr"]]
    for portion in formula.brine:
        assert typeset(portion.text) + portion.ingredient.name in rows


def cells(page: str) -> dict[str, str]:
    """The band of the recipe's numbers: what each is of, and what it says."""
    band = re.search('<section class="safety".*?</section>', page, re.DOTALL)
    assert band is not None
    read = Read(band[0]).texts
    return dict(zip(read["h2"], read["div"], strict=True))


def test_the_recipe_s_numbers_stand_right_under_the_answers(habits: Habits) -> None:
    # USDA Complete Guide to Home Canning (AIB 539), Guide 6, p. 6-16, Pickled carrots: pints, hot
    # pack, 1/2-inch headspace, vinegar of 5 percent, 15 min at 0 to 1,000 ft, 20 min to 6,000 ft.
    card = shipped_recipes()["pickled-carrots"]
    forecast = habits.forecast(recipe=card, trimmed_g=3000.0)
    for feet, minutes in ((500.0, "15 min"), (3000.0, "20 min")):
        page = sheet_page(forecast, Units.US, place=Place(feet, steam=False))
        found = cells(page)
        assert list(found) == ["process", "headspace", "vinegar", "jars"]
        assert minutes in found["process"]
        assert "½ in" in found["headspace"]
        assert "5 %" in found["vinegar"]
        assert "pint" in found["jars"]
        assert page.index('class="answers"') < page.index('class="safety"')
        assert page.index('class="safety"') < page.index('class="middle"')


def test_without_an_altitude_the_band_has_every_time_of_the_card(habits: Habits) -> None:
    card = shipped_recipes()["pickled-carrots"]
    found = cells(sheet_page(habits.forecast(recipe=card, trimmed_g=3000.0), Units.US))
    assert all(minutes in found["process"] for minutes in ("15 min", "20 min", "25 min"))


def test_no_forecast_reaches_the_band(habits: Habits) -> None:
    card = shipped_recipes()["pickled-carrots"]
    pages = [
        sheet_page(
            habits.forecast(recipe=card, trimmed_g=grams), Units.US, place=Place(500.0, steam=False)
        )
        for grams in (500.0, 30_000.0)
    ]
    assert cells(pages[0]) == cells(pages[1])


def test_without_a_card_the_band_is_to_be_filled_in_by_hand(habits: Habits) -> None:
    found = cells(sheet_page(habits.forecast(produce="carrot", trimmed_g=2000.0), Units.US))
    assert list(found) == ["process", "headspace", "vinegar", "jars"]
    assert all("from your tested recipe" in text for text in found.values())
    assert not any(sign.isdigit() for text in found.values() for sign in text)


def test_cautions_are_told_by_the_question_they_answer(habits: Habits) -> None:
    card = shipped_recipes()["pickled-carrots"]
    page = Read(sheet_page(habits.forecast(recipe=card, trimmed_g=3000.0), Units.US))
    asked = page.texts["b"]
    assert {"Which vinegar?", "How high do you live?", "Last jar part full?"} <= set(asked)
    assert all(text.endswith("?") for text in asked)


def test_there_are_boxes_for_what_this_batch_goes_through(habits: Habits) -> None:
    def boxes(**asked: Any) -> str:
        page = Read(sheet_page(habits.forecast(produce="carrot", **asked), Units.US))
        return page.texts["table"][-1]

    raw = boxes(as_bought_g=3000.0, pack="raw", cure_hours=0)
    assert all(name in raw for name in ("as bought", "trimmed", "brine made", "jars filled"))
    assert "cooked" not in raw
    assert "cured" not in raw
    assert "cured" in boxes(trimmed_g=3000.0, pack="raw", cure_hours=12)
    assert "cooked" in boxes(trimmed_g=3000.0, pack="hot", cure_hours=0)


# The notebook


def test_the_notebook_holds_habits_record_charts_and_batches() -> None:
    page = Read(report_page(book([batch(n) for n in range(12)]), Units.US))
    assert page.open == []
    words = " ".join(page.texts["main"][0].split())
    for due in ("Carrot, sticks, raw pack", "left after trimming", "80 %", "12 batches",
                "6 lb 10 oz as bought", "8½ pints", "8-in-10 range for jars held"):  # fmt: skip
        assert due in words
    charts = [given for tag, given in page.tags if given.get("class") == "chart"]
    assert len(charts) == 6  # two habits, and of jars and of brine what came and how often
    assert all(chart["role"] == "img" and chart["aria-label"] for chart in charts)


def test_headings_go_down_by_one_and_every_table_has_its_headers(habits: Habits) -> None:
    report = Read(report_page(book([batch(n) for n in range(3)]), Units.US))
    sheet = Read(sheet_page(habits.forecast(produce="carrot", trimmed_g=2000.0), Units.US))
    for page in (report, sheet):
        assert page.open == []
        levels = headings(page)
        assert levels.count(1) == 1
        assert all(after <= before + 1 for before, after in pairwise(levels))
        tags = Counter(tag for tag, _ in page.tags)
        assert tags["table"] == tags["caption"] == tags["thead"]
        assert all(given.get("scope") for tag, given in page.tags if tag == "th")
        assert dict(page.tags)["html"]["lang"] == "en"


def test_with_no_batches_the_notebook_says_so() -> None:
    page = Read(report_page(book([]), Units.US))
    words = " ".join(page.texts["main"][0].split())
    assert "No batches yet" in words
    assert "nothing to look back on" in words
    assert page.open == []


def test_the_notebook_begins_with_what_one_wants_to_know() -> None:
    batches = [batch(n) for n in range(12)] + [batch(400, jars=(3.0,)), batch(410, jars=(4.5,))]
    slip = Slip("b1", "trimmed_g", (), 2.2, 0.9, "pounds typed as kilograms?")
    given = book(batches, slips=[slip])
    page = Read(report_page(given, Units.US))
    glance = [" ".join(text.split()) for text in page.texts["dd"]]
    assert glance[:2] == ["7½", "from 2 batches"]  # of the last year: 3 and 4 1/2
    held = given.replayed.groups[0].jars.held[1]
    assert glance[2] == f"{held.times} of {held.of}"
    assert glance[-2] == "1"
    headings = [" ".join(text.split()) for text in page.texts["h2"]]
    assert headings == ["Worth checking", "Habits", "How forecasts did", "Batches"]


def test_what_has_charts_and_what_has_none_is_said() -> None:
    batches = [batch(0), batch(1), batch(2, produce="okra", cut="whole")]
    given = book(batches, replayed=None)
    both = Read(report_page(given, Units.US))
    drawn = [card["aria-label"] for tag, card in both.tags if card.get("class") == "chart"]
    assert len(drawn) == 4  # two habits of each crop
    assert "more have none" not in both.texts["main"][0]
    one = report_page(replace(given, crops=given.crops[:1]), Units.US)
    assert one.count('class="chart"') == 2
    assert "The 1 crops you put up most have charts; 1 more have none" in one


def test_what_was_left_out_is_said() -> None:
    words = report_page(book([batch(1)], replayed=None), Units.US)
    assert "it was not replayed for this page" in words


def test_on_a_dark_screen_page_and_charts_are_dark() -> None:
    page = report_page(book([batch(1), batch(2)]), Units.US)
    style = Read(page).texts["style"][0]
    assert style.count("@media screen and (prefers-color-scheme: dark)") == 2
    for light, dark in palette.DARK.items():
        assert f'[style*="fill: {light}"]{{fill:{dark} !important}}' in style


def test_what_does_not_fit_is_told() -> None:
    slip = Slip("b1", "trimmed_g", (), 2.2, 0.9, "pounds typed as kilograms?")
    words = Read(report_page(book([batch(1)], slips=[slip]), Units.US)).texts["main"][0]
    assert "b1: trimmed weight looks about 2.2 times too high: pounds typed as kilograms?" in words


# Whatever is written down


@pytest.mark.parametrize(
    "name", [NASTY, "\u05d2\u05d6\u05e8", "\U0001f955", "x" * 10_000, "a\x1b[31mb", '" onload="x']
)
def test_any_name_is_words_and_nothing_else(habits: Habits, name: str) -> None:
    nasty = batch(1, produce=name, cut=name, note=name, recipe=name)
    report = report_page(book([nasty, batch(2)]), Units.US)
    sheet = sheet_page(habits.forecast(produce=name, trimmed_g=900.0), Units.US)
    for page in (report, sheet):
        read = Read(page)
        assert read.open == []
        assert "script" not in {tag for tag, _ in read.tags}
        assert not any(key.startswith("on") for _, given in read.tags for key in given)
        assert "\x1b" not in page
    assert name.replace("\x1b", "\ufffd") in Read(report).texts["main"][0]  # the note, whole


def test_a_page_asks_for_nothing_from_anywhere(habits: Habits) -> None:
    sheet = sheet_page(habits.forecast(produce="carrot", trimmed_g=900.0), Units.US)
    for page in (sheet, report_page(book([batch(1), batch(2)]), Units.US)):
        for tag, given in Read(page).tags:
            assert tag not in ("script", "link", "img", "iframe")
            for key in ("src", "href", "xlink:href"):
                assert (given.get(key) or "#").startswith("#")
        assert "default-src 'none'" in page
        assert "url(http" not in page


def test_five_thousand_batches_make_a_page_in_seconds() -> None:
    batches = [batch(n, trimmed_g=2300.0 + n % 200) for n in range(5000)]
    habits = habits_from(batches)
    summary = summarise(habits, batches)
    none = look_back([])
    started = time.process_time()
    crops = habits_in_time(habits, batches, summary)
    gathered = Notebook(batches=batches, summary=summary, slips=(), flags=(), kept=none.kept,
                        replayed=None, crops=crops)  # fmt: skip
    page = report_page(gathered, Units.US)
    assert time.process_time() - started < 20  # some three on an idle machine
    assert page.count('class="name"') == LISTED == 500
    assert "The latest 500 of 5000 batches are listed" in page
    assert "the 4700 oldest without dots" in page
    assert len(page) < 1_000_000
