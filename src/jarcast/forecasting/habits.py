"""Habits: what was learned of one person, and the questions that can be asked of it."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from jarcast.batch import Arrow, Batch
from jarcast.forecasting.chain import draw_batch
from jarcast.forecasting.outcome import Outcome
from jarcast.forecasting.request import Request, check_request
from jarcast.kinds import SHELF, Jar, cut_key, makes_its_own_brine, produce_key
from jarcast.learning.beliefs import Beliefs
from jarcast.learning.learned import Learned, learn_batches
from jarcast.measures import Units, round_up_volume

if TYPE_CHECKING:
    import pandas as pd

    from jarcast.recipes import PackCheck, Recipe, Scaled


@dataclass(frozen=True, slots=True)
class RestsOn:
    """What a forecast rests on: own batches of this, of this produce, and of others.

    ``published`` tells how near the published evidence is: 'this cut', 'this produce' or
    'nothing published'.
    """

    this: int
    same_produce: int
    others: int
    published: str


@dataclass(frozen=True)
class Forecast:
    """One batch forecast.

    ``jars`` and ``brine_ml`` belong together draw by draw; ``jars_by_sort`` runs beside the
    request's sorts of jar; ``ready_g`` is the weight as it goes into the jars; ``cured`` the
    chance of a cure that the forecast went by. ``recipe`` is the card it was asked by, as it was
    read: every safety number stays there.
    """

    jars: Outcome
    brine_ml: Outcome
    jars_by_sort: tuple[Outcome, ...]
    ready_g: Outcome
    cured: float
    request: Request
    rests_on: RestsOn
    recipe: Recipe | None = None

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

        as_bought, trimmed = self.request.as_bought_g, self.request.trimmed_g
        return brine_floor_ml(self.recipe, as_bought_g=as_bought, prepared_g=trimmed)

    def limited_by_recipe(self, short_chance: float = 0.05) -> bool:
        """Whether the recipe's proportion asks for more brine than the jars alone would."""
        floor = self.floor_ml
        return floor is not None and floor > self.brine_ml.quantile(1.0 - short_chance)

    def brine_to_make(self, short_chance: float = 0.05, units: Units = Units.US) -> float:
        """Brine to make, in ml: short with this chance at most, rounded up to a kitchen measure.

        Never below the recipe's own proportion of brine to produce, where that is known.
        """
        enough = max(self.brine_ml.quantile(1.0 - short_chance), self.floor_ml or 0.0)
        return round_up_volume(enough, units)

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


