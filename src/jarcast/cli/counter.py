"""What the commands at the counter share: the open batch that is meant, and what it comes to."""

import datetime as dt
from collections.abc import Collection, Mapping, Sequence
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer
from msgspec import Struct
from msgspec.structs import replace

from jarcast.cli.cards import card_named, card_of_batch, card_text, is_card
from jarcast.cli.common import asking, elsewhere, kitchen_units, tell
from jarcast.cli.prompts import confirmed
from jarcast.domain.contradictions import Flag, contradictions
from jarcast.domain.fields import KITCHEN
from jarcast.domain.jar_text import turns_with
from jarcast.domain.stages import AS_BOUGHT, STAGE_COLUMNS
from jarcast.domain.unusual import unusual
from jarcast.errors import AskedBackError, BatchError, ForecastError, JarcastError, RecipeError
from jarcast.ledger.steps import OpenBatch, Step, StepKind, add_step
from jarcast.measures import Units
from jarcast.views.words import wrapped

if TYPE_CHECKING:
    from jarcast.app.open_batch import Underway
    from jarcast.app.work import Kitchen, Work
    from jarcast.domain.batch import Batch
    from jarcast.forecast.answer import Forecast
    from jarcast.forecast.oddities import Oddity
    from jarcast.ledger.kept_brine import Kept
    from jarcast.recipes import PackCheck, Place, Recipe

BatchOption = Annotated[
    str | None,
    typer.Option("--batch", help="Which open batch; part of its name will do."),
]
YesOption = Annotated[bool, typer.Option("--yes", help="Keep odd-looking values without asking.")]


class Desk(Struct, frozen=True, dict=True):
    """One open batch, and the work with the ledger of the kitchen it is made in."""

    work: "Work"
    units: Units
    found: "OpenBatch"
    today: dt.date

    @property
    def path(self) -> Path:
        """The ledger's file."""
        return self.work.path

    @property
    def kitchen(self) -> "Kitchen":
        """The kitchen as it was when the command began."""
        return self.work.kitchen

    def read(self, more: Mapping[str, str] | None = None) -> "Underway":
        """The batch as it stands, with ``more`` typed now. Raises BatchError."""
        from jarcast.app.open_batch import underway

        return underway(self.found, self.today, self.kitchen.shelf, more)

    @cached_property
    def card(self) -> "Recipe | None":
        """The card of the batch's recipe; None where it has none, or a name alone.

        Raises RecipeError, naming its file, for a card that cannot be used any more, or was
        changed since it was named.
        """
        return card_of_batch(self.found, self.work)

    @property
    def place(self) -> "Place":
        """The altitude of this kitchen and its kind of canner, where they were said once."""
        from jarcast.cli.altitude import kitchen_place

        return kitchen_place(self.work, None)

    @property
    def altitude_ft(self) -> float | None:
        """The altitude alone."""
        return self.place.altitude_ft

    def with_step(self, step: "Step") -> "Desk":
        """The batch with one more step."""
        return replace(self, found=replace(self.found, steps=(*self.found.steps, step)))

    def again(self) -> "Desk":
        """The batch as it stands in the ledger now. Raises BatchError when it is closed."""
        from jarcast.app.open_batch import find_open

        self.work.anew()
        return replace(self, found=find_open(self.kitchen.open, self.found.name))


def desk(work: "Work", units: Units | None, batch: str | None, *, as_json: bool = False) -> Desk:
    """The open batch that is meant. Raises BatchError where that cannot be known."""
    found = chosen(work, batch, as_json=as_json)
    return Desk(work, kitchen_units(work, units, later=True), found, dt.date.today())


def named(work: "Work", name: str) -> "OpenBatch":
    """The open batch of this name. Raises BatchError, which tells of one that is not open now."""
    from jarcast.app.open_batch import find_open, why_not_open

    try:
        return find_open(work.kitchen.open, name)
    except BatchError as error:
        why = why_not_open(work.kitchen, name)
        raise (BatchError(why) if why else error) from error


def chosen(work: "Work", name: str | None, *, as_json: bool = False) -> "OpenBatch":
    """The batch of this name, or the only one, or the one that is picked at the terminal."""
    from jarcast.app.open_batch import listed

    found = work.kitchen.open
    if name is not None or not found:
        return named(work, name or "")
    if len(found) == 1:
        return found[0]
    if not asking(as_json):
        raise BatchError(f"several batches are open: {listed(found)}; say which with --batch")
    return found[pick([one.name for one in found], "Which batch?")]


