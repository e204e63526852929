"""jarcast begin."""

import datetime as dt
from collections.abc import Sequence
from typing import TYPE_CHECKING, Annotated, Any

import typer
from msgspec import Struct
from msgspec.structs import replace

from jarcast.cli.altitude import KeptAltitudeOption, to_remember
from jarcast.cli.cards import card_chosen, card_named, card_text, is_card, names_file
from jarcast.cli.common import (
    JsonOption,
    LedgerOption,
    Packer,
    PersonOption,
    UnitsOption,
    kitchen_units,
    packer,
    show,
    show_json,
    tell,
    work_at,
)
from jarcast.cli.counted import asked_back
from jarcast.cli.counter import (
    Desk,
    YesOption,
    expect,
    load_of,
    odd_values,
    pack_check,
    stand_by,
    to_keep,
)
from jarcast.cli.crops import crop_meant, pack_meant, unknown_text
from jarcast.cli.kept_brine import kept_document, kept_of, kept_text
from jarcast.cli.pots import BrineMadeOption
from jarcast.cli.typed import (
    AsBoughtOption,
    CureHoursOption,
    CutOption,
    DateOption,
    HeadspaceOption,
    NameOption,
    NoteOption,
    SaltOption,
    TrimmedOption,
)
from jarcast.domain.jars import size_of
from jarcast.errors import BatchError, RecipeError
from jarcast.ledger.steps import OpenBatch, Step, StepKind, card_noted
from jarcast.measures import Units
from jarcast.views.words import wrapped

if TYPE_CHECKING:
    from jarcast.app.open_batch import Underway
    from jarcast.app.work import Work
    from jarcast.domain.batch import Batch
    from jarcast.domain.contradictions import Flag
    from jarcast.forecast.answer import Forecast
    from jarcast.forecast.oddities import Oddity
    from jarcast.recipes import Recipe


def begin(
    produce: Annotated[
        str | None, typer.Option("--produce", help="What is put up; a recipe names its own.")
    ] = None,
    cut: CutOption = None,
    pack: Annotated[
        str | None, typer.Option("--pack", help="raw or hot; as last time if none.")
    ] = None,
    jar: Annotated[
        str | None,
        typer.Option("--jar", help="pint...; '5 pint-wide, then pint'; as last time if none."),
    ] = None,
    recipe: Annotated[
        str | None, typer.Option("--recipe", help="A tested recipe; as last time if none.")
    ] = None,
    as_bought: AsBoughtOption = None,
    trimmed: TrimmedOption = None,
    salt: SaltOption = None,
    cure_hours: CureHoursOption = None,
    headspace: HeadspaceOption = None,
    brine_made: BrineMadeOption = None,
    person: PersonOption = None,
    date: DateOption = None,
    note: NoteOption = None,
    batch: NameOption = None,
    altitude: KeptAltitudeOption = None,
    yes: YesOption = False,
    units: UnitsOption = None,
    ledger: LedgerOption = None,
    as_json: JsonOption = False,
) -> None:
    """Open a batch, to be weighed, packed and closed step by step.

    Cut, pack, jar and recipe are those of the last like batch unless you say otherwise; '' says
    none.

    \b
    Example:
      jarcast begin --produce carrot --cut sticks --as-bought "8 lb"
      jarcast weigh --trimmed "3 lb 2 oz + 2 lb 9 oz - 410 g"
      jarcast pack --jars 3 --pot-left "5 cups" --brine-made "9 cups"
      jarcast close --jars 8.5 --brine-left "1 cup"
    """
    said = {
        "produce": produce, "cut": cut, "pack": pack, "jar": jar, "recipe": recipe,
        "as_bought": as_bought, "trimmed": trimmed, "salt": salt, "cure_hours": cure_hours,
        "headspace_in": headspace, "brine_made": brine_made, "note": note,
        "date": date or dt.date.today().isoformat(),
    }  # fmt: skip
    with work_at(ledger) as work:
        if produce:
            crop = (produce, cut or "")
            meant = crop_meant(work.kitchen, crop, sure=yes, as_json=as_json, insist="--yes")
            said["produce"], said["cut"] = meant[0], meant[1] or cut
            said = asked_back(said, meant, work.shelf, as_json=as_json)
        if pack:
            said["pack"] = pack_meant(work.kitchen, pack, sure=yes, as_json=as_json, insist="--yes")
        who = packer(work, person)
        said["person"] = who.name or None
        full = complete({column: text for column, text in said.items() if text is not None}, work)
        shown = kitchen_units(work, units, later=True)
        moved = None if altitude is None else to_remember(work, altitude)
        here, now, odd = _opened(work, shown, full.typed, (batch or "", yes, as_json))
        at = here.read()
        if moved is not None:
            tell(moved)
        if as_json:
            _show_json(here, at, now, full, odd, who)
        else:
            _show(here, at, now, full)
            if who.as_last:
                show(who.text)
            if altitude is not None and here.card is None:
                tell(
                    "The altitude is remembered; it counts once you name a recipe's card with "
                    "--recipe."
                )


