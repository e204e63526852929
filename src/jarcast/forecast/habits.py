"""Habits: what was learned of one person, and the questions that can be asked of it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

import numpy as np
from msgspec import Struct

from jarcast.domain.batch import Batch
from jarcast.domain.jars import SHELF, Jar, check_shelf
from jarcast.domain.last_jar import LastJar
from jarcast.domain.names import cut_key, pack_key, produce_key
from jarcast.domain.packing import SoFar
from jarcast.domain.said_weight import Weight
from jarcast.domain.stages import Link
from jarcast.errors import BatchError, BeliefsError, ForecastError, RecipeError, in_short
from jarcast.forecast.answer import Forecast, RestsOn
from jarcast.forecast.arguments import as_units
from jarcast.forecast.keywords import request_by, warn_near, warn_near_pack
from jarcast.forecast.outcome import Outcome
from jarcast.forecast.request import Request, check_draws, check_texts
from jarcast.forecast.sample import Drawn, draw_batches
from jarcast.learning.learned import Learned, learn_batches
from jarcast.learning.model.beliefs import Beliefs
from jarcast.measures import Units

if TYPE_CHECKING:
    import os

    import pandas as pd

    from jarcast.recipes import PackCheck, Recipe


class Habits(Struct, frozen=True, eq=False):
    """What was learned of one person's trim, cure, pack and brine. Frozen; forecasts reuse it.

    Habits equal themselves alone.
    """

    learned: Learned
    shelf: Mapping[str, Jar]

    def __repr__(self) -> str:
        """What they rest on, on one line."""
        crops = len({key[0] for key in self.learned.cells})
        return f"Habits(batches={self.learned.batches}, produce={crops})"

    def _repr_html_(self) -> str:
        head = f"<p>Habits of {self.learned.batches} batches.</p>"
        return head + self.to_frame().to_html(index=False, float_format="{:.3g}".format)

    def to_frame(self) -> pd.DataFrame:
        """What was learned as a DataFrame, a row for each crop put up and each quantity.

        Columns: produce, cut, pack; batches of one's own; quantity ('trim_yield', 'cure_keep',
        'cook_keep', a share that stays; 'density', g/ml in the jar); median, low, high: the range
        holds it 8 times in 10; published, published_low, published_high: the same of what is
        published. A quantity that none of these batches tells of is believed of their like.
        """
        import pandas as pd

        from jarcast.forecast.known import COLUMNS, known_rows

        return pd.DataFrame(known_rows(self.learned), columns=list(COLUMNS))

    def save(self, path: str | os.PathLike[str]) -> None:
        """Write everything that a forecast needs as JSON; ``load_habits`` reads it again.

        Floats are exact, so the same forecasts come of it. No batch stands in it but the names of
        those that were looked at for slips. Written whole or not at all. Raises JarcastError if it
        cannot be.
        """
        from jarcast.forecast.kept import write_kept

        write_kept(path, self)

    def forecast(
        self,
        *,
        produce: str = "",
        cut: str = "",
        pack: str = "",
        jar: str = "",
        as_bought_g: Weight | None = None,
        trimmed_g: Weight | None = None,
        cured_g: Weight | None = None,
        cooked_g: Weight | None = None,
        cure_hours: float | None = None,
        salt_g: float | None = None,
        headspace_in: float | None = None,
        recipe: Recipe | None = None,
        so_far: SoFar | None = None,
        person: str = "",
        draws: int = 4096,
        seed: int = 0,
    ) -> Forecast:
        """Forecast one batch from the latest weight known, in grams.

        A weight may be a pair (low, high): a range that holds it 8 times in 10. ``so_far`` is how
        far its packing has come.
        ``jar`` may be an ordered list, '5 pint-wide, then pint'; a pint unless given. An uncured
        batch says so with ``cure_hours=0``; with nothing said, the usual way of this person and
        crop is taken. A ``recipe`` decides headspace and jars, and what is put up unless that is
        given. ``person`` is who trims and packs, where a kitchen has several: one not met yet may
        be anybody, and with nobody named it may be each of them. The same arguments and seed give
        the same draws.

        Raises ForecastError when there is no produce or no weight, a number that cannot be, or
        produce or headspace other than the recipe's; BatchError for a jar that is not on the
        shelf; RecipeError for one the recipe was not tested in. Warns with NearName of a produce
        that is nearly a known name, and of a pack that is nearly raw or hot: it is forecast as it
        stands.
        """
        line = {
            "produce": produce, "cut": cut, "pack": pack, "jar": jar, "as_bought_g": as_bought_g,
            "trimmed_g": trimmed_g, "cured_g": cured_g, "cooked_g": cooked_g,
            "cure_hours": cure_hours, "salt_g": salt_g, "headspace_in": headspace_in,
            "recipe": recipe, "so_far": so_far, "person": person,
        }  # fmt: skip
        request, recipe = request_by(self.learned, self.shelf, line, draws, seed)
        return self._forecast(
            request, draw_batches(self.learned, [request], draws, seed)[0], recipe
        )

    def forecast_together(
        self, lines: Sequence[Mapping[str, Any]], *, draws: int = 4096, seed: int = 0
    ) -> tuple[Forecast, ...]:
        """Forecast several batches, draw by draw with the same person and crops.

        A line holds keywords of ``forecast``. Raises as ``forecast`` does, with the number of the
        line before the message.
        """
        return self._together(lines, draws, seed)

    def _together(
        self, lines: Sequence[Mapping[str, Any]], draws: int, seed: int
    ) -> tuple[Forecast, ...]:
        """The same; warnings belong to who called the caller, which may be another function."""
        check_draws(draws, seed)
        if not isinstance(lines, Iterable) or isinstance(lines, str | bytes | Mapping):
            raise ForecastError(f"{in_short(lines)} are no lines; give a list of them")
        asked = []
        for number, line in enumerate(lines, start=1):
            try:
                if not isinstance(line, Mapping):
                    raise ForecastError(
                        f"{in_short(line)} is not a line; give a mapping of keywords, such as "
                        "{'produce': 'carrot', 'trimmed_g': 2700}"
                    )
                asked.append(request_by(self.learned, self.shelf, line, draws, seed, up=3))
            except (ForecastError, BatchError, RecipeError) as error:
                raise type(error)(f"line {number}: {error}") from error
        requests = [request for request, _ in asked]
        drawn = draw_batches(self.learned, requests, draws, seed, lines=True)
        return tuple(
            self._forecast(request, found, recipe)
            for (request, recipe), found in zip(asked, drawn, strict=True)
        )

    def _forecast(self, request: Request, drawn: Drawn, recipe: Recipe | None) -> Forecast:
        no_brine = recipe is not None and recipe.own_liquid
        brine, there = drawn.brine_ml, drawn.there_ml
        return Forecast(
            jars=Outcome(sum(drawn.jars[1:], start=drawn.jars[0])),
            brine_ml=Outcome(0.0 * brine if no_brine else brine),
            jars_by_sort=tuple(Outcome(jars) for jars in drawn.jars),
            start_g=Outcome(drawn.start_g),
            ready_g=Outcome(drawn.ready_g),
            jars_to_come=Outcome(drawn.jars_to_come),
            brine_to_come_ml=Outcome(0.0 * brine if no_brine else drawn.brine_to_come_ml),
            brine_there_ml=None if there is None or no_brine else Outcome(there),
            cured=drawn.cured,
            request=request,
            rests_on=self._rests_on(request),
            recipe=recipe,
            brine_room_ml=None if drawn.room_ml is None else Outcome(drawn.room_ml),
            chain=drawn.chain,
            unusual=drawn.unusual,
        )

    def pack_check(
        self, forecast: Forecast, units: Units | str = Units.US, batches: Sequence[Batch] = ()
    ) -> PackCheck | None:
        """Own produce in a jar beside the recipe's; None where there is nothing to compare.

        ``batches`` are those that the habits were learned from, where they are at hand: that one's
        own are packed closer is then said only where one of them was. Raises ForecastError for what
        is no forecast.
        """
        if not isinstance(forecast, Forecast):
            raise ForecastError(f"{in_short(forecast)} is no forecast; Habits.forecast makes one")
        units = as_units(units)
        if forecast.recipe is None:
            return None
        from jarcast.forecast.pack_check import check_packing

        request = forecast.request
        before = self.has_packed(request.produce, request.cut, request.pack)
        return check_packing(
            forecast, self.forecast, units,
            packed_before=before, batches=batches, shelf=self.shelf,
        )  # fmt: skip

    def has_packed(self, produce: str, cut: str, pack: str) -> bool:
        """Whether a batch of one's own told how closely this crop is packed."""
        check_texts(produce=produce, cut=cut, pack=pack)
        pack = pack_key(pack)
        crop = f"{produce_key(produce)}/{cut_key(cut)}/"
        packs = {f"{crop}{pack}/", f"{crop}/"}  # of this pack, or of one not written down
        return any(
            (effect.link, effect.group) == (Link.PACK, "crop")
            and (effect.key in packs or (not pack and effect.key.startswith(crop)))
            for effect in self.learned.block(Link.PACK).effects
        )

    @property
    def usual_jar(self) -> str:
        """The jar this person fills most; a pint until there is one."""
        return self.learned.usual_jar or "pint"

    def usual_pack(self, produce: str, cut: str) -> str:
        """How this person usually packs a crop; '' where it was never recorded."""
        check_texts(produce=produce, cut=cut)
        return self.learned.usual_pack.get((produce_key(produce), cut_key(cut)), "")

    def usual_cut(self, produce: str) -> str:
        """The cut of more than half of this person's batches of a produce; '' where none is."""
        check_texts(produce=produce)
        key, counts = produce_key(produce), dict[str, int]()
        for (own, cut, _), count in self.learned.cells.items():
            if own == key and cut:
                counts[cut] = counts.get(cut, 0) + count
        most = max(counts, key=lambda cut: counts[cut], default="")
        return most if most and 2 * counts[most] > sum(counts.values()) else ""

    def _rests_on(self, request: Request) -> RestsOn:
        cells = self.learned.cells
        own = [(key, count) for key, count in cells.items() if key[0] == request.produce]
        this = sum(
            count
            for (_, cut, pack), count in own
            if cut == request.cut and (not pack or not request.pack or pack == request.pack)
        )
        same = sum(count for _, count in own)
        crop = self.learned.beliefs.crop(request.produce, request.cut, request.pack)
        return RestsOn(this, same - this, self.learned.batches - same, crop.known)


