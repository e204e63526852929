"""jarcast guide: a batch asked for question by question, in the order of the work."""

import datetime as dt
import shlex
from contextlib import suppress
from typing import TYPE_CHECKING, Annotated

import typer

from jarcast.cli import last_jar
from jarcast.cli.begin import safety_text
from jarcast.cli.cards import card_chosen
from jarcast.cli.close import dealt_out, finish, sorts_confirmed
from jarcast.cli.common import (
    ExitCode,
    LedgerOption,
    PersonOption,
    UnitsOption,
    asking,
    kitchen_units,
    show,
    tell,
    work_at,
)
from jarcast.cli.counter import (
    BatchOption,
    Desk,
    expect,
    kept_when_asked,
    named,
    note,
    odd_values,
    pick,
    step_typed,
    to_keep,
)
from jarcast.cli.crops import crop_meant
from jarcast.cli.guide_packing import packing
from jarcast.cli.pots import pots_typed
from jarcast.cli.prompts import Back, prompt
from jarcast.cli.questions import (
    PRODUCE,
    QUESTIONS,
    Question,
    cards_for,
    check_words,
    usual_answer,
    who_packs,
)
from jarcast.cli.weigh import step_text
from jarcast.domain.jar_text import with_sorts
from jarcast.domain.names import produce_key
from jarcast.domain.stages import STAGES
from jarcast.errors import BatchError, ForecastError, RecipeError
from jarcast.measures import Units
from jarcast.views.words import wrapped

if TYPE_CHECKING:
    from jarcast.app.open_batch import Underway
    from jarcast.app.work import Work

_HOW = (
    "Enter takes what is in [ ]; with nothing there, Enter means not weighed, and '-' always "
    "does. 'back' goes back a question. Ctrl-C stops; what you entered is kept."
)
_TELLING = (*(stage.typed for stage in STAGES), "cure_hours", "salt", "brine_made")
_NEEDED = {
    "produce": "Every batch needs a produce, such as carrot.",
    "jar": "Every batch needs a jar, such as pint.",
}
_UNSHOWN = ("cure_hours", "salt")  # a weight follows, and what it comes to is shown then


def guide(
    batch: BatchOption = None,
    new: Annotated[
        bool, typer.Option("--new", help="Begin another batch even though one is open.")
    ] = False,
    packer: PersonOption = None,
    units: UnitsOption = None,
    ledger: LedgerOption = None,
) -> None:
    """Enter a batch by answering questions, and see what it comes to as you go.

    Every answer is kept at once: stop with Ctrl-C, and 'jarcast guide' picks up where you stopped.

    \b
    Example:  jarcast guide
    """
    from jarcast.app.work import LAST_JAR

    here: Desk | None = None
    try:
        with work_at(ledger) as work:
            if not asking():
                raise BatchError(_cannot_ask(work, batch))
            here = _begun(work, units, batch, packer, new=new)
            here, whole = _answered(here)
            if not whole:
                tell(f"'{here.found.name}' stays open: {_on(here)} goes on with it.")
                return
            first = not here.kitchen.batches
            finish(here, {}, yes=False)
            if first and LAST_JAR not in work.settings:
                last_jar.ask(work)
    except (typer.Abort, KeyboardInterrupt):
        on = "nothing was entered" if here is None else f"what you entered is kept; {_on(here)}"
        tell(f"\nStopped: {on}" + (" goes on with it." if here is not None else "."))
        raise typer.Exit(ExitCode.FAILED) from None


def _answered(here: Desk) -> tuple[Desk, bool]:
    """Ask every question that is due; the batch, and whether it has its jars."""
    packed = False
    while (question := _next(here)) is not None:
        last = question.column == "jars"
        try:
            if last and not packed and here.read().weighed:
                here, packed = packing(here), True
            here = _asked(here, question, usual_answer(here, question.column))
        except Back:
            here = here.again()  # with what was packed meanwhile
            if last and packed:
                packed = False
            else:
                here = _back(here, question)
            continue
        if last and not here.found.typed["jars"].strip():
            return here, False
    return here, True


