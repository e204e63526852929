"""What becomes of the last jar: told once, shown among the habits, and forecasts said by it."""

import math
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

Run = Callable[..., Any]

POUND_G = 453.59237  # NIST Handbook 44, Appendix C
PINT_ML = 410.0  # about what a pint holds below half an inch of headspace
ASKED = ("forecast", "--produce", "carrot", "--cut", "sticks", "--trimmed", "6 lb",
         "--cure-hours", "0")  # fmt: skip
POUNDS = (6.1, 5.2, 7.4, 6.6, 4.8, 8.1, 5.9, 7.0, 6.3)


@pytest.fixture
def whole(run: Run, table: Callable[..., Path]) -> None:
    """A household that packs 0.62 g to the ml and tops up the last jar, nine batches long."""
    header = "batch,date,produce,cut,pack,cure_hours,jar,trimmed_g,jars"
    rows = []
    for at, pounds in enumerate(POUNDS, start=1):
        jars = math.ceil(pounds * POUND_G / 0.62 / PINT_ML)
        rows.append(f"w{at},2024-08-0{at},carrot,sticks,raw,0,pint,{pounds * POUND_G},{jars}")
    run("import", str(table(*rows, header=header)))


def words(text: str) -> str:
    return " ".join(text.split())


def test_a_household_of_whole_jars_is_told_in_whole_jars(run: Run, whole: None) -> None:
    said = words(run(*ASKED).out)
    jars = run(*ASKED, "--json").document["jars"]
    assert all(jars[end] == round(jars[end]) for end in ("median", "low", "high"))
    between = f"8 times in 10 between {jars['low']:.0f} and {jars['high']:.0f}."
    assert f"About {jars['median']:.0f} pints, {between}" in said
    assert "½ pint" not in said
    assert "part-full" not in said
    assert "keep the recipe's headspace" in said
    assert "pack none tighter than tested" in said


def test_the_caution_of_whole_jars_is_in_json_and_with_a_card(run: Run, whole: None) -> None:
    plain = run(*ASKED, "--json").document["cautions"]
    assert "whole jars" in {caution["key"] for caution in plain}
    card = run("forecast", "--recipe", "pickled-carrots", "--trimmed", "6 lb", "--json").document
    keys = {caution["key"] for caution in card["cautions"]}
    assert "whole jars" in keys
    assert "part jar" not in keys


def test_who_leaves_a_jar_part_full_is_told_as_before(run: Run, whole: None) -> None:
    run("kitchen", "--last-jar", "part")
    said = words(run(*ASKED).out)
    assert "for a part-full one" in said
    assert "keep the recipe's headspace" not in said
    keys = {one["key"] for one in run(*ASKED, "--json").document["cautions"]}
    assert "whole jars" not in keys


def test_told_before_any_batch_it_counts_at_once(run: Run) -> None:
    assert "part-full" in run(*ASKED).out
    run("kitchen", "--last-jar", "whole")
    jars = run(*ASKED, "--json").document["jars"]
    assert all(jars[end] == round(jars[end]) for end in ("median", "low", "high"))
    run("kitchen", "--last-jar", "learn")
    assert "part-full" in run(*ASKED).out


def test_habits_say_what_is_believed_and_whether_it_was_told(run: Run, whole: None) -> None:
    assert "You fill whole jars (learned from 9 batches)." in run("habits").out
    learned = run("habits", "--json").document["last_jar"]
    assert (learned["habit"], learned["told"]) == ("whole", False)
    assert 0.0 < learned["part_full"] < 0.2
    run("kitchen", "--last-jar", "part")
    assert "You leave the last jar part full (as you said)." in run("habits").out
    told = run("habits", "--json").document["last_jar"]
    assert told == {"habit": "part", "part_full": 1.0, "smaller": 0.0, "told": True}
    run("kitchen", "--last-jar", "smaller")
    assert "You put the rest in a smaller jar (as you said)." in run("habits").out
    told = run("habits", "--json").document["last_jar"]
    assert told == {"habit": "smaller", "part_full": 0.0, "smaller": 1.0, "told": True}


