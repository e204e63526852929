"""The columns of the batch table: each with its name, label, kind, bound and reader.

A column's name ends in its unit. A kitchen may leave the unit of a weight or a volume out, and
write the measure as it reads it instead: 'trimmed' with '6 lb 4 oz'.
"""

from collections.abc import Callable, Mapping
from enum import StrEnum

from msgspec import Struct

from jarcast.domain.stages import AS_BOUGHT, COOKED, CURED, TRIMMED
from jarcast.measures import parse_hours, parse_inches, parse_salt, parse_volume, parse_weight
from jarcast.measures.numbers import count, money

MOST_JARS = 100_000  # of one sort in one batch: beyond it the number is a slip
MOST_GRAMS = 1e8  # a hundred tonnes
MOST_ML = 1e8
MOST_HOURS = 24 * 365.0
MOST_HEADSPACE_IN = 3.0
MOST_MONEY = 1e8  # in whatever currency
MOST_TEXT = 60_000  # characters in one cell: what is written down must fit a cell of a CSV file


class Kind(StrEnum):
    """What a column holds."""

    TEXT = "text"
    DATE = "date"
    SORTS = "sorts of jar"
    JARS = "jars of each sort"
    WEIGHT = "weight"
    VOLUME = "volume"
    HOURS = "hours"
    INCHES = "inches"
    COUNT = "count"
    MONEY = "money"


class Field(Struct, frozen=True):
    """One column: its name, what it is called in a sentence, what it holds, and the most it can be.

    ``most`` is in the column's own unit, for a text in characters. ``read`` reads a measure as a
    kitchen writes it, in that unit; None where there is more to reading it, or nothing.
    """

    column: str
    label: str
    kind: Kind = Kind.TEXT
    most: float = MOST_TEXT
    read: Callable[[str], float] | None = None
    needed: bool = False

    @property
    def typed(self) -> str:
        """The column as a kitchen types it: without the unit of a weight or a volume."""
        in_cell = self.kind in (Kind.WEIGHT, Kind.VOLUME)
        return self.column.rpartition("_")[0] if in_cell else self.column

    @property
    def unit(self) -> str:
        """The unit of its values, as it is shown: 'g', 'ml', 'h', 'in', or ''."""
        return _UNITS.get(self.kind, "")


_UNITS = {Kind.WEIGHT: "g", Kind.VOLUME: "ml", Kind.HOURS: "h", Kind.INCHES: "in"}


def _weight(column: str, label: str, read: Callable[[str], float] = parse_weight) -> Field:
    return Field(column, label, Kind.WEIGHT, MOST_GRAMS, read)


def _volume(column: str, label: str) -> Field:
    return Field(column, label, Kind.VOLUME, MOST_ML, parse_volume)


FIELDS = (
    Field("batch", "batch", needed=True),
    Field("date", "date", Kind.DATE, needed=True),
    Field("produce", "produce", needed=True),
    Field("cut", "cut"),
    Field("pack", "pack"),
    Field("jar", "jar", Kind.SORTS, needed=True),
    Field("headspace_in", "headspace", Kind.INCHES, MOST_HEADSPACE_IN, parse_inches),
    _weight(AS_BOUGHT, "weight as bought"),
    _weight(TRIMMED, "trimmed weight"),
    _weight("salt_g", "salt", parse_salt),
    Field("cure_hours", "hours in salt", Kind.HOURS, MOST_HOURS, parse_hours),
    _weight(CURED, "cured weight"),
    _weight(COOKED, "cooked weight"),
    Field("jars", "number of jars", Kind.JARS, MOST_JARS, needed=True),
    _volume("brine_made_ml", "brine made"),
    _volume("brine_left_ml", "brine left"),
    Field("sealed", "jars that sealed", Kind.COUNT, MOST_JARS, count),
    Field("recipe", "recipe"),
    Field("note", "note"),
    _weight("not_jarred_g", "not jarred"),
    Field("person", "person"),
    Field("cost", "cost", Kind.MONEY, MOST_MONEY, money),
)
OPTIONAL = ("not_jarred_g", "person", "cost")  # at the end of a table, where a batch has them
FIELD_OF: Mapping[str, Field] = {field.column: field for field in FIELDS}


def _of(*kinds: Kind) -> tuple[str, ...]:
    return tuple(field.column for kind in kinds for field in FIELDS if field.kind is kind)


ALL_COLUMNS = tuple(FIELD_OF)  # in order
COLUMNS = tuple(column for column in ALL_COLUMNS if column not in OPTIONAL)  # of every table
NEEDED = tuple(field.column for field in FIELDS if field.needed)
TEXTS = _of(Kind.TEXT)
WEIGHTS = _of(Kind.WEIGHT)
VOLUMES = _of(Kind.VOLUME)
NUMBERS = _of(Kind.INCHES, Kind.WEIGHT, Kind.HOURS, Kind.VOLUME, Kind.COUNT, Kind.MONEY)

# Readers of measures as a kitchen writes them, by the column as it is typed.
READERS: Mapping[str, Callable[[str], float]] = {
    field.typed: field.read for field in FIELDS if field.read is not None
}
# A column for a kitchen measure -> the column of grams or millilitres that it fills; and back.
KITCHEN: Mapping[str, str] = {FIELD_OF[column].typed: column for column in (*WEIGHTS, *VOLUMES)}
KITCHEN_NAMES: Mapping[str, str] = {column: name for name, column in KITCHEN.items()}


def typed_name(column: str) -> str:
    """A column as it is typed in a command: 'brine_made_ml' -> 'brine_made'."""
    return KITCHEN_NAMES.get(column, column)
