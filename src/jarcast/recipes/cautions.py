"""Cautions: what each says, where it comes from, and when it applies.

Numbers in them are the card's. No acidity is predicted anywhere: the regulation on acidified foods
is cited because it is why the proportions matter, and nothing is computed from it.
"""

from msgspec import Struct

from jarcast.recipes.block import SEE_SOURCE
from jarcast.recipes.card import ProcessRow, Recipe, SafetyNumbers, Style
from jarcast.recipes.lock import process_rows_for
from jarcast.recipes.scaling import check_jar

GUIDE_1 = "USDA Complete Guide to Home Canning (AIB 539), Guide 1, from memory"
PRACTICE = "common practice, no source"
ACIDIFIED_FOODS = (
    "21 CFR 114.3(b): acidified foods finish at an equilibrium pH of 4.6 or below; cited only, "
    "nothing here computes one"
)
# Longest boiling-water time, altitude included, for which steam may stand in: the canner must not
# boil dry. National Center for Home Food Preservation and University of Wisconsin, from memory.
STEAM_MOST_MINUTES = 45.0
STEAM_SOURCE = (
    "National Center for Home Food Preservation, using atmospheric steam canners, from memory"
)

CLOSING = (
    "The tested recipe decides, together with your local food-safety guidance; what is made for "
    "sale needs licensed practice."
)


class Caution(Struct, frozen=True):
    """One caution: a short name for it, what it says, and its source."""

    key: str
    text: str
    source: str


class Situation(Struct, frozen=True, kw_only=True):
    """What is known when cautions are asked for.

    ``part_jar``: the last jar will not be full; ``whole_jars``: only whole ones are filled;
    ``short``: the brine will not do or has not done;
    ``carried_brine``: brine that has touched produce is at hand; ``kept_brine``: clean brine of an
    earlier batch is; ``unsealed``: jars that did not
    seal; ``salt_share``: salt over trimmed weight of a ferment.
    """

    recipe: Recipe | None
    jar: str = ""
    pack: str = ""
    altitude_ft: float | None = None
    part_jar: bool = False
    whole_jars: bool = False
    short: bool = False
    carried_brine: bool = False
    kept_brine: bool = False
    unsealed: float = 0
    salt_share: float | None = None


def cautions_for(at: Situation) -> tuple[Caution, ...]:
    """The cautions that apply here, those of the card first.

    Raises RecipeError for a jar the recipe was not tested in.
    """
    found: list[Caution] = []
    recipe = at.recipe
    if recipe is None:
        found.append(
            Caution(
                "no recipe",
                "No tested recipe is named: these jars are for the refrigerator, unless you have "
                "a tested process for them.",
                GUIDE_1,
            )
        )
    elif recipe.safety is None:
        found.append(
            Caution(
                "no source",
                f"The card of {recipe.name} does not say where it comes from, so it holds no "
                "safety numbers: these jars are for the refrigerator, unless you have a tested "
                "process for them.",
                GUIDE_1,
            )
        )
    else:
        found += _of_formula(recipe.safety)
        found += _of_process(recipe, recipe.safety, at)
        found += _of_ferment(recipe, recipe.safety, at.salt_share)
    return (*found, *_of_jars(at))


def _of_formula(safety: SafetyNumbers) -> list[Caution]:
    found = []
    if safety.least_acid_percent is not None:
        strength = f"{safety.least_acid_percent:g} %"
        text = f"Use vinegar of {strength} acid or stronger; the label says it."
        found.append(Caution("vinegar", text, safety.source.cited))
    if sours := _sours(safety):
        text = (
            f"Keep the formula whole: no more water, no less {sours}, no more produce to the brine "
            "than the card has."
        )
        source = f"{safety.source.cited}. {ACIDIFIED_FOODS}"
        found.append(Caution("no thinning", text, source))
    return found


def _sours(safety: SafetyNumbers) -> str:
    """What brings the acid: 'vinegar', 'lemon juice', both, or ''."""
    kinds = [part.kind for part in safety.formula if part.kind.acid]
    return " or ".join(dict.fromkeys(kind.value for kind in kinds))


