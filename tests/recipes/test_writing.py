"""What a cook types of a book is read whole or refused, and is what the card then holds.

Expected values are what the words say, worked out by hand; cards are compared with those that ship
and were checked against their printed sources.
"""

import pytest

from jarcast.errors import RecipeError
from jarcast.measures import parse_inches
from jarcast.recipes import Recipe, read_card, shipped_recipes, writing

TAKEN = {
    "0-1000: 10": '{ "0-1000" = 10 }',
    "0-1000: 10, 1,001 to 6,000 ft = 15 min; above 6000: 20": (
        '{ "0-1000" = 10, "1001-6000" = 15, "above 6000" = 20 }'
    ),
    "0\u20131,000 ft: 12.5 minutes": '{ "0-1000" = 12.5 }',
    # Sauerkraut, hot pack, pints: the bands and times of tests/data/recipe-details.csv, spaced and
    # punctuated as a printed table may be.
    "0 - 1,000 ft: 10 min; 1,001 - 3,000 ft: 15; 3,001 - 6,000 ft: 15; Above 6,000 ft: 20": (
        '{ "0-1000" = 10, "1001-3000" = 15, "3001-6000" = 15, "above 6000" = 20 }'
    ),
}
# Each would lose something if its readable part alone were taken.
REFUSED = (
    "10", "ten", "0-1000: 1 hour", "0-1000: 10 to 15", "0-1000: 10-15", "0-1000: 1,5",
    "0-1000: 10, 20", "0-1000: 10, above: 20", "0-1000: 10, 0-1000: 15", "sea level: 10",
    "0-300 m: 10", "0-1000: 10 at 10 psi", "0-1000: 10, 1001-6000", "0-1000: 10,600-2000: 15",
    "", ",", "0-1000: 10,",
)  # fmt: skip


@pytest.mark.parametrize("typed", TAKEN)
def test_minutes_are_taken_whole(typed: str) -> None:
    assert writing.minutes(typed) == TAKEN[typed]


@pytest.mark.parametrize("typed", REFUSED)
def test_minutes_of_which_a_part_would_be_lost_are_refused(typed: str) -> None:
    with pytest.raises(RecipeError):
        writing.minutes(typed)


@pytest.mark.parametrize(
    ("typed", "read"),
    [
        ("4 cups vinegar", ('"vinegar"', '"vinegar"', '"4 cups"')),
        ("4 cups vinegar (5 %)", ('"vinegar (5 %)"', '"vinegar"', '"4 cups"')),
        ("4 cups 5% cider vinegar", ('"5% cider vinegar"', '"vinegar"', '"4 cups"')),
        ("1 1/2 tsp of canning salt", ('"canning salt"', '"salt"', '"1 1/2 tsp"')),
        ("½ cup sugar", ('"sugar"', '"sugar"', '"½ cup"')),
        ("4 heads of dill", ('"heads of dill"', '"other"', "4")),
        ("2½ sticks cinnamon", ('"sticks cinnamon"', '"other"', "2.5")),
        ("2 tbsp bottled lemon juice", ('"bottled lemon juice"', '"lemon juice"', '"2 tbsp"')),
    ],
)
def test_an_ingredient_is_one_amount_and_a_name(typed: str, read: tuple[str, str, str]) -> None:
    assert writing.ingredient(typed) == read


@pytest.mark.parametrize(
    "typed",
    ["vinegar", "4 vinegar", "4 salt", "1 to 2 cups sugar", "1-2 cups sugar", "some dill",
     "4 cups vinegar or 2 cups lemon juice", "0 cups water", "4 cups", "",
     "1 cup plus 2 tbsp sugar", "8 cups vinegar and water", "4 cups water or vinegar",
     "2 cups salt water", "1/2 in"],
)  # fmt: skip
def test_an_ingredient_of_which_a_part_would_be_lost_is_refused(typed: str) -> None:
    with pytest.raises(RecipeError):
        writing.ingredient(typed)


@pytest.mark.parametrize(
    ("typed", "read"),
    [
        ("8 pints", ("8", '"pint"')),
        ("about 7 to 9 pints", ("[7, 9]", '"pint"')),
        ("7½ quarts", ("7.5", '"quart"')),
        ("7-9 half-pints", ("[7, 9]", '"half-pint"')),
        ("7 to 8 12-oz jars", ("[7, 8]", '"12-oz"')),
    ],
)
def test_a_printed_yield_is_counts_of_one_jar(typed: str, read: tuple[str, str]) -> None:
    assert writing.printed_yield(typed) == read


@pytest.mark.parametrize(
    "typed", ["some", "8", "8 pints or 4 quarts", "8 pots", "pints", "8-pints"]
)
def test_a_yield_that_is_none_is_refused(typed: str) -> None:
    with pytest.raises(RecipeError):
        writing.printed_yield(typed)


