"""Jars and baskets of one's own: named, measured, and kept in the ledger.

A jar goes by the water it holds, 1 ml a gram. The newest measure of it stands, and no jar goes away
that a batch is in. A basket goes by what it weighs when filled with each produce: a setting of the
kitchen, 'basket blue bucket', holds the weights as they were typed.
"""

import math
import re
import unicodedata
from collections.abc import Mapping
from pathlib import Path

from msgspec.structs import replace

from jarcast.domain.containers import published_container
from jarcast.domain.fields import MOST_HEADSPACE_IN
from jarcast.domain.jars import (
    CM_PER_INCH,
    DEFAULT_HEADSPACE_IN,
    LEAST_FILL,
    REGULAR_BORE_MM,
    SHELF,
    WIDE_BORE_MM,
    Baskets,
    Jar,
    OwnShelf,
    folded_jar,
    gap_volume_ml,
)
from jarcast.domain.names import produce_key
from jarcast.domain.said_weight import basket_g
from jarcast.errors import BatchError, MeasureError, cut_short
from jarcast.ledger.backups import damaged, legible
from jarcast.ledger.cells import texts, to_json
from jarcast.ledger.schema import STANDS
from jarcast.ledger.store import Ledger
from jarcast.measures import parse_volume, parse_weight

LONGEST_NAME = 40
_BASKET = "basket "  # of the settings
LEAST_BORE_MM, MOST_BORE_MM = 10.0, 300.0
LEAST_WATER_G, MOST_WATER_G = 10.0, 50_000.0
# Of the jar with the most water, and the widest and deepest neck above it.
_MOST_ROOM_ML = MOST_WATER_G + gap_volume_ml(MOST_BORE_MM, MOST_HEADSPACE_IN) + 1.0

SCALE_ERROR_G = 5.0  # of a kitchen scale: common practice, no source
# Water weighs 0.9982 g/ml at 20 C and 0.9957 at 30 C (CRC Handbook, from memory), so a gram of it
# is at most this much more than a millilitre.
WATER_ERROR = 0.005

_EXAMPLE = ", such as 'tall jar'"


def own_jar_key(name: str) -> str:
    """Key of a jar of one's own: 'Tall jar' -> 'tall'.

    Raises BatchError for the name of a built-in jar, and for one that is long, that holds what
    parts one jar from the next, or that reads as a count.
    """
    text = name.strip()
    shown = f"'{cut_short(text, LONGEST_NAME)}'"
    key = folded_jar(text)
    if key in SHELF:
        raise BatchError(f"{shown} is a built-in jar ({key}); give yours another name{_EXAMPLE}")
    if len(text) > LONGEST_NAME:
        why = f"it has {len(text)} characters, {LONGEST_NAME} at most can be"
    elif strange := [sign for sign in text if not _of_words(sign)]:
        why = f"'{strange[0]}' is in it, and those signs separate one jar from the next"
    elif re.search(r"\b(then|x)\b", key):
        why = "'then' and 'x' separate jars and counts, as in '5 x pint, then quart'"
    elif key[:1].isnumeric():
        why = "it would read as a count of jars; put a word first"
    elif not key[:1].isalpha():
        why = "it does not say which jar it is"
    else:
        return key
    raise BatchError(f"{shown} cannot be a jar's name: {why}; use words{_EXAMPLE}")


def _of_words(sign: str) -> bool:
    """Whether a sign is one of a word's, or parts words: letters, marks, digits and a few more."""
    return all(
        plain in " -_.'\u2019" or unicodedata.category(plain)[0] in "LMN"
        for plain in unicodedata.normalize("NFKC", sign)
    )


def measured_jar(
    name: str,
    water_g: float,
    *,
    headspace_in: float = DEFAULT_HEADSPACE_IN,
    brim_g: float | None = None,
    bore_mm: float | None = None,
) -> Jar:
    """A jar by the grams of water it holds up to a headspace, and to the brim where weighed.

    The fill at that headspace is as it was weighed. How it changes with another headspace goes by
    the bore: as given, else as the two weights tell, else that of the mouth in the name, else the
    regular one. Raises BatchError for a name or measures that cannot be.
    """
    key = own_jar_key(name)
    _check(key, "a weight of water", water_g, LEAST_WATER_G, MOST_WATER_G, "g")
    _check(key, "a headspace", headspace_in, 0.0, MOST_HEADSPACE_IN, "in")
    if bore_mm is not None:
        _check(key, "a bore", bore_mm, LEAST_BORE_MM, MOST_BORE_MM, "mm")
    if brim_g is not None:
        _check(key, "a weight to the brim", brim_g, LEAST_WATER_G, MOST_WATER_G, "g")
        bore_mm = _bore_by_brim(key, water_g, headspace_in, brim_g, bore_mm)
    if bore_mm is None:
        bore_mm = WIDE_BORE_MM if key.endswith("-wide") else REGULAR_BORE_MM
    jar = Jar(key, water_g + gap_volume_ml(bore_mm, headspace_in), bore_mm)
    if key.endswith("-wide") and not jar.wide:
        raise BatchError(
            f"jar '{key}': its name says wide mouth, but a bore of {bore_mm:.0f} mm is not "
            f"({WIDE_BORE_MM:.0f} mm or more); leave 'wide' out of the name, or measure again"
        )
    if water_g < LEAST_FILL * jar.capacity_ml:
        raise BatchError(
            f"jar '{key}': a neck of {bore_mm:.0f} mm with {headspace_in:g} in of headspace is "
            f"more than the whole jar, which holds {water_g:.0f} g of water; measure again"
        )
    return jar


