"""Cups of trimmed produce as a weight, by what a cup of it is published to weigh.

The weights stand in ``models/sources/cup-weights.csv``, of cups filled loosely. A cook's cup may be
shaken down or heaped, so a count of cups is a range, taken to hold 8 times in 10.
"""

import csv
import math
from functools import cache

from jarcast.domain.containers import Counted
from jarcast.domain.log_range import middle_and_half, reaching
from jarcast.domain.names import cut_key, produce_key
from jarcast.errors import BatchError, MeasureError
from jarcast.files.shipped import shipped
from jarcast.measures import CUP_ML, parse_volume

# Half the range of a cup, as a share. The one tested recipe that gives both for a cut whose cup is
# published: 8 cups of thinly sliced onions are about 3 lb bought (Complete Guide to Home Canning,
# 2015, Guide 6, bread-and-butter pickles), some 153 g a cup once 12 % is trimmed off (USDA Food
# Buying Guide), where a loose cup is 115 g: 0.27 apart in logs.
CUP_SPREAD = 0.3


@cache
def cup_weights() -> tuple[tuple[str, str, float, str], ...]:
    """Produce, cut, grams of a loose cup and the source, as they stand in the table."""
    with shipped("models", "sources", "cup-weights.csv").open(encoding="utf-8", newline="") as file:
        return tuple(
            (row["produce"], row["cut"], float(row["grams_per_cup"]), row["source"])
            for row in csv.DictReader(file)
            if row["kind"] == "loose cup" and not row["left_out"]
        )


def read_cups(text: str, produce: str, cut: str) -> Counted | None:
    """'16 cups' or '3 quarts' of trimmed produce as a range of weight; None where it is no volume.

    A cut that is not published, or not said, is any of the cuts that are. Raises BatchError where
    no cup of this produce is published.
    """
    try:
        cups = parse_volume(text) / float(CUP_ML)
    except MeasureError:
        return None
    if not cups or not any(sign.isalpha() for sign in text):
        return None
    of_it = [row for row in cup_weights() if row[0] == produce_key(produce)]
    rows = [row for row in of_it if row[1] == cut_key(cut)] or of_it
    if not rows:
        raise BatchError(
            f"what a cup of {produce or 'unnamed produce'} weighs is not published; weigh one cup, "
            "and give what all of them weigh"
        )
    middle, half = middle_and_half(min(row[2] for row in rows), max(row[2] for row in rows))
    sources = tuple(dict.fromkeys(row[3] for row in rows))
    grams = reaching(cups * middle, math.hypot(CUP_SPREAD, half))
    return Counted((cups, cups), "cup", *grams, sources)
