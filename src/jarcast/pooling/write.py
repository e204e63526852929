"""Pooled beliefs as a beliefs file: the published rows moved, and new crops added."""

import json
import math
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any, NamedTuple

from jarcast._version import __version__
from jarcast.domain.names import cut_key, pack_key, produce_key
from jarcast.domain.stages import Link
from jarcast.files.whole import write_whole_text
from jarcast.learning.model.beliefs import FORMAT, QUANTITIES, VERSION, Beliefs, CropBelief, People
from jarcast.learning.model.links import density_limit, limited, logit, unlimited
from jarcast.pooling.combine import Pooled
from jarcast.pooling.reduce import crop_loadings

Crop = tuple[str, str, str]
SOURCE = "POOL"


def pooled_document(pooled: Pooled, raw: Mapping[str, Any], beliefs: Beliefs) -> dict[str, Any]:
    """The document of a beliefs file.

    ``raw`` is the file that ``beliefs`` were read from: the households were reduced with them, and
    they stand where no household says anything.
    """
    rows = {_key(row): row for row in raw["crops"]}
    for crop in _new_crops(pooled, rows):
        rows[crop] = _as_believed(crop, beliefs)
    return {
        "format": FORMAT,
        "version": VERSION,
        "label": f"published yields and {pooled.households} households",
        "pooled": {
            "households": pooled.households,
            "batches": pooled.batches,
            "jarcast": __version__,
            "off_the_books": _roots(pooled, "off"),
            "between_kitchens": _roots(pooled, "apart"),
        },
        "people": _people(pooled, raw["people"]),
        "crops": [_row(crop, row, pooled, beliefs) for crop, row in rows.items()],
        "anything": raw["anything"],
        "sources": {**raw.get("sources", {}), SOURCE: _source(pooled)},
    }


def beliefs_text(document: Mapping[str, Any]) -> str:
    """JSON with one crop or source a line, so that changes are easy to read; floats are exact."""
    parts = []
    for key, value in document.items():
        if isinstance(value, list):
            body = ",\n".join(f"  {_json(item)}" for item in value)
            text = f"[\n{body}\n ]"
        elif isinstance(value, dict):
            body = ",\n".join(f"  {_json(k)}: {_json(v)}" for k, v in value.items())
            text = f"{{\n{body}\n }}"
        else:
            text = _json(value)
        parts.append(f" {_json(key)}: {text}")
    return "{\n" + ",\n".join(parts) + "\n}\n"


def write_beliefs(document: Mapping[str, Any], path: Path) -> None:
    """Write a beliefs file, whole or not at all.

    Raises JarcastError if it cannot be written; a file that was there is then unchanged.
    """
    text = beliefs_text(document)
    write_whole_text(path, lambda stream: stream.write(text), "beliefs.json")


class Change(NamedTuple):
    """One quantity of one crop, before pooling and after."""

    crop: Crop
    quantity: str
    before: float
    after: float
    households: int
    batches: int


def changes(document: Mapping[str, Any], raw: Mapping[str, Any]) -> list[Change]:
    """Centres that moved, of crops that households put up, the largest change first."""
    there = {_key(row): row for row in raw["crops"]}
    found = []
    for row in document["crops"]:
        if "pooled" not in row or _key(row) not in there:
            continue
        for name in QUANTITIES.values():
            before, after = there[_key(row)][name]["centre"], row[name]["centre"]
            found.append(Change(_key(row), name, before, after, *row["pooled"].values()))
    return sorted(found, key=lambda one: -abs(math.log(one.after / one.before)))


def _json(value: object) -> str:
    return json.dumps(value, ensure_ascii=False, allow_nan=False)


def _key(row: Mapping[str, Any]) -> Crop:
    return produce_key(row["produce"]), cut_key(row["cut"]), pack_key(row["pack"])


def _new_crops(pooled: Pooled, rows: Mapping[Crop, Any]) -> Iterator[Crop]:
    """Crops that households put up but no row covers: in any cut, in any pack, and as put up."""
    wanted = [
        crop
        for produce, cut, pack in pooled.crops
        for crop in ((produce, "", ""), (produce, cut, ""), (produce, cut, pack))
    ]
    yield from (crop for crop in dict.fromkeys(wanted) if crop not in rows)


