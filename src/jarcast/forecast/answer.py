"""One batch forecast: what it will come to, and what to make and have ready for it."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
from msgspec import Struct
from numpy.typing import NDArray

from jarcast.domain.names import makes_its_own_brine, pack_key
from jarcast.domain.packing import SoFar
from jarcast.errors import ForecastError, in_short
from jarcast.forecast.arguments import as_units, check_jars, check_whole
from jarcast.forecast.chain import Chain
from jarcast.forecast.outcome import MOST_SHORT, Outcome, check_chance, html_table
from jarcast.forecast.request import Request
from jarcast.measures import Units, round_up_volume

if TYPE_CHECKING:
    import pandas as pd

    from jarcast.forecast.narrowing import Narrowing
    from jarcast.forecast.pots import Pot
    from jarcast.recipes import Recipe, Scaled

_MOSTLY_WHOLE = 0.9  # of a forecast's draws: from here on it is said in whole jars


class RestsOn(Struct, frozen=True):
    """What a forecast rests on: own batches of this, of this produce, and of others.

    ``published`` tells how near the published evidence is: 'this cut', 'this produce',
    'its parts' or 'nothing published'.
    """

    this: int
    same_produce: int
    others: int
    published: str


class Forecast(Struct, frozen=True, eq=False):
    """One batch forecast, which equals itself alone.

    ``jars`` and ``brine_ml`` belong together draw by draw; ``jars_by_sort`` runs beside the
    request's sorts of jar; ``start_g`` is the weight it starts from, draws only of one told as a
    range; ``ready_g`` the weight as it goes into the jars; ``cured`` the chance of a cure that the
    forecast went by. In the middle of packing, ``jars`` and ``brine_ml``
    are those of the whole batch; ``jars_to_come`` and ``brine_to_come_ml`` are what is left to
    fill and still takes, and ``brine_there_ml`` the brine in the pot, None where that is not
    known; ``brine_room_ml`` is the most that the jars to come and the pot can take, None before
    packing. ``recipe`` is the card it was asked by, as it was read: every safety number stays
    there. ``chain`` are the draws behind it, None once packing has begun; ``unusual`` tells which
    draws take it that what is missing from the bowl weighed then is not all in the jars, None where
    none does.
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
    chain: Chain | None = None
    unusual: NDArray[np.bool_] | None = None

    def __repr__(self) -> str:
        """What was asked, and the answer, on one line."""
        outcomes = (f"{name} {one:.4g}" for name, one in self._told.items())
        return f"Forecast({self._asked}: {', '.join(outcomes)})"

    def _repr_html_(self) -> str:
        return html_table(self._told, self._asked)

    @property
    def astray(self) -> float:
        """Chance that what is missing from the bowl weighed while packing is not all in the jars.

        The rest was eaten or put aside, or the bowl was misread.
        """
        return 0.0 if self.unusual is None else float(self.unusual.mean())

    @property
    def _asked(self) -> str:
        request = self.request
        crop = ", ".join(filter(None, (request.produce, request.cut, request.pack)))
        return f"{crop}; {request.stage} {request.grams:.4g}"

    @property
    def _told(self) -> dict[str, Outcome]:
        return {"jars": self.jars, **({"brine_ml": self.brine_ml} if self.has_brine else {})}

    def to_frame(self) -> pd.DataFrame:
        """The draws as a DataFrame, a row for each, so that what belongs together stays so.

        Columns: ``jars`` and ``brine_ml`` (NaN where no brine is made), ``ready_g``, and with
        several sorts of jar one for each, such as ``jars_pint-wide``.
        """
        import pandas as pd

        columns = {"jars": self.jars.draws, "brine_ml": np.full(len(self.jars), np.nan)}
        columns.update({name: one.draws for name, one in self._told.items()})
        columns["ready_g"] = np.broadcast_to(self.ready_g.draws, len(self.jars))
        if len(self.jars_by_sort) > 1:
            sorts = zip(self.request.turns, self.jars_by_sort, strict=True)
            columns.update({f"jars_{turn.jar.key}": jars.draws for turn, jars in sorts})
        return pd.DataFrame(columns).rename_axis("draw")

    @property
    def has_brine(self) -> bool:
        """Whether a brine is made for it at all; relishes and ferments make their own."""
        if self.recipe is not None and self.recipe.own_liquid:
            return False
        return not makes_its_own_brine(self.request.produce, self.request.cut)

    @property
    def whole_jars(self) -> bool:
        """Whether it is one of somebody who fills whole jars: nearly all draws are whole counts."""
        draws = self.jars.draws
        return bool(np.mean(np.abs(draws - np.round(draws)) < 1e-6) >= _MOSTLY_WHOLE)

    @property
    def smaller_jar(self) -> bool:
        """Whether it is one of somebody whose rest has a smaller jar: nearly all draws are counts
        of halves, and not of whole jars alone.
        """
        twice = 2.0 * self.jars.draws
        return not self.whole_jars and bool(
            np.mean(np.abs(twice - np.round(twice)) < 1e-6) >= _MOSTLY_WHOLE
        )

    def counts(self, jars: Outcome, level: float) -> tuple[float, float, float]:
        """The middle of ``jars``, and the ends of their range, as they are counted: in whole jars
        where only whole ones are filled. Raises ForecastError for what is no outcome.
        """
        if not isinstance(jars, Outcome):
            raise ForecastError(f"{in_short(jars)} is no outcome; give one such as forecast.jars")
        middle, (low, high) = jars.median, jars.interval(level)
        if not self.whole_jars:
            return middle, low, high
        return float(round(middle)), math.floor(low + 1e-6), math.ceil(high - 1e-6)

    @property
    def poured_over(self) -> bool:
        """Whether the brine is poured over drained produce, and so can be made in several pots.

        Not where it makes its own or the produce stands in it, nor for a hot pack, which is heated
        in it; a pack that is not said may be one.
        """
        if self.recipe is None:
            return self.has_brine and pack_key(self.request.pack) == "raw"
        from jarcast.recipes import why_not_clean

        return self.has_brine and not why_not_clean(self.recipe, self.request.pack)

    def jars_to_have(self, short_chance: float = 0.05) -> int:
        """Jars and lids to have ready: too few with this chance at most."""
        return math.ceil(self.jars.enough(short_chance) - 1e-9)

    @property
    def floor_ml(self) -> float | None:
        """Least brine in ml by the recipe's proportion to the produce weighed; None: not known.

        A lower bound of it, where only a later stage than the card's was weighed.
        """
        return self._floor[0]

    @property
    def why_no_floor(self) -> str:
        """Why the least brine by the recipe is not known, in words; '' where it is."""
        return self._floor[1]

    @property
    def floor_at_least(self) -> str:
        """The stage a floor goes by where that is later than the card's own; '' where it is not.

        The floor is then a lower bound: less than the recipe's own, as produce loses weight.
        """
        return self._floor[2]

    @property
    def _floor(self) -> tuple[float | None, str, str]:
        if self.recipe is None:
            return None, "floor not known: no recipe is named", ""
        if not self.has_brine and not self.recipe.own_liquid:
            return None, "no floor: it makes its own brine", ""
        from jarcast.forecast.floor import floor_of

        return floor_of(self.recipe, self.request, self.start_g)

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
        floor = self.floor_ml or 0.0
        if self.so_far is None or not floor:
            return floor
        from jarcast.forecast.floor import left_to_make_ml

        return left_to_make_ml(floor, self.so_far)

    def most_to_make_ml(self, short_chance: float = 0.05) -> float:
        """Most brine in ml that jars to come can take beside what is there; inf before packing.

        That is their room less the produce, and the pot loss, exceeded with this chance at most.
        """
        if self.brine_room_ml is None:
            return math.inf
        there = 0.0 if self.brine_there_ml is None else self.brine_there_ml.draws
        room = (self.brine_room_ml.draws - there).clip(min=0.0)
        return Outcome(room).enough(short_chance)

    def less_than_recipe(self, short_chance: float = 0.05) -> bool:
        """Whether the jars to come cannot take what the recipe's proportion still asks for.

        Only once jars are packed: before that the proportion stands, whatever they may take.
        """
        if self.so_far is None or not self.so_far.jars:
            return False
        return self.floor_to_make_ml() > self.most_to_make_ml(short_chance)

    def jars_hold_less(self, short_chance: float = 0.05) -> bool:
        """Whether all the jars hold less brine for the produce than the recipe has."""
        most = self.brine_ml.enough(short_chance)
        return self.less_than_recipe(short_chance) and most < (self.floor_ml or 0.0)

    @property
    def fewer_than_printed(self) -> bool | None:
        """Whether fewer jars are filled than by the card's printed yield; None: not known."""
        if self.recipe is None:
            return None
        from jarcast.forecast.recipe import fewer_than_printed

        return fewer_than_printed(self.recipe, self.request, self.jars_by_sort)

    def limited_by_recipe(self, short_chance: float = 0.05) -> bool:
        """Whether the recipe's proportion asks for more brine than the jars alone would."""
        if self.less_than_recipe(short_chance):
            return False
        return self.floor_to_make_ml() > self.brine_short_ml.enough(short_chance)

    def allow_short(self, short_chance: float) -> None:
        """Raise ForecastError for a larger chance of running short than 0.05 without a floor.

        Where the recipe's own least amount is not known, nothing would keep so small an order from
        being less brine for the produce than was tested.
        """
        check_chance(short_chance)
        if short_chance > MOST_SHORT and self.has_brine and self.why_no_floor:
            from jarcast.forecast.floor import too_likely

            raise ForecastError(too_likely(short_chance, self.recipe, self.why_no_floor))

    def brine_to_make(self, short_chance: float = 0.05, units: Units | str = Units.US) -> float:
        """Brine to make, in ml: short with this chance at most, rounded up to what can be measured.

        It stands on a step of the kitchen's cups, which everything shows as it is. By a recipe's
        card it is what the whole formula then makes, each ingredient in a measure of the kitchen.
        In the middle of packing, what to make on top of what was made: 0 where that is enough.
        Never below the recipe's own proportion of brine to produce, where that is known, unless
        the jars that are still to fill cannot take so much; where it is not known, raises
        ForecastError for a chance above 0.05.
        """
        order = self._order_ml(short_chance, units)
        formula = self._formula(order, units) if self.has_brine else None
        return order if formula is None else formula.made_ml

    def brine_for(
        self, jars: float = 7, short_chance: float = 0.05, units: Units | str = Units.US
    ) -> float:
        """Brine to heat for the first so many jars, in ml, rounded up as ``brine_to_make`` is.

        Together with a second pot, ordered anew once three jars have told of the batch, it is short
        with about this chance. On top of what was made before the first jar, and 0 where that is
        what was to be heated for them. Never more than ``brine_to_make``, and just that once a jar
        is packed, or with no more jars to come. Raises ForecastError as that does, and for no jars.
        """
        order = self._first_order_ml(jars, short_chance, units)
        formula = self._formula(order, units) if self.has_brine else None
        return order if formula is None else formula.made_ml

    def formula_for(
        self, jars: float = 7, short_chance: float = 0.05, units: Units | str = Units.US
    ) -> Scaled | None:
        """The recipe's whole formula, which makes ``brine_for``; None with nothing to scale."""
        return self._formula(self._first_order_ml(jars, short_chance, units), units)

    def _first_order_ml(self, jars: float, short_chance: float, units: Units | str) -> float:
        check_jars(jars)
        whole = self._order_ml(short_chance, units)
        if self.chain is None or (self.so_far is not None and self.brine_there_ml is None):
            return whole
        from jarcast.forecast.pots import first_order_ml

        first = self.first_pot_ml(jars, short_chance)
        return min(first_order_ml(first, self._there_ml, as_units(units)), whole)

    @property
    def _there_ml(self) -> float:
        """Brine in the pot, in ml; 0 where there is none, or that is not known."""
        return 0.0 if self.brine_there_ml is None else self.brine_there_ml.median

    def first_pot_ml(self, jars: float = 7, short_chance: float = 0.05) -> float:
        """What ``brine_for`` rounds up, in ml: to the drop, as draws have it.

        Raises ForecastError once packing has begun, when there is no first pot, and otherwise as
        ``brine_for``.
        """
        from jarcast.forecast.pots import first_pot_ml

        check_jars(jars)
        self.allow_short(short_chance)
        if self.chain is None:
            raise ForecastError("no first pot: packing has begun; ask for brine_to_make")
        return first_pot_ml(self.chain, jars, short_chance, self.floor_ml or 0.0)

    def pots(
        self, load: float = 7, short_chance: float = 0.05, units: Units | str = Units.US
    ) -> tuple[Pot, ...]:
        """The pots to heat, for loads of the canner: one, or the first load's and the rest's.

        They come to ``brine_to_make``, and so never to less than the recipe's own proportion; ()
        where nothing is to be made. One pot alone for no more than one load, once a jar is packed,
        and where brine is not poured over produce. With brine made before the first jar they come
        on top of it: the first is 0 where that is enough for its load.
        """
        from jarcast.forecast.pots import Pot, next_range_ml

        check_jars(load)
        whole = self.brine_to_make(short_chance, units) if self.has_brine else 0.0
        if whole <= 0.0:
            return ()
        jars, first = self.jars_to_come.median, whole
        if self.chain is not None and self.poured_over and jars > load:
            first = self.brine_for(load, short_chance, units)
        rest = whole - first
        if self.chain is None or rest <= 0.0:
            return (Pot(jars, whole, whole, whole),)
        least, had = self.floor_ml or 0.0, self._there_ml + first
        low, high = next_range_ml(self.chain, had, short_chance, least, as_units(units))
        return Pot(load, first, first, first), Pot(
            jars - load, rest, min(low, rest), min(high, rest)
        )

    def would_narrow(self, after_jars: int = 3) -> tuple[Narrowing, ...]:
        """What to weigh next, and what it buys; () once packing has begun.

        ``after_jars`` is how many jars are full when bowl and pot are read. Raises ForecastError
        for what is no whole number of them, 1 or more.
        """
        from jarcast.forecast.narrowing import narrowings

        check_whole("after_jars", after_jars, "jars")
        if self.chain is None or self.so_far is not None:
            return ()
        return narrowings(self.chain, after_jars)

    def _order_ml(self, short_chance: float, units: Units | str) -> float:
        return round_up_volume(max(self._enough_ml(short_chance), 0.0), as_units(units))

    def _enough_ml(self, short_chance: float) -> float:
        """What does, to the drop. Raises ForecastError as ``brine_to_make``."""
        enough = self.brine_short_ml.enough(short_chance)
        self.allow_short(short_chance)
        if self.less_than_recipe(short_chance):
            return enough
        return max(enough, self.floor_to_make_ml())

    @property
    def printed_jars(self) -> tuple[float, float] | None:
        """Jars of the recipe's own size by its printed yield, low and high; None: not known."""
        if self.recipe is None:
            return None
        from jarcast.forecast.recipe import printed_yield

        return printed_yield(self.recipe, self.request)

    def formula_to_make(
        self, short_chance: float = 0.05, units: Units | str = Units.US
    ) -> Scaled | None:
        """The recipe's whole formula, which makes ``brine_to_make``; None with nothing to scale.

        What makes its own liquid follows its produce. Raises ForecastError as ``brine_to_make``.
        """
        return self._formula(self._order_ml(short_chance, units), units)

    def _formula(self, order_ml: float, units: Units | str) -> Scaled | None:
        if self.recipe is None:
            return None
        from jarcast.forecast.recipe import ordered_formula

        order_ml = order_ml if self.has_brine else 0.0  # 0: what was made is enough
        return ordered_formula(self.recipe, self.request, order_ml, as_units(units))
