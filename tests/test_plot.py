"""jarcast.plot: each chart on the Axes given, or on those of a new figure."""

import datetime as dt
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import matplotlib as mpl
import matplotlib.pyplot as plt
import pandas as pd
import pytest

import jarcast
from jarcast.errors import BatchError
from jarcast.trackrecord.hindsight import look_back

pytestmark = pytest.mark.contract


@pytest.fixture(autouse=True)
def _no_window() -> Iterator[None]:
    """Figures are drawn without a screen, and none is left open."""
    before = mpl.get_backend()
    plt.switch_backend("agg")
    yield
    plt.close("all")
    plt.switch_backend(before)


def table(count: int = 3) -> pd.DataFrame:
    return pd.DataFrame([
        {"batch": f"b{n}", "date": dt.date(2025, 7, 1 + n), "produce": "carrot", "cut": "sticks",
         "pack": "raw", "jar": "pint", "jars": 8.0 + n, "as_bought_g": 3300.0, "trimmed_g": 2700.0}
        for n in range(count)
    ])  # fmt: skip


@pytest.fixture(scope="module")
def forecast() -> jarcast.Forecast:
    habits = jarcast.learn(table())
    return habits.forecast(produce="carrot", cut="sticks", trimmed_g=2700.0, cure_hours=0)


def drawn(which: str, forecast: jarcast.Forecast, ax: Any = None) -> Any:
    if which == "forecast":
        return jarcast.plot.forecast(forecast, ax)
    if which == "habits":
        return jarcast.plot.habits(jarcast.learn(table()), table(), ax)
    return jarcast.plot.hindsight(look_back([]), ax)


def words_on(axes: Any) -> set[str]:
    return {text.get_text() for text in axes.texts}


@pytest.mark.parametrize("which", ["forecast", "habits", "hindsight"])
def test_it_is_drawn_on_the_axes_given_and_gives_them_back(
    which: str, forecast: jarcast.Forecast
) -> None:
    _, (left, right) = plt.subplots(1, 2, figsize=(18, 6))
    assert drawn(which, forecast, right) is right
    assert words_on(right)
    assert not words_on(left)
    assert not left.child_axes


@pytest.mark.parametrize("which", ["forecast", "habits", "hindsight"])
def test_without_axes_a_figure_of_its_own_is_made(which: str, forecast: jarcast.Forecast) -> None:
    axes = drawn(which, forecast)
    assert plt.get_fignums() == [axes.figure.number]
    assert axes.get_position().bounds == (0.0, 0.0, 1.0, 1.0)


@pytest.mark.parametrize("which", ["forecast", "habits"])
def test_on_smaller_axes_words_are_as_much_smaller(which: str, forecast: jarcast.Forecast) -> None:
    whole = drawn(which, forecast)
    width, height = whole.figure.get_size_inches()
    half = plt.figure(figsize=(width / 2, height / 2)).add_axes((0.0, 0.0, 1.0, 1.0))
    drawn(which, forecast, half)
    sizes = [
        {text.get_text(): text.get_fontsize() for text in axes.texts} for axes in (whole, half)
    ]
    assert sizes[1] == {words: pytest.approx(size / 2) for words, size in sizes[0].items()}
    for one, other in zip(whole.child_axes, half.child_axes, strict=True):
        assert other.get_position().bounds == pytest.approx(one.get_position().bounds)


def test_settings_of_one_s_own_are_neither_used_nor_changed(forecast: jarcast.Forecast) -> None:
    with mpl.rc_context({"text.color": "red", "font.size": 30.0, "axes.facecolor": "yellow"}):
        axes = drawn("forecast", forecast)
        assert mpl.rcParams["text.color"] == "red"
    assert not {text.get_color() for text in axes.texts} & {"red"}
    assert all(panel.get_facecolor()[:3] == (1.0, 1.0, 1.0) for panel in axes.child_axes)
    assert mpl.get_backend().lower() == "agg"


def test_numbers_on_it_are_the_forecast_s(forecast: jarcast.Forecast) -> None:
    axes = jarcast.plot.forecast(forecast, units="metric")
    litres = forecast.brine_to_make(units=jarcast.measures.Units("metric")) / 1000
    assert any(f"{litres:.2f} l" in text for text in words_on(axes))
    shares = [bar.get_height() for bar in axes.child_axes[0].patches]
    assert sum(shares) == pytest.approx(100.0)


