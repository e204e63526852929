"""The commands as the page asks for them: the same functions that the terminal runs."""

import datetime as dt
from collections.abc import Mapping
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING, Any

import typer

from jarcast.cli.after_jars import RECENT_DAYS
from jarcast.cli.common import Elsewhere, answered, kitchen_units
from jarcast.cli.counter import Desk, load_of, pack_check
from jarcast.domain.contradictions import contradictions
from jarcast.domain.jar_text import planned, read_jars
from jarcast.domain.jars import size_of
from jarcast.domain.names import cut_key, produce_key
from jarcast.errors import BatchError, ForecastError, JarcastError, RecipeError
from jarcast.views.words import unwrapped

if TYPE_CHECKING:
    from jarcast.app.open_batch import Underway
    from jarcast.app.work import Work
    from jarcast.forecast.answer import Forecast
    from jarcast.ledger.entry import Request
    from jarcast.ledger.steps import OpenBatch
    from jarcast.page.desk import Answer, Choices, Look, Seen

_TEXT = ("forecast", "batches", "habits", "hindsight", "history")  # answer in words


class AtPage:
    """The commands on one ledger, for a process that goes on: what was learned is kept in it."""

    def __init__(self, path: Path) -> None:
        """The ledger at ``path`` need not be there yet."""
        from jarcast.app.memory import Memory

        self._path, self._memory = path, Memory()

    def _open(self, path: Path, request: "Request | None" = None) -> "Work":
        from jarcast.app.work import Work

        return Work(path, request, self._memory)

    def newest(self) -> int:
        """Number of the last action."""
        with self._open(self._path) as work:
            return work.ledger.newest()

    def digest_of(self, key: str) -> str | None:
        """Digest of a request that was recorded already."""
        with self._open(self._path) as work:
            return work.ledger.digest_of(key)

    def run(
        self, command: str, said: Mapping[str, Any], request: "Request | None" = None
    ) -> "Answer":
        """Run a command as the terminal does. Raises JarcastError."""
        from jarcast.page.desk import Answer

        done = getattr(import_module(f"jarcast.cli.{command}"), command)
        to = Elsewhere(lambda path: self._open(path, request))
        with answered(to):
            try:
                done(**said, ledger=self._path, as_json=command not in _TEXT)
            except typer.BadParameter as error:
                raise BatchError(error.message) from error
        return Answer(to.document, "".join(to.shown), tuple(to.told))

    def odd_sealed(self, batch: str, count: str) -> str:
        """What is odd about so many sealed jars of a closed batch; '' where nothing is.

        Raises BatchError for a count that cannot be read.
        """
        from jarcast.app.record import amended
        from jarcast.ledger.annotations import check_standing
        from jarcast.views.sanity import odd_text

        with self._open(self._path) as work:
            before, shelf = check_standing(work.ledger, batch), work.kitchen.shelf
            then = amended(before, {"sealed": count}, dt.date.today(), shelf).batch
            odd = [one for one in contradictions(then, shelf) if "sealed" in one.columns]
            return "\n".join(odd_text(one, kitchen_units(work, None)) for one in odd)

    def look(self, number: int | None = None, *, bare: bool = False) -> "Look":
        """The open batches; one of them alone, by its number; ``bare``: none is forecast."""
        from jarcast.page.desk import Look

        with answered(Elsewhere(self._open)), self._open(self._path) as work:
            newest = work.ledger.newest()  # before the rest: what comes meanwhile is read again
            own = work.kitchen
            units = kitchen_units(work, None)
            found = [one for one in own.open if number in (None, one.steps[0].action)]
            since = dt.date.today() - dt.timedelta(days=RECENT_DAYS)
            asked = [one for one in own.batches if one.sealed is None and one.date >= since]
            unsealed = sorted(asked, key=lambda one: one.date)[::-1]  # of one day, the last first
            return Look(newest, units, [_seen(work, one, bare=bare) for one in found], unsealed)

    def card(self, number: int) -> str:
        """All that the card of an open batch says, for its jar and pack; '' where it has none.

        Raises RecipeError for a card that cannot be used any more.
        """
        from jarcast.views.recipes import Shown, card_text

        with self._open(self._path) as work:
            found = [one for one in work.kitchen.open if one.steps[0].action == number]
            for here in (
                Desk(work, kitchen_units(work, None), one, dt.date.today()) for one in found
            ):
                batch, card = here.read().batch, here.card
                if card is not None:
                    jar = size_of(batch.jar[0]) if batch.jar else card.tested.jar
                    return card_text(card, Shown(jar, batch.pack, here.altitude_ft, here.units))
        return ""

    def choices(self) -> "Choices":
        """What a new batch may be of."""
        from jarcast.app.work import PERSON
        from jarcast.cli.cards import card_folder
        from jarcast.page.desk import Choices
        from jarcast.recipes import card_shelf

        with self._open(self._path) as work:
            own = work.kitchen
            last = {(produce_key(one.produce), cut_key(one.cut)): one for one in own.batches}
            newest = sorted(last.values(), key=lambda one: one.date, reverse=True)
            shelf = card_shelf(card_folder(self._path))
            cards = {key: card.name for key, card in {**shelf.shipped, **shelf.own}.items()}
            people = tuple(own.people.values())
            return Choices(newest, cards, tuple(own.shelf), people, own.settings.get(PERSON, ""))


