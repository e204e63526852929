"""Baskets of one's own: a name, and what one of it weighs, filled with each produce.

They are settings of the kitchen: 'basket blue bucket' holds the weights as they were typed.
"""

from collections.abc import Mapping
from pathlib import Path

from jarcast.domain.containers import published_container
from jarcast.domain.jars import Baskets
from jarcast.domain.names import produce_key
from jarcast.domain.said_weight import basket_g
from jarcast.errors import BatchError, MeasureError
from jarcast.ledger.backups import legible
from jarcast.ledger.cells import texts, to_json
from jarcast.measures import parse_volume, parse_weight

_KEY = "basket "  # of the settings
_LONGEST_NAME = 40


def baskets_in(settings: Mapping[str, str], path: Path) -> Baskets:
    """What was typed for each basket, by its name and the produce. Raises LedgerError."""
    with legible(path, "a basket kept in it"):
        return {
            key.removeprefix(_KEY): texts(value)
            for key, value in settings.items()
            if key.startswith(_KEY)
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
    return f"{_KEY}{basket_name(name)}", to_json(known)


def basket_name(name: str) -> str:
    """The name by which a basket is kept: 'Blue  Bucket' is 'blue bucket'. Raises BatchError."""
    key = " ".join(name.casefold().split())
    if not key or not key[0].isalpha() or len(key) > _LONGEST_NAME or not key.isprintable():
        raise BatchError(
            f"'{name[:60]}' is not a name for a basket; use one that begins with a letter, of at "
            f"most {_LONGEST_NAME} characters, such as 'blue bucket'"
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
