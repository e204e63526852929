"""Make the demo history: three seasons of an invented household's batches.

    python data_demo/make_demo.py            writes batches.csv beside this script
    python data_demo/make_demo.py FILE       writes FILE

Everything here is invented: people, place, produce weights and jars. Each batch goes down the
chain (trim, cure, cook, pack, brine) with the household's own habits and some chance, and is then
written down the way people write. Only the standard library is used, and of its random numbers
only ``random()``, whose sequence for a seed is promised not to change between Python versions.
"""

import csv
import io
import math
import random
import sys
from fractions import Fraction
from pathlib import Path
from statistics import NormalDist
from typing import NamedTuple

SEED = 9  # of some thirty tried, one whose chance hides little of the 12 %

COLUMNS = (
    "batch", "date", "produce", "cut", "pack", "jar", "headspace_in", "as_bought", "trimmed",
    "salt", "cure_hours", "cured", "cooked", "jars", "brine_made", "brine_left", "sealed",
    "recipe", "note",
)  # fmt: skip

# Exact: NIST Handbook 44, Appendix C.
OUNCE_G = 28.349523125
POUND_G = 453.59237
CUP_ML = 236.5882365

# Capacity in ml (16 and 32 US fluid ounces) and width of the neck in mm, from memory.
JARS = {
    "pint": (473.176473, 60.0),
    "pint-wide": (473.176473, 76.0),
    "quart": (946.352946, 60.0),
    "quart-wide": (946.352946, 76.0),
}
HEADSPACE_IN = 0.5


class Crop(NamedTuple):
    """One produce x cut x pack as this household's kitchen has it.

    Shares of weight kept at each stage, cure keep after 24 hours; densities in g/ml, ``density``
    as a hand packs that is as tight as the published one.
    """

    produce: str
    cut: str
    pack: str
    trim: float
    density: float
    tissue: float
    cure: float | None = None
    cook: float | None = None


# Near what is published, each with a lean of its own.
CROPS = {
    "carrot": Crop("carrots", "sticks", "raw", 0.79, 0.61, 1.025),
    "slices": Crop("cucumbers", "slices", "raw", 0.96, 0.605, 0.965, cure=0.83),
    "spears": Crop("cucumbers", "spears", "raw", 0.93, 0.60, 0.965),
    "bean": Crop("green beans", "whole", "raw", 0.90, 0.54, 0.955),
    "beet": Crop("beets", "slices", "hot", 0.76, 0.69, 1.04, cook=0.95),
    "cauliflower": Crop("cauliflower", "florets", "hot", 0.52, 0.645, 0.955, cook=0.965),
    "pepper": Crop("bell peppers", "strips", "raw", 0.80, 0.575, 0.95),
    "daikon": Crop("daikon", "sticks", "raw", 0.83, 0.625, 1.0, cure=0.83),
    "fennel": Crop("fennel", "slices", "raw", 0.68, 0.58, 0.97),
}
NEVER_WEIGHED_COOKED = ("cauliflower",)
FRIDGE = ("daikon", "fennel")  # never canned: nothing to seal

# The hand that packs: this much of the published density at first, and this much more at the end.
FIRST_HAND = 0.88
TIGHTER = 1.12

# Spreads from batch to batch: trim in logits, the others in logs; jar to jar within a batch.
TRIM_SD, CURE_SD, COOK_SD, PACK_SD, JAR_SD = 0.15, 0.03, 0.04, 0.06, 0.05
LOSS_ML, LOSS_SD = 140.0, 0.3  # brine boiled off, spilt and stuck to the pot; spread in logs

SLIP = "25e"  # trimmed weight read in pounds and written down as kilograms
NO_BRINE = ("23d", "24i", "25k")  # brine not noted at all
NO_BRINE_LEFT = "23m"  # made, but what was left went down the sink unmeasured
GAP = 8  # one weight in so many is missing

