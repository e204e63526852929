"""Pots of brine at the counter: another one, the pot before it, and less made than is known."""

import re
import shlex
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from jarcast.domain.jars import SHELF
from jarcast.ledger import Ledger
from jarcast.ledger.steps import open_batches, steps

Run = Callable[..., Any]

CUP_ML = 236.5882365  # NIST Handbook 44, Appendix C
PINT_ML = SHELF["pint"].fill_volume_ml(0.5)
BEGIN = (
    "begin", "--batch", "q", "--produce", "cauliflower", "--cut", "florets", "--pack", "raw",
    "--jar", "pint", "--as-bought", "9lb", "--trimmed", "5lb10oz", "--cure-hours", "0",
)  # fmt: skip


@pytest.fixture
def begun(run: Run, ledger: Path) -> Path:
    """A batch of cauliflower with a first pot of 8 cups."""
    assert run(*BEGIN, "--brine-made", "8 cups").code == 0
    return ledger


def noted(path: Path) -> int:
    with Ledger.open(path) as opened:
        return len(steps(opened, "q"))


def made(path: Path) -> str:
    with Ledger.open(path) as opened:
        return open_batches(opened)[0].typed["brine_made"]


def words(text: str) -> str:
    return " ".join(text.split())


def test_a_second_pot_after_eight_jars_is_in_the_pot_and_changes_no_count(
    run: Run, begun: Path
) -> None:
    first = run("pack", "--jars", "8", "--pot-left", "1 cup", "--json").document
    second = run("weigh", "--brine-made", "12 cups", "--json").document
    assert second["forecast"]["jars"] == first["forecast"]["jars"]
    assert second["so_far"]["pot_left_ml"] == pytest.approx(5 * CUP_ML)
    # A couple of jars are to come, and no more is heated than they hold, produce and all.
    for said in (first, second):
        assert said["to_come"]["brine_to_make_ml"] <= 3.5 * PINT_ML
    assert second["to_come"]["brine_to_make_ml"] == 0.0
    assert "In the pot about 5 cups" in words(run("weigh", "--note", "windy").out)


@pytest.mark.parametrize(
    "ways",
    [
        ['pack --jars 4 --pot-left "4 1/2 cups"', 'weigh --brine-made "12 cups"'],
        ['pack --jars 4 --pot-left "4 1/2 cups"', 'weigh --more-brine "4 cups"'],
        ['pack --jars 4 --pot-left "4 1/2 cups"', 'pack --jars 4 --more-brine "4 cups"'],
        ['pack --jars 4 --pot-before "4 1/2 cups" --more-brine "4 cups"'],
        ['weigh --more-brine "4 cups"', 'pack --jars 4 --pot-left "8 1/2 cups"'],
        ['pack --jars 4 --pot-left "8 1/2 cups" --more-brine "4 cups"'],
        ['pack --jars 4 --pot-left "8 1/2 cups"', 'weigh --more-brine "4 cups"'],
        ['pack --jars 4 --pot-left "8 1/2 cups" --brine-made "12 cups"'],
    ],
)
def test_the_second_pot_of_four_jars_is_the_same_however_it_is_noted(
    run: Run, begun: Path, ways: list[str]
) -> None:
    for way in ways:
        said = run(*shlex.split(way), "--json").document
    assert said["so_far"]["pot_left_ml"] == pytest.approx(8.5 * CUP_ML)
    assert said["so_far"]["brine_made_ml"] == pytest.approx(12 * CUP_ML)
    # 3 1/2 cups in four pints and their share of the loss: about eleven pints in all.
    assert said["forecast"]["jars"]["low"] > 9.5
    assert said["forecast"]["jars"]["high"] <= 12.0  # who fills whole jars may end on twelve
    assert said["to_come"]["brine_to_make_ml"] == 0.0


def test_a_pot_alone_throws_nothing_away_that_the_first_jars_taught(run: Run, begun: Path) -> None:
    def width(said: dict[str, Any]) -> float:
        jars = said["forecast"]["jars"]
        return float(jars["high"] - jars["low"])

    first = run("pack", "--jars", "4", "--pot-left", "4 1/2 cups", "--json").document
    for words_ in (
        ("pack", "--jars", "4", "--more-brine", "4 cups"),
        ("pack", "--jars", "6"),
        ("pack", "--jars", "7", "--more-brine", "2 cups"),
    ):
        later = run(*words_, "--json").document
        assert width(later) <= 1.05 * width(first)
        assert later["to_come"]["brine_to_make_ml"] == 0.0
    assert made(begun) == "8 cups + 4 cups + 2 cups"


