"""Starting beliefs: what published yields say of each crop before any batch of one's own.

A belief is a centre and a spread. The spread says how far this crop's own true value may lie from
the published centre in an average person's kitchen, on the scale of its link.
"""

import math
import os
from collections.abc import Mapping, Sequence
from functools import cache
from pathlib import Path
from typing import Any

from msgspec import Struct
from msgspec.json import decode
from msgspec.structs import asdict, replace

from jarcast.domain.names import cut_key, pack_key, parts_of, produce_key
from jarcast.domain.read_only import ReadOnly
from jarcast.domain.stages import Link
from jarcast.errors import BeliefsError, in_short
from jarcast.files.reading import read_file
from jarcast.files.shipped import shipped

Key = tuple[str, str, str]  # produce, cut, pack
FORMAT = "jarcast starting beliefs"
VERSION = 2
_READ = (1, VERSION)  # the first has no 'unprinted'
# What is believed of a crop on each link.
QUANTITIES = {
    Link.TRIM: "trim_yield",
    Link.CURE: "cure_keep",
    Link.COOK: "cook_keep",
    Link.PACK: "density",
    Link.BRINE: "tissue",
}
_LEAST, _MOST = 1e-5, 1e6  # no yield, density or spread is known so closely
_MOST_BYTES = 8_000_000  # of a file; the one that comes along has half a million
NOTHING, PARTS = "nothing published", "its parts"
_MIXED = 1.25  # how much wider the belief of an unpublished mixture is; common practice, no source
_CURED = {"usual": 0.85, "sometimes": 0.4, "never": 0.02}  # common practice, no source


class Belief(Struct, frozen=True):
    """Centre (a fraction, or g/ml) and spread (sd on the link's scale)."""

    centre: float
    spread: float


class CropBelief(Struct, frozen=True):
    """What is believed of one produce x cut x pack.

    ``cured`` is the chance that a batch of it is salted. ``known`` says how close the published
    evidence comes: 'this cut', 'this produce', 'its parts' (of a mixture) or 'nothing published'.
    ``unprinted`` is the density without what tested recipes print of this crop, for a forecast by
    one of them; None where they print nothing.
    """

    produce: str
    cut: str
    pack: str
    trim_yield: Belief
    cure_keep: Belief
    cook_keep: Belief
    density: Belief
    tissue: Belief
    cured: float
    known: str
    unprinted: Belief | None = None


class LinkSpread(Struct, frozen=True):
    """How far people and batches differ on a link: sds on its scale.

    ``between_people`` is that of the person's own mean, ``noise`` that of a batch about it;
    ``kitchens`` how far all of one kitchen's crops lie from the published ones together.
    """

    between_people: float
    noise: float
    kitchens: float = 0.0


class People(Struct, frozen=True):
    """How far people and batches differ, link by link, and the pot loss.

    ``jar_to_jar`` is the sd of log density from one jar to the next, ``loss_ml`` the usual pot
    loss. Its spreads between people and between batches are in proportion to it.
    """

    trim: LinkSpread
    cure: LinkSpread
    cook: LinkSpread
    pack: LinkSpread
    jar_to_jar: float
    loss_ml: float
    loss_between_people: float
    loss_between_batches: float


class Beliefs(Struct, frozen=True):
    """Starting beliefs as a whole: crops by (produce, cut, pack), people, and the unknown crop."""

    people: People
    crops: Mapping[Key, CropBelief]
    anything: CropBelief
    label: str

    def crop(self, produce: str, cut: str = "", pack: str = "") -> CropBelief:
        """The nearest belief for these keys: this cut, then this produce, its parts, then anything.

        A mixture that has no row is the mean of its parts by weight, and wider than they are.
        """
        for near, known in (
            ((produce, cut, pack), "this cut"),
            ((produce, cut, ""), "this cut"),
            ((produce, "", pack), "this produce"),
            ((produce, "", ""), "this produce"),
        ):
            if found := self.crops.get(near):
                return found if cut or known == "this produce" else _widened(found)
        parts = parts_of(produce)
        if len(parts) < 2:
            return self.anything
        crops = [(self.crop(part, cut, pack), share) for part, share in parts.items()]
        if all(crop.known == NOTHING for crop, _ in crops):
            return self.anything
        return _mixed((produce, cut, pack), crops)

    @property
    def produce(self) -> tuple[str, ...]:
        """The produce that have beliefs of their own."""
        return tuple(sorted({key[0] for key in self.crops}))


def _mixed(key: Key, parts: Sequence[tuple[CropBelief, float]]) -> CropBelief:
    """A mixture of crops, each with its share of the weight."""

    def mean(quantity: str) -> Belief:
        of = [(getattr(crop, quantity), share) for crop, share in parts]
        if quantity in ("density", "tissue"):  # volumes add up, as weights do
            centre = 1.0 / sum(share / belief.centre for belief, share in of)
        else:
            centre = sum(share * belief.centre for belief, share in of)
        spread = sum(share * belief.spread for belief, share in of)
        return Belief(centre, _MIXED * spread)

    trim_yield, cure_keep, cook_keep, density, tissue = map(mean, QUANTITIES.values())
    cured = sum(share * crop.cured for crop, share in parts)
    return CropBelief(*key, trim_yield, cure_keep, cook_keep, density, tissue, cured, PARTS)


def _widened(crop: CropBelief) -> CropBelief:
    """A cut that was not recorded may be any cut: its belief is half as wide again."""
    return replace(
        crop,
        trim_yield=replace(crop.trim_yield, spread=1.5 * crop.trim_yield.spread),
        density=replace(crop.density, spread=1.5 * crop.density.spread),
        known="this produce",
    )


