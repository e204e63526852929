"""A forecast in the middle of packing, where the produce was weighed at an earlier jar.

Jars filled since then say nothing of how closely they are packed: the jars in all stay as doubtful
as they were when the produce was weighed. The brine left in the pot is seen now.
"""

from dataclasses import replace

from jarcast.forecasting.habits import Forecast
from jarcast.forecasting.outcome import Outcome
from jarcast.packing import SoFar

_SURE = 0.99  # a weight whose range of this level is one number was weighed


def weighed_share(note: SoFar, ready_g: Outcome | None) -> float | None:
    """Grams of produce in each jar of a note, where its two weighings tell; None: not known.

    ``ready_g`` is the weight of all that goes into the jars.
    """
    packed = note.produce_g
    if packed is None and note.produce_left_g is not None and ready_g is not None:
        low, high = ready_g.interval(_SURE)
        packed = ready_g.median - note.produce_left_g if low == high else None
    return packed / note.jars if packed is not None and packed > 0.0 < note.jars else None


def carry_on(earlier: Forecast, now: Forecast) -> Forecast:
    """The forecast ``now``, which takes every jar to be packed as those weighed ``earlier``.

    Its jars are put back to the earlier forecast's, at least those filled by now, and its brine
    follows them: so much more or less as a jar takes.
    """
    filled = 0.0 if now.so_far is None else now.so_far.jars
    total = earlier.jars.draws.clip(min=filled)
    more = total - now.jars.draws
    a_jar = now.brine_ml.median / max(now.jars.median, 0.5)
    still = (now.brine_to_come_ml.draws + a_jar * more).clip(min=0.0)
    done = now.brine_ml.draws - now.brine_to_come_ml.draws
    *firsts, last = now.jars_by_sort
    return replace(
        now,
        jars=Outcome(total),
        jars_by_sort=(*firsts, Outcome((last.draws + more).clip(min=0.0))),
        jars_to_come=Outcome(total - filled),
        brine_to_come_ml=Outcome(still),
        brine_ml=Outcome((done + still).clip(min=0.0)),
    )
