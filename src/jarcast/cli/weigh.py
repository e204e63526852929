"""jarcast weigh."""

from collections.abc import Sequence
from typing import TYPE_CHECKING, Annotated, Any

import typer

from jarcast.cli.common import JsonOption, LedgerOption, UnitsOption, show, show_json, work_at
from jarcast.cli.counted import asked_back
from jarcast.cli.counter import (
    BatchOption,
    Desk,
    YesOption,
    desk,
    expect,
    expect_with,
    load_of,
    odd_values,
    pack_check,
    refuse_without_card,
    stand_by,
    step_typed,
    to_keep,
)
from jarcast.cli.counter import (
    note as keep_note,
)
from jarcast.cli.kept_brine import KeptBrineOption, to_take
from jarcast.cli.pots import BrineMadeOption, MoreBrineOption, pots_typed
from jarcast.cli.typed import (
    AsBoughtOption,
    CookedOption,
    CuredOption,
    CureHoursOption,
    NoteOption,
    SaltOption,
)
from jarcast.errors import BatchError, ForecastError, RecipeError
from jarcast.measures import Units
from jarcast.views.words import wrapped

if TYPE_CHECKING:
    from jarcast.app.open_batch import Underway
    from jarcast.domain.contradictions import Flag
    from jarcast.forecast.answer import Forecast
    from jarcast.forecast.oddities import Oddity
    from jarcast.harvest.by_the_jar import ByTheJar


def weigh(
    as_bought: AsBoughtOption = None,
    trimmed: Annotated[
        str | None,
        typer.Option(
            "--trimmed", help=("Add bowls up, take the empty bowl off: '3 lb + 2 lb - 410 g'.")
        ),
    ] = None,
    salt: SaltOption = None,
    cure_hours: CureHoursOption = None,
    cured: CuredOption = None,
    cooked: CookedOption = None,
    brine_made: BrineMadeOption = None,
    more_brine: MoreBrineOption = None,
    kept_brine: KeptBrineOption = None,
    note: NoteOption = None,
    batch: BatchOption = None,
    yes: YesOption = False,
    units: UnitsOption = None,
    ledger: LedgerOption = None,
    as_json: JsonOption = False,
) -> None:
    """Note what was weighed of an open batch, in any order, at any time; see what it comes to.

    The latest figure for each counts; '' takes a weight away. --more-brine adds a pot of brine;
    --brine-made is all of it.

    \b
    Examples:
      jarcast weigh --trimmed "3 lb 2 oz + 2 lb 9 oz - 410 g"
      jarcast weigh --more-brine "4 cups"
      jarcast weigh --cure-hours 12 --cured "4 lb 11 oz" --batch cucumber
    """
    said = {
        "as_bought": as_bought, "trimmed": trimmed, "salt": salt, "cure_hours": cure_hours,
        "cured": cured, "cooked": cooked, "note": note,
    }  # fmt: skip
    typed = {column: text for column, text in said.items() if text is not None}
    if not typed and brine_made is None and more_brine is None and kept_brine is None:
        raise BatchError("nothing was given; say what you weighed, such as --trimmed '5 lb'")
    with work_at(ledger) as work:
        here = desk(work, units, batch, as_json=as_json)
        at = here.read()
        crop = (at.batch.produce, at.batch.cut)
        typed = asked_back(typed, crop, here.kitchen.shelf, as_json=as_json)
        taken = to_take(kept_brine, at.batch, lambda: here.card, here.kitchen)
        kept_brine = None if taken is None else kept_brine  # nothing taken is no pot
        more = " + ".join(text for text in (kept_brine, more_brine) if text is not None) or None
        typed |= pots_typed(at, brine_made, more, here.units, yes=yes, as_json=as_json)
        odd = odd_values(here, here.read(typed), typed)
        sure = stand_by(odd, here.units, yes=yes, as_json=as_json)
        before = expect(at, here, telling=False)
        step = step_typed(here, typed, sure)
        noting = bool(typed) or taken is not None
        trial = here.with_step(step) if noting else here
        at = trial.read()
        now = expect_with(trial, at, () if yes else odd)
        if noting:
            kept = to_keep(trial, at, now)
            here = keep_note(here, step, forecast=kept, adding=more is not None, taken=taken)
        else:
            work.remember()
        refuse_without_card(here)
        answer("weigh", here, (at, now, before), odd, as_json=as_json)