def test_what_goes_into_each_jar_is_said_by_the_jar() -> None:
    assert writing.each_jar("salt: pint 1/2 tsp, quarts 1 tsp") == (
        '"salt"', '"salt"', '{ "pint" = "1/2 tsp", "quart" = "1 tsp" }',
    )  # fmt: skip
    for typed in ("salt", "salt: 1 tsp", "salt: pint", ": pint 1 tsp"):
        with pytest.raises(RecipeError):
            writing.each_jar(typed)


def test_weeks_of_a_ferment_go_by_the_warmth() -> None:
    assert writing.warmth("70-75 F: 3-4 weeks, 60 to 65: 5-6") == (
        "[{ f = [70, 75], weeks = [3, 4] }, { f = [60, 65], weeks = [5, 6] }]"
    )
    with pytest.raises(RecipeError):
        writing.warmth("3 to 4 weeks")


def typed_again(card: Recipe) -> dict[str, tuple[str, ...]]:
    """A card that ships, as a cook would type it off the page."""
    assert card.safety is not None
    safety, tested = card.safety, card.tested

    def of(part: object) -> str:
        return str(part.line) if not part.count else f"{part.count:g} {part.name}"  # type: ignore[attr-defined]

    jars: dict[str, list[str]] = {}
    for one in safety.per_jar:
        jars.setdefault(one.part.name, []).append(f"{one.jar} {one.part.printed}")
    said = {
        "title": (card.name,), "produce": (card.produce,), "cut": (card.cut,),
        "style": (str(card.style),), "book": (safety.source.publication,),
        "edition": (safety.source.edition,), "page": (safety.source.page,),
        "amount": (tested.printed,), "basis": (str(tested.basis),),
        "yield": (f"{tested.jars[0]:g} to {tested.jars[1]:g} {tested.jar}",),
        "pack": (", ".join(card.packs),), "headspace": (f"{safety.headspace_in}",),
        "jars": (", ".join(safety.jars),), "brine": tuple(map(of, safety.formula)),
        "each jar": tuple(f"{name}: {', '.join(sizes)}" for name, sizes in jars.items()),
        "method": (safety.process[0].method,),
    }  # fmt: skip
    if safety.least_acid_percent:
        said["acid"] = (f"{safety.least_acid_percent:g} %",)
    if card.cure and card.cure.hours:
        said["cure"] = (card.cure.detail,)
        said["cure hours"] = (f"{card.cure.hours[0]:g} to {card.cure.hours[1]:g} hours",)
        said["cure ingredient"] = tuple(map(of, card.cure.ingredients))
    for pack in card.packs:
        for jar in safety.jars:
            rows = [row for row in safety.process if (row.pack, row.jar) == (pack, jar)]
            if rows:
                said[f"minutes {pack} {jar}"] = (
                    ", ".join(f"{row.band.replace('-', ' to ')}: {row.minutes:g}" for row in rows),
                )
    return said


TYPED = sorted(
    key
    for key, card in shipped_recipes().items()
    if card.safety
    and card.safety.process
    and not card.tested.several_ways
    and len({row.method for row in card.safety.process}) == 1
)


@pytest.mark.parametrize("key", TYPED)
def test_a_card_that_ships_typed_off_its_page_holds_the_same_numbers(key: str) -> None:
    old = shipped_recipes()[key]
    new = read_card(writing.card_of(typed_again(old)), key)
    assert old.safety is not None
    assert new.safety is not None
    assert [row.minutes for row in new.safety.process] != []
    strip = [(r.pack, r.jar, r.from_ft, r.to_ft, r.minutes) for r in new.safety.process]
    assert set(strip) == {
        (r.pack, r.jar, r.from_ft, r.to_ft, r.minutes) for r in old.safety.process
    }
    assert new.safety.least_acid_percent == old.safety.least_acid_percent
    assert new.safety.headspace_in == parse_inches(str(old.safety.headspace_in))
    assert new.safety.jars == old.safety.jars
    assert [(p.ml, p.grams) for p in new.safety.formula] == [
        (p.ml, p.grams) for p in old.safety.formula
    ]
    assert {(a.jar, a.part.name, a.part.printed) for a in new.safety.per_jar} == {
        (a.jar, a.part.name, a.part.printed) for a in old.safety.per_jar
    }
    assert (new.tested.grams, new.tested.ml, new.tested.jars, new.tested.basis) == (
        old.tested.grams, old.tested.ml, old.tested.jars, old.tested.basis,
    )  # fmt: skip


def test_most_cards_can_be_typed() -> None:
    assert len(TYPED) >= 30
