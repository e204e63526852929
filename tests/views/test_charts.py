"""Charts: what is drawn lies where its numbers say, reads in grey, and is the same each time."""

import datetime as dt
import re
import struct
import xml.etree.ElementTree as ET
from itertools import combinations
from typing import Any
from unittest import mock

import numpy as np
import pytest
from matplotlib.colors import to_rgb
from msgspec.structs import replace

from jarcast.domain.batch import Batch
from jarcast.forecast.answer import Forecast
from jarcast.forecast.habits import habits_from
from jarcast.forecast.outcome import Outcome
from jarcast.measures import Units
from jarcast.trackrecord.hindsight import TrackRecord, look_back
from jarcast.trackrecord.replay import as_one_import
from jarcast.trackrecord.summary import summarise
from jarcast.trackrecord.trends import CropInTime, habits_in_time
from jarcast.views.charts import chart_bytes, palette
from jarcast.views.charts.forecast import forecast_chart
from jarcast.views.charts.habits import habit_chart, habits_chart
from jarcast.views.charts.hindsight import MOST, calibration_chart, came_chart, hindsight_chart

CUP_ML = 236.5882365  # NIST Handbook 44, Appendix C
MARK_RGB = to_rgb(palette.MARK)


def forecast(produce: str = "carrot") -> Forecast:
    """Made-up draws: 5 to 15 jars and 0 to 10 cups of brine, evenly."""
    asked = habits_from([]).forecast(produce=produce, cut="sticks", trimmed_g=2700.0, cure_hours=0)
    jars = Outcome(np.linspace(5.0, 15.0, 10_001))
    brine = Outcome(np.linspace(0.0, 10.0, 10_001) * CUP_ML)
    return replace(asked, jars=jars, jars_by_sort=(jars,), brine_ml=brine, brine_to_come_ml=brine)


@pytest.fixture(scope="module")
def batches() -> list[Batch]:
    day = dt.date(2023, 7, 1)
    return [
        Batch(batch=str(n), date=day + dt.timedelta(days=20 * n), produce="carrot", cut="sticks",
              pack="raw", jar=("pint",), jars=(8.0 + 0.5 * (n % 3),), as_bought_g=3000.0 + 50.0 * n,
              trimmed_g=2400.0 + 20.0 * n, cure_hours=0.0, brine_made_ml=2400.0,
              brine_left_ml=300.0 + 10.0 * n)
        for n in range(12)
    ]  # fmt: skip


@pytest.fixture(scope="module")
def record(batches: list[Batch]) -> TrackRecord:
    return look_back(as_one_import(batches), jobs=1).replayed


@pytest.fixture(scope="module")
def crop(batches: list[Batch]) -> CropInTime:
    habits = habits_from(batches)
    return habits_in_time(habits, batches, summarise(habits, batches))[0]


def titles(figure: Any) -> list[str]:
    return [axes.get_title(loc="left") for axes in figure.axes]


def words_of(figure: Any) -> list[str]:
    """Everything written on a chart, its panels included."""
    from matplotlib.text import Text

    return [text.get_text() for text in figure.findobj(Text) if text.get_text()]


def panels(figure: Any) -> list[Any]:
    return figure.axes[0].child_axes


# What is drawn


def test_the_answer_is_the_title_and_the_largest() -> None:
    figure = forecast_chart(forecast(), Units.US)
    sizes = {text.get_text(): text.get_fontsize() for text in figure.axes[0].texts}
    assert "About 10 pints" in sizes
    assert max(sizes, key=lambda text: sizes[text]) == "About 10 pints"
    assert "8 times in 10: 6 to 14" in sizes
    assert "1 chance in 20 of running short" in sizes


def test_bars_of_jars_carry_the_batches_of_a_hundred() -> None:
    bars = panels(forecast_chart(forecast(), Units.US))[0]
    heights = {round(bar.get_x() + bar.get_width() / 2): bar.get_height() for bar in bars.patches}
    # An even spread over 10 jars: 10 batches of 100 a jar, and half of that at either end.
    assert heights == pytest.approx({5: 5, **dict.fromkeys(range(6, 15), 10), 15: 5}, abs=0.1)
    assert [text.get_text() for text in bars.texts] == ["5", *["10"] * 9, "5"]
    assert [label.get_text() for label in bars.get_xticklabels()] == [str(n) for n in range(5, 16)]
    assert not bars.spines["left"].get_visible()  # no axis of counts beside the counts


