"""Reading a card: what is taken, and what is sent back with line and field."""

import os
import tomllib
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec import Struct
from msgspec.structs import astuple

from jarcast.errors import RecipeError
from jarcast.files.shipped import shipped
from jarcast.recipes import (
    Basis,
    Kind,
    Recipe,
    Style,
    load_card,
    read_card,
    safety_block,
    shipped_recipes,
)
from jarcast.recipes.lines import line_numbers

CARD = """\
name = "Turnip sticks"
produce = "turnips"
cut = "sticks"
pack = "hot"
style = "cover brine"

[source]
publication = "An invented bulletin"
edition = "2019"
page = "12"

[tested]
amount = "4 lb"
basis = "prepared"
jar = "pints"
jars = [5, 6]

[cure]
detail = "salt, drain"
hours = [2, 3]

[[cure.ingredient]]
name = "canning salt"
kind = "salt"
amount = "1/4 cup"

[[brine]]
name = "cider vinegar"
kind = "vinegar"
amount = "3 cups"

[[brine]]
name = "water"
kind = "water"
amount = "2 cups"

[[brine]]
name = "heads of dill"
kind = "other"
amount = 6

[safety]
vinegar_percent = 5
headspace_in = 0.5
jars = ["pint", "quart"]
steam_canner = true

[[process]]
method = "boiling-water canner"
jar = ["pint", "quart"]
minutes = { "0-1000" = 10, "1,001-6,000 ft" = 15, "above 6000" = 20 }
"""


def problems_of(text: str) -> tuple[str, ...]:
    with pytest.raises(RecipeError) as caught:
        read_card(text, "turnip", "turnip.toml")
    return caught.value.problems


def line_of(text: str, part: str) -> int:
    """The line a person would point at."""
    return next(n for n, line in enumerate(text.splitlines(), 1) if line.startswith(part))


def test_a_card_written_by_hand_is_read() -> None:
    recipe = read_card(CARD, "turnip")
    assert (recipe.produce, recipe.cut, recipe.packs) == ("turnip", "sticks", ("hot",))
    assert recipe.tested.basis is Basis.PREPARED
    assert recipe.tested.jar == "pint"
    assert recipe.style is Style.COVER_BRINE
    assert recipe.safety is not None
    assert recipe.safety.steam_canner
    assert "steam canner: the source allows one" in safety_block(recipe, "pint")
    assert [part.kind for part in recipe.safety.formula] == [Kind.VINEGAR, Kind.WATER, Kind.OTHER]
    assert recipe.safety.formula[2].count == 6
    assert {row.pack for row in recipe.safety.process} == {"hot"}  # the card's only pack
    bands = [(row.from_ft, row.to_ft) for row in recipe.safety.process if row.jar == "pint"]
    assert bands == [(0, 1000), (1001, 6000), (6001, None)]


def test_a_card_reads_the_same_with_windows_line_ends_and_a_byte_order_mark(tmp_path: Path) -> None:
    path = tmp_path / "turnip.toml"
    path.write_bytes(b"\xef\xbb\xbf" + CARD.replace("\n", "\r\n").encode())
    assert load_card(path) == read_card(CARD, "turnip")


def test_a_card_of_the_first_version_is_read_and_says_nothing_of_what_came_later() -> None:
    recipe = load_card(Path(__file__).parents[1] / "data" / "card-of-the-first-version.toml")
    assert recipe.safety is not None
    assert [part.printed for part in recipe.safety.formula] == [
        "6 cups", "8 cups", "1/4 cup", "1/2 cup",
    ]  # fmt: skip
    assert {row.sterile for row in recipe.safety.process} == {None}
    assert len(recipe.safety.process) == 6
    assert not recipe.safety.per_jar
    assert not recipe.safety.ferment
    assert (recipe.steps, recipe.seasonings, recipe.standing) == ((), (), "")


LATER = """
[[per_jar]]
name = "canning salt"
kind = "salt"
amount = { pint = "1/2 tsp", quart = "1 tsp" }

[[per_jar]]
name = "garlic"
amount = { pint = "1/4 clove" }

[[seasoning]]
name = "bay leaves, optional"
amount = 2
"""


