"""What a forecast is asked for: which weight counts, how jars are read, what is refused."""

import math
from decimal import Decimal
from typing import Any

import numpy as np
import pytest

from jarcast import SoFar
from jarcast.domain.jars import SHELF
from jarcast.domain.stages import STAGE_COLUMNS
from jarcast.errors import BatchError, ForecastError
from jarcast.forecast.request import Request, check_request


def request(jar: str = "pint", **values: Any) -> Request:
    given: dict[str, Any] = {
        "produce": "carrot", "cut": "sticks", "pack": "raw", "jar": jar, "cure_hours": None,
        "salt_g": None, "headspace_in": None, "draws": 100, "seed": 0, "shelf": SHELF,
        "weights": {"trimmed_g": 2700.0},
    }  # fmt: skip
    given.update(values)
    return check_request(**given)


def turns(jar: str) -> list[tuple[str, float]]:
    return [(turn.jar.key, turn.count) for turn in request(jar).turns]


@pytest.mark.parametrize(
    ("weights", "stage"),
    [
        ({"as_bought_g": 4000.0}, "as_bought_g"),
        ({"as_bought_g": 4000.0, "trimmed_g": 3300.0}, "trimmed_g"),
        ({"cured_g": 2800.0, "trimmed_g": 3300.0, "as_bought_g": None}, "cured_g"),
        ({"as_bought_g": 4000.0, "cooked_g": 2500.0, "cured_g": None}, "cooked_g"),
    ],
)
def test_the_latest_weight_known_counts(weights: dict[str, float | None], stage: str) -> None:
    found = request(weights=weights)
    assert (found.stage, found.grams) == (stage, weights[stage])


@pytest.mark.parametrize(
    ("weights", "message"),
    [
        (
            {"as_bought_g": 2000.0, "trimmed_g": 4400.0},
            # A pound is 453.59237 g and an ounce its sixteenth (NIST Handbook 44, Appendix C).
            r"trimmed, 4400 g \(9 lb 11 oz\), is more than as bought, 2000 g \(4 lb 6½ oz\); ",
        ),
        (
            {"as_bought_g": 2000.0, "cooked_g": 2500.0},
            r"cooked, 2500 g \(5 lb 8 oz\), is more than as bought, 2000 g",
        ),
    ],
)
def test_a_stage_heavier_than_the_one_before_is_refused(
    weights: dict[str, float], message: str
) -> None:
    with pytest.raises(ForecastError, match=message):
        request(weights=weights)


def test_scales_and_wet_produce_are_allowed_for() -> None:
    # Five per cent heavier is the scale's error and water, as in the record of a batch.
    assert request(weights={"trimmed_g": 2000.0, "cured_g": 2090.0}).grams == 2090.0


def test_names_are_forgiven_case_plural_and_spaces() -> None:
    found = request(produce="  CARROTS ", cut="Stick", pack="Raw Pack", jar=" Wide-mouth Pints ")
    assert (found.produce, found.cut, found.pack) == ("carrot", "sticks", "raw")
    assert found.turns[0].jar.key == "pint-wide"


@pytest.mark.parametrize(
    ("jar", "expected"),
    [
        ("pint", [("pint", math.inf)]),
        ("quarts", [("quart", math.inf)]),
        ("12-oz", [("12-oz", math.inf)]),
        ("1l", [("1l", math.inf)]),
        ("5 pint-wide, then pint", [("pint-wide", 5.0), ("pint", math.inf)]),
        ("5 wide-mouth pints then pints", [("pint-wide", 5.0), ("pint", math.inf)]),
        ("5 x pint-wide; pint", [("pint-wide", 5.0), ("pint", math.inf)]),
        (
            "2 quart, 3 12-oz, then half-pint",
            [("quart", 2.0), ("12-oz", 3.0), ("half-pint", math.inf)],
        ),
        ("10 1l, then 500ml", [("1l", 10.0), ("500ml", math.inf)]),
        ("0 quart, then pint", [("quart", 0.0), ("pint", math.inf)]),
        ("4 1/2 pint, then pint", [("half-pint", 4.0), ("pint", math.inf)]),
    ],
)
def test_an_ordered_list_of_jars_is_read(jar: str, expected: list[tuple[str, float]]) -> None:
    assert turns(jar) == expected


def test_a_jar_holds_what_it_holds_to_this_headspace() -> None:
    # A cylinder of the neck's bore: 2.54 cm an inch is exact (NIST Handbook 44, Appendix C).
    full, usual = (request(headspace_in=inches).turns[0] for inches in (0.0, 0.5))
    gap = math.pi * (full.jar.bore_mm / 20.0) ** 2 * 0.5 * 2.54
    assert full.fill_ml == pytest.approx(16 * 29.5735295625)
    assert full.fill_ml - usual.fill_ml == pytest.approx(gap)
    assert request(headspace_in=None).turns[0].fill_ml == usual.fill_ml


@pytest.mark.parametrize("produce", ["", "   ", "+", "--"])
def test_a_forecast_without_produce_is_refused(produce: str) -> None:
    with pytest.raises(ForecastError, match="needs a produce, such as 'carrot'"):
        request(produce=produce)


@pytest.mark.parametrize("weights", [{}, dict.fromkeys(STAGE_COLUMNS)])
def test_a_forecast_without_a_weight_is_refused(weights: dict[str, None]) -> None:
    with pytest.raises(ForecastError, match="needs a weight: as bought, trimmed, cured or cooked"):
        request(weights=weights)


