"""What would narrow a forecast, in one line: as much as is foretold, and only where it is wide."""

import numpy as np
import pytest
from msgspec.structs import replace

from jarcast import Forecast, Outcome, habits_from
from jarcast.forecast.narrowing import Narrowing
from jarcast.views import narrowing
from jarcast.views.narrowing import narrowing_text


@pytest.fixture(scope="module")
def carrots() -> Forecast:
    return habits_from([]).forecast(
        produce="carrot", cut="sticks", pack="raw", as_bought_g=5000.0, cure_hours=0
    )


def said(carrots: Forecast, monkeypatch: pytest.MonkeyPatch, *found: Narrowing) -> str:
    monkeypatch.setattr(Forecast, "would_narrow", lambda _: found)
    return " ".join(narrowing.narrowing_text(carrots))


@pytest.mark.parametrize(
    ("left", "words"),
    [
        (0.98, "Weigh it once trimmed: the range of jars hardly narrows."),
        (0.9, "Weigh it once trimmed: the range of jars narrows by about a tenth."),
        (0.74, "Weigh it once trimmed: the range of jars narrows by about a quarter."),
        (0.34, "Weigh it once trimmed: the range of jars is then about a third as wide."),
    ],
)
def test_the_next_weight_in_words(
    carrots: Forecast, monkeypatch: pytest.MonkeyPatch, left: float, words: str
) -> None:
    assert said(carrots, monkeypatch, Narrowing("trimmed_g", 0, left, 1.0)) == words


def test_the_first_jars_in_words(carrots: Forecast, monkeypatch: pytest.MonkeyPatch) -> None:
    weigh, read = Narrowing("trimmed_g", 0, 0.7, 1.0), Narrowing("", 3, 0.24, 0.5)
    alone = "Weigh the bowl after 3 jars: the range of jars is then about a quarter as wide."
    assert said(carrots, monkeypatch, read) == alone
    both = said(carrots, monkeypatch, weigh, read)
    assert both.endswith(
        "Weighed before the jars and again after 3, it is about a quarter as wide."
    )


def test_a_weight_that_hardly_narrows_is_not_asked_for_where_jars_do(
    carrots: Forecast, monkeypatch: pytest.MonkeyPatch
) -> None:
    read = Narrowing("", 3, 0.24, 0.5)
    for left in (0.98, 0.9):  # a tenth, too, is not worth a line
        weigh = Narrowing("trimmed_g", 0, left, 1.0)
        assert said(carrots, monkeypatch, weigh, read) == said(carrots, monkeypatch, read)


def test_a_range_that_is_narrow_has_no_such_line(carrots: Forecast) -> None:
    narrow = Outcome(np.linspace(9.0, 11.0, 4096))  # 8 times in 10 within 1.6 jars of 10
    brine = Outcome(np.linspace(2900.0, 3100.0, 4096))
    assert narrowing_text(carrots)
    assert narrowing_text(replace(carrots, jars=narrow, brine_ml=brine)) == []


def test_where_the_brine_alone_is_wide_its_range_is_meant(carrots: Forecast) -> None:
    narrow = Outcome(np.linspace(9.0, 11.0, 4096))
    assert "the range of brine" in narrowing_text(replace(carrots, jars=narrow))[0]
