"""What no card can have, and what no published recipe has: bounds of the table of rules.

A card within all of these is not safe for it: they tell slips and tricks from recipes, no more.
"""

from collections.abc import Iterator
from itertools import pairwise

from jarcast.domain.jars import SHELF
from jarcast.domain.rules import limit, rules, why_no_method
from jarcast.recipes.acid import acid_ml, at_pressure
from jarcast.recipes.card import Kind, ProcessRow, Recipe, SafetyNumbers, Style
from jarcast.recipes.lines import Path

_PERCENT = 100.0
_EXACT = 1e-9


def impossible(recipe: Recipe) -> tuple[tuple[Path, str], ...]:
    """What of a card cannot be: where it stands, and why. A card with any is refused."""
    safety = recipe.safety
    return () if safety is None else (*_numbers(safety, "refuse"), *_process(safety))


def unpublished(recipe: Recipe) -> tuple[str, ...]:
    """What of a card no published recipe that was read has, a clause each: to be looked at."""
    safety = recipe.safety
    if safety is None:
        return ()
    found = [why for _, why in _numbers(safety, "point_out")]
    longest = limit("most_minutes")
    if any(not at_pressure(row) and row.minutes > longest.point_out for row in safety.process):
        found.append(f"over {longest.point_out:g} min in boiling water ({_cited('most_minutes')})")
    water = sum(part.ml or 0.0 for part in safety.formula if part.kind is Kind.WATER)
    if _pressure_alone(safety):
        return tuple(found)
    if recipe.style is Style.COVER_BRINE and water > acid_ml(safety) * (1.0 + _EXACT):
        cited = rules().cited("oregon")
        found.append(f"more water than vinegar, which few published recipes have ({cited})")
    return tuple(found)


def _pressure_alone(safety: SafetyNumbers) -> bool:
    """Whether a card's jars are canned at pressure, and no other way."""
    return bool(safety.process) and all(at_pressure(row) for row in safety.process)


def _cited(name: str) -> str:
    bound = limit(name)
    return rules().cited(bound.source, bound.page)


def _numbers(safety: SafetyNumbers, kind: str) -> Iterator[tuple[Path, str]]:
    """The card's numbers that lie beyond a bound of the table, at their places."""
    salt = None if safety.ferment_salt is None else safety.ferment_salt[0] * _PERCENT
    shortest = min((row.minutes for row in safety.process), default=None)
    acid, headspace = safety.least_acid_percent, safety.headspace_in
    at = "_at_pressure" if _pressure_alone(safety) else ""
    checked: tuple[tuple[str, float | None, Path, str, str], ...] = (
        ("least_vinegar_percent", acid, ("safety", "vinegar_percent"), "vinegar", "%"),
        (f"most_headspace_in{at}", headspace, ("safety", "headspace_in"), "headspace", "in"),
        (f"least_headspace_in{at}", headspace, ("safety", "headspace_in"), "headspace", "in"),
        ("least_minutes", shortest, ("process", 0, "minutes"), "process", "min"),
        ("least_ferment_salt_percent", salt, ("safety", "ferment_salt_percent"), "ferment salt",
         "%"),
    )  # fmt: skip
    for name, value, path, label, unit in checked:
        bound = limit(name)
        edge = bound.refuse if kind == "refuse" else bound.point_out
        least = name.startswith("least")
        if value is None or (value >= edge - _EXACT if least else value <= edge + _EXACT):
            continue
        what = "under" if least else "over"
        yield path, f"a {label} of {value:g} {unit} is {what} {edge:g} {unit} ({_cited(name)})"


def _process(safety: SafetyNumbers) -> Iterator[tuple[Path, str]]:
    """Methods that are none, and times or pressures that fall as the altitude rises."""
    for method in dict.fromkeys(row.method for row in safety.process):
        if why := why_no_method(method):
            yield ("process", 0, "method"), why
    tables: dict[tuple[str, str, str], list[ProcessRow]] = {}
    for row in safety.process:
        tables.setdefault((row.method, row.pack, row.jar), []).append(row)
    yield from _by_size(safety)
    for (_, pack, jar), rows in tables.items():
        rows.sort(key=lambda row: row.from_ft)
        for low, high in pairwise(rows):
            falls = high.minutes < low.minutes and not at_pressure(high)
            if falls or (high.pressure_psi or 0.0) < (low.pressure_psi or 0.0):
                what = f"{pack} pack, {jar}" if pack else jar
                yield (
                    ("process", 0, "minutes"),
                    f"{what}: the process falls from {low.band} to {high.band}; water boils cooler "
                    f"higher up, so it never should ({rules().cited('guide-1', 'p. 1-10')})",
                )


def _by_size(safety: SafetyNumbers) -> Iterator[tuple[Path, str]]:
    """Times that fall as the jars grow: heat takes longer to the middle of a larger one."""
    tables: dict[tuple[str, str, int], list[ProcessRow]] = {}
    for row in safety.process:
        if row.jar in SHELF and not at_pressure(row):
            tables.setdefault((row.method, row.pack, row.from_ft), []).append(row)
    for rows in tables.values():
        rows.sort(key=lambda row: SHELF[row.jar].capacity_ml)
        for small, large in pairwise(rows):
            if large.minutes < small.minutes:
                yield (
                    ("process", 0, "minutes"),
                    f"{large.jar}, {large.band}: {large.minutes:g} min is shorter than the "
                    f"{small.minutes:g} min of the smaller {small.jar}, which no published process "
                    f"is ({rules().cited('sizes')})",
                )
