"""jarcast forecast: the answer first, its range in words, what it rests on, one line of caution."""

import math
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

import jarcast

pytestmark = pytest.mark.contract

Run = Callable[..., Any]

CARROTS = ("forecast", "--produce", "carrot", "--cut", "sticks", "--trimmed", "5 lb")
POUND_G = 453.59237  # exact: NIST Handbook 44, Appendix C
CUP_ML = 236.5882365  # exact: the US gallon of 231 cubic inches (Handbook 44) over 16


def words(text: str) -> str:
    """A text without its line breaks."""
    return " ".join(text.split())


# In words


def test_the_answer_comes_first_then_range_ground_and_caution(run: Run) -> None:
    ran = run(*CARROTS)
    assert (ran.code, ran.err) == (0, "")
    title, answer, under = ran.out.strip().split("\n\n")
    ground, caution = words(under).split(" No recipe named: ")
    assert title == "Carrot, sticks: 5 lb trimmed"
    jars, brine, ready = re.split(r"^  (?:BRINE|SET OUT) +", answer, flags=re.MULTILINE)
    assert re.fullmatch(
        r"  JARS     About [0-9]+½? pints, 8 times in 10 between [0-9½]+ and [0-9½]+\.\n", jars
    )
    assert re.match(r"Make [0-9 ½¼¾a-z]+ of brine: 1 chance in 20 of ", brine)
    assert re.search(r"You'll use about .* 8 times in 10 between ", words(brine))
    assert re.match(r"[0-9]+ jars and lids", ready)
    assert "based on published yields" in ground
    assert "never make less brine than yours calls for" in caution
    assert "Without a tested process, keep the jars in the refrigerator." in caution
    assert "local food-safety guidance" in caution


def test_lines_fit_a_terminal(run: Run, filled: Path) -> None:
    for typed in (
        CARROTS,
        (*CARROTS, "--jar", "3 quart-wide, then 2 pint-and-half, then half-pint"),
        ("forecast", "--produce", "carrot, parsnip and celeriac " * 3, "--as-bought", "12.5 kg"),
        (*CARROTS, "--short-chance", "0.0123456789", "--level", "0.987654321"),
    ):
        assert max(len(line) for line in run(*typed).out.splitlines()) <= 80


def test_no_larger_chance_of_running_short_is_taken_without_a_floor(run: Run) -> None:
    dill = ("forecast", "--recipe", "quick-fresh-pack-dill", "--cure-hours", "0")
    for asked, why in (
        (CARROTS, "no recipe is named"),
        (("forecast", "--recipe", "pickled-carrots", "--as-bought", "5 lb"), "weighed prepared"),
        (("forecast", "--recipe", "pickled-cauliflower", "--trimmed", "5 lb"), "by the cup"),
        (("harvest", "--line", "carrot, sticks, pint: 5 lb"), "no recipe is named"),
    ):
        ran = run(*asked, "--short-chance", "0.2")
        assert (ran.code, ran.out) == (1, "")
        assert why in words(ran.err)
        assert "sk for 0.05 or less" in words(ran.err)
        assert run(*asked, "--short-chance", "0.05").code == 0
    # AIB 539, quick fresh-pack dill: 6 cups of vinegar and 8 of water to 8 lb as bought.
    for stage in ("--as-bought", "--trimmed", "--cured"):
        hours = dill if stage != "--cured" else dill[:-2]
        asked = (*hours, stage, "8 lb", "--short-chance", "0.9", "--json")
        assert run(*asked).document["brine_to_make_ml"] >= 14 * 236.5882365


def test_what_it_rests_on_is_published_yields_until_there_are_batches(
    run: Run, filled: Path
) -> None:
    none = words(run(*CARROTS, "--ledger", "empty.sqlite3").out)
    assert "No batch of your own yet: based on published yields" in none
    own = words(run(*CARROTS).out)
    assert "2 of your batches like this, 2 others, and published" in own
    other = words(run("forecast", "--produce", "okra", "--trimmed", "2 lb").out)
    assert "Based on 4 of your batches of other produce" in other
    assert "of your batches of okra" not in other
    cut = words(run("forecast", "--produce", "carrot", "--cut", "whole", "--trimmed", "2 lb").out)
    assert "Based on 2 of your batches of other carrot" in cut
    unknown = words(run("forecast", "--produce", "sea buckthorn", "--trimmed", "2 lb").out)
    assert "nothing is published of it" in unknown


def test_json_says_what_it_rests_on_too(run: Run, filled: Path) -> None:
    rests = run(*CARROTS, "--json").document["rests_on"]
    assert rests == {"this": 2, "same_produce": 0, "others": 2, "published": "this cut"}