# Date, crop, pounds as bought or picked, jars ('4 quart + pint': four quarts, the rest pints),
# hours in salt, remark.
PLAN: tuple[tuple[str, str, float, str, float, str], ...] = (
    ("2023-07-08", "bean", 4.0, "pint", 0, "first ones of the year, very thin"),
    ("2023-07-15", "slices", 5.5, "pint", 12, ""),
    ("2023-07-22", "bean", 5.0, "pint", 0, ""),
    ("2023-07-29", "spears", 7.0, "quart", 0, "Tobit's turn, got bored after six"),
    ("2023-08-05", "slices", 7.5, "pint", 14, ""),
    ("2023-08-12", "bean", 4.5, "pint", 0, ""),
    ("2023-08-19", "beet", 7.0, "pint", 0, "purple to the elbows"),
    ("2023-08-26", "pepper", 3.75, "pint", 0, ""),
    ("2023-08-27", "slices", 4.5, "pint", 10, "a few soft ones thrown out after salting"),
    ("2023-09-09", "carrot", 5.0, "pint", 0, ""),
    ("2023-09-16", "cauliflower", 8.5, "pint", 0, ""),
    ("2023-09-23", "carrot", 6.0, "pint-wide", 0, "wide ones are easier to fill"),
    ("2023-10-07", "beet", 8.5, "pint", 0, ""),
    ("2023-10-14", "carrot", 7.5, "pint", 0, "cut thinner than last time"),
    ("2024-07-06", "bean", 5.5, "pint", 0, ""),
    ("2024-07-13", "slices", 6.0, "pint", 12, ""),
    ("2024-07-20", "spears", 8.0, "quart", 0, ""),
    ("2024-07-27", "bean", 9.0, "quart", 0, "the tall ones, trimmed to the jar"),
    ("2024-08-03", "slices", 8.5, "pint", 12, ""),
    ("2024-08-04", "spears", 6.0, "quart-wide", 0, "big seedy ones"),
    ("2024-08-17", "bean", 4.0, "pint", 0, ""),
    ("2024-08-24", "pepper", 4.5, "pint", 0, "red and yellow"),
    ("2024-08-31", "beet", 6.5, "pint", 0, ""),
    ("2024-09-07", "daikon", 3.5, "pint-wide", 2, "first try, all in the fridge"),
    ("2024-09-14", "carrot", 8.0, "pint", 0, ""),
    ("2024-09-21", "cauliflower", 10.0, "pint", 0, "Wenna's sister helped"),
    ("2024-09-28", "fennel", 4.0, "pint", 0, "for the fridge"),
    ("2024-10-05", "pepper", 3.5, "pint", 0, "last of the greenhouse"),
    ("2024-10-12", "beet", 9.5, "pint", 0, ""),
    ("2024-10-19", "carrot", 5.5, "pint-wide", 0, ""),
    ("2025-07-05", "bean", 6.0, "pint", 0, "new scale, reads grams"),
    ("2025-07-12", "spears", 7.5, "quart-wide", 0, ""),
    ("2025-07-19", "slices", 8.0, "4 quart + pint", 12, "ran out of quarts"),
    ("2025-07-26", "bean", 7.5, "pint", 0, "two rows came in at once"),
    ("2025-08-02", "slices", 5.75, "pint", 12, "battery flat on salting day, took the old scale"),
    ("2025-08-09", "spears", 9.0, "quart", 0, ""),
    ("2025-08-23", "pepper", 5.0, "pint", 0, ""),
    ("2025-08-30", "slices", 6.5, "pint", 16, "forgot them, longer in salt than meant"),
    ("2025-09-06", "daikon", 4.0, "pint-wide", 3, "in the fridge"),
    ("2025-09-13", "carrot", 6.5, "pint", 0, ""),
    ("2025-09-20", "cauliflower", 9.0, "pint", 0, "florets on the small side"),
    ("2025-09-27", "fennel", 5.0, "pint", 0, "for the fridge"),
    ("2025-10-04", "beet", 8.0, "pint", 0, ""),
    ("2025-10-11", "carrot", 9.0, "pint", 0, ""),
    ("2025-10-18", "daikon", 3.75, "pint-wide", 2, "in the fridge"),
)
HALF_JAR_REMARKS = ("last jar went in the fridge", "", "half jar eaten for supper", "")


class Dice:
    """Chance, from one seed."""

    def __init__(self, seed: int) -> None:
        self._random = random.Random(seed)  # noqa: S311  # an invented history keeps no secret

    def normal(self, sd: float) -> float:
        """A normal number about nought."""
        return NormalDist(0.0, sd).inv_cdf(self.share())

    def share(self) -> float:
        """A number above 0 and below 1."""
        return min(max(self._random.random(), 1e-9), 1.0 - 1e-9)


