"""Eighteen shipped cards, number by number, against other copies of what they were taken from.

The rows are in tests/data/published-recipes.csv, each with its publication (the USDA Complete
Guide to Home Canning, AIB 539, Guide 6, and university copies of it; NCHFP): another reading than
the one of test_card_details. What the notes of a row say beyond its cells stands in EXPECTED,
taken from them word by word.
"""

import csv
import re
import tomllib
from fractions import Fraction
from pathlib import Path
from typing import NamedTuple

import pytest

from jarcast.domain.names import cut_key, produce_key
from jarcast.files.shipped import shipped
from jarcast.measures import CUP_ML, POUND_G, TBSP_ML
from jarcast.recipes import Basis, Kind, Recipe, shipped_recipes

DATA = Path(__file__).parents[1] / "data" / "published-recipes.csv"
with DATA.open(encoding="utf-8", newline="") as _file:
    ROWS = {row["id"]: row for row in csv.DictReader(_file)}
RECIPES = shipped_recipes()

THREE = ("0-1000 ft", "1001-6000 ft", "above 6000 ft")
FOUR = ("0-1000 ft", "1001-3000 ft", "3001-6000 ft", "above 6000 ft")


class Expected(NamedTuple):
    """Row, and what its notes say: process by (pack, jar) and liquids besides vinegar and water."""

    row: str
    process: dict[tuple[str, str], tuple[int, ...]]
    packs: tuple[str, ...] = ()
    lemon_cups: float = 0
    oil_cups: float = 0


def _same(
    pack: str, minutes: tuple[int, ...], *jars: str
) -> dict[tuple[str, str], tuple[int, ...]]:
    return {(pack, jar): minutes for jar in jars}


HOT, RAW = ("hot",), ("raw",)
EXPECTED = {
    # 'raw pack; pints. Quarts 15/20/25 min.'
    "quick-fresh-pack-dill": Expected(
        "R01", {("raw", "pint"): (10, 15, 20), ("raw", "quart"): (15, 20, 25)}, RAW
    ),
    # 'hot pack, pints or quarts'
    "bread-and-butter-zucchini": Expected("R04", _same("hot", (10, 15, 20), "pint", "quart"), HOT),
    "sweet-gherkin": Expected("R05", _same("", (5, 10, 15), "pint")),
    # 'hot pack pints/quarts 5/10/15. Raw pack pints 10/15/20, quarts 15/20/25.'
    "quick-sweet": Expected(
        "R07",
        {
            **_same("hot", (5, 10, 15), "pint", "quart"),
            ("raw", "pint"): (10, 15, 20),
            ("raw", "quart"): (15, 20, 25),
        },
        ("hot", "raw"),
    ),
    # Its notes give four bands, 'after boiling'.
    "pickled-beets": Expected("R08", _same("hot", (30, 35, 40, 45), "pint"), HOT),
    "pickled-carrots": Expected("R12", _same("hot", (15, 20, 25), "pint"), HOT),  # 'simmered'
    "pickled-cauliflower": Expected(
        "R14", _same("hot", (10, 15, 20), "half-pint"), HOT
    ),  # 'boiled'
    "pickled-brussels-sprouts": Expected("R15", _same("hot", (10, 15, 20), "half-pint"), HOT),
    # Its notes give four bands, '2.5 vinegar + 2 oil', 'simmered 5 min'.
    "marinated-mushrooms": Expected(
        "R18", _same("hot", (20, 25, 30, 35), "half-pint"), HOT, oil_cups=2
    ),
    # 'hot pack; half-pints or pints'
    "pickled-bell-peppers": Expected("R19", _same("hot", (5, 10, 15), "half-pint", "pint"), HOT),
    "pickled-hot-peppers": Expected("R20", _same("", (10, 15, 20), "pint")),
    "pickled-pepper-rings": Expected("R22", _same("raw", (10, 15, 20), "pint"), RAW),  # 'raw pack'
    "reduced-sodium-sweet": Expected("R25", _same("hot", (10, 15, 20), "pint"), HOT),  # 'hot pack'
    "pickle-relish": Expected("R26", _same("", (10, 15, 20), "half-pint", "pint")),  # both noted
    "corn-relish": Expected("R27", _same("", (15, 20, 25), "pint")),
    "piccalilli": Expected("R28", _same("hot", (5, 10, 15), "half-pint"), HOT),  # 'boiled'
    "green-tomato-relish": Expected("R29", _same("", (5, 10, 15), "pint")),
    # 'brine_total includes 1/4 cup lemon juice and 1/4 cup oil'
    "three-bean-salad": Expected(
        "R30", _same("", (15, 20, 25), "half-pint"), lemon_cups=0.25, oil_cups=0.25
    ),
}
RELISHES = ("pickle-relish", "corn-relish", "piccalilli", "green-tomato-relish")

