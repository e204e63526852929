"""Builds starting-beliefs.json from the published tables in sources/.

Run it after changing a table: ``python models/build_beliefs.py``; ``--check`` only compares.
Nothing is set by hand here: a value without a publication is a row of sources/practice.csv,
people.csv, anything.csv or scales.csv, with its basis beside it. The method is in pooling.py; what
makes a table be refused is in checking.py.
"""

import argparse
import json
import math
import re
import sys
from collections import defaultdict
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

from checking import check_sources
from pooling import SOURCES, Crops, Point, Quantity, Scales, from_scale, table, to_scale

from jarcast.domain.jars import SHELF
from jarcast.errors import BeliefsError
from jarcast.learning.model.beliefs import FORMAT, VERSION
from jarcast.learning.model.links import cure_strength
from jarcast.pooling.write import beliefs_text

OUTPUT = Path(__file__).resolve().parent / "starting-beliefs.json"
GRAMS_PER_LB = 453.59237  # exact: NIST Handbook 44, Appendix C
ML_PER_CUP = 236.5882365  # exact: NIST Handbook 44, Appendix C
READ = "copy read"
PUBLISHED = (
    "trim-yields",
    "cup-weights",
    "containers",
    "recipes",
    "crop-quantities",
    "tissue-densities",
)

Row = Mapping[str, str]


def people() -> dict[str, dict[str, Any]]:
    """How far people and batches differ, link by link, and the pot loss, each with its source."""
    found: dict[str, dict[str, Any]] = defaultdict(dict)
    for row in table("people"):
        found[row["link"]][row["name"]] = float(row["value"])
        note = f"{row['name']}: {row['basis']}"
        found[row["link"]]["source"] = "; ".join(
            text for text in (found[row["link"]].get("source"), note) if text
        )
    return dict(found)


