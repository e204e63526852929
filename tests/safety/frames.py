"""DataFrames, and other things that may be a table, with cells and columns of any type."""

import datetime as dt
import random
from contextlib import suppress
from decimal import Decimal
from fractions import Fraction
from typing import Any

from values import twisted, value

_BATCHES: dict[str, list[Any]] = {
    "batch": ["c1", "c2", "c3"], "date": ["2024-08-03", "2024-08-17", "2024-09-01"],
    "produce": ["carrot", "cucumber", "beet"], "cut": ["sticks", "slices", "slices"],
    "pack": ["raw", "raw", "hot"], "jar": ["pint", "pint-wide + pint", "quart"],
    "trimmed_g": [2835.0, 3100.0, 2700.0], "jars": [9.5, "4 + 5", 6.5], "cure_hours": [0, 12, None],
    "brine_made_ml": [2366.0, None, 1500.0], "person": ["Ana", "", "Bo"], "note": ["", "x", "'=1"],
    "headspace_in": [0.5, 0.5, 0.5], "sealed": [9, None, 6], "salt": ["", "3/4 cup", ""],
}  # fmt: skip
_LINES: dict[str, list[Any]] = {
    "produce": ["carrot", "beet"], "cut": ["sticks", "slices"], "pack": ["raw", "hot"],
    "jar": ["pint", "quart"], "trimmed_g": [2700.0, None], "as_bought_g": [None, (3000, 4000)],
    "cure_hours": [0.0, None], "headspace_in": [0.5, 0.5], "person": ["Ana", None],
    "recipe": [None, None], "so_far": [None, None], "salt_g": [None, 100],
}  # fmt: skip


def any_frame(draw: random.Random) -> Any:
    """A table of batches that is right, changed in one way or several."""
    return _changed(draw, _BATCHES)


def any_lines(draw: random.Random) -> Any:
    """Lines of a harvest as ``plan_harvest`` takes them, changed likewise."""
    return _changed(draw, _LINES)


def _changed(draw: random.Random, columns: dict[str, list[Any]]) -> Any:
    import pandas as pd

    shape = draw.randrange(10)
    if shape == 0:  # no frame at all, or what pandas may make one of
        rows = [dict(zip(columns, row, strict=True)) for row in zip(*columns.values(), strict=True)]
        return twisted(draw, draw.choice((rows, columns)))
    frame = pd.DataFrame(columns, dtype=object if draw.random() < 0.5 else None)
    if shape == 1:
        return draw.choice(
            (frame.T, frame.iloc[0], frame.to_numpy(), frame.to_records(), frame[:0])
        )
    for _ in range(draw.choice((1, 1, 2, 3))):
        change = _odd_column if draw.random() < 0.7 else _odd_labels
        with suppress(Exception):  # pandas itself makes no such frame
            frame = change(draw, frame)
    return frame


def _odd_column(draw: random.Random, frame: Any) -> Any:
    """With a column of another type, or a cell of it."""
    import pandas as pd

    at = draw.randrange(frame.shape[1])
    cells = frame.iloc[:, at].tolist()
    if draw.random() < 0.5:
        cells[draw.randrange(len(cells))] = _cell(draw)
        new = pd.Series(cells, dtype=object)
    else:
        dtype = draw.choice((
            "category", "string", "float32", "Int64", "Float64", "bool", "boolean", "complex128",
            "datetime64[ns]", "datetime64[ns, UTC]", "timedelta64[ns]", "Sparse[float]", "int8",
            "period[D]", "S", "float16", "str",
        ))  # fmt: skip
        try:
            new = pd.Series(cells).astype(dtype)
        except Exception:  # pandas cannot: a column of one odd cell then
            new = pd.Series([_cell(draw)] * len(cells), dtype=object)
    left, right = frame.iloc[:, :at], frame.iloc[:, at + 1 :]
    new.index = frame.index
    return pd.concat([left, new.to_frame(), right], axis=1).set_axis(frame.columns, axis=1)


def _odd_labels(draw: random.Random, frame: Any) -> Any:
    """With other columns, or another index."""
    import pandas as pd

    names, kind = list(frame.columns), draw.randrange(6)
    if kind == 0:
        names[draw.randrange(len(names))] = draw.choice(names)  # there twice
    elif kind == 1:
        names = [("a", name) for name in names]
    elif kind == 2:
        new = _cell(draw)
        names[draw.randrange(len(names))] = new if _hashable(new) else "x"
    elif kind == 3:
        return frame.set_axis([_hashable_cell(draw) for _ in frame.index], axis=0)
    elif kind == 4:
        return pd.concat([frame, frame], axis=draw.randrange(2))
    else:
        return frame.set_axis(pd.MultiIndex.from_product([[0], frame.index]), axis=0)
    columns = pd.MultiIndex.from_tuples(names) if kind == 1 else pd.Index(names, dtype=object)
    return frame.set_axis(columns, axis=1)


def _cell(draw: random.Random) -> Any:
    """A value of any type that a cell of a frame may hold."""
    import numpy as np
    import pandas as pd

    if draw.random() < 0.4:
        return value(draw)
    return draw.choice((
        pd.NaT, pd.NA, np.nan, np.float32(2.5), np.float64("inf"), np.int64(7), np.uint8(3),
        np.bool_(True), np.str_("pint"), np.bytes_(b"pint"), np.datetime64("2024-08-03"),
        np.datetime64("NaT"), np.timedelta64(3, "h"), np.array([1.0, 2.0]), np.array(3.0),
        np.complex128(1j), np.longdouble(2), pd.Timestamp("2024-08-03", tz="UTC"), dt.date.max,
        pd.Timestamp("2024-08-03 10:00"), pd.Timedelta("1h"), pd.Interval(1, 2),
        pd.Period("2024-08"),
        dt.datetime(2024, 8, 3, tzinfo=dt.UTC), dt.time(3), dt.timedelta(1), Decimal("2.5"),
        Decimal("NaN"), Decimal("sNaN"), Fraction(5, 2), 10**400, 10**5000,
        -(10**30), 1j, {1}, frozenset({2}), (1, 2),
        (2000, 3000), (float("nan"), 1), (3000, 2000), ("a",), range(3), object(), type, len,
        pd.Series([1, 2]), pd.DataFrame({"a": [1]}), bytearray(b"x"), memoryview(b"x"),
        ..., "\ud800",
    ))  # fmt: skip


def _hashable_cell(draw: random.Random) -> Any:
    new = _cell(draw)
    return new if _hashable(new) else repr(new)


def _hashable(thing: Any) -> bool:
    try:
        hash(thing)
    except TypeError:
        return False
    return True