def fill_ml(jar: str) -> float:
    """Volume of a jar up to the headspace, its neck taken as a cylinder."""
    capacity, bore_mm = JARS[jar]
    return capacity - math.pi * (bore_mm / 20.0) ** 2 * HEADSPACE_IN * 2.54


def fraction_text(amount: Fraction) -> str:
    """'4 1/2', '3/4', '6'."""
    whole, part = divmod(amount, 1)
    return " ".join(filter(None, (str(whole) if whole or not part else "", str(part or ""))))


def pounds_text(grams: float) -> str:
    """A weight on a scale of pounds and half ounces: '6 lb 4 1/2 oz'."""
    pounds, ounces = divmod(Fraction(round(2 * grams / OUNCE_G), 2), 16)
    parts = ((Fraction(pounds), "lb"), (ounces, "oz"))
    return " ".join(f"{fraction_text(amount)} {unit}" for amount, unit in parts if amount)


def metric_text(grams: float) -> str:
    """A weight on a scale that reads to 5 g: '865 g', '2.485 kg'."""
    rounded = 5 * round(grams / 5)
    return f"{rounded} g" if rounded < 1000 else f"{rounded / 1000:.3f} kg"


def cups_text(cups: Fraction) -> str:
    """'1 cup', '4 1/2 cups', and for whole cups from eight on quarts: '2 qt 1 cup'."""
    if cups >= 8 and cups.denominator == 1:
        quarts, rest = divmod(cups, 4)
        return f"{quarts} qt" + (f" {cups_text(rest)}" if rest else "")
    return f"{fraction_text(cups)} cup" + ("s" if cups > 1 or not cups else "")


def salt_text(trimmed_g: float) -> str:
    """Salt for a cure, by the spoon or the cup; this household's way, no recipe's."""
    spoons = max(2, round(0.035 * trimmed_g / 18.0))
    if spoons < 4:
        return f"{spoons} tbsp canning salt"
    cup = min((Fraction(n, d) for n, d in ((1, 4), (1, 3), (1, 2), (2, 3), (3, 4))),
              key=lambda share: abs(float(share) * 16 - spoons))  # fmt: skip
    return f"{cup} cup canning salt"


def cure_keep(keep_of_a_day: float, hours: float) -> float:
    """Share of weight kept after these hours in salt: most of the water leaves at first."""
    share = (1.0 - math.exp(-hours / 6.0)) / (1.0 - math.exp(-24.0 / 6.0))
    return math.exp(share * math.log(keep_of_a_day))


def stages(crop: Crop, bought_g: float, hours: float, dice: Dice) -> dict[str, float]:
    """True grams at each stage the batch goes through, in order."""
    odds = math.log(crop.trim / (1.0 - crop.trim)) + dice.normal(TRIM_SD)
    grams = {"as_bought": bought_g, "trimmed": bought_g / (1.0 + math.exp(-odds))}
    if crop.cure is not None:
        keep = cure_keep(crop.cure, hours) * math.exp(dice.normal(CURE_SD))
        grams["cured"] = grams["trimmed"] * min(keep, 0.99)
    if crop.cook is not None:
        grams["cooked"] = grams["trimmed"] * crop.cook * math.exp(dice.normal(COOK_SD))
    return grams


def fill(jars: str, volume: float) -> dict[str, float]:
    """Which jars a volume fills, the last sort to the half jar."""
    filled: dict[str, float] = {}
    *first, last = jars.split(" + ")
    for part in first:
        count, jar = part.split()
        filled[jar] = float(count)
        volume -= filled[jar] * fill_ml(jar)
    filled[last] = round(2.0 * volume / fill_ml(last)) / 2.0
    return filled


def brine(crop: Crop, ready_g: float, volume: float, dice: Dice) -> tuple[str, str, str]:
    """Brine made and left as written, and a remark when a second pot was needed."""
    needed = volume - ready_g / crop.tissue + LOSS_ML * math.exp(dice.normal(LOSS_SD))
    guess = 1.18 * (0.43 * volume + LOSS_ML) * math.exp(dice.normal(0.10))
    pot = Fraction(math.ceil(2.0 * guess / CUP_ML), 2)
    more = Fraction(0)
    while (pot + more) * Fraction(CUP_ML) < needed:
        more += 2
    left = Fraction(math.floor(4.0 * (float(pot + more) - needed / CUP_ML) + 0.5), 4)
    made = cups_text(pot) + (f" + {cups_text(more)}" if more else "")
    return made, cups_text(left), "ran short, heated more" if more else ""


