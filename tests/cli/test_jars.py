"""jarcast jars: what each sort holds, and jars of one's own, measured by the water in them."""

import datetime as dt
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from jarcast.domain.batch import Batch
from jarcast.domain.jars import SHELF, Jar
from jarcast.ledger import Entry, Ledger
from jarcast.ledger.own_measures import own_jars

Run = Callable[..., Any]

FL_OZ_ML = 29.5735295625  # exact: NIST Handbook 44, Appendix C
PINT_WATER = "437.27 g"  # 16 fl oz less a cylinder of 60 mm, half an inch high: 473.18 - 35.91


@pytest.fixture
def tall(run: Run) -> dict[str, Any]:
    """A tall jar, measured; what was said of it, as JSON."""
    document: dict[str, Any] = run(
        "kitchen", "jars", "add", "tall jar", "--water", "900 g - 485 g", "--json"
    ).document
    return document


def put(ledger: Path, *batches: Batch) -> None:
    with Ledger.open(ledger, writing=True) as opened:
        opened.add([Entry(batch) for batch in batches], "record")


def carrots(name: str, jar: str, day: int = 1) -> Batch:
    return Batch(
        batch=name, date=dt.date(2024, 8, day), produce="carrot", cut="sticks", pack="raw",
        jar=(jar,), jars=(9.5,), trimmed_g=2835.0, brine_made_ml=2400.0, brine_left_ml=350.0,
    )  # fmt: skip


# The list


def test_the_list_has_every_sort_and_makes_no_ledger(run: Run, ledger: Path) -> None:
    ran = run("kitchen", "jars", "list")
    assert (ran.code, ran.err) == (0, "")
    assert all(any(line.startswith(f"{key} ") for line in ran.out.splitlines()) for key in SHELF)
    assert "Your own:" not in ran.out
    assert max(len(line) for line in ran.out.splitlines()) <= 80
    assert not ledger.exists()


@pytest.mark.parametrize(
    ("options", "half_pint"),
    # Nominal size, less a cylinder of 60 mm bore (from memory): 35.9 ml at 1/2 in, 18.0 at 1/4.
    [
        ((), "6.8 fl oz   8.0 fl oz"),
        (("--units", "metric"), "201 ml     237 ml"),
        (("--units", "metric", "--headspace", "1/4"), "219 ml     237 ml"),
        (("--units", "metric", "--headspace", "0"), "237 ml   237 ml"),
    ],
)
def test_the_list_says_what_a_jar_holds_at_a_headspace(
    run: Run, options: tuple[str, ...], half_pint: str
) -> None:
    line = run("kitchen", "jars", "list", *options).out.splitlines()[1]
    assert line.split()[0] == "half-pint"
    assert " ".join(half_pint.split()) in " ".join(line.split())


def test_the_list_as_json_gives_volumes_and_where_they_come_from(
    run: Run, tall: dict[str, Any]
) -> None:
    document = run("kitchen", "jars", "list", "--headspace", "1/4 in", "--json").document
    assert (document["format"], document["version"]) == ("jarcast jars", 1)
    assert document["headspace_in"] == 0.25
    jars = {jar["jar"]: jar for jar in document["jars"]}
    assert list(jars) == [*SHELF, "tall"]
    pint = jars["pint-wide"]
    assert pint["brim_ml"] == pytest.approx(16 * FL_OZ_ML)
    assert pint["fill_ml"] == pytest.approx(16 * FL_OZ_ML - 28.8, abs=0.06)  # by hand, 76 mm
    assert (pint["own"], pint["wide"], pint["measured_by"]) == (False, True, None)
    own = jars["tall"]
    # 35.9 ml of neck at half an inch, half of it at a quarter.
    assert own["brim_ml"] == pytest.approx(415.0 + 35.9, abs=0.06)
    assert own["fill_ml"] == pytest.approx(415.0 + 18.0, abs=0.06)
    assert (own["own"], own["measured_by"]) == (True, {"water": "900 g - 485 g"})


