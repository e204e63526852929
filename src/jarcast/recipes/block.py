"""The safety block: the card's own numbers in words.

The text depends on the card and on jar, pack, altitude and units, and on nothing else: no history
and no forecast can reach it.
"""

from fractions import Fraction

from jarcast.measures import Units, format_weight, number_text, typeset
from jarcast.recipes.card import (
    Ingredient,
    Kind,
    ProcessRow,
    Recipe,
    SafetyNumbers,
    Style,
    Tested,
)
from jarcast.recipes.kitchen import (
    Rounding,
    exact_ml,
    round_volume,
    round_weight,
    volume_text,
    weight_text,
)
from jarcast.recipes.listed import check_jar
from jarcast.recipes.lock import process_rows_for
from jarcast.recipes.perjar import each_jar_text

NO_NUMBERS = (
    "{name}: this card does not say where it comes from, so it holds no safety numbers. Use it for "
    "its yield only; keep the jars in the refrigerator unless you have a tested process."
)
_ON_MARK = 1e-9  # relative: an amount this close to a mark stands on it
SEE_SOURCE = "not on this card; look it up in the source and do not guess it"


def safety_block(
    recipe: Recipe,
    jar: str,
    *,
    pack: str = "",
    altitude_ft: float | None = None,
    units: Units = Units.US,
) -> str:
    """The card's safety numbers for one jar, a line each.

    Without an altitude (feet) every band is shown. Raises RecipeError for a jar the recipe was
    not tested in.
    """
    units = Units(units)
    safety = recipe.safety
    if safety is None:
        return NO_NUMBERS.format(name=recipe.name)
    size = check_jar(recipe, jar)
    lines = [f"{recipe.name}. Source: {safety.source.cited}"]
    lines += [f"  {caution}" for caution in safety.cautions]
    if safety.least_acid_percent is not None:
        lines.append(f"  vinegar: {safety.least_acid_percent:g} % acid or stronger")
    lines += _brine(recipe, safety, units)
    lines += [
        f"  {line} (by the jars filled, not by the brine)" for line in each_jar_text(recipe, [size])
    ]
    if recipe.style is Style.FERMENT:
        lines += _salt(recipe, safety, units)
        lines += _warmth(safety)
    detail = f" ({safety.headspace_detail})" if safety.headspace_detail else ""
    lines.append(f"  headspace: {inches_text(safety.headspace_in, units)}{detail}")
    lines.append(f"  jars tested: {', '.join(safety.jars)}")
    lines += _process(recipe, safety, jar, pack, altitude_ft, units)
    if safety.steam_canner:
        lines.append("  steam canner: the source allows one")
    return typeset("\n".join(lines))


def _brine(recipe: Recipe, safety: SafetyNumbers, units: Units) -> list[str]:
    """The formula and what it is printed for; salt that goes by its share stands with that."""
    by_share = recipe.salt_share is not None
    formula = [p for p in safety.formula if not (by_share and p.kind is Kind.SALT)]
    if not formula:
        return []
    parts = ", ".join(_part(part, units) for part in formula)
    return [
        f"  brine, in these proportions only: {parts}",
        f"    for {_printed_for(recipe, units)}",
    ]


def _printed_for(recipe: Recipe, units: Units) -> str:
    tested = recipe.tested
    return (
        f"{_produce(tested, units)} of produce {tested.basis}, printed yield "
        f"{span_text(*tested.jars)} {tested.jar} jars"
    )


def _produce(tested: Tested, units: Units) -> str:
    """The produce as printed, in a metric kitchen with its size, rounded down to a mark."""
    if units is Units.US or (tested.ml is None and tested.grams is None):
        return tested.printed
    if tested.ml is not None:
        return f"{tested.printed} ({_measured(tested.ml, units, up=False)})"
    return f"{tested.printed} ({_weighed_down(tested.grams or 0.0, units)})"


def span_text(low: float, high: float) -> str:
    """Lowest and highest: '2 to 3', or '2' where they are one."""
    return f"{low:g}" if low == high else f"{low:g} to {high:g}"


def _part(part: Ingredient, units: Units) -> str:
    """The measure as printed, in a metric kitchen with its size in brackets."""
    if units is Units.US or (part.ml is None and part.grams is None):
        return f"{part.printed} {part.name}"
    dry = part.kind in (Kind.SALT, Kind.SUGAR) and part.grams is not None
    if part.ml is not None and not dry:
        return f"{part.printed} ({_measured(part.ml, units, up=part.kind.acid)}) {part.name}"
    grams = part.grams or 0.0
    if part.kind is Kind.SALT:
        return f"{part.printed} ({format_weight(grams, units)}) {part.name}"
    return f"{part.printed} ({_weighed_down(grams, units)}) {part.name}"