def test_what_is_to_be_heated_names_the_option_that_notes_it(run: Run, begun: Path) -> None:
    said = words(run("pack", "--jars", "8", "--pot-left", "1 cup").out)
    heat = re.search(r"Heat (\d*[\d½¼¾] cups) more now", said)
    assert heat is not None
    assert f'note it with --more-brine "{heat[1]}"' in said
    # What must be done at once stands before what is only worth knowing.
    assert heat.start() < said.index("In all about ") < said.index("Still to come: ")


def test_less_in_all_than_is_known_is_refused_off_a_terminal_naming_each_way(
    run: Run, begun: Path
) -> None:
    run("pack", "--jars", "4", "--pot-left", "4 1/2 cups")
    before = noted(begun)
    for way in (
        ("weigh", "--brine-made", "4 cups"),
        ("weigh", "--brine-made", "4 cups", "--json"),
        ("pack", "--jars", "5", "--brine-made", "4 cups"),
        ("close", "--jars", "11", "--brine-made", "4 cups"),
    ):
        ran = run(*way)
        assert (ran.code, ran.out) == (1, ""), way
        assert "less than the 8 cups that are known to be made" in ran.err
        assert "--more-brine '4 cups'" in ran.err
        assert "--brine-made '4 cups' --yes" in ran.err
    assert noted(begun) == before
    assert made(begun) == "8 cups"


def test_less_in_all_can_be_said_and_counts_from_then_on(run: Run, begun: Path) -> None:
    run("pack", "--jars", "4", "--pot-left", "4 1/2 cups")
    said = run("weigh", "--brine-made", "7 1/2 cups", "--yes", "--json").document
    # 7 1/2 cups made and 4 1/2 left: the first pot was less, and none was added.
    assert said["so_far"]["pot_left_ml"] == pytest.approx(4.5 * CUP_ML)
    assert said["so_far"]["brine_made_ml"] == pytest.approx(7.5 * CUP_ML)


def test_an_amended_total_is_no_pot(run: Run, begun: Path) -> None:
    run("pack", "--jars", "4", "--pot-left", "4 1/2 cups")
    said = run("amend", "q", "brine_made=8 1/2 cups", "--json").document
    assert said["so_far"]["pot_left_ml"] == pytest.approx(4.5 * CUP_ML)


def test_the_brine_that_stands_there_must_have_been_made(run: Run) -> None:
    run(*BEGIN)
    run("pack", "--jars", "4", "--pot-left", "4 1/2 cups")
    assert "4½ cups that are known" in run("weigh", "--brine-made", "4 cups").err
    ran = run("weigh", "--more-brine", "4 cups")
    assert ran.code == 1
    assert "--brine-made '8 cups + 4 cups'" in ran.err
    said = run("weigh", "--brine-made", "8 cups", "--json").document
    assert said["so_far"]["pot_left_ml"] == pytest.approx(4.5 * CUP_ML)


def test_the_first_pot_may_be_said_either_way(run: Run) -> None:
    run(*BEGIN)
    assert run("weigh", "--more-brine", "8 cups").code == 0
    assert run("weigh", "--brine-made", "9 cups", "--more-brine", "1 cup").code == 0
    ran = run("weigh", "--brine-made", "4 cups", "--more-brine", "1 cup")
    assert ran.code == 1
    values = run("weigh", "--brine-made", "", "--json").document["values"]
    assert values["brine_made_ml"] is None


@pytest.mark.parametrize(
    "way",
    [
        '--pot-before "4 cups"',
        '--pot-before "4 cups" --brine-made "12 cups"',
        '--pot-before "4 cups" --pot-left "8 cups" --more-brine "4 cups"',
    ],
)
def test_the_pot_before_goes_with_another_pot_alone(run: Run, begun: Path, way: str) -> None:
    ran = run("pack", "--jars", "4", *shlex.split(way))
    assert ran.code == 2
    assert "--pot-before" in ran.err
    assert noted(begun) == 1


def test_a_pot_read_before_the_new_one_is_recognised(run: Run, begun: Path) -> None:
    ran = run("pack", "--jars", "4", "--pot-left", "4 1/2 cups", "--more-brine", "4 cups")
    assert "say --pot-before instead" in words(ran.err)
    assert "now, after any --more-brine" in words(run("pack", "--help").out)


def test_a_pot_that_no_measure_tells_is_refused_by_its_option(run: Run, begun: Path) -> None:
    for option in ("--pot-before", "--more-brine"):
        other = {"--pot-before": ("--more-brine", "4 cups"), "--more-brine": ()}[option]
        ran = run("pack", "--jars", "4", option, "a lot", *other)
        assert ran.code == 1
        assert f"{option} 'a lot'" in ran.err


