"""What a harvest needs, drawn jointly: jars, lids, brine and what the recipes' brines are made of.

A formula is only ever scaled as a whole, by one factor for each batch; what several batches need
of one thing is added up draw by draw, so that the total keeps what their batches have in common.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from enum import StrEnum
from typing import TYPE_CHECKING

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from jarcast.domain.jars import SHELF, Jar, size_of
from jarcast.domain.names import produce_key
from jarcast.domain.stages import AS_BOUGHT, before_salt
from jarcast.forecast.outcome import MOST_SHORT, Outcome
from jarcast.harvest.loads import WHOLE
from jarcast.measures import Units
from jarcast.recipes import (
    Kind,
    Recipe,
    Scaled,
    basis_column,
    each_jar,
    printed_parts,
    without_salt,
)
from jarcast.recipes.shopping import measured_out

if TYPE_CHECKING:
    from jarcast.forecast.answer import Forecast
    from jarcast.learning.arrays import Array

_METRIC = ("250ml", "500ml", "1l")
OWN_BRINE = "your tested recipe's brine"


class Thing(StrEnum):
    """What sort of thing is needed."""

    JARS = "jars"
    LIDS = "lids"
    BRINE = "brine"
    INGREDIENT = "ingredient"
    PRODUCE = "produce"


class Need(Struct, frozen=True):
    """How much of one thing all batches together need.

    ``measure`` is 'ml', 'g', 'count', or 'times' for what the card gives as ``name`` without a
    measure. ``acid_percent`` is the least strength that the recipes ask of a vinegar. ``names``
    are what a shop may call it, the nearest first. ``least`` is what must be there of it: as much
    as one batch alone orders, and what pots that share nothing order together.
    """

    thing: Thing
    name: str
    measure: str
    amount: Outcome
    names: tuple[str, ...] = ()
    acid_percent: float | None = None
    least: float = 0.0


class Unknown(Struct, frozen=True):
    """A batch whose ingredients cannot be told; ``line`` is its place, from 0."""

    line: int
    why: str


class Needs(Struct, frozen=True):
    """Everything that is needed, and the batches that part of it cannot be told for.

    ``limited`` are the batches whose own order is what the recipe asks for the produce, being more
    than is ordered for their jars; ``no_floor`` those where its least amount is not known, and why.
    """

    needs: tuple[Need, ...]
    unknown: tuple[Unknown, ...]
    limited: tuple[int, ...] = ()
    no_floor: tuple[Unknown, ...] = ()


Heading = tuple[Thing, str, str, float | None]


def heading(need: Need) -> Heading:
    """What a need is added up under."""
    return need.thing, need.name, need.measure, need.acid_percent


class _Sums:
    """Draws added up by heading, in the order the headings first came.

    Under a heading they are kept apart by pot: what is left of one is counted on for the next
    batch of its own recipe, and for no other.
    """

    def __init__(self) -> None:
        self._first: dict[Heading, Need] = {}
        self._draws: dict[Heading, dict[str, Array]] = {}
        self._least: dict[Heading, dict[str, float]] = {}

    def add(self, need: Need, pot: str = "") -> None:
        at, draws = heading(need), need.amount.draws
        self._first.setdefault(at, need)
        pots, ordered = self._draws.setdefault(at, {}), self._least.setdefault(at, {})
        pots[pot] = draws if pot not in pots else pots[pot] + draws
        ordered[pot] = max(ordered.get(pot, 0.0), need.least)

    def needs(self, short_chance: float | None) -> Iterator[Need]:
        """Each heading's sum; what several pots order of it is added up, where orders are asked."""
        order = list(Thing)
        for at, first in sorted(self._first.items(), key=lambda item: order.index(item[1].thing)):
            pots, least = self._draws[at], self._least[at]
            ordered = max(least.values())
            if len(pots) > 1 and short_chance is not None:
                enough = 1.0 - short_chance
                ordered = sum(max(Outcome(pots[p]).quantile(enough), least[p]) for p in pots)
            total = Outcome(np.sum([*pots.values()], axis=0))
            yield replace(first, amount=total, least=ordered)


class Order(Struct, frozen=True):
    """How each batch orders its brine: short with this chance at most, in these measures."""

    short_chance: float
    units: Units

    def formula(self, forecast: Forecast) -> Scaled | None:
        """The recipe's whole formula for a batch, in amounts a kitchen can measure."""
        return forecast.formula_to_make(self.short_chance, self.units)