def make_batch(name: str, number: int, dice: Dice) -> dict[str, str]:
    """One batch as it would be written down with nothing forgotten."""
    date, key, pounds, jars, hours, remark = PLAN[number]
    crop = CROPS[key]
    bought_g = pounds * POUND_G * math.exp(dice.normal(0.05))
    grams = stages(crop, bought_g, hours, dice)
    ready_g = list(grams.values())[-1]
    hand = FIRST_HAND * TIGHTER ** (number / (len(PLAN) - 1))
    spread = math.hypot(PACK_SD, JAR_SD / math.sqrt(8))  # some eight jars to a batch
    density = crop.density * hand * math.exp(dice.normal(spread))
    volume = ready_g / density
    filled = fill(jars, volume)
    total = sum(filled.values())
    made, left, short = brine(crop, ready_g, volume, dice)
    failed = dice.share() < 1 / 14 and key not in FRIDGE
    remarks = [remark, short, "one lid did not take, eaten first" if failed else ""]
    if total % 1 and key not in FRIDGE:
        remarks.append(HALF_JAR_REMARKS[number % len(HALF_JAR_REMARKS)])
    weigh = metric_text if date >= "2025" else pounds_text
    written = {stage: weigh(amount) for stage, amount in grams.items()}
    if name == SLIP:
        written["trimmed"] = f"{grams['trimmed'] / POUND_G:.1f} kg"
    if key in NEVER_WEIGHED_COOKED:
        del written["cooked"]
    return {
        "batch": name, "date": date, "produce": crop.produce, "cut": crop.cut, "pack": crop.pack,
        "jar": " + ".join(filled), "headspace_in": str(HEADSPACE_IN), **written,
        "salt": salt_text(grams["trimmed"]) if hours else "", "cure_hours": f"{hours:g}",
        "jars": " + ".join(f"{count:g}" for count in filled.values()),
        "brine_made": made, "brine_left": left,
        "sealed": "" if key in FRIDGE else str(math.floor(total) - failed),
        "note": "; ".join(filter(None, remarks)),
    }  # fmt: skip


def forget(rows: list[dict[str, str]], dice: Dice) -> None:
    """Leave out what was not written down."""
    weighed = [
        (row, stage)
        for row in rows
        for stage in ("as_bought", "trimmed", "cured", "cooked")
        if row.get(stage) and row["batch"] != SLIP
    ]
    for row in rows:
        if row["batch"] in NO_BRINE:
            row["brine_made"] = row["brine_left"] = ""
        if row["batch"] == NO_BRINE_LEFT:
            row["brine_left"] = ""
        if row["batch"] == SLIP:
            row["as_bought"] = ""
        if row["cure_hours"] == "0" and dice.share() < 1 / GAP:
            row["cure_hours"] = ""
    missing = round((len(weighed) + 3) / GAP) - 1  # the slip's batch was weighed three times
    for row, stage in sorted(weighed, key=lambda _: dice.share())[:missing]:
        row[stage] = ""


def batch_names() -> list[str]:
    """The year and a letter: '23a', '23b', ..."""
    years = [date[2:4] for date, *_ in PLAN]
    return [f"{year}{chr(ord('a') + years[:i].count(year))}" for i, year in enumerate(years)]


def demo_csv() -> str:
    """The whole history as CSV text."""
    dice = Dice(SEED)
    rows = [make_batch(name, number, dice) for number, name in enumerate(batch_names())]
    forget(rows, dice)
    text = io.StringIO()
    writer = csv.DictWriter(text, COLUMNS, restval="", lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows)
    return text.getvalue()


if __name__ == "__main__":
    here = Path(__file__).resolve().parent / "batches.csv"
    target = Path(sys.argv[1]) if len(sys.argv) > 1 else here
    target.write_text(demo_csv(), encoding="utf-8", newline="")