@pytest.mark.parametrize("grams", [0.0, -5.0, math.nan, math.inf, 1e12])
@pytest.mark.parametrize("stage", STAGE_COLUMNS)
def test_a_weight_that_cannot_be_is_refused_by_name(stage: str, grams: float) -> None:
    name = stage.removesuffix("_g").replace("_", " ")
    shown = "1000000000000 is more" if grams == 1e12 else grams
    with pytest.raises(ForecastError, match=f"^{name}: {shown}"):
        request(weights={stage: grams})


def test_an_earlier_weight_that_cannot_be_is_refused_too() -> None:
    with pytest.raises(ForecastError, match="as bought: nan"):
        request(weights={"as_bought_g": math.nan, "trimmed_g": 2000.0})


@pytest.mark.parametrize(
    ("name", "word"),
    [("cure_hours", "cure hours"), ("salt_g", "salt"), ("headspace_in", "headspace")],
)
@pytest.mark.parametrize("value", [-1.0, math.nan, math.inf, 1e12])
def test_other_amounts_that_cannot_be_are_refused_by_name(
    name: str, word: str, value: float
) -> None:
    shown = "1000000000000 is more" if value == 1e12 else value
    with pytest.raises(ForecastError, match=f"^{word}: {shown}"):
        request(**{name: value})


@pytest.mark.parametrize("name", ["cure_hours", "salt_g", "headspace_in"])
def test_none_of_it_is_an_amount(name: str) -> None:
    assert getattr(request(**{name: 0.0}), name) == 0.0


@pytest.mark.parametrize("draws", [0, -1, 10**9])
def test_a_number_of_draws_that_cannot_be_is_refused(draws: int) -> None:
    with pytest.raises(ForecastError, match=f"draws must be a whole .*; {draws} was given"):
        request(draws=draws)


def test_a_seed_below_zero_is_refused() -> None:
    with pytest.raises(
        ForecastError, match=("a seed must be a whole number, 0 or more; -1 was given")
    ):
        request(seed=-1)


@pytest.mark.parametrize("jar", ["bucket", "3 bucket, then pint", "pint-narrow"])
def test_a_jar_nobody_has_is_refused_with_those_there_are(jar: str) -> None:
    with pytest.raises(BatchError, match=r"there is no jar '.*'; known jars are half-pint"):
        request(jar)


@pytest.mark.parametrize("jar", ["", "  ", ",", "then"])
def test_a_forecast_without_a_jar_is_refused(jar: str) -> None:
    with pytest.raises(ForecastError, match="needs a jar, such as 'pint'"):
        request(jar)


@pytest.mark.parametrize("jar", ["pint-wide, then pint", "quart, 3 pint, half-pint"])
def test_a_list_without_counts_is_refused_with_an_example(jar: str) -> None:
    with pytest.raises(ForecastError, match=r"how many of each sort .*'5 pint-wide, then pint'"):
        request(jar)


@pytest.mark.parametrize(
    "odd",
    [np.array([1.0, 2.0]), np.timedelta64(3, "h"), 10**400, 10**5000],
    ids=["array", "hours", "large", "larger"],
)
@pytest.mark.parametrize("name", ["person", "jar", "trimmed_g", "cure_hours", "salt_g"])
def test_what_is_no_single_text_or_number_is_refused_by_name(name: str, odd: object) -> None:
    given = {"weights": {name: odd}} if name == "trimmed_g" else {name: odd}
    with pytest.raises(ForecastError, match=r"is (not text|no number)"):
        request(**given)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("name", "such_as"),
    [("produce", "carrot"), ("cut", "sticks"), ("pack", "raw"), ("jar", "pint"), ("person", "Bea")],
)
def test_what_is_no_text_is_told_by_an_example_of_its_kind(name: str, such_as: str) -> None:
    with pytest.raises(ForecastError, match=f"{name}: 3 is not text; write it like '{such_as}'"):
        request(**{name: 3})


@pytest.mark.parametrize(("name", "value"), [("draws", True), ("draws", 2.0), ("seed", True)])
def test_yes_and_no_are_no_numbers(name: str, value: Any) -> None:
    with pytest.raises(ForecastError, match=f"; {value} was given"):
        request(**{name: value})


def test_a_range_too_wide_to_tell_anything_is_refused() -> None:
    # As the command line does: '1-20 lb' is an answer, '1-21 lb' a slip.
    with pytest.raises(ForecastError, match="100 to 1e\\+06: a range of 10000 times is too wide"):
        request(weights={"trimmed_g": (100.0, 1e6)})
    assert request(weights={"trimmed_g": (100.0, 2000.0)}).grams == pytest.approx(447.2, abs=0.1)


def test_decimals_are_numbers() -> None:
    number = Decimal("2700")
    found = request(
        weights={"trimmed_g": number}, cure_hours=Decimal(0), salt_g=Decimal(0),
        headspace_in=Decimal("0.5"),
    )  # fmt: skip
    same = request(weights={"trimmed_g": 2700.0}, cure_hours=0.0, salt_g=0.0, headspace_in=0.5)
    assert found == same
    assert request(weights={"trimmed_g": (number, 2 * number)}) == request(
        weights={"trimmed_g": (2700.0, 5400.0)}
    )
    assert SoFar(Decimal(3), produce_g=Decimal("760")) == SoFar(3, produce_g=760.0)
    with pytest.raises(ForecastError, match="is no number"):
        request(weights={"trimmed_g": Decimal("sNaN")})