def _as_believed(crop: Crop, beliefs: Beliefs) -> dict[str, Any]:
    """A row with what was believed of a crop that had none of its own."""
    belief = beliefs.crop(*crop)
    cured = "usual" if belief.cured > 0.6 else "sometimes" if belief.cured > 0.2 else "never"
    row: dict[str, Any] = dict(zip(("produce", "cut", "pack"), crop, strict=True))
    row["cured"] = cured
    for name in QUANTITIES.values():
        there = getattr(belief, name)
        row[name] = {
            "centre": there.centre,
            "spread": there.spread,
            "evidence": [],
            "basis": f"{belief.known} of this crop's own",
        }
    return row


def _row(crop: Crop, row: Mapping[str, Any], pooled: Pooled, beliefs: Beliefs) -> dict[str, Any]:
    found = dict(row)
    belief = beliefs.crop(*crop)
    tissue, _ = _moved(Link.BRINE, crop, belief, pooled, beliefs, belief.tissue.centre)
    for link, name in QUANTITIES.items():
        centre, share = _moved(link, crop, belief, pooled, beliefs, tissue)
        there = row[name]
        found[name] = {
            **there,
            "centre": centre,
            # In proportion to what was believed, as a row for any cut is widened when it is read.
            "spread": there["spread"] * share,
            "evidence": [*there.get("evidence", []), SOURCE],
        }
    if crop in pooled.crops:
        households, batches = pooled.crops[crop]
        found["pooled"] = {"households": households, "batches": batches}
    return found


def _moved(
    link: Link, crop: Crop, belief: CropBelief, pooled: Pooled, beliefs: Beliefs, tissue: float
) -> tuple[float, float]:
    """New centre of a crop's quantity, and the ratio of its spread to the believed one.

    ``tissue`` is the new density of the produce in g/ml, which limits packing.
    """
    loads = crop_loadings(beliefs, link, crop, beliefs.people)
    mean, sd = pooled.value(loads, link)
    share = sd / math.sqrt(sum(x * x for x in loads.values()))
    if link is Link.TRIM:
        return 1.0 / (1.0 + math.exp(-logit(belief.trim_yield.centre) - mean)), share
    if link is Link.PACK:
        free = math.log(unlimited(belief.density.centre, density_limit(belief))) + mean
        limit = density_limit(belief) * tissue / belief.tissue.centre
        return float(limited(math.exp(free), limit)), share
    if link is Link.BRINE:  # households tell of the space a gram takes
        return belief.tissue.centre / max(1.0 + mean, 0.5), share
    kept = belief.cure_keep if link is Link.CURE else belief.cook_keep
    return kept.centre * math.exp(mean), share


def _people(pooled: Pooled, raw: Mapping[str, Any]) -> dict[str, Any]:
    people: People = pooled.people
    note = f"pooled from {pooled.households} households, with what was believed before worth few"
    found = {name: dict(raw[name]) for name in raw}
    for name in ("trim", "cure", "cook", "pack"):
        spread = getattr(people, name)
        found[name] |= {
            "hand": spread.between_people,
            "noise": spread.noise,
            "source": f"hand, noise: {note}",
        }
        found[name].pop("kitchens", None)  # what lies between households is all in the hand
    found["pack"] |= {"jar_to_jar": people.jar_to_jar, "source": f"{found['pack']['source']}; "
                      "jar_to_jar: as it was"}  # fmt: skip
    found["brine"] |= {
        "loss_ml": people.loss_ml,
        "loss_between_people": people.loss_between_people,
        "loss_between_batches": people.loss_between_batches,
        "source": note,
    }
    return found


def _source(pooled: Pooled) -> dict[str, str]:
    return {
        "publication": f"exports of {pooled.households} households, {pooled.batches} batches",
        "note": "combined by jarcast beliefs pool; no batch stands in this file",
    }


def _roots(pooled: Pooled, size: str) -> dict[str, float]:
    """A learned size of each link as a multiple of the published spread."""
    return {link.value: getattr(pooled.of(link), size)[link] ** 0.5 for link in Link}
