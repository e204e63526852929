"""What a forecast is asked for: free text and numbers in, checked values out."""

import math
from collections.abc import Callable, Mapping
from typing import NamedTuple

from msgspec import Struct

from jarcast.domain.amount import check_amount
from jarcast.domain.fields import MOST_GRAMS, MOST_HEADSPACE_IN, MOST_HOURS
from jarcast.domain.jar_text import read_jars
from jarcast.domain.jars import DEFAULT_HEADSPACE_IN, Jar, jar_key
from jarcast.domain.log_range import reaching
from jarcast.domain.names import cut_key, pack_key, person_key, produce_key, put_up_as
from jarcast.domain.packing import SoFar
from jarcast.domain.said_weight import Z80, SaidWeight, Weight, too_wide
from jarcast.domain.stages import AS_BOUGHT, COOKED, STAGE_COLUMNS, STAGE_OF, TRIMMED, too_heavy
from jarcast.errors import ForecastError, in_short
from jarcast.forecast.arguments import is_whole
from jarcast.learning.model.beliefs import CropBelief
from jarcast.measures.told import both_ways_told

_SUCH_AS = {"produce": "carrot", "cut": "sticks", "pack": "raw", "jar": "pint", "person": "Bea"}


class Choices(NamedTuple):
    """What a forecast is asked for and a card may decide; '' and None are 'not given'."""

    produce: str
    cut: str
    pack: str
    jar: str
    headspace_in: float | None


class JarTurn(Struct, frozen=True):
    """One sort of jar and how many of it there are before the next sort has its turn."""

    jar: Jar
    count: float  # inf for the last sort
    fill_ml: float


class Request(Struct, frozen=True):
    """A checked request; ``stage`` is the latest weight known and ``grams`` that weight.

    ``grams_sd`` is how far that weight may be off, in logs: 0 for one that was weighed. ``so_far``
    is how far the packing has come; ``person`` is who trims and packs, as a key, '' where that is
    not said; ``crop`` is what is believed of it by its card, None without one, and ``smaller_jar``
    whether the rest may have a jar of half the size: not by a card that lists none.
    """

    produce: str
    cut: str
    pack: str
    turns: tuple[JarTurn, ...]
    stage: str
    grams: float
    cure_hours: float | None
    salt_g: float | None
    as_bought_g: float | None
    trimmed_g: float | None
    headspace_in: float
    draws: int
    seed: int
    grams_sd: float = 0.0
    so_far: SoFar | None = None
    person: str = ""
    crop: CropBelief | None = None
    smaller_jar: bool = True

    def grams_between(self) -> tuple[float, float]:
        """Where the latest known weight lies, 8 times in 10; twice the same for one weighed."""
        return reaching(self.grams, Z80 * self.grams_sd)


def check_request(
    *,
    produce: str,
    cut: str,
    pack: str,
    jar: str,
    weights: Mapping[str, Weight | None],
    cure_hours: float | None,
    salt_g: float | None,
    headspace_in: float | None,
    draws: int,
    seed: int,
    shelf: Mapping[str, Jar],
    allow_jar: Callable[[str], object] | None = None,
    so_far: SoFar | None = None,
    person: str | None = None,
) -> Request:
    """Check what was asked. Raises ForecastError, or BatchError for an unknown jar.

    A weight may be a pair (low, high): a range that holds 8 times in 10. ``allow_jar`` is called
    with the name of each sort of jar first, and raises for one that may not be used.
    """
    who = "" if person is None else person
    check_texts(produce=produce, cut=cut, pack=pack, jar=jar, person=who)
    if not produce_key(produce):
        raise ForecastError("a forecast needs a produce, such as 'carrot', or a recipe")
    read = _weights(weights, so_far)
    headspace = DEFAULT_HEADSPACE_IN if headspace_in is None else headspace_in
    headspace = check_amount("headspace", headspace, MOST_HEADSPACE_IN)
    if cure_hours is not None:
        cure_hours = check_amount("cure hours", cure_hours, MOST_HOURS)
    if salt_g is not None:
        salt_g = check_amount("salt", salt_g, MOST_GRAMS)
    check_draws(draws, seed)
    stage, grams, doubt = read[-1]
    exact = {name: middle for name, middle, wide in read if not wide}
    return Request(
        produce=put_up_as(produce_key(produce), cure_hours),
        cut=cut_key(cut),
        pack=pack_key(pack),
        turns=_turns(jar, headspace, shelf, allow_jar),
        stage=stage,
        grams=grams,
        cure_hours=cure_hours,
        salt_g=salt_g,
        as_bought_g=exact.get(AS_BOUGHT),
        trimmed_g=exact.get(TRIMMED),
        headspace_in=headspace,
        draws=draws,
        seed=seed,
        grams_sd=doubt,
        so_far=so_far,
        person=person_key(who),
    )


