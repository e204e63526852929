"""jarcast amend."""

import datetime as dt
from collections.abc import Mapping
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer
from msgspec.structs import replace

from jarcast.cli.cards import NEW, OLD, as_kept, card_chosen, card_named, same_brine
from jarcast.cli.common import (
    JsonOption,
    LedgerOption,
    UnitsOption,
    kitchen_units,
    show,
    show_json,
    tell,
    work_at,
)
from jarcast.cli.corrections import NameArgument
from jarcast.cli.counter import (
    Desk,
    desk,
    expect,
    expect_with,
    note,
    odd_values,
    refuse_without_card,
    stand_by,
    step_typed,
)
from jarcast.cli.crops import AsNamedOption, crop_meant, pack_meant
from jarcast.cli.kept_brine import refuse_kept_of_another
from jarcast.cli.weigh import answer
from jarcast.domain.jar_text import with_sorts
from jarcast.errors import BatchError, RecipeError
from jarcast.ledger.card_texts import card_kept
from jarcast.measures import Units
from jarcast.views.words import wrapped

if TYPE_CHECKING:
    from jarcast.app.work import Kitchen, Work
    from jarcast.domain.batch import Batch
    from jarcast.recipes import Recipe


def _amend_open(here: Desk, typed: dict[str, str], *, as_json: bool) -> None:
    """Change values of a batch that is not closed yet: one step more, which counts from now on."""
    from jarcast.app.record import kitchen_cells
    from jarcast.recipes import other_cut

    if "card" in typed:
        here = _settle_card(here, typed.pop("card"))
        if not typed:
            at = here.read()
            answer("amend", here, (at, expect(at, here), None), as_json=as_json)
            return
    cells = with_sorts(kitchen_cells(typed), here.kitchen.shelf)
    if "recipe" in cells:
        card, cells["recipe"] = card_chosen(cells["recipe"], here.path)
        refuse_kept_of_another(here.found.name, cells["recipe"], here.work)
        cells = _by_card(here, cells, card)
    elif {"jar", "produce", "pack", "headspace_in"} & cells.keys():
        cells = _by_card(here, cells, here.card)
    odd = odd_values(here, here.read(cells), cells)  # what cannot be is refused here
    sure = stand_by(odd, here.units, as_json=as_json)
    before = expect(here.read(), here, telling=False)
    step = step_typed(here, cells, sure, amending=True)
    trial = here.with_step(step)
    at = trial.read()
    now = expect_with(trial, at, odd)
    here = note(here, step)
    refuse_without_card(here)
    if here.card is not None and {"cut", "recipe"} & cells.keys():
        for one in other_cut(here.card, at.batch.cut):
            tell(wrapped(one.text))
    answer("amend", here, (at, now, before), odd, as_json=as_json)


def _settle_card(here: Desk, said: str) -> Desk:
    """Go on by the card as the batch was begun by it, or by the card as it is now.

    Raises RecipeError where the ledger keeps no such card, or there is none now.
    """
    recipe, kept = here.found.typed.get("recipe", ""), here.found.card_digest
    found = None if not kept else card_kept(here.work.ledger, kept)
    if said.strip() not in (OLD, NEW):
        raise RecipeError(f"card={said[:40]}: say card={OLD} or card={NEW}")
    if found is None:
        raise RecipeError(
            f"no card is kept of '{here.found.name}' as it was begun; name its recipe again: "
            'recipe="..."'
        )
    if said.strip() == OLD:
        as_kept(found)
        step = step_typed(here, {"recipe": recipe}, amending=True)
        cells = {**step.cells, "card": True, "digest": kept, "as_begun": True}
        return note(here, replace(step, cells=cells))
    card = card_named(recipe, here.path, was_card=True)
    made = here.read().batch.brine_made_ml
    if made and not same_brine(found, card):
        raise RecipeError(
            f"the brine noted of '{here.found.name}' was made by the card as it was, and the "
            f"card's brine has changed: go on by the old one (card={OLD}); or, if it was made by "
            "the new one, take it away first (brine_made=) and note it once more after"
        )
    return note(here, step_typed(here, _by_card(here, {"recipe": recipe}, card), amending=True))


def _by_card(here: Desk, cells: dict[str, str], card: "Recipe | None") -> dict[str, str]:
    """Changes that the recipe's card allows, with the headspace of a card just named.

    Raises RecipeError and ForecastError as begin does for what it does not allow.
    """
    from jarcast.app.open_batch import by_card

    if card is None:
        return cells
    typed = here.found.typed_with(cells)
    if "recipe" in cells and "headspace_in" not in cells:  # it was that of the card before
        typed = {**typed, "headspace_in": ""}
    own = by_card(typed, card, here.kitchen.shelf).get("headspace_in", "")
    known = here.found.typed.get("headspace_in", "")
    return cells if own == known else {**cells, "headspace_in": own}


