"""Values of any type, and trees in which some node is one of them."""

import copy
import datetime as dt
import json
import math
import random
from typing import Any

from mutating import ODD

_TEXTS = (
    "", " ", "a", "pint", "carrot", "12", "-3", "0", "1e999", "nan", "inf", "1/2", "2,5",
    "6 lb 4 oz",
    "2024-08-31", "2024-02-30", "0001-01-01", "9999-12-31", "2024-08-31T10:00:00+00:00", "1",
    "true",
    "{}", "[]", "null", "NaN", '""', "[[1, {}]]", '{"a": null}', '{"trimmed_g": -1}',
    "pint + quart",
    "5 pint-wide, then pint", "x" * 300, "y" * 20_000, "\x7f\t\r\n", "Ünï\u202e\U0001f955",
    *(odd.decode("utf-8", "ignore") for odd in ODD),
)  # fmt: skip
_NUMBERS = (
    0, 1, -1, 2, 3, 7, 40, 999, 10**6, 2**31, 2**53 + 1, 2**63 - 1, -(2**63), 0.0, -0.0, 0.5, 1.5,
    -1.5, 1e-300, 5e-324, 1e5, 1e15, 1e300, -1e300, math.inf, -math.inf, math.nan,
)  # fmt: skip
_OTHERS = (None, True, False, b"", b"\xff\xfe", b"12", [], {}, [1, "a"], {"a": [None]}, [[[]]])


def value(draw: random.Random) -> Any:
    """A value of any type that JSON, SQL or TOML has."""
    return copy.deepcopy(draw.choice(draw.choice((_TEXTS, _NUMBERS, _NUMBERS, _OTHERS))))


def nodes(tree: Any) -> list[tuple[Any, Any]]:
    """Every node of a tree, as what holds it and its key or place there."""
    held = tree.items() if isinstance(tree, dict) else enumerate(tree)
    found = []
    for key, inner in held:
        found.append((tree, key))
        if isinstance(inner, dict | list):
            found += nodes(inner)
    return found


def twisted(draw: random.Random, tree: Any) -> Any:
    """A copy in which a node or some are of another value, or gone, or there twice."""
    tree = copy.deepcopy(tree)
    for _ in range(draw.choice((1, 1, 1, 2, 4))):
        if not (found := nodes(tree)):
            return value(draw)
        holder, key = draw.choice(found)
        kind = draw.randrange(8)
        if kind == 0:
            del holder[key]
        elif kind == 1 and isinstance(holder, list):
            holder.insert(key, copy.deepcopy(holder[key]))
        elif kind == 1:
            holder[draw.choice(_TEXTS)] = copy.deepcopy(holder[key])
        elif kind == 2:
            other, at = draw.choice(found)
            holder[key] = copy.deepcopy(other[at]) if _has(other, at) else value(draw)
        elif kind == 3 and isinstance(holder[key], int | float):
            holder[key] *= draw.choice((-1, 0, 10, 1e3, 1e-3, 1e9))
        else:
            holder[key] = value(draw)
    return tree if draw.random() > 0.01 else value(draw)


def _has(holder: Any, key: Any) -> bool:
    return key in holder if isinstance(holder, dict) else key < len(holder)


def as_json(tree: Any) -> str:
    """A tree as JSON text, NaN and infinity too; bytes as the text they are shown as."""
    return json.dumps(tree, default=repr)


def as_toml(tree: dict[str, Any]) -> str:
    """A tree as TOML: tables inline, an array's members on lines of their own."""
    return "\n".join(f"{_quoted(key)} = {_toml(inner)}" for key, inner in tree.items()) + "\n"


def _toml(node: Any) -> str:
    if isinstance(node, bool):
        return str(node).lower()
    if isinstance(node, dict):
        return "{ " + ", ".join(f"{_quoted(k)} = {_toml(v)}" for k, v in node.items()) + " }"
    if isinstance(node, list):
        return "[" + ",\n".join(map(_toml, node)) + "]"
    if isinstance(node, int | float):
        return str(node)
    if node is None:
        return dt.date(2024, 8, 31).isoformat()  # the one kind that TOML has and JSON has not
    return _quoted(node if isinstance(node, str) else repr(node))


def _quoted(text: str) -> str:
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")