def _show(here: Desk, at: "Underway", now: "Forecast | None", full: "Completed") -> None:
    show(_text(here, at, now, full))
    found = kept_of(at.batch.recipe, here.card, at.batch, here.kitchen)
    if kept := kept_text(found, at.batch.recipe, here.units):
        show(kept)
    tell(unknown_text(here.kitchen, at.batch.produce))


def _show_json(
    here: Desk,
    at: "Underway",
    now: "Forecast | None",
    full: "Completed",
    odd: "Sequence[Oddity | Flag | str]",
    who: Packer,
) -> None:
    from jarcast.views.counter_documents import step_document
    from jarcast.views.sanity import odd_documents

    last = {"batch": None if full.last is None else full.last.batch, "taken": full.taken}
    odd_found = odd_documents(odd, here.units)
    more: dict[str, Any] = {
        "as_last_time": last,
        "kept_brine": kept_document(kept_of(at.batch.recipe, here.card, at.batch, here.kitchen)),
        **who.document,
    }
    more["load"] = load_of(here, now)
    show_json(step_document("begin", at, now, here.units, odd_found, place=here.place, **more))


class Completed(Struct, frozen=True):
    """What was typed of a new batch, completed; what of it is as in the ``last`` like batch."""

    typed: dict[str, str]
    taken: dict[str, str]
    last: "Batch | None"


def complete(said: dict[str, str], work: "Work") -> Completed:
    """Complete what was typed from the last like batch and the recipe's card.

    Raises BatchError without a produce, and RecipeError or ForecastError for what the card does
    not allow.
    """
    from jarcast.app.open_batch import by_card, last_like, with_last

    here, path, card = work.kitchen, work.path, None
    if "recipe" in said:
        card, said["recipe"] = card_chosen(said["recipe"], path)
    produce = said.get("produce", "").strip() or ("" if card is None else card.produce)
    if not produce:
        raise BatchError("what are you putting up? Add --produce carrot, or a --recipe")
    cut = said.get("cut", "").strip() or ("" if card is None else card.cut)
    last = last_like(here.batches, produce, cut)
    taken: dict[str, str] = {}
    if last is not None:
        last_card = card if "recipe" in said else _card_of_last(last, work)
        taken, why = with_last(said, last, last_card, here.shelf)
        if "recipe" in taken:
            card = last_card
            if card is not None and not names_file(taken["recipe"]):
                taken["recipe"] = card.key
        if why:
            tell(f"Last time's recipe, {last.recipe}, is left out: {why}.")
    typed = {**said, **taken}
    return Completed(typed if card is None else by_card(typed, card, here.shelf), taken, last)