def test_a_new_batch_counts_at_once(run: Run, filled: Path) -> None:
    before = run(*CARROTS, "--json").document
    typed = ("--cut", "sticks", "--pack", "raw", "--trimmed", "5 lb", "--cure-hours", "0")
    run("record", "--produce", "carrot", *typed, "--jar", "pint", "--jars", "10")
    after = run(*CARROTS, "--json").document
    assert after["rests_on"]["this"] == before["rests_on"]["this"] + 1
    # It filled more jars than was thought likely, so more are expected of the next.
    assert before["jars"]["median"] < 10
    assert after["jars"]["median"] > before["jars"]["median"]


def test_several_sorts_of_jar_are_filled_in_their_order(run: Run) -> None:
    typed = ("--jar", "5 pint-wide, then quart")
    assert re.search(
        r"About .* jars \(5 wide-mouth pints, then .* quarts?\), 8 times in 10 between ",
        words(run(*CARROTS, *typed).out),
    )
    document = run(*CARROTS, *typed, "--json").document
    assert document["jar"] == ["pint-wide", "quart"]
    first, second = document["jars_by_sort"]
    assert first["median"] == 5.0
    assert second["median"] > 0.0


def test_what_makes_its_own_brine_is_told_so(run: Run) -> None:
    # Common practice, no source: relishes, ferments and dry-salted kraut have no brine made apart.
    typed = ("forecast", "--produce", "sauerkraut", "--cut", "shredded", "--trimmed", "5 lb")
    text = run(*typed).out
    assert "makes its own" in text
    assert "Make " not in text
    document = run(*typed, "--json").document
    assert document["brine_to_make_ml"] == 0.0
    assert document["brine_ml"]["median"] == 0.0


# As JSON


def test_json_carries_the_contract_s_fields_and_only_finite_numbers(run: Run) -> None:
    document = run(*CARROTS, "--json").document
    assert (document["format"], document["version"]) == ("jarcast forecast", 1)
    for outcome in (document["jars"], document["brine_ml"]):
        assert set(outcome) == {"median", "low", "high", "level"}
        assert 0.0 < outcome["low"] < outcome["median"] < outcome["high"] < math.inf
        assert outcome["level"] == 0.8
    made = document["brine_to_make_ml"]
    assert made >= document["brine_ml"]["median"]
    # A measure a kitchen has: whole quarter cups.
    assert made / (CUP_ML / 4) == pytest.approx(round(made / (CUP_ML / 4)), abs=1e-9)
    assert document["from"] == {"stage": "trimmed_g", "grams": 5 * POUND_G}
    assert "tested recipe" in document["caution"]


def test_the_text_and_the_json_tell_the_same(run: Run) -> None:
    text, document = words(run(*CARROTS).out), run(*CARROTS, "--json").document
    jars = document["jars"]
    found = re.search(
        r"About ([0-9½]+) pints, 8 times in 10 between ([0-9½]+) and ([0-9½]+)\. BRINE", text
    )
    assert found is not None
    for shown, value in zip(
        found.groups(), (jars[k] for k in ("median", "low", "high")), strict=True
    ):
        whole, half, _ = shown.partition("½")
        assert abs(float(whole or 0) + (0.5 if half else 0.0) - value) <= 0.25
    assert f"SET OUT {document['jars_to_have']} jars and lids" in text


def test_python_gives_the_same_forecast_from_the_same_batches(
    run: Run, filled: Path, kitchen: Path
) -> None:
    ours = run(*CARROTS, "--pack", "raw", "--jar", "pint", "--seed", "3", "--json").document
    habits = jarcast.learn(jarcast.read_batches(kitchen / "batches.csv"))
    theirs = habits.forecast(
        produce="carrot", cut="sticks", pack="raw", jar="pint", trimmed_g=5 * POUND_G, seed=3
    )
    assert ours["jars"]["median"] == theirs.jars.median
    assert (ours["jars"]["low"], ours["jars"]["high"]) == theirs.jars.interval(0.8)
    assert ours["brine_ml"]["median"] == theirs.brine_ml.median
    assert ours["brine_to_make_ml"] == theirs.brine_to_make(short_chance=0.05)


# What is typed


def asked(run: Run, *more: str) -> dict[str, Any]:
    """A forecast of carrots without the seed of chance: the same draws for the same question."""
    document: dict[str, Any] = run("forecast", "--produce", "carrot", *more, "--json").document
    return document


