"""What was learned as plain values for JSON, and back: by the types of the fields, exactly.

Floats keep every digit. A mapping becomes a list of pairs, as its keys need not be texts; an array
its shape and its values; what is no finite number a text: 'inf', 'nan'.
"""

import math
import types
from collections.abc import Mapping
from enum import Enum
from functools import cache
from typing import Any, Literal, Union, get_args, get_origin, get_type_hints

import numpy as np
from msgspec import Struct

from jarcast.domain.read_only import ReadOnly
from jarcast.learning.arrays import Array


def to_plain(value: Any) -> Any:
    """A value, with all that it holds, as what JSON can write."""
    if isinstance(value, Struct):
        return {name: to_plain(getattr(value, name)) for name in value.__struct_fields__}
    if isinstance(value, np.ndarray):  # in its own order, by which sums of it round
        by_column = value.flags.f_contiguous and not value.flags.c_contiguous
        order: Literal["F", "C"] = "F" if by_column else "C"
        flat = [to_plain(one) for one in value.ravel(order).tolist()]
        return {"shape": list(value.shape), "order": order, "values": flat}
    if isinstance(value, Mapping):
        return [[to_plain(key), to_plain(held)] for key, held in value.items()]
    if isinstance(value, tuple):
        return [to_plain(one) for one in value]
    if isinstance(value, np.generic):
        return to_plain(value.item())
    if isinstance(value, Enum):
        return value.value
    return str(value) if isinstance(value, float) and not math.isfinite(value) else value


def from_plain(kind: Any, raw: Any) -> Any:
    """The value of this type again. Raises ValueError, TypeError or KeyError for what is none."""
    origin, inner = get_origin(kind), get_args(kind)
    if origin in (Union, types.UnionType):
        (one,) = (each for each in inner if each is not type(None))
        return None if raw is None else from_plain(one, raw)
    if origin is np.ndarray or kind == Array:  # Array is an alias with a name of its own by now
        values = np.array([float(one) for one in raw["values"]], dtype=np.float64)
        return values.reshape([int(n) for n in raw["shape"]], order=raw["order"])
    if origin is tuple:
        return _tuple(inner, raw)
    if origin is not None and issubclass(origin, Mapping):
        return ReadOnly({from_plain(inner[0], k): from_plain(inner[1], v) for k, v in raw})
    if isinstance(kind, type) and issubclass(kind, Struct):
        return _struct(kind, raw)
    if kind is float or (isinstance(kind, type) and issubclass(kind, Enum)):
        found = kind(raw)
        if found != found:
            raise ValueError("nan is no number that was learned")
        return found
    if not isinstance(raw, kind):
        raise TypeError(f"{raw!r} is no {kind.__name__}")
    return raw


def _tuple(inner: tuple[Any, ...], raw: Any) -> tuple[Any, ...]:
    if inner[1:] == (...,):
        return tuple(from_plain(inner[0], one) for one in raw)
    return tuple(from_plain(one, held) for one, held in zip(inner, raw, strict=True))


def _struct(kind: type[Struct], raw: Any) -> Struct:
    hints = _hints(kind)
    if raw.keys() != hints.keys():
        odd = sorted(raw.keys() ^ hints.keys())
        raise ValueError(f"{kind.__name__} has other fields: {', '.join(map(str, odd))}")
    return kind(**{name: from_plain(hint, raw[name]) for name, hint in hints.items()})


@cache
def _hints(kind: type[Struct]) -> dict[str, Any]:
    return {name: get_type_hints(kind)[name] for name in kind.__struct_fields__}