def _check(key: str, what: str, value: float, least: float, most: float, unit: str) -> None:
    if not least <= value <= most:
        raise BatchError(
            f"jar '{key}': {what} of {value:g} {unit} cannot be; {least:g} to {most:g} {unit} is "
            "the range, so check its unit"
        )


def _bore_by_brim(
    key: str, water_g: float, headspace_in: float, brim_g: float, bore_mm: float | None
) -> float:
    """Bore in mm: as given, if the two weights do not speak against it, else as they tell."""
    if headspace_in == 0.0:
        raise BatchError(
            f"jar '{key}': without headspace the water is already at the brim; leave the brim out"
        )
    gap = brim_g - water_g
    if gap <= 0.0:
        raise BatchError(
            f"jar '{key}': {brim_g:g} g of water to the brim is no more than {water_g:g} g up to "
            "the headspace; weigh again"
        )
    told = 20.0 * math.sqrt(gap / (math.pi * headspace_in * CM_PER_INCH))
    if bore_mm is None:
        _check(key, "by both weights, a mouth", told, LEAST_BORE_MM, MOST_BORE_MM, "mm")
        return told
    due = gap_volume_ml(bore_mm, headspace_in)
    if abs(gap - due) > 2.0 * SCALE_ERROR_G + 0.25 * due:  # two weighings, and no true cylinder
        raise BatchError(
            f"jar '{key}': {gap:.0f} g more water goes in up to the brim, where a mouth of "
            f"{bore_mm:.0f} mm takes {due:.0f} g; weigh again, or leave the mouth out"
        )
    return bore_mm


def measuring_error_ml(water_g: float) -> float:
    """How far the fill in ml may be off: the scale, and water at up to 30 C."""
    return SCALE_ERROR_G + WATER_ERROR * water_g


def add_jar(ledger: Ledger, jar: Jar, typed: Mapping[str, str]) -> Jar | None:
    """Write down a jar; ``typed`` is what it was measured by, as it was typed.

    Gives the jar of this name as it stood before, or None. Other numbers supersede it; the same
    ones write nothing. Raises BatchError for the name of a built-in jar, and LedgerError.
    """
    jar = replace(jar, key=own_jar_key(jar.key))
    with ledger.writing("jar") as action:
        standing = own_jars(ledger).get(jar.key)
        if standing != jar:
            ledger.execute(
                "INSERT INTO own_jar (action_id, name, capacity_ml, bore_mm, typed) "
                "VALUES (?, ?, ?, ?, ?)",
                action, jar.key, jar.capacity_ml, jar.bore_mm,
                to_json(typed),
            )  # fmt: skip
        return standing


def own_jars(ledger: Ledger) -> dict[str, Jar]:
    """Jars of one's own by key, in the order they were first measured. Raises LedgerError."""
    rows = ledger.rows(f"SELECT name, capacity_ml, bore_mm FROM own_jar WHERE {STANDS} ORDER BY id")
    for name, capacity_ml, bore_mm in rows:
        if not (0.0 < capacity_ml < _MOST_ROOM_ML and 0.0 < bore_mm <= MOST_BORE_MM):
            raise damaged(
                ledger.path, f"jar '{name[:60]}' holds {capacity_ml:g} ml at {bore_mm:g} mm of bore"
            )
    return {name: Jar(name, capacity_ml, bore_mm) for name, capacity_ml, bore_mm in rows}


def measured_by(ledger: Ledger) -> dict[str, dict[str, str]]:
    """What each jar of one's own was last measured by, as it was typed. Raises LedgerError."""
    rows = ledger.rows(f"SELECT name, typed FROM own_jar WHERE {STANDS} ORDER BY id")
    with legible(ledger.path, "a jar kept in it"):
        return {name: texts(typed) for name, typed in rows}


def shelf(ledger: Ledger) -> Mapping[str, Jar]:
    """The built-in jars and one's own, by key, and one's baskets. Raises LedgerError."""
    found = OwnShelf({**SHELF, **own_jars(ledger)})
    found.baskets = baskets_in(ledger.settings(), ledger.path)
    return found


def baskets_in(settings: Mapping[str, str], path: Path) -> Baskets:
    """What was typed for each basket, by its name and the produce. Raises LedgerError."""
    with legible(path, "a basket kept in it"):
        return {
            key.removeprefix(_BASKET): texts(value)
            for key, value in settings.items()
            if key.startswith(_BASKET)
        }


def setting_of(name: str, holds: Mapping[str, str], before: Mapping[str, str]) -> tuple[str, str]:
    """The setting, key and value, that keeps a basket; ``before`` is what it held till now.

    Raises BatchError or MeasureError for what cannot be kept.
    """
    known = {**before}
    for produce, text in holds.items():
        key = produce_key(produce)
        if not key:
            raise BatchError(f"--{produce}: of which produce? Write it like --cucumber '23 lb'")
        try:
            basket_g(text)
        except (BatchError, MeasureError) as error:
            raise BatchError(f"--{produce} '{text}': {error}") from error
        known[key] = text
    return f"{_BASKET}{basket_name(name)}", to_json(known)


def basket_name(name: str) -> str:
    """The name by which a basket is kept: 'Blue  Bucket' is 'blue bucket'. Raises BatchError."""
    key = " ".join(name.casefold().split())
    if not key or not key[0].isalpha() or len(key) > LONGEST_NAME or not key.isprintable():
        raise BatchError(
            f"'{name[:60]}' is not a name for a basket; use one that begins with a letter, of at "
            f"most {LONGEST_NAME} characters, such as 'blue bucket'"
        )
    if published_container(key) or _is_unit(key):
        raise BatchError(f"'{key}' is a measure already; give the basket another name")
    return key


def _is_unit(key: str) -> bool:
    for read in (parse_weight, parse_volume):
        try:
            read(f"1 {key}")
        except MeasureError:
            continue
        return True
    return False
