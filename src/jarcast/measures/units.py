"""Units of a kitchen, exact, and the kinds of measure."""

from enum import StrEnum
from fractions import Fraction
from typing import NamedTuple

# Exact by definition: NIST Handbook 44, Appendix C (General Tables of Units of Measurement).
INCH_CM = Fraction("2.54")
POUND_G = Fraction("453.59237")  # avoirdupois
OUNCE_G = POUND_G / 16
GALLON_ML = 231 * INCH_CM**3  # the US gallon is 231 cubic inches
QUART_ML = GALLON_ML / 4
PINT_ML = GALLON_ML / 8
CUP_ML = GALLON_ML / 16
FL_OZ_ML = GALLON_ML / 128
TBSP_ML = GALLON_ML / 256
TSP_ML = GALLON_ML / 768

# Household weight of table salt: USDA Standard Reference Release 28, NDB 02047 (it prints 18 g a
# tablespoon and 6 g a teaspoon, the same rounded down). Canning salt has no entry of its own there;
# it is taken to weigh as much (common practice, no source).
SALT_G_PER_CUP = 292


class Units(StrEnum):
    """How a kitchen writes its measures."""

    US = "us"
    METRIC = "metric"


class Kind(NamedTuple):
    """A kind of measure: its name, an example of one, and the units that may have been meant."""

    name: str
    example: str
    likely: str  # what a bare number may have meant


WEIGHT = Kind("weight", "6 lb 4 oz or 2.8 kg", "lb, oz, kg or g")
VOLUME = Kind("volume", "4 1/2 cups or 750 ml", "cups, qt, ml or l")
TIME = Kind("time", "24 h or 1 h 30 min", "h, min or days")
LENGTH = Kind("length", "1/2 in or 12 mm", "in, cm or mm")