def test_what_goes_into_each_jar_is_read_by_the_size_of_jar() -> None:
    text = CARD.replace(
        "[safety]",
        LATER.replace('name = "garlic"', 'name = "garlic"\nkind = "other"') + "\n[safety]",
    )
    recipe = read_card(text, "turnip")
    assert recipe.safety is not None
    found = [(each.jar, each.part.line) for each in recipe.safety.per_jar]
    assert found == [
        ("pint", "½ tsp canning salt"),
        ("quart", "1 tsp canning salt"),
        ("pint", "¼ clove garlic"),
    ]
    assert recipe.seasonings[0].count == 2
    # by the jar, never by the brine: the formula and its volume are as without
    assert recipe.safety.volume_ml == read_card(CARD, "turnip").safety.volume_ml  # type: ignore[union-attr]


@pytest.mark.parametrize(
    ("amount", "kind", "says"),
    [
        ('{ pint = "1/2 tsp" }', "salt", "says nothing of quart"),
        ('{ pint = "some", quart = "1 tsp" }', "salt", "neither a weight nor a volume"),
        (
            '{ pint = "1 tsp", quart = "1 tsp", half-pint = "1 tsp" }',
            "salt",
            "not one of the tested",
        ),
        ('{ pint = "1 tbsp", quart = "2 tbsp" }', "water", "thins the brine"),
        ('"1/2 tsp"', "salt", "make it a table"),
    ],
)
def test_what_goes_into_each_jar_is_checked(amount: str, kind: str, says: str) -> None:
    table = f'[[per_jar]]\nname = "x"\nkind = "{kind}"\namount = {amount}\n'
    assert any(says in problem for problem in problems_of(f"{CARD}\n{table}"))


@pytest.mark.parametrize(
    ("old", "new", "field", "says"),
    [
        ('amount = "3 cups"', 'amount = "3"', "brine 1, amount", "has no unit"),
        ('amount = "3 cups"', 'amount = "3 lb"', "brine 1, amount", "measured by volume"),
        ('amount = "3 cups"', 'amount = "0 cups"', "brine 1, amount", "is nothing"),
        ('kind = "water"', 'kind = "watr"', "brine 2, kind", "none of: vinegar"),
        ('amount = "1/4 cup"', "amount = 3", "cure, ingredient 1, amount", "not a text"),
        ("vinegar_percent = 5", "vinegar_percent = 50", "safety, vinegar_percent", "at most 30"),
        ("vinegar_percent = 5", "vinegar_percent = true", "safety, vinegar_percent", "a number"),
        ("headspace_in = 0.5", "headspace_in = nan", "safety, headspace_in", "must be above 0"),
        ("headspace_in = 0.5", "headspce_in = 0.5", "safety, headspce_in", "'headspace_in' meant"),
        (
            'jars = ["pint", "quart"]',
            'jars = ["pint", "bucket"]',
            "safety, jars",
            "no jar 'bucket'",
        ),
        ("jars = [5, 6]", "jars = [6, 5]", "tested, jars", "lowest first"),
        ("jars = [5, 6]", "jars = 0", "tested, jars", "above 0"),
        ('jar = "pints"', 'jar = "half-pint"', "tested, jar", "not one of the tested jars"),
        ('amount = "4 lb"', 'amount = "4"', "tested, amount", "neither a weight nor a volume"),
        ('basis = "prepared"', 'basis = "cooked"', "tested, basis", "none of: as bought, prepared"),
        ('pack = "hot"', 'pack = "tepid"', "pack", "neither raw nor hot"),
        ('page = "12"', 'page = " "', "source, page", "is empty"),
        ('jar = ["pint", "quart"]', 'jar = ["half-pint"]', "process 1, jar", "tested jars"),
        ('"0-1000" = 10', '"low" = 10', "process 1, minutes", "not an altitude band"),
        ('"0-1000" = 10', '"0-1000" = 0', "process 1, minutes", "above 0"),
        ('"1,001-6,000 ft"', '"900-6000"', "process 1, minutes", "each altitude needs one"),
        ("steam_canner = true", 'steam_canner = "yes"', "safety, steam_canner", "true nor false"),
        ('style = "cover brine"', 'style = "jam"', "style", "none of: cover brine"),
    ],
)
def test_each_wrong_field_is_named_with_its_line(old: str, new: str, field: str, says: str) -> None:
    assert CARD.count(old) >= 1
    text = CARD.replace(old, new, 1)
    found = problems_of(text)
    line = next(n for n, written in enumerate(text.splitlines(), 1) if new in written)
    assert any(p.startswith(f"line {line}, {field}: ") and says in p for p in found), found


