"""Plans read from CSV, TOML and typed lines: the same lines, or every problem at once."""

from collections.abc import Callable
from pathlib import Path

import pytest

from jarcast.errors import BatchError
from jarcast.files.shipped import shipped
from jarcast.harvest.plan.line import MOST_LINES, Plan
from jarcast.harvest.plan.parsing import read_plan
from jarcast.recipes import Recipe, card_shelf

Put = Callable[..., Path]

POUND_G = 453.59237  # exact: NIST Handbook 44, Appendix C


def cards(name: str) -> Recipe:
    """The shipped cards."""
    return card_shelf(Path("nowhere")).find(name)


def read(path: Path | None, *typed: str) -> Plan:
    return read_plan(path, typed, cards=cards)


@pytest.fixture
def file(tmp_path: Path) -> Put:
    """Puts a plan there."""

    def put(text: str, name: str = "plan.csv") -> Path:
        path = tmp_path / name
        path.write_text(text, encoding="utf-8", newline="")
        return path

    return put


CSV = (
    "name,produce,cut,pack,jar,recipe,as_bought,trimmed,cure_hours,headspace\n"
    "c1,carrot,sticks,raw,pint,,20-35 lb,,0,1/2\n"
    "b1,,,,,pickled-beets,,7 lb,,\n"
)
TOML = """
[[line]]
name = "c1"
produce = "carrot"
cut = "sticks"
pack = "raw"
jar = "pint"
as_bought = "20-35 lb"
cure_hours = 0
headspace = 0.5

[[line]]
name = "b1"
recipe = "pickled-beets"
trimmed = "7 lb"
"""
TYPED = (
    "carrot, sticks, raw, pint: 20-35 lb; name=c1; cure hours=0; headspace=1/2",
    "by pickled-beets: 7 lb trimmed; name = b1",
)


def test_csv_toml_and_typed_lines_say_the_same(file: Put) -> None:
    plans = [read(file(CSV)), read(file(TOML, "plan.toml")), read(None, *TYPED)]
    asked = [[line.forecast_keywords() for line in plan.lines] for plan in plans]
    assert asked[0] == asked[1] == asked[2]
    carrots, beets = asked[0]
    assert carrots == {
        "produce": "carrot", "cut": "sticks", "pack": "raw", "jar": "pint", "cure_hours": 0.0,
        "headspace_in": 0.5,
        "as_bought_g": pytest.approx((20 * POUND_G, 35 * POUND_G)),
    }  # fmt: skip
    assert beets["recipe"].key == "pickled-beets"
    assert beets["trimmed_g"] == pytest.approx(7 * POUND_G)
    assert [line.name for line in plans[0].lines] == ["c1", "b1"]


def test_lines_know_where_they_stand(file: Put) -> None:
    assert [line.place for line in read(file(CSV)).lines] == ["line 2", "line 3"]
    assert [line.place for line in read(file(TOML, "p.toml")).lines] == ["line 2", "line 12"]
    both = read(file(CSV.replace("b1", "b2")), TYPED[1])
    assert both.lines[-1].place == "--line 1"


def test_every_problem_is_told_at_once_by_line_and_column(file: Put) -> None:
    path = file(
        "name,produce,jar,recipe,as_bought,cure_hours\n"
        "a,carrot,pint,,12,\n"  # no unit
        "b,okra,pint,,2 bushels,\n"  # not published
        "b,carrot,pint,nonesuch,12 lb,many\n"  # a name twice, no such card, no hours
        ",,pint,,12 lb,\n"  # no produce
        "e,carrot,pint,,,\n"  # no weight
        "f,carrot\n"  # too few cells
        "g,carrot,pint,,12 lb,0\n"
    )
    with pytest.raises(BatchError) as refused:
        read(path)
    told = "\n".join(refused.value.problems)
    for part in (
        "line 2, as_bought '12': '12' has no unit",
        "line 3, as_bought '2 bushels': no net weight of a bushel of okra",
        "line 4, name 'b': is the name of line 3 as well",
        "line 4, recipe 'nonesuch': there is no recipe card",
        "line 4, cure_hours 'many'",
        "line 5, produce: is empty",
        "line 6: has no weight",
        "line 7: 2 cells where the header has 6",
    ):
        assert part in told
    assert "line 8" not in told
    assert len(refused.value.problems) == 8


def test_a_slip_in_a_key_of_toml_is_told_with_what_was_meant(file: Put) -> None:
    text = TOML.replace("trimmed =", "trimed =") + "[lines]\n"
    with pytest.raises(BatchError) as refused:
        read(file(text, "p.toml"))
    told = "\n".join(refused.value.problems)
    assert "line 12, trimed: is not a key of a line; was 'trimmed' meant?" in told
    assert "'lines': does not belong in a plan" in told


