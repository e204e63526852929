"""jarcast pack."""

import datetime as dt
from collections.abc import Mapping
from functools import partial
from math import inf
from typing import TYPE_CHECKING, Annotated

import typer
from msgspec import Struct
from msgspec.structs import asdict, replace

from jarcast.cli.common import (
    JsonOption,
    LedgerOption,
    UnitsOption,
    asking,
    read_option,
    tell,
    work_at,
)
from jarcast.cli.counter import (
    BatchOption,
    Desk,
    YesOption,
    desk,
    note,
    refuse_without_card,
    stand_by,
    tell_none,
)
from jarcast.cli.pots import BrineMadeOption, MoreBrineOption, pot_now, pots_typed
from jarcast.cli.prompts import confirmed
from jarcast.cli.weigh import answer
from jarcast.domain.jar_text import counts, on_shelf, read_jars, says_sorts, turns_with, with_sorts
from jarcast.domain.packing import SoFar
from jarcast.domain.pots import full_pot, lost_brine, pot_problem
from jarcast.errors import AskedBackError, BatchError, ForecastError, JarcastError, RecipeError
from jarcast.measures import format_volume, parse_volume, parse_weight
from jarcast.views.words import wrapped

_ASTRAY = (
    "by the bowl, these jars hold more or less than yours do: was some of it eaten or put aside, "
    "or is some in another bowl? Weigh all that is still to be packed, without the bowls; until "
    "then the forecast allows for it"
)
_ASKED = 0.5  # chance that it is so from which on it is asked

if TYPE_CHECKING:
    from jarcast.app.open_batch import Underway
    from jarcast.domain.jars import Jar
    from jarcast.forecast.answer import Forecast
    from jarcast.forecast.oddities import Oddity
    from jarcast.ledger.steps import Step


def pack(
    jars: Annotated[
        str,
        typer.Option(
            "--jars", help="Jars packed so far, all of them: '3', '6 pint + 2 half-pint'."
        ),
    ],
    produce: Annotated[
        str | None, typer.Option("--produce", help="Weight of the produce in them.")
    ] = None,
    produce_left: Annotated[
        str | None, typer.Option("--produce-left", help="Weight still in the bowl.")
    ] = None,
    brine: Annotated[
        str | None, typer.Option("--brine", help="Brine in the jars so far: '2 1/4 cups'.")
    ] = None,
    pot_left: Annotated[
        str | None,
        typer.Option("--pot-left", help="Brine in the pot now, after any --more-brine: '4 cups'."),
    ] = None,
    pot_before: Annotated[
        str | None,
        typer.Option("--pot-before", help="Brine in the pot before --more-brine was added to it."),
    ] = None,
    brine_made: BrineMadeOption = None,
    more_brine: MoreBrineOption = None,
    batch: BatchOption = None,
    yes: YesOption = False,
    units: UnitsOption = None,
    ledger: LedgerOption = None,
    as_json: JsonOption = False,
) -> None:
    """Note how far you have packed; see what is still to come, and whether the brine lasts.

    Every amount is a total so far, and --pot-left is the pot as it is now. If you read the pot
    before adding more, use --pot-before. Leave out what you did not measure: one side (packed or
    left, used or in the pot) says a lot.

    \b
    Examples:
      jarcast pack --jars 3 --produce-left "3 lb 9 oz" --pot-left "5 cups"
      jarcast pack --jars 5 --pot-before "2 cups" --more-brine "2 cups"
      jarcast pack --jars "4 pint + 2 half-pint" --pot-left "3 cups"
    """
    said = {
        "jars": jars, "produce": produce, "produce_left": produce_left, "brine": brine,
        "pot_left": pot_left,
    }  # fmt: skip
    typed = {name: text for name, text in said.items() if text is not None}
    read_option("--pot-before", pot_before, parse_volume)
    typed |= pot_now(typed, pot_before, more_brine)
    added = read_option("--more-brine", more_brine if pot_left else None, parse_volume)
    with work_at(ledger) as work:
        here = desk(work, units, batch, as_json=as_json)
        pots = (brine_made, more_brine)
        note_packing(here, typed, pots, added or 0.0, yes=yes, as_json=as_json)


