"""Brine and produce by the jar: what so many full jars take, before anything is weighed."""

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

import numpy as np
from msgspec import Struct

from jarcast.domain.stages import AS_BOUGHT, STAGE_REACHED_BY
from jarcast.errors import ForecastError
from jarcast.forecast.answer import Forecast
from jarcast.forecast.brine import soft_floor
from jarcast.forecast.habits import Habits
from jarcast.forecast.outcome import MOST_SHORT, Outcome
from jarcast.forecast.readings import volume_of
from jarcast.harvest.to_buy import how_much
from jarcast.measures import Units, round_up_volume

if TYPE_CHECKING:
    from jarcast.recipes import Scaled


class ByTheJar(Struct, frozen=True):
    """What so many full jars take.

    ``weights`` in g by stage, from as bought to the last before the jars; ``brine_ml`` with what
    stays in the pot. ``middle`` is the forecast of the weight that fills them in the middle.
    """

    jars: float
    weights: Mapping[str, Outcome]
    brine_ml: Outcome
    middle: Forecast

    @property
    def ready_g(self) -> Outcome:
        """The produce in the jars, in g."""
        return list(self.weights.values())[-1]

    @property
    def printed_times(self) -> float:
        """Times the printed batch by the card's yield for these jars; 0 without such a card."""
        recipe = self.middle.recipe
        if recipe is None or recipe.safety is None:
            return 0.0
        from jarcast.recipes import times_for_volume

        return times_for_volume(recipe, volume_of(self.middle.request, self.jars))

    @property
    def printed_ml(self) -> float:
        """Brine in ml that the recipe has for these jars by its printed yield; 0 if not known."""
        recipe = self.middle.recipe
        if recipe is None or recipe.safety is None or not self.middle.has_brine:
            return 0.0
        return recipe.safety.volume_ml * self.printed_times

    def by_printed_yield(self, short_chance: float = 0.05) -> bool:
        """Whether the recipe's own amount for these jars sets the order, as it is more."""
        return self.printed_ml > self._alone_ml(short_chance)

    def brine_to_make(self, short_chance: float = 0.05, units: Units = Units.US) -> float:
        """Brine for them in ml, short with this chance at most, rounded up to a kitchen's measure.

        By a card no less than it has for these jars by its printed yield, nor than its proportion
        to the middle weight; whether that is the recipe's own is known once the produce is weighed,
        so raises ForecastError for a chance above 0.05.
        """
        formula = self.formula_to_make(short_chance, units) if self.middle.has_brine else None
        return self._order_ml(short_chance, units) if formula is None else formula.made_ml

    def formula_to_make(
        self, short_chance: float = 0.05, units: Units = Units.US
    ) -> "Scaled | None":
        """The recipe's whole formula for that; None with nothing to scale."""
        if self.middle.recipe is None or not self.middle.has_brine:
            return None
        from jarcast.forecast.recipe import ordered_formula

        order = self._order_ml(short_chance, units)
        return ordered_formula(self.middle.recipe, self.middle.request, order, units)

    def _order_ml(self, short_chance: float, units: Units) -> float:
        if short_chance > MOST_SHORT and self.middle.has_brine:
            raise ForecastError(
                f"a chance of {short_chance:g} of running short of brine cannot be used before "
                f"anything is weighed: ask for {MOST_SHORT:g} or less"
            )
        # What the card prints is made as it stands: once the formula, and no step more.
        return max(round_up_volume(self._alone_ml(short_chance), units), self.printed_ml)

    def _alone_ml(self, short_chance: float) -> float:
        """What does by these jars, and by the proportion to the middle weight."""
        return max(self.brine_ml.quantile(1.0 - short_chance), self.middle.floor_ml or 0.0)


def by_the_jar(habits: Habits, line: Mapping[str, Any], *, jars: float, seed: int = 0) -> ByTheJar:
    """What so many full jars take, by what is believed or was learned.

    ``line`` holds keywords of ``Habits.forecast`` but no weight, as for ``how_much``, which finds
    the weight that fills them in the middle; each of its draws is then taken so many times as
    fills just these jars. Raises as ``how_much`` does.
    """
    found = how_much(habits, line, jars=jars, chance=0.5, seed=seed)
    middle = found.lines[0]
    chain = middle.chain
    if chain is None:
        raise ValueError("jars being packed are forecast by their weights")
    times = jars / np.maximum(chain.full_jars, 1e-9)
    weights = {AS_BOUGHT: Outcome(middle.start_g.draws * times)}
    for link, grams in chain.weights:
        weights[STAGE_REACHED_BY[link].column] = Outcome(grams * times)
    room = volume_of(middle.request, jars)
    taken = chain.volume_ml - np.maximum(chain.brine_ml - chain.loss_ml, 0.0)
    in_jars = soft_floor(room - taken * times, np.full(times.size, room))
    brine = in_jars + chain.loss_ml if middle.has_brine else 0.0 * in_jars
    return ByTheJar(jars, weights, Outcome(brine), middle)
