"""What goes into each jar goes by the jars filled, whatever brine is made.

USDA Complete Guide to Home Canning (AIB 539, revised 2015), Guide 6: pickled bell peppers have 1/4
tsp of salt in each half-pint, 1/2 tsp in each pint, and none in the liquid (p. 6-21).
"""

import pytest

from jarcast.measures import TSP_ML, Units
from jarcast.recipes import (
    Kind,
    Scaled,
    each_jar,
    each_jar_text,
    safety_block,
    scale_for_jars,
    scale_to_volume,
    shipped_recipes,
)

PEPPERS = shipped_recipes()["pickled-bell-peppers"]


def salt_for_the_jars(scaled: Scaled) -> str:
    (line,) = (line for line in scaled.shopping if line.name == "canning salt for the jars")
    return line.text.removeprefix("canning salt for the jars: ")


@pytest.mark.parametrize(
    ("jars", "salt"),
    [
        ([(12.0, "half-pint")], "1 tbsp"),  # 12 times 1/4 tsp are 3 tsp
        ([(9.0, "pint")], "1 tbsp + 1½ tsp"),  # 9 times ½ tsp, as the Guide adds it up
        ([(4.0, "half-pint"), (4.0, "pint-wide")], "1 tbsp"),  # 1 tsp and 2 tsp
        ([(2.5, "pint")], "1½ tsp"),  # a part-full jar takes its salt too
    ],
)
def test_salt_in_the_jars_goes_by_their_number_and_size(
    jars: list[tuple[float, str]], salt: str
) -> None:
    assert salt_for_the_jars(scale_for_jars(PEPPERS, jars)) == salt


def test_more_brine_puts_no_salt_into_it() -> None:
    for times in (0.3, 1.0, 5.0):
        scaled = scale_to_volume(PEPPERS, 1000.0 * times, Units.US)
        assert not any(part.ingredient.kind is Kind.SALT for part in scaled.brine)


def test_each_size_of_jar_says_what_goes_into_it() -> None:
    pint, half = (each_jar(PEPPERS, size)[0] for size in ("pint", "half-pint"))
    assert pint.ml == pytest.approx(float(TSP_ML) / 2)
    assert half.ml == pytest.approx(float(TSP_ML) / 4)
    assert each_jar_text(PEPPERS, ["half-pint", "half-pint"]) == [
        "in each half-pint: ¼ tsp canning salt, ½ clove garlic"
    ]
    block = safety_block(PEPPERS, "pint-wide", altitude_ft=0)
    assert "in each pint: ½ tsp canning salt, 1 clove garlic (by the jars filled" in block
    assert "5 min, in sterile jars" in block


def test_a_card_that_puts_nothing_into_its_jars_says_nothing_of_it() -> None:
    carrots = shipped_recipes()["pickled-beets"]
    assert each_jar_text(carrots, ["pint"]) == []
    assert "in each" not in safety_block(carrots, "pint")
