"""A forecast as it is asked for on the command line: read, filled in and made."""

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from msgspec import Struct

from jarcast.cli.altitude import kitchen_place
from jarcast.cli.common import kitchen_units, read_option, tell
from jarcast.cli.counted import weights_asked
from jarcast.cli.crops import crop_meant, pack_meant
from jarcast.cli.typed import check_chances
from jarcast.errors import ForecastError
from jarcast.measures import Units, parse_hours, parse_inches, parse_salt

if TYPE_CHECKING:
    from jarcast.app.work import Work
    from jarcast.forecast.answer import Forecast
    from jarcast.recipes import PackCheck, Place


_CROP = "produce", "cut"


class Asked(Struct, frozen=True):
    """A forecast as it was given on the command line, and what it is shown by.

    ``usual_cut`` is the cut that was filled in as the usual one; '' where none was.
    """

    forecast: "Forecast"
    units: Units
    place: "Place"
    packing: "PackCheck | None"
    usual_cut: str
    recipe: str = ""


def ask(
    work: "Work",
    said: Mapping[str, str | None],
    weighed: Mapping[str, str | None],
    *,
    altitude: str | None,
    person: str,
    short_chance: float,
    level: float,
    keep: str | None,
    seed: int,
    units: Units | None,
    as_named: bool = False,
    as_json: bool = False,
) -> Asked:
    """Forecast by what was ``said`` and ``weighed``, options of ``forecast`` by their names.

    Raises JarcastError.
    """
    check_chances(short_chance, level)
    line, usual_cut = line_said(work, said, sure=as_named, as_json=as_json)
    card, own = line["recipe"], work.kitchen
    habits = own.habits
    produce, cut = (line[name] or (getattr(card, name) if card else "") for name in _CROP)
    shown = kitchen_units(work, units, later=keep is not None)
    weights = weights_asked(weighed, (produce, cut), habits.shelf, shown, as_json=as_json)
    result = habits.forecast(**line, **weights, person=person, seed=seed)
    try:
        result.allow_short(short_chance)
    except ForecastError as error:
        raise ForecastError(f"--short-chance: {error}") from error
    place = kitchen_place(work, altitude)
    packing = habits.pack_check(result, shown, own.batches)
    if keep is not None:
        _keep(work, keep, result)
    if altitude and card is None:
        tell("The altitude only matters with a recipe: name one with --recipe.")
    return Asked(result, shown, place, packing, usual_cut, "" if card is None else card.key)


def line_said(
    work: "Work", said: Mapping[str, str | None], *, sure: bool, as_json: bool
) -> tuple[dict[str, Any], str]:
    """A crop as ``Habits.forecast`` takes it, and a cut that was filled in as the usual one.

    ``said`` are options by their names; what they leave open is as usual. Raises JarcastError.
    """
    from jarcast.cli.cards import find_card
    from jarcast.forecast.usual import cut_if_unsaid, usual_choices

    recipe, own = said["recipe"], work.kitchen
    card = None if recipe is None else find_card(recipe, work.path)
    named = said["produce"] or "", said["cut"] or ""
    produce, cut = crop_meant(own, named, sure=sure, as_json=as_json)
    meant = pack_meant(own, said["pack"] or "", sure=sure, as_json=as_json)
    usual_cut = cut_if_unsaid(own.habits, card, produce, cut)
    cut = cut or usual_cut
    pack, jar = usual_choices(own.habits, card, produce, cut)
    return {
        "produce": produce, "cut": cut, "recipe": card, "pack": meant or pack,
        "jar": jar if said["jar"] is None else said["jar"],
        "cure_hours": read_option("--cure-hours", said["cure_hours"], parse_hours),
        "salt_g": read_option("--salt", said.get("salt"), parse_salt),
        "headspace_in": read_option("--headspace", said.get("headspace"), parse_inches),
    }, usual_cut  # fmt: skip


def _keep(work: "Work", name: str, result: "Forecast") -> None:
    from jarcast.app.track_record import keep

    with work.writing("forecast"):
        new = keep(work.ledger, name, result)
    done = "Kept" if new else "The same forecast was kept before"
    tell(f"{done} for batch '{name.strip()}': it is scored once that batch is recorded.")