def test_bars_outside_the_range_are_pale_with_an_edge() -> None:
    bars = panels(forecast_chart(forecast(), Units.US))[0].patches
    pale = {
        round(bar.get_x() + bar.get_width() / 2)
        for bar in bars
        if to_rgb(bar.get_facecolor()) == to_rgb(palette.PALE)
    }
    assert pale == {5, 15}  # 8 times in 10 of an even spread from 5 to 15: 6 to 14
    assert {to_rgb(bar.get_edgecolor()) for bar in bars} == {to_rgb(palette.OWN)}


def test_wide_bars_say_how_many_counts_they_take_in() -> None:
    wide = Outcome(np.linspace(10.0, 90.0, 10_001))
    figure = forecast_chart(replace(forecast(), jars=wide, jars_by_sort=(wide,)), Units.US)
    assert any("a bar takes in 5 of them" in text for text in words_of(figure))


def test_the_amount_to_make_is_a_post_in_the_kitchen_s_units() -> None:
    for units, due, name in ((Units.US, 9.5, "cups"), (Units.METRIC, 2.3, "litres")):
        # 95 of 100 parts of 10 cups are 9 1/2 cups, 2247.6 ml: 2.3 l by steps of 100 ml.
        rail = panels(forecast_chart(forecast(), units))[1]
        assert rail.get_xlabel().startswith(name)
        post = [line.get_xdata() for line in rail.lines if to_rgb(line.get_color()) == MARK_RGB]
        assert post == [pytest.approx([due, due])]
        band, dot = rail.lines[0].get_xdata(), rail.lines[1].get_xdata()
        cups = 1.0 if units is Units.US else CUP_ML / 1000
        assert list(band) == pytest.approx([1.0 * cups, 9.0 * cups], rel=1e-3)  # the middle 80 %
        assert list(dot) == pytest.approx([5.0 * cups], rel=1e-3)


def test_without_a_brine_there_is_no_rail() -> None:
    asked = habits_from([]).forecast(produce="cabbage", cut="shredded", trimmed_g=2700.0,
                                     salt_g=60.0, cure_hours=500)  # fmt: skip
    figure = forecast_chart(asked, Units.US)
    assert len(panels(figure)) == 1
    assert not any("brine" in text for text in words_of(figure))


def test_habits_are_drawn_with_the_published_value_and_its_range(crop: CropInTime) -> None:
    trim = next(habit for habit in crop.habits if habit.name == "trim yield")
    axes = panels(habit_chart(crop, trim, Units.US))[0]
    band = axes.patches[0].get_extents().transformed(axes.transData.inverted())
    assert (band.y0, band.y1) == pytest.approx(
        (100 * trim.published.low, 100 * trim.published.high)
    )
    flat = next(line for line in axes.lines if line.get_linestyle() == "--")
    assert flat.get_ydata()[0] == pytest.approx(100 * trim.published.middle)
    dots = next(line for line in axes.lines if line.get_marker() == "o")
    assert list(dots.get_ydata()) == pytest.approx([100 * seen.value for seen in trim.seen])


def test_density_is_shown_as_what_is_in_a_jar_of_the_kitchen(crop: CropInTime) -> None:
    density = next(habit for habit in crop.habits if habit.name == "density")
    ounce_g = 28.349523125  # exact: NIST Handbook 44, Appendix C
    for units, title, size in (
        (Units.US, "in a pint, oz", ounce_g),
        (Units.METRIC, "in a pint, g", 1),
    ):
        figure = habits_chart([crop], units)
        assert title in words_of(figure)
        axes = panels(figure)[-1]
        dots = next(line for line in axes.lines if line.get_marker() == "o")
        due = [seen.value * crop.fill_ml / size for seen in density.seen]
        assert list(dots.get_ydata()) == pytest.approx(due)