def test_one_s_own_jars_stand_below_with_what_was_weighed(run: Run, tall: dict[str, Any]) -> None:
    lines = run("kitchen", "jars", "list", "--units", "metric").out.splitlines()
    own = lines[lines.index("Your own:") + 1]
    assert own.split()[:5] == ["tall", "415", "ml", "451", "ml"]
    assert own.endswith("900 g - 485 g of water")


def test_a_headspace_that_cannot_be_is_refused(run: Run) -> None:
    for typed, why in (("12 in", "more than can be"), ("-1", "negative"), ("1 lb", "is due here")):
        ran = run("kitchen", "jars", "list", "--headspace", typed)
        assert (ran.code, ran.out) == (1, "")
        assert "--headspace" in ran.err
        assert why in ran.err


# Measuring


def test_a_measured_jar_is_told_with_its_error(run: Run, ledger: Path) -> None:
    ran = run("kitchen", "jars", "add", "Tall jar", "--water", "415 g", "--units", "metric")
    assert (ran.code, ran.err) == (0, "")
    said = " ".join(ran.out.split())
    # 5 g of the scale and 0.5 % of 415 g: 7 ml.
    assert "A 'tall' jar holds 415 ml at ½ in of headspace, give or take 7 ml" in said
    assert "To the brim 451 ml" in said
    assert "refrigerator" in said
    with Ledger.open(ledger) as opened:
        assert opened.setting("units") == "metric"
        assert list(own_jars(opened)) == ["tall"]


@pytest.mark.parametrize(
    ("options", "bore", "wide"),
    [
        ((), 60.0, False),
        (("--mouth", "regular"), 60.0, False),
        (("--mouth", "wide"), 76.0, True),
        (("--bore", "76 mm"), 76.0, True),
        (("--bore", "70 mm"), 70.0, False),
        (("--bore", "3 in"), 76.2, True),
        (("--brim", "450.9 g"), 60.0, False),  # 35.9 ml more, by hand
        (("--brim", "473 g", "--mouth", "wide"), 76.0, True),
    ],
)
def test_the_mouth_is_named_measured_or_told_by_the_brim(
    run: Run, options: tuple[str, ...], bore: float, wide: bool
) -> None:
    document = run(
        "kitchen", "jars", "add", "tall", "--water", "415 g", *options, "--json"
    ).document
    assert (document["format"], document["version"]) == ("jarcast jar added", 1)
    assert document["bore_mm"] == pytest.approx(bore, abs=0.05)
    assert document["wide"] is wide
    assert document["fill_ml"] == pytest.approx(415.0)
    assert document["added"]
    assert document["before"] is None


def test_ounces_and_another_headspace_are_measures_too(run: Run) -> None:
    ran = run("kitchen", "jars", "add", "tall", "--water", "1 lb", "--headspace", "1 in", "--json")
    # A pound is 453.6 g; 71.8 ml of neck at one inch and 60 mm, by hand.
    assert ran.document["fill_ml"] == pytest.approx(453.6, abs=0.05)
    assert ran.document["brim_ml"] == pytest.approx(453.6 + 71.8, abs=0.1)
    assert ran.document["error_ml"] == pytest.approx(5 + 0.005 * 453.6, abs=0.01)


def test_the_same_name_with_other_weights_supersedes_and_says_so(
    run: Run, tall: dict[str, Any]
) -> None:
    ran = run("kitchen", "jars", "add", "Tall", "--water", "430 g", "--units", "metric")
    assert (ran.code, ran.err) == (0, "")
    assert "replaces the earlier measure (415 ml at ½ in)" in " ".join(ran.out.split())
    document = run("kitchen", "jars", "add", "tall jar", "--water", "440 g", "--json").document
    assert document["before"]["fill_ml"] == pytest.approx(430.0)
    (own,) = (j for j in run("kitchen", "jars", "list", "--json").document["jars"] if j["own"])
    assert own["fill_ml"] == pytest.approx(440.0)