def needs_of(forecasts: Sequence[Forecast], order: Order | None = None) -> Needs:
    """What these batches still need, over what is in the jars and in the pot already.

    With an ``order``, what measuring out each formula takes on top is needed too.
    """
    short_chance = MOST_SHORT if order is None else order.short_chance
    sums = _Sums()
    unknown: list[Unknown] = []
    limited: list[int] = []
    no_floor: list[Unknown] = []
    for line, forecast in enumerate(forecasts):
        _add_jars(sums, forecast)
        _add_produce(sums, forecast)
        recipe = forecast.recipe
        if recipe is None or recipe.safety is None or not recipe.safety.formula:
            _add_own_brine(sums, forecast, order, pot_of(forecast, line))
            continue
        by_weight = _by_weight(forecast, recipe)
        _add_salt(sums, forecast, recipe)
        if recipe.own_liquid and by_weight is None:
            if without_salt(recipe, recipe.safety.formula):
                unknown.append(Unknown(line, _not_weighed(recipe)))
            continue
        floor = _floor(forecast, recipe.safety.volume_ml, by_weight, short_chance)
        needed = forecast.brine_short_ml
        if not recipe.own_liquid and floor is None:
            no_floor.append(Unknown(line, forecast.why_no_floor))
        elif floor is not None and forecast.limited_by_recipe(short_chance):
            limited.append(line)
        factor = np.maximum(needed.draws, 0.0 if floor is None else floor)
        factor = factor / (recipe.safety.volume_ml or 1.0)
        both = factor if by_weight is None else by_weight
        factor = both if recipe.own_liquid else factor
        pot = pot_of(forecast, line)
        _add_formula(sums, forecast, recipe, (factor, both), order, pot)
        _add_each_jar(sums, forecast, recipe)
    needs = sums.needs(None if order is None else short_chance)
    return Needs(tuple(needs), tuple(unknown), tuple(limited), tuple(no_floor))


def pot_of(forecast: Forecast, line: int) -> str:
    """The pot of a batch: that of its recipe, where what is left of it is clean and goes on.

    Brine that touched produce goes into no other batch, and nothing says that lines without a
    recipe share one.
    """
    recipe = forecast.recipe
    if recipe is None or (forecast.has_brine and not forecast.poured_over):
        return f"line {line}"
    return recipe.key


def jars_needed(forecast: Forecast) -> list[tuple[Jar, Array]]:
    """Jars of each sort still to be filled: a part-full one is a jar as well."""
    packed = 0.0 if forecast.so_far is None else forecast.so_far.jars
    found = []
    for turn, jars in zip(forecast.request.turns, forecast.jars_by_sort, strict=True):
        there = min(packed, turn.count)
        packed -= there
        used = np.ceil(there - WHOLE)
        found.append((turn.jar, np.maximum(np.ceil(jars.draws - WHOLE) - used, 0.0)))
    return found


def smaller_jars(forecasts: Sequence[Forecast]) -> Outcome:
    """Jars of half the size that the rests of these batches fill, of somebody who fills such."""
    return Outcome(np.sum([one.jars.draws % 1.0 > WHOLE for one in forecasts], axis=0))


def lid_name(jar: Jar) -> str:
    """The lid a jar takes: by its mouth for the standard sizes, by its name for any other."""
    size = size_of(jar.key)
    if SHELF.get(jar.key) != jar or size in _METRIC:
        return f"lids of {jar.key}"
    return "wide lids" if jar.wide else "regular lids"


def _add_produce(sums: _Sums, forecast: Forecast) -> None:
    """Produce of a batch not begun, where its weight as bought is told."""
    request = forecast.request
    if request.stage != AS_BOUGHT or request.so_far is not None:
        return
    sums.add(Need(Thing.PRODUCE, request.produce, "g", forecast.start_g, (request.produce,)))


def _add_jars(sums: _Sums, forecast: Forecast) -> None:
    for jar, needed in jars_needed(forecast):
        sums.add(Need(Thing.JARS, jar.key, "count", Outcome(needed), (jar.key, "jars")))
        lid = lid_name(jar)
        sums.add(Need(Thing.LIDS, lid, "count", Outcome(needed), (lid, "lids")))


def _add_each_jar(sums: _Sums, forecast: Forecast, recipe: Recipe) -> None:
    """Salt and acid that go straight into each jar, by the jars still to be filled."""
    for jar, needed in jars_needed(forecast):
        for part in each_jar(recipe, size_of(jar.key)):
            dry = part.grams is not None and not part.kind.liquid
            measure, amount = ("g", part.grams) if dry else ("ml", part.ml)
            if part.kind is not Kind.OTHER and amount is not None:
                names = (produce_key(part.name), part.kind.value)
                each = Outcome(amount * needed)
                sums.add(Need(Thing.INGREDIENT, part.name, measure, each, names), recipe.key)