each_card = pytest.mark.parametrize("key", sorted(EXPECTED))


def card_and_row(key: str) -> tuple[Recipe, dict[str, str]]:
    return RECIPES[key], ROWS[EXPECTED[key].row]


def test_each_of_these_cards_ships_and_has_its_own_row() -> None:
    assert set(EXPECTED) < set(RECIPES)
    assert len({expected.row for expected in EXPECTED.values()}) == len(EXPECTED)


@each_card
def test_a_card_ships_only_where_every_cell_was_read(key: str) -> None:
    _, row = card_and_row(key)
    assert row["seen"] == "copy read"
    assert row["from_memory_fields"] == ""


@each_card
def test_a_card_names_the_copy_of_the_row_beside_its_own(key: str) -> None:
    recipe, row = card_and_row(key)
    assert recipe.safety is not None
    copy = f"{row['source']}; {row['publisher_year']}; {row['section_or_page']}"
    assert recipe.safety.source.also[0] == f"{copy}: same amounts and yield"
    assert any("current edition" in caution for caution in recipe.safety.cautions)


def _number(text: str) -> Fraction:
    """A kitchen number read without the library: '1 2/3' is 5/3."""
    return sum((Fraction(part) for part in text.split()), Fraction(0))


def _printed(
    card: dict[str, list[dict[str, str]]], kind: str, unit_per: dict[str, Fraction]
) -> Fraction:
    """Total of one kind in the card's text, in the unit whose sizes are given."""
    total = Fraction(0)
    for part in card["brine"]:
        if part["kind"] != kind:
            continue
        found = re.fullmatch(r"([0-9 /]+) (cups?|tbsp|tsp)", part["amount"])
        assert found, part
        total += (
            _number(found[1]) * unit_per[found[2].rstrip("s") if "cup" in found[2] else found[2]]
        )
    return total


CUPS = {"cup": Fraction(1), "tbsp": Fraction(1, 16), "tsp": Fraction(1, 48)}
TBSPS = {unit: 16 * size for unit, size in CUPS.items()}
PRINTED = 5e-5  # the rows print four decimals


@each_card
def test_the_brine_formula_as_written_is_the_rows(key: str) -> None:
    _, row = card_and_row(key)
    expected = EXPECTED[key]
    card = tomllib.loads((shipped("models", "recipes") / f"{key}.toml").read_text("utf-8"))
    found = {kind: float(_printed(card, kind, CUPS)) for kind in ("vinegar", "water", "sugar")}
    assert found["vinegar"] == pytest.approx(float(row["vinegar_cups"]), abs=PRINTED)
    assert found["water"] == pytest.approx(float(row["water_cups"]), abs=PRINTED)
    assert found["sugar"] == pytest.approx(float(row["sugar_cups"]), abs=PRINTED)
    if key == "pickled-bell-peppers":  # 1/2 tsp in each of 9 pints, none in the liquid
        assert _printed(card, "salt", TBSPS) == 0
        assert Fraction(9, 2) / 3 == Fraction(row["salt_tbsp"])
        return
    salt = float(_printed(card, "salt", TBSPS))
    assert salt == pytest.approx(float(row["salt_tbsp"]), abs=PRINTED)
    lemon = float(_printed(card, "lemon juice", CUPS))
    oil = float(_printed(card, "oil", CUPS))
    assert (lemon, oil) == (expected.lemon_cups, expected.oil_cups)
    liquids = found["vinegar"] + found["water"] + lemon + oil
    assert liquids == pytest.approx(float(row["brine_total_cups"]), abs=PRINTED)
    others = [part["name"] for part in card["brine"] if part["kind"] == "other"]
    thick = ["prepared yellow mustard", "cornstarch"] if key == "green-tomato-relish" else []
    assert others == thick


