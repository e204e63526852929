"""An uncertain amount, as draws."""

import math
from collections.abc import Iterator, Mapping
from functools import cached_property
from html import escape
from numbers import Real
from typing import Any

import numpy as np
from msgspec import Struct
from msgspec.structs import force_setattr
from numpy.typing import DTypeLike

from jarcast.errors import ForecastError, in_short
from jarcast.learning.arrays import Array

MOST_SHORT = 0.05  # chance of running short of brine; a larger one is only taken over a known floor


class Outcome(Struct, frozen=True, dict=True, eq=False):
    """An uncertain amount: ``draws`` (draws,) of what may come, all finite and none below 0.

    Draws of two outcomes of one forecast belong together, place by place. They are not independent
    of one another: they come in mirrored pairs, one from each half. They cannot be written to.
    numpy, pandas and matplotlib take an outcome for its draws; f"{outcome:.1f}" is its middle with
    its 8-in-10 range. An outcome equals itself alone; ``np.array_equal`` compares the draws of two.
    """

    draws: Array

    def __post_init__(self) -> None:
        """Keep draws of its own that nobody can write to. Raises ForecastError for none."""
        if np.ma.is_masked(self.draws):
            raise ForecastError("some of these draws are masked; give those that count alone")
        try:
            own = np.array(self.draws, dtype=np.float64)
        except (TypeError, ValueError) as error:
            raise ForecastError(f"draws are numbers, one after the other ({error})") from error
        if own.ndim != 1 or not own.size:
            raise ForecastError(f"draws of shape {own.shape}: one or more in a row are due")
        if not (own.min() >= 0.0 and own.max() < math.inf):  # NaN is neither
            raise ForecastError("draws are amounts: each of them finite, and 0 or more")
        own.setflags(write=False)
        force_setattr(self, "draws", own)

    def __array__(self, dtype: DTypeLike | None = None, copy: bool | None = None) -> Array:
        """The draws, for numpy. Raises ValueError, as numpy asks, for a copy that may not be."""
        if copy is False and dtype is not None and np.dtype(dtype) != self.draws.dtype:
            raise ValueError(f"draws as {np.dtype(dtype)} are a copy; leave out copy=False")
        return np.array(self.draws, dtype=dtype) if copy else np.asarray(self.draws, dtype=dtype)

    def __len__(self) -> int:
        """How many draws there are."""
        return self.draws.size

    def __iter__(self) -> Iterator[float]:
        """The draws, one by one."""
        return iter(self.draws.tolist())

    def __repr__(self) -> str:
        """Its middle and range, never the draws."""
        return f"Outcome({self:.4g}, {len(self)} draws)"

    def __format__(self, spec: str) -> str:
        """Middle and 8-in-10 range, each number by ``spec``: '10.2 (8.8 to 11.9)'."""
        low, high = self.interval()
        return f"{self.median:{spec}} ({low:{spec}} to {high:{spec}})" if spec else repr(self)

    def _repr_html_(self) -> str:
        return html_table({"": self})

    def mean(self, **options: Any) -> float:
        """The mean, with the options of numpy's method: np.mean takes an outcome too."""
        return self.draws.mean(**options)  # type: ignore[no-any-return]

    def std(self, **options: Any) -> float:
        """The standard deviation, with the options of numpy's method, ``ddof`` among them."""
        return self.draws.std(**options)  # type: ignore[no-any-return]

    @cached_property
    def _sorted(self) -> Array:
        return np.sort(self.draws)

    @property
    def median(self) -> float:
        """The middle: as likely more as less."""
        return self.quantile(0.5)

    def quantile(self, p: float) -> float:
        """The amount that is not exceeded with chance p, 0 <= p <= 1. Raises ForecastError."""
        if not _is_number(p) or not 0.0 <= p <= 1.0:
            raise ForecastError(f"a chance must be between 0 and 1; {_shown(p)} was given")
        # Linear between order statistics: Hyndman and Fan (1996), type 7.
        at = float(p) * (self.draws.size - 1)
        low = math.floor(at)
        high = min(low + 1, self.draws.size - 1)
        values = self._sorted
        return float(values[low] + (at - low) * (values[high] - values[low]))

    def enough(self, short_chance: float = 0.05) -> float:
        """The amount that does but with this chance. Raises ForecastError as ``quantile``."""
        check_chance(short_chance)
        return self.quantile(1.0 - float(short_chance))

    def interval(self, level: float = 0.8) -> tuple[float, float]:
        """Low and high of the central range that holds with chance ``level``."""
        if not _is_number(level) or not 0.0 < level < 1.0:
            raise ForecastError(
                f"the level of a range must be between 0 and 1; {_shown(level)} was given"
            )
        tail = 0.5 * (1.0 - float(level))
        return self.quantile(tail), self.quantile(1.0 - tail)

    def chance_above(self, amount: float) -> float:
        """Chance that the outcome is more than an amount. Raises ForecastError for no number."""
        return float(np.mean(self.draws > _amount(amount)))

    def prob_at_least(self, amount: float) -> float:
        """Chance that the outcome is this amount or more. Raises ForecastError for no number."""
        return float(np.mean(self.draws >= _amount(amount)))


def check_chance(short_chance: object) -> None:
    """Refuse what is no chance of running short. Raises ForecastError."""
    if not _is_number(short_chance):
        raise ForecastError(
            "a chance of running short must be a number such as 0.05; "
            f"{in_short(short_chance)} was given"
        )
    if not 0.0 <= short_chance <= 1.0:  # type: ignore[operator]
        raise ForecastError(f"a chance must be between 0 and 1; {_shown(short_chance)} was given")


def _is_number(value: object) -> bool:
    return isinstance(value, Real) and not isinstance(value, bool)


def _shown(value: object) -> str:
    """A value that was given, as a message shows it: numpy's numbers as their own."""
    return f"{value}" if isinstance(value, Real) else in_short(value)


def _amount(amount: object) -> float:
    if not _is_number(amount) or math.isnan(amount):  # type: ignore[arg-type]
        raise ForecastError(f"the chance of {in_short(amount)}: an amount is a number, such as 12")
    return float(amount)  # type: ignore[arg-type]


def html_table(outcomes: Mapping[str, Outcome], caption: str = "") -> str:
    """Outcomes as a small table of HTML: the middle of each, and its 8-in-10 range."""
    rows = "".join(
        f"<tr><th>{escape(name)}</th><td>{one.median:.4g}</td><td>{low:.4g}</td>"
        f"<td>{high:.4g}</td></tr>"
        for name, one in outcomes.items()
        for low, high in [one.interval()]
    )
    head = "<tr><th></th><th>middle</th><th>8 times in 10 from</th><th>to</th></tr>"
    return f"<table><caption>{escape(caption)}</caption>{head}{rows}</table>"
