"""Whatever is typed is read, or refused by one of jarcast's own errors: nothing else ever comes.

fuzz.py does the same by bytes, and at length.
"""

import math
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from jarcast.batchtable import read_csv, write_csv
from jarcast.errors import BatchError, JarcastError, MeasureError, RecipeError
from jarcast.harvest.plan.parsing import read_plan
from jarcast.measures import (
    parse_hours,
    parse_inches,
    parse_salt,
    parse_volume,
    parse_weight,
)
from jarcast.recipes.parsing import read_card

pytestmark = pytest.mark.xdist_group("alone")

MANY = settings(max_examples=200, deadline=2000, suppress_health_check=[HealthCheck.too_slow])
PIECES = st.sampled_from(
    ["1", "2,5", "1.250,5", "½", "1/2", "1/0", " ", "lb", "oz", "fl oz", "cups", "kg", "+", "-",
     "to", "and", "(", "salt", "kosher", "T", "²", "٣", ".", ",", "in", '"', "h", "9" * 30]
)  # fmt: skip
MEASURE = st.one_of(st.text(max_size=30), st.lists(PIECES, max_size=8).map(" ".join))
CELL = st.one_of(
    st.text(max_size=12), MEASURE,
    st.sampled_from(["", "2024-08-31", "2024-02-30", "pint", "pint + quart", "3 + 4", "nan", "-1"]),
)  # fmt: skip
COLUMN = st.sampled_from(
    ["batch", "date", "produce", "cut", "pack", "jar", "jars", "trimmed", "trimmed_g", "salt",
     "cure_hours", "brine_made", "sealed", "note", "as_bought", "headspace", "recipe", "name", "?"]
)  # fmt: skip


T = TypeVar("T")


def attempt(read: Callable[[], T], error: type[JarcastError]) -> tuple[T | None, str]:
    """What is read, or what it is refused with; any other error is the test's end."""
    try:
        return read(), ""
    except error as refused:
        return None, str(refused)


@pytest.mark.parametrize(
    "read", [parse_weight, parse_volume, parse_hours, parse_inches, parse_salt]
)
@MANY
@given(text=MEASURE)
def test_a_measure_is_a_finite_amount_or_refused_by_its_own_text(
    read: Callable[[str], float], text: str
) -> None:
    value, said = attempt(lambda: read(text), MeasureError)
    if value is None:
        assert said.startswith("'")
        assert "\n" not in said
    else:
        assert math.isfinite(value)
        assert value >= 0.0


@st.composite
def tables(draw: st.DrawFn) -> str:
    """A header of columns and rows of cells, as a careless hand writes them."""
    separator = draw(st.sampled_from([",", ";", "\t"]))
    width = draw(st.integers(1, 8))
    needed = ["batch", "date", "produce", "jar", "jars"] if draw(st.booleans()) else []
    rows = [needed + draw(st.lists(COLUMN, min_size=width, max_size=width))]
    for _ in range(draw(st.integers(0, 4))):
        rows.append(draw(st.lists(CELL, min_size=len(rows[0]), max_size=len(rows[0]) + 1)))
    return draw(st.sampled_from(["\n", "\r\n", "\r"])).join(separator.join(row) for row in rows)


@MANY
@given(text=tables())
def test_a_table_is_taken_in_whole_or_refused_with_every_problem(text: str) -> None:
    with tempfile.TemporaryDirectory() as folder:
        path, again = Path(folder) / "in.csv", Path(folder) / "out.csv"
        path.write_bytes(text.encode("utf-8", "surrogatepass"))
        table, said = attempt(lambda: read_csv(path), BatchError)
        if table is None:
            assert said
            return
        batches = [entry.batch for entry in table.entries]
        write_csv(batches, again)
        assert [entry.batch for entry in read_csv(again).entries] == batches


def _no_card(name: str) -> Any:
    raise RecipeError(f"there is no card '{name[:20]}'")


@MANY
@given(text=tables(), typed=st.lists(MEASURE, max_size=2), ending=st.sampled_from(["csv", "toml"]))
def test_a_plan_is_read_or_refused(text: str, typed: list[str], ending: str) -> None:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / f"plan.{ending}"
        path.write_bytes(text.encode("utf-8", "surrogatepass"))
        plan, said = attempt(lambda: read_plan(path, typed, cards=_no_card), JarcastError)
    assert said if plan is None else plan.lines


KEYS = st.sampled_from(
    ["name", "produce", "cut", "pack", "style", "notes", "[source]", "[tested]", "[[brine]]",
     "[safety]", "[[process]]", "amount", "jars", "headspace_in", "vinegar_percent", "kind", "page"]
)  # fmt: skip
VALUES = st.one_of(
    st.floats().map(str), st.integers().map(str), st.text(max_size=10).map(lambda t: f'"{t}"'),
    st.sampled_from(['"1 cup"', '["pint", 3]', "true", "1979-05-27", "{a = 1}", "[[]]", "nan"]),
)  # fmt: skip


@MANY
@given(lines=st.lists(st.tuples(KEYS, VALUES), max_size=12))
def test_a_recipe_card_is_read_or_refused_with_every_problem(lines: list[tuple[str, str]]) -> None:
    text = "\n".join(key if key.startswith("[") else f"{key} = {value}" for key, value in lines)
    with pytest.raises(RecipeError) as refused:
        read_card(text, "card")
    assert str(refused.value)