def habits_from(
    batches: Sequence[Batch],
    beliefs: Beliefs | None = None,
    shelf: Mapping[str, Jar] = SHELF,
    packed: Mapping[str, Sequence[SoFar]] = MappingProxyType({}),
    whole_jars: bool | None = None,
    last_jar: LastJar | str | None = None,
) -> Habits:
    """Learn habits from batches, without pandas.

    ``packed`` holds, by the batch's name, how far its packing had come, note by note.
    ``whole_jars`` is what the person said of the last jar: True where only whole jars are ever
    filled, False where it is left part full, None where nothing was said and the counts tell.
    ``last_jar`` says more of it, one of ``LastJar``: only one of the two may be given.
    Raises BatchError for anything that is no batch, and as ``learn`` for the rest.
    """
    if not isinstance(batches, Sequence) or not all(isinstance(one, Batch) for one in batches):
        raise BatchError("habits_from takes a list of batches; a table is for jarcast.learn")
    said = check_learning(beliefs, shelf, whole_jars, last_jar)
    if not isinstance(packed, Mapping):
        raise BatchError(f"packed={in_short(packed)}: give a dict of readings by the batch's name")
    return Habits(learn_batches(batches, beliefs, shelf, packed, said), shelf)


def learn(
    batches: object,
    beliefs: Beliefs | None = None,
    *,
    shelf: Mapping[str, Jar] = SHELF,
    whole_jars: bool | None = None,
    last_jar: LastJar | str | None = None,
) -> Habits:
    """Learn habits from a batch table; an empty one gives the starting beliefs.

    ``batches`` is a DataFrame, anything with ``to_pandas()`` or that ``pd.DataFrame`` takes (a
    dict of columns, a list of rows), or the path of a CSV file. The table has the columns of the
    batch table (see the reference); contradictions inside a batch are taken in and teach nothing on
    what they touch. ``shelf`` holds the jars, those the user measured among them. ``whole_jars``
    says whether the last jar of a batch is always made a whole one (True) or left part full
    (False); None leaves it to the counts of jars. ``last_jar`` says more of it, in the place of
    ``whole_jars``: 'part' or 'whole', 'topped' up with brine, 'smaller' where the rest has a jar of
    half the size, topped up, which counts as half a jar, or 'eaten'. Raises BatchError for single
    values that cannot be, and for what is no table; BeliefsError for beliefs that are none. Warns
    with NearName of a produce that is nearly a published name and of a pack that is nearly raw or
    hot, and with IgnoredColumn of a column that is not read and looks like a measure.
    """
    from jarcast.batchtable import batches_from_table

    check_learning(beliefs, shelf, whole_jars, last_jar)
    read = batches_from_table(batches, shelf, stacklevel=2)
    for produce in dict.fromkeys(batch.produce for batch in read):
        warn_near(produce, frozenset(), stacklevel=3)
    for pack in dict.fromkeys(batch.pack for batch in read):
        warn_near_pack(pack, frozenset(), stacklevel=3)
    return habits_from(read, beliefs, shelf, whole_jars=whole_jars, last_jar=last_jar)


