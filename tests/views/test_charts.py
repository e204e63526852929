"""Charts: what is drawn lies where its numbers say, reads in grey, and is the same each time."""

import datetime as dt
import struct
import xml.etree.ElementTree as ET
from itertools import combinations, pairwise
from typing import Any

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
from jarcast.views.charts import chart_bytes, style
from jarcast.views.charts.forecast import forecast_chart
from jarcast.views.charts.habits import crop_chart, habits_chart
from jarcast.views.charts.hindsight import calibration_chart, came_chart, hindsight_chart

CUP_ML = 236.5882365  # NIST Handbook 44, Appendix C


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


# What is drawn


def test_bars_of_jars_are_the_batches_of_a_hundred() -> None:
    above, _ = forecast_chart(forecast(), Units.US).axes
    heights = {round(bar.get_x() + bar.get_width() / 2): bar.get_height() for bar in above.patches}
    # An even spread over 10 jars: 10 batches of 100 a jar, and half of that at either end.
    assert heights == pytest.approx({5: 5, **dict.fromkeys(range(6, 15), 10), 15: 5}, abs=0.1)
    assert titles(above.figure)[0] == "About 10 pints; 8 times in 10 between 6 and 14"


def test_the_amount_to_make_is_marked_in_the_kitchen_s_units() -> None:
    for units, due, name in ((Units.US, 9.5, "cups"), (Units.METRIC, 2.3, "litres")):
        # 95 of 100 parts of 10 cups are 9 1/2 cups, 2247.6 ml: 2.3 l by steps of 100 ml.
        below = forecast_chart(forecast(), units).axes[1]
        assert below.get_xlabel().startswith(name)
        marked = [line.get_xdata() for line in below.lines if line.get_linewidth() > 2]
        assert marked == [pytest.approx([due, due])]


def test_what_the_order_will_not_do_for_is_hatched() -> None:
    below = forecast_chart(forecast(), Units.US).axes[1]
    hatched = [bar for bar in below.patches if bar.get_hatch() and bar.get_height() > 0]
    assert hatched
    assert min(bar.get_x() for bar in hatched) >= 9.5 - 1e-6
    assert sum(bar.get_height() for bar in hatched) == pytest.approx(500, abs=2)  # 5 in 100


def test_habits_are_drawn_with_the_published_value_and_its_range(crop: CropInTime) -> None:
    trim = next(habit for habit in crop.habits if habit.name == "trim yield")
    axes = crop_chart(crop, Units.US).axes[0]
    assert axes.get_title(loc="left") == "Left after trimming, %"
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
        (Units.US, "In a pint, oz", ounce_g),
        (Units.METRIC, "In a pint, g", 1),
    ):
        axes = crop_chart(crop, units).axes[-1]
        assert axes.get_title(loc="left") == title
        dots = next(line for line in axes.lines if line.get_marker() == "o")
        due = [seen.value * crop.fill_ml / size for seen in density.seen]
        assert list(dots.get_ydata()) == pytest.approx(due)


def test_ranges_and_what_came_stand_side_by_side(record: TrackRecord) -> None:
    axes = hindsight_chart(record, Units.US).axes[0]
    lines = [line for line in axes.lines if len(line.get_xdata()) == 2]
    signs = [line for line in axes.lines if len(line.get_xdata()) == 1]
    assert len(lines) == len(signs) == 12
    for line, sign in zip(lines, signs, strict=True):
        low, high = line.get_ydata()
        inside = low <= sign.get_ydata()[0] <= high
        assert sign.get_marker() == ("o" if inside else "D")


def test_calibration_shows_how_often_ranges_held_and_their_band(record: TrackRecord) -> None:
    axes = calibration_chart(record.groups[0], "jars").axes[0]
    held = record.groups[0].jars.held
    shares = [line.get_xdata()[0] for line in axes.lines if len(line.get_xdata()) == 1]
    assert shares == pytest.approx([100 * one.times / one.of for one in held])
    bands = [(bar.get_x(), bar.get_x() + bar.get_width()) for bar in axes.patches]
    from scipy.stats import binom  # the reference for the band

    due = [tuple(100 * binom.ppf(p, 12, one.chance) / 12 for p in (0.025, 0.975)) for one in held]
    assert bands == [pytest.approx(band) for band in due]


def test_with_nothing_to_draw_a_chart_says_so() -> None:
    for figure in (habits_chart((), Units.US), hindsight_chart(look_back([]).replayed, Units.US)):
        assert [text.get_text() for text in figure.texts]
        assert figure.axes == []


# How it is drawn


def luminance(color: str) -> float:
    """Relative luminance of an sRGB colour (WCAG 2.2, 'relative luminance')."""
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in to_rgb(color)]
    return sum(weight * c for weight, c in zip((0.2126, 0.7152, 0.0722), linear, strict=True))


def contrast(one: str, other: str) -> float:
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def test_inks_stand_apart_in_grey() -> None:
    # WCAG 2.2, 1.4.11: parts of a graphic by 3 to 1; 1.4.3: words by 4.5 to 1.
    for pair in ((style.OWN, style.SOFT), (style.OWN, style.PUBLISHED), (style.OWN, "white")):
        assert contrast(*pair) >= 3.0
    for line in (style.MARK, style.PUBLISHED_LINE):
        assert contrast(line, style.PUBLISHED) >= 3.0
    for words in (style.INK, style.MARK):
        assert contrast(words, "white") >= 4.5


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

    for one, other in combinations((style.OWN, style.SOFT, style.PUBLISHED), 2):
        lightness = [float(np.dot((0.2126, 0.7152, 0.0722), seen(c))) for c in (one, other)]
        assert (max(lightness) + 0.05) / (min(lightness) + 0.05) >= 1.5


@pytest.mark.parametrize("units", list(Units))
@pytest.mark.parametrize("many", [1, 1000])
def test_small_charts_have_room_for_the_words_around_their_panels(
    batches: list[Batch], units: Units, many: int
) -> None:
    """Nothing is measured to place them, so it is measured here."""
    large = [
        replace(batch, jars=(many * batch.jars[0],), **{
            name: many * getattr(batch, name)
            for name in ("as_bought_g", "trimmed_g", "brine_made_ml", "brine_left_ml")
        })
        for batch in batches
    ]  # fmt: skip
    habits = habits_from(large)
    crop = habits_in_time(habits, large, summarise(habits, large))[0]
    record = look_back(as_one_import(large), jobs=1).replayed
    for figure in (
        crop_chart(crop, units),
        came_chart(record, units, "jars"),
        came_chart(record, units, "brine_ml"),
        calibration_chart(record.groups[0], "brine_ml"),
    ):
        chart_bytes(figure, "svg")
        legend = figure.legends[0].get_window_extent()
        boxes = [axes.get_tightbbox() for axes in figure.axes]
        for box in (legend, *boxes):
            assert figure.bbox.x0 <= box.x0 < box.x1 <= figure.bbox.x1
            assert figure.bbox.y0 <= box.y0 < box.y1 <= figure.bbox.y1
        for above, below in pairwise([*boxes, legend]):
            assert above.y0 >= below.y1


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