class Evidence:
    """The tables in sources/ as points, without the sources left out."""

    def __init__(self, exclude: frozenset[str]) -> None:
        self.exclude, self.crops = exclude, Crops()
        self.left_out: dict[str, str] = {}
        self._without: dict[frozenset[str], Quantity] = {}
        self.noise, self.fullest = Scales("density").noise, Scales("density").centre["fullest"]
        self.cup = {row["id"]: float(row["grams_per_cup"]) for row in table("cup-weights")}
        self.quantities: dict[str, Quantity] = {}
        for name in ("trim_yield", "cure_keep", "cook_keep", "tissue", "density"):
            points = [*getattr(self, f"_{name}", list)(), *self._practice(name)]
            self.quantities[name] = Quantity(name, points, self.crops)

    def unprinted(self, recipes: frozenset[str]) -> Quantity:
        """The density that follows without these recipes."""
        if recipes not in self._without:
            self._without[recipes] = self.quantities["density"].without(recipes)
        return self._without[recipes]

    def _used(self, name: str) -> Iterable[dict[str, str]]:
        for row in table(name):
            if row.get("left_out"):
                self.left_out[row["id"]] = row["left_out"]
            elif row["id"] not in self.exclude and row.get("recipe") not in self.exclude:
                yield row

    def _point(self, row: Row, kind: str, y: float, sd: float = 0.0, memory: float = 0.0) -> Point:
        read = row["seen"] == READ
        return Point(
            row["id"], kind, y, sd if read else math.hypot(sd, memory),
            row["produce"], row.get("cut", ""), row.get("pack", ""),
            basis="published" if read else "from memory",
        )  # fmt: skip

    def _practice(self, name: str) -> Iterable[Point]:
        """What cooks say. Said of a kin, it holds for its produce without a row of their own."""
        rows = [row for row in self._used("practice") if row["quantity"] == name]
        own = {row["produce"] for row in rows}
        for row in rows:
            y = to_scale(name, float(row["value"]))
            kin = (each for each, its in self.crops.kin.items() if its == row["kin"])
            for produce in (
                [row["produce"]] if row["produce"] else [each for each in kin if each not in own]
            ):
                if not self.crops.parts[produce] or row["produce"]:
                    yield Point(
                        row["id"], "practice", y, 0.0,
                        produce, row["cut"], row["pack"], row["basis"],
                    )  # fmt: skip

    def _trim_yield(self) -> Iterable[Point]:
        memory = Scales("trim_yield").noise["from memory"]
        for row in self._used("trim-yields"):
            y = to_scale("trim_yield", float(row["yield_percent"]) / 100.0)
            yield self._point(row, "published", y, memory=memory)

    def _tissue(self) -> Iterable[Point]:
        for row in self._used("tissue-densities"):
            low, high = float(row["low"]), float(row["high"])
            yield self._point(row, "published", math.log((low + high) / 2), (high - low) / 4)

    def _density(self) -> Iterable[Point]:
        for row in self._used("cup-weights"):
            grams = float(row["grams_per_cup"])
            yield self._point(row, row["kind"], math.log(grams / ML_PER_CUP))
        for row in self._used("containers"):
            grams, ml = float(row["grams"]), float(row["millilitres"])
            yield self._point(row, row["kind"], math.log(grams / ml))
        yield from self._recipes()
        yield from self._reports()
        for row in self._used("crop-quantities"):
            loads = (("lb_per_7_quart_load", 7, "quart"), ("lb_per_9_pint_load", 9, "pint"))
            logs = [
                math.log(
                    float(row[column]) * GRAMS_PER_LB / (jars * SHELF[jar].fill_volume_ml(1.0))
                )
                for column, jars, jar in loads
            ]
            change, sd = self._chain(row, "as bought", 0.0)
            y = sum(logs) / len(logs) + change
            yield self._point(row, "quantity", y, sd, self.noise["from memory"])

    def _recipes(self) -> Iterable[Point]:
        cups: dict[str, float] = defaultdict(float)
        for row in table("recipe-cups"):
            cups[row["recipe"]] += float(row["cups"]) * self.cup[row["cup_weight"]]
        for row in self._used("recipes"):
            grams = float(row["weight_lb"] or 0) * GRAMS_PER_LB or cups[row["id"]]
            headspace = float(row["headspace_in"]) if row["headspace_in"] else None
            jars = (float(row["jars_low"]) + float(row["jars_high"])) / 2.0
            fill = jars * SHELF[row["jar"]].fill_volume_ml(headspace)
            change, sd = self._chain(row, row["stage"], float(row["cure_hours"]))
            y = math.log(grams / fill) + change
            if self._too_full(row, y):
                continue
            sd = math.hypot(sd, 0.0 if row["weight_lb"] else self.noise["cups"])
            yield self._point(row, "recipe", y, sd, self.noise["from memory"])

    def _tissue_of(self, row: Row) -> float:
        return math.exp(self.quantities["tissue"].about(row["produce"], row["cut"])[0])

    def _too_full(self, row: Row, y: float) -> bool:
        """Whether a log density is more than jars can hold; its source is then left out."""
        tissue = self._tissue_of(row)
        if math.exp(y) <= self.fullest * tissue:
            return False
        self.left_out[row["id"]] = (
            f"prints more than its jars can hold: {math.exp(y):.2f} g of produce a ml of "
            f"jar, where the produce itself weighs {tissue:.2f} g a ml"
        )
        return True

    def _reports(self) -> Iterable[Point]:
        """What cooks say they got, where they told the weight; a recipe told again is no report."""
        for row in self._used("real-yields"):
            if "[W:told]" not in row["note"] or row["reported_kind"] == "copy":
                continue
            told = re.search(r"\[hs=([\d.]+)\]", row["note"])
            fill = SHELF[row["jar"]].fill_volume_ml(float(told[1]) if told else None)
            stages = {"as_bought": ["as bought"], "trimmed": ["trimmed"]}
            # A weight of no told stage lies as likely before the knife as after it.
            chains = [
                self._chain(row, stage, float(row["cured_hours"] or 0.0))
                for stage in stages.get(row["basis"], ["as bought", "trimmed"])
            ]
            changes = [change for change, _ in chains]
            sd = math.hypot(max(sd for _, sd in chains), (max(changes) - min(changes)) / 2.0)
            change = sum(changes) / len(changes)
            y = math.log(float(row["weight_g"]) / (float(row["jars"]) * fill)) + change
            # Not all that was weighed went into jars; without these the loose ones would be left.
            y = min(y, math.log(self.fullest * self._tissue_of(row)))
            yield Point(
                row["id"], "report", y, sd, row["produce"], row["cut"], row["pack"],
                basis="reported",
            )  # fmt: skip

    def _chain(self, row: Row, stage: str, cure_hours: float) -> tuple[float, float]:
        """Log of ready weight over the weight given, and its sd."""
        change = variance = 0.0
        if stage == "as bought":
            logit, sd = self.quantities["trim_yield"].about(row["produce"], row["cut"])
            share = from_scale("trim_yield", logit)
            change, variance = math.log(share), ((1.0 - share) * sd) ** 2
        cure = cure_strength(cure_hours)
        hot = 1.0 if row["pack"] == "hot" else 0.0
        for name, strength in (("cure_keep", cure), ("cook_keep", hot)):
            log_keep, sd = self.quantities[name].about(row["produce"], row["cut"])
            change += strength * log_keep
            variance += (strength * sd) ** 2
        return change, math.sqrt(variance)


