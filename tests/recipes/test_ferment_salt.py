"""A ferment's salt: the card's share of the trimmed weight, and no other amount beside it."""

from fractions import Fraction
from types import SimpleNamespace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from jarcast.measures import Units, parse_salt, parse_weight
from jarcast.recipes import (
    Basis,
    Recipe,
    cook_line,
    read_card,
    safety_block,
    salt_amounts,
    salt_caution,
    salt_share_of,
    salt_told,
    scale_for_jars,
    scale_for_produce,
    shipped_recipes,
)
from jarcast.views.recipes import scaled_document, scaled_text
from tests.recipes.test_cautions import FERMENT, STEAMED

RECIPES = shipped_recipes()
KRAUT = RECIPES["sauerkraut"]
POUND_G, OUNCE_G = 453.59237, 28.349523125  # NIST Handbook 44, Appendix C


def asked(**weights: float | None) -> Any:
    """What a forecast is asked by, as far as salt goes."""
    known = {"salt_g": None, "as_bought_g": None, "trimmed_g": None, **weights}
    return SimpleNamespace(**known, stage="cured_g", grams=1.0, grams_sd=0.0)


@pytest.mark.parametrize(
    ("pounds", "units", "said"),
    # 2.25 to 2.5 % by weight: Making Sauerkraut, Univ. of Minnesota, as the card has it. A cup of
    # salt is 292 g: USDA SR 28, NDB 02047. 3 tbsp to 5 lb and 3/4 cup to 20 lb trimmed are 2.41 %:
    # AIB 539, Guide 6, p. 6-8.
    [
        # 368 oz by 0.0225 is 8.28 oz, by 0.025 9.2; 12.9 to 14.3 tablespoons.
        (23, Units.US, "8½ to 9 oz (¾ cup + 1 tbsp to ¾ cup + 2 tbsp canning salt)"),
        (20, Units.US, "7¼ to 8 oz (¾ cup canning salt)"),
        (15, Units.US, "5½ to 6 oz (½ cup + 1 tbsp canning salt)"),
        (5, Units.US, "2 oz (2 tbsp + 2½ tsp to 3 tbsp canning salt)"),
        (1, Units.US, "10.5 to 11 g (1¾ tsp canning salt)"),  # 0.36 to 0.4 oz: no quarter ounce
        (23, Units.METRIC, "235 to 260 g"),
        (20, Units.METRIC, "205 to 226 g"),
    ],
)
def test_where_the_trimmed_weight_is_known_the_salt_is_its_share(
    pounds: float, units: Units, said: str
) -> None:
    told = salt_told(KRAUT, pounds * POUND_G, units)
    assert told == f"Salt: {said}, 2.25 to 2.5 % of the trimmed weight."


@given(st.floats(50.0, 100_000.0), st.sampled_from(list(Units)))
def test_every_amount_that_is_told_is_within_the_share(trimmed_g: float, units: Units) -> None:
    for text in salt_amounts(KRAUT, trimmed_g, units):
        unit = text.removesuffix(" canning salt").rpartition(" ")[2]
        for end in text.removesuffix(" canning salt").split(" to ") if text else ():
            whole = end if any(sign.isalpha() for sign in end) else f"{end} {unit}"
            grams = parse_salt(f"{whole} canning salt") if "salt" in text else parse_weight(whole)
            salted = asked(salt_g=grams, trimmed_g=trimmed_g)
            assert salt_caution(KRAUT, salted) is None, (text, grams)


@pytest.mark.parametrize("trimmed_g", [None, 0.0])
def test_where_it_is_not_known_the_salt_is_weighed_out_by_it(trimmed_g: float | None) -> None:
    told = salt_told(KRAUT, trimmed_g, Units.US)
    assert told.startswith("Salt: 2.25 to 2.5 % of the trimmed weight. Weigh what you trimmed")
    assert "cup" not in told
    assert "oz" not in told


@pytest.mark.parametrize("key", sorted(set(RECIPES) - {"sauerkraut"}))
def test_no_other_card_is_told_a_share(key: str) -> None:
    assert salt_told(RECIPES[key], 5000.0, Units.US) == ""
    assert salt_caution(RECIPES[key], asked(salt_g=1.0, trimmed_g=5000.0)) is None


@pytest.mark.parametrize(
    ("weights", "key", "yours"),
    # Of 20 lb, 2.25 to 2.5 % are 204.1 to 226.8 g.
    [
        ({"salt_g": 204.0, "trimmed_g": 20 * POUND_G}, "salt too low", "2.249 %"),
        ({"salt_g": 204.2, "trimmed_g": 20 * POUND_G}, "", ""),
        ({"salt_g": 226.7, "trimmed_g": 20 * POUND_G}, "", ""),
        ({"salt_g": 227.0, "trimmed_g": 20 * POUND_G}, "salt too high", "2.502 %"),
        ({"salt_g": 0.0, "trimmed_g": 20 * POUND_G}, "salt too low", "0.00 %"),
        # What was bought weighs at least what was trimmed of it: too much for sure, never too
        # little.
        ({"salt_g": 400.0, "as_bought_g": 25 * POUND_G}, "salt too high", "at least 3.53 %"),
        ({"salt_g": 219.0, "as_bought_g": 25 * POUND_G}, "salt not checked", ""),
        ({"salt_g": 50.0, "as_bought_g": 25 * POUND_G}, "salt not checked", ""),
        ({"salt_g": 219.0}, "salt not checked", ""),
        ({"trimmed_g": 20 * POUND_G}, "", ""),  # no salt is written down
    ],
)
def test_salt_is_held_against_the_trimmed_weight_and_where_it_cannot_be_that_is_said(
    weights: dict[str, float], key: str, yours: str
) -> None:
    found = salt_caution(KRAUT, asked(**weights))
    assert ("" if found is None else found.key) == key
    if found is not None:
        assert "2.25 to 2.5 % of the trimmed weight" in found.text
        assert yours in found.text
        assert "AIB 539" in found.source