@pytest.mark.parametrize(
    "same",
    ["80 oz", "5lb", "4 lb 16 oz", "5 pounds", "2267.96185 g", "2.26796185 kg", "2,26796185 kg"],
)
def test_a_weight_is_the_same_however_it_is_written(run: Run, same: str) -> None:
    ours, theirs = asked(run, "--trimmed", "5 lb"), asked(run, "--trimmed", same)
    assert theirs["jars"]["median"] == pytest.approx(ours["jars"]["median"], rel=1e-12)
    assert theirs["brine_ml"]["high"] == pytest.approx(ours["brine_ml"]["high"], rel=1e-12)


@pytest.mark.parametrize(
    ("produce", "cut"),
    [("Carrots", "stick"), ("CARROT", "Sticks"), (" carrot ", "cut into batons")],
)
def test_names_are_forgiven_their_case_plural_and_spaces(run: Run, produce: str, cut: str) -> None:
    ours = run("forecast", "--produce", produce, "--cut", cut, "--trimmed", "5 lb", "--json")
    assert ours.document == asked(run, "--cut", "sticks", "--trimmed", "5 lb")


def test_the_latest_weight_counts(run: Run) -> None:
    both = asked(run, "--as-bought", "9 lb", "--trimmed", "5 lb")
    assert both["from"]["stage"] == "trimmed_g"
    assert both["jars"] == asked(run, "--trimmed", "5 lb")["jars"]
    bought = asked(run, "--as-bought", "5 lb")
    assert bought["jars"]["median"] < both["jars"]["median"]  # trimming only takes away
    for stage in ("--cured", "--cooked"):
        assert asked(run, stage, "5 lb")["from"]["stage"] == f"{stage[2:]}_g"


def test_a_cure_shrinks_and_a_larger_jar_takes_more(run: Run) -> None:
    raw = asked(run, "--trimmed", "5 lb", "--cure-hours", "0")
    salted = asked(run, "--trimmed", "5 lb", "--cure-hours", "24", "--salt", "1/2 cup")
    assert salted["jars"]["median"] < raw["jars"]["median"]
    quarts = asked(run, "--trimmed", "5 lb", "--cure-hours", "0", "--jar", "quart")
    assert quarts["jars"]["median"] < raw["jars"]["median"]
    more_air = asked(run, "--trimmed", "5 lb", "--cure-hours", "0", "--headspace", "1 in")
    assert more_air["jars"]["median"] > raw["jars"]["median"]


def test_a_surer_range_is_wider_and_a_surer_order_larger(run: Run) -> None:
    half, most = (
        asked(run, "--trimmed", "5 lb", "--level", "0.5"),
        asked(run, "--trimmed", "5 lb", "--level", "0.95", "--short-chance", "0.01"),
    )
    assert most["jars"]["low"] < half["jars"]["low"] < half["jars"]["high"] < most["jars"]["high"]
    assert most["brine_to_make_ml"] > half["brine_to_make_ml"]
    assert "19 times in 20" in run(*CARROTS, "--level", "0.95").out
    assert "1 chance in 100" in run(*CARROTS, "--short-chance", "0.01").out


def test_the_same_question_has_the_same_answer_and_another_seed_nearly(run: Run) -> None:
    ours = asked(run, "--trimmed", "5 lb")
    assert asked(run, "--trimmed", "5 lb") == ours
    other = asked(run, "--trimmed", "5 lb", "--seed", "7")
    # Ranges of whole jars may agree; brine tells the draws apart.
    assert other["brine_ml"] != ours["brine_ml"]
    # Of 4096 draws the median is off by about 1.25 sd / 64, and 8 in 10 are 2.56 sd wide.
    spread = ours["jars"]["high"] - ours["jars"]["low"]
    assert abs(other["jars"]["median"] - ours["jars"]["median"]) < 0.05 * spread


@pytest.mark.parametrize(
    ("typed", "saying"),
    [
        (("--trimmed", "5"), "lb, oz, kg or g"),
        (("--cured", "5 cups"), "a weight is due"),
        (("--trimmed", "0 lb"), "cannot be; it must be"),
        (("--trimmed", "-5 lb"), "negative"),
        (("--trimmed", "nan lb"), "a number is missing"),
        (("--trimmed", "1000000 lb"), "more than can be"),
        ((), "needs a weight"),
        (("--trimmed", "5 lb", "--produce", " "), "needs a produce"),
        (("--trimmed", "5 lb", "--jar", "bucket"), "known jars are"),
        (("--trimmed", "5 lb", "--jar", "pint, then quart"), "how many of each"),
        (("--trimmed", "5 lb", "--level", "1"), "--level"),
        (("--trimmed", "5 lb", "--level", "nan"), "--level"),
        (("--trimmed", "5 lb", "--short-chance", "0"), "--short-chance"),
        (("--trimmed", "5 lb", "--cure-hours", "soon"), "--cure-hours"),
        (("--trimmed", "5 lb", "--salt", "1/2 cup kosher salt"), "--salt"),
        (("--trimmed", "5 lb", "--headspace", "a finger"), "--headspace"),
    ],
)
def test_a_question_that_cannot_be_answered_says_what_to_change(
    run: Run, ledger: Path, typed: tuple[str, ...], saying: str
) -> None:
    ran = run("forecast", "--produce", "carrot", *typed)
    assert (ran.code, ran.out) == (1, "")
    assert saying in ran.err
    assert ran.err.count("\n") == 1
    assert not ledger.exists()