def load_beliefs(path: str | os.PathLike[str]) -> Beliefs:
    """Read a beliefs file. Raises BeliefsError, naming the file and what is wrong in it."""
    if not isinstance(path, str | os.PathLike):
        raise BeliefsError(f"{in_short(path)} is not the path of a file, such as 'club.json'")
    import json  # takes NaN, which is then refused with the name of its crop

    path = Path(path)
    try:
        raw = json.loads(read_file(path, _MOST_BYTES).decode("utf-8"))
    except OSError as error:
        raise BeliefsError(f"{path}: cannot be read ({error.strerror})") from error
    except (ValueError, RecursionError) as error:
        raise BeliefsError(
            f"{path}: is not a beliefs file (JSON text is due); nothing else is ever loaded"
        ) from error
    return beliefs_from(raw, str(path))


@cache
def starting_beliefs() -> Beliefs:
    """The beliefs that come with jarcast; a test holds them to what ``load_beliefs`` makes."""
    file = shipped("models", "starting-beliefs.json")
    held = decode(file.read_bytes(), type=_Shipped)
    few = beliefs_from({**asdict(held), "crops": []}, file.name)
    crops = {
        key: CropBelief(
            *key, row.trim_yield, row.cure_keep, row.cook_keep, row.density, row.tissue,
            _CURED[row.cured], _known(key), row.unprinted,
        )
        for row in held.crops
        for key in [(row.produce, row.cut, row.pack)]
    }  # fmt: skip
    return replace(few, crops=ReadOnly(crops))


class _Row(Struct):
    """One crop as the file holds it."""

    produce: str
    cut: str
    pack: str
    cured: str
    trim_yield: Belief
    cure_keep: Belief
    cook_keep: Belief
    density: Belief
    tissue: Belief
    unprinted: Belief | None = None


class _Shipped(Struct):
    format: str
    version: int
    people: dict[str, Any]
    anything: dict[str, Any]
    crops: list[_Row]


def _known(key: Key) -> str:
    return "this cut" if key[1] else "this produce"


def beliefs_from(raw: Any, where: str) -> Beliefs:
    """Beliefs from the parsed JSON. Raises BeliefsError."""
    if not isinstance(raw, dict) or raw.get("format") != FORMAT:
        raise BeliefsError(f"{where}: is not a file of '{FORMAT}'")
    if raw.get("version") not in _READ:
        raise BeliefsError(
            f"{where}: is version {raw.get('version')} of the format; "
            f"this jarcast reads version {VERSION} and older ones: "
            "update jarcast or make the file again"
        )
    try:
        crops = {}
        for row in raw["crops"]:
            key = (produce_key(row["produce"]), cut_key(row["cut"]), pack_key(row["pack"]))
            crops[key] = _crop(row, key, _known(key))
        return Beliefs(
            people=_people(raw["people"]),
            crops=ReadOnly(crops),
            anything=_crop(raw["anything"], ("", "", ""), NOTHING),
            label=str(raw.get("label", "published yields")),
        )
    except BeliefsError as error:
        raise BeliefsError(f"{where}: {error}") from error
    except (KeyError, TypeError, AttributeError) as error:
        raise BeliefsError(f"{where}: lacks or misstates {error}") from error


def _crop(row: Mapping[str, Any], key: Key, known: str) -> CropBelief:
    trim_yield, cure_keep, cook_keep, density, tissue = (
        _belief(row[name], f"{'/'.join(key)} {name}") for name in QUANTITIES.values()
    )
    alone = row.get("unprinted")
    return CropBelief(
        *key, trim_yield, cure_keep, cook_keep, density, tissue, _CURED[row["cured"]], known,
        None if alone is None else _belief(alone, f"{'/'.join(key)} unprinted"),
    )  # fmt: skip


def _belief(raw: Mapping[str, Any], where: str) -> Belief:
    belief = Belief(_positive(raw["centre"], where), _positive(raw["spread"], where))
    if "trim_yield" in where and belief.centre >= 1:
        raise BeliefsError(f"{where}: centre {belief.centre} is not a share below 1")
    return belief


def _positive(value: Any, where: str) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise BeliefsError(f"{where}: {value!r} is not a number")
    if not (value > 0 and value != math.inf):  # NaN is not
        raise BeliefsError(f"{where}: {value} is not a positive number")
    if not _LEAST <= value <= _MOST:
        raise BeliefsError(
            f"{where}: {str(value)[:40]} is not a number that can be: {_LEAST} to {_MOST:,.0f}"
        )
    return float(value)


def _people(raw: Mapping[str, Any]) -> People:
    def spread(name: str) -> LinkSpread:
        row = raw[name]  # the file says 'hand' for what lies between people
        kitchens = _positive(row["kitchens"], name) if row.get("kitchens") else 0.0
        return LinkSpread(_positive(row["hand"], name), _positive(row["noise"], name), kitchens)

    brine = raw["brine"]
    return People(
        trim=spread("trim"),
        cure=spread("cure"),
        cook=spread("cook"),
        pack=spread("pack"),
        jar_to_jar=_positive(raw["pack"]["jar_to_jar"], "jar_to_jar"),
        loss_ml=_positive(brine["loss_ml"], "loss_ml"),
        loss_between_people=_positive(brine["loss_between_people"], "loss_between_people"),
        loss_between_batches=_positive(brine["loss_between_batches"], "loss_between_batches"),
    )