def test_habits_are_those_of_the_table_and_most_are_as_many_as_asked() -> None:
    two = pd.concat([table(), table(2).assign(produce="beet", batch=["x", "y"])])
    axes = jarcast.plot.habits(jarcast.learn(two), two, most=1)
    assert "Carrot, sticks, raw pack \u00b7 3 batches" in words_on(axes)
    assert any("of 2" in text for text in words_on(axes))
    assert "No batches to draw." in words_on(jarcast.plot.habits(jarcast.learn(table().iloc[:0])))


def test_a_table_that_cannot_be_is_refused() -> None:
    with pytest.raises(BatchError, match="jars"):
        jarcast.plot.habits(jarcast.learn(table()), table().assign(jars=-1.0))


def test_loading_the_package_and_its_plots_loads_no_matplotlib() -> None:
    import subprocess
    import sys

    ask = "import jarcast, sys; jarcast.plot.forecast; print('matplotlib' in sys.modules)"
    ran = subprocess.run([sys.executable, "-c", ask], capture_output=True, text=True, check=True)
    assert ran.stdout == "False\n"


def test_hindsight_draws_the_table_that_hindsight_gives() -> None:
    scores = jarcast.hindsight(table(4))
    axes = jarcast.plot.hindsight(scores)
    said = words_on(axes)
    assert "4 batches; forecast from the last weight before the jars" in said
    assert any("b3" in text and "2025-07-04" in text for text in said)
    nothing = jarcast.plot.hindsight(scores.iloc[:0])
    assert "No forecast has been scored yet." in words_on(nothing)


def test_habits_of_a_part_of_the_table_are_drawn(tmp_path: Path) -> None:
    two = pd.concat([table(), table(2).assign(produce="beet", batch=["x", "y"])])
    h = jarcast.learn(two)
    axes = jarcast.plot.habits(h, two[two["produce"] == "carrot"])
    assert "Carrot, sticks, raw pack \u00b7 3 batches" in words_on(axes)
    assert not any("Beet" in text or "of 2" in text for text in words_on(axes))
    two.to_csv(tmp_path / "two.csv", index=False)
    for same in (two, tmp_path / "two.csv", two.to_dict("records"), two.to_dict("list")):
        assert words_on(jarcast.plot.habits(h, same)) == words_on(jarcast.plot.habits(h, two))


WRONG: dict[str, Callable[[jarcast.Forecast], Any]] = {
    "forecast: none": lambda f: jarcast.plot.forecast(None),  # type: ignore[arg-type]
    "forecast: no axes": lambda f: jarcast.plot.forecast(f, 5),  # type: ignore[arg-type]
    "forecast: a figure": lambda f: jarcast.plot.forecast(f, plt.figure()),  # type: ignore[arg-type]
    "forecast: units": lambda f: jarcast.plot.forecast(f, units="imperial"),
    "forecast: level": lambda f: jarcast.plot.forecast(f, level=80),
    "forecast: chance": lambda f: jarcast.plot.forecast(f, short_chance="1"),  # type: ignore[arg-type]
    "habits: none": lambda f: jarcast.plot.habits(f),  # type: ignore[arg-type]
    "habits: a number": lambda f: jarcast.plot.habits(jarcast.learn(table()), 5),
    "habits: most": lambda f: jarcast.plot.habits(jarcast.learn(table()), table(), most="x"),  # type: ignore[arg-type]
    "habits: units": lambda f: jarcast.plot.habits(jarcast.learn(table()), units="imperial"),
    "hindsight: none": lambda f: jarcast.plot.hindsight(None),  # type: ignore[arg-type]
    "hindsight: batches": lambda f: jarcast.plot.hindsight(table()),
    "hindsight: units": lambda f: jarcast.plot.hindsight(look_back([]), units="imperial"),
}


@pytest.mark.parametrize("ask", WRONG.values(), ids=WRONG.keys())
def test_a_wrong_argument_is_told_and_leaves_no_figure(
    ask: Callable[[jarcast.Forecast], Any], forecast: jarcast.Forecast
) -> None:
    with pytest.raises(jarcast.errors.JarcastError) as refusal:
        ask(forecast)
    assert len(str(refusal.value)) > 20
    assert len(plt.get_fignums()) <= 1  # but the one that was given