def test_crops_and_days_are_named_and_a_limit_is_said(crop: CropInTime) -> None:
    words = words_of(habits_chart([crop], Units.US, of=9))
    assert "Carrot, sticks, raw pack · 12 batches" in words
    assert "Jul 1, 2023" in words
    assert "Feb 6, 2024" in words  # 220 days on: 31 + 31 + 30 + 31 + 30 + 31 from July 1, and 36
    assert any("The crop you put up most, of 9" in text for text in words)
    assert not any("of 1;" in text for text in words_of(habits_chart([crop], Units.US, of=1)))


def test_one_batch_has_an_axis_of_days(batches: list[Batch]) -> None:
    one = batches[:1]
    habits = habits_from(one)
    (crop,) = habits_in_time(habits, one, summarise(habits, one))
    axes = panels(habits_chart([crop], Units.US))[0]
    low, high = axes.get_xlim()  # in days
    assert high - low == pytest.approx(2.0)
    assert [label.get_text() for label in axes.get_xticklabels()] == ["Jul 1, 2023"]


def test_ranges_and_what_came_stand_in_a_row_for_each_batch(record: TrackRecord) -> None:
    axes = panels(hindsight_chart(record, Units.US))[0]
    rows = {line.get_ydata()[0]: line for line in axes.lines if line.get_linewidth() == 4}
    signs = [line for line in axes.lines if len(line.get_xdata()) == 1]
    assert len(rows) == len(signs) == 12
    for sign in signs:
        low, high = rows[sign.get_ydata()[0]].get_xdata()
        inside = low <= sign.get_xdata()[0] <= high
        assert sign.get_marker() == ("o" if inside else "D")


def test_rows_are_the_newest_batches_by_date_and_name_and_shares_of_their_forecast(
    record: TrackRecord,
) -> None:
    figure = hindsight_chart(record, Units.US)
    words = words_of(figure)
    names = [text for text in words if "carrot, sticks" in text]
    assert names[0] == "2024-02-06 · 11 · carrot, sticks"
    assert names[-1] == "2023-07-01 · 0 · carrot, sticks"
    assert "8 pints" in words
    assert "9 pints" in words
    last = max(record.scored, key=lambda one: (one.date, one.stored.stage == "trimmed_g"))
    sign = next(line for line in panels(figure)[0].lines if len(line.get_xdata()) == 1)
    assert sign.get_xdata()[0] == pytest.approx(last.jars.was / last.stored.jars.median)


def test_no_more_rows_are_drawn_than_can_be_read_and_that_is_said(record: TrackRecord) -> None:
    many = [replace(one, stored=replace(one.stored, batch=f"{one.stored.batch} {n}"))
            for one in record.scored for n in range(40)]  # fmt: skip
    figure = hindsight_chart(replace(record, scored=tuple(many)), Units.US)
    assert len([text for text in words_of(figure) if "carrot, sticks" in text]) == MOST
    assert any(f"The latest {MOST} of 480 batches" in text for text in words_of(figure))


def test_calibration_shows_how_often_ranges_held_and_their_band(record: TrackRecord) -> None:
    axes = panels(calibration_chart(record.groups[0], "jars"))[0]
    held = record.groups[0].jars.held
    shares = [line.get_xdata()[0] for line in axes.lines if len(line.get_xdata()) == 1]
    assert shares == pytest.approx([100 * one.times / one.of for one in held])
    bands = [(bar.get_x(), bar.get_x() + bar.get_width()) for bar in axes.patches]
    from scipy.stats import binom  # the reference for the band

    due = [tuple(100 * binom.ppf(p, 12, one.chance) / 12 for p in (0.025, 0.975)) for one in held]
    assert bands == [pytest.approx(band) for band in due]


def test_with_nothing_to_draw_a_chart_says_so() -> None:
    for figure in (habits_chart((), Units.US), hindsight_chart(look_back([]).replayed, Units.US)):
        assert any(text.startswith("No ") for text in words_of(figure))
        assert panels(figure) == []


# How it is drawn


