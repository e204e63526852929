"""Learn your own yields in jars and forecast the next batch.

>>> import jarcast
>>> batches = jarcast.read_batches("batches.csv")
>>> habits = jarcast.learn(batches)
>>> forecast = habits.forecast(produce="carrot", cut="sticks", pack="raw", trimmed_g=2700)
>>> forecast.jars.interval(0.8), forecast.brine_to_make(short_chance=0.05)

Each name is loaded on first use, so that the command line starts quickly.
"""

from importlib import import_module
from typing import TYPE_CHECKING, Any

from jarcast._version import __version__

if TYPE_CHECKING:
    from jarcast.batchtable import read_batches
    from jarcast.errors import NearName
    from jarcast.forecasting.forecast import Forecast
    from jarcast.forecasting.habits import Habits, habits_from, learn
    from jarcast.forecasting.harvest import Harvest, plan_harvest
    from jarcast.forecasting.outcome import Outcome
    from jarcast.packing import SoFar

_HOMES = {
    "Forecast": "jarcast.forecasting.forecast",
    "Habits": "jarcast.forecasting.habits",
    "Harvest": "jarcast.forecasting.harvest",
    "NearName": "jarcast.errors",
    "Outcome": "jarcast.forecasting.outcome",
    "SoFar": "jarcast.packing",
    "habits_from": "jarcast.forecasting.habits",
    "learn": "jarcast.forecasting.habits",
    "plan_harvest": "jarcast.forecasting.harvest",
    "read_batches": "jarcast.batchtable",
}

__all__ = [
    "Forecast",
    "Habits",
    "Harvest",
    "NearName",
    "Outcome",
    "SoFar",
    "__version__",
    "habits_from",
    "learn",
    "plan_harvest",
    "read_batches",
]


def __getattr__(name: str) -> Any:
    if name in _HOMES:
        return getattr(import_module(_HOMES[name]), name)
    raise AttributeError(f"module 'jarcast' has no attribute '{name}'")


def __dir__() -> list[str]:
    return sorted(__all__)