def _card_of_last(last: "Batch", work: "Work") -> "Recipe | None":
    """The card of the last like batch, as its steps noted it. Raises RecipeError."""
    own = (step for step in work.kitchen.steps if step.batch == last.batch)
    noted = card_noted(own, last.recipe)
    try:
        return card_named(last.recipe, work.path, was_card=noted)
    except RecipeError as error:
        other = "or name another recipe with --recipe ('' for none)"
        raise RecipeError(f"as last time, by '{last.batch}': {error}; {other}") from error


def _opened(
    work: "Work", units: Units, typed: dict[str, str], ways: tuple[str, bool, bool]
) -> "tuple[Desk, Forecast | None, list[Oddity | Flag | str]]":
    """Open the batch, once its values are checked and the odd ones stood by.

    Gives it, what it will come to, and what is odd about it.
    """
    from jarcast.app.open_batch import begin_batch, step_cells

    name, yes, as_json = ways
    first = Step(name, StepKind.BEGIN, typed, {}, dt.datetime.now(dt.UTC), 0)
    trial = OpenBatch(name.strip() or "?", (first,))
    here = Desk(work, units, trial, dt.date.today())
    at = here.read()
    odd = odd_values(here, at, typed)
    sure = stand_by(odd, units, yes=yes, as_json=as_json)
    now = expect(at, here, said=() if yes else odd)
    recipe = typed.get("recipe", "")
    text = card_text(recipe, work.path)
    cells = step_cells(sure, is_card(recipe, work.path), text=text)
    _tell_dropped(work, name)
    begun = begin_batch(work, typed, name, cells, to_keep(here, at, now), text)
    return replace(here, found=begun), now, odd


def _tell_dropped(work: "Work", name: str) -> None:
    """That a batch of this name was dropped before; nothing for any other name."""
    if any(one.name == name.strip() for one in work.kitchen.dropped):
        tell(
            f"A batch '{name.strip()}' was dropped before. This one starts over under its name; "
            "'jarcast history' shows both."
        )


def _text(here: Desk, at: "Underway", now: "Forecast | None", full: Completed) -> str:
    """The batch as it was understood, what it is expected to come to, and the cautions, once."""
    from jarcast.views.counter import WAITS, begun_text, expected_lines, paragraphs

    parts = [begun_text(at, full.taken, full.last)]
    if now is None:
        parts.append(wrapped(WAITS))
    else:
        check = pack_check(here, now)
        told: dict[str, Any] = {"load": load_of(here, now), "made_ml": at.pots_ml}
        with_card = here.card is not None
        said = expected_lines(now, None, here.units, check, cautions=with_card, **told)
        parts.append(paragraphs(said))
    return "\n".join([*parts, "", safety_text(here, at, now, here.altitude_ft)])


def safety_text(
    here: Desk,
    at: "Underway",
    now: "Forecast | None",
    altitude_ft: float | None,
    *,
    rest: bool = True,
) -> str:
    """The safety block of the recipe's card as it stands there, or what to heed without one.

    With it stand the cautions that go with a card's numbers. ``rest`` tells where to read the rest
    of the card.
    """
    from jarcast.recipes import beside_numbers, situation_at
    from jarcast.views.by_recipe import block_for
    from jarcast.views.counter import more_of_card, no_card_text
    from jarcast.views.formula import sizes_of

    card, units = here.card, here.units
    if card is None:
        return no_card_text(now is None or now.has_brine, at.batch.produce)
    sizes, pack = list(dict.fromkeys(map(size_of, at.batch.jar))), at.batch.pack
    if now is not None:
        sizes, pack = sizes_of(now), now.request.pack
    block = block_for(card, sizes, pack, altitude_ft, units)
    place = replace(here.place, altitude_ft=altitude_ft)
    here_so = situation_at(place, card, sizes, cut=at.batch.cut, pack=pack, units=units)
    beside = [wrapped(one.text) for one in beside_numbers(here_so)]
    return "\n".join([block, *beside, *([more_of_card(card)] if rest else [])])
