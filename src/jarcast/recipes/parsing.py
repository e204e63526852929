"""A recipe card from its TOML text, or everything there is to mend in it."""

import errno
import os
import re
import tomllib
from pathlib import Path

from jarcast.domain.fields import MOST_HEADSPACE_IN, MOST_HOURS, MOST_JARS
from jarcast.domain.names import cut_key, pack_key, produce_key
from jarcast.errors import RecipeError, a_line_each, in_short
from jarcast.files.reading import open_to_read
from jarcast.recipes.acid import why_low_acid
from jarcast.recipes.card import (
    Basis,
    Cure,
    Ferment,
    Ingredient,
    Kind,
    Recipe,
    SafetyNumbers,
    Source,
    Style,
    Tested,
)
from jarcast.recipes.fields import Table, ToMend
from jarcast.recipes.ingredients import additions, ingredient, measure, printed_part
from jarcast.recipes.plausible import impossible
from jarcast.recipes.processes import process_rows

MOST_BYTES = 64 * 1024  # a card is a page or two
MOST_LINES = 1000
LONGEST_LINE = 4000  # characters; a key of tens of thousands of dots takes gigabytes to read
MOST_WEEKS = 52.0
MOST_F = 120.0  # hotter than any ferment stands
MOST_ACID_PERCENT = 30.0  # no vinegar for the kitchen is stronger (common practice, no source)


def load_card(path: str | os.PathLike[str]) -> Recipe:
    """The recipe card in one file; its key is the file's name without '.toml'.

    A card without a [source] is taken for its yield only: its ``safety`` is None. Raises
    RecipeError, with one of ``problems`` for each thing to mend, and for what is no path.
    """
    if not isinstance(path, str | os.PathLike):
        raise RecipeError(f"{in_short(path)} is not the path of a card, such as 'beets.toml'")
    path = Path(path)
    try:
        if path.exists() and not path.is_file():  # a folder, a pipe
            raise OSError(errno.EINVAL, "it is not a file")
        with open_to_read(path) as file:
            content = file.read(MOST_BYTES + 1)
    except (OSError, ValueError) as why:  # ValueError: a path no system can have
        reason = getattr(why, "strerror", None) or "it cannot be opened"
        raise RecipeError(f"the card {path} cannot be read: {reason}") from None
    if len(content) > MOST_BYTES:
        raise RecipeError(f"{path.name} is longer than {MOST_BYTES} bytes: not a recipe card")
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as why:
        line = content[: why.start].count(b"\n") + 1
        raise RecipeError(
            f"{path.name}, line {line}: not UTF-8 text; save the card as UTF-8"
        ) from None
    return read_card(text, key=path.stem, name=path.name)


def read_card(text: str, key: str, name: str = "the card") -> Recipe:
    """The recipe card in a TOML text; ``name`` is what messages call it.

    Raises RecipeError, with one of ``problems`` for each thing to mend.
    """
    text = text.replace("\r\n", "\n")
    if text.count("\n") > MOST_LINES:
        raise RecipeError(f"{name} has more than {MOST_LINES} lines: not a recipe card")
    for number, line in enumerate(text.split("\n"), start=1):
        if len(line) > LONGEST_LINE:
            raise RecipeError(
                f"{name}, line {number}: longer than {LONGEST_LINE} characters; break a list into "
                "lines, or name a recipe card"
            )
    mend = ToMend()
    try:
        recipe = _recipe(Table(_values(text, name), (), mend), key)
        problems = mend.problems(text)
    except RecursionError:
        raise RecipeError(f"{name}: brackets are nested too deeply for a recipe card") from None
    if problems:
        many = "1 thing" if len(problems) == 1 else f"{len(problems)} things"
        raise RecipeError(f"{name}: {many} to mend in this card\n{a_line_each(problems)}", problems)
    return recipe


def _values(text: str, name: str) -> dict[str, object]:
    try:
        return tomllib.loads(text)
    except ValueError as why:
        problem = _syntax(str(why), text)
        raise RecipeError(f"{name} is not valid TOML; {problem}", (problem,)) from None


def _syntax(why: str, text: str) -> str:
    """A TOML syntax error with its line in front."""
    if "integer string conversion" in why:
        return "a whole number with thousands of digits"
    found = re.search(r" \(at line (\d+), column \d+\)", why)
    line = found[1] if found else str(text.count("\n") + 1)
    return f"line {line}: {re.sub(r' [(]at .*[)]$', '', why)}"


def _recipe(card: Table, key: str) -> Recipe:
    card.known("name", "produce", "cut", "pack", "style", "notes", "steps", "standing",
               "stands_in_brine", "source", "tested", "cure", "ferment", "brine", "per_jar",
               "seasoning", "safety", "process")  # fmt: skip
    packs = tuple(pack_key(pack) for pack in card.texts("pack"))
    for pack in packs:
        if pack not in ("raw", "hot"):
            card.wrong("pack", f"'{pack}' is neither raw nor hot")
    style = card.choice("style", Style, Style.COVER_BRINE)
    tested, safety = _tested(card), _safety(card, _source(card), style, packs)
    if safety and safety.jars and tested.jar and tested.jar not in safety.jars:
        jars = ", ".join(safety.jars)
        card.mend.add(("tested", "jar"), f"{tested.jar} is not one of the tested jars ({jars})")
    recipe = Recipe(
        key=key,
        name=card.text("name"),
        produce=produce_key(card.text("produce")),
        cut=cut_key(card.text("cut", needed=False)),
        packs=packs,
        style=style,
        tested=tested,
        cure=_cure(card),
        safety=safety,
        notes=card.texts("notes"),
        seasonings=tuple(printed_part(part) for part in card.tables("seasoning")),
        steps=card.texts("steps"),
        standing=card.text("standing", needed=False),
        stands_in_brine=card.yes("stands_in_brine"),
    )
    if not card.mend.any and (why := why_low_acid(recipe)):
        card.mend.add(("process", 0), why)
    for path, why in impossible(recipe) if not card.mend.any else ():
        card.mend.add(path, why)
    return recipe


