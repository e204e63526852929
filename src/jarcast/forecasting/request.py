"""What a forecast is asked for: free text and numbers in, checked values out."""

import math
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass

from jarcast.batch import HEAVIER_BY, MOST_GRAMS, MOST_HEADSPACE_IN, MOST_HOURS
from jarcast.errors import ForecastError
from jarcast.kinds import DEFAULT_HEADSPACE_IN, Jar, cut_key, jar_key, pack_key, produce_key

STAGES = ("as_bought_g", "trimmed_g", "cured_g", "cooked_g")
STAGE_WORDS = {
    "as_bought_g": "as bought",
    "trimmed_g": "trimmed",
    "cured_g": "cured",
    "cooked_g": "cooked",
}


@dataclass(frozen=True, slots=True)
class JarTurn:
    """One sort of jar and how many of it there are before the next sort has its turn."""

    jar: Jar
    count: float  # inf for the last sort
    fill_ml: float


@dataclass(frozen=True, slots=True)
class Request:
    """A checked request; ``stage`` is the latest weight known and ``grams`` that weight."""

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


def check_request(
    *,
    produce: str,
    cut: str,
    pack: str,
    jar: str,
    weights: Mapping[str, float | None],
    cure_hours: float | None,
    salt_g: float | None,
    headspace_in: float | None,
    draws: int,
    seed: int,
    shelf: Mapping[str, Jar],
    allow_jar: Callable[[str], object] | None = None,
) -> Request:
    """Check what was asked. Raises ForecastError, or BatchError for an unknown jar.

    ``allow_jar`` is called with the name of each sort of jar first, and raises for one that may
    not be used.
    """
    if not produce_key(produce):
        raise ForecastError("a forecast needs a produce, such as 'carrot', or a recipe")
    known = [(s, weights[s]) for s in STAGES if weights.get(s) is not None]
    if not known:
        raise ForecastError(
            "a forecast needs a weight: as bought, trimmed, cured or cooked, the latest you have"
        )
    for stage, weight in known:
        _number(STAGE_WORDS[stage], weight, MOST_GRAMS, least=0.0)
    _check_order([(stage, weight or 0.0) for stage, weight in known])
    headspace = DEFAULT_HEADSPACE_IN if headspace_in is None else headspace_in
    _number("headspace", headspace, MOST_HEADSPACE_IN, least=-1e-9)
    if cure_hours is not None:
        _number("cure hours", cure_hours, MOST_HOURS, least=-1e-9)
    if salt_g is not None:
        _number("salt", salt_g, MOST_GRAMS, least=-1e-9)
    if not 1 <= draws <= 10_000_000:
        raise ForecastError(f"draws must be between 1 and 10 million; {draws} was asked for")
    if seed < 0:
        raise ForecastError(f"a seed is a whole number from 0 up; {seed} was given")
    stage, grams = known[-1]
    return Request(
        produce=produce_key(produce),
        cut=cut_key(cut),
        pack=pack_key(pack),
        turns=_turns(jar, headspace, shelf, allow_jar),
        stage=stage,
        grams=float(grams or 0.0),
        cure_hours=cure_hours,
        salt_g=salt_g,
        as_bought_g=weights.get("as_bought_g"),
        trimmed_g=weights.get("trimmed_g"),
        headspace_in=headspace,
        draws=draws,
        seed=seed,
    )


def _number(name: str, value: float | None, most: float, least: float) -> None:
    if value is None or not math.isfinite(value) or not least < value <= most:
        raise ForecastError(f"{name}: {value} is not an amount that can be; it must be above 0")


def _check_order(known: list[tuple[str, float]]) -> None:
    """Refuse a stage clearly heavier than an earlier one: one of the two is a slip."""
    for number, (later, grams) in enumerate(known):
        for earlier, before in known[:number]:
            if grams > HEAVIER_BY * before:
                raise ForecastError(
                    f"{STAGE_WORDS[later]} ({grams:.0f} g) is more than {STAGE_WORDS[earlier]} "
                    f"({before:.0f} g); weigh again, or leave out the one you doubt"
                )


def _turns(
    text: str,
    headspace: float,
    shelf: Mapping[str, Jar],
    allow_jar: Callable[[str], object] | None,
) -> tuple[JarTurn, ...]:
    """Read 'pint', or '5 pint-wide, then pint': every sort but the last with its count."""
    parts = [p for p in re.split(r"\s*(?:,|;|\bthen\b)\s*", text.strip()) if p]
    if not parts:
        raise ForecastError("a forecast needs a jar, such as 'pint'")
    turns = []
    for number, part in enumerate(parts, start=1):
        last = number == len(parts)
        counted = None if part in shelf else re.match(r"(\d{1,6})\s*(?:x\s*)?(?=[a-z\d])", part)
        count = math.inf
        name = part
        if counted and not _is_jar(part, shelf):
            count, name = float(counted[1]), part[counted.end() :]
        if not last and math.isinf(count):
            raise ForecastError(
                f"jar '{text}': say how many of each sort before the last, "
                "such as '5 pint-wide, then pint'"
            )
        if allow_jar is not None:
            allow_jar(name)
        jar = shelf[jar_key(name, shelf)]
        turns.append(JarTurn(jar, math.inf if last else count, jar.fill_volume_ml(headspace)))
    return tuple(turns)


def _is_jar(text: str, shelf: Mapping[str, Jar]) -> bool:
    try:
        jar_key(text, shelf)
    except ValueError:
        return False
    return True