def pick(names: Sequence[str], question: str) -> int:
    """Place of the one that is picked by its number; asked again until it is one of them."""
    tell("\n".join(f"  {number}  {name}" for number, name in enumerate(names, start=1)))
    while True:
        answer = str(typer.prompt(f"{question} Its number", err=True)).strip()
        if answer.isdecimal() and 1 <= int(answer) <= len(names):
            return int(answer) - 1
        tell(f"'{answer[:40]}' is not one of 1 to {len(names)}.")


def expect(
    at: "Underway",
    here: Desk,
    *,
    packing: bool = True,
    telling: bool = True,
    said: "Sequence[Oddity | Flag | str]" = (),
) -> "Forecast | None":
    """What a batch is expected to come to; None where it waits, or that cannot be said.

    ``telling`` tells why it cannot, unless that is among what was ``said`` to be odd just now.
    """
    from jarcast.app.open_batch import forecast_of

    try:
        return forecast_of(here.kitchen.habits, at, here.card, packing=packing)
    except (ForecastError, BatchError, RecipeError) as error:
        if telling:
            tell_none(error, said)
        return None


def tell_none(why: JarcastError, said: "Sequence[Oddity | Flag | str]" = ()) -> None:
    """Tell why there is no forecast, unless that is among what was ``said`` to be odd just now."""
    known = _said_already(str(why), said)
    tell("No forecast until that is fixed." if known else f"No forecast: {why}.")


def _said_already(why: str, said: "Sequence[Oddity | Flag | str]") -> bool:
    """Whether a reason was given before: in the same words, or as weights that contradict."""
    flags = [one for one in said if isinstance(one, Flag)]
    return why in said or any(set(flag.columns) <= {*STAGE_COLUMNS} for flag in flags)


def expect_with(
    here: Desk, at: "Underway", said: "Sequence[Oddity | Flag | str]" = ()
) -> "Forecast | None":
    """What a batch will come to with the step that is being noted.

    None too without its recipe's card, of which ``refuse_without_card`` tells once it is noted.
    """
    try:
        _ = here.card
    except RecipeError:
        return None
    return expect(at, here, said=said)


def refuse_without_card(here: Desk) -> None:
    """Raise RecipeError, once a step is noted, where the batch's card cannot be used any more.

    Without it there is no floor for the brine, no tested jar and no formula: nothing is forecast.
    """
    try:
        _ = here.card
    except RecipeError as error:
        raise RecipeError(
            f"noted, but nothing can be forecast without its recipe's card: {error}"
        ) from error


def pack_check(here: Desk, now: "Forecast | None") -> "PackCheck | None":
    """One's own packing beside the recipe's."""
    own = here.kitchen
    return None if now is None else own.habits.pack_check(now, here.units, own.batches)


def load_of(here: Desk, now: "Forecast | None") -> float:
    """How many of a batch's jars the kitchen's canner holds."""
    from jarcast.cli.canner import canner_load
    from jarcast.forecast.pots import USUAL_LOAD

    return USUAL_LOAD if now is None else canner_load(here.work, now)


def to_keep(here: Desk, at: "Underway", now: "Forecast | None") -> "Forecast | None":
    """What is expected before packing, which is kept for the track record."""
    if now is not None and now.so_far is not None:
        return expect(at, here, packing=False, telling=False)
    return now


def step_typed(
    here: Desk, typed: Mapping[str, str], sure: Collection[str] = (), *, amending: bool = False
) -> "Step":
    """What was weighed or said, as a step that is not noted yet.

    ``amending`` what was said before: brine made is then no other pot.
    """
    from jarcast.app.open_batch import step_cells

    recipe, mends = typed.get("recipe", ""), amending and "brine_made" in typed
    text = card_text(recipe, here.path)
    cells = step_cells(sure, is_card(recipe, here.path), mends=mends, text=text)
    kind = StepKind.AMEND if amending else StepKind.WEIGH
    return Step(here.found.name, kind, typed, cells, dt.datetime.now(dt.UTC), 0)


def note(
    here: Desk,
    step: "Step",
    *,
    forecast: "Forecast | None" = None,
    adding: bool = False,
    taken: "Kept | None" = None,
) -> Desk:
    """Note a step, and the forecast made with it for the track record, in one action.

    Gives the batch with it. ``adding`` to the brine that was read, so that nobody may have added
    to it since; ``taken`` is kept brine in it. Raises BatchError.
    """
    from jarcast.app.track_record import keep
    from jarcast.ledger.card_texts import keep_card

    after = here.found.newest if adding else None
    opened = here.work.ledger
    with here.work.writing(step.kind.value):
        noted = add_step(opened, step.batch, step.kind, step.typed, step.cells, after, taken)
        card = card_text(step.typed.get("recipe", ""), here.path)
        if card is not None and card.digest == step.cells.get("digest"):
            keep_card(opened, card)
        if forecast is not None:
            try:
                keep(opened, step.batch, forecast)
            except BatchError as error:  # a batch of its name was written down meanwhile
                tell(str(error))
    return here.with_step(noted)