def test_columns_that_are_not_of_a_plan_are_named_and_results_are_not(file: Put) -> None:
    plan = read(file("produce,As bought,row in garden,state,jars_median\ncarrot,5 lb,3,to do,7\n"))
    assert plan.ignored_columns == ("row in garden",)
    assert plan.lines[0].as_bought_g == pytest.approx(5 * POUND_G)


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("", "is empty"),
        ("\ufeff \n", "is empty"),
        ("produce,as_bought\n", "has no lines"),
        ("crop,kg\ncarrot,5\n", "no produce or recipe column"),
        ("produce,produce\ncarrot,5\n", "is there twice"),
        ('produce,as_bought\n"carrot,5 lb\n', "never closed"),
    ],
)
def test_what_is_no_plan_is_refused_in_words(file: Put, text: str, why: str) -> None:
    with pytest.raises(BatchError, match=why):
        read(file(text))


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("produce = 'carrot'\n", r"no \[\[line\]\]"),
        ("[[line]\n", "is not valid TOML"),
        ("line = 3\n", r"no \[\[line\]\]"),
        ("line = []\n", "has no lines"),
        ("[[line]]\nproduce = ['carrot']\nas_bought = '5 lb'\n", "neither text nor a number"),
        ("[[line]]\nproduce = 'carrot'\nas_bought = 5\n", "no unit"),
        ("[[line]]\nproduce = 'carrot'\nas_bought = '5 lb'\ncure_hours = inf\n", "inf"),
    ],
)
def test_what_is_no_toml_plan_is_refused_in_words(file: Put, text: str, why: str) -> None:
    with pytest.raises(BatchError, match=why):
        read(file(text, "p.toml"))


def test_files_that_cannot_be_read_are_told_by_name(tmp_path: Path) -> None:
    for path, why in ((tmp_path, "is a folder"), (tmp_path / "none.csv", "there is no file")):
        with pytest.raises(BatchError, match=why):
            read(path)
    utf16 = tmp_path / "u.csv"
    utf16.write_text("produce,as_bought\ncarrot,5 lb\n", encoding="utf-16")
    with pytest.raises(BatchError, match="UTF-16"):
        read(utf16)
    (tmp_path / "u.toml").write_bytes("[[line]]\nproduce='möhre'".encode("latin-1"))
    with pytest.raises(BatchError, match="not in UTF-8"):
        read(tmp_path / "u.toml")


def test_too_much_is_refused_early(file: Put) -> None:
    rows = "carrot,5 lb\n" * (MOST_LINES + 1)
    with pytest.raises(BatchError, match=f"{MOST_LINES} at most"):
        read(file("produce,as_bought\n" + rows))
    tables = "[[line]]\nproduce = 'carrot'\nas_bought = '5 lb'\n" * (MOST_LINES + 1)
    with pytest.raises(BatchError, match=f"{MOST_LINES} at most"):
        read(file(tables, "p.toml"))
    with pytest.raises(BatchError, match="longer than 4 MB"):
        read(file("produce,note\n" + "x" * 4_100_000))
    with pytest.raises(BatchError, match="500 at most are read"):
        read(file(f"produce,as_bought,note\ncarrot,5 lb,{'x' * 501}\n"))


def test_names_in_any_script_stay_as_they_are(file: Put) -> None:
    plan = read(file("name,produce,as_bought\nпервая 🥕,морковь,5 kg\n'=1+1,胡萝卜,½ lb\n"))
    assert [line.name for line in plan.lines] == ["первая 🥕", "=1+1"]
    assert plan.lines[1].produce == "胡萝卜"
    assert plan.lines[1].as_bought_g == pytest.approx(POUND_G / 2)


def test_semicolons_and_decimal_commas_are_read(file: Put) -> None:
    plan = read(file("produce;cut;as_bought;jar\ncarrot;sticks;2,7 kg;5 pint-wide, then pint\n"))
    assert plan.lines[0].as_bought_g == pytest.approx(2700)
    assert plan.lines[0].jar == "5 pint-wide, then pint"


@pytest.mark.parametrize(
    ("typed", "why"),
    [
        ("carrot 5 lb", "no ':' before the weight"),
        ("carrot: ", "has no weight"),
        (": 5 lb", "name a produce or a recipe"),
        ("carrot, raw, hot: 5 lb", "says pack twice"),
        ("carrot: 5 lb; colour=red", "write it as column=value"),
        ("carrot: 5 lb; as bought=6 lb", "says as bought twice"),
        ("carrot: 5", "no unit"),
    ],
)
def test_typed_lines_that_cannot_be_read_are_told(typed: str, why: str) -> None:
    with pytest.raises(BatchError, match=why):
        read(None, typed)


def test_parts_of_a_typed_line_come_in_any_order() -> None:
    line = read(None, "green beans, hot, quart-wide, whole: 3 crates trimmed".replace(
        "3 crates", "4 lb")).lines[0]  # fmt: skip
    assert (line.produce, line.cut, line.pack, line.jar) == (
        "green beans", "whole", "hot", "quart-wide",
    )  # fmt: skip
    assert line.trimmed_g == pytest.approx(4 * POUND_G)


def test_the_plan_of_the_demo_household_is_a_plan() -> None:
    plan = read(shipped("data_demo", "harvest-plan.csv"))
    assert len(plan.lines) == 6
    assert plan.ignored_columns == ()
    assert any(line.counted for line in plan.lines)
    assert any(line.recipe for line in plan.lines)