def _back(here: Desk, question: Question) -> Desk:
    """Ask the question before one again, or the one before that."""
    while True:
        places = QUESTIONS[: QUESTIONS.index(question)]
        before = [one for one in places if one.column in here.found.typed]
        if not before:
            tell("This is the first question.")
            return here
        question = before[-1]
        with suppress(Back):
            return _asked(here, question, here.found.typed[question.column])


def _on(here: Desk) -> str:
    return f"jarcast guide --batch {shlex.quote(here.found.name)}"


def _cannot_ask(work: "Work", name: str | None) -> str:
    """What is missing, where there is no terminal to ask for it."""
    from jarcast.app.open_batch import listed, missing_to_close

    found = work.kitchen.open
    head = "there is no terminal to ask questions at"
    if not found and name is None:
        return (
            f"{head}; missing are produce, jar and jars: 'jarcast record --produce ... --jar ... "
            "--jars ...' takes a whole batch at once"
        )
    if name is None and len(found) > 1:
        return f"{head}, and several batches are open: {listed(found)}; 'jarcast' shows them"
    one = named(work, found[0].name if name is None else name)
    lacking = ", ".join(missing_to_close(one.typed)) or "nothing a batch needs"
    return (
        f"{head}; batch '{one.name}' is open, and missing is {lacking}: 'jarcast weigh' and "
        "'jarcast close' take it, 'jarcast record' a whole batch at once"
    )


def _begun(
    work: "Work", units: Units | None, name: str | None, packer: str | None, *, new: bool
) -> Desk:
    """The open batch to go on with, or a new one once it is known what is put up."""
    found, today = work.kitchen.open, dt.date.today()
    tell(wrapped(_HOW))
    shown = _units(work, units)
    if name is not None or (found and not new):
        one = named(work, name) if name is not None else None
        if one is None and len(found) == 1:
            one = found[0]
        if one is None:
            at = pick([*(one.name for one in found), "a new batch"], "Which batch?")
            one = found[at] if at < len(found) else None
        if one is not None:
            here = Desk(work, shown, one, today)
            _tell_known(here)
            if packer is not None:
                tell(
                    "To say who packs a batch that is already open, use 'jarcast amend' with "
                    "person=."
                )
            return here
    return _new(work, shown, packer)


def _new(work: "Work", shown: Units, packer: str | None) -> Desk:
    """A new batch, once it is known what is put up, and who packs where that is asked."""
    from jarcast.app.open_batch import begin_batch

    today, who = dt.date.today(), None
    while who is None:
        produce, cut = _crop(work, today)
        with suppress(Back):
            who = who_packs(work, packer)
    typed = {"produce": produce, "date": today.isoformat(), "cut": cut, "person": who.name}
    typed = {column: text for column, text in typed.items() if text}
    begun = begin_batch(work, typed, "")
    tell(f"Begun: '{begun.name}'.")
    return Desk(work, shown, begun, today)


def _units(work: "Work", chosen: Units | None) -> Units:
    """The units of this kitchen, asked for once."""
    known = work.settings.get("units")
    while chosen is None and known is None:
        answer = str(
            typer.prompt("Show measures in (us or metric)", default=Units.US.value, err=True)
        ).casefold()
        if answer in tuple(Units):
            chosen = Units(answer)
        else:
            tell(f"'{answer[:40]}' is neither us nor metric.")
    return kitchen_units(work, chosen)


def _tell_known(here: Desk) -> None:
    from jarcast.views.open_batch import known_text

    tell(wrapped(f"Going on with '{here.found.name}': {known_text(here.read(), here.units)}."))
    tell("('jarcast guide --new' begins another.)")


