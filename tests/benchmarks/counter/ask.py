"""How the benchmarks of the counter ask jarcast: by its public names, but for one.

What jarcast can be told and asked changes; the worlds do not. A keyword that it does not take is
left out, and a question that it does not answer is answered from the draws of its forecast. Only
this module is touched when jarcast learns to answer more.
"""

import inspect
from collections.abc import Callable, Mapping, Sequence
from typing import Any

import numpy as np

from counter.kitchens import Cooked, Counter, Kitchen, Note, other_sort, weighed
from jarcast import Forecast, Habits, SoFar, habits_from
from jarcast.domain.batch import Batch
from jarcast.errors import ForecastError
from jarcast.forecast.pots import first_pot_ml as drawn_first_pot_ml

Array = np.ndarray[Any, np.dtype[np.float64]]

_LEARNS = frozenset(inspect.signature(habits_from).parameters)
_NOTES = frozenset(inspect.signature(SoFar).parameters)
_SECOND_LOSS_ML = 100.0  # two thirds of the 150 ml that one reckons a pot with


def learned(
    history: Sequence[Batch],
    notes: Mapping[str, Sequence[Note]] | None = None,
    whole_jars: bool | None = None,
    last_jar: str | None = None,
) -> Habits:
    """Habits from a history; ``whole_jars`` or ``last_jar`` is told where jarcast can be told."""
    told: dict[str, Any] = {"whole_jars": whole_jars, "last_jar": last_jar}
    told = {name: value for name, value in told.items() if name in _LEARNS}
    packed = {name: [_noted(note) for note in found] for name, found in (notes or {}).items()}
    return habits_from(history, packed=packed, **told)


def _noted(note: Note) -> SoFar:
    return SoFar(note.jars, produce_left_g=note.produce_left_g, pot_left_ml=note.pot_left_ml,
                 brine_made_ml=note.made_ml)  # fmt: skip


def stood(cooked: Cooked, jars: Sequence[int]) -> SoFar | None:
    """What stands in the jars, known to the gram, reading after reading; None before the first."""
    found = None
    for count in sorted(jars):
        grams, brine_ml = cooked.packing.stood(count)
        found = SoFar(count, produce_g=grams, brine_ml=brine_ml, earlier=found)
    return found


def reading(note: Note, produce_step_g: float | None, brine_step_ml: float | None) -> SoFar:
    """What was read of bowl and pot; the steps are told where jarcast can be told."""
    told = {"produce_step_g": produce_step_g, "brine_step_ml": brine_step_ml}
    return SoFar(
        note.jars,
        produce_left_g=note.produce_left_g,
        pot_left_ml=note.pot_left_ml,
        brine_made_ml=note.made_ml,
        **{name: step for name, step in told.items() if name in _NOTES and step is not None},
    )


def forecast(
    habits: Habits,
    kitchen: Kitchen,
    cooked: Cooked,
    scale_g: float,
    draws: int,
    *,
    so_far: SoFar | None = None,
    stage: str = "",
) -> Forecast:
    """The forecast of a batch from its weight at a stage, the ready one unless said."""
    crop, stage = kitchen.household.crops[cooked.crop], stage or cooked.setting.stages[-1]
    return habits.forecast(
        produce=crop.produce, cut=crop.cut, pack=crop.pack, jar=sorts_asked(kitchen.world, cooked),
        cure_hours=cooked.setting.hours, headspace_in=0.5, so_far=so_far, draws=draws,
        seed=kitchen.number, **{f"{stage}_g": weighed(cooked, scale_g)[f"{stage}_g"]},
    )  # fmt: skip


def sorts_asked(world: Counter, cooked: Cooked) -> str:
    """The sorts of jar of a batch, as they are asked for."""
    before = f"{world.first} {other_sort(world, cooked.jar)}, then " if world.first else ""
    return before + cooked.jar


def first_pot_ml(found: Forecast, jars: int, chances: Array) -> Array:
    """Brine for the first load of so many jars, short with each of these chances, in ml.

    To the drop where jarcast says that, as all the brine of a batch is asked: an order is rounded
    up. Without a recipe none is made for a chance above 0.05; what its draws come to is asked all
    the same, as both ways are tuned. From draws it is the load's share of the brine. NaN for a
    chance that jarcast refuses; where it refuses all of them, no pots are made of this batch and
    the first is all of it.
    """
    if (chain := getattr(found, "chain", None)) is not None:
        return np.array([drawn_first_pot_ml(chain, jars, float(chance)) for chance in chances])
    if (ask := getattr(found, "brine_for", None)) is not None:
        asked = np.array([_or_nan(ask, jars, float(chance)) for chance in chances])
        return asked if np.isfinite(asked).any() else total_ml(found, chances)
    share = np.minimum(jars / np.maximum(found.jars.draws, 1e-9), 1.0)
    return np.asarray(np.quantile(found.brine_ml.draws * share, 1.0 - chances))


def _or_nan(ask: Callable[[int, float], float], jars: int, chance: float) -> float:
    try:
        return float(ask(jars, chance))
    except ForecastError:
        return float("nan")


def with_second_ml(found: Forecast, chances: Array) -> Array:
    """All the brine of a batch that takes a second pot, short with each of these chances, in ml.

    ``found`` is the forecast with the first jars packed.
    """
    return total_ml(found, chances) + _SECOND_LOSS_ML


def total_ml(found: Forecast, chances: Array) -> Array:
    """All the brine of a batch out of one pot, short with each of these chances, in ml."""
    return np.asarray(np.quantile(found.brine_ml.draws, 1.0 - chances))


def narrowed(found: Forecast, question: str) -> Array | None:
    """What a forecast says its ranges of jars and brine would be over what they are now, (2,).

    ``question`` is one of ``narrowing.QUESTIONS``. None: it does not say.
    """
    jars = {"note after 1 jar": 1, "note after 3 jars": 3}.get(question, 0)
    weigh = "" if jars else f"{question.removeprefix('weigh ')}_g"
    for said in found.would_narrow(jars or 3):
        if (said.weigh, said.after_jars) == (weigh, jars):
            return np.array([said.jars, said.brine])
    return None


def unrounded_jars(found: Forecast) -> Array:
    """Draws of the jars before a last one is rounded to a whole: today's draws are so."""
    return found.jars.draws