@pytest.mark.parametrize(
    ("field", "line"),
    [
        ("name", 1),
        ("produce", 1),
        ("style", 1),
        ("edition", "[source]"),
        ("basis", "[tested]"),
        ("headspace_in", "[safety]"),
        ("vinegar_percent", "[safety]"),
        ("minutes", "[[process]]"),
        ("method", "[[process]]"),
    ],
)
def test_a_missing_field_is_named_with_the_line_of_its_table(field: str, line: int | str) -> None:
    rows = CARD.splitlines(keepends=True)
    at = next(place for place, row in enumerate(rows) if row.startswith(f"{field} ="))
    text = "".join(rows[:at] + rows[at + 1 :])
    number = line if isinstance(line, int) else line_of(text, line)
    found = problems_of(text)
    assert len(found) == 1
    assert found[0].startswith(f"line {number}, ")
    assert f"{field}: is missing" in found[0]


def test_everything_wrong_is_told_at_once_in_the_order_of_the_lines() -> None:
    text = CARD.replace('"3 cups"', '"3"').replace("headspace_in = 0.5", "headspace_in = -1")
    text = text.replace('name = "Turnip sticks"', "name = 7").replace('"quart"]\nm', '"bath"]\nm')
    found = problems_of(text)
    assert len(found) == 4
    lines = [int(problem.split(",")[0].removeprefix("line ")) for problem in found]
    assert lines == sorted(lines)


@pytest.mark.parametrize(
    ("text", "line"),
    [("name = \n", 1), ('name = "a"\nname = "b"\n', 2), ('a = 1\n"b', 2), ("a = [\n1,\n\n", 4)],
)
def test_a_slip_in_the_toml_is_named_with_its_line(text: str, line: int) -> None:
    assert [problem.split(":")[0] for problem in problems_of(text)] == [f"line {line}"]


def test_pressure_by_altitude_stands_beside_one_time() -> None:
    text = CARD.split("[[process]]")[0] + (
        '[[process]]\nmethod = "dial-gauge canner"\njar = "pint"\nminutes = 25\n'
        'pressure_psi = { "0-2000" = 11, "2001-4000" = 12 }\n'
    )
    recipe = read_card(text, "turnip")
    assert recipe.safety is not None
    cells = [(row.band, row.minutes, row.pressure_psi) for row in recipe.safety.process]
    assert cells == [("0-2000 ft", 25, 11), ("2001-4000 ft", 25, 12)]
    alone = problems_of(text.replace('{ "0-2000" = 11, "2001-4000" = 12 }', "11"))
    assert "needs the altitudes" in alone[0]


def test_several_packs_need_one_on_each_process_row() -> None:
    found = problems_of(CARD.replace('pack = "hot"', 'pack = ["hot", "raw"]'))
    assert found == (
        f"line {line_of(CARD, '[[process]]')}, process 1, pack: is missing; the card has several "
        "packs (hot, raw)",
    )


def test_a_card_without_a_source_is_taken_for_its_yield_only() -> None:
    before, rest = CARD.split("[source]")
    recipe = read_card(before + rest[rest.index("[tested]") :], "turnip")
    assert recipe.safety is None
    assert recipe.tested.jars == (5.0, 6.0)
    assert recipe.cure is not None


def test_a_yield_only_card_needs_nothing_but_the_yield() -> None:
    recipe = read_card(
        'name = "Kohlrabi"\nproduce = "kohlrabi"\nstyle = "cover brine"\n'
        '[tested]\namount = "2 kg"\nbasis = "as bought"\njar = "500ml"\njars = 5\n',
        "kohlrabi",
    )
    assert recipe.safety is None
    assert recipe.tested.grams == 2000.0


def test_an_unsourced_card_is_still_checked() -> None:
    before, rest = CARD.split("[source]")
    text = (before + rest[rest.index("[tested]") :]).replace('"3 cups"', '"three"')
    assert "brine 1, amount" in problems_of(text)[0]


def _values(value: object) -> list[object]:
    if isinstance(value, Struct):
        parts = astuple(value)
        return [value, *(inner for part in parts for inner in _values(part))]
    if isinstance(value, tuple):
        return [value, *(inner for part in value for inner in _values(part))]
    return [value]


@pytest.mark.parametrize("key", sorted(shipped_recipes()))
def test_nothing_in_a_card_can_be_changed(key: str) -> None:
    recipe = shipped_recipes()[key]
    for value in _values(recipe):
        assert isinstance(value, str | int | float | tuple | Struct | None.__class__)
        hash(value)
        if isinstance(value, Struct):
            with pytest.raises(AttributeError):
                setattr(value, value.__struct_fields__[0], None)
            assert not hasattr(value, "__dict__")