def test_of_a_weight_that_was_counted_salt_is_not_checked_in_silence() -> None:
    counted = asked(salt_g=50.0)
    counted.stage, counted.grams, counted.grams_sd = "trimmed_g", 2150.0, 0.1
    found = salt_share_of(counted)
    assert found is not None
    assert (found.about, found.sure) == (True, False)
    # 50 g of about 2,150 g is 2.3 %, inside the share if the count is right.
    inside, far = salt_caution(KRAUT, counted), None
    assert inside is not None
    assert inside.key == "salt not checked"
    counted.salt_g = 10.0
    far = salt_caution(KRAUT, counted)
    assert far is not None
    assert (far.key, "about 0.47 %" in far.text) == ("salt too low", True)


def test_the_block_has_what_is_printed_under_the_share_that_decides() -> None:
    block = safety_block(KRAUT, "quart")
    assert "in these proportions only" not in block
    share, printed = (line for line in block.splitlines() if "salt" in line)
    assert share.strip() == (
        "salt: 2.25 to 2.5 % of the trimmed weight, no less and no more "
        "(3 tbsp for each 5 lb of cabbage)"
    )
    assert printed.strip() == (
        "printed: ¾ cup canning salt for 25 lb of produce as bought, printed yield 9 quart jars; "
        "the share decides"
    )
    assert "salt 2.25 to 2.5 % of the trimmed weight" in cook_line(KRAUT, ["quart"])


@pytest.mark.parametrize("pounds", [10.0, 23.0, 25.0])
def test_scaled_by_what_was_bought_it_names_no_salt_but_the_share_and_the_most_to_buy(
    pounds: float,
) -> None:
    scaled = scale_for_produce(KRAUT, pounds * POUND_G, Basis.AS_BOUGHT)
    text, document = scaled_text(scaled, f"{pounds:g} lb"), scaled_document(scaled)
    assert "cup" not in text
    assert "Weigh what you trimmed" in " ".join(text.split())
    assert document["brine"] == []
    assert document["ferment_salt"]["grams"] is None
    (salt,) = document["shopping"]
    # Nothing trimmed off: 2.5 % of the whole weight.
    assert salt["grams"] == pytest.approx(0.025 * pounds * POUND_G)
    assert salt["text"].startswith("canning salt: at most ")
    assert parse_weight(salt["text"].rpartition("at most ")[2]) >= salt["grams"] * (1 - 1e-9)


def test_a_card_by_the_trimmed_weight_is_scaled_with_its_salt() -> None:
    card = ferment(basis="prepared", amount="10 lb", salt="4 oz")
    scaled = scale_for_produce(card, 20 * POUND_G, Basis.PREPARED)
    # 2 to 3 % of 20 lb: 6.4 to 9.6 oz.
    assert "Salt: 6½ to 9½ oz, 2 to 3 % of the trimmed weight." in scaled_text(scaled, "20 lb")


def test_what_else_is_in_a_ferments_brine_is_told_without_its_salt() -> None:
    card = ferment(basis="prepared", amount="10 lb", salt="4 oz", water="2 qt")
    text = scaled_text(scale_for_jars(card, [(5.0, "pint")]), "5 pints")
    assert "Brine, the formula but for its salt, makes 8 cups:" in text
    assert "  8 cups water" in text
    assert "4 oz" not in text
    block = safety_block(card, "pint")
    assert "brine, in these proportions only: 2 qt water" in block
    assert "printed: 4 oz canning salt for 10 lb of produce prepared" in block


def ferment(*, basis: str, amount: str, salt: str, water: str = "") -> Recipe:
    """An invented ferment with a share of 2 to 3 %."""
    text = FERMENT.replace('basis = "prepared"', f'basis = "{basis}"').replace("4 lb", amount)
    vinegar = '[[brine]]\nname = "vinegar"\nkind = "vinegar"\namount = "3 cups"\n'
    parts = f'[[brine]]\nname = "canning salt"\nkind = "salt"\namount = "{salt}"\n'
    parts += f'[[brine]]\nname = "water"\nkind = "water"\namount = "{water}"\n' if water else ""
    assert vinegar in text
    text = text.replace(vinegar, parts).replace("vinegar_percent = 6\n", "")
    return read_card(text, "turnip")


def test_a_share_is_a_ferments_alone() -> None:
    sour = STEAMED.replace("steam_canner = true", "ferment_salt_percent = [2, 3]")
    card = read_card(sour, "turnip")
    assert card.salt_share is None
    assert salt_told(card, 1000.0, Units.US) == ""
    assert ferment(basis="prepared", amount="1 lb", salt="1 oz").salt_share == (
        float(Fraction(2, 100)), float(Fraction(3, 100)),
    )  # fmt: skip
