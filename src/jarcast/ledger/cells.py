"""Cells of the ledger that hold more than one value: JSON text, keys in order, numbers exact."""

from collections.abc import Mapping
from typing import Any

from msgspec import json


def to_json(values: Mapping[str, Any]) -> str:
    """A mapping as a cell holds it; the same mapping always gives the same text.

    Raises ValueError for a number that is not finite.
    """
    import json as writer  # only who writes waits for it, and msgspec writes NaN as null

    return writer.dumps(dict(values), ensure_ascii=False, sort_keys=True, allow_nan=False)


def texts(cell: str) -> dict[str, str]:
    """The texts by name in a cell. Raises ValueError when it holds anything else."""
    return json.decode(cell, type=dict[str, str])


def from_json(cell: str) -> dict[str, Any]:
    """The mapping in a cell. Raises ValueError when the cell holds none."""
    return json.decode(cell, type=dict[str, Any])