def luminance(color: str) -> float:
    """Relative luminance of an sRGB colour (WCAG 2.2, 'relative luminance')."""
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in to_rgb(color)]
    return sum(weight * c for weight, c in zip((0.2126, 0.7152, 0.0722), linear, strict=True))


def contrast(one: str, other: str) -> float:
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


@pytest.mark.parametrize("dark", [False, True])
def test_inks_stand_apart_in_grey_by_day_and_by_night(dark: bool) -> None:
    def ink(name: str) -> str:
        light = getattr(palette, name)
        return palette.DARK[light] if dark else light

    # WCAG 2.2, 1.4.11: parts of a graphic by 3 to 1; 1.4.3: words by 4.5 to 1.
    for pair in (("OWN", "SOFT"), ("OWN", "PUBLISHED"), ("OWN", "PAPER"), ("MARK", "PUBLISHED"),
                 ("PUBLISHED_LINE", "PUBLISHED")):  # fmt: skip
        assert contrast(ink(pair[0]), ink(pair[1])) >= 3.0, pair
    for words in ("INK", "MARK", "QUIET"):
        assert contrast(ink(words), ink("PAPER")) >= 4.5, words


def test_every_colour_of_a_chart_has_a_partner_on_a_dark_screen(
    crop: CropInTime, record: TrackRecord
) -> None:
    figures = (forecast_chart(forecast(), Units.US), habits_chart([crop], Units.US),
               hindsight_chart(record, Units.US))  # fmt: skip
    for figure in figures:
        drawn, _, style = chart_bytes(figure, "svg").decode().partition("<style>@media")
        found = set(re.findall(r"(?:fill|stroke): (#[0-9a-f]{6})", drawn))
        assert len(found) > 4
        assert found <= palette.DARK.keys()
        assert style.startswith(" screen and (prefers-color-scheme: dark)")
        assert all(palette.DARK[color] in style for color in found)


def test_a_png_and_a_page_s_drawing_hold_no_rules_of_their_own(crop: CropInTime) -> None:
    drawn = chart_bytes(habits_chart([crop], Units.US), "svg", within=True)
    assert b"prefers-color-scheme" not in drawn


# Red and green blindness by Machado, Oliveira and Fernandes (2009), IEEE TVCG 15, 1291-1298,
# severity 1.0; matrices on linear RGB, from memory.
BLIND = {
    "deuteranopia": [(0.367322, 0.860646, -0.227968), (0.280085, 0.672501, 0.047413),
                     (-0.011820, 0.042940, 0.968881)],
    "protanopia": [(0.152286, 1.052583, -0.204868), (0.114503, 0.786281, 0.099216),
                   (-0.003882, -0.048116, 1.051998)],
}  # fmt: skip


@pytest.mark.parametrize("eyes", BLIND)
def test_filled_and_hollow_signs_and_bands_stay_apart_to_colour_blind_eyes(eyes: str) -> None:
    def seen(color: str) -> Any:
        linear = np.array([c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4
                           for c in to_rgb(color)])  # fmt: skip
        return np.clip(np.array(BLIND[eyes]) @ linear, 0.0, 1.0)

    for one, other in combinations((palette.OWN, palette.SOFT, palette.PUBLISHED), 2):
        lightness = [float(np.dot((0.2126, 0.7152, 0.0722), seen(c))) for c in (one, other)]
        assert (max(lightness) + 0.05) / (min(lightness) + 0.05) >= 1.5


def assert_whole(figure: Any) -> None:
    """Nothing is cut off by the figure's edge, and no words lie on others."""
    from matplotlib.text import Text

    drawn: list[Text] = []  # numbers beyond the end of an axis are there, and are not drawn

    def draw(text: Text, *given: Any) -> None:
        drawn.append(text)
        original(text, *given)

    original = Text.draw
    with mock.patch.object(Text, "draw", draw):
        chart_bytes(figure, "svg")
    shown = [text for text in drawn if text.get_text().strip() and text.get_visible()]
    boxes = [(text.get_text(), text.get_window_extent()) for text in shown]
    assert len(boxes) > 5
    for text, box in boxes:
        assert figure.bbox.x0 <= box.x0 < box.x1 <= figure.bbox.x1, text
        assert figure.bbox.y0 <= box.y0 < box.y1 <= figure.bbox.y1, text
    for (one, a), (other, b) in combinations(boxes, 2):
        across = min(a.x1, b.x1) - max(a.x0, b.x0)
        down = min(a.y1, b.y1) - max(a.y0, b.y0)
        # A box is as high as its tallest letter could be: lines may touch by an eighth of one.
        assert across <= 1.0 or down <= 0.125 * min(a.height, b.height), (one, other)