def answer(
    step: str,
    here: Desk,
    expected: "tuple[Underway, Forecast | None, Forecast | None]",
    odd: "Sequence[Oddity | Flag | str]" = (),
    *,
    as_json: bool,
    guided: bool = False,
) -> None:
    """Show a step of an open batch: the batch now, what it will come to, and what it was before."""
    at, now, before = expected
    if not as_json:
        show(step_text(here, at, now, before, guided=guided))
        return
    from jarcast.views.counter_documents import expected_document, step_document
    from jarcast.views.sanity import odd_documents

    odd_found, place = odd_documents(odd, here.units), here.place
    more: dict[str, Any] = {
        "packing": pack_check(here, now),
        "before": expected_document(before, here.units, place),
        "load": load_of(here, now),
    }
    if step == "pack":
        more["by_the_jar"] = _unweighed_document(here, at, now)
    show_json(step_document(step, at, now, here.units, odd_found, place=place, **more))


def step_text(
    here: Desk,
    at: "Underway",
    now: "Forecast | None",
    before: "Forecast | None",
    *,
    guided: bool = False,
) -> str:
    """What is known now, and what is expected, beside what was expected before.

    What was before is told once: by the picture, where there is one.
    ``guided``: what is missing is to be answered in the guide, and said by no option.
    """
    from jarcast.views.counter import (
        ANSWERS,
        OPTIONS,
        WAITS,
        expected_lines,
        packing_lines,
        paragraphs,
    )
    from jarcast.views.open_batch import known_text

    head = wrapped(f"{at.name}: {known_text(at, here.units)}.")
    if now is None:
        told = _unweighed_text(here, at)
        waits = wrapped(WAITS) if not (at.weighed or guided) else ""
        return "\n".join(part for part in (head, told, waits) if part)
    packed = now.so_far is not None and now.so_far.jars > 0
    check, ways = pack_check(here, now), ANSWERS if guided else OPTIONS
    drawn = _picture(now, before, here.units)
    earlier = None if drawn else before
    said: dict[str, Any] = {"ways": ways, "load": load_of(here, now), "made_ml": at.pots_ml}
    lines = (packing_lines if packed else expected_lines)(now, earlier, here.units, check, **said)
    lines += _not_in_steam(here, now)
    return f"{head}\n{paragraphs(lines)}{drawn}"


def _not_in_steam(here: Desk, now: "Forecast") -> list[str]:
    """That the process is too long for the kitchen's canner; nothing where it is not."""
    from jarcast.recipes import situation_at, too_long_for_steam
    from jarcast.views.formula import sizes_of

    place = here.place
    if now.recipe is None or not place.steam:
        return []
    known: dict[str, Any] = {"pack": now.request.pack, "units": here.units}
    at = situation_at(place, now.recipe, sizes_of(now), **known)
    return [one.text for one in too_long_for_steam(at)]


def _unweighed(here: Desk, at: "Underway") -> "ByTheJar | None":
    """What the jars packed so far take by the jar, of a batch that was never weighed."""
    from jarcast.app.open_batch import by_the_jar_of

    if at.weighed or at.so_far is None or not at.so_far.jars:
        return None
    try:
        return by_the_jar_of(here.kitchen.habits, at, here.card)
    except (ForecastError, BatchError, RecipeError):
        return None  # what cannot be is told where the batch is forecast


def _unweighed_text(here: Desk, at: "Underway") -> str:
    from jarcast.views.by_the_jar import packed_text

    found = _unweighed(here, at)
    return "" if found is None or at.so_far is None else packed_text(found, at.so_far, here.units)


def _unweighed_document(
    here: Desk, at: "Underway", now: "Forecast | None"
) -> dict[str, Any] | None:
    from jarcast.views.by_the_jar import packed_document

    found = None if now is not None else _unweighed(here, at)
    return None if found is None or at.so_far is None else packed_document(found, at.so_far)


def _picture(now: "Forecast", before: "Forecast | None", units: Units) -> str:
    """Before and now one above the other, on a terminal, where they read otherwise."""
    from jarcast.cli.charting import canvas
    from jarcast.views.counter import shown_otherwise

    if before is None or not shown_otherwise(now, before, units):
        return ""
    drawing = canvas()
    if drawing is None:
        return ""
    from jarcast.views.pictures import before_and_now

    drawn = before_and_now(now, before, units, drawing)
    return f"\n\n{drawn}" if drawn else ""