def test_half_jars_are_asked_whether_they_are_smaller_ones(
    run: Run, table: Callable[..., Path]
) -> None:
    rows = [f"w{at},2024-08-0{at},carrot,sticks,raw,0,pint,2500,{at + 4}.5" for at in range(1, 6)]
    run(
        "import",
        str(table(*rows, header="batch,date,produce,cut,pack,cure_hours,jar,trimmed_g,jars")),
    )
    said = words(run("habits").out)
    assert "You leave the last jar part full (learned from 5 batches)." in said
    assert "If it is a smaller one, topped up: jarcast kitchen --last-jar smaller." in said
    run("kitchen", "--last-jar", "part")
    assert "smaller one" not in run("habits").out


def test_who_has_smaller_jars_is_told_in_halves(run: Run) -> None:
    run("kitchen", "--last-jar", "smaller")
    assert "Last jar: one of half the size where that will do" in words(run("kitchen").out)
    jars = run(*ASKED, "--json").document["jars"]
    assert all(2 * jars[end] == round(2 * jars[end]) for end in ("low", "median", "high"))


def test_a_smaller_jar_is_no_part_full_one(run: Run) -> None:
    assert "for a part-full one" in words(run(*ASKED).out)
    run("kitchen", "--last-jar", "smaller")
    said = words(run(*ASKED).out)
    assert "and a smaller tested jar: half a jar is one of half the size." in said
    assert "part-full" not in said
    line = ("harvest", "--line", "carrot, sticks, pint: 12 lb", "--line", "okra, pint: 9 lb")
    said = words(run(*line).out)
    assert "Half a jar is a tested jar of half the size, filled to its headspace." in said
    assert "have 2 of half the size as well" in said  # one a batch, and each more often than not
    assert "part-full" not in said
    run("kitchen", "--last-jar", "whole")
    said = run(*line).out
    assert "part-full" not in said
    assert "Half a jar" not in said
    run("kitchen", "--last-jar", "part")
    assert "part-full" in run(*line).out


@pytest.mark.parametrize(
    ("recipe", "halves"), [("pickled-beets", True), ("pickled-carrots", False)]
)
def test_a_smaller_jar_is_counted_only_by_a_card_that_lists_one(
    run: Run, recipe: str, halves: bool
) -> None:
    # The beets' card is tested in pints and quarts, the carrots' in pints alone.
    run("kitchen", "--last-jar", "smaller")
    ran = run("forecast", "--recipe", recipe, "--as-bought", "12 lb", "--json",
              *(("--jar", "quart") if halves else ()))  # fmt: skip
    jars = [ran.document["jars"][end] for end in ("low", "median", "high")]
    assert all((2 * count == round(2 * count)) for count in jars) == halves
    told = {one["key"] for one in ran.document["cautions"]}
    assert ("part jar" in told) == (not halves)  # the rest goes in the refrigerator


def test_half_a_jar_of_who_has_smaller_ones_is_to_be_written_by_its_name(run: Run) -> None:
    batch = ("record", "--produce", "carrot", "--cut", "sticks", "--trimmed", "5 lb", "--jar",
             "pint", "--cure-hours", "0")  # fmt: skip
    asked = 'jarcast amend "half" jars="..."'
    assert asked not in run(*batch, "--jars", "7.5", "--batch", "before").err
    run("kitchen", "--last-jar", "smaller")
    assert asked in run(*batch, "--jars", "7.5", "--batch", "half").err
    named = run("record", "--produce", "carrot", "--cut", "sticks", "--trimmed", "5 lb", "--batch",
                "named", "--jars", "7 pint + 1 half-pint", "--cure-hours", "0")  # fmt: skip
    assert named.code == 0
    assert "Half a jar" not in named.err


def test_after_one_batch_it_is_not_known_well(run: Run) -> None:
    run("record", "--produce", "carrot", "--cut", "sticks", "--trimmed", "5 lb", "--jar", "pint",
        "--jars", "8", "--cure-hours", "0")  # fmt: skip
    assert "Not sure yet what becomes of your last jar, from 1 batch" in words(run("habits").out)
    assert run("habits", "--json").document["last_jar"]["habit"] is None


def test_the_kitchen_remembers_it_and_shows_it(run: Run) -> None:
    assert "Last jar: learned from your batches" in words(run("kitchen").out)
    assert run("kitchen", "--json").document["last_jar"] is None
    assert "Last jar: always whole, as you said" in run("kitchen", "--last-jar", "whole").out
    assert run("kitchen", "--json").document["last_jar"] == "whole"
    ran = run("kitchen", "--last-jar", "sometimes")
    assert ran.code == 2
    assert "'part', 'smaller', 'topped', 'eaten', 'whole', 'learn'" in ran.err