def _crop(evidence: Evidence, produce: str, cut: str, pack: str, cured: str) -> dict[str, Any]:
    """One row of the beliefs file."""
    row: dict[str, Any] = {"produce": produce, "cut": cut, "pack": pack, "cured": cured}
    for name, quantity in evidence.quantities.items():
        centre, spread = quantity.about(produce, cut, pack)
        sources, basis = quantity.evidence(produce, cut)
        row[name] = {
            "centre": round(from_scale(name, centre), 4),
            "spread": round(spread, 3),
            "evidence": sorted(set(sources)),
            "basis": basis,
        }
    density = evidence.quantities["density"]
    printed = frozenset(
        density.points[i].source
        for i in density.direct(produce, cut)
        if density.points[i].kind == "recipe"
    )
    if printed:
        centre, spread = evidence.unprinted(printed).about(produce, cut, pack)
        row["unprinted"] = {
            "centre": round(from_scale("density", centre), 4), "spread": round(spread, 3),
        }  # fmt: skip
    return row


def _crops(evidence: Evidence) -> Iterable[dict[str, Any]]:
    """Every produce of any cut, every cut of any pack, and the usual packs of each."""
    cuts: dict[str, list[Row]] = defaultdict(list)
    for line in table("crops"):
        cuts[line["produce"]].append(line)
    for produce, general in evidence.crops.rows.items():
        packs = {pack for row in cuts[produce] for pack in row["packs"].split(" + ")}
        for pack in ("", *sorted(packs)):
            yield _crop(evidence, produce, "", pack, general["cured"])
        for row in cuts[produce]:
            for pack in ("", *row["packs"].split(" + ")):
                yield _crop(evidence, produce, row["cut"], pack, row["cured"])


def _sources(evidence: Evidence) -> dict[str, dict[str, str]]:
    """Where each piece of evidence was published, or that it was not."""
    found: dict[str, dict[str, str]] = {}
    published = [row for name in PUBLISHED for row in table(name)]
    for row in published:
        found[row["id"]] = {
            "publication": row["source"],
            "year": row["publisher_year"],
            "page": row["section_or_page"],
            "seen": row["seen"],
            "link": row["link"],
        }
    for row in table("real-yields"):
        found[row["id"]] = {
            "publication": row["title"], "seen": "search excerpt", "link": row["link"],
        }  # fmt: skip
    for row in table("practice"):
        found[row["id"]] = {"publication": row["basis"], "note": row["note"]}
    for name, reason in evidence.left_out.items():
        found[name]["left_out"] = reason
    return {name: found[name] for name in sorted(found) if name not in evidence.exclude}


def build(exclude: frozenset[str] = frozenset()) -> dict[str, Any]:
    """The beliefs file, made without the sources in ``exclude`` (their ids).

    Raises BeliefsError, naming file and line, for a table that names what is not there.
    """
    check_sources(SOURCES)
    evidence = Evidence(exclude)
    anything: dict[str, Any] = {"cured": "sometimes"}
    for row in table("anything"):
        anything[row["quantity"]] = {
            "centre": float(row["centre"]),
            "spread": float(row["spread"]),
            "evidence": [],
            "basis": row["basis"],
        }
    return {
        "format": FORMAT,
        "version": VERSION,
        "people": people(),
        "crops": list(_crops(evidence)),
        "anything": anything,
        "sources": _sources(evidence),
    }


def same(one: object, other: object) -> bool:
    """Equal but for the last printed digit, which another machine may round the other way."""
    if isinstance(one, dict) and isinstance(other, dict):
        return one.keys() == other.keys() and all(same(one[key], other[key]) for key in one)
    if isinstance(one, list) and isinstance(other, list):
        return len(one) == len(other) and all(map(same, one, other))
    if isinstance(one, float) and isinstance(other, float):
        return abs(one - other) <= 0.00101
    return one == other


def main(arguments: list[str] | None = None) -> int:
    parser = argparse.ArgumentParser(description="Build the starting beliefs from models/sources.")
    parser.add_argument("--check", action="store_true", help="only compare with the file")
    options = parser.parse_args(arguments)
    try:
        beliefs = build()
    except BeliefsError as error:
        sys.stderr.write(f"{error}. Nothing was written.\n")
        return 1
    if not options.check:
        OUTPUT.write_text(beliefs_text(beliefs), encoding="utf-8")
        sys.stdout.write(f"wrote {OUTPUT.name}: {len(beliefs['crops'])} rows\n")
        return 0
    if OUTPUT.exists() and same(json.loads(OUTPUT.read_text(encoding="utf-8")), beliefs):
        return 0
    sys.stderr.write(f"{OUTPUT.name} is not what sources/ gives: run build_beliefs.py\n")
    return 1


if __name__ == "__main__":
    sys.exit(main())
