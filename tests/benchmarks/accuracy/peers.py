"""The forecasters, side by side.

A peer is a function of a household, the history sizes wanted and a random generator; it gives
draws of (jars, brine in ml) for each unseen batch and each question asked, None where it failed.
Peers that know nothing of the truth read ``history`` and the published centres only.
"""

from collections.abc import Callable, Sequence

import numpy as np

from accuracy.households import Household, Unseen
from accuracy.limit import Limit
from accuracy.rivals import fit_average, fit_mixed, fit_quantile, fit_ridge, printed, ratio_peer
from accuracy.worlds import Array, carry

ASKS = ("ready", "as_bought")
Forecast = tuple[Array, Array] | None
Answers = dict[tuple[int, str], Forecast]
Peer = Callable[[Household, Sequence[int], np.random.Generator, int], Answers]


def _wanted(household: Household, sizes: Sequence[int]) -> list[Unseen]:
    return [unseen for unseen in household.unseen if unseen.after in sizes]


def oracle(
    household: Household, sizes: Sequence[int], rng: np.random.Generator, draws: int
) -> Answers:
    """Knows the household's true habits; only the batch's own noise is unknown to it."""
    answers: Answers = {}
    for unseen in _wanted(household, sizes):
        for ask in ASKS:
            course = carry(
                household.world, unseen.habits, unseen.setting, *unseen.known(ask), rng, draws
            )
            answers[unseen.after, ask] = course.jars, course.brine_ml
    return answers


def limit(
    household: Household,
    sizes: Sequence[int],
    rng: np.random.Generator,
    draws: int,
    walk: float | None = None,
) -> Answers:
    """Knows the world's law and spreads, and this household's clean batches so far."""
    answers: Answers = {}
    belief = Limit(household, walk)
    seen = 0
    for unseen in _wanted(household, sizes):
        for i in range(seen, unseen.after):
            belief.observe(household.clean[i], household.crop_of[i], household.settings[i])
        seen = unseen.after
        habits = belief.habits(unseen.crop, rng, draws)
        for ask in ASKS:
            course = carry(household.world, habits, unseen.setting, *unseen.known(ask), rng, draws)
            answers[unseen.after, ask] = course.jars, course.brine_ml
    return answers


def steady(
    household: Household, sizes: Sequence[int], rng: np.random.Generator, draws: int
) -> Answers:
    """The limit that takes the hand for a constant: what never forgetting costs in a drift."""
    return limit(household, sizes, rng, draws, walk=0.0)


def jarcast(
    household: Household, sizes: Sequence[int], rng: np.random.Generator, draws: int
) -> Answers:
    """The library, asked as its users ask it."""
    from jarcast.forecast.habits import habits_from

    answers: Answers = {}
    for unseen in _wanted(household, sizes):
        habits = habits_from(list(household.history[: unseen.after]))
        batch = unseen.batch
        for ask in ASKS:
            stage, weight = unseen.known(ask)
            found = habits.forecast(
                produce=batch.produce,
                cut=batch.cut,
                pack=batch.pack,
                jar=batch.jar_text,
                headspace_in=batch.headspace_in,
                cure_hours=batch.cure_hours,
                draws=draws,
                seed=int(rng.integers(2**31)),
                **{f"{stage}_g": weight},
            )
            answers[unseen.after, ask] = found.jars.draws, found.brine_ml.draws
    return answers


PEERS: dict[str, Peer] = {
    "printed recipe": printed,
    "running average": ratio_peer(fit_average),
    "BayesianRidge": ratio_peer(fit_ridge),
    "QuantileRegressor": ratio_peer(fit_quantile),
    "MixedLM": ratio_peer(fit_mixed),
    "steady limit": steady,
    "jarcast": jarcast,
    "limit": limit,
    "oracle": oracle,
}
SLOW = ("QuantileRegressor", "MixedLM")
SETS = {
    "tuning": ("jarcast", "limit", "oracle"),
    "fast": ("printed recipe", "running average", "BayesianRidge", "jarcast", "limit", "oracle"),
    "all": tuple(PEERS),
}
