"""A message tells amounts in the measures of the kitchen it is for, and a program in g and ml."""

import threading
from collections.abc import Callable

import pytest

from jarcast.measures import Units
from jarcast.measures.told import both_ways_told, told_to, volumes_told, weight_told, weights_told

CUP_ML, POUND_G = 236.5882365, 453.59237  # NIST Handbook 44, Appendix C


def test_a_program_is_told_grams_and_millilitres() -> None:
    assert weights_told(2835.0, 4.2) == ("2835 g", "4.2 g")
    assert volumes_told(14 * CUP_ML) == ("3312 ml",)
    assert both_ways_told(6.25 * POUND_G) == ("2835 g (6 lb 4 oz)",)


@pytest.mark.parametrize(
    ("units", "weight", "volume"),
    [(Units.US, "6 lb 4 oz", "14 cups"), (Units.METRIC, "2.83 kg", "3.31 l")],
)
def test_a_kitchen_is_told_in_its_own_measures(units: Units, weight: str, volume: str) -> None:
    with told_to(lambda: units):
        assert weight_told(6.25 * POUND_G) == weight
        assert both_ways_told(6.25 * POUND_G) == (weight,)
        assert volumes_told(14 * CUP_ML) == (volume,)
    assert weight_told(6.25 * POUND_G) == "2835 g"


def test_two_amounts_that_differ_never_read_alike() -> None:
    with told_to(lambda: Units.US):
        assert volumes_told(4 * CUP_ML, 4.02 * CUP_ML) == ("946 ml", "951 ml")
        assert volumes_told(4 * CUP_ML, 5 * CUP_ML) == ("4 cups", "5 cups")
        assert volumes_told(4 * CUP_ML, 4 * CUP_ML) == ("4 cups", "4 cups")


def test_another_thread_has_a_kitchen_of_its_own() -> None:
    said: list[str] = []
    with told_to(lambda: Units.US):
        other = threading.Thread(target=lambda: said.append(weight_told(POUND_G)))
        other.start()
        other.join()
    assert said == ["454 g"]


def test_a_kitchen_is_asked_for_its_units_when_there_is_something_to_tell() -> None:
    asked: list[int] = []

    def kitchen() -> Units:
        asked.append(1)
        return Units.US

    asks: Callable[[], Units] = kitchen
    with told_to(asks):
        assert asked == []
        weight_told(POUND_G)
    assert asked == [1]