def test_the_same_weights_again_change_nothing_and_say_so(run: Run, tall: dict[str, Any]) -> None:
    ran = run("kitchen", "jars", "add", "tall", "--water", "415 g")
    assert "Nothing to change" in ran.out
    assert "supersedes" not in ran.out
    assert not run("kitchen", "jars", "add", "tall", "--water", "415 g", "--json").document["added"]


@pytest.mark.parametrize(
    ("words", "why"),
    [
        (("pint", "--water", "415 g"), "built-in jar"),
        (("tall+short", "--water", "415 g"), "'+' is in it"),
        (("12 jar", "--water", "415 g"), "count of jars"),
        (("tall then", "--water", "415 g"), "separate jars and counts"),
        (("tall", "--water", "415"), "has no unit"),
        (("tall", "--water", "415 ml"), "--water"),
        (("tall", "--water", "0 g"), "cannot be"),
        (("tall", "--water", "415 kg"), "check its unit"),
        (("tall", "--water", "480 g - 900 g"), "less than nothing"),
        (("tall", "--water", "415 g", "--brim", "400 g"), "weigh again"),
        (("tall", "--water", "415 g", "--brim", "1 cup"), "--brim"),
        (("tall", "--water", "415 g", "--bore", "70"), "check its unit"),
        (("tall", "--water", "415 g", "--headspace", "5 in"), "--headspace"),
        (("tall", "--water", "415 g", "--bore", "70 mm", "--mouth", "wide"), "one of the two"),
    ],
)
def test_what_cannot_be_is_refused_and_nothing_is_made(
    run: Run, ledger: Path, words: tuple[str, ...], why: str
) -> None:
    ran = run("kitchen", "jars", "add", *words)
    assert (ran.code, ran.out) == (1, "")
    assert why in ran.err
    assert len(ran.err.splitlines()) == 1
    assert not ledger.exists()
    assert run("kitchen", "jars", "add", *words, "--json").error["format"] == "jarcast error"


def test_usage_is_told(run: Run) -> None:
    assert run("kitchen", "jars", "add", "tall").code == 2
    assert run("kitchen", "jars", "add", "tall", "--water", "415 g", "--mouth", "narrow").code == 2
    assert "measured" in run("kitchen", "jars").out + run("kitchen", "jars").err


# In use


def test_a_forecast_takes_a_jar_of_one_s_own(run: Run, tall: dict[str, Any]) -> None:
    asked = ("forecast", "--produce", "carrot", "--trimmed", "5 lb")
    assert "'tall' jars" in run(*asked, "--jar", "Tall jars").out
    listed = run(*asked, "--jar", "3 tall, then pint", "--json").document
    assert listed["jar"] == ["tall", "pint"]


def test_a_jar_measured_like_a_pint_is_forecast_and_learned_like_one(
    run: Run, ledger: Path
) -> None:
    # The same geometry must give the same answer, whatever the jar is called.
    asked = ("forecast", "--produce", "carrot", "--cut", "sticks", "--trimmed", "5 lb", "--json")
    put(ledger, carrots("1", "pint"), carrots("2", "pint", 2))
    pints = run(*asked, "--jar", "pint").document
    other = ledger.with_name("other.sqlite3")
    kept = ("--ledger", str(other))
    assert run("kitchen", "jars", "add", "tall", "--water", PINT_WATER, *kept).code == 0
    put(other, carrots("1", "tall"), carrots("2", "tall", 2))
    own = run(*asked, "--jar", "tall", *kept).document
    for answer in ("jars", "brine_ml"):
        for part in ("low", "median", "high"):
            assert own[answer][part] == pytest.approx(pints[answer][part], rel=1e-3)
    assert own["rests_on"]["this"] == 2


def test_a_new_measure_changes_what_the_batches_in_it_teach(run: Run, ledger: Path) -> None:
    asked = ("forecast", "--produce", "carrot", "--trimmed", "5 lb", "--jar", "pint", "--json")
    run("kitchen", "jars", "add", "tall", "--water", "437 g")
    put(ledger, *(carrots(str(day), "tall", day) for day in range(1, 6)))
    before = run(*asked).document["jars"]["median"]
    run("kitchen", "jars", "add", "tall", "--water", "500 g")
    # As much produce in larger jars was packed looser, so it fills more pints.
    assert run(*asked).document["jars"]["median"] > before


