"""A line is what the options say: any batch, told in any order, is read as its options are."""

import datetime as dt
import random
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st

from jarcast.app.record import make_entry
from jarcast.domain.batch import Batch
from jarcast.notebook.line import read_line

DAY = dt.date(2024, 8, 31)
CROPS = [
    ("carrot", "sticks"), ("cucumbers", "spears"), ("green beans", "whole"), ("beets", "slices"),
    ("okra", "whole"), ("cauliflower", "florets"),
]  # fmt: skip
# The words that each column may be told by, after its measure.
SAID = {
    "as_bought": ["bought", "as bought", "picked"],
    "trimmed": ["trimmed", "after trimming", "peeled"],
    "salt": ["salt", "canning salt"],
    "cured": ["drained", "after salting"],
    "brine_made": ["brine", "brine made"],
    "brine_left": ["left", "brine left", "left over"],
}
_numbers = st.one_of(
    st.integers(2, 40).map(str),
    st.integers(2, 40).map(lambda whole: f"{whole} 1/2"),
    st.integers(20, 400).map(lambda tenths: f"{tenths / 10:g}"),
)


def measure(*units: str) -> st.SearchStrategy[str]:
    return st.tuples(_numbers, st.sampled_from(units)).map(" ".join)


weights = st.one_of(
    measure("lb", "kg", "pounds"),
    st.tuples(st.integers(1, 30), st.integers(1, 15)).map(lambda two: f"{two[0]} lb {two[1]} oz"),
)
volumes = measure("cups", "qt", "quarts", "litres")
cells = st.fixed_dictionaries(
    {"jars": measure("pints", "quarts", "half pints", "wide pints")},
    optional={
        "as_bought": weights, "trimmed": weights, "cured": weights, "salt": measure("g", "oz"),
        "brine_made": volumes, "brine_left": volumes,
    },
)  # fmt: skip


@settings(max_examples=300, deadline=None)
@given(cells, st.sampled_from(CROPS), st.randoms(use_true_random=False))
def test_a_line_is_read_as_its_options_are(
    options: dict[str, str], crop: tuple[str, str], choose: random.Random
) -> None:
    pieces = [
        " ".join(filter(None, (text, choose.choice(SAID[column]) if column in SAID else "")))
        for column, text in options.items()
    ]
    choose.shuffle(pieces)
    name = f"{crop[0]} {crop[1]}"
    joined = choose.choice([", ", "; ", " -> "]).join(pieces)
    text = choose.choice([f"{name}: {joined}", f"{name}, {joined}", f"{joined}, {name}"])
    line = read_line(text)
    assert line.asked == (), text
    assert line.taken == (), text
    by_line, by_options = read(line.cells), read({"produce": name, **options})
    assert by_line == by_options, text


def read(said: dict[str, Any]) -> Batch:
    return make_entry({**said, "batch": "one"}, DAY).batch
