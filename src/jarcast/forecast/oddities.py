"""Values just typed that lie far off what the habits expect, each with the likeliest slip.

The yardstick is the forecast made from the step before: trimmed from as bought, cured from
trimmed, jars from the last weight, brine from the jars filled. An odd value is asked back, never
refused: it may be right.
"""

import itertools
from collections.abc import Callable, Collection, Sequence
from typing import Any

from msgspec import Struct
from msgspec.structs import replace

from jarcast.domain.batch import Batch
from jarcast.domain.contradictions import contradictions
from jarcast.domain.packing import SoFar
from jarcast.domain.said_weight import in_between
from jarcast.domain.slips import guess
from jarcast.domain.stages import (
    AS_BOUGHT,
    COOKED,
    CURED,
    STAGE_OF,
    TRIMMED,
    is_hot,
    weighed,
    weights_of,
)
from jarcast.errors import JarcastError
from jarcast.forecast.answer import Forecast
from jarcast.forecast.habits import Habits
from jarcast.forecast.outcome import Outcome
from jarcast.learning.model.links import USUAL_CURE_HOURS

PACKED = "packed"  # what jars are judged by where others of the batch were noted before
_DRAWS = 65_536  # the ends of so wide a range are rare among the usual number of draws

# What follows is common practice, no source.
LEVEL = 0.995  # a value inside this range of its forecast is not asked back
_ROUNDED_JARS = 0.5  # a count of jars may be off by this much without being a slip
_ROUNDED = 0.02  # as a weight or a volume may be, as a share of it
_WET = 0.02  # of a jar's room: the densest pack still takes so much brine
_POT = 0.35  # a pot may lose this much more than usual, as a share of the brine
_JAR_TO_JAR = 0.15  # three times the usual difference from jar to jar
_SPARE_TIMES, _SPARE_ML = 1.5, 1000.0  # more brine to spare than this is asked back
_TAIL = 0.001  # a count of jars is asked back where one draw in 1000 lies beyond it,
_JARS_OFF = 2.0  # and where it is so many jars off what was expected
_LEAST_JARRED = 0.05  # of a batch: less contradicts its jars
_FEW = 3  # with fewer batches, 'ever' says too much


class Oddity(Struct, frozen=True):
    """A value far off what was expected: ``column`` of the batch table, judged by ``beside``.

    Both values are in g, ml or jars; ``low`` to ``high`` is where 995 in 1000 such values lie. By
    the jars packed before (``PACKED``) it is where 998 in 1000 lie, and ``beside_value`` is those.
    Brine used stands under 'brine'. ``jar`` is the sort the jars are counted in, ``ever`` -1 or 1
    where no batch before was as low or as high for what it was judged by (0 otherwise);
    ``filled`` are the jars themselves where they are of several sorts, as counts and keys;
    ``guesses`` are the likeliest slips, each a column and a question.
    """

    column: str
    value: float
    beside: str
    beside_value: float
    expected: float
    low: float
    high: float
    jar: str = ""
    ever: int = 0
    guesses: tuple[tuple[str, str], ...] = ()
    filled: tuple[tuple[float, str], ...] = ()

    @property
    def heavy(self) -> bool:
        """Whether a finished batch weighs more than its jars usually hold."""
        judged = self.beside in STAGE_OF or self.beside == PACKED
        return self.column == "jars" and judged and self.value < self.low

    @property
    def columns(self) -> tuple[str, ...]:
        """Columns of the batch table that would be confirmed by keeping the value."""
        own = ("brine_made_ml", "brine_left_ml") if self.column == "brine" else (self.column,)
        return (*own, self.beside) if self.beside in STAGE_OF else own


def oddities(
    habits: Habits,
    batch: Batch,
    columns: Collection[str],
    history: Sequence[Batch] = (),
    *,
    filled: bool = True,
) -> tuple[Oddity, ...]:
    """Odd values among ``columns``, those just typed, of a batch whose other values stand.

    ``history`` are the batches the habits were learned from; ``filled`` tells whether the batch
    has its jars yet, or only a trial of them. Values that contradict one another are none of
    these: ``batch.contradictions`` tells of them.
    """
    flags = contradictions(batch, habits.shelf)
    doubted = {column for flag in flags for column in flag.columns}
    known = [stage.column for stage in weighed(batch)]
    found = []
    for earlier, later in itertools.pairwise(known):
        if {earlier, later} & set(columns) and not {earlier, later} <= doubted:
            found.append(_weight(habits, batch, earlier, later, history))
    if known and "brine_made_ml" in columns and "brine_left_ml" not in columns:
        found.append(_spare(habits, batch, known[-1]))
    if filled and known and {"jars", "jar", known[-1]} & set(columns):
        found.append(None if "jars" in doubted else _jars(habits, batch, known[-1], history))
    brine = {"brine_made_ml", "brine_left_ml"}
    fits = not any(one is not None and one.column == "jars" for one in found)
    if filled and known and fits and brine & set(columns) and not (brine | {"jars"}) & doubted:
        found.append(_brine_used(habits, batch))
    several = tuple(zip(batch.jars, batch.jar, strict=True)) if len(batch.jar) > 1 else ()
    return tuple(replace(one, filled=several) for one in found if one is not None)