def check_draws(draws: object, seed: object) -> None:
    """Refuse what is no number of draws, or no seed. Raises ForecastError."""
    if not is_whole(draws) or not 1 <= draws <= 10_000_000:  # type: ignore[operator]
        raise ForecastError(
            f"draws must be a whole number from 1 to 10 million; {in_short(draws)} was given"
        )
    if not is_whole(seed) or seed < 0:  # type: ignore[operator]
        raise ForecastError(f"a seed must be a whole number, 0 or more; {in_short(seed)} was given")


def check_texts(**texts: object) -> None:
    """Refuse what is no text, by its keyword. Raises ForecastError."""
    for name, value in texts.items():
        if not isinstance(value, str):
            raise ForecastError(
                f"{name}: {in_short(value)} is not text; write it like '{_SUCH_AS[name]}'"
            )


def _weights(
    weights: Mapping[str, Weight | None], so_far: SoFar | None
) -> list[tuple[str, float, float]]:
    """Stage, grams and log sd of each weight that is known, in order; at least one."""
    known = [(s, weights[s]) for s in STAGE_COLUMNS if weights.get(s) is not None]
    if not known and so_far is not None and so_far.ready_g:
        known = [(COOKED, so_far.ready_g)]
    if not known:
        raise ForecastError(
            "a forecast needs a weight: as bought, trimmed, cured or cooked, the latest you have"
        )
    read = [(stage, *_weight(stage, weight)) for stage, weight in known]
    _check_order([(stage, grams) for stage, grams, doubt in read if not doubt])
    return read


def _weight(stage: str, weight: object) -> tuple[float, float]:
    """Grams and the log sd of a weight: 0 for a number, a range's own for a pair of them."""
    if not isinstance(weight, tuple | list):
        return check_amount(STAGE_OF[stage].label, weight, MOST_GRAMS, zero=False), 0.0
    if len(weight) != 2:
        raise ForecastError(
            f"{STAGE_OF[stage].label}: {in_short(weight)} is not a range; give (low, high)"
        )
    low, high = (check_amount(STAGE_OF[stage].label, end, MOST_GRAMS, zero=False) for end in weight)
    if low > high:
        raise ForecastError(
            f"{STAGE_OF[stage].label}: {low:g} to {high:g} is not a range; put the low end first"
        )
    if why := too_wide(low, high):
        raise ForecastError(f"{STAGE_OF[stage].label}: {low:g} to {high:g}: {why}")
    return SaidWeight((low, high)).middle_and_doubt


def _check_order(known: list[tuple[str, float]]) -> None:
    """Refuse a stage clearly heavier than an earlier one: one of the two is a slip."""
    for number, (later, grams) in enumerate(known):
        for earlier, before in known[:number]:
            if too_heavy(grams, before):
                more, there = both_ways_told(grams, before)
                raise ForecastError(
                    f"{STAGE_OF[later].label}, {more}, is more than {STAGE_OF[earlier].label}, "
                    f"{there}; weigh again, or leave out the one you doubt"
                )


def _turns(
    text: str,
    headspace: float,
    shelf: Mapping[str, Jar],
    allow_jar: Callable[[str], object] | None,
) -> tuple[JarTurn, ...]:
    """Read 'pint', or '5 pint-wide, then pint': every sort but the last with its count.

    The last sort takes what is left: '6 pints and 5 quarts' are 6 pints, then quarts.
    """
    read = [one for one in read_jars(text, shelf, turns=True) if one.sort]
    if not read:
        raise ForecastError("a forecast needs a jar, such as 'pint'")
    turns = []
    for number, (count, sort) in enumerate(read, start=1):
        last = number == len(read)
        if allow_jar is not None:
            allow_jar(sort)
        jar = shelf[jar_key(sort, shelf)]
        if not last and count is None:
            raise ForecastError(
                f"jar '{text}': say how many of each sort before the last, "
                "such as '5 pint-wide, then pint'"
            )
        turns.append(
            JarTurn(jar, math.inf if last else float(count or 0), jar.fill_volume_ml(headspace))
        )
    return tuple(turns)
