"""The forecast asked backwards: how much to buy for so many jars."""

import math
from collections.abc import Mapping
from typing import Any

from msgspec import Struct

from jarcast.domain.batch import plain_number
from jarcast.domain.fields import MOST_GRAMS, MOST_JARS
from jarcast.domain.stages import AS_BOUGHT, STAGE_COLUMNS
from jarcast.errors import ForecastError
from jarcast.forecast.answer import Forecast
from jarcast.forecast.habits import Habits
from jarcast.forecast.outcome import Outcome
from jarcast.harvest.together import plan_harvest

_START_G = 5000.0
_CLOSE = 1e-4  # how near, in proportion, the weight is found


class ToBuy(Struct, frozen=True):
    """``grams`` at ``stage`` so that at least ``wanted`` jars come of it with chance ``chance``.

    ``jars`` is what comes of that weight, over ``lines`` (one for each batch).
    """

    stage: str
    grams: float
    wanted: float
    chance: float
    jars: Outcome
    lines: tuple[Forecast, ...]


def how_much(
    habits: Habits,
    line: Mapping[str, Any],
    *,
    jars: float,
    chance: float = 0.9,
    batches: int = 1,
    stage: str = AS_BOUGHT,
    draws: int = 4096,
    seed: int = 0,
) -> ToBuy:
    """How much produce gives at least so many jars, as often as asked.

    ``line`` holds keywords of ``Habits.forecast`` but no weight; the weight sought is at ``stage``,
    put up in so many equal batches, each cured with the salt the line says. More produce never
    gives fewer jars at the same seed, so it is found by halving. Raises ForecastError for a number
    that cannot be, or as a forecast does.
    """
    _check(jars, chance, batches, stage)
    if line.get("so_far") is not None:
        raise ForecastError("a batch being packed is already bought: use forecast")
    asked = {key: value for key, value in line.items() if key not in STAGE_COLUMNS}

    # What cannot be asked is said once for all: the batches are alike, so no one line is wrong.
    habits.forecast(**{**asked, stage: _START_G}, draws=draws, seed=seed)

    def forecast(grams: float) -> tuple[Forecast, ...]:
        one = {**asked, stage: grams / batches}
        return plan_harvest(habits, [one] * batches, draws=draws, seed=seed).lines

    def sure(grams: float) -> float:
        return _total(forecast(grams)).quantile(1.0 - chance)

    low, high = 0.0, _START_G
    while sure(high) < jars:
        low, high = high, 2.0 * high
        if high > MOST_GRAMS:
            raise ForecastError(
                f"{plain_number(jars)} jars are too many to forecast; ask for fewer"
            )
    while high - low > _CLOSE * high:
        middle = 0.5 * (low + high)
        low, high = (low, middle) if sure(middle) >= jars else (middle, high)
    lines = forecast(high)
    return ToBuy(stage, high, jars, chance, _total(lines), lines)


def _total(lines: tuple[Forecast, ...]) -> Outcome:
    return Outcome(sum((one.jars.draws for one in lines[1:]), start=lines[0].jars.draws))


def _check(jars: float, chance: float, batches: int, stage: str) -> None:
    if not math.isfinite(jars) or not 0.0 < jars <= MOST_JARS:
        raise ForecastError(
            f"jars wanted: {plain_number(jars)} cannot be; ask for more than 0, and for "
            f"{MOST_JARS} at most"
        )
    if not 0.001 <= chance <= 0.999:
        raise ForecastError(f"a chance must be 0.001 to 0.999; you gave {chance:g}")
    if not 1 <= batches <= 1000:
        raise ForecastError(f"batches must be 1 to 1000; {batches} were given")
    if stage not in STAGE_COLUMNS:
        raise ForecastError(f"'{stage}' is not a stage; choose from {', '.join(STAGE_COLUMNS)}")