@each_card
def test_the_brine_formula_as_read_is_the_rows(key: str) -> None:
    recipe, row = card_and_row(key)
    assert recipe.safety is not None

    def ml(kind: Kind) -> float:
        return sum(part.ml or 0.0 for part in recipe.safety.formula if part.kind is kind)

    for kind, column in ((Kind.VINEGAR, "vinegar_cups"), (Kind.WATER, "water_cups"),
                         (Kind.SUGAR, "sugar_cups")):  # fmt: skip
        assert ml(kind) / float(CUP_ML) == pytest.approx(float(row[column]), abs=PRINTED)
    salt = 0.0 if key == "pickled-bell-peppers" else float(row["salt_tbsp"])  # it has it by the jar
    assert ml(Kind.SALT) / float(TBSP_ML) == pytest.approx(salt, abs=PRINTED)


@each_card
def test_the_finished_volume_is_the_published_liquids_and_the_room_of_the_sugar(key: str) -> None:
    # 0.62 ml for each gram of dissolved sugar: CRC Handbook, from memory; 200 g a cup of sugar,
    # 220 g of brown sugar: USDA SR28, NDB 19335 and 19334. The row counts all sugar at 200 g.
    recipe, row = card_and_row(key)
    assert recipe.safety is not None
    cups = recipe.safety.volume_ml / float(CUP_ML)
    expected = float(row["syrup_cups_est"])
    if key == "piccalilli":  # its sugar is brown
        expected += 3 * 20 * 0.62 / float(CUP_ML)
    assert cups == pytest.approx(expected, abs=0.006)


@each_card
def test_the_amount_of_produce_is_the_rows_at_its_basis(key: str) -> None:
    recipe, row = card_and_row(key)
    tested = recipe.tested
    if row["weight_lb"]:
        assert tested.grams == pytest.approx(float(row["weight_lb"]) * float(POUND_G), rel=1e-12)
        assert tested.ml is None
    else:
        assert tested.ml == pytest.approx(float(row["volume_cups"]) * float(CUP_ML), rel=1e-12)
        assert tested.grams is None
    bought = row["purchased_or_prepared"].startswith("purchased")
    assert tested.basis is (Basis.AS_BOUGHT if bought else Basis.PREPARED)


@each_card
def test_printed_yield_jar_and_headspace_are_the_rows(key: str) -> None:
    recipe, row = card_and_row(key)
    assert recipe.safety is not None
    assert recipe.tested.jars == (float(row["jars_low"]), float(row["jars_high"]))
    assert recipe.tested.jar == row["jar_size"]
    assert recipe.safety.headspace_in == float(row["headspace_in"])


@each_card
def test_tested_jars_are_those_of_the_row_and_its_notes(key: str) -> None:
    recipe, row = card_and_row(key)
    assert recipe.safety is not None
    sizes = {jar for _, jar in EXPECTED[key].process}
    assert set(recipe.safety.jars) >= sizes
    assert row["jar_size"] in sizes
    noted = row["notes"].casefold()
    for jar in sizes - {row["jar_size"]}:
        assert f"{jar}s" in noted, f"{jar} is not in the row's notes"


