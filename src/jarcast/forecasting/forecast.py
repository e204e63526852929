"""One batch forecast: what it will come to, and what to make and have ready for it."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from msgspec import Struct

from jarcast.forecasting.outcome import Outcome
from jarcast.forecasting.request import Request
from jarcast.kinds import makes_its_own_brine
from jarcast.measures import Units, round_up_volume
from jarcast.packing import SoFar

if TYPE_CHECKING:
    from jarcast.recipes import Recipe, Scaled


class RestsOn(Struct, frozen=True):
    """What a forecast rests on: own batches of this, of this produce, and of others.

    ``published`` tells how near the published evidence is: 'this cut', 'this produce' or
    'nothing published'.
    """

    this: int
    same_produce: int
    others: int
    published: str


class Forecast(Struct, frozen=True):
    """One batch forecast.

    ``jars`` and ``brine_ml`` belong together draw by draw; ``jars_by_sort`` runs beside the
    request's sorts of jar; ``start_g`` is the weight it starts from, draws only of one told as a
    range; ``ready_g`` the weight as it goes into the jars; ``cured`` the chance of a cure that the
    forecast went by. In the middle of packing, ``jars`` and ``brine_ml``
    are those of the whole batch; ``jars_to_come`` and ``brine_to_come_ml`` are what is left to
    fill and still takes, and ``brine_there_ml`` the brine in the pot, None where that is not
    known; ``brine_room_ml`` is the most that the jars to come and the pot can take, None before
    packing. ``recipe`` is the card it was asked by, as it was read: every safety number stays
    there.
    """

    jars: Outcome
    brine_ml: Outcome
    jars_by_sort: tuple[Outcome, ...]
    start_g: Outcome
    ready_g: Outcome
    jars_to_come: Outcome
    brine_to_come_ml: Outcome
    brine_there_ml: Outcome | None
    cured: float
    request: Request
    rests_on: RestsOn
    recipe: Recipe | None = None
    brine_room_ml: Outcome | None = None

    @property
    def has_brine(self) -> bool:
        """Whether a brine is made for it at all; relishes and ferments make their own."""
        if self.recipe is not None and self.recipe.own_liquid:
            return False
        return not makes_its_own_brine(self.request.produce, self.request.cut)

    def jars_to_have(self, short_chance: float = 0.05) -> int:
        """Jars and lids to have ready: too few with this chance at most."""
        return math.ceil(self.jars.quantile(1.0 - short_chance) - 1e-9)

    @property
    def floor_ml(self) -> float | None:
        """Least brine in ml by the recipe's proportion to the produce weighed; None: not known."""
        if self.recipe is None or not self.has_brine:
            return None
        from jarcast.recipes import brine_floor_ml

        weights = {"as_bought_g": self.request.as_bought_g, "prepared_g": self.request.trimmed_g}
        if self.request.grams_sd:  # of a weight told as a range, its upper end
            told = {"as_bought_g": "as_bought_g", "trimmed_g": "prepared_g"}
            if (stage := told.get(self.request.stage)) is not None:
                weights[stage] = self.start_g.quantile(0.9)
        return brine_floor_ml(self.recipe, **weights)

    @property
    def so_far(self) -> SoFar | None:
        """How far the packing had come; None before it."""
        return self.request.so_far

    @property
    def brine_short_ml(self) -> Outcome:
        """What is missing of the brine still needed, in ml; 0 where there is enough."""
        if self.brine_there_ml is None:
            return self.brine_to_come_ml
        missing = self.brine_to_come_ml.draws - self.brine_there_ml.draws
        return Outcome(missing.clip(min=0.0))

    @property
    def runs_out(self) -> float | None:
        """Chance that the brine there is runs out; None where that is not known."""
        return None if self.brine_there_ml is None else self.brine_short_ml.chance_above(0.0)

    def floor_to_make_ml(self) -> float:
        """What the recipe's own proportion still asks for, in ml, after what was made."""
        floor, so_far = self.floor_ml or 0.0, self.so_far
        if so_far is None or not floor:
            return floor
        if so_far.produce_left_g == 0:  # nothing is left to pour it over
            return 0.0
        made = so_far.brine_made_ml
        if made is None:  # only what was measured counts: no forecast enters the floor
            made = (so_far.brine_ml or 0.0) + (so_far.pot_left_ml or 0.0)
        return max(floor - made, 0.0)

    def most_to_make_ml(self, short_chance: float = 0.05) -> float:
        """Most brine in ml that jars to come can take beside what is there; inf before packing.

        That is their room less the produce, and the pot loss, exceeded with this chance at most.
        """
        if self.brine_room_ml is None:
            return math.inf
        there = 0.0 if self.brine_there_ml is None else self.brine_there_ml.draws
        room = (self.brine_room_ml.draws - there).clip(min=0.0)
        return Outcome(room).quantile(1.0 - short_chance)

    def less_than_recipe(self, short_chance: float = 0.05) -> bool:
        """Whether the jars to come cannot take what the recipe's proportion still asks for.

        Only once jars are packed: before that the proportion stands, whatever they may take.
        """
        if self.so_far is None or not self.so_far.jars:
            return False
        return self.floor_to_make_ml() > self.most_to_make_ml(short_chance)

    def jars_hold_less(self, short_chance: float = 0.05) -> bool:
        """Whether all the jars hold less brine for the produce than the recipe has."""
        most = self.brine_ml.quantile(1.0 - short_chance)
        return self.less_than_recipe(short_chance) and most < (self.floor_ml or 0.0)

    @property
    def fewer_than_printed(self) -> bool | None:
        """Whether fewer jars are filled than by the card's printed yield; None: not known."""
        if self.recipe is None:
            return None
        from jarcast.forecasting.by_recipe import fewer_than_printed

        return fewer_than_printed(self)

    def limited_by_recipe(self, short_chance: float = 0.05) -> bool:
        """Whether the recipe's proportion asks for more brine than the jars alone would."""
        if self.less_than_recipe(short_chance):
            return False
        return self.floor_to_make_ml() > self.brine_short_ml.quantile(1.0 - short_chance)

    def brine_to_make(self, short_chance: float = 0.05, units: Units = Units.US) -> float:
        """Brine to make, in ml: short with this chance at most, rounded up to a kitchen measure.

        In the middle of packing, what to make on top of what was made: 0 where that is enough.
        Never below the recipe's own proportion of brine to produce, where that is known, unless
        the jars that are still to fill cannot take so much.
        """
        enough = self.brine_short_ml.quantile(1.0 - short_chance)
        if not self.less_than_recipe(short_chance):
            enough = max(enough, self.floor_to_make_ml())
        return round_up_volume(enough, units) if enough > 0.0 else 0.0

    @property
    def printed_jars(self) -> tuple[float, float] | None:
        """Jars of the recipe's own size by its printed yield, low and high; None: not known."""
        if self.recipe is None:
            return None
        from jarcast.forecasting.by_recipe import printed_yield

        return printed_yield(self)

    def formula_to_make(self, short_chance: float = 0.05, units: Units = Units.US) -> Scaled | None:
        """The recipe's whole formula for ``brine_to_make``; None where there is none to scale."""
        if self.recipe is None:
            return None
        from jarcast.forecasting.by_recipe import ordered_formula

        return ordered_formula(self, self.brine_to_make(short_chance, units), units)
