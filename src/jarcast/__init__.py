"""Learn your own yields in jars and forecast the next batch.

>>> import jarcast
>>> batches = jarcast.read_batches("batches.csv")
>>> habits = jarcast.learn(batches)
>>> forecast = habits.forecast(produce="carrot", cut="sticks", pack="raw", trimmed_g=2700)
>>> forecast.jars.interval(0.8), forecast.brine_to_make(short_chance=0.05)

Each name is loaded on first use, so that the command line starts quickly.
"""

from importlib import import_module
from typing import TYPE_CHECKING

from jarcast._version import __version__

if TYPE_CHECKING:
    from jarcast import errors as errors
    from jarcast import learning as learning
    from jarcast import plot
    from jarcast import recipes as recipes
    from jarcast.batchtable import read_batches
    from jarcast.domain.jars import SHELF, Jar
    from jarcast.domain.packing import SoFar
    from jarcast.errors import IgnoredColumn, NearName
    from jarcast.forecast.answer import Forecast
    from jarcast.forecast.habits import Habits, habits_from, learn, load_habits
    from jarcast.forecast.outcome import Outcome
    from jarcast.harvest.together import Harvest, plan_harvest
    from jarcast.measures import Units
    from jarcast.trackrecord.beside import hindsight

_HOMES = {
    "Forecast": "jarcast.forecast.answer",
    "Habits": "jarcast.forecast.habits",
    "Harvest": "jarcast.harvest.together",
    "IgnoredColumn": "jarcast.errors",
    "Jar": "jarcast.domain.jars",
    "NearName": "jarcast.errors",
    "Outcome": "jarcast.forecast.outcome",
    "SHELF": "jarcast.domain.jars",
    "SoFar": "jarcast.domain.packing",
    "Units": "jarcast.measures",
    "habits_from": "jarcast.forecast.habits",
    "hindsight": "jarcast.trackrecord.beside",
    "learn": "jarcast.forecast.habits",
    "load_habits": "jarcast.forecast.habits",
    "plan_harvest": "jarcast.harvest.together",
    "read_batches": "jarcast.batchtable",
}

__all__ = [
    "SHELF",
    "Forecast",
    "Habits",
    "Harvest",
    "IgnoredColumn",
    "Jar",
    "NearName",
    "Outcome",
    "SoFar",
    "Units",
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


if not TYPE_CHECKING:  # a type checker is to see the names above, and no others

    def __getattr__(name):
        if name in _MODULES:
            return import_module(f"jarcast.{name}")
        if name in _HOMES:
            return getattr(import_module(_HOMES[name]), name)
        raise AttributeError(f"module 'jarcast' has no attribute '{name}'")


def __dir__() -> list[str]:
    return sorted({*__all__, *_MODULES})
