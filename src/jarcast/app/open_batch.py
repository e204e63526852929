"""Batches in the making: which one is meant, what is known of it, what it will come to."""

import datetime as dt
import math
from collections.abc import Collection, Mapping, Sequence
from typing import TYPE_CHECKING, Any

from msgspec import Struct

from jarcast.app.record import make_entry, new_name, read
from jarcast.app.work import Kitchen, Work
from jarcast.domain.batch import Batch, number_text
from jarcast.domain.jar_text import in_turns, read_jars, table_cells, turns_text
from jarcast.domain.jars import SHELF, Jar
from jarcast.domain.names import cut_key, pack_key, produce_key
from jarcast.domain.packing import SoFar
from jarcast.domain.pots import Made, packing_by, pots_made
from jarcast.domain.said_weight import known_weights
from jarcast.domain.stages import weighed
from jarcast.errors import BatchError, ForecastError, RecipeError, cut_short
from jarcast.ledger import Entry
from jarcast.ledger.card_texts import CardText, keep_card
from jarcast.ledger.steps import OpenBatch, begin
from jarcast.ledger.whole_names import fitting, in_one_line, names_taken, only

if TYPE_CHECKING:
    from jarcast.forecast.answer import Forecast
    from jarcast.forecast.habits import Habits
    from jarcast.harvest.by_the_jar import ByTheJar
    from jarcast.recipes import Recipe

_ROUNDED_JARS = 0.5  # a count may be off by so much and be none of a slip; common practice


class Underway(Struct, frozen=True):
    """An open batch as it stands.

    ``typed`` is what was typed, by column; ``batch`` what that reads as, where ``filled`` tells
    whether its jars are known or only made up. ``so_far`` is how far the packing has come: None
    before it, as long as no brine was made either. ``pots_ml`` are the pots of brine made for it.
    """

    name: str
    typed: Mapping[str, str]
    batch: Batch
    filled: bool
    so_far: SoFar | None
    pots_ml: tuple[float, ...] = ()

    @property
    def weighed(self) -> tuple[str, ...]:
        """The stages that have a weight."""
        return tuple(stage.typed for stage in weighed(self.batch))


def find_open(found: Sequence[OpenBatch], name: str) -> OpenBatch:
    """The open batch of this name: its case and spaces forgiven, and part of it will do.

    Raises BatchError where none answers to it, or several do.
    """
    if not found:
        raise BatchError("no batch is open; 'jarcast begin' opens one")
    fits = fitting([one.name for one in found], name)
    if not fits:
        raise BatchError(f"no batch '{cut_short(name)}' is open; open are: {listed(found)}")
    return next(one for one in found if one.name == only(fits, name))


def why_not_open(own: Kitchen, name: str) -> str:
    """That the one batch that ``name`` may mean is closed, or was dropped; '' for any other."""
    closed, dropped = [one.batch for one in own.batches], [one.name for one in own.dropped]
    fits = fitting([*closed, *dropped], name)
    if len(fits) != 1:
        return ""
    said = f"batch '{cut_short(fits[0])}'"
    if fits[0] in dropped:
        return f"{said} was dropped; 'jarcast undo NAME' opens it again"
    return f"{said} is closed and recorded; 'jarcast amend' changes its values"


def listed(found: Sequence[OpenBatch]) -> str:
    """Names of open batches in one line."""
    return in_one_line([one.name for one in found])


def underway(
    found: OpenBatch,
    today: dt.date,
    shelf: Mapping[str, Jar] = SHELF,
    more: Mapping[str, str] | None = None,
) -> Underway:
    """An open batch read, with ``more`` that is typed now. Raises BatchError for what cannot be."""
    typed = found.typed_with(more or {})
    batch = read({**table_cells(typed, shelf), "batch": found.name}, today, shelf)
    log = found.log
    if more is not None and "brine_made" in more:
        log = (*log, Made(batch.brine_made_ml))
    so_far = packing_by(log)
    filled = bool(typed.get("jars", "").strip())
    return Underway(found.name, typed, batch, filled, so_far, pots_made(log))


def last_like(batches: Sequence[Batch], produce: str, cut: str) -> Batch | None:
    """The last batch of this produce, of this cut where one is said; batches by date."""
    like = [
        batch
        for batch in batches
        if produce_key(batch.produce) == produce_key(produce)
        and (not cut_key(cut) or cut_key(batch.cut) == cut_key(cut))
    ]
    return like[-1] if like else None