@each_card
def test_process_minutes_and_altitude_bands_are_the_published_ones(key: str) -> None:
    recipe, row = card_and_row(key)
    assert recipe.safety is not None
    found: dict[tuple[str, str], list[tuple[str, float]]] = {}
    for cell in recipe.safety.process:
        assert cell.method == "boiling-water canner"
        assert cell.pressure_psi is None
        found.setdefault((cell.pack, cell.jar), []).append((cell.band, cell.minutes))
    for (pack, jar), minutes in EXPECTED[key].process.items():
        # Copies of Michigan's end the top band: 6001-8000 ft, as one of them prints it.
        top = ("6001-8000 ft" if "Michigan" in row["source"] else THREE[-1],)
        bands = (THREE if len(minutes) == 3 else FOUR)[:-1] + top
        where = (pack or recipe.packs[0], jar)  # a row may leave the pack out
        assert found[where] == list(zip(bands, map(float, minutes), strict=True))
    # The row's own cells are those of its first process table. With four bands the middle cell
    # holds the upper of the two middle ones, as the notes of R08 say.
    cells = tuple(
        float(row[f"process_min_{band}"]) for band in ("0_1000ft", "1001_6000ft", "above_6000ft")
    )
    first = next(iter(EXPECTED[key].process.values()))
    assert cells == (first[0], first[-2], first[-1])


@each_card
def test_vinegar_is_the_five_percent_of_the_guide(key: str) -> None:
    # Vinegar strength in all tested recipes, 5 % acetic acid: AIB 539, Guide 6, copy read.
    recipe = RECIPES[key]
    assert recipe.safety is not None
    assert recipe.safety.least_acid_percent == 5.0


@each_card
def test_produce_cut_pack_and_style_say_what_the_row_says(key: str) -> None:
    recipe, row = card_and_row(key)
    named = "gherkin" if row["id"] == "R05" else produce_key(row["produce"])
    assert recipe.produce == named
    # R27 says 'whole kernels + diced': the corn of a corn relish is kernels.
    assert recipe.cut == {
        "R05": "whole",
        "R12": "slices",  # '1/2-in rounds'
        "R27": "kernels",
        "R29": "chopped",  # grated or finely chopped
    }.get(row["id"], cut_key(row["cut"]))
    assert recipe.packs == EXPECTED[key].packs or not EXPECTED[key].packs
    assert recipe.own_liquid == (key in RELISHES)


# Salt cure of each row: salt, other parts, hours.
CURES = {
    "quick-fresh-pack-dill": (["3/4 cup", "2 gal"], (12.0, 12.0)),
    "bread-and-butter-zucchini": (["1/2 cup"], (2.0, 2.0)),
    "sweet-gherkin": (["1/2 cup"], None),  # 'days 1-3'
    "quick-sweet": (["1/3 cup"], (3.0, 4.0)),
    "marinated-mushrooms": (["1/2 cup"], None),  # lemon juice 'in the cooking water'
    # hot solution, discarded; 4 cups are a quart
    "reduced-sodium-sweet": (["1 qt", "1 tbsp", "1 tbsp", "1/2 cup"], None),
    "pickle-relish": (["3/4 cup", "8 cups", "4 cups"], (4.0, 4.0)),
    "piccalilli": (["1/2 cup"], (12.0, 12.0)),
    "green-tomato-relish": (["1/2 cup", "1 qt"], None),  # 'simmered 5 min'; 4 cups
}


@each_card
def test_the_cure_is_the_rows(key: str) -> None:
    recipe, row = card_and_row(key)
    if key not in CURES:
        assert recipe.cure is None
        assert row["salt_cure"] == "none"
        return
    amounts, hours = CURES[key]
    assert recipe.cure is not None
    assert [part.printed for part in recipe.cure.ingredients] == amounts
    assert recipe.cure.hours == hours
    said = f"{row['salt_cure']} {row['notes']}"
    assert all(amount.split()[0] in said for amount in amounts)
    if hours is not None:
        low, high = hours
        span = f"{low:g} h" if low == high else f"{low:g}-{high:g} h"
        assert span in row["salt_cure"]


@each_card
def test_a_card_says_little_beyond_its_numbers(key: str) -> None:
    recipe = RECIPES[key]
    texts = [*recipe.notes, recipe.tested.detail, recipe.cure.detail if recipe.cure else ""]
    assert all(len(text) <= 160 for text in texts)
