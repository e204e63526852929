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
    from jarcast import plot
    from jarcast.batchtable import read_batches
    from jarcast.domain.packing import SoFar
    from jarcast.errors import IgnoredColumn, NearName
    from jarcast.forecast.answer import Forecast
    from jarcast.forecast.habits import Habits, habits_from, learn, load_habits
    from jarcast.forecast.outcome import Outcome
    from jarcast.harvest.together import Harvest, plan_harvest
    from jarcast.trackrecord.beside import hindsight

_HOMES = {
    "Forecast": "jarcast.forecast.answer",
    "Habits": "jarcast.forecast.habits",
    "Harvest": "jarcast.harvest.together",
    "IgnoredColumn": "jarcast.errors",
    "NearName": "jarcast.errors",
    "Outcome": "jarcast.forecast.outcome",
    "SoFar": "jarcast.domain.packing",
    "habits_from": "jarcast.forecast.habits",
    "hindsight": "jarcast.trackrecord.beside",
    "learn": "jarcast.forecast.habits",
    "load_habits": "jarcast.forecast.habits",
    "plan_harvest": "jarcast.harvest.together",
    "read_batches": "jarcast.batchtable",
}

__all__ = [
    "Forecast",
    "Habits",
    "Harvest",
    "IgnoredColumn",
    "NearName",
    "Outcome",
    "SoFar",
    "__version__",
    "habits_from",
    "hindsight",
    "learn",
    "load_habits",
    "plan_harvest",
    "plot",
    "read_batches",
]


_MODULES = ("errors", "learning", "plot", "recipes")  # reached by their names


def __getattr__(name: str) -> Any:
    if name in _MODULES:
        return import_module(f"jarcast.{name}")
    if name in _HOMES:
        return getattr(import_module(_HOMES[name]), name)
    raise AttributeError(f"module 'jarcast' has no attribute '{name}'")


def __dir__() -> list[str]:
    return sorted({*__all__, *_MODULES})