@dataclass(frozen=True)
class Habits:
    """What was learned of one person's trim, cure, pack and brine. Frozen; forecasts reuse it."""

    learned: Learned
    shelf: Mapping[str, Jar]

    def forecast(
        self,
        *,
        produce: str = "",
        cut: str = "",
        pack: str = "",
        jar: str = "",
        as_bought_g: float | None = None,
        trimmed_g: float | None = None,
        cured_g: float | None = None,
        cooked_g: float | None = None,
        cure_hours: float | None = None,
        salt_g: float | None = None,
        headspace_in: float | None = None,
        recipe: Recipe | None = None,
        draws: int = 4096,
        seed: int = 0,
    ) -> Forecast:
        """Forecast one batch from the latest weight known, in grams.

        ``jar`` may be an ordered list, '5 pint-wide, then pint'; a pint unless given. An uncured
        batch says so with ``cure_hours=0``; with nothing said, the usual way of this person and
        crop is taken. A ``recipe`` decides headspace and jars, and what is put up unless that is
        given. The same arguments and seed give the same draws.

        Raises ForecastError when there is no produce or no weight, a number that cannot be, or
        produce or headspace other than the recipe's; BatchError for a jar that is not on the
        shelf; RecipeError for one the recipe was not tested in.
        """
        weights = {
            "as_bought_g": as_bought_g,
            "trimmed_g": trimmed_g,
            "cured_g": cured_g,
            "cooked_g": cooked_g,
        }
        allow_jar = None
        if recipe is not None:
            from jarcast.forecasting.by_recipe import Choices, allowed_jars, choices_by

            given = Choices(produce, cut, pack, jar, headspace_in)
            produce, cut, pack, jar, headspace_in = choices_by(recipe, given)
            allow_jar = allowed_jars(recipe, self.shelf)
        request = check_request(
            produce=produce,
            cut=cut,
            pack=pack,
            jar=jar or "pint",
            weights=weights,
            cure_hours=cure_hours,
            salt_g=salt_g,
            headspace_in=headspace_in,
            draws=draws,
            seed=seed,
            shelf=self.shelf,
            allow_jar=allow_jar,
        )
        return self._forecast(request, recipe)

    def _forecast(self, request: Request, recipe: Recipe | None) -> Forecast:
        drawn = draw_batch(self.learned, request)
        no_brine = recipe is not None and recipe.own_liquid
        return Forecast(
            jars=Outcome(sum(drawn.jars[1:], start=drawn.jars[0])),
            brine_ml=Outcome(0.0 * drawn.brine_ml if no_brine else drawn.brine_ml),
            jars_by_sort=tuple(Outcome(jars) for jars in drawn.jars),
            ready_g=Outcome(drawn.ready_g),
            cured=drawn.cured,
            request=request,
            rests_on=self._rests_on(request),
            recipe=recipe,
        )

    def pack_check(self, forecast: Forecast, units: Units = Units.US) -> PackCheck | None:
        """Own produce in a jar beside the recipe's; None where there is nothing to compare."""
        if forecast.recipe is None:
            return None
        from jarcast.forecasting.by_recipe import check_packing

        return check_packing(self, forecast, units)

    def has_packed(self, produce: str, cut: str, pack: str) -> bool:
        """Whether a batch of one's own told how closely this crop is packed."""
        crop = f"{produce_key(produce)}/{cut_key(cut)}/"
        packs = {f"{crop}{pack}/", f"{crop}/"}  # of this pack, or of one not written down
        return any(
            (effect.arrow, effect.group) == (Arrow.PACK, "crop")
            and (effect.key in packs or (not pack and effect.key.startswith(crop)))
            for effect in self.learned.block(Arrow.PACK).effects
        )

    @property
    def usual_jar(self) -> str:
        """The jar this person fills most; a pint until there is one."""
        return self.learned.usual_jar or "pint"

    def usual_pack(self, produce: str, cut: str) -> str:
        """How this person usually packs a crop; '' where it was never written down."""
        return self.learned.usual_pack.get((produce_key(produce), cut_key(cut)), "")

    def _rests_on(self, request: Request) -> RestsOn:
        cells = self.learned.cells
        this = sum(
            count
            for (produce, cut, pack), count in cells.items()
            if (produce, cut) == (request.produce, request.cut)
            and (not pack or not request.pack or pack == request.pack)
        )
        same = sum(n for (produce, _, _), n in cells.items() if produce == request.produce)
        crop = self.learned.beliefs.crop(request.produce, request.cut, request.pack)
        return RestsOn(this, same - this, self.learned.batches - same, crop.known)


def habits_from(
    batches: Sequence[Batch],
    beliefs: Beliefs | None = None,
    shelf: Mapping[str, Jar] = SHELF,
) -> Habits:
    """Learn habits from batches, without pandas."""
    return Habits(learn_batches(batches, beliefs, shelf), shelf)


def learn(batches: pd.DataFrame, beliefs: Beliefs | None = None) -> Habits:
    """Learn habits from a batch table; an empty one gives the starting beliefs.

    The table has the columns of the batch table (see the reference); contradictions inside a
    batch are taken in and teach nothing on what they touch. Raises BatchError for single values
    that cannot be.
    """
    from jarcast.interchange import batches_from_frame

    return habits_from(batches_from_frame(batches), beliefs)
