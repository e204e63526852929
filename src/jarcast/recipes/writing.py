"""A card's file from what a cook types of a book: each answer read whole, or refused.

A reader takes what was typed and gives the values as the card's file has them, in TOML's own
signs. It raises RecipeError, with how to say it, for anything of which a part would be lost. The
file is then read as any card is, so that nothing is checked here that a card's reader checks.
"""

import re
from collections.abc import Callable, Iterable, Mapping, Sequence

from jarcast.domain.jars import jar_key
from jarcast.errors import BatchError, MeasureError, RecipeError, cut_short
from jarcast.measures import parse_inches, parse_volume, parse_weight
from jarcast.measures.numbers import count
from jarcast.recipes.card import Kind

Said = Mapping[str, Sequence[str]]  # answers by the question's name, a line each

# Kinds of ingredient by a word of their name; any other is 'other'.
_KINDS = (Kind.VINEGAR, Kind.LEMON_JUICE, Kind.WATER, Kind.SUGAR, Kind.SALT, Kind.OIL)
_THOUSANDS = re.compile(r"(?<=\d),(?=\d{3}(?!\d))")
_BAND = re.compile(
    r"(?:(?P<low>\d+) ?(?:-|to) ?(?P<high>\d+)|(?:above|over) (?P<top>\d+)) ?(?:ft|feet)? ?"
    r"[:=] ?(?P<minutes>\d+(?:\.\d+)?) ?(?:min|minutes)?"
)
_SPAN = re.compile(r"(\d+(?:\.\d+)?)(?: ?(?:-|to) ?(\d+(?:\.\d+)?))?")
_NUMBER_LEFT = re.compile(r"\d(?![\d./]*\s*(?:%|percent))")


def quoted(text: str) -> str:
    """A text in TOML's quotes."""
    held = text.replace("\\", "\\\\").replace('"', '\\"')
    return '"' + "".join(sign if sign.isprintable() else " " for sign in held) + '"'


def listed(text: str) -> str:
    """A list of words: 'pint, quart'."""
    parts = re.split(r",|;|\+| and | or ", text)
    return _texts([part.strip() for part in parts if part.strip()])


def jars(text: str) -> str:
    """Sizes of jar: 'pints and quarts'."""
    for size in _words(listed(text)):
        try:
            jar_key(size)
        except BatchError as why:
            raise RecipeError(str(why)) from None
    return listed(text)


def amount(text: str) -> str:
    """A weight or a volume: '7 lb'."""
    if not (_is(parse_weight, text) or _is(parse_volume, text)):
        raise RecipeError(
            f"'{cut_short(text)}' is not an amount; write it like '7 lb' or '10 cups'"
        )
    return quoted(text)


def printed_yield(text: str) -> tuple[str, str]:
    """Jars and their size: '8 pints', '7 to 9 pints'."""
    words = _plain(text).removeprefix("about ").removesuffix(" jars").split()
    for end in range(1, len(words)):
        ends = re.split(r" ?- ?| to ", " ".join(words[:end]))
        try:
            low, *high = [f"{count(end):g}" for end in ends]
            size = quoted(jar_key(" ".join(words[end:])))
        except BatchError:
            continue
        if len(high) < 2:
            return (f"[{low}, {high[0]}]" if high else low), size
    raise RecipeError(
        f"'{cut_short(text)}' cannot be read; give one size, like '8 pints' or '7 to 9 pints'"
    )


def number(text: str) -> str:
    """A bare number, with or without its percent: '5 %'."""
    plain = text.removesuffix("%").removesuffix("percent").strip()
    if not re.fullmatch(r"\d+(\.\d+)?", plain):
        raise RecipeError(f"'{cut_short(text)}' is not a number; write it like '5'")
    return plain


def inches(text: str) -> str:
    """A headspace: '1/2 in'."""
    try:
        return repr(parse_inches(text))
    except MeasureError as why:
        raise RecipeError(str(why)) from None


def span(text: str) -> str:
    """A number, or lowest and highest: '12', '3 to 4 hours'."""
    plain = re.sub(r"\s*(?:hours?|h|weeks?|%|percent|°?\s*f)\.?$", "", _plain(text))
    found = _SPAN.fullmatch(plain)
    if not found:
        raise RecipeError(f"'{cut_short(text)}' cannot be read; write it like '12' or '3 to 4'")
    return f"[{found[1]}, {found[2]}]" if found[2] else found[1]


