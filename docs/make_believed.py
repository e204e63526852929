"""Writes docs/reference/what-is-believed.md: a pint and a quart of the commonest crops.

    python docs/make_believed.py

What jarcast believes before any batch stands beside what is printed and what cooks say they got.
"""

import csv
import re
from collections.abc import Iterator, Mapping
from pathlib import Path

import numpy as np

from jarcast import habits_from
from jarcast.domain.jars import SHELF
from jarcast.measures import Units, format_volume, format_weight

ROOT = Path(__file__).resolve().parents[1]
SOURCES = ROOT / "models" / "sources"
PAGE = ROOT / "docs" / "reference" / "what-is-believed.md"
POUND_G = 453.59237  # exact: NIST Handbook 44, Appendix C
BATCH_LB = 10.0
CROPS = (
    ("cucumber", "whole", "raw"), ("cucumber", "spears", "raw"), ("cucumber", "slices", "hot"),
    ("gherkin", "whole", "hot"), ("green bean", "whole", "raw"), ("beet", "slices", "hot"),
    ("carrot", "sticks", "raw"), ("cauliflower", "florets", "hot"), ("asparagus", "spears", "raw"),
    ("okra", "whole", "raw"), ("bell pepper", "strips", "hot"), ("jalapeno", "rings", "raw"),
    ("banana pepper", "rings", "raw"), ("green tomato", "wedges", "raw"),
    ("cabbage", "shredded", "raw"), ("sauerkraut", "shredded", "raw"),
    ("zucchini", "slices", "hot"), ("mushroom", "whole", "hot"), ("radish", "slices", "raw"),
    ("brussels sprout", "whole", "hot"),
)  # fmt: skip
HEAD = """# What is believed of a jar

Of the twenty commonest crops: how much as bought jarcast believes to fill a jar, and how much brine
that jar takes, before it has seen a batch of yours, salted where a crop usually is. In brackets, 8
times in 10, for a batch of 10 lb. *Published* is what tested recipes and canning guides print,
*reported* what cooks and other pages say came of a weight they told: as bought, of this cut or of
one not said, brought to the volume of the jar, lowest to highest. Some of these no jar can hold.
The sources are in [models](../../models/README.md). Written by `docs/make_believed.py`.

| crop | jar | believed to buy | brine | published | reported |
| --- | --- | --- | --- | --- | --- |
"""


def table(name: str) -> list[dict[str, str]]:
    """Rows of a table of the sources."""
    with (SOURCES / f"{name}.csv").open(encoding="utf-8", newline="") as lines:
        return list(csv.DictReader(lines))


def published(produce: str, cut: str) -> Iterator[float]:
    """Grams as bought in a ml of jar, by what is printed of a produce."""
    for row in table("recipes"):
        if row["produce"] == produce and row["cut"] == cut and row["stage"] == "as bought":
            jars = (float(row["jars_low"] or 0) + float(row["jars_high"] or 0)) / 2.0
            if jars and row["id"] != "R40":  # its yield is from memory
                yield (
                    float(row["weight_lb"]) * POUND_G / (jars * SHELF[row["jar"]].fill_volume_ml())
                )
    for row in table("crop-quantities"):
        if row["produce"] == produce and row["cut"] in ("", cut) and not row["left_out"]:
            pounds = float(row["lb_per_9_pint_load"])
            yield pounds * POUND_G / (9 * SHELF["pint"].fill_volume_ml(1.0))


def reported(produce: str, cut: str) -> Iterator[float]:
    """Grams as bought in a ml of jar, by what cooks say."""
    for row in table("real-yields"):
        alike = row["produce"] == produce and row["cut"] in ("", cut)
        told_again = row["reported_kind"] == "copy"
        if alike and not told_again and row["basis"] == "as_bought" and "[W:told]" in row["note"]:
            told = re.search(r"\[hs=([\d.]+)\]", row["note"])
            fill = SHELF[row["jar"]].fill_volume_ml(float(told[1]) if told else None)
            yield float(row["weight_g"]) / (float(row["jars"]) * fill)


def span(found: Iterator[float], fill_ml: float) -> str:
    """Lowest and highest as weights of a jar; '-' for none."""
    grams = sorted(each * fill_ml for each in found)
    ends = dict.fromkeys(weight(each) for each in grams[:1] + grams[-1:])
    return " to ".join(ends) or "-"


def weight(grams: float) -> str:
    """A weight of a jar, as it is shown."""
    return format_weight(grams, Units.US)


def line(crop: tuple[str, str, str], jar: str) -> str:
    """One row of the table."""
    produce, cut, pack = crop
    found = habits_from([]).forecast(
        produce=produce, cut=cut, pack=pack, jar=jar, as_bought_g=BATCH_LB * POUND_G
    )
    grams = BATCH_LB * POUND_G / found.jars.draws
    brine = found.brine_ml.draws / found.jars.draws
    low, middle, high = (weight(each) for each in np.quantile(grams, (0.1, 0.5, 0.9)))
    fill_ml = SHELF[jar].fill_volume_ml()
    cells: Mapping[str, str] = {
        "crop": f"{produce}, {cut}, {pack}",
        "jar": jar,
        "believed": f"{middle} ({low} to {high})",
        "brine": "its own juice" if not brine.any() else brine_text(brine),
        "published": span(published(produce, cut), fill_ml),
        "reported": span(reported(produce, cut), fill_ml),
    }
    return "| " + " | ".join(cells.values()) + " |"


def brine_text(brine: "np.ndarray[tuple[int], np.dtype[np.float64]]") -> str:
    """Brine of a jar in ml, as it is shown, with its range."""
    low, middle, high = (
        format_volume(float(each), Units.US) for each in np.quantile(brine, (0.1, 0.5, 0.9))
    )
    return f"{middle} ({low} to {high})"


def page() -> str:
    """The whole page."""
    rows = [line(crop, jar) for crop in CROPS for jar in ("pint", "quart")]
    return HEAD + "\n".join(rows) + "\n"


if __name__ == "__main__":
    PAGE.write_text(page(), encoding="utf-8")
