"""Clean brine kept of one batch for the next pot of the same recipe."""

import datetime as dt
import math

from msgspec import Struct
from msgspec.structs import replace

from jarcast.errors import BatchError
from jarcast.ledger.card_texts import CardText, cards_of, keep_card_of
from jarcast.ledger.schema import STANDS
from jarcast.ledger.store import Ledger
from jarcast.measures.told import volumes_told

_NOTHING_ML = 1.0  # less than a teaspoon counts as none
_GIVEN_BACK = "given back"  # stands where others have what was typed
_OVER = 1.01  # a measure may be read a hair larger than it was kept


class Kept(Struct, frozen=True):
    """Brine as it was typed: put by of one batch, or taken for one; ``recipe`` is a key.

    ``card`` are the words of the recipe's card that it was made by; None for a name alone.
    """

    recipe: str
    ml: float
    typed: str
    card: CardText | None = None


class KeptBrine(Struct, frozen=True):
    """Brine kept of a recipe, in ml; when some was last put by, and of which batch.

    ``cards`` are the words of the cards that it was made by, as far as they were kept with it.
    """

    recipe: str
    ml: float
    on: dt.date
    batch: str
    cards: tuple[CardText, ...] = ()


class _Lots:
    """What was put by of one recipe, by the actions it was put by in; the oldest is taken first."""

    def __init__(self) -> None:
        self.there: list[tuple[int, float]] = []
        self._taken: list[tuple[int, float]] = []

    def move(self, action: int, ml: float, *, given_back: bool) -> None:
        """Put by so much, take it where it is below 0, or put back what was taken last."""
        if given_back:
            self.there[:0] = _split_off(self._taken, ml, last=True)
        elif ml > 0.0:
            self.there.append((action, ml))
        else:
            self._taken += _split_off(self.there, -ml, last=False)

    @property
    def ml(self) -> float:
        return math.fsum(ml for _, ml in self.there)


def _split_off(lots: list[tuple[int, float]], ml: float, *, last: bool) -> list[tuple[int, float]]:
    """So much of these lots, taken off their end, in their order."""
    off: list[tuple[int, float]] = []
    while lots and ml > 0.0:
        action, there = lots.pop() if last else lots.pop(0)
        part = min(there, ml)
        off.insert(0 if last else len(off), (action, part))
        ml -= part
        if there - part > 0.0:
            lots.insert(len(lots) if last else 0, (action, there - part))
    return off


def brine_on_hand(ledger: Ledger) -> dict[str, KeptBrine]:
    """What is kept of the brine of each recipe, by its key; none that nothing is kept of."""
    rows = ledger.rows(
        "SELECT k.recipe, k.ml, k.batch, action.at, k.typed, k.action_id FROM kept_brine AS k "
        f"JOIN action ON action.id = k.action_id WHERE {STANDS} ORDER BY k.id"
    )
    found: dict[str, KeptBrine] = {}
    lots: dict[str, _Lots] = {}
    for recipe, ml, batch, at, typed, action in rows:
        back = typed == _GIVEN_BACK
        lots.setdefault(recipe, _Lots()).move(int(action), float(ml), given_back=back)
        if ml > 0.0 and not back:
            on = dt.datetime.fromisoformat(at).astimezone().date()
            found[recipe] = KeptBrine(recipe, 0.0, on, batch)
    kept = {recipe: one for recipe, one in found.items() if lots[recipe].ml >= _NOTHING_ML}
    if not kept:
        return {}
    cards = cards_of(ledger, {action for recipe in kept for action, _ in lots[recipe].there})
    return {
        recipe: replace(
            one,
            ml=lots[recipe].ml,
            cards=tuple({cards[a] for a, _ in lots[recipe].there if a in cards}),
        )
        for recipe, one in kept.items()
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
    if kept.ml > 0.0 and kept.card is not None:
        keep_card_of(ledger, action, kept.card)


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
        _, there = volumes_told(taken.ml, kept.ml)
        raise BatchError(
            f"{said} is more than is kept of the recipe '{taken.recipe}': {there}, last of "
            f"batch '{kept.batch}' on {kept.on}"
        )


def _write(ledger: Ledger, action: int, batch: str, kept: Kept, ml: float) -> None:
    ledger.execute(
        "INSERT INTO kept_brine (action_id, recipe, batch, ml, typed) VALUES (?, ?, ?, ?, ?)",
        action, kept.recipe, batch, ml, kept.typed,
    )  # fmt: skip