def as_last(last: Batch) -> dict[str, str]:
    """Cut, pack, jar and recipe of a batch, as one would type them; what it lacks left out."""
    turns = [(max(1.0, round(n)), key) for n, key in zip(last.jars, last.jar, strict=True)]
    said = {"cut": last.cut.strip(), "pack": pack_key(last.pack), "jar": turns_text(turns)}
    return {k: v for k, v in {**said, "recipe": last.recipe}.items() if v}


def by_card(typed: Mapping[str, str], card: "Recipe", shelf: Mapping[str, Jar]) -> dict[str, str]:
    """What was typed, completed by a recipe's card, which decides headspace and jars.

    Raises ForecastError for another produce or headspace than the card's, RecipeError for a jar
    it was not tested in, BatchError for a headspace that is no measure.
    """
    from jarcast.forecast.recipe import allowed_jars, choices_by
    from jarcast.forecast.request import Choices
    from jarcast.measures import parse_inches

    headspace = typed.get("headspace_in", "").strip()
    given = Choices(
        produce=typed.get("produce", ""),
        cut=typed.get("cut", ""),
        pack=typed.get("pack", ""),
        jar=typed.get("jar", ""),
        headspace_in=parse_inches(headspace) if headspace else None,
    )
    chosen = choices_by(card, given)
    if (allow := allowed_jars(card, shelf)) is not None:
        for one in read_jars(chosen.jar, shelf, turns=True):
            allow(one.sort)
    found = {**typed, "produce": given.produce or chosen.produce, "jar": chosen.jar}
    found |= {"cut": given.cut or chosen.cut, "pack": given.pack or chosen.pack}
    if chosen.headspace_in is not None:
        found["headspace_in"] = headspace or number_text(chosen.headspace_in)
    return {column: text for column, text in found.items() if text or column in typed}


def against_card(batch: Batch, card: "Recipe", shelf: Mapping[str, Jar]) -> tuple[str, ...]:
    """What of a batch is not as its recipe's card allows: produce, pack, jars, headspace.

    A clause each; () where all is as it should be.
    """
    other = f"it is of {cut_short(batch.produce)}, the card for {card.produce}"
    clauses: list[tuple[dict[str, str], str]] = [({"produce": batch.produce}, other)]
    if card.safety is not None:
        from jarcast.recipes import packs_of

        packs = " or ".join(packs_of(card)) or "neither raw nor hot"
        clause = f"a {pack_key(batch.pack)} pack, the card lists {packs}"
        clauses.append(({"pack": batch.pack}, clause))
        tested = ", ".join(card.safety.jars)
        clauses += [({"jar": key}, f"{key} jars, the card lists {tested}") for key in batch.jar]
        if batch.headspace_in is not None:
            given = number_text(batch.headspace_in)
            clause = f"a headspace of {given} in, the card has {card.safety.headspace_in:g} in"
            clauses.append(({"headspace_in": given}, clause))
    return tuple(clause for typed, clause in clauses if not _allowed(typed, card, shelf))


def _allowed(typed: Mapping[str, str], card: "Recipe", shelf: Mapping[str, Jar]) -> bool:
    try:
        by_card(typed, card, shelf)
    except (RecipeError, ForecastError):
        return False
    return True


def with_last(
    typed: Mapping[str, str], last: Batch, card: "Recipe | None", shelf: Mapping[str, Jar]
) -> tuple[dict[str, str], str]:
    """What is not said taken from the last like batch, its card included, and why not its recipe.

    Gives what was taken, by column. A recipe of last time that does not allow what was said is
    left out, with the reason.
    """
    unsaid = {column: text for column, text in as_last(last).items() if column not in typed}
    if card is None:  # a recipe may be a name alone
        return unsaid, ""
    if card.safety is not None and "pack" in unsaid:
        from jarcast.recipes import packs_of

        if unsaid["pack"] not in packs_of(card):
            del unsaid["pack"]
    try:
        by_card({**typed, **unsaid}, card, shelf)
    except (RecipeError, ForecastError) as error:
        if "recipe" not in unsaid:  # the recipe was said: it is last time's jar that does not fit
            unsaid.pop("jar", None)
            return unsaid, ""
        del unsaid["recipe"]
        return unsaid, str(error)
    return unsaid, ""


def begin_batch(
    work: Work,
    typed: Mapping[str, str],
    name: str,
    cells: Mapping[str, object] | None = None,
    forecast: "Forecast | None" = None,
    card: CardText | None = None,
) -> OpenBatch:
    """Open a batch in the ledger, under a name that is made up where none is given.

    ``cells`` are those of ``step_cells``; ``forecast`` is kept for its track record in the same
    action, and so is the text of its recipe's ``card``. Raises BatchError when the name given is
    taken.
    """
    ledger = work.ledger
    with work.writing("begin"):
        chosen = name.strip() or new_name(typed, names_taken(ledger))
        step = begin(ledger, chosen, typed, cells)
        if card is not None:
            keep_card(ledger, card)
        if forecast is not None:
            from jarcast.app.track_record import keep

            keep(ledger, chosen, forecast)
    return OpenBatch(chosen, (step,))


