"""The ingredients of a card: those that are measured, those in words, those that go by the jar."""

from jarcast.errors import MeasureError
from jarcast.measures import parse_volume, parse_weight
from jarcast.recipes.card import Addition, Ingredient, Kind
from jarcast.recipes.fields import Table
from jarcast.recipes.kitchen import exact_ml, grams_per_ml


def measure(table: Table, field: str, text: str) -> tuple[float | None, float | None]:
    """Millilitres or grams of a measure, whichever it is; what is wrong goes to the card's list."""
    ml: float | None = None
    grams: float | None = None
    try:
        ml = parse_volume(text)
    except MeasureError as not_volume:
        try:
            grams = parse_weight(text)
        except MeasureError:
            why = str(not_volume).removeprefix(f"'{text}': ")
            table.wrong(field, f"'{text}' is neither a weight nor a volume ({why})")
            return None, None
    if not (ml or grams):
        table.wrong(field, f"'{text}' is nothing; write how much, or leave it out")
    return ml, grams


def ingredient(table: Table) -> Ingredient:
    """One ingredient that is measured out: its amount is a weight or a volume, or a count."""
    table.known("name", "kind", "amount")
    name = table.text("name")
    kind = table.choice("kind", Kind, Kind.OTHER)
    if kind is Kind.OTHER and isinstance(table.raw("amount"), int | float):
        count = table.number("amount", 0, 1000)
        return Ingredient(name, kind, f"{count or 0:g}", count=count)
    return _measured(table, "amount", name, kind, table.text("amount"))


def _measured(table: Table, field: str, name: str, kind: Kind, printed: str) -> Ingredient:
    """An ingredient whose amount, in this field, is a weight or a volume."""
    ml, grams = measure(table, field, printed) if printed else (None, None)
    if kind.liquid and grams is not None:
        table.wrong(field, f"'{printed}' is a weight; {kind} is measured by volume")
    weighed = grams is not None
    density = grams_per_ml(name, kind)
    if density is not None and ml is not None:
        grams = float(exact_ml(ml) * density)
    elif density is not None and grams is not None:
        ml = grams / float(density)
    elif kind is Kind.SUGAR and printed and not weighed:
        table.wrong(field, f"no household weight is known for {name}; write its weight")
    return Ingredient(name, kind, printed, ml, grams, weighed=weighed)


def printed_part(table: Table) -> Ingredient:
    """A seasoning or a part of the produce: its amount is a number or a text, as printed."""
    table.known("name", "amount")
    if isinstance(table.raw("amount"), int | float):
        count = table.number("amount", 0, 1000)
        return Ingredient(table.text("name"), Kind.OTHER, f"{count or 0:g}", count=count)
    return _in_words(table.text("name"), Kind.OTHER, table.text("amount"))


def additions(card: Table, tested: tuple[str, ...]) -> tuple[Addition, ...]:
    """Every [[per_jar]] table, an addition for each size of jar it names.

    What is more than a seasoning, salt or acid, needs its amount for every jar of the card.
    """
    found: list[Addition] = []
    for table in card.tables("per_jar"):
        table.known("name", "kind", "amount")
        name, kind = table.text("name"), table.choice("kind", Kind, Kind.OTHER)
        if kind.liquid and not kind.acid:
            table.wrong("kind", f"{kind} thins the brine, so put it in the formula: [[brine]]")
        amounts = table.table("amount")
        if amounts is None:
            table.wrong("amount", 'is missing; write { pint = "1/2 tsp" }, by the size of jar')
            continue
        sizes = {amounts.size(text, text): amounts.text(text) for text in amounts.fields}
        for size, printed in sizes.items():
            if tested and size not in ("", *tested):
                amounts.wrong(size, f"is not one of the tested jars ({', '.join(tested)})")
            if kind is Kind.OTHER:
                found.append(Addition(size, _in_words(name, kind, printed)))
            else:
                found.append(Addition(size, _measured(amounts, size, name, kind, printed)))
        lacking = [jar for jar in tested if jar not in sizes]
        if kind is not Kind.OTHER and lacking:
            table.wrong("amount", f"says nothing of {', '.join(lacking)}; write each tested jar")
    return tuple(found)


def _in_words(name: str, kind: Kind, printed: str) -> Ingredient:
    """An amount that need not be a measure; its volume or weight where it is one."""
    try:
        return Ingredient(name, kind, printed, ml=parse_volume(printed))
    except MeasureError:
        pass
    try:
        return Ingredient(name, kind, printed, grams=parse_weight(printed), weighed=True)
    except MeasureError:
        return Ingredient(name, kind, printed)