def _of_process(recipe: Recipe, safety: SafetyNumbers, at: Situation) -> list[Caution]:
    cited = safety.source.cited
    if at.jar:
        check_jar(recipe, at.jar)
    if not safety.process:
        text = "This card has no process: keep these jars in the refrigerator."
        return [Caution("no process", text, cited)]
    if at.altitude_ft is None:
        text = "Process for the time of your jar, pack and altitude; it grows with altitude."
        rows = process_rows_for(recipe, at.jar, pack=at.pack) if at.jar else safety.process
        return [Caution("process", text, cited), *_steam(safety, rows)]
    if not at.jar:
        text = "Process for the time of your jar, pack and altitude."
        return [Caution("process", text, cited)]
    rows = process_rows_for(recipe, at.jar, pack=at.pack, altitude_ft=at.altitude_ft)
    if not rows:
        text = f"The process for this jar, pack and altitude is {SEE_SOURCE}."
        return [Caution("see the source", text, cited)]
    times = " or ".join(_time(row, several=len(rows) > 1) for row in rows)
    text = f"Process every jar for {times} at your altitude ({rows[0].band}), no less."
    return [Caution("process", text, cited), *_steam(safety, rows)]


def _time(row: ProcessRow, *, several: bool) -> str:
    pressure = f" at {row.pressure_psi:g} psi" if row.pressure_psi is not None else ""
    way = f" ({row.method}, {row.pack} pack)" if several else ""
    return f"{row.minutes:g} min{pressure}{way}"


def _steam(safety: SafetyNumbers, rows: tuple[ProcessRow, ...]) -> list[Caution]:
    """Steam is not mentioned at all where the card does not allow it."""
    boiling = [row for row in rows if row.pressure_psi is None]
    if not safety.steam_canner or not boiling:
        return []
    limit = f"{STEAM_MOST_MINUTES:g} min"
    if all(row.minutes > STEAM_MOST_MINUTES for row in boiling):
        text = f"Not in an atmospheric steam canner: the time is over {limit}, altitude included."
    else:
        text = (
            "The card allows an atmospheric steam canner, for boiling-water times of "
            f"{limit} at most, altitude included."
        )
    return [Caution("steam", text, STEAM_SOURCE)]


def _of_ferment(recipe: Recipe, safety: SafetyNumbers, share: float | None) -> list[Caution]:
    if recipe.style is not Style.FERMENT or share is None or safety.ferment_salt is None:
        return []
    low, high = safety.ferment_salt
    card = f"the card has {100 * low:g} to {100 * high:g} % of the trimmed weight"
    yours = f"{100 * share:.2f} %"
    if share < low:
        text = f"Too little salt: {yours}, {card}. With less, spoilage outruns the souring."
        return [Caution("salt too low", text, safety.source.cited)]
    if share > high:
        text = f"Too much salt: {yours}, {card}. With more, it does not sour as it must."
        return [Caution("salt too high", text, safety.source.cited)]
    return []


def of_whole_jars() -> Caution:
    """What holds where a household fills whole jars only."""
    text = (
        "Whole jars keep the recipe's headspace too, and none is packed tighter than it was tested."
    )
    return Caution("whole jars", text, GUIDE_1)


def _of_jars(at: Situation) -> list[Caution]:
    found = []
    if at.part_jar:
        found.append(
            Caution(
                "part jar",
                "A part-full jar goes into the refrigerator or into a smaller tested jar, not into "
                "the canner with too much headspace.",
                GUIDE_1,
            )
        )
    if at.whole_jars:
        found.append(of_whole_jars())
    if at.short:
        found.append(
            Caution(
                "short of brine",
                "Short of brine: heat more of the whole formula, or put that jar in the "
                "refrigerator. Never top up with water or plain vinegar.",
                PRACTICE,
            )
        )
    if at.carried_brine:
        found.append(
            Caution(
                "used brine",
                "Brine that has touched produce is not used again for canning.",
                PRACTICE,
            )
        )
    if at.kept_brine:
        found.append(
            Caution(
                "kept brine",
                "Only clean brine that never touched produce goes into the next pot, and of the "
                "same recipe: kept covered and cold, and brought back to a boil with the new.",
                PRACTICE,
            )
        )
    if at.unsealed > 0:
        found.append(
            Caution(
                "unsealed",
                "A jar that did not seal is processed again within 24 hours, for the full time and "
                "with a new lid, or kept in the refrigerator.",
                GUIDE_1,
            )
        )
    return found