def step_cells(
    sure: Collection[str],
    card: bool | None,
    *,
    mends: bool = False,
    text: CardText | None = None,
) -> dict[str, object]:
    """What a step keeps beside what was typed.

    That is what is stood by, whether its recipe is a card, the digest of that card's ``text``, and
    whether it mends the brine made.
    """
    found: dict[str, object] = {"sure": sorted(sure)} if sure else {}
    found |= {} if card is None else {"card": card}
    found |= {} if text is None else {"digest": text.digest}
    return {**found, "mends": True} if mends else found


def forecast_of(
    habits: "Habits", at: Underway, card: "Recipe | None", *, packing: bool = True
) -> "Forecast | None":
    """What an open batch will come to, from all that is known; None where it waits for a weight.

    ``packing`` tells whether what was packed counts too. Raises ForecastError, BatchError and
    RecipeError as ``Habits.forecast`` does.
    """
    so_far = at.so_far if packing else None
    if not at.weighed and (so_far is None or not so_far.ready_g):
        return None
    return _forecast(habits, at, card, so_far)


def by_the_jar_of(habits: "Habits", at: Underway, card: "Recipe | None") -> "ByTheJar":
    """What the jars packed so far take, of a batch that was never weighed.

    Raises ForecastError, BatchError and RecipeError as ``Habits.forecast`` does.
    """
    from jarcast.harvest.by_the_jar import by_the_jar

    jars = 0.0 if at.so_far is None else at.so_far.jars
    return by_the_jar(habits, _line(habits, at, card), jars=jars)


def _forecast(
    habits: "Habits", at: Underway, card: "Recipe | None", so_far: SoFar | None
) -> "Forecast":
    return habits.forecast(**_line(habits, at, card), **known_weights(at.batch), so_far=so_far)


def _line(habits: "Habits", at: Underway, card: "Recipe | None") -> dict[str, Any]:
    """What a batch is forecast by beside its weights: keywords of ``Habits.forecast``."""
    batch, jar = at.batch, in_turns(at.typed, habits.shelf)
    from jarcast.forecast.usual import usual_choices

    pack, usual = usual_choices(habits, card, batch.produce, batch.cut)
    return {
        "produce": batch.produce,
        "cut": batch.cut,
        "pack": batch.pack or pack,
        "jar": jar or usual,
        "cure_hours": batch.cure_hours,
        "salt_g": batch.salt_g,
        "headspace_in": batch.headspace_in,
        "recipe": card,
        "person": batch.person,
    }


def note_problems(
    at: Underway, so_far: SoFar, shelf: Mapping[str, Jar], most_jars: float = math.inf
) -> tuple[str, ...]:
    """What does not fit in a note of the packing, beside what was noted before.

    ``most_jars`` is how many the produce fills at most, by the forecast before the packing.
    """
    found = []
    if so_far.jars > most_jars + _ROUNDED_JARS:
        found.append(
            f"{number_text(so_far.jars)} jars are more than that much produce can fill, however "
            f"loosely packed: about {number_text(math.ceil(2.0 * most_jars) / 2.0)} at most"
        )
    before = at.so_far
    if before is not None and so_far.jars < before.jars:
        found.append(
            f"{number_text(so_far.jars)} jars are fewer than the {number_text(before.jars)} noted "
            "before; count all the jars so far"
        )
    made = so_far.brine_made_ml
    sorts = at.batch.jar
    room = so_far.jars * max(shelf[key].fill_volume_ml(at.batch.headspace_in) for key in sorts)
    if so_far.brine_ml is not None and so_far.brine_ml > room:
        found.append("more brine in the jars than they hold")
    standing = (so_far.brine_ml or 0.0) + (so_far.pot_left_ml or 0.0)
    if made is not None and standing > made:
        found.append("more brine in the jars and the pot than was made")
    return tuple(found)


def missing_to_close(typed: Mapping[str, str]) -> tuple[str, ...]:
    """Columns that every batch needs and this one does not have."""
    return tuple(c for c in ("produce", "jar", "jars") if not typed.get(c, "").strip())


def entry_of(
    name: str, typed: Mapping[str, str], today: dt.date, shelf: Mapping[str, Jar] = SHELF
) -> Entry:
    """The finished batch. Raises BatchError with everything that is missing or cannot be."""
    return make_entry({**table_cells(typed, shelf), "batch": name}, today, shelf)
