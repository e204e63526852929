"""Many batches at once: totals drawn jointly.

The person is the same in all lines of a harvest, and so is a crop used twice; what happens in one
batch is not. Adding up the lines draw by draw keeps both: adding up each line's own range
would overstate the variance, taking the lines as unrelated would understate it.
"""

import math
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
from msgspec import Struct

from jarcast.batchtable import as_frame
from jarcast.domain.jar_text import turns_text
from jarcast.errors import ForecastError, JarcastError, in_short
from jarcast.forecast.answer import Forecast
from jarcast.forecast.habits import Habits
from jarcast.forecast.outcome import Outcome, html_table

if TYPE_CHECKING:
    import pandas as pd


class Harvest(Struct, frozen=True, eq=False):
    """Several batches forecast together; a harvest equals itself alone.

    ``lines`` are their forecasts, whose draws belong together place by place; ``jars`` and
    ``brine_ml`` the totals over all of them.
    """

    lines: tuple[Forecast, ...]
    jars: Outcome
    brine_ml: Outcome

    def __repr__(self) -> str:
        """How many lines, and their totals."""
        return f"Harvest({self._asked}: jars {self.jars:.4g}, brine_ml {self.brine_ml:.4g})"

    def _repr_html_(self) -> str:
        return html_table({"jars": self.jars, "brine_ml": self.brine_ml}, self._asked)

    @property
    def _asked(self) -> str:
        return f"{len(self.lines)} line{'s' if len(self.lines) > 1 else ''}"

    def to_frame(self) -> "pd.DataFrame":
        """The lines as a DataFrame, a row for each in their order.

        Columns: produce, cut, pack and jar; ``stage``, such as 'trimmed_g', and ``grams``, the
        weight it starts from; and of ``jars`` and ``brine_ml`` the median and its 8-in-10 range, as
        ``jars``, ``jars_low`` and ``jars_high``. Brine is NaN where none is made. Ends of ranges do
        not add up: the range of the whole is that of the harvest's own ``jars`` and ``brine_ml``.
        """
        import pandas as pd

        return pd.DataFrame([_row(one) for one in self.lines])


def _row(line: Forecast) -> dict[str, object]:
    asked = line.request
    row: dict[str, object] = {
        "produce": asked.produce, "cut": asked.cut, "pack": asked.pack,
        "jar": turns_text([(turn.count, turn.jar.key) for turn in asked.turns]),
        "stage": asked.stage, "grams": asked.grams,
    }  # fmt: skip
    for name, outcome in (("jars", line.jars), ("brine_ml", line.brine_ml)):
        known = name == "jars" or line.has_brine
        found = (outcome.median, *outcome.interval(0.8)) if known else (math.nan,) * 3
        row.update(zip((name, f"{name}_low", f"{name}_high"), found, strict=True))
    return row


def plan_harvest(
    habits: Habits, lines: Sequence[Mapping[str, Any]] | object, draws: int = 4096, seed: int = 0
) -> Harvest:
    """Forecast the batches of a harvest together.

    A line is a mapping of the keywords of ``Habits.forecast``; a weight may be a pair (low, high),
    a range that holds it 8 times in 10. ``lines`` may be a DataFrame too, or anything with
    ``to_pandas()``, a column for each keyword; None, NaN and NaT are 'not said'. The same lines and
    seed give the same draws. Raises ForecastError for no lines at all or for one that cannot be
    answered, BatchError and RecipeError for a jar that is not there or not the recipe's, each with
    the number of the line.
    """
    if not isinstance(habits, Habits):
        raise ForecastError(f"{in_short(habits)} are not habits; jarcast.learn gives them")
    asked = _lines(lines)
    if not asked:
        raise ForecastError("a harvest needs at least one line: a produce and a weight")
    forecasts = habits._together(asked, draws, seed)  # warns at who called this
    return Harvest(
        lines=forecasts,
        jars=Outcome(np.sum([one.jars.draws for one in forecasts], axis=0)),
        brine_ml=Outcome(np.sum([one.brine_ml.draws for one in forecasts], axis=0)),
    )


def _lines(lines: object) -> list[Any]:
    """The lines one by one, without what is not said. Raises ForecastError for what is no table."""
    if isinstance(lines, list | tuple):
        rows: list[Any] = list(lines)
    else:
        try:
            frame = as_frame(lines, "a list of lines or a DataFrame")
        except JarcastError as error:
            raise ForecastError(str(error)) from error
        if not frame.columns.is_unique:
            twice = in_short(frame.columns[frame.columns.duplicated()][0])
            raise ForecastError(f"the column {twice} is there twice; keep one of them")
        rows = frame.to_dict("records")
    return [
        {key: cell for key, cell in row.items() if not _missing(cell)}
        if isinstance(row, Mapping)
        else row
        for row in rows
    ]


def _missing(cell: object) -> bool:
    """Whether nothing is said: None, NaN, or pandas' NaT and NA, which is not loaded for it."""
    if isinstance(cell, float):
        return cell != cell
    return cell is None or type(cell).__name__ in ("NAType", "NaTType")