def test_hindsight_looks_back_on_batches_in_such_jars(
    run: Run, ledger: Path, tall: dict[str, Any]
) -> None:
    put(ledger, *(carrots(str(day), "tall", day) for day in range(1, 5)))
    ran = run("hindsight", "--json")
    assert (ran.code, ran.err) == (0, "")
    assert ran.document["batches"] == 4


@pytest.mark.parametrize("jar", ["tall", "3 tall, then pint", "3 pint, then tall"])
def test_with_a_recipe_a_jar_of_one_s_own_is_refused_with_the_reason(
    run: Run, tall: dict[str, Any], jar: str
) -> None:
    # A tested process holds for the jar sizes it was tested in, and a card lists those alone
    # (USDA, Complete Guide to Home Canning, from memory).
    asked = ("forecast", "--recipe", "pickled-carrots", "--trimmed", "5 lb", "--jar", jar)
    for more in ((), ("--headspace", "1/2"), ("--keep", "a"), ("--altitude", "0 ft")):
        ran = run(*asked, *more)
        assert (ran.code, ran.out) == (1, "")
        assert "measured yourself" in ran.err
        assert "lists pint," in ran.err
        assert "refrigerator" in ran.err


def test_as_large_as_the_tested_jar_is_no_tested_jar(run: Run) -> None:
    run("kitchen", "jars", "add", "tall", "--water", PINT_WATER)
    ran = run("forecast", "--recipe", "pickled-carrots", "--trimmed", "5 lb", "--jar", "tall")
    assert ran.code == 1
    assert "measured yourself" in ran.err
    scaled = run("recipes", "scale", "pickled-carrots", "--jars", "12", "--jar", "tall")
    assert (scaled.code, scaled.out) == (1, "")
    assert "this card does not list 'tall' jars; listed: pint" in scaled.err


def test_with_a_recipe_the_habit_of_such_a_jar_gives_way_to_the_tested_one(
    run: Run, ledger: Path, tall: dict[str, Any]
) -> None:
    put(ledger, *(carrots(str(day), "tall", day) for day in range(1, 4)))
    asked = ("forecast", "--trimmed", "5 lb", "--json")
    assert run(*asked, "--produce", "carrot").document["jar"] == ["tall"]
    assert run(*asked, "--recipe", "pickled-carrots").document["jar"] == ["pint"]


def test_an_unknown_jar_is_told_how_to_become_known(run: Run, table: Callable[..., Path]) -> None:
    rows = table("1,2024-08-31,carrot,sticks,raw,tall,5 lb,0,7,,,")
    ran = run("import", str(rows))
    assert ran.code == 1
    assert "there is no jar 'tall'" in ran.err
    assert "'jarcast kitchen jars add'" in ran.err


# What its page says; the commands of the how-to are run in tests/docs

PAGE = Path(__file__).parents[2] / "docs" / "reference" / "jars.md"


def test_what_the_page_says_of_a_pint_is_so() -> None:
    # pi / 4 x 1.27 cm x (6.2^2 - 6.0^2) cm^2 is 2.4 ml; 3 % of 473.2 ml is 14.2 ml.
    pint = SHELF["pint"]
    text = PAGE.read_text(encoding="utf-8")
    assert f"a pint at half an inch, {pint.fill_volume_ml(0.5):.0f} ml" in text
    wider = Jar("wider", pint.capacity_ml, 62.0).fill_volume_ml(0.5)
    assert pint.fill_volume_ml(0.5) - wider == pytest.approx(2.4, abs=0.05)
    more = Jar("more", 1.03 * pint.capacity_ml, 60.0).fill_volume_ml(0.5)
    assert more - pint.fill_volume_ml(0.5) == pytest.approx(14.2, abs=0.05)