class Expected(Struct, frozen=True):
    """What a batch was expected to come to, or why that cannot be said; None where it waits.

    ``by_weight`` is by its weights alone, ``before`` without the note of the packing, ``now`` with
    it.
    """

    by_weight: "Forecast | None"
    before: "Forecast | JarcastError | None"
    now: "Forecast | JarcastError | None"


def note_packing(
    here: Desk,
    typed: dict[str, str],
    pots: tuple[str | None, str | None] = (None, None),
    added_ml: float = 0.0,
    *,
    yes: bool = False,
    as_json: bool = False,
    guided: bool = False,
) -> None:
    """Note how far the packing has come, and show what that comes to.

    ``typed`` is what was said, by the names of the options; ``pots`` all the brine made, and one
    more pot of it, which is ``added_ml`` where the pot was read after it. Raises JarcastError for
    what cannot be, and Back in the guide.
    """
    from jarcast.forecast.oddities import before_packing, poured_ml

    brine_made, more_brine = pots
    at = here.read()
    typed |= (sorts := _other_turns(here, typed["jars"]))
    at = here.read(sorts) if sorts else at
    typed |= pots_typed(at, brine_made, more_brine, here.units, yes=yes, as_json=as_json)
    so_far = read_note(typed, at, here.kitchen.shelf)
    habits = here.kitchen.habits
    by_weight = before_packing(habits, at.batch) if so_far.jars else None
    poured = poured_ml(habits, at.batch, so_far.jars, by_weight)
    _check_pot(so_far, poured, yes=yes, as_json=as_json, guided=guided)
    step = _step(here, typed, so_far)
    trial = here.with_step(step)
    packed = trial.read()
    expected = Expected(by_weight, _expected(here, at), _expected(trial, packed))
    odd = _odd(here, at, so_far, added_ml, poured, expected)
    stand_by(odd, here.units, yes=yes, as_json=as_json, guided=guided)
    here = note(here, step, adding=more_brine is not None)
    refuse_without_card(here)
    now, before = _made(expected.now), _made(expected.before)
    if isinstance(expected.now, JarcastError):
        tell_none(expected.now, () if yes else odd)
    answer("pack", here, (packed, now, before), odd, as_json=as_json, guided=guided)


def _other_turns(here: Desk, jars: str) -> dict[str, str]:
    """The batch's jars anew, where those packed are of other sorts, or in another order.

    They follow from the plan and this note alone: it counts all jars, and what an earlier note
    said of their sorts may have been a slip. Raises BatchError, and RecipeError for a jar the
    recipe was not tested in.
    """
    from jarcast.app.open_batch import by_card

    shelf, typed, plan = here.kitchen.shelf, here.found.typed, here.found.planned_jars
    found = read_jars(jars, shelf)
    if not says_sorts(found, shelf):
        return {}
    try:
        turns = turns_with(on_shelf(found, shelf), plan, shelf) or plan
    except BatchError as error:
        raise BatchError(f"--jars '{jars[:60]}': {error}") from error
    if here.card is not None:
        by_card({**typed, "jar": turns}, here.card, shelf)
    return {"jar": turns} if turns != typed.get("jar", "") else {}


def read_note(typed: Mapping[str, str], at: "Underway", shelf: "Mapping[str, Jar]") -> "SoFar":
    """A note of the packing, read. Raises MeasureError, BatchError and ForecastError."""
    jars = _count(typed["jars"], shelf)
    made = read_option("--brine-made", typed.get("brine_made"), parse_volume)
    return SoFar(
        jars=jars,
        produce_g=read_option("--produce", typed.get("produce"), parse_weight),
        brine_ml=read_option("--brine", typed.get("brine"), parse_volume),
        produce_left_g=read_option("--produce-left", typed.get("produce_left"), parse_weight),
        pot_left_ml=read_option("--pot-left", typed.get("pot_left"), parse_volume),
        brine_made_ml=at.batch.brine_made_ml if made is None else made,
    )