def test_no_brine_more_is_no_pot_and_needs_no_unit(run: Run) -> None:
    run("begin", "--batch", "q", "--produce", "carrot", "--jar", "pint", "--trimmed", "5 lb")
    run("weigh", "--brine-made", "4 cups")
    assert run("pack", "--jars", "2", "--more-brine", "0").code == 0
    (batch,) = run("--json").document["batches"]
    assert batch["so_far"]["brine_made_ml"] == pytest.approx(4 * 236.5882365)


PINT_RAW = ("--pack", "raw", "--jar", "pint", "--cure-hours", "0")
FLORETS = ("begin", "--batch", "f", "--produce", "cauliflower", "--cut", "florets", *PINT_RAW)


def test_a_pot_that_is_full_though_jars_are_filled_is_refused_with_the_way_out(run: Run) -> None:
    # A covered jar has brine in it, so what was made is not all left.
    assert run(*FLORETS, "--trimmed", "5 lb 10 oz", "--brine-made", "8 cups").code == 0
    for left in ("8 cups", "7.95 cups"):
        ran = run("pack", "--jars", "3", "--pot-left", left)
        assert (ran.code, ran.out) == (1, "")
        assert "leave out --pot-left" in ran.err
    assert run().out.count("packed") == 0
    assert run("pack", "--jars", "3", "--pot-left", "5 cups").code == 0
    assert run("pack", "--jars", "4", "--pot-left", "8 cups", "--more-brine", "4 cups").code == 0


def test_brine_that_is_neither_in_the_jars_nor_in_the_pot_is_asked_back(run: Run) -> None:
    assert run(*FLORETS, "--trimmed", "5 lb 10 oz", "--brine-made", "8 cups").code == 0
    ran = run("pack", "--jars", "3", "--brine", "3 cups", "--pot-left", "4 cups")
    assert "lost or spilt" not in ran.err
    ran = run("pack", "--jars", "4", "--brine", "3 cups", "--pot-left", "1 cup")
    assert "8 cups made, 3 cups in the jars by your measure, 1 cup left" in words(ran.err)
    assert "were 4 cups lost or spilt?" in words(ran.err)


def test_jars_that_are_packed_too_close_are_not_called_loose_in_the_same_answer(run: Run) -> None:
    # AIB 539, Guide 6, p. 6-10: 8 lb to 7 to 9 pints, 14.2 to 18.3 oz each; 7 lb in 6 are 18.7.
    run("begin", "--recipe", "quick-fresh-pack-dill", "--as-bought", "8 lb", "--batch", "d")
    run("weigh", "--trimmed", "7 lb 12 oz", "--brine-made", "14 cups")
    packed = ("pack", "--jars", "6", "--pot-left", "12 cups", "--yes", "--produce")
    said = " ".join(run(*packed, "7 lb").out.split())
    assert "Pack check: You put about" in said
    assert "packed tighter than tested. Pack the rest looser" in said
    assert "not packed tighter" not in said
    # 5 1/2 lb in 6 pints are 14.7 oz, of 8 lb bought for 7 3/4 trimmed 15.1: loose enough.
    said = " ".join(run(*packed, "5 lb 8 oz").out.split())
    assert "Pack check: You put about" not in said
    assert "packed tighter than tested" not in said


# Fourteen pounds fill some twenty pints: three loads of a canner of seven.
MANY = (
    "begin", "--batch", "m", "--produce", "cauliflower", "--cut", "florets", "--pack", "raw",
    "--jar", "pint", "--trimmed", "14 lb", "--cure-hours", "0",
)  # fmt: skip


def test_who_made_the_first_pot_as_told_is_told_that_it_will_do(run: Run) -> None:
    """What is to be heated first is said once, and not called too little after it was made."""
    first = re.search(r"Heat (.+?) for the first 7 jars", words(run(*MANY).out))
    assert first is not None
    assert f"heat {first[1]} of brine for the first 7 jars" in words(run().out)
    ran = run("weigh", "--brine-made", first[1])
    said = words(ran.out)
    assert f"Nothing to heat yet: the {first[1]} in the pot will do for the first 7 jars." in said
    assert "heat a second pot" in said
    assert "running short" not in said
    assert "the brine will do for the first 7 jars; heat a second pot" in words(run().out)
    # With its load full, or the pot read, it is one order again, for all that is to come.
    assert "Nothing to heat yet" in words(run("pack", "--jars", "1", "--yes").out)
    assert "more now, of" in words(run("pack", "--jars", "7", "--yes").out)