LONG = "Grandmother's carrots from the upper garden " * 4


@pytest.mark.parametrize(
    ("units", "many", "name"),
    [(Units.US, 1, "carrot"), (Units.METRIC, 1000, "carrot"), (Units.US, 1000, LONG)],
)
def test_no_words_are_clipped_or_lie_on_others(
    batches: list[Batch], units: Units, many: int, name: str
) -> None:
    fields = ("as_bought_g", "trimmed_g", "brine_made_ml", "brine_left_ml")
    large = [
        replace(batch, batch=f"{name} {batch.batch}", produce=name, jars=(many * batch.jars[0],),
                **{field: many * getattr(batch, field) for field in fields})
        for batch in batches
    ]  # fmt: skip
    habits = habits_from(large)
    crop = habits_in_time(habits, large, summarise(habits, large))[0]
    record = look_back(as_one_import(large), jobs=1).replayed
    asked = habits.forecast(produce=name, cut="sticks", trimmed_g=2700.0 * many, cure_hours=0)
    for figure in (
        forecast_chart(asked, units),
        habits_chart([crop], units, of=3),
        hindsight_chart(record, units),
        came_chart(record, units, "jars"),
        came_chart(record, units, "brine_ml"),
        calibration_chart(record.groups[0], "brine_ml"),
    ):
        assert_whole(figure)


@pytest.mark.parametrize("count", [1, 2])
def test_a_legend_is_whole_beside_few_batches(batches: list[Batch], count: int) -> None:
    few = batches[:count]
    habits = habits_from(few)
    crops = habits_in_time(habits, few, summarise(habits, few))
    for figure in (
        habits_chart(crops, Units.US),
        hindsight_chart(look_back(as_one_import(few), jobs=1).replayed, Units.US),
    ):
        assert_whole(figure)
        legend = figure.axes[0].get_legend().get_window_extent()
        assert figure.bbox.x0 <= legend.x0 < legend.x1 <= figure.bbox.x1
        assert figure.bbox.y0 <= legend.y0 < legend.y1 <= figure.bbox.y1


def test_letters_are_outlines_and_nothing_is_fetched() -> None:
    text = chart_bytes(forecast_chart(forecast(), Units.US), "svg").decode()
    tags = {element.tag.rpartition("}")[2] for element in ET.fromstring(text).iter()}  # noqa: S314
    assert "path" in tags
    assert not tags & {"text", "image", "script"}


@pytest.mark.parametrize("kind", ["svg", "png"])
def test_the_same_chart_is_the_same_file(kind: str) -> None:
    first, second = (chart_bytes(forecast_chart(forecast(), Units.US), kind) for _ in range(2))
    assert first == second
    assert b"date" not in first.lower()


def test_a_png_prints_at_two_hundred_dots_an_inch() -> None:
    png = chart_bytes(forecast_chart(forecast(), Units.US), "png")
    assert png[:8] == b"\x89PNG\r\n\x1a\n"  # ISO/IEC 15948, 5.2
    width, _ = struct.unpack(">II", png[16:24])
    assert width == 1280  # 6.4 in


@pytest.mark.parametrize(
    "name", ["$x^{", "\U0001f955", "\u05d2\u05d6\u05e8", "<b>", "long " * 3000]
)
def test_any_name_can_be_drawn(name: str) -> None:
    svg = chart_bytes(forecast_chart(forecast(name), Units.US), "svg")
    assert ET.fromstring(svg.decode()).tag.endswith("svg")  # noqa: S314
    assert len(svg) < 400_000
