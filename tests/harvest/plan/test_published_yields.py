"""From no history: pounds to jars as the published crop quantities have them.

The rows are those of models/sources/crop-quantities.csv (USDA Complete Guide to Home Canning, AIB
539, Guides 3, 4 and 6, and Michigan State University E1887; source and 'seen' stand in each row).
"""

import csv

import pytest

from jarcast.domain.containers import read_counted
from jarcast.files.shipped import shipped
from jarcast.forecast.habits import Habits, habits_from

POUND_G = 453.59237  # exact: NIST Handbook 44, Appendix C

# Quarts from a container, lowest and highest as printed: AIB 539 (Guide 4 unless noted); the last
# four from memory.
QUARTS = [
    ("cucumber", "", "raw", "1 bushel", 16, 24),  # Guide 6
    ("beet", "", "hot", "1 bushel", 15, 20),
    ("green bean", "pieces", "hot", "1 bushel", 12, 20),
    ("lima bean", "", "hot", "1 bushel", 6, 10),
    ("carrot", "slices", "hot", "1 bushel", 17, 25),
    ("asparagus", "spears", "hot", "1 crate", 7, 12),
    ("corn", "kernels", "hot", "1 bushel", 6, 11),
    ("tomato", "whole", "hot", "1 bushel", 15, 21),  # Guide 3
    ("tomatillo", "whole", "hot", "1 bushel", 14, 16),  # Guide 3
    ("pea", "", "hot", "1 bushel", 5, 10),
    ("potato", "", "hot", "1 bag", 18, 22),
    ("sweet potato", "pieces", "hot", "1 bushel", 17, 25),
    ("spinach", "", "hot", "1 bushel", 3, 9),
]


@pytest.fixture(scope="module")
def beginner() -> Habits:
    """The starting beliefs."""
    return habits_from([])


def test_pounds_for_a_canner_load_fill_it_within_the_range(beginner: Habits) -> None:
    held = []
    with shipped("models", "sources", "crop-quantities.csv").open(encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    for row in rows:
        for column, jars, jar in (
            ("lb_per_7_quart_load", 7, "quart"),
            ("lb_per_9_pint_load", 9, "pint"),
        ):
            forecast = beginner.forecast(
                produce=row["produce"], cut=row["cut"], pack=row["pack"], jar=jar,
                as_bought_g=float(row[column]) * POUND_G, cure_hours=0, headspace_in=1.0,
            )  # fmt: skip
            low, high = forecast.jars.interval(0.9)
            held.append(low <= jars <= high)
    assert len(held) == 30
    assert sum(held) / len(held) >= 0.85


def test_a_container_fills_the_printed_number_of_quarts_within_the_range(beginner: Habits) -> None:
    held = []
    for produce, cut, pack, containers, low_jars, high_jars in QUARTS:
        counted = read_counted(containers, produce)
        assert counted is not None
        forecast = beginner.forecast(
            produce=produce, cut=cut, pack=pack, jar="quart", cure_hours=0, headspace_in=1.0,
            as_bought_g=(counted.low_g, counted.high_g),
        )  # fmt: skip
        low, high = forecast.jars.interval(0.9)
        held.append(low <= (low_jars + high_jars) / 2 <= high)
    assert sum(held) / len(held) >= 0.85