def _count(jars: str, shelf: "Mapping[str, Jar]") -> float:
    try:
        return sum(counts(with_sorts({"jars": jars}, shelf)["jars"]))
    except BatchError as error:
        raise BatchError(f"--jars '{jars[:60]}' {error}") from error


def check_count(here: Desk, jars: str) -> None:
    """Raise BatchError for what is no count of jars, RecipeError for one its card does not list."""
    _other_turns(here, jars)
    _count(jars, here.kitchen.shelf)


def _expected(here: Desk, at: "Underway") -> "Forecast | JarcastError | None":
    """What a batch is expected to come to, or why that cannot be said; None where it waits."""
    from jarcast.app.open_batch import forecast_of

    try:
        return forecast_of(here.kitchen.habits, at, here.card)
    except (ForecastError, BatchError, RecipeError) as error:
        return error


def _made(expected: "Forecast | JarcastError | None") -> "Forecast | None":
    return None if isinstance(expected, JarcastError) else expected


def _check_pot(
    so_far: "SoFar",
    poured: tuple[float, float] | None,
    *,
    yes: bool,
    as_json: bool,
    guided: bool,
) -> None:
    """Ask back a pot that is full though jars are; off a terminal raise BatchError."""
    why = "" if yes or poured is None else full_pot(so_far, poured[0])
    if not why:
        return
    if asking(as_json):
        tell(wrapped(f"{why}."))
        if confirmed("Keep it?", guided=guided):
            return
    raise AskedBackError(f"nothing was recorded: {why}")


def _odd(
    here: Desk,
    at: "Underway",
    so_far: "SoFar",
    added_ml: float,
    poured: tuple[float, float] | None,
    expected: Expected,
) -> "list[Oddity | str]":
    """What is odd about a note: what does not fit, or else jars far tighter or looser packed.

    ``added_ml`` is the pot added just now, where the pot after it was read; ``poured`` the least
    and the most that so many jars take.
    """
    from jarcast.app.open_batch import note_problems
    from jarcast.forecast.oddities import count_oddity, packing_oddity

    own, before = here.kitchen, _made(expected.before)
    far = None if before is None else count_oddity(so_far.jars, before)
    most_jars = inf if far is not None else _most_jars(here, at, expected.before)
    found: list[Oddity | str] = [*note_problems(at, so_far, own.shelf, most_jars)]
    if far is not None:
        found.append(far)
    if poured is not None and (why := pot_problem(so_far, poured[1], added_ml)):
        found.append(why)
    loss_ml = own.habits.learned.beliefs.people.loss_ml
    if why := lost_brine(so_far, loss_ml, partial(format_volume, units=here.units)):
        found.append(why)
    if isinstance(expected.now, ForecastError):  # RecipeError is told once the note is kept
        return [*found, str(expected.now)]
    odd = packing_oddity(own.habits, at.batch, so_far, expected.by_weight, own.batches)
    if odd is not None:
        return [*found, odd]
    now = _made(expected.now)
    return [*found, _ASTRAY] if now is not None and now.astray > _ASKED else found


def _most_jars(here: Desk, at: "Underway", before: "Forecast | JarcastError | None") -> float:
    """Jars that the produce fills at most, as it was expected before the packing; inf: unknown.

    ``before`` is what was expected before the note, which serves where it is the first.
    """
    from jarcast.forecast.oddities import LEVEL

    if at.so_far is not None:
        before = _expected(here, replace(at, so_far=None))
    made = _made(before)
    return inf if made is None else made.jars.interval(LEVEL)[1]


def _step(here: Desk, typed: Mapping[str, str], so_far: "SoFar") -> "Step":
    """The note as a step that is not kept yet."""
    from jarcast.ledger.steps import Step, StepKind

    now = dt.datetime.now(dt.UTC)
    return Step(here.found.name, StepKind.PACK, typed, asdict(so_far), now, 0)