def before_packing(habits: Habits, batch: Batch) -> Forecast | None:
    """What a batch was expected to come to by its weights alone; None: there is nothing to ask by.

    It is what packing is judged by here.
    """
    return _asked(habits, batch, weights_of(batch))


def packing_oddity(
    habits: Habits,
    batch: Batch,
    so_far: SoFar,
    expected: Forecast | None,
    history: Sequence[Batch] = (),
) -> Oddity | None:
    """Whether the jars filled so far hold far more, or less, produce than ``expected``."""
    grams = so_far.produce_g
    unknown = so_far.produce_left_g is None or not weighed(batch)
    if not so_far.jars or (grams is None and unknown):
        return None
    if grams is not None:
        forecast = _asked(habits, batch, {COOKED: grams})
        packed = None if forecast is None else forecast.jars
    else:
        left = so_far.produce_left_g or 0.0
        packed = None if expected is None else _packed_jars(expected, left)
        grams = None if expected is None else expected.ready_g.median - left
    if packed is None or grams is None or grams <= 0.0:
        return None
    slack = _ROUNDED_JARS + _JAR_TO_JAR * so_far.jars**0.5
    found = _outside("jars", so_far.jars, packed, ("produce", grams), slack)
    volume = so_far.jars * habits.shelf[batch.jar[0]].fill_volume_ml(batch.headspace_in)
    return _told(found, history, _tightness(habits), volume / grams, batch.jar[0])


def count_oddity(count: float, expected: Forecast, *, final: bool = False) -> Oddity | None:
    """Jars filled far beyond what a batch was coming to by those that were noted before.

    ``expected`` is its forecast with these; ``final`` tells that no more are to come, so that there
    may be too few as well. None before any was noted: then its weights are what it is judged by.
    """
    packed = 0.0 if expected.so_far is None else expected.so_far.jars
    jars = expected.jars
    if 0.0 < expected.astray <= 0.5 and expected.unusual is not None:
        # That the bowl tells nothing is an explanation, but a count is asked back for less.
        jars = Outcome(jars.draws[~expected.unusual])
    middle, (low, high) = jars.median, jars.interval(1.0 - 2.0 * _TAIL)
    beyond = count > high or (final and count < low)
    if not packed or not beyond or abs(count - middle) < _JARS_OFF:
        return None
    return _told(Oddity("jars", count, PACKED, packed, middle, low, high), (), lambda _: None, 0.0)


def poured_ml(
    habits: Habits, batch: Batch, jars: float, expected: Forecast | None
) -> tuple[float, float] | None:
    """The least and the most brine in ml that so many jars of a batch take.

    The most is with the pot's loss, the least half the low end of its range. By what was
    ``expected`` before packing; None where that is nothing, or has no brine.
    """
    if not jars or expected is None or not expected.has_brine:
        return None
    each = Outcome(expected.brine_ml.draws / expected.jars.draws.clip(min=0.5))
    low, high = each.interval(LEVEL)
    room = jars * min(habits.shelf[key].fill_volume_ml(batch.headspace_in) for key in batch.jar)
    return max(0.5 * jars * low, _WET * room), jars * high + habits.learned.beliefs.people.loss_ml


def _packed_jars(forecast: Forecast, left_g: float) -> Outcome:
    ready = forecast.ready_g.draws
    return Outcome(forecast.jars.draws * (1.0 - left_g / ready).clip(min=0.0))


def _asked(habits: Habits, batch: Batch, weights: dict[str, Any], **other: Any) -> Forecast | None:
    """A forecast in the batch's first sort of jar; None where there is nothing to ask by."""
    known = (
        weights
        if not batch.doubt
        else {
            column: None if grams is None else in_between(grams, batch.doubt_of(column))
            for column, grams in weights.items()
        }
    )
    asked: dict[str, Any] = {
        "produce": batch.produce, "cut": batch.cut, "pack": batch.pack, "jar": batch.jar[0],
        "cure_hours": batch.cure_hours, "salt_g": batch.salt_g,
        "headspace_in": batch.headspace_in, "person": batch.person, **known, **other,
    }  # fmt: skip
    try:
        return habits.forecast(**asked, draws=_DRAWS)
    except JarcastError:  # its other values contradict one another, which is told elsewhere
        return None


def _weight(
    habits: Habits, batch: Batch, earlier: str, later: str, history: Sequence[Batch]
) -> Oddity | None:
    """One weight by the weight before it."""
    if batch.doubt and batch.doubt_of(later):
        return None
    before, after = getattr(batch, earlier), getattr(batch, later)
    way: dict[str, Any] = {}
    if later != COOKED:
        way["pack"] = "" if is_hot(batch.pack) else batch.pack
    if later == TRIMMED:
        way.update(cure_hours=0.0, salt_g=None)
    elif later == CURED:
        usual = habits.learned.practice.cure_hours or USUAL_CURE_HOURS
        way["cure_hours"] = batch.cure_hours or usual
    else:
        way["pack"] = "hot"
    forecast = _asked(habits, batch, {earlier: before}, **way)
    if forecast is None:
        return None
    found = _outside(later, after, forecast.ready_g, (earlier, before), _ROUNDED * before)

    def share(one: Batch) -> float | None:
        start, end = getattr(one, earlier), getattr(one, later)
        return None if start is None or end is None else float(end / start)

    return _told(found, history, share, after / before)


