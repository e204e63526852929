"""Kitchen measures to grams and millilitres, and back.

A measure is a number with its unit, or several that step down ('6 lb 4 oz'); measures may be
joined by ' + ' and ' - ', as when bowls are weighed one by one and an empty bowl is taken off.
Pints, cups, gallons and the like are US customary: imperial ones are larger and not supported.

A point is a decimal point, and a comma a decimal comma, save where it could part thousands: one
comma before exactly three digits ('1,250 kg') is refused, and so is one point under g or ml
('1.250 g'), which few weigh to the thousandth. Under a larger unit '1.250 kg' is a kilogram and a
quarter.
"""

from jarcast.measures.parsing import (
    LONGEST,
    NO_UNIT,
    parse_hours,
    parse_inches,
    parse_salt,
    parse_volume,
    parse_weight,
)
from jarcast.measures.showing import (
    format_made,
    format_span,
    format_volume,
    format_weight,
    number_text,
    round_down_volume,
    round_up_volume,
    spelt_out,
    typeset,
    volumes_like,
)
from jarcast.measures.units import (
    CUP_ML,
    FL_OZ_ML,
    GALLON_ML,
    INCH_CM,
    OUNCE_G,
    POUND_G,
    QUART_ML,
    SALT_G_PER_CUP,
    TBSP_ML,
    TSP_ML,
    Units,
)

__all__ = [
    "CUP_ML",
    "FL_OZ_ML",
    "GALLON_ML",
    "INCH_CM",
    "LONGEST",
    "NO_UNIT",
    "OUNCE_G",
    "POUND_G",
    "QUART_ML",
    "SALT_G_PER_CUP",
    "TBSP_ML",
    "TSP_ML",
    "Units",
    "format_made",
    "format_span",
    "format_volume",
    "format_weight",
    "number_text",
    "parse_hours",
    "parse_inches",
    "parse_salt",
    "parse_volume",
    "parse_weight",
    "round_down_volume",
    "round_up_volume",
    "spelt_out",
    "typeset",
    "volumes_like",
]
