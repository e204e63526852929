"""Plans that are kept, for jarcast harvest: keep one, find it, list them, drop one."""

import datetime as dt
from collections.abc import Callable
from typing import TYPE_CHECKING

from msgspec.structs import replace

from jarcast.cli.common import show, show_json, tell
from jarcast.errors import BatchError, RecipeError, cut_short
from jarcast.views.words import wrapped

if TYPE_CHECKING:
    from jarcast.app.harvest import Answer, Kept
    from jarcast.app.plan_progress import Progress
    from jarcast.app.work import Work
    from jarcast.harvest.plan.line import Plan
    from jarcast.recipes import Recipe

    Cards = Callable[[str], Recipe]


def day_of(since: str | None, keep: str | None) -> dt.date:
    """From which day on batches count: as typed, else from today on. Raises BatchError."""
    if since is None:
        return dt.date.today()
    if keep is None:
        raise BatchError("--since goes with --keep: it says from when batches count for the plan")
    try:
        return dt.date.fromisoformat(since)
    except ValueError as error:
        said = f"--since '{cut_short(since)}' is not a day; write it like '2025-07-01'"
        raise BatchError(said) from error


def keep_plan(work: "Work", name: str, since: dt.date, found: "Answer") -> None:
    """Keep a plan with all that it is to fill, and say so. Raises BatchError and LedgerError."""
    from jarcast.app.harvest import answer
    from jarcast.app.kept_plans import keep, plan_name
    from jarcast.app.plan_progress import State, lines_so_far

    name, plan, whole = plan_name(name), found.plan, found
    if any(one.state is not State.TO_DO for one in found.progress) or found.stock is not None:
        asked = replace(found.asked, have=None)
        whole = answer(plan, lines_so_far(plan.lines, {}, {}), work.kitchen.habits, asked)
    place = " in place of the one before, which 'jarcast undo' brings back" * keep(
        work, name, since, whole
    )
    said = (
        f"Kept as '{name}'{place}. 'jarcast harvest \"{name}\"' shows what was planned and filled; "
        f"batches from {since} on count."
    )
    tell(wrapped(said))


def found_kept(
    work: "Work", name: str, cards: "Cards"
) -> "tuple[Kept, Plan, tuple[Progress, ...]]":
    """A plan that is kept, with the batches that count for it."""
    from jarcast.app.harvest import Kept
    from jarcast.app.kept_plans import kept_plans
    from jarcast.app.planned_and_filled import counted, kept_progress, of_this_plan

    plans, kitchen = kept_plans(work, cards), work.kitchen
    counts, none = counted(plans, kitchen.batches, card_key(cards))
    one = plans[name]
    left_out = of_this_plan(one, none)
    kept = Kept(one.name, one.kept, one.since, one.planned, one.total, left_out)
    return kept, one.plan, kept_progress(name, one, counts, kitchen.open, kitchen.shelf)


def card_key(cards: "Cards") -> Callable[[str], str]:
    """Finds the key of the card that a batch's recipe names; else the text itself."""

    def key(recipe: str) -> str:
        try:
            return cards(recipe).key
        except RecipeError:
            return recipe

    return key


def list_plans(work: "Work", cards: "Cards", *, as_json: bool) -> bool:
    """Show the plans that are kept side by side; gives whether there are any."""
    from jarcast.app.kept_plans import kept_plans
    from jarcast.app.planned_and_filled import counted
    from jarcast.views.harvest_kept import plans_document, plans_text

    plans = kept_plans(work, cards)
    if not plans:
        return False
    counts, _ = counted(plans, work.kitchen.batches, card_key(cards))
    filled = dict.fromkeys(plans, 0.0)
    for (name, _), batches in counts.items():
        filled[name] += sum(batch.total_jars for batch in batches)
    beside = [(plans[name], jars) for name, jars in filled.items()]
    if as_json:
        show_json(plans_document(beside))
    else:
        show(plans_text(beside))
    return True


def drop_plan(work: "Work", name: str, *, as_json: bool) -> None:
    """Keep a plan no more. Raises BatchError where none is kept under that name."""
    from jarcast.app.kept_plans import drop, is_kept

    key = is_kept(work, name)
    if not key:
        raise BatchError(
            f"no plan is kept as '{cut_short(name)}'; 'jarcast harvest' lists your plans"
        )
    drop(work, key)
    if as_json:
        show_json({"format": "jarcast harvest plans", "version": 1, "dropped": key})
    else:
        show(f"The plan '{key}' is dropped; 'jarcast undo' brings it back.")