def _jars(habits: Habits, batch: Batch, stage: str, history: Sequence[Batch]) -> Oddity | None:
    """Jars filled by the last weight, counted in the first sort."""
    weights = _in_the_jars(batch)
    forecast = _asked(habits, batch, weights)
    if forecast is None:
        return None
    count = _equivalent(habits, batch)
    grams = weights[stage]
    found = _outside("jars", count, forecast.jars, (stage, grams), _ROUNDED_JARS)
    room = batch.fill_volume_ml(habits.shelf) / grams
    if stage == AS_BOUGHT:
        history = ()
    return _told(found, history, _tightness(habits), room, batch.jar[0])


def _in_the_jars(batch: Batch) -> dict[str, Any]:
    """The weights of a batch, each less the share of it that was not jarred."""
    weights, known = weights_of(batch), weighed(batch)
    if not known or not batch.not_jarred_g:
        return weights
    share = max(1.0 - batch.not_jarred_g / weights[known[-1].column], _LEAST_JARRED)
    return {column: None if grams is None else share * grams for column, grams in weights.items()}


def _equivalent(habits: Habits, batch: Batch) -> float:
    first = habits.shelf[batch.jar[0]].fill_volume_ml(batch.headspace_in)
    return batch.fill_volume_ml(habits.shelf) / first


def _tightness(habits: Habits) -> Callable[[Batch], float | None]:
    """Room for each gram that went into the jars: the less, the tighter the pack."""

    def room(one: Batch) -> float | None:
        known = [stage.column for stage in weighed(one) if stage.column != AS_BOUGHT]
        return one.fill_volume_ml(habits.shelf) / _in_the_jars(one)[known[-1]] if known else None

    return room


def _brine_used(habits: Habits, batch: Batch) -> Oddity | None:
    """Brine used by the jars that were filled; nothing left means at least so much was needed."""
    used = batch.brine_used_ml
    if used is None:
        return None
    count = _equivalent(habits, batch)
    full = SoFar(jars=count, produce_left_g=0.0)
    forecast = _asked(habits, batch, _in_the_jars(batch), so_far=full)
    if forecast is None or not forecast.has_brine:
        return None
    least = _ROUNDED * (batch.brine_made_ml or 0.0)
    most = _POT * forecast.brine_ml.median
    found = _outside("brine", used, forecast.brine_ml, ("jars", count), least, most)
    if found is not None and batch.brine_left_ml == 0 and used < found.low:
        return None
    return _told(found, (), lambda _: None, 0.0, batch.jar[0])


def _spare(habits: Habits, batch: Batch, stage: str) -> Oddity | None:
    """Brine made that is far more than the batch can take."""
    forecast = _asked(habits, batch, weights_of(batch))
    made = batch.brine_made_ml
    if forecast is None or made is None or not forecast.has_brine:
        return None
    beside = (stage, getattr(batch, stage))
    found = _outside("brine_made_ml", made, forecast.brine_ml, beside, 0.0)
    if found is None or made <= _SPARE_TIMES * found.high + _SPARE_ML:
        return None
    return _told(found, (), lambda _: None, 0.0)


def _outside(
    column: str,
    value: float,
    expected: Outcome,
    beside: tuple[str, float],
    below: float,
    above: float | None = None,
) -> Oddity | None:
    """An oddity where a value lies outside its range by more than what it may; else None."""
    low, high = expected.interval(LEVEL)
    if low - below <= value <= high + (below if above is None else above):
        return None
    return Oddity(column, value, *beside, expected.median, max(low, 0.0), high)


def _told(
    found: Oddity | None,
    history: Sequence[Batch],
    ratio: Callable[[Batch], float | None],
    own: float,
    jar: str = "",
) -> Oddity | None:
    """An oddity with its guess, and whether there ever was such a batch."""
    if found is None:
        return None
    before = [value for value in map(ratio, history) if value is not None]
    ever = 0
    if len(before) >= _FEW:
        ever = -1 if own < min(before) else 1 if own > max(before) else 0
    return Oddity(
        found.column, found.value, found.beside, found.beside_value, found.expected, found.low,
        found.high, jar, ever, _guesses(found),
    )  # fmt: skip


def _guesses(found: Oddity) -> tuple[tuple[str, str], ...]:
    """The likeliest slips of either value, the one just judged first."""
    factor = found.value / max(found.expected, 1e-9)
    if factor <= 0.0:
        return ()
    column = "brine_made_ml" if found.column == "brine" else found.column
    tried = [(column, guess(column, factor))]
    if found.beside in STAGE_OF:
        tried.append((found.beside, guess(found.beside, 1.0 / factor)))
    return tuple((name, question) for name, question in tried if question)