def amend(
    batch: NameArgument,
    changes: Annotated[
        list[str],
        typer.Argument(help="What to change, as COLUMN=VALUE; 'note=' takes a value away."),
    ],
    as_is: Annotated[
        bool,
        typer.Option(
            "--as-is", help="Confirm odd-looking values instead: these columns are right."
        ),
    ] = False,
    as_named: AsNamedOption = False,
    units: UnitsOption = None,
    ledger: LedgerOption = None,
    as_json: JsonOption = False,
) -> None:
    """Change values of a batch already recorded, or still open.

    The columns are those of the batch table: trimmed, jars, brine_left... What stood before is
    never lost: the new value replaces it, and 'jarcast history' shows both.

    Where the card of an open batch was changed since it was begun, card=old goes on by the card as
    it was, card=new by the card as it is.

    With --as-is name columns alone: odd values there are right, and count in full until they are
    amended. Values that contradict one another cannot all be right.

    \b
    Examples:
      jarcast amend "carrots 3" trimmed="6 lb 4 oz" jars=9.5
      jarcast amend "carrots 3" --as-is trimmed
    """
    with work_at(ledger) as work:
        if as_is:
            from jarcast.cli.confirm import stand_by

            stand_by(work, batch, changes, units, as_json=as_json)
        else:
            _amend(work, batch, _typed(changes), units, as_named=as_named, as_json=as_json)


def _amend(
    work: "Work",
    batch: str,
    typed: dict[str, str],
    units: Units | None,
    *,
    as_named: bool,
    as_json: bool,
) -> None:
    """Change values of the batch that is meant, closed or open."""
    from jarcast.app.record import amend as amend_batch
    from jarcast.ledger.annotations import check_standing
    from jarcast.ledger.whole_names import standing_names, whole_name

    own, opened = work.kitchen, work.ledger
    if typed.get("produce", "").strip():
        crop = (typed["produce"], typed.get("cut", ""))
        produce, cut = crop_meant(own, crop, sure=as_named, as_json=as_json)
        typed |= {"produce": produce, **({"cut": cut} if cut != crop[1] else {})}
    if typed.get("pack", "").strip():
        typed["pack"] = pack_meant(own, typed["pack"], sure=as_named, as_json=as_json)
    open_now = [one.name for one in own.open]
    batch = whole_name(opened, batch, {*standing_names(opened), *open_now})
    if batch in open_now:
        _amend_open(desk(work, units, batch, as_json=as_json), typed, as_json=as_json)
        return
    check_standing(opened, batch)
    shown = kitchen_units(work, units, later=True)
    entry, changed = amend_batch(work, batch, typed, dt.date.today())
    now = own.with_batch(check_standing(opened, batch).batch)
    _show(now, work.path, entry.batch, typed if changed else {}, shown, as_json=as_json)


def _typed(changes: list[str]) -> dict[str, str]:
    """Changes by column, as they were typed. Raises BatchError for anything else."""
    typed = {}
    for change in changes:
        column, equals, text = change.partition("=")
        if not equals:
            raise BatchError(f"'{change[:60]}': write a change as COLUMN=VALUE, such as jars=9.5")
        typed[column.strip().replace("-", "_").replace(" ", "_")] = text
    return typed


def _show(
    own: "Kitchen",
    path: Path,
    batch: "Batch",
    changed: Mapping[str, str],
    units: Units,
    *,
    as_json: bool,
) -> None:
    """The batch as it stands now, and what does not fit in it; ``changed`` is what was typed."""
    from jarcast.cli.after_jars import after_jars, cautions_document, tell_after
    from jarcast.cli.confirm import flags_in, odd_in
    from jarcast.cli.written import asked_back_text, unusual_in
    from jarcast.views.batches import (
        batch_document,
        batches_text,
        flags_document,
        slips_document,
        slips_text,
    )

    card = partial(card_named, batch.recipe, path)
    today = dt.date.today()
    cautions = after_jars(batch, card, own.shelf, units, changed=changed, today=today)
    flags, odd = flags_in(own, [batch.batch]), odd_in(own, [batch.batch])
    if as_json:
        show_json(
            {
                "format": "jarcast amend",
                "version": 1,
                "changed": bool(changed),
                "batch": batch_document(batch),
                "flags": flags_document(flags),
                "odd": slips_document(odd),
                "cautions": cautions_document(cautions),
            }
        )
        tell_after(own, batch, cautions, units, changed=changed)
        return
    show(batches_text([batch], units))
    done = (
        "amended; the old value is kept." if changed else "nothing to change: it says that already."
    )
    show(f"{batch.batch}: {done}")
    tell_after(own, batch, cautions, units, changed=changed)
    tell(asked_back_text(unusual_in(own, [batch.batch]), units))
    tell(slips_text(odd))
