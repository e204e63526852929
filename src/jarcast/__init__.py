"""Learn your own yields in jars and forecast the next batch.

>>> import jarcast
>>> batches = jarcast.read_batches("batches.csv")
>>> habits = jarcast.learn(batches)
>>> forecast = habits.forecast(produce="carrot", cut="sticks", pack="raw", trimmed_g=2700)
>>> forecast.jars.interval(0.8), forecast.brine_to_make(short_chance=0.05)
"""

from typing import TYPE_CHECKING, Any

from jarcast._version import __version__
from jarcast.forecasting.habits import Forecast, Habits, habits_from, learn
from jarcast.forecasting.outcome import Outcome

if TYPE_CHECKING:
    from jarcast.interchange import read_batches

__all__ = [
    "Forecast",
    "Habits",
    "Outcome",
    "__version__",
    "habits_from",
    "learn",
    "read_batches",
]


def __getattr__(name: str) -> Any:
    if name == "read_batches":  # loads the CSV reader only for those who read a CSV
        from jarcast.interchange import read_batches

        return read_batches
    raise AttributeError(f"module 'jarcast' has no attribute '{name}'")