def test_who_made_less_than_the_first_pot_is_told_what_it_lacks(run: Run) -> None:
    told = re.search(r"Heat (\d+)(½|¼|¾)? cups for the first 7 jars", words(run(*MANY).out))
    run("weigh", "--brine-made", "4 cups", "--yes")
    said = words(run("weigh", "--note", "hot day").out)
    lacks = re.search(r"Heat (\d+)(½|¼|¾)? cups more for the first 7 jars", said)
    assert told is not None
    assert lacks is not None
    parts = {None: 0.0, "¼": 0.25, "½": 0.5, "¾": 0.75}
    first, more = (float(one[1]) + parts[one[2]] for one in (told, lacks))
    assert more + 4.0 == pytest.approx(first, abs=0.5)


def test_an_own_jar_is_called_the_same_wherever_it_is_packed(run: Run) -> None:
    run("kitchen", "jars", "add", "tall jar", "--water", "900 g - 485 g")
    run(*MANY[:-6], "--jar", "3 tall jar, then pint", "--trimmed", "8 lb", "--cure-hours", "0")
    said = words(run("pack", "--jars", "3 tall jar + 1 pint", "--yes").out)
    assert "3 'tall' jars + 1 pint packed" in said


def test_jars_that_hold_too_much_by_the_bowl_are_asked_about(run: Run) -> None:
    """Eight batches at 260 g a pint; of 4,000 g some 400 are neither in three jars nor the bowl."""
    crop = ("--produce", "carrot", "--cut", "sticks", "--pack", "raw", "--jar", "pint")
    for number, jars in enumerate((8, 10, 12, 9, 14, 11, 13, 10)):
        day = ("--date", f"2026-08-0{number + 1}", "--batch", f"c{number}")
        run("record", *crop, *day, "--jars", str(jars), "--trimmed", f"{260 * jars} g")
    run("begin", *crop, "--batch", "e", "--trimmed", "4000 g", "--brine-made", "9 cups")
    note = ("--jars", "3", "--pot-left", "6 3/4 cups", "--produce-left")
    ran = run("pack", *note, "2820 g")
    said = words(ran.err)
    assert "was some of it eaten or put aside, or is some in another bowl?" in said
    assert "--" not in said.partition("Weigh all")[2]  # the page says it as well, and has no option
    assert "Nothing to heat" not in ran.out
    assert "another bowl" not in words(run("pack", *note, "3220 g").err)


def test_more_than_was_tested_at_once_is_said_after_the_first_pot_too(run: Run) -> None:
    card = ("--recipe", "quick-fresh-pack-dill", "--jar", "pint", "--cure-hours", "12")
    caution = "More than twice the printed recipe at once was not tested"
    first = words(run("begin", *card, "--batch", "d", "--trimmed", "30 lb", "--yes").out)
    assert caution in first
    told = re.search(r"Heat (.+?) for the first 7 jars", first)
    assert told is not None
    said = words(run("weigh", "--brine-made", told[1], "--yes").out)
    assert "will do for the first 7 jars" in said
    assert caution in said


def test_a_first_load_is_of_one_size_of_jar(run: Run) -> None:
    asked = ("forecast", "--produce", "carrot", "--cut", "sticks", "--pack", "raw", "--trimmed",
             "14 lb", "--cure-hours", "0", "--jar")  # fmt: skip
    assert "for the first 4 jars:" in words(run(*asked, "4 quart, then pint").out)
    assert "for the first jar:" in words(run(*asked, "1 quart, then pint").out)
    # Of one size they are processed for one time, whatever their mouths.
    assert "for the first 7 jars:" in words(run(*asked, "2 pint-wide, then pint").out)
    run("kitchen", "--canner", "7 quarts / 9 pints")
    assert "for the first 9 jars:" in words(run(*asked, "12 pint, then quart").out)
    assert "for the first 4 jars:" in words(run(*asked, "4 quart, then pint").out)


def test_a_jar_merely_counted_overturns_no_first_pot(run: Run) -> None:
    """Nothing was read of it: the pot that was heated for the first load still does for it."""
    run("begin", "--produce", "okra", "--cut", "whole", "--pack", "raw", "--jar", "pint",
        "--recipe", "", "--as-bought", "14 lb", "--batch", "o1")  # fmt: skip
    told = re.search(r"heat (.+?) of brine for the first 7 jars", words(run().out))
    assert told
    run("weigh", "--brine-made", told[1])
    said = words(run("pack", "--jars", "1").out)
    assert "Nothing to heat yet: the" in said
    assert "for the first 7 jars. Weigh the bowl and the pot 3 jars in" in said
    assert "Heat " not in said
    shown = words(run().out)
    assert "the brine will do for the first 7 jars; weigh bowl and pot 3 jars in" in shown
    assert 'next: jarcast pack --jars 3 --pot-left "..."' in shown
    assert "Weigh the bowl and the pot now" in words(run("pack", "--jars", "4").out)
    assert "Heat " in words(run("pack", "--jars", "5", "--pot-left", "1 cup").out)