def _weighed_down(grams: float, units: Units) -> str:
    """What takes acid away, by a scale's marks, and never more of it than is printed."""
    exact = Fraction(grams * (1.0 + _ON_MARK))
    return weight_text(round_weight(exact, units, Rounding.DOWN), units)


def _measured(ml: float, units: Units, *, up: bool) -> str:
    """A part of a brine by a jug's marks: acid is rounded up and all else down, as it is scaled."""
    way = Rounding.UP if up else Rounding.DOWN
    return volume_text(round_volume(exact_ml(ml), units, way), units)


def _salt(recipe: Recipe, safety: SafetyNumbers, units: Units) -> list[str]:
    """The salt of a ferment; where it goes by a share, what is printed is held under that."""
    if safety.ferment_salt is None:
        return ["  salt: as the source says; the card gives no share of the trimmed weight"]
    printed = f" ({safety.ferment.salt})" if safety.ferment and safety.ferment.salt else ""
    share = span_text(*(100 * share for share in safety.ferment_salt))
    lines = [f"  salt: {share} % of the trimmed weight, no less and no more{printed}"]
    salts = [_part(part, units) for part in safety.formula if part.kind is Kind.SALT]
    if salts:
        lines.append(
            f"    printed: {', '.join(salts)} for {_printed_for(recipe, units)}; the share decides"
        )
    return lines


def _warmth(safety: SafetyNumbers) -> list[str]:
    """How warm a ferment stands for how long; nothing where the card does not say."""
    ferment = safety.ferment
    if ferment is None:
        return []
    said = [f"{span_text(*f)} F for {span_text(*weeks)} weeks" for f, weeks in ferment.warmth]
    if ferment.least_f is not None:
        said.append(f"not below {ferment.least_f:g} F")
    if ferment.most_f is not None:
        said.append(f"not above {ferment.most_f:g} F")
    return [f"  warmth: {', '.join(said)}"] if said else []


def inches_text(inches: float, units: Units) -> str:
    """A headspace as a kitchen writes it: '½ in'."""
    text = f"{_fraction(inches)} in"
    return text if units is Units.US else f"{text} ({inches * 25.4:.0f} mm)"


def _fraction(number: float) -> str:
    simple = Fraction(number).limit_denominator(16)
    return number_text(simple) if float(simple) == number else f"{number:g}"


def _process(
    recipe: Recipe,
    safety: SafetyNumbers,
    jar: str,
    pack: str,
    altitude_ft: float | None,
    units: Units,
) -> list[str]:
    if not safety.process:
        return ["  process: none on this card; keep these jars in the refrigerator"]
    rows = process_rows_for(recipe, jar, pack=pack, altitude_ft=altitude_ft)
    if not rows:
        return [f"  process for {_choices(jar, pack, altitude_ft)}: {SEE_SOURCE}"]
    return [f"  process: {row_text(row, units)}" for row in rows]


def _choices(jar: str, pack: str, altitude_ft: float | None) -> str:
    words = [jar, f"{pack} pack" if pack else ""]
    words.append(f"{altitude_ft:.0f} ft" if altitude_ft is not None else "")
    return ", ".join(word for word in words if word)


def band_text(row: ProcessRow, units: Units) -> str:
    """A band of altitude: '1001-6000 ft', in a metric kitchen with its whole metres.

    No metre stands in two bands: a part of a foot counts as the next, so the upper end is the last
    metre that is no higher, and the lower end the first beyond the band before.
    """
    if units is Units.US:
        return row.band
    low = _metres_up_to(row.from_ft - 1) + 1 if row.from_ft else 0
    if row.to_ft is None:
        return f"{row.band} (from {low} m)"
    return f"{row.band} ({low}-{_metres_up_to(row.to_ft)} m)"


def _metres_up_to(feet: int) -> int:
    """The last whole metre that is no higher; a foot is 0.3048 m (NIST Handbook 44)."""
    return feet * 3048 // 10_000


def pack_text(row: ProcessRow) -> str:
    """How a process row is packed: 'raw pack'."""
    return f"{row.pack} pack" if row.pack else "packed as the source directs"


def row_text(row: ProcessRow, units: Units) -> str:
    """One process row in words: 'boiling-water canner, raw pack, pint, 0-1000 ft: 10 min'."""
    pack = pack_text(row)
    band = band_text(row, units)
    sterile = ", in sterile jars" if row.sterile else ""
    return f"{row.method}, {pack}, {row.jar}, {band}: {row.time}{sterile}"