def _crop(work: "Work", today: dt.date) -> tuple[str, str]:
    """What is put up, asked until it is something, and its cut where that was said too."""
    from jarcast.app.record import read

    while True:
        try:
            answer = prompt(PRODUCE.words)
            check_words("produce", answer)
            read({"produce": answer}, today)
        except BatchError as error:
            tell(wrapped(_reason(error)))
            continue
        except Back:
            tell("This is the first question.")
            continue
        if not produce_key(answer):
            tell(_NEEDED["produce"])
            continue
        with suppress(Back):  # asked again
            return crop_meant(work.kitchen, (answer, ""), guided=True)


def _next(here: Desk) -> Question | None:
    """The first question that is due and has no answer yet, an empty one included."""
    at = here.read()

    def waits(question: Question) -> bool:
        if question.column in ("jar", "jars"):  # a batch cannot do without; asked for anew
            return not at.typed.get(question.column, "").strip()
        return question.column not in at.typed and question.due(at)

    return next((question for question in QUESTIONS if waits(question)), None)


def _asked(here: Desk, question: Question, default: str) -> Desk:
    """Ask one question until its answer can be; the batch with it, kept. Raises Back."""
    if question.column == "recipe" and (cards := cards_for(here)):
        tell(wrapped(f"Tested cards for {here.found.typed['produce']}: {', '.join(cards)}."))
    while True:
        answer = prompt(question.words, default)
        if not answer and question.column in _NEEDED:
            tell(_NEEDED[question.column])
            continue
        try:
            check_words(question.column, answer)
            typed = _complete(here, question.column, answer)
            at = here.read(typed)
        except (BatchError, RecipeError, ForecastError) as error:
            tell(wrapped(_reason(error)))
            continue
        if question.column == "brine_made" and answer:
            typed = pots_typed(here.read(), answer, None, here.units)
            at = here.read(typed)
        sure = _stood_by(here, question, typed, at)
        if sure is not None:
            return _noted(here, typed, sure, question.column if answer else "")


def _stood_by(
    here: Desk, question: Question, typed: dict[str, str], at: "Underway"
) -> set[str] | None:
    """The columns whose odd values are kept; None where the question is to be asked again.

    'back' there is back to the question whose answer is odd.
    """
    try:
        dealt = dealt_out(here, typed) if question.column == "jars" else ""
        if dealt and not sorts_confirmed(dealt, guided=True):
            tell(f"How many of each sort? Write it like {dealt}.")
            return None
        odd = odd_values(here, at, typed)
        if odd and not kept_when_asked(odd, here.units, guided=True):
            return None
    except Back:
        return None
    return {c for one in odd if not isinstance(one, str) for c in one.columns}


def _complete(here: Desk, column: str, answer: str) -> dict[str, str]:
    """An answer with what follows from it: a recipe's card decides headspace and jars."""
    from jarcast.app.open_batch import by_card

    card, typed = None, with_sorts({column: answer}, here.kitchen.shelf)
    if column == "recipe":
        card, typed["recipe"] = card_chosen(answer, here.path)
    elif column in ("jar", "cut", "pack", "produce"):
        card = here.card
    if card is None:
        return typed
    before = here.found.typed
    full = by_card(here.found.typed_with(typed), card, here.kitchen.shelf)
    added = {name: text for name, text in full.items() if before.get(name) != text}
    return {**added, **typed} if column == "recipe" else typed


def _noted(here: Desk, typed: dict[str, str], sure: set[str], column: str) -> Desk:
    """Keep an answer, and show what the batch comes to where it tells; '' for an empty one."""
    telling = column in _TELLING
    before = expect(here.read(), here, telling=False) if telling else None
    step = step_typed(here, typed, sure)
    trial = here.with_step(step)
    at = trial.read()
    now = expect(at, trial) if telling or "recipe" in typed else None
    here = note(here, step, forecast=to_keep(trial, at, now) if telling else None)
    if "recipe" in typed:
        show(safety_text(here, at, now, here.altitude_ft))
    elif now is not None and column not in _UNSHOWN:
        show(step_text(here, at, now, before, guided=True))
    return here


def _reason(error: Exception) -> str:
    """Why an answer cannot be, without saying that nothing was recorded."""
    problems = getattr(error, "problems", ())
    return "; ".join(problems) if problems else str(error)
