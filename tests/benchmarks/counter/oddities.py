"""What makes a batch odd: part of it was not jarred, or a slip of the pen; and its brine.

- Not jarred: a share of 20 to 60 %, even, of the ready produce went into no jar and nobody wrote
  that down; the weights are those of all of it, the jars and the brine of the rest.
- A slip: one value that was recorded is twice or half, or ten times or a tenth, of what it
  should be; a weight may be pounds for kilograms or the other way about; or two neighbouring
  figures of the number changed places. Each column and each of these as likely as another.
- Half of the odd ones are of one sort, half of the other.
- The brine is not recorded, in no batch of the history; or it is, with what was left; or it is,
  and of the odd one the pot was empty. Then it ran out, and 80 to 100 % of what was needed was
  made; or, in half of the batches that were not all jarred, the rest of the brine went over the
  rest of the produce in a bowl: all that was made is gone, more than the jars took.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from accuracy.households import QUARTER_CUP_ML
from msgspec.structs import replace as written_otherwise

from counter.kitchens import Cooked, Kitchen, cook, planned, written
from jarcast.domain.batch import Batch

UNWRITTEN, WRITTEN, EMPTY = "brine not written", "brine written", "pot empty"
BRINES = (UNWRITTEN, WRITTEN, EMPTY)
LB_FOR_KG = 1 / 0.45359237  # exact: the international pound
_ASIDE = (0.2, 0.6)
_RAN_OUT = (0.8, 1.0)
_COLUMNS = ("as_bought_g", "trimmed_g", "cured_g", "cooked_g", "brine_made_ml", "brine_left_ml")
_FACTORS = (2.0, 0.5, 10.0, 0.1)


@dataclass(frozen=True)
class Oddity:
    """What is odd: batch ``place`` of the history, ``aside`` the share not jarred or 0 for a slip.

    ``column`` and ``slip``, even in 0 to 1, choose the value and what befell it; ``over_rest``
    whether the brine left went over the produce left, ``ran_out`` the share made of what was
    needed where it did not.
    """

    place: int
    aside: float
    column: float
    slip: float
    over_rest: bool
    ran_out: float


def draw_oddity(own: int, rng: np.random.Generator) -> Oddity:
    """The odd one among so many batches."""
    aside = float(rng.uniform(*_ASIDE))
    not_jarred = bool(rng.random() < 0.5)
    return Oddity(
        place=int(rng.integers(own)),
        aside=aside if not_jarred else 0.0,
        column=float(rng.random()),
        slip=float(rng.random()),
        over_rest=bool(rng.random() < 0.5) and not_jarred,
        ran_out=float(rng.uniform(*_RAN_OUT)),
    )


def clean_history(kitchen: Kitchen, own: int, brine: str) -> list[Batch]:
    """The first batches as they were, the brine recorded or not."""
    return [_with_brine(batch, brine) for batch in kitchen.history(own)]


def odd_history(kitchen: Kitchen, own: int, odd: Oddity, brine: str) -> list[Batch]:
    """The first batches, one of them odd."""
    history = clean_history(kitchen, own, brine)
    one = as_cooked(kitchen, odd)
    batch = written(kitchen, one, kitchen.scale_g(odd.place, own))
    if brine == EMPTY:
        batch = written_otherwise(batch, **emptied(one, odd))
    batch = _with_brine(batch, brine)
    history[odd.place] = batch if odd.aside else slipped(batch, odd)
    return history


def as_cooked(kitchen: Kitchen, odd: Oddity) -> Cooked:
    """The odd batch as it really went."""
    household, i = kitchen.household, odd.place
    one = cook(
        kitchen, household.clean[i], household.crop_of[i], household.settings[i], i,
        tag=i, aside=odd.aside,
    )  # fmt: skip
    return planned(kitchen.world, one, kitchen.cooked[:i])


def _with_brine(batch: Batch, brine: str) -> Batch:
    if brine != UNWRITTEN:
        return batch
    return written_otherwise(batch, brine_made_ml=None, brine_left_ml=None)


def emptied(one: Cooked, odd: Oddity) -> dict[str, float]:
    """Brine made and left, in ml, of a batch whose pot was empty in the end."""
    need, made = one.packing.need_ml, one.made_ml
    if not (odd.over_rest and made > need):
        made = max(int(odd.ran_out * need / QUARTER_CUP_ML), 1) * QUARTER_CUP_ML
    return {"brine_made_ml": made, "brine_left_ml": 0.0}


def slipped(batch: Batch, odd: Oddity) -> Batch:
    """The batch with a slip in one of the values that were recorded."""
    columns = [name for name in _COLUMNS if getattr(batch, name)] + ["jars"]
    name = columns[int(odd.column * len(columns))]
    value = batch.jars[0] if name == "jars" else getattr(batch, name)
    wrong = _wrong(value, name, odd.slip)
    return written_otherwise(batch, **{name: (wrong,) if name == "jars" else wrong})


def _wrong(value: float, name: str, chance: float) -> float:
    """A value as a slip leaves it; counts to the half jar."""
    weight = name.endswith("_g")
    factors = (*_FACTORS, *((LB_FOR_KG, 1 / LB_FOR_KG) if weight else ()))
    choice = int(chance * (len(factors) + 1))
    wrong = swapped(value) if choice == len(factors) else value * factors[choice]
    return max(round(2.0 * wrong), 1) / 2.0 if name == "jars" else wrong


def swapped(value: float) -> float:
    """The number with its first two neighbouring figures that differ changed about; else twice it.

    A first figure is never exchanged for a nought.
    """
    text = f"{value:.1f}"
    for i in range(len(text) - 1):
        a, b = text[i], text[i + 1]
        if a == "." or b == "." or a == b or (i == 0 and b == "0"):
            continue
        return float(text[:i] + b + a + text[i + 2 :])
    return 2.0 * value


def next_of(kitchen: Kitchen, own: int, crops: Sequence[int], same: bool) -> Cooked | None:
    """The first batch after the history whose crop is among these, or is not."""
    later = (one for one in kitchen.cooked[own:] if (one.crop in crops) == same)
    return next(later, None)