def yes_or_no(text: str) -> str:
    """Yes or no."""
    word = text.casefold()
    if word not in ("y", "yes", "n", "no"):
        raise RecipeError(f"'{cut_short(text)}' cannot be read; answer 'yes' or 'no'")
    return "true" if word.startswith("y") else "false"


def minutes(text: str) -> str:
    """Minutes of each band of altitude: '0-1000: 10, 1,001-6,000: 15, above 6000: 20'."""
    bands: dict[str, str] = {}
    for part in re.split(r"[,;]", _THOUSANDS.sub("", _plain(text))):
        found = _BAND.fullmatch(part.strip())
        if not found:
            raise RecipeError(
                f"'{cut_short(part.strip())}' cannot be read, so none of it is used; give feet and "
                "minutes, like '0-1000: 10, 1001-6000: 15, above 6000: 20'. A book that prints "
                "one time says somewhere up to what altitude"
            )
        band = f"above {found['top']}" if found["top"] else f"{found['low']}-{found['high']}"
        if band in bands:
            raise RecipeError(f"{band} ft is there twice; give each band once")
        bands[band] = found["minutes"]
    return "{ " + ", ".join(f"{quoted(band)} = {time}" for band, time in bands.items()) + " }"


def warmth(text: str) -> str:
    """Weeks of a ferment by degrees Fahrenheit: '70-75: 3-4, 60-65: 5-6'."""
    rows = []
    for part in re.split(r"[,;]", text):
        degrees, colon, weeks = part.partition(":")
        if not colon:
            raise RecipeError(
                f"'{cut_short(part.strip())}' cannot be read; give degrees F and weeks, like "
                "'70-75: 3-4'"
            )
        rows.append(f"{{ f = {span(degrees)}, weeks = {span(weeks)} }}")
    return "[" + ", ".join(rows) + "]"


def ingredient(text: str) -> tuple[str, str, str]:
    """Name, kind and amount of '4 cups vinegar (5 %)' or '4 heads of dill'."""
    words = text.split()
    for end in range(len(words) - 1, 0, -1):
        measured, name = " ".join(words[:end]), " ".join(words[end:]).removeprefix("of ")
        kind = kind_of(name)
        if _NUMBER_LEFT.search(name):
            continue
        if _is(parse_volume, measured) or _is(parse_weight, measured):
            return quoted(name), quoted(kind), quoted(measured)
        unit = any(_is(read, f"1 {name}") for read in (parse_volume, parse_weight, parse_inches))
        if kind is Kind.OTHER and not unit and _is(count, measured):
            return quoted(name), quoted(kind), f"{count(measured):g}"
    raise RecipeError(
        f"'{cut_short(text)}' cannot be read; give one amount and what it is, like '4 cups "
        "vinegar' or '1 tbsp salt'"
    )


def each_jar(text: str) -> tuple[str, str, str]:
    """Name, kind and amounts of 'salt: pint 1/2 tsp, quart 1 tsp'."""
    name, colon, rest = (part.strip() for part in text.partition(":"))
    parts: list[str] = []
    for part in rest.split(","):
        if parts and _one_jar(part) is None:
            parts[-1] += f",{part}"  # more words on the jar before: '2 below, 1 on top'
        else:
            parts.append(part)
    amounts = [_one_jar(part) for part in parts]
    if not colon or not name or None in amounts:
        raise RecipeError(
            f"'{cut_short(text)}' cannot be read; say what, and how much in each jar, like 'salt: "
            "pint 1/2 tsp, quart 1 tsp'"
        )
    sizes = ", ".join(f"{quoted(size)} = {quoted(much)}" for size, much in filter(None, amounts))
    return quoted(name), quoted(kind_of(name)), f"{{ {sizes} }}"


def _one_jar(text: str) -> tuple[str, str] | None:
    words = text.split()
    for end in range(1, len(words)):
        try:
            return jar_key(" ".join(words[:end])), " ".join(words[end:])
        except BatchError:
            continue
    return None