def test_a_file_that_is_no_card_gives_one_sentence(tmp_path: Path) -> None:
    latin = tmp_path / "latin.toml"
    latin.write_bytes('name = "x"\nproduce = "jalapeño"\n'.encode("latin-1"))
    big = tmp_path / "big.toml"
    big.write_text("#" * 70_000)
    long = tmp_path / "long.toml"
    long.write_text("\n" * 2000)
    pipe = tmp_path / "pipe.toml"
    os.mkfifo(pipe)
    for path, says in (
        (latin, "line 2: not UTF-8"),
        (big, "longer than"),
        (long, "more than 1000 lines"),
        (pipe, "not a file"),
        (tmp_path, "not a file"),
        (tmp_path / "none.toml", "No such file"),
        (tmp_path / ("x" * 300), "too long"),
        (Path("a\0b"), "cannot be read"),
    ):
        with pytest.raises(RecipeError, match=says):
            load_card(path)


@pytest.mark.parametrize(
    "text",
    ["a = " + "[" * 3000, "name" + ".a" * 9000 + " = 1", "x = " + "9" * 5000,
     "x = 0x" + "f" * 6000, "", "\0", "name = {}", "brine = 3", "brine = [1]", "tested = 1",
     "[process]\njar = 1", "safety = []", "source = []"],
)  # fmt: skip
def test_odd_texts_are_refused_in_words(text: str) -> None:
    with pytest.raises(RecipeError):
        read_card(text, "odd")


_PIECES = st.sampled_from([
    "name", "[source]", "[[brine]]", "[safety]", "[[process]]", "=", '"6 cups"', "5", "nan", "[",
    "]", "{", "}", "\n", '"', "minutes", "jar", "kind", "amount", "tested", ".", "true", "'''",
])  # fmt: skip


@given(st.lists(st.one_of(_PIECES, st.text(max_size=5)), max_size=30).map(" ".join))
@settings(max_examples=300, deadline=None)
def test_no_text_gives_anything_but_a_recipe_error(text: str) -> None:
    with pytest.raises(RecipeError):
        read_card(text, "any")


@given(st.data())
@settings(max_examples=150, deadline=None)
def test_no_slip_in_a_good_card_gives_anything_but_a_card_or_a_recipe_error(
    data: st.DataObject,
) -> None:
    at = data.draw(st.integers(0, len(CARD) - 1))
    cut = data.draw(st.integers(0, 12))
    put = data.draw(st.one_of(_PIECES, st.text(max_size=6)))
    outcome: object
    try:
        outcome = read_card(CARD[:at] + put + CARD[at + cut :], "any")
    except RecipeError as why:
        outcome = why
    assert isinstance(outcome, Recipe | RecipeError)


def test_the_line_of_a_field_is_found_through_lists_inside_lists_and_long_values() -> None:
    # TOML v1.0.0, 'Array of Tables': the sub-tables of the last [[fruits]].
    text = (
        '# fruits\n[[fruits]]\nname = "apple"\n[[fruits.varieties]]\nname = "red"\n\n'
        '[[fruits.varieties]]\nname = """\nlong\n"""\n[[fruits]]\nname = [\n  1,\n  2,\n]\n'
        '[fruits.physical]\n"odd key" = {x = 1}\n'
    )
    assert tomllib.loads(text)
    lines = line_numbers(text)
    assert lines[("fruits", 0, "name")] == 3
    assert lines[("fruits", 0, "varieties", 0, "name")] == 5
    assert lines[("fruits", 0, "varieties", 1, "name")] == 8
    assert lines[("fruits", 1, "name", 1)] == 12
    assert lines[("fruits", 1, "physical", "odd key", "x")] == 17


@pytest.mark.parametrize(
    "path", sorted(shipped("models", "recipes").glob("*.toml")), ids=lambda p: p.stem
)
def test_every_path_of_a_shipped_card_has_its_line(path: Path) -> None:
    def paths(value: object) -> list[tuple[str | int, ...]]:
        items = value.items() if isinstance(value, dict) else enumerate(value)
        found: list[tuple[str | int, ...]] = []
        for key, inner in items:
            found.append((key,))
            if isinstance(inner, dict | list):
                found += [(key, *rest) for rest in paths(inner)]
        return found

    text = path.read_text("utf-8")
    lines = line_numbers(text)
    rows = text.splitlines()
    for where in paths(tomllib.loads(text)):
        if (
            where in lines
            and isinstance(where[-1], str)
            and not rows[lines[where] - 1].startswith("[")
        ):
            assert where[-1] in rows[lines[where] - 1]
    leaves = [where for where in paths(tomllib.loads(text)) if where[-1] in ("amount", "minutes")]
    assert leaves
    assert all(where in lines for where in leaves)
