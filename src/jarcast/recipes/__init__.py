"""Tested recipe cards, the lock around their safety numbers, and scaling."""

from jarcast.recipes.acid import why_low_acid
from jarcast.recipes.block import safety_block
from jarcast.recipes.card import (
    Addition,
    Basis,
    Cure,
    Ferment,
    Ingredient,
    Kind,
    ProcessRow,
    Recipe,
    SafetyNumbers,
    Source,
    Style,
    Tested,
)
from jarcast.recipes.cautions import (
    CLOSING,
    NOT_SALTED_SO,
    Caution,
    Situation,
    cautions_for,
    cautions_now,
    salt_caution,
)
from jarcast.recipes.cook_line import cook_line, cook_parts
from jarcast.recipes.ferment_salt import (
    SaltShare,
    salt_amounts,
    salt_due_g,
    salt_share_of,
    salt_told,
    share_text,
    without_salt,
)
from jarcast.recipes.listed import check_jar, check_pack, other_sizes, packs_of
from jarcast.recipes.lock import (
    FLOOR_NAMES,
    basis_column,
    brine_floor_ml,
    card_stage,
    floor_stage,
    process_rows_for,
    why_no_floor,
)
from jarcast.recipes.packcheck import (
    PackCheck,
    no_check_text,
    pack_check,
    printed_g_per_jar,
    why_no_yardstick,
)
from jarcast.recipes.parsing import load_card, read_card
from jarcast.recipes.perjar import each_jar, each_jar_text
from jarcast.recipes.plausible import unpublished
from jarcast.recipes.portions import Portion
from jarcast.recipes.poured import why_not_clean
from jarcast.recipes.scaling import (
    Scaled,
    scale,
    scale_for_jars,
    scale_for_produce,
    scale_to_volume,
)
from jarcast.recipes.shelf import (
    CardShelf,
    add_card,
    card_key,
    card_shelf,
    card_words,
    keep_card,
    own_folder,
    shipped_recipes,
)
from jarcast.recipes.shopping import PrintedPart, ShoppingLine, printed_parts

__all__ = [
    "CLOSING",
    "FLOOR_NAMES",
    "NOT_SALTED_SO",
    "Addition",
    "Basis",
    "CardShelf",
    "Caution",
    "Cure",
    "Ferment",
    "Ingredient",
    "Kind",
    "PackCheck",
    "Portion",
    "PrintedPart",
    "ProcessRow",
    "Recipe",
    "SafetyNumbers",
    "SaltShare",
    "Scaled",
    "ShoppingLine",
    "Situation",
    "Source",
    "Style",
    "Tested",
    "add_card",
    "basis_column",
    "brine_floor_ml",
    "card_key",
    "card_shelf",
    "card_stage",
    "card_words",
    "cautions_for",
    "cautions_now",
    "check_jar",
    "check_pack",
    "cook_line",
    "cook_parts",
    "each_jar",
    "each_jar_text",
    "floor_stage",
    "keep_card",
    "load_card",
    "no_check_text",
    "other_sizes",
    "own_folder",
    "pack_check",
    "packs_of",
    "printed_g_per_jar",
    "printed_parts",
    "process_rows_for",
    "read_card",
    "safety_block",
    "salt_amounts",
    "salt_caution",
    "salt_due_g",
    "salt_share_of",
    "salt_told",
    "scale",
    "scale_for_jars",
    "scale_for_produce",
    "scale_to_volume",
    "share_text",
    "shipped_recipes",
    "unpublished",
    "why_low_acid",
    "why_no_floor",
    "why_no_yardstick",
    "why_not_clean",
    "without_salt",
]
