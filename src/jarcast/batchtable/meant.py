"""Which column of the batch table a heading that is not of it may mean."""

import re

from jarcast.batchtable.header import column_name
from jarcast.domain.fields import FIELD_OF, Kind, typed_name
from jarcast.domain.stages import AS_BOUGHT, COOKED, CURED, TRIMMED

# Words in a heading -> the column; the first that fits. Common practice, no source.
_WORDS = (
    (r"not[ _]jarred|leftover|eaten", "not_jarred_g"),
    (r"(brine|liquid|syrup).*(left|over|remain)|left.*(brine|liquid)", "brine_left_ml"),
    (r"brine|vinegar[ _]mix|pickling[ _]liquid", "brine_made_ml"),
    (r"headspace", "headspace_in"),
    (r"hours|soak|time[ _]in[ _]salt", "cure_hours"),
    (r"salted|cured|rinsed|drained", CURED),
    (r"salt", "salt_g"),
    (r"blanched|cooked|simmered", COOKED),
    (r"trim(?:med|ming)?|prep(?:ped|ared)?|peeled|cleaned|net|cored", TRIMMED),
    (r"seal", "sealed"),
    (r"jars?|pints?|pts?|quarts?|filled", "jars"),
    (r"weight|wt|bought|picked|raw|gross|lbs?|kg|kilos?|pounds?|grams?|ounces?|oz", AS_BOUGHT),
)


def meant_by(heading: str) -> str:
    """The column that a heading seems to mean, as it is typed; '' where it looks like no measure.

    A unit stands in the cell: for 'prep_lb' it is 'trimmed', with '6 lb' under it.
    """
    name = column_name(heading)
    for words, column in _WORDS:
        if re.search(rf"(?:^|_)(?:{words.replace('[ _]', '_')})(?:_|$)", name):
            return typed_name(column)
    return ""


def example_of(typed: str) -> str:
    """What may stand under a column: '6 lb 4 oz' under 'trimmed'."""
    kinds = {typed_name(column): field.kind for column, field in FIELD_OF.items()}
    return {Kind.WEIGHT: "6 lb 4 oz", Kind.VOLUME: "4 1/2 cups"}.get(kinds[typed], "7.5")
