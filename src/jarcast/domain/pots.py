"""Pots over time: what was made and what was left of a batch, as events in order.

Each reading of the pot knows how much had been made by then, and the state is built from the first
event each time: the same facts give the same state, whichever was noted first.
"""

from collections.abc import Callable, Sequence
from itertools import pairwise

from msgspec import Struct
from msgspec.structs import replace

from jarcast.domain.batch import number_text
from jarcast.domain.packing import SoFar

_LOST = 1 / 3  # of the brine made: more is asked back; common practice, no source
_SAME = 1e-9  # relative: cups added up and taken off again are never exact


class Made(Struct, frozen=True):
    """All the brine made up to then, in ml; None takes back what was said of it.

    ``mends`` tells that it is the last amount said anew, and no other pot.
    """

    ml: float | None
    mends: bool = False


def packing_by(log: Sequence[Made | SoFar]) -> SoFar | None:
    """How far the packing has come by its log; ``pot_left_ml`` is the pot now.

    Readings of other counts of jars stand behind it as ``earlier``, each with the brine made by
    then; those that count more jars than a later one are left out. None before the packing, as
    long as no brine was made.
    """
    totals = _totals(log)
    now = totals[-1][1] if totals else None
    found: SoFar | None = None
    for place, note in enumerate(log):
        if isinstance(note, SoFar):
            then = _made_then(totals, place, note)
            found = _after(found, replace(note, brine_made_ml=then, earlier=None))
    if found is None:
        return None if now is None else SoFar(jars=0.0, brine_made_ml=now)
    return _brought_to(found, now)


def pots_made(log: Sequence[Made | SoFar]) -> tuple[float, ...]:
    """Each pot that was made by a log, in ml, in order; said in one amount, several are one."""
    totals = [0.0, *(ml for _, ml in _totals(log))]
    return tuple(after - before for before, after in pairwise(totals))


def known_to_be_made(so_far: SoFar | None) -> float:
    """The least brine in ml that must have been made: what was said, and what was measured."""
    readings = () if so_far is None else so_far.readings
    said = (one.brine_made_ml or 0.0 for one in readings)
    measured = ((one.brine_ml or 0.0) + (one.pot_left_ml or 0.0) for one in readings)
    return max(*said, *measured, 0.0, 0.0)


def pot_problem(note: SoFar, most_ml: float, added_ml: float = 0.0) -> str:
    """What is wrong with a pot after which more is gone than so many jars take; '' where nothing.

    ``most_ml`` is the most they take, ``added_ml`` the pot that was added with the reading.
    """
    gone = note.used_ml
    if gone is None or gone <= most_ml:
        return ""
    said = (
        f"more brine is gone from the pot than {number_text(note.jars)} jars take; --pot-left is "
        "the pot as it is now, counting all you made"
    )
    if added_ml > 0.0 and -_SAME <= gone - added_ml <= most_ml:
        return f"{said}. If it was read before the new pot was added, say --pot-before instead"
    return said


def full_pot(note: SoFar, least_ml: float) -> str:
    """What is wrong with a pot out of which less is gone than filled jars take; '' where nothing.

    ``least_ml`` is the least that so many jars take.
    """
    gone = note.used_ml
    if gone is None or not note.jars or gone < 0.0 or gone >= least_ml:
        return ""
    jars = number_text(note.jars)
    return (
        f"{jars} {'jar is' if note.jars == 1 else 'jars are'} filled, yet the pot is as full as if "
        "none were. Read the pot once the jars are covered with brine, or leave out --pot-left; "
        "if you heated another pot, add it with --more-brine"
    )


def lost_brine(note: SoFar, loss_ml: float, shown: Callable[[float], str]) -> str:
    """Far more brine gone than the jars hold and a pot loses, as a question; '' where it is not.

    ``loss_ml`` is what a pot usually loses; ``shown`` shows a volume.
    """
    made, jars, left = note.brine_made_ml, note.brine_ml, note.pot_left_ml
    if made is None or jars is None or left is None:
        return ""
    lost = made - jars - left
    if lost <= max(_LOST * made, 3.0 * loss_ml):
        return ""
    return (
        f"{shown(made)} made, {shown(jars)} in the jars by your measure, {shown(left)} left: were "
        f"{shown(lost)} lost or spilt? --brine is what is in all the jars so far"
    )


def is_less(ml: float, known_ml: float) -> bool:
    """Whether one amount is less than another, by more than rounding in a sum explains."""
    return ml < known_ml * (1.0 - _SAME)


def _totals(log: Sequence[Made | SoFar]) -> list[tuple[int, float]]:
    """The brine made in all after each pot, in ml, with its place in the log; it only grows.

    A total below the last one corrects it: nothing made is ever unmade.
    """
    found: list[tuple[int, float]] = []
    for place, one in enumerate(log):
        if isinstance(one, SoFar):
            if one.brine_made_ml is not None and not found:
                found.append((place, one.brine_made_ml))
            continue
        if one.ml is None:
            found.clear()
            continue
        since = place
        if found and (one.mends or is_less(one.ml, found[-1][1])):
            since = found.pop()[0]
        while found and found[-1][1] >= one.ml * (1.0 - _SAME):
            since = found.pop()[0]
        found.append((since, one.ml))
    return found


def _made_then(totals: Sequence[tuple[int, float]], place: int, note: SoFar) -> float | None:
    """The brine made by the time of a reading; as was first said, where that came after it.

    More left than was made by then tells that the next pot was there before it was noted.
    """
    if not totals:
        return None
    by_then = [ml for since, ml in totals if since <= place] or [totals[0][1]]
    later = [ml for since, ml in totals if since > place]
    standing = (note.pot_left_ml or 0.0) + (note.brine_ml or 0.0)
    fits = (ml for ml in (by_then[-1], *later) if not is_less(ml, standing))
    return next(fits, by_then[-1])


def _after(before: SoFar | None, note: SoFar) -> SoFar:
    """A reading after others: as many jars as before are the same jars, measured again."""
    while before is not None and before.jars > note.jars:
        before = before.earlier
    if before is None or before.jars < note.jars:
        return replace(note, earlier=before)
    before = _brought_to(before, note.brine_made_ml)
    silent = note.produce_g is None and note.produce_left_g is None
    weighed = before if silent else note
    return SoFar(
        jars=note.jars,
        produce_g=weighed.produce_g,
        brine_ml=before.brine_ml if note.brine_ml is None else note.brine_ml,
        produce_left_g=weighed.produce_left_g,
        pot_left_ml=before.pot_left_ml if note.pot_left_ml is None else note.pot_left_ml,
        brine_made_ml=note.brine_made_ml,
        earlier=before.earlier,
    )


def _brought_to(so_far: SoFar, made_ml: float | None) -> SoFar:
    """A reading, and what was made since: it is in the pot."""
    left, then = so_far.pot_left_ml, so_far.brine_made_ml
    if left is not None and then is not None and made_ml is not None:
        left += made_ml - then
    return replace(so_far, brine_made_ml=made_ml, pot_left_ml=left)