@pytest.mark.parametrize("weight", ["1 g", "0.001 g", "100000 kg"])
def test_a_tiny_or_a_huge_batch_is_answered_without_nonsense(run: Run, weight: str) -> None:
    ran = run("forecast", "--produce", "carrot", "--trimmed", weight)
    assert ran.code == 0, ran.err
    assert not re.search(r"nan|inf\b|e\+|e-[0-9]", ran.out)
    document = asked(run, "--trimmed", weight)
    assert 0.0 < document["jars"]["low"] <= document["jars"]["high"] < math.inf


def test_the_usual_cut_is_filled_in_and_said(run: Run, filled: Path) -> None:
    asked = ("--produce", "cucumber", "--as-bought", "10 lb", "--cure-hours", "0")
    unsaid, said = run("forecast", *asked), run("forecast", *asked, "--cut", "slices")
    assert "As usual: slices; change with --cut." in words(unsaid.out)
    assert "As usual" not in said.out
    document = run("forecast", *asked, "--json").document
    assert document["as_usual"] == {"cut": "slices"}
    sliced = run("forecast", *asked, "--cut", "slices", "--json").document
    assert document["jars"] == sliced["jars"]
    assert document["brine_to_make_ml"] == sliced["brine_to_make_ml"]
    bought = run("buy", "12", "--produce", "cucumber", "--cure-hours", "0")
    assert "As usual: slices; change with --cut." in bought.out
    sheet = run("forecast", *asked, "--sheet", "s.html")
    assert "As usual: slices" in sheet.out
    line = run("harvest", "--line", "cucumber: 10 lb", "--json").document["lines"][0]
    assert line["cut"] == "slices"


def test_a_cut_is_usual_only_if_most_batches_have_it(run: Run, filled: Path) -> None:
    for name in ("w1", "w2"):
        run("record", "--batch", name, "--produce", "cucumber", "--cut", "whole", "--jar", "quart",
            "--jars", "4")  # fmt: skip
    run("record", "--batch", "w3", "--produce", "cucumber", "--cut", "slices", "--jar", "pint",
        "--jars", "4")  # fmt: skip
    asked = ("forecast", "--produce", "cucumber", "--as-bought", "10 lb", "--json")
    assert run(*asked).document["as_usual"] == {}  # two of each
    by_card = run(*asked, "--recipe", "quick-sweet")  # which names its own: slices
    assert by_card.document["as_usual"] == {}
    assert by_card.document["cut"] == "slices"
    assert run("forecast", "--produce", "okra", "--as-bought", "2 lb").code == 0


def test_by_the_jar_needs_no_weight(run: Run) -> None:
    """'7 quarts of spears, how much brine and how many pounds?'"""
    asked = ("forecast", "--produce", "cucumber", "--cut", "spears", "--pack", "raw")
    ran = run(*asked, "--jars", "7 quarts")
    assert (ran.code, ran.err) == (0, "")
    said = " ".join(ran.out.split())
    assert said.startswith("Cucumber, spears, raw pack: for 7 quarts Make ")
    assert "8 times in 10 between" in said
    found = run(*asked, "--jars", "7 quarts", "--json").document
    assert (found["format"], found["for_jars"], found["jar"]) == (
        "jarcast by the jar",
        7,
        ["quart"],
    )
    low, high = found["brine_ml"]["low"], found["brine_ml"]["high"]
    assert low < found["brine_ml"]["median"] < high <= found["brine_to_make_ml"]
    assert found["weights_g"]["trimmed"]["median"] < found["weights_g"]["as_bought"]["median"]


@pytest.mark.parametrize("beside", [("--trimmed", "5 lb"), ("--keep", "A"), ("--chart", "a.svg")])
def test_by_the_jar_goes_with_nothing_weighed_or_kept(run: Run, beside: tuple[str, ...]) -> None:
    ran = run("forecast", "--produce", "carrot", "--jars", "7", *beside)
    assert ran.code == 2
    assert f"leave out {beside[0]}, or --jars" in " ".join(ran.err.split())