def odd_values(here: Desk, at: "Underway", typed: Mapping[str, str]) -> "list[Oddity | Flag | str]":
    """What is odd about values just typed: contradictions, then what is far off or not tested."""
    new = {KITCHEN.get(column, column) for column, text in typed.items() if text.strip()}
    try:
        card = here.card if "recipe" not in typed else card_named(typed["recipe"], here.path)
    except RecipeError:  # told where its numbers are needed
        card = None
    found = odd_in_batch(here.kitchen, at.batch, new, card, filled=at.filled)
    judged = any(not isinstance(one, str) and "jars" in one.columns for one in found)
    if "jars" in new and at.filled and not judged and (far := _far_from_packed(here, at)):
        found.append(far)
    return found


def _far_from_packed(here: Desk, at: "Underway") -> "Oddity | None":
    """Whether the jars filled in all are far from what those noted before point to."""
    from jarcast.app.open_batch import forecast_of
    from jarcast.forecast.oddities import count_oddity

    batch, shelf = at.batch, here.kitchen.shelf
    try:
        filled = list(zip(batch.jars, batch.jar, strict=True))
        turns = turns_with(filled, here.found.planned_jars, shelf)  # '': as they were planned
        before = here.read({"jar": turns} if turns else None)
        expected = forecast_of(here.kitchen.habits, before, here.card)
    except (ForecastError, BatchError, RecipeError):  # told where the batch is forecast
        return None
    if expected is None:
        return None
    far = count_oddity(batch.total_jars, expected, final=True)
    return None if far is None or (far.heavy and batch.not_jarred_g) else far


def odd_in_batch(
    own: "Kitchen",
    batch: "Batch",
    new: Collection[str],
    card: "Recipe | None" = None,
    *,
    filled: bool = True,
) -> "list[Oddity | Flag | str]":
    """What is odd about a batch whose columns ``new`` were just typed; ``filled``: its jars are."""
    from jarcast.app.open_batch import against_card
    from jarcast.cli.after_jars import not_salted_so
    from jarcast.forecast.oddities import oddities

    flags = [
        flag
        for flag in contradictions(batch, own.shelf)
        if set(new) & set(flag.columns) and (filled or "jars" not in flag.columns)
    ]
    found = oddities(own.habits, batch, new, own.batches, filled=filled)
    untested: tuple[str, ...] = ()
    if card is not None and {"produce", "pack", "jar", "headspace_in", "recipe"} & set(new):
        clauses = against_card(batch, card, own.shelf)
        untested = tuple(f"not what the card of {card.name} says: {clause}" for clause in clauses)
    if card is not None and {"salt_g", "trimmed_g", AS_BOUGHT, "recipe"} & set(new):
        untested += not_salted_so(batch, card)
    return [*flags, *unusual(batch, new), *found, *untested]


def stand_by(
    odd: "Sequence[Oddity | Flag | str]",
    units: Units,
    *,
    yes: bool = False,
    as_json: bool = False,
    guided: bool = False,
) -> frozenset[str]:
    """Ask odd values back once; gives the columns that were stood by at the terminal.

    Without a terminal they are kept, and said; by the page, what cannot be is asked back. Raises
    BatchError when they are not to be kept, and in the guide Back.
    """
    if not odd or yes:
        return frozenset()
    if elsewhere() and (flags := [one for one in odd if isinstance(one, Flag)]):
        from jarcast.views.sanity import odd_text

        raise AskedBackError("\n".join(odd_text(one, units) for one in flags))
    if not asking(as_json):
        say_odd(odd, units)
        return frozenset()
    if not kept_when_asked(odd, units, guided=guided):
        raise BatchError("nothing was recorded; enter it again as it should be")
    return frozenset(c for one in odd if not isinstance(one, str) for c in one.columns)


def kept_when_asked(
    odd: "Sequence[Oddity | Flag | str]", units: Units, *, guided: bool = False
) -> bool:
    """Say what is odd and ask whether it is to be kept. Raises Back in the guide."""
    say_odd(odd, units)
    return confirmed("Keep it?" if len(odd) == 1 else "Keep them?", guided=guided)


def say_odd(odd: "Sequence[Oddity | Flag | str]", units: Units) -> None:
    """Say what is odd, on standard error."""
    from jarcast.views.sanity import odd_text

    for one in odd:
        tell(wrapped(odd_text(one, units)))