def _seen(work: "Work", found: "OpenBatch", *, bare: bool) -> "Seen":
    from jarcast.cli.begin import safety_text
    from jarcast.page.desk import Seen
    from jarcast.views.open_batch import known_text

    here = Desk(work, kitchen_units(work, None), found, dt.date.today())
    at, now, why, safety = here.read(), None, "", ""
    try:
        by_card = here.card is not None
        if not bare:
            now, why = _expected(here, at)
            safety = unwrapped(safety_text(here, at, now, here.altitude_ft, rest=False))
    except RecipeError as error:  # its numbers cannot be shown, and nothing is forecast without
        by_card, why = True, str(error)
    plan = at.typed.get("jar", "")
    jars = 0.0 if at.so_far is None else at.so_far.jars
    return Seen(
        number=found.steps[0].action, newest=found.newest, at=at, now=now, why=why,
        known=known_text(at, here.units), lines=_lines(here, at, now), safety=safety,
        by_card=by_card, packed=planned(plan, jars, work.kitchen.shelf), sorts=_sorts(here, at),
        load=load_of(here, now),
        said={c: (step.action, text) for step in found.steps for c, text in step.typed.items()},
    )  # fmt: skip


def _expected(here: "Desk", at: "Underway") -> "tuple[Forecast | None, str]":
    from jarcast.app.open_batch import forecast_of

    try:
        return forecast_of(here.kitchen.habits, at, here.card), ""
    except (ForecastError, BatchError) as error:
        return None, str(error)


def _lines(here: "Desk", at: "Underway", now: "Forecast | None") -> list[str]:
    """What is expected in sentences, as the commands say it."""
    from jarcast.views.counter import Ways, expected_lines, packing_lines

    if now is None:
        return []
    ways = Ways("say it under 'All brine made'", "note it under 'A pot made' as {amount}")
    check = pack_check(here, now)
    told: dict[str, Any] = {"ways": ways, "load": load_of(here, now), "made_ml": at.pots_ml}
    if now.so_far is not None and now.so_far.jars > 0:
        return packing_lines(now, None, here.units, check, **told)
    return expected_lines(now, None, here.units, check, **told)


def _sorts(here: "Desk", at: "Underway") -> tuple[str, ...]:
    """Sorts of jar that a batch may go into: as planned, those of its card or the usual, others.

    What was packed moves none of them, or the next tap would count another jar than was meant.
    """
    read = read_jars(here.found.planned_jars, here.kitchen.shelf, turns=True)
    planned = tuple(one.sort for one in read)
    packed = tuple(at.batch.jar) if at.typed.get("jar", "").strip() else ()
    try:
        card = here.card
    except JarcastError:
        return tuple(dict.fromkeys([*planned, *packed]))
    if card is not None:
        tested = () if card.safety is None else card.safety.jars
        return tuple(dict.fromkeys([*planned, *tested, *packed]))
    first = planned or (here.kitchen.habits.usual_jar,)
    return tuple(dict.fromkeys([*first, "half-pint", "pint", "quart", *packed]))