def kind_of(name: str) -> Kind:
    """What an ingredient is to the brine, by a word of its name.

    Raises RecipeError for a name of several: what is half water must not count as vinegar.
    """
    found = [kind for kind in _KINDS if re.search(rf"\b{kind}s?\b", name.casefold())]
    if len(found) > 1:
        raise RecipeError(
            f"'{cut_short(name)}' names {' and '.join(found)}; give each a line of its own, with "
            "its own amount"
        )
    return found[0] if found else Kind.OTHER


def card_of(said: Said) -> str:
    """The card's text from every answer, by the question's name. Raises RecipeError.

    Times are under 'minutes PACK JAR', one for each pack and jar that has one.
    """

    def first(name: str) -> str:
        return next(iter(said.get(name, ())), "")

    size = printed_yield(first("yield"))
    lines = [
        *_fields(name=quoted(first("title")), produce=quoted(first("produce")),
                 cut=quoted(first("cut")), pack=listed(first("pack").casefold()),
                 style=quoted(first("style").casefold()), notes=_texts(said.get("note", ()))),
        "[source]",
        *_fields(publication=quoted(first("book")), edition=quoted(first("edition")),
                 page=quoted(first("page"))),
        "[tested]",
        *_fields(amount=amount(first("amount")), basis=quoted(first("basis").casefold()),
                 jar=size[1], jars=size[0]),
    ]  # fmt: skip
    if first("cure"):
        hours = span(first("cure hours")) if first("cure hours") else ""
        lines += ["[cure]", *_fields(detail=quoted(first("cure")), hours=hours)]
        lines += _parts("cure.ingredient", map(ingredient, said.get("cure ingredient", ())))
    lines += _parts("brine", map(ingredient, said.get("brine", ())))
    lines += _parts("per_jar", map(each_jar, said.get("each jar", ())))
    for text in said.get("seasoning", ()):
        name, _, much = ingredient(text)
        lines += ["[[seasoning]]", *_fields(name=name, amount=much)]
    if first("warmth"):
        lines += ["[ferment]", *_fields(warmth=warmth(first("warmth")))]
    return "\n".join([*lines, *_safety(said, first("acid"), first("ferment salt")), ""])


def _safety(said: Said, acid: str, salt: str) -> list[str]:
    sizes = jars(said["jars"][0])
    lines = ["[safety]", *_fields(headspace_in=inches(said["headspace"][0]), jars=sizes)]
    lines += [f"vinegar_percent = {number(acid)}"] if acid else []
    lines += [f"ferment_salt_percent = {span(salt)}"] if salt else []
    sterile = said.get("sterile", ())
    for pack, jar in packs_and_jars(said):
        for times in said.get(f"minutes {pack} {jar}", ()):
            lines += ["[[process]]", *_fields(
                method=quoted(said["method"][0]), pack=quoted(pack), jar=quoted(jar),
                minutes=minutes(times))]  # fmt: skip
            lines += [f"sterile_jars = {yes_or_no(sterile[0])}"] if sterile else []
    return lines


def packs_and_jars(said: Said) -> list[tuple[str, str]]:
    """Each pack with each jar that was said, in order."""
    packs, sizes = said.get("pack", ()), said.get("jars", ())
    return [
        (pack, jar)
        for pack in _words(listed(next(iter(packs), "").casefold()))
        for jar in _words(listed(next(iter(sizes), "")))
    ]


def _parts(head: str, found: Iterable[tuple[str, str, str]]) -> list[str]:
    lines = []
    for name, kind, much in found:
        lines += [f"[[{head}]]", *_fields(name=name, kind=kind, amount=much)]
    return lines


def _fields(**values: str) -> list[str]:
    """A line each; what is empty is not recorded."""
    return [f"{name} = {value}" for name, value in values.items() if value not in ("", '""', "[]")]


def _texts(lines: Sequence[str]) -> str:
    return "[" + ", ".join(map(quoted, lines)) + "]"


def _words(listed_words: str) -> list[str]:
    return re.findall(r'"([^"]*)"', listed_words)


def _plain(text: str) -> str:
    return " ".join(text.casefold().replace("\u2013", "-").split())


def _is(read: Callable[[str], float], text: str) -> bool:
    try:
        return read(text) > 0
    except (MeasureError, BatchError):
        return False