def test_a_load_is_what_the_canner_holds(run: Run) -> None:
    asked = (*CARROTS[:-2], "--trimmed", "20 lb", "--pack", "raw", "--jar", "quart",
             "--cure-hours", "0")  # fmt: skip
    usual = " ".join(run(*asked).out.split())
    assert "for the first 7 jars: 1 chance in 20 of running short" in usual
    known = run("kitchen", "--canner", "5 quarts", "--canner-kind", "steam", "--json").document
    assert (known["canner"], known["canner_kind"]) == ({"quart": 5}, "steam")
    assert "for the first 5 jars" in " ".join(run(*asked).out.split())
    first, rest = run(*asked, "--json").document["pots"]
    assert first["jars"] == 5
    whole = run(*asked, "--json").document["brine_to_make_ml"]
    assert first["ml"] + rest["ml"] == pytest.approx(whole)
    # In pints of the same canner nothing is known: it is taken as 7.
    assert "first 7 jars" in " ".join(run(*asked, "--jar", "pint").out.split())


def test_packing_without_a_weight_tells_what_is_known(run: Run) -> None:
    run("begin", "--produce", "cucumber", "--cut", "spears", "--pack", "raw", "--jar", "quart",
        "--brine-made", "12 cups")  # fmt: skip
    ran = run("pack", "--jars", "4", "--pot-left", "6 cups")
    assert ran.code == 0
    said = " ".join(ran.out.split())
    # 6 of 12 cups went into 4 jars.
    assert "So far 1½ cups of brine a jar; count on as much for each one to come." in said
    assert re.search(r"In 4 jars there is about [0-9].+? of produce, 8 times in 10 between", said)
    told = run("pack", "--jars", "5", "--pot-left", "4 1/2 cups", "--json").document["by_the_jar"]
    assert told["jars"] == 5
    assert told["brine_each_ml"] == pytest.approx(1.5 * 236.5882365)  # NIST Handbook 44, App. C


@pytest.mark.parametrize(
    ("recipe", "jars", "made"),
    # AIB 539, Guide 6: p. 6-10, 8 lb to 7 to 9 pints, 6 cups of vinegar, 8 of water and 1/4 of
    # sugar; p. 6-19, dilled okra: 6 and 6 cups to 8 or 9 pints, 9 take 1.06 times.
    [("quick-fresh-pack-dill", "8 pints", "14¼ cups"), ("dilled-okra", "9 pints", "13 cups")],
)
def test_by_the_jar_the_card_s_printed_yield_and_its_numbers_count(
    run: Run, recipe: str, jars: str, made: str
) -> None:
    said = " ".join(run("forecast", "--recipe", recipe, "--jars", jars).out.split())
    assert f"Make {made} of the recipe's brine: the recipe's own amount for these jars" in said
    assert "Never make less brine for the produce than the recipe does" in said
    assert "boiling-water canner; headspace ½ in; vinegar of 5 % acid or stronger" in said
    assert "Your altitude's time: jarcast kitchen --altitude" in said
    run("kitchen", "--altitude", "3000 ft")
    document = run("forecast", "--recipe", recipe, "--jars", jars, "--json").document
    assert document["by_printed_yield"] is True
    assert "at 1001-6000 ft" in document["cook_line"]
    assert "1001-6000 ft" in document["safety_block"]
    assert {"vinegar", "no thinning", "process"} <= {one["key"] for one in document["cautions"]}


@pytest.mark.parametrize("recipe", ["dilled-beans", "corn-relish"])
def test_by_the_jar_more_than_twice_the_printed_recipe_is_divided(run: Run, recipe: str) -> None:
    asked = ("forecast", "--recipe", recipe, "--jars", "40 pints")
    assert "More than twice the printed recipe at once" in " ".join(run(*asked).out.split())
    keys = [one["key"] for one in run(*asked, "--json").document["cautions"]]
    assert "beyond a batch" in keys
    assert "part jar" not in keys  # forty whole ones are asked for


@pytest.mark.parametrize("chance", ["0.05", "0.1"])
def test_more_than_twice_the_printed_recipe_is_said_at_whatever_chance(
    run: Run, chance: str
) -> None:
    run("kitchen", "--canner-kind", "steam")
    asked = ("forecast", "--recipe", "dilled-beans", "--as-bought", "30 lb")
    said = " ".join(run(*asked, "--short-chance", chance).out.split())
    assert "More than twice the printed recipe at once was not tested" in said