def _add_own_brine(sums: _Sums, forecast: Forecast, order: Order | None, pot: str) -> None:
    """Without a card only the volume is known, and the salt that the plan itself says.

    ``pot`` is its own, or the one that it shares with others.
    """
    if forecast.has_brine:
        least = 0.0
        if order is not None:
            least = forecast.brine_to_make(order.short_chance, order.units)
        brine = forecast.brine_short_ml
        sums.add(Need(Thing.BRINE, OWN_BRINE, "ml", brine, least=least), pot)
    salt = forecast.request.salt_g
    if salt and _before_cure(forecast):
        grams = Outcome(np.full(forecast.jars.draws.size, salt))
        name = "salt for curing, as planned"
        sums.add(Need(Thing.INGREDIENT, name, "g", grams, ("salt",)))


def _add_salt(sums: _Sums, forecast: Forecast, recipe: Recipe) -> None:
    """Salt that goes by its share of the trimmed weight: at most that of what was bought."""
    if recipe.salt_share is None or not _before_cure(forecast):
        return
    trimmed, draws = forecast.request.trimmed_g, forecast.jars.draws.size
    grams = np.full(draws, trimmed) if trimmed else np.broadcast_to(forecast.start_g.draws, draws)
    parts = (*printed_parts(recipe), *printed_parts(recipe, cure=True))
    name = next((part.name for part in parts if part.kind == Kind.SALT), "canning salt")
    need = Outcome(recipe.salt_share[1] * grams)
    sums.add(Need(Thing.INGREDIENT, name, "g", need, (produce_key(name), Kind.SALT)), recipe.key)


def _add_formula(
    sums: _Sums,
    forecast: Forecast,
    recipe: Recipe,
    factors: tuple[Array, Array],
    order: Order | None,
    pot: str,
) -> None:
    """The card's whole formula by one factor; its cure goes by the produce where that is known.

    ``factors`` are the formula's and the cure's, ``pot`` is the one it is made in.
    """
    formula = None if order is None else order.formula(forecast)
    for cure in (False, True) if _before_cure(forecast) else (False,):
        parts = printed_parts(recipe, cure=cure)
        measured = [0.0] * len(parts)
        if formula is not None:
            portions = formula.cure if cure else formula.brine
            measured = measured_out(portions, parts, formula.made_factor)
        for part, made in zip(parts, measured, strict=True):
            if part.kind == Kind.SALT and recipe.salt_share is not None:
                continue
            needed = part.amount * factors[cure]
            if order is not None:
                needed = needed + _on_top(needed, made, order)
            names = (produce_key(part.name), part.kind)
            need = Need(Thing.INGREDIENT, part.name, part.measure, Outcome(needed), names,
                        part.acid_percent)  # fmt: skip
            sums.add(need, pot)


def _on_top(needed: Array, made: float, order: Order) -> float:
    """What rounding up to measures takes on top of a need that falls short no oftener."""
    return max(made - Outcome(needed).quantile(1.0 - order.short_chance), 0.0)


def _before_cure(forecast: Forecast) -> bool:
    return before_salt(forecast.request.stage) and forecast.so_far is None


def _not_weighed(recipe: Recipe) -> str:
    if recipe.tested.grams is None:
        return f"{recipe.name}: its card measures produce by the cup, but a plan has weights"
    return (
        f"{recipe.name}: it goes by produce weighed {recipe.tested.basis}, which the plan does not "
        "have"
    )


def _by_weight(forecast: Forecast, recipe: Recipe) -> Array | None:
    """Times the printed batch, by the produce at the stage the card weighs it.

    A weight or a guess at it; None where the plan has none of that stage. A yield of one's own
    never turns one stage into the other.
    """
    tested, request = recipe.tested, forecast.request
    if tested.grams is None:
        return None
    column = basis_column(recipe)
    exact = getattr(request, column)
    draws = forecast.jars.draws.size
    if exact is not None:
        return np.full(draws, exact / tested.grams)
    if request.stage == column:
        return forecast.start_g.draws / tested.grams
    return None


def _floor(
    forecast: Forecast, volume_ml: float, by_weight: Array | None, short_chance: float
) -> Array | None:
    """Least brine in ml by the recipe's own proportion, after what was made of it already.

    Nothing of it is left where the jars to come cannot take so much, as the batch's order has it.
    """
    if forecast.floor_ml is None:
        return None
    if forecast.less_than_recipe(short_chance):
        return np.zeros(forecast.jars.draws.size)
    if by_weight is not None and forecast.request.grams_sd and forecast.so_far is None:
        return by_weight * volume_ml  # of a weight told as a range, draw by draw
    return np.full(forecast.jars.draws.size, forecast.floor_to_make_ml())
