"""A forecast as it is asked for on the command line: read, filled in and made."""

from typing import TYPE_CHECKING

from msgspec import Struct

from jarcast.cli.altitude import kitchen_altitude
from jarcast.cli.chances import check_chances
from jarcast.cli.common import kitchen_units, read_option, tell
from jarcast.cli.counted import weights_asked
from jarcast.cli.crops import crop_meant, pack_meant
from jarcast.domain.stages import STAGES
from jarcast.errors import ForecastError
from jarcast.measures import Units

if TYPE_CHECKING:
    from jarcast.app.work import Work
    from jarcast.forecast.answer import Forecast
    from jarcast.forecast.habits import Habits
    from jarcast.recipes import PackCheck, Recipe


class Asked(Struct, frozen=True):
    """A forecast as it was given on the command line, and what it is shown by.

    ``usual_cut`` is the cut that was filled in as the usual one; '' where none was.
    """

    forecast: "Forecast"
    units: Units
    altitude_ft: float | None
    packing: "PackCheck | None"
    usual_cut: str
    recipe: str = ""


def ask(
    work: "Work",
    *,
    produce: str,
    cut: str,
    pack: str,
    jar: str | None,
    as_bought: str | None,
    trimmed: str | None,
    cured: str | None,
    cooked: str | None,
    cure_hours: str | None,
    salt: str | None,
    headspace: str | None,
    recipe: str | None,
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
    """Forecast by the options of ``forecast``, from the ledger. Raises JarcastError."""
    from jarcast.forecast.usual import cut_if_unsaid
    from jarcast.measures import parse_hours, parse_inches, parse_salt

    check_chances(short_chance, level)
    card, own = _card(work, recipe), work.kitchen
    produce, cut = crop_meant(own, (produce, cut), sure=as_named, as_json=as_json)
    pack = pack_meant(own, pack, sure=as_named, as_json=as_json)
    habits = own.habits
    usual_cut = cut_if_unsaid(habits, card, produce, cut)
    cut = cut or usual_cut
    stages = zip(STAGES, (as_bought, trimmed, cured, cooked), strict=True)
    said = {stage.typed: text for stage, text in stages}
    known = (produce or (card.produce if card else ""), cut or (card.cut if card else ""))
    shown = kitchen_units(work, units, later=keep is not None)
    weights = weights_asked(said, known, own.shelf, shown, as_json=as_json)
    usual_pack, usual_jar = _usual(habits, card, produce, cut)
    result = habits.forecast(
        produce=produce,
        cut=cut,
        pack=pack or usual_pack,
        jar=usual_jar if jar is None else jar,
        **weights,
        cure_hours=read_option("--cure-hours", cure_hours, parse_hours),
        salt_g=read_option("--salt", salt, parse_salt),
        headspace_in=read_option("--headspace", headspace, parse_inches),
        recipe=card,
        person=person,
        seed=seed,
    )
    try:
        result.allow_short(short_chance)
    except ForecastError as error:
        raise ForecastError(f"--short-chance: {error}") from error
    feet = kitchen_altitude(work, altitude)
    packing = habits.pack_check(result, shown, own.batches)
    if keep is not None:
        _keep(work, keep, result)
    if altitude and card is None:
        tell("The altitude only matters with a recipe: name one with --recipe.")
    return Asked(result, shown, feet, packing, usual_cut, "" if card is None else card.key)


def _card(work: "Work", name: str | None) -> "Recipe | None":
    if name is None:
        return None
    from jarcast.cli.cards import find_card

    return find_card(name, work.path)


def _keep(work: "Work", name: str, result: "Forecast") -> None:
    from jarcast.app.track_record import keep

    with work.writing("forecast"):
        new = keep(work.ledger, name, result)
    done = "Kept" if new else "The same forecast was kept before"
    tell(f"{done} for batch '{name.strip()}': it is scored once that batch is recorded.")


def _usual(habits: "Habits", card: "Recipe | None", produce: str, cut: str) -> tuple[str, str]:
    """Pack and jar where nothing is said: as this person usually does, within the recipe."""
    if card is None:
        return habits.usual_pack(produce, cut), habits.usual_jar
    from jarcast.forecast.usual import usual_choices

    return usual_choices(habits, card, cut)