def check_learning(
    beliefs: object, shelf: object, whole_jars: object = None, last_jar: object = None
) -> LastJar:
    """Refuse what cannot be learned by; gives what was said of the last jar.

    Raises BeliefsError and BatchError as ``learn``.
    """
    if beliefs is not None and not isinstance(beliefs, Beliefs):
        raise BeliefsError(
            f"{in_short(beliefs)} are not beliefs; read a file of them with "
            "jarcast.learning.load_beliefs(path)"
        )
    check_shelf(shelf)
    if whole_jars is not None and not isinstance(whole_jars, bool | np.bool_):
        raise BatchError(f"whole_jars={in_short(whole_jars)}: give True, False or None")
    if last_jar is None:
        said = {None: LastJar.LEARN, True: LastJar.WHOLE, False: LastJar.PART}
        return said[None if whole_jars is None else bool(whole_jars)]
    if whole_jars is not None:
        raise BatchError("whole_jars and last_jar both say what becomes of the last jar; give one")
    if not isinstance(last_jar, str) or last_jar not in set(LastJar):
        raise BatchError(
            f"last_jar={in_short(last_jar)}: give {', '.join(map(repr, map(str, LastJar)))} or None"
        )
    return LastJar(last_jar)


def load_habits(path: str | os.PathLike[str]) -> Habits:
    """Habits that ``Habits.save`` wrote: the same arguments and seed give the same draws.

    Raises BeliefsError for a file that cannot be read or is no file of habits.
    """
    from jarcast.forecast.kept import read_kept

    return read_kept(path, Habits)
