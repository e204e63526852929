"""What a card lists: jars and packs. Any other is refused, whatever it may be near to."""

from jarcast.domain.jars import SHELF, jar_key, size_of
from jarcast.domain.names import pack_key
from jarcast.domain.rules import SizeRule, rules, said
from jarcast.errors import BatchError, RecipeError, cut_short
from jarcast.recipes.card import Recipe, SafetyNumbers


def needs_safety(recipe: Recipe) -> SafetyNumbers:
    """The recipe's safety numbers; raises RecipeError where its card has none."""
    if recipe.safety is None:
        raise RecipeError(
            f"{recipe.name} does not say where it comes from, so it holds no safety numbers and is "
            "good for its yield only; add a [source] to its card with publication, edition and "
            "page"
        )
    return recipe.safety


def check_jar(recipe: Recipe, jar: str) -> str:
    """Size of a jar that the card lists ('pint' for 'pint-wide').

    Raises RecipeError, naming the listed ones, for any other; what is published of a jar smaller
    than one of these, or larger than all, is quoted with its source.
    """
    safety = needs_safety(recipe)
    try:
        size = size_of(jar_key(jar))
    except BatchError:
        size = ""
    if size in safety.jars:
        return size
    smaller = other_sizes(recipe, size) if size else ()
    quoted = smaller[0] if smaller else said("larger jar") if safety.process else ""
    raise RecipeError(
        f"{recipe.name}: this card does not list '{cut_short(jar)}' jars; "
        f"listed: {', '.join(safety.jars)}{f'. {quoted}' if quoted else ''}"
    )


def lists_smaller(recipe: Recipe, jar: str = "") -> bool:
    """Whether the card lists a jar that takes less than this one, or than its largest.

    Raises RecipeError for a jar that it does not list, and for a card without safety numbers.
    """
    room = {size: SHELF[size].fill_volume_ml() for size in needs_safety(recipe).jars}
    filled = room[check_jar(recipe, jar)] if jar else max(room.values())
    return min(room.values()) < filled


def lists_half(recipe: Recipe, size: str) -> bool:
    """Whether the card lists a jar of about half this size; one without safety numbers lists any.

    Of trade sizes the smaller one takes 0.46 to 0.48 of the other, as either has its headspace.
    """
    if recipe.safety is None or size not in SHELF:
        return True
    half = 0.5 * SHELF[size].fill_volume_ml()
    rooms = (SHELF[one].fill_volume_ml() for one in recipe.safety.jars)
    return any(0.8 * half < room < 1.2 * half for room in rooms)


def other_sizes(recipe: Recipe, only: str = "") -> tuple[str, ...]:
    """What is published of each size that a card with a process does not list, or of one.

    A sentence each, with its source. A smaller jar takes the time of the next larger listed one;
    a larger jar has none. Nothing here gives a time: that stays the card's.
    """
    safety = recipe.safety
    if safety is None or not safety.process:
        return ()
    found = []
    for size in rules().size:
        takes = next((jar for jar in size.takes if jar in safety.jars), "")
        if takes and size.jar not in safety.jars and only in ("", size.jar):
            found.append(
                f"Published of smaller jars: {size.jar} takes the time of the next larger one "
                f"listed, here {takes} ({_cited(size)}). The card itself covers only the jars it "
                "lists: look it up before you use it"
            )
    return tuple(found)


def _cited(size: SizeRule) -> str:
    table = rules()
    also = f"; {table.cited(size.also, size.page)}" if size.also else ""
    return table.cited(size.source) + also


def packs_of(recipe: Recipe) -> tuple[str, ...]:
    """The packs that a card lists, raw or hot; () where it says neither."""
    rows = () if recipe.safety is None else recipe.safety.process
    return tuple(dict.fromkeys((*recipe.packs, *(row.pack for row in rows if row.pack))))


def check_pack(recipe: Recipe, pack: str) -> str:
    """A pack that the card lists; '' for one that is not said.

    Raises RecipeError, naming the listed ones, for any other: its time is for another jar.
    """
    wanted, listed = pack_key(pack), packs_of(recipe)
    if not wanted or recipe.safety is None or wanted in listed:
        return wanted
    if not listed:
        raise RecipeError(
            f"{recipe.name}: this card does not list a {cut_short(wanted)} pack; it says neither "
            "raw nor hot, so leave out the pack and pack as its source directs"
        )
    raise RecipeError(
        f"{recipe.name}: this card does not list a {cut_short(wanted)} pack; listed: "
        f"{', '.join(listed)}"
    )