def _source(card: Table) -> Source | None:
    table = card.table("source")
    if table is None:
        return None
    table.known("publication", "edition", "page", "link", "also")
    return Source(
        publication=table.text("publication"),
        edition=table.text("edition"),
        page=table.text("page"),
        link=table.text("link", needed=False),
        also=table.texts("also"),
    )


def _tested(card: Table) -> Tested:
    blank = Tested("", Basis.PREPARED, "", (1.0, 1.0))
    table = card.table("tested")
    if table is None:
        card.wrong("tested", "is missing; add a [tested] table for the batch the card is for")
        return blank
    table.known("amount", "basis", "detail", "jar", "jars", "part")
    printed = table.text("amount")
    parts = tuple(printed_part(part) for part in table.tables("part"))
    ml, grams = None, None
    if printed and not _in_several_ways(printed, parts):
        ml, grams = measure(table, "amount", printed)
    return Tested(
        printed=printed,
        basis=table.choice("basis", Basis, Basis.PREPARED),
        jar=table.size("jar", table.text("jar")),
        jars=table.span("jars", MOST_JARS, needed=True) or blank.jars,
        grams=grams,
        ml=ml,
        detail=table.text("detail", needed=False),
        parts=parts,
    )


def _in_several_ways(printed: str, parts: tuple[Ingredient, ...]) -> bool:
    """Whether an amount is a weight and a volume, '6 lb and 10 cups', of parts that are both."""
    both = any(part.grams for part in parts) and any(part.ml for part in parts)
    return both and len(printed.split(" and ")) == 2


def _cure(card: Table) -> Cure | None:
    table = card.table("cure")
    if table is None:
        return None
    table.known("detail", "hours", "ingredient", "refrigerated")
    return Cure(
        detail=table.text("detail"),
        hours=table.span("hours", MOST_HOURS),
        ingredients=tuple(ingredient(part) for part in table.tables("ingredient")),
        refrigerated=table.yes("refrigerated"),
    )


def _ferment(card: Table) -> Ferment | None:
    table = card.table("ferment")
    if table is None:
        return None
    table.known("salt", "warmth", "least_f", "most_f")
    warmth = []
    for row in table.tables("warmth"):
        row.known("f", "weeks")
        degrees = row.span("f", MOST_F, needed=True)
        weeks = row.span("weeks", MOST_WEEKS, needed=True)
        if degrees and weeks:
            warmth.append((degrees, weeks))
    return Ferment(
        warmth=tuple(warmth),
        salt=table.text("salt", needed=False),
        least_f=table.number("least_f", 0, MOST_F, needed=False),
        most_f=table.number("most_f", 0, MOST_F, needed=False),
    )


def _safety(
    card: Table, source: Source | None, style: Style, packs: tuple[str, ...]
) -> SafetyNumbers | None:
    """The safety numbers; whatever is written is checked, but nothing unsourced is kept."""
    formula = tuple(ingredient(part) for part in card.tables("brine"))
    table = card.table("safety") or Table({}, ("safety",), card.mend)
    table.known("vinegar_percent", "headspace_in", "headspace_detail", "jars",
                "ferment_salt_percent", "low_temperature", "steam_canner", "cautions")  # fmt: skip
    sourced = source is not None
    vinegar = any(part.kind is Kind.VINEGAR for part in formula)
    acid = table.number("vinegar_percent", 0, MOST_ACID_PERCENT, needed=sourced and vinegar)
    headspace = table.number("headspace_in", 0, MOST_HEADSPACE_IN, needed=sourced)
    sizes = (table.size("jars", jar) for jar in table.texts("jars", needed=sourced))
    jars = tuple(dict.fromkeys(filter(None, sizes)))
    salt = table.span("ferment_salt_percent", 100)
    if sourced and style is not Style.FERMENT and not any(part.brine_ml for part in formula):
        card.wrong("brine", "is missing; begin each ingredient of the formula with [[brine]]")
    process = process_rows(card, packs, jars)
    steam, cautions = table.yes("steam_canner"), table.texts("cautions")
    per_jar, ferment = additions(card, jars), _ferment(card)
    if source is None:
        return None
    return SafetyNumbers(
        source=source,
        formula=formula,
        least_acid_percent=acid,
        headspace_in=headspace or 0.0,
        jars=jars,
        process=process,
        ferment_salt=None if salt is None else (salt[0] / 100, salt[1] / 100),
        steam_canner=steam,
        cautions=cautions,
        per_jar=per_jar,
        ferment=ferment,
        headspace_detail=table.text("headspace_detail", needed=False),
        low_temperature=table.text("low_temperature", needed=False),
    )
