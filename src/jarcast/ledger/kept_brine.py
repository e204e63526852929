"""Clean brine kept of one batch for the next pot of the same recipe."""

import datetime as dt

from msgspec import Struct
from msgspec.structs import replace

from jarcast.errors import BatchError
from jarcast.ledger.schema import STANDS
from jarcast.ledger.store import Ledger

_NOTHING_ML = 1.0  # less than a teaspoon counts as none
_GIVEN_BACK = "given back"  # stands where others have what was typed
_OVER = 1.01  # a measure may be read a hair larger than it was kept


class Kept(Struct, frozen=True):
    """Brine as it was typed: put by of one batch, or taken for one; ``recipe`` is a key."""

    recipe: str
    ml: float
    typed: str


class KeptBrine(Struct, frozen=True):
    """Brine kept of a recipe, in ml; when some was last put by, and of which batch."""

    recipe: str
    ml: float
    on: dt.date
    batch: str


def brine_on_hand(ledger: Ledger) -> dict[str, KeptBrine]:
    """What is kept of the brine of each recipe, by its key; none that nothing is kept of."""
    rows = ledger.rows(
        "SELECT k.recipe, k.ml, k.batch, action.at, k.typed FROM kept_brine AS k "
        f"JOIN action ON action.id = k.action_id WHERE {STANDS} ORDER BY k.id"
    )
    found: dict[str, KeptBrine] = {}
    left: dict[str, float] = {}
    for recipe, ml, batch, at, typed in rows:
        left[recipe] = left.get(recipe, 0.0) + ml
        if ml > 0.0 and typed != _GIVEN_BACK:
            on = dt.datetime.fromisoformat(at).astimezone().date()
            found[recipe] = KeptBrine(recipe, 0.0, on, batch)
    return {
        recipe: replace(one, ml=left[recipe])
        for recipe, one in found.items()
        if left[recipe] >= _NOTHING_ML
    }


def kept_brine(ledger: Ledger, recipe: str) -> KeptBrine | None:
    """What is kept of the brine of a recipe, by its key; None for nothing."""
    return brine_on_hand(ledger).get(recipe)


def keep_within(ledger: Ledger, action: int, batch: str, kept: Kept) -> None:
    """Keep so much clean brine of a batch; 0 ml: none is kept of its recipe any more.

    Inside ``writing`` only. Raises BatchError for a batch without a recipe.
    """
    check_recipe(kept.recipe)
    ml = kept.ml
    if ml == 0.0:
        before = kept_brine(ledger, kept.recipe)
        ml = 0.0 if before is None else -before.ml
    _write(ledger, action, batch, kept, ml)


def take_within(ledger: Ledger, action: int, batch: str, taken: Kept) -> None:
    """Take so much kept brine for a batch; inside ``writing`` only. Raises BatchError."""
    check_taken(kept_brine(ledger, taken.recipe), taken)
    _write(ledger, action, batch, taken, -taken.ml)


def give_back_within(ledger: Ledger, action: int, batch: str) -> None:
    """Keep again what a batch that is dropped had taken; inside ``writing`` only."""
    for recipe, ml in taken_by(ledger, batch).items():
        _write(ledger, action, batch, Kept(recipe, ml, _GIVEN_BACK), ml)


def taken_by(ledger: Ledger, batch: str) -> dict[str, float]:
    """Kept brine in ml that an open batch took, by recipe."""
    rows = ledger.rows(
        "SELECT recipe, -sum(ml) FROM kept_brine "
        f"WHERE batch = ? AND {STANDS} GROUP BY recipe HAVING sum(ml) < 0.0",
        batch,
    )
    return {str(recipe): float(ml) for recipe, ml in rows}


def check_recipe(recipe: str) -> None:
    """Raise BatchError where no recipe is named: brine is kept for the same recipe alone."""
    if not recipe:
        raise BatchError(
            "brine is kept for the same recipe's next pot, and this batch names no recipe; add it "
            "with --recipe, or 'jarcast amend NAME recipe=...'"
        )


def check_taken(kept: KeptBrine | None, taken: Kept) -> None:
    """Raise BatchError for more than is kept of a recipe."""
    check_recipe(taken.recipe)
    said = f"--kept-brine '{taken.typed}'"
    if kept is None:
        raise BatchError(f"{said}: no brine of the recipe '{taken.recipe}' is kept")
    if taken.ml > _OVER * kept.ml:
        raise BatchError(
            f"{said} is more than is kept of the recipe '{taken.recipe}': {kept.ml:.0f} ml, last "
            f"of batch '{kept.batch}' on {kept.on}"
        )


def _write(ledger: Ledger, action: int, batch: str, kept: Kept, ml: float) -> None:
    ledger.execute(
        "INSERT INTO kept_brine (action_id, recipe, batch, ml, typed) VALUES (?, ?, ?, ?, ?)",
        action, kept.recipe, batch, ml, kept.typed,
    )  # fmt: skip
