"""begin, weigh, pack, close: a batch in stages, each a short command that remembers the batch."""

import datetime as dt
import re
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from jarcast import SoFar
from jarcast.app.work import Work
from jarcast.errors import ForecastError
from jarcast.forecast.habits import habits_from
from jarcast.ledger import Ledger
from jarcast.ledger.steps import StepKind, add_step, steps
from jarcast.measures import Units
from jarcast.measures.told import told_to

Run = Callable[..., Any]

OUNCE_G, CUP_ML = 28.349523125, 236.5882365  # NIST Handbook 44, Appendix C
BEGIN = ("begin", "--produce", "carrot", "--cut", "sticks", "--jar", "pint", "--batch", "c9")


@pytest.fixture
def begun(run: Run, ledger: Path) -> Path:
    """A ledger in which one batch is open."""
    assert run(*BEGIN, "--as-bought", "8 lb").code == 0
    return ledger


def readings(path: Path) -> int:
    with Ledger.open(path) as opened:
        return len(opened.readings())


def kinds(path: Path, name: str = "c9") -> list[str]:
    with Ledger.open(path) as opened:
        return [step.kind.value for step in steps(opened, name)]


def test_a_whole_batch_in_stages_becomes_one_reading_with_everything_typed(
    run: Run, begun: Path
) -> None:
    for words in (
        ("weigh", "--trimmed", "3 lb 2 oz + 4 lb 1 oz - 410 g", "--cure-hours", "0"),
        ("weigh", "--note", "late crop"),
        ("pack", "--jars", "3", "--produce-left", "4 lb 1 oz", "--brine-made", "9 cups"),
        ("pack", "--jars", "5", "--pot-left", "3 cups", "--more-brine", "1 cup"),
        ("close", "--jars", "8.5", "--brine-left", "2 1/2 cups", "--note", "windy"),
    ):
        ran = run(*words)
        assert ran.code == 0, ran.err
    assert readings(begun) == 1
    with Ledger.open(begun) as opened:
        (entry,) = opened.entries()
    batch = entry.batch
    # 3 lb 2 oz and 4 lb 1 oz are 115 oz.
    assert batch.trimmed_g == pytest.approx(115 * OUNCE_G - 410, abs=1e-9)
    assert batch.as_bought_g == pytest.approx(128 * OUNCE_G, abs=1e-9)
    assert batch.brine_made_ml == pytest.approx(10 * CUP_ML, abs=1e-9)
    assert (batch.jars, batch.cure_hours, batch.note) == ((8.5,), 0.0, "late crop; windy")
    assert entry.typed == {
        "as_bought_g": "8 lb", "trimmed_g": "3 lb 2 oz + 4 lb 1 oz - 410 g",
        "brine_made_ml": "9 cups + 1 cup", "brine_left_ml": "2 1/2 cups",
    }  # fmt: skip
    assert kinds(begun) == ["begin", "weigh", "weigh", "pack", "pack", "close"]
    assert "No batch is open" in run().out


def test_each_step_says_what_it_now_expects_and_what_it_did_before(run: Run, begun: Path) -> None:
    first = run("--json").document["batches"][0]["forecast"]["jars"]
    weighed = run("weigh", "--trimmed", "6 lb 4 oz", "--json").document
    packed = run("pack", "--jars", "3", "--produce-left", "4 lb", "--json").document

    def width(jars: dict[str, float]) -> float:
        return jars["high"] - jars["low"]

    now, then = weighed["forecast"]["jars"], packed["forecast"]["jars"]
    assert width(first) > width(now) > 3 * width(then)
    assert weighed["before"]["jars"] == first
    assert packed["before"]["jars"] == now
    ran = run("pack", "--jars", "4", "--produce-left", "3 lb")
    assert "Still to come: " in ran.out
    assert "before this: " in ran.out


def test_a_batch_without_a_weight_says_what_it_waits_for(run: Run) -> None:
    ran = run(*BEGIN)
    assert "Add a weight (as bought" in ran.out
    assert run("--json").document["batches"][0]["waits_for_weight"] is True
    assert "Add a weight (as bought" in run("weigh", "--note", "windy").out
    assert "About " in run("weigh", "--as-bought", "8 lb").out


def test_steps_come_late_or_not_at_all(run: Run, begun: Path) -> None:
    assert run("pack", "--jars", "2").code == 0
    assert run("weigh", "--trimmed", "6 lb").code == 0
    batch = run("close", "--jars", "8", "--json").document["batch"]
    assert batch["brine_made_ml"] is None
    assert batch["trimmed_g"] == pytest.approx(96 * OUNCE_G)


def test_a_typing_error_is_refused_and_leaves_no_step(run: Run, begun: Path) -> None:
    for words, saying in (
        (("weigh", "--trimmed", "6"), "has no unit"),
        (("weigh",), "nothing was given"),
        (("pack", "--jars", "a few"), "--jars 'a few' is not a plain number"),
        (("pack", "--jars", "3", "--produce", "2 cups"), "--produce"),
        (("pack", "--jars", "-3"), "must be 0 or more"),
        (("close", "--jars", "0"), "no jars were filled"),
        (("close", "--jars", "4 + 4"), "2 counts for 1 sorts"),
        (("close",), "still missing: --jars"),
    ):
        ran = run(*words)
        assert (ran.code, ran.out) == (1, ""), words
        assert saying in ran.err
    assert kinds(begun) == ["begin"]
    assert readings(begun) == 0


def test_what_is_missing_is_one_json_document_too(run: Run, begun: Path) -> None:
    ran = run("close", "--json")
    assert (ran.code, ran.out) == (1, "")
    assert "--jars" in ran.error["error"]


def test_several_open_batches_are_told_apart_by_name(run: Run, begun: Path) -> None:
    assert run("begin", "--produce", "beet", "--batch", "Beets of Ana").code == 0
    ran = run("weigh", "--trimmed", "5 lb")
    assert ran.code == 1
    assert "'c9', 'Beets of Ana'; say which with --batch" in ran.err
    assert run("weigh", "--trimmed", "5 lb", "--batch", "beets").code == 0
    assert kinds(begun, "Beets of Ana") == ["begin", "weigh"]
    assert "no batch 'x' is open" in run("weigh", "--trimmed", "5 lb", "--batch", "x").err


def test_a_name_is_made_up_that_no_other_batch_has(run: Run, ledger: Path) -> None:
    names = [run("begin", "--produce", "okra", "--json").document["batch"] for _ in range(2)]
    today = dt.date.today().isoformat()
    assert names == [f"{today} okra", f"{today} okra 2"]
    assert run("record", "--produce", "okra", "--jar", "pint", "--jars", "2").code == 0
    assert f"{today} okra 3" in run("batches").out


def test_pack_jar_and_recipe_are_those_of_the_last_like_batch_and_said(
    run: Run, filled: Path
) -> None:
    ran = run("begin", "--produce", "Beets", "--cut", "sliced", "--batch", "b9")
    assert "As last time (2024-09-01): pack hot, jar pint." in ran.out
    document = run("begin", "--produce", "cucumber", "--pack", "hot", "--json").document
    assert document["as_last_time"] == {
        "batch": "k1",
        "taken": {"cut": "slices", "jar": "4 pint-wide, then pint"},
    }
    assert document["values"]["pack"] == "hot"


def test_by_a_card_jar_and_headspace_are_its_own_and_its_block_is_shown_as_it_stands(
    run: Run,
) -> None:
    ran = run("begin", "--recipe", "pickled-beets", "--as-bought", "10 lb", "--batch", "b1")
    assert ran.code == 0, ran.err
    shown = run("forecast", "--recipe", "pickled-beets", "--as-bought", "10 lb", "--json")
    assert shown.document["safety_block"] in ran.out
    values = run("--json").document["batches"][0]["values"]
    assert values["recipe"] == "pickled-beets"
    assert values["headspace_in"] == 0.5  # USDA Complete Guide, Guide 6: 1/2-inch headspace
    refused = run("begin", "--recipe", "pickled-beets", "--jar", "1l")
    assert refused.code == 1
    assert "does not list" in refused.err
    assert "could be any of" in run("begin", "--recipe", "pickled").err


def test_brine_to_heat_mid_pack_is_the_card_s_whole_formula(run: Run) -> None:
    run("begin", "--recipe", "pickled-beets", "--as-bought", "10 lb", "--batch", "b1")
    run("weigh", "--trimmed", "8 lb")
    ran = run("pack", "--jars", "3", "--produce", "2 lb", "--brine-made", "3 cups")
    assert "Heat " in ran.out
    lines = [line.strip() for line in ran.out.splitlines() if line.startswith("    ")]
    # USDA Complete Guide, Guide 6, pickled beets: vinegar, salt, sugar, water (and spices).
    for ingredient in ("vinegar", "water", "sugar", "salt"):
        assert any(ingredient in line for line in lines), ingredient
    assert "Never top up with water or plain vinegar" in ran.out.replace("\n", " ")


@pytest.mark.parametrize("weight", ["10 lb", "4 lb"])
def test_more_than_twice_the_printed_recipe_is_said_wherever_its_formula_is(
    run: Run, weight: str
) -> None:
    # The rule "beyond a batch" of models/rules.toml: more than two printed batches at once were not
    # tested. Pickled beets are printed with 8 cups of brine: 4 of vinegar, 2 of water, 2 of sugar.
    said = "More than twice the printed recipe at once was not tested"
    begin = run("begin", "--recipe", "pickled-beets", "--as-bought", weight, "--batch", "b1").out
    pack = run("pack", "--jars", "1", "--pot-left", "1 cup", "--brine-made", "2 cups").out
    line = f"by pickled-beets: {weight}"
    for text in (begin, pack, run("harvest", "--line", line).out):
        text = " ".join(text.split())
        made = re.search(r"The whole formula ([\d.]+) times", text)
        many = weight == "10 lb" if made is None else float(made[1]) > 2.0
        assert (said in text) == many


@pytest.mark.parametrize(
    ("pot_left", "due"), [("1 cup", "weigh --more-brine"), ("30 cups", "close")]
)
def test_short_of_brine_another_pot_comes_before_the_close(
    run: Run, begun: Path, pot_left: str, due: str
) -> None:
    run("pack", "--jars", "2", "--brine-made", "31 cups", "--pot-left", pot_left)
    assert f"next: jarcast {due}" in run().out


def test_brine_that_was_not_noted_is_due_before_the_close(run: Run, begun: Path) -> None:
    run("pack", "--jars", "1")
    assert "next: jarcast weigh --brine-made" in run().out
    run("weigh", "--brine-made", "31 cups")
    assert "next: jarcast close" in run().out


def test_a_name_that_is_no_card_s_is_kept_as_a_name_and_that_is_said(run: Run) -> None:
    ran = run("begin", "--produce", "okra", "--recipe", "my aunt's", "--json")
    assert "kept as a name only" in ran.err
    assert ran.document["values"]["recipe"] == "my aunt's"
    assert "what are you putting up?" in run("begin", "--recipe", "my aunt's").err


def test_forecasts_of_an_open_batch_are_kept_stage_by_stage_and_scored_when_it_is_closed(
    run: Run, begun: Path
) -> None:
    run("weigh", "--trimmed", "6 lb 4 oz", "--cure-hours", "0")
    run("pack", "--jars", "3", "--produce-left", "4 lb 1 oz", "--brine-made", "9 cups")
    waiting = run("hindsight", "--json").document["kept"]["waiting"]
    assert waiting == ["c9"]
    ran = run("close", "--jars", "8.5", "--brine-left", "3 cups")
    assert "The forecast was about " in ran.out
    assert "Kept forecast from 6 lb 4 oz trimmed" in ran.out
    scored = run("hindsight", "--json").document["kept"]["forecasts"]
    assert sorted(one["stage"] for one in scored) == ["as_bought_g", "trimmed_g"]
    assert all(one["jars"]["was"] == 8.5 for one in scored)


def test_what_was_packed_never_enters_a_kept_forecast(run: Run, begun: Path) -> None:
    plain = run("weigh", "--trimmed", "6 lb 4 oz", "--json").document["forecast"]["jars"]
    run("pack", "--jars", "3", "--produce-left", "4 lb 1 oz")
    run("weigh", "--note", "windy")
    run("close", "--jars", "8.5")
    scored = run("hindsight", "--json").document["kept"]["forecasts"]
    (trimmed,) = [one for one in scored if one["stage"] == "trimmed_g"]
    assert trimmed["jars"]["median"] == pytest.approx(plain["median"], rel=0.01)


def test_an_odd_weight_is_kept_and_said_where_nobody_can_be_asked(run: Run, begun: Path) -> None:
    ran = run("weigh", "--trimmed", "2.8 lb")
    assert ran.code == 0
    assert "kilograms typed as pounds?" in " ".join(ran.err.split())
    assert "trimmed 2 lb 13 oz" in ran.out
    ran = run("weigh", "--trimmed", "2.8 lb", "--yes")
    assert (ran.code, ran.err) == (0, "")
    odd = run("weigh", "--trimmed", "2.8 lb", "--json").document["odd"]
    assert odd[0]["columns"] == ["trimmed_g", "as_bought_g"]


def test_what_contradicts_is_kept_and_said_and_not_forecast_from(run: Run, begun: Path) -> None:
    ran = run("weigh", "--trimmed", "20 lb")
    assert ran.code == 0
    assert "contradict each other" in ran.err
    assert "No forecast until that is fixed." in ran.err
    assert ran.err.count("as bought") == 1  # why is told once
    assert run("weigh", "--trimmed", "6 lb").err == ""
    ran = run("weigh", "--trimmed", "20 lb", "--yes")
    assert "No forecast: trimmed, 20 lb, is more than as bought" in ran.err


def test_a_note_that_goes_back_is_said(run: Run, begun: Path) -> None:
    run("pack", "--jars", "5", "--brine-made", "9 cups")
    ran = run("pack", "--jars", "3")
    assert ran.code == 0
    assert "3 jars are fewer than the 5 noted before" in " ".join(ran.err.split())
    ran = run("pack", "--jars", "5", "--produce", "20 lb")
    assert "weigh again" in ran.err


def test_a_jar_that_did_not_seal_and_a_part_full_one_are_told_what_becomes_of_them(
    run: Run, begun: Path
) -> None:
    # USDA Complete Guide to Home Canning, Guide 1 (from memory).
    ran = run("close", "--jars", "8.5", "--sealed", "7")
    said = " ".join(ran.err.split())
    assert "within 24 hours" in said
    assert "A part-full jar goes in the refrigerator" in said


def test_a_dropped_batch_is_no_batch_and_its_steps_stay(run: Run, begun: Path) -> None:
    run("weigh", "--trimmed", "6 lb")
    ran = run("drop")
    assert "no batch was recorded" in ran.out
    assert "No batch is open" in run().out
    assert run("batches", "--json").document["batches"] == []
    assert kinds(begun) == ["begin", "weigh", "drop"]
    assert "no batch is open" in run("weigh", "--trimmed", "6 lb").err


def test_a_value_can_be_taken_back(run: Run, begun: Path) -> None:
    run("weigh", "--trimmed", "6 lb", "--cured", "1 lb")
    assert run("weigh", "--cured", "", "--json").document["values"]["cured_g"] is None


def test_looking_at_open_batches_makes_no_ledger(run: Run, ledger: Path) -> None:
    assert "Nothing recorded yet" in run().out
    assert "no batch is open" in run("close", "--jars", "3").err
    assert not ledger.exists()


def test_what_is_learned_counts_the_notes_made_while_packing(run: Run, begun: Path) -> None:
    run("weigh", "--trimmed", "6 lb 4 oz", "--cure-hours", "0")
    for jars, left in ((1, "5 lb 8 oz"), (3, "4 lb 1 oz"), (5, "2 lb 10 oz")):
        run("pack", "--jars", str(jars), "--produce-left", left)
    assert run("close", "--jars", "8.5").code == 0
    with Work(begun) as work:
        own = work.kitchen
    assert [note.jars for note in own.packed["c9"]] == [1.0, 3.0, 5.0]
    # Differences between the notes are evidence: the belief in the spread rests on more than none.
    assert own.habits.learned.within.noise.dof > habits_from([]).learned.within.noise.dof


def test_the_answers_for_json_say_what_they_are(run: Run, ledger: Path) -> None:
    said = [
        run(*BEGIN, "--as-bought", "8 lb", "--json").document,
        run("weigh", "--trimmed", "6 lb", "--json").document,
        run("pack", "--jars", "2", "--json").document,
        run("--json").document,
        run("close", "--jars", "8", "--json").document,
    ]
    formats = ["begin", "weigh", "pack", "open", "close"]
    assert [one["format"] for one in said] == [f"jarcast {name}" for name in formats]
    assert {one["version"] for one in said} == {1}
    assert said[2]["so_far"]["jars"] == 2.0
    assert said[4]["batch"]["jars"] == "8"
    assert len(said[4]["kept_forecasts"]) == 2
    run(*(*BEGIN[:-1], "c10"))
    dropped = run("drop", "--json").document
    assert dropped == {"format": "jarcast drop", "version": 1, "batch": "c10", "steps": 1}


def test_units_are_remembered(run: Run, begun: Path) -> None:
    assert "2.83 kg" in run("weigh", "--trimmed", "6 lb 4 oz", "--units", "metric").out
    assert "2.83 kg" in run().out


@pytest.mark.xdist_group("alone")
def test_two_terminals_weigh_at_once(run: Run, begun: Path) -> None:
    started = [
        subprocess.Popen(
            [sys.executable, "-m", "jarcast", "weigh", *words],
            stdout=subprocess.PIPE, stderr=subprocess.PIPE, stdin=subprocess.DEVNULL,
        )
        for words in (("--trimmed", "6 lb"), ("--brine-made", "9 cups"), ("--note", "windy"))
    ]  # fmt: skip
    said = [one.communicate(timeout=60) for one in started]
    assert [one.returncode for one in started] == [0, 0, 0], said
    values = run("--json").document["batches"][0]["values"]
    assert values["trimmed_g"] == pytest.approx(96 * OUNCE_G)
    assert values["brine_made_ml"] == pytest.approx(9 * CUP_ML)
    assert values["note"] == "windy"


def test_the_altitude_picks_the_process_of_the_card_and_is_remembered(
    run: Run, ledger: Path
) -> None:
    asked = ("begin", "--recipe", "pickled-beets", "--jar", "pint", "--as-bought", "7 lb")
    ran = run(*asked, "--batch", "b1", "--altitude", "1200 m")
    assert (ran.code, ran.err) == (0, "")
    # USDA Guide 6, pickled beets, pints, 3,001 to 6,000 ft: 40 minutes. 1200 m are 3,937 ft.
    assert "Process every jar for 40 min" in " ".join(ran.out.split()) or "40 min" in ran.out
    assert run("forecast", "--recipe", "pickled-beets", "--as-bought", "7 lb",
               "--json").document["altitude_ft"] == pytest.approx(1200 / 0.3048)  # fmt: skip
    said = run(*asked, "--batch", "b2", "--json").document["forecast"]
    assert said["altitude_ft"] == pytest.approx(1200 / 0.3048)
    assert "40 min" in said["safety_block"]


def test_a_batch_begun_at_another_altitude_says_that_the_kitchen_has_moved(run: Run) -> None:
    asked = ("begin", "--recipe", "pickled-beets", "--as-bought", "7 lb", "--altitude")
    assert run(*asked, "900 ft", "--batch", "b1").err == ""
    assert run(*asked, "900 ft", "--batch", "b2").err == ""
    moved = run(*asked, "7000 ft", "--batch", "b3")
    assert "Your kitchen's altitude is 7000 ft from now on; it was 900 ft." in moved.err
    assert run("kitchen", "--json").document["altitude"] == "7000 ft"


def test_an_altitude_that_is_none_opens_nothing(run: Run, ledger: Path) -> None:
    ran = run(*BEGIN, "--altitude", "high up")
    assert (ran.code, ran.out) == (1, "")
    assert "--altitude 'high up' is not an altitude" in ran.err
    assert not ledger.exists()


def test_without_a_card_the_altitude_is_remembered_for_later(run: Run, ledger: Path) -> None:
    ran = run(*BEGIN, "--altitude", "900 ft")
    assert ran.code == 0
    assert "The altitude is remembered" in ran.err


def test_a_step_from_another_terminal_while_closing_waits_is_not_lost(
    run: Run, begun: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def weigh_elsewhere(*_: object, **__: object) -> frozenset[str]:
        with Ledger.open(begun, writing=True) as opened:
            add_step(opened, "c9", StepKind.WEIGH, {"trimmed": "6 lb"})
        return frozenset()

    with monkeypatch.context() as waiting:
        waiting.setattr("jarcast.cli.close.stand_by", weigh_elsewhere)
        ran = run("close", "--jars", "8")
    assert (ran.code, readings(begun)) == (1, 0)
    assert "changed at another terminal meanwhile" in ran.err
    batch = run("close", "--jars", "8", "--json").document["batch"]
    assert batch["trimmed_g"] == pytest.approx(96 * OUNCE_G)


def test_a_pot_added_from_two_terminals_is_refused_once_and_never_lost(
    run: Run, begun: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    run("weigh", "--trimmed", "6 lb", "--brine-made", "4 cups")

    def pack_elsewhere(*_: object, **__: object) -> frozenset[str]:
        typed, cells = {"brine_made": "4 cups + 2 cups"}, {"jars": 3.0}
        with Ledger.open(begun, writing=True) as opened:
            add_step(opened, "c9", StepKind.PACK, typed, cells)
        return frozenset()

    more = ("pack", "--jars", "3", "--more-brine", "1 cup")
    with monkeypatch.context() as waiting:
        waiting.setattr("jarcast.cli.pack.stand_by", pack_elsewhere)
        assert run(*more).code == 1
    assert run(*more).code == 0
    made = run("--json").document["batches"][0]["values"]["brine_made_ml"]
    assert made == pytest.approx(7 * CUP_ML)


def test_jars_fuller_than_the_card_s_are_told_at_once(run: Run) -> None:
    # National Center for Home Food Preservation, pickled carrots: 2 3/4 lb prepared in 4 pints.
    run("begin", "--recipe", "pickled-carrots", "--trimmed", "3 lb", "--jar", "pint")
    words = ("pack", "--jars", "3", "--produce", "3 lb", "--produce-left", "0 lb")
    ran = run(*words)
    assert ran.code == 0
    assert "Pack check: You put about 1 lb of produce (prepared)" in " ".join(ran.out.split())
    assert "less acid for each gram" in " ".join(ran.out.split())
    check = run(*words, "--json").document["forecast"]["pack_check"]
    assert check["own_g"] == pytest.approx(16 * OUNCE_G, rel=1e-6)
    assert check["caution"]


# AIB 539, Guide 1 (from memory): without a tested process what is put up is kept cold.
@pytest.mark.parametrize("produce", ["salsa", "tomato chutney", "corn relish", "carrot"])
def test_without_a_card_it_is_for_the_refrigerator_whether_it_has_a_brine_or_not(
    run: Run, produce: str
) -> None:
    due = "Without a tested process, keep the jars in the refrigerator."
    asked = ("--produce", produce, "--trimmed", "5 lb")
    for words in (
        ("forecast", *asked), ("begin", *asked, "--batch", "s1"), ("weigh", "--trimmed", "4 lb"),
        ("pack", "--jars", "2"), ("buy", "12", "--produce", produce),
    ):  # fmt: skip
        ran = run(*words)
        assert due in " ".join(ran.out.split()), words
    for words in (
        ("forecast", *asked, "--json"), ("buy", "12", "--produce", produce, "--json"),
    ):  # fmt: skip
        cautions = run(*words).document["cautions"]
        assert [one["key"] for one in cautions] == ["no recipe", "refrigerator"]
        assert "for the refrigerator" in cautions[0]["text"]
    packed = run("pack", "--jars", "2", "--json").document["forecast"]
    assert [one["key"] for one in packed["cautions"]] == ["no recipe", "refrigerator"]
    run("forecast", *asked, "--sheet", "s.html")
    assert due in " ".join(Path("s.html").read_text("utf-8").split())


def test_brine_that_is_not_known_has_its_formula_and_what_to_do_when_short(run: Run) -> None:
    run("begin", "--recipe", "pickled-beets", "--as-bought", "10 lb", "--batch", "b1")
    ran = run("pack", "--jars", "3", "--produce", "2 lb")
    assert "How much brine was made is not known" in " ".join(ran.out.split())
    lines = [line.strip() for line in ran.out.splitlines() if line.startswith("    ")]
    # USDA Complete Guide, Guide 6, pickled beets: vinegar, salt, sugar, water (and spices).
    for ingredient in ("vinegar", "water", "sugar", "salt"):
        assert any(ingredient in line for line in lines), ingredient
    assert "Never top up with water or plain vinegar" in " ".join(ran.out.split())


def test_more_jars_than_the_produce_can_fill_are_said_to_be(run: Run, begun: Path) -> None:
    run("weigh", "--trimmed", "6 lb 4 oz")
    ran = run("pack", "--jars", "40")
    assert ran.code == 0
    assert "40 jars are more than that much produce can fill, however loosely packed" in ran.err
    assert run("pack", "--jars", "40", "--yes").err == ""
    run("drop")
    run(*BEGIN[:-1], "c10", "--trimmed", "6 lb 4 oz")
    assert run("pack", "--jars", "9").err == ""  # 11 oz a pint, as most recipes have it


FOUR_IN = (
    ("weigh", "--trimmed", "6 lb", "--cure-hours", "0"),
    ("pack", "--jars", "4", "--produce-left", "3 lb 10 oz"),
)


@pytest.fixture
def four_in(run: Run, begun: Path) -> Path:
    """Four jars of about ten are noted: 6 lb less 3 lb 10 oz are 9½ oz a jar, 10 jars in all."""
    for words in FOUR_IN:
        assert run(*words).err == ""
    return begun


def test_a_count_far_above_what_the_jars_before_point_to_is_remarked_and_kept(
    run: Run, four_in: Path
) -> None:
    ran = run("pack", "--jars", "22", "--json")
    assert ran.code == 0
    (odd,) = ran.document["odd"]
    assert odd["columns"] == ["jars"]
    assert odd["message"].startswith("That is far more jars than the 4 packed before point to: 22")
    assert " ".join(ran.err.split()) == odd["message"]
    assert ran.document["so_far"]["jars"] == 22
    run("undo")
    assert run("pack", "--jars", "22", "--yes").err == ""


@pytest.mark.parametrize("jars", ["5", "9", "10.5"])
def test_an_ordinary_count_after_others_is_asked_nothing(
    run: Run, four_in: Path, jars: str
) -> None:
    assert run("pack", "--jars", jars).err == ""


@pytest.mark.parametrize(
    ("more", "says"),
    [
        (("--jars", "22"), "That is far more jars than the 4 packed before point to: 22"),
        (("--jars", "6"), "That is far fewer jars than the 4 packed before point to: 6"),
        (("--jars", "6", "--not-jarred", "2 lb"), ""),
        (("--jars", "22", "--yes"), ""),
        (("--jars", "10"), ""),
        (("--jars", "8 pint + 4 half-pint"), ""),  # as much as ten pints
        (("--jars", "8 pint + 14 half-pint"), "packed before point to: 22"),
    ],
)
def test_a_count_to_close_with_is_held_against_the_jars_noted_before(
    run: Run, four_in: Path, more: tuple[str, ...], says: str
) -> None:
    ran = run("close", *more)
    assert ran.code == 0
    said = " ".join(ran.err.split())
    assert says in said if says else "point to" not in said


def test_brine_left_without_brine_made_is_said_with_the_way_to_add_it(
    run: Run, begun: Path
) -> None:
    ran = run("close", "--jars", "8", "--brine-left", "1 cup")
    assert ran.code == 0
    assert "--brine-made" in ran.err
    assert 'jarcast amend "c9" brine_made="..."' in ran.err
    assert run("amend", "c9", "brine_made=9 cups").code == 0


def test_one_count_at_the_end_is_dealt_out_as_it_was_begun(run: Run, ledger: Path) -> None:
    run(*BEGIN[:-4], "--jar", "4 quart, then pint", "--batch", "c9")
    ran = run("close", "--jars", "9", "--yes", "--json")
    assert (ran.document["batch"]["jar"], ran.document["batch"]["jars"]) == (
        "quart + pint", "4 + 5",
    )  # fmt: skip


def test_a_jar_that_the_card_does_not_allow_is_refused_of_an_open_batch(
    run: Run, ledger: Path
) -> None:
    # USDA Complete Guide, Guide 6, pickled carrots: pints, 1/2 in of headspace.
    run("begin", "--recipe", "pickled-carrots", "--batch", "c9")
    for change, why in (
        ("jar=quart", "this card does not list 'quart' jars; listed: pint"),
        ("headspace_in=0.25", "the headspace comes from the recipe"),
        ("recipe=pickled-beets", "is for beet, not for carrot"),
        ("produce=beet", "is for carrot, not for beet"),
    ):
        ran = run("amend", "c9", change)
        assert (ran.code, ran.out) == (1, ""), change
        assert why in ran.err
    assert kinds(ledger) == ["begin"]
    assert run("amend", "c9", "jar=pint-wide").code == 0


def test_a_card_named_later_brings_its_headspace_and_checks_the_jar(run: Run, ledger: Path) -> None:
    run(*BEGIN, "--headspace", "1/4 in")
    assert run("amend", "c9", "recipe=pickled-carrots").code == 0
    run("close", "--jars", "4")
    assert run("batches", "--json").document["batches"][0]["headspace_in"] == 0.5


def test_begin_says_that_the_card_is_for_another_cut(run: Run, ledger: Path) -> None:
    ran = run("begin", "--recipe", "pickled-carrots", "--cut", "sticks", "--batch", "c9")
    assert "The card is for slices, not sticks: check that its source allows that." in ran.out
    ran = run("begin", "--recipe", "pickled-carrots", "--cut", "slices", "--batch", "c10")
    assert "see whether its source" not in ran.out


def test_enough_brine_is_nothing_more_to_make(run: Run, begun: Path) -> None:
    run("weigh", "--trimmed", "6 lb", "--brine-made", "40 cups")
    assert "make no more brine: what you have will do" in run().out


def test_a_produce_nobody_knows_is_said_to_be_so(run: Run) -> None:
    said = " ".join(run("begin", "--produce", "cucumbr", "--jar", "pint", "--yes").err.split())
    assert "Nothing is published of 'cucumbr', and this is your first batch of it" in said
    assert "Nothing is published" not in run("begin", "--produce", "cucumber", "--jar", "pint").err


def test_a_dropped_batch_is_opened_again_as_it_was(run: Run) -> None:
    run("begin", "--batch", "q", "--produce", "carrot", "--jar", "pint", "--as-bought", "8 lb")
    run("weigh", "--trimmed", "6 lb 4 oz")
    before = run("--json").document["batches"]
    dropped = run("drop")
    assert dropped.code == 0
    assert 'jarcast undo "q"' in dropped.out
    assert run("--json").document["batches"] == []
    again = run("undo", "q")
    assert (again.code, again.err) == (0, "")
    assert "open again" in again.out
    assert run("--json").document["batches"] == before
    assert run("close", "--jars", "9").code == 0
    assert run("history", "q", "--json").document["standing"] == "closed"


def test_of_a_batch_dropped_and_begun_anew_the_new_one_is_taken_back_first(run: Run) -> None:
    run("begin", "--batch", "q", "--produce", "carrot")
    run("drop")
    run("begin", "--batch", "q", "--produce", "beet")
    assert "is no longer open" in run("undo", "q").out
    assert "open again" in run("undo", "--further").out
    values = run("--json").document["batches"][0]["values"]
    assert values["produce"] == "carrot"


def test_what_is_asked_of_a_dropped_batch_names_the_way_back(run: Run) -> None:
    run("begin", "--batch", "q", "--produce", "carrot")
    run("drop")
    for words in (("withdraw", "q"), ("amend", "q", "--as-is", "jars")):
        ran = run(*words)
        assert ran.code == 1
        assert "jarcast undo" in ran.err
    assert "jarcast undo" in run("history", "q").out


@pytest.mark.parametrize(
    ("typed", "asked"),
    [
        (("--salt", "9 lb 6 oz", "--cure-hours", "12"), "more than half the weight"),
        (("--salt", "6 oz", "--cure-hours", "1200"), "50 days"),
    ],
)
def test_salt_and_hours_beyond_use_are_pointed_out_by_every_command_that_takes_them(
    run: Run, typed: tuple[str, ...], asked: str
) -> None:
    crop = ("--produce", "cucumber", "--cut", "slices", "--trimmed", "12 lb")
    for words in (
        ("begin", "--batch", "a", *crop, *typed),
        ("record", *crop, *typed, "--jar", "pint", "--jars", "14"),
    ):
        said = " ".join(run(*words).err.split())
        assert asked in said, words
        assert asked not in " ".join(run(*words, "--yes").err.split())
    run("begin", "--batch", "b", *crop)
    assert asked in " ".join(run("weigh", "--batch", "b", *typed).err.split())
    # A question answered once is not asked again when the batch is closed.
    closed = run("close", "--batch", "b", "--jar", "pint", "--jars", "14")
    assert closed.code == 0


# Sauerkraut and fermented dills stand for three to six weeks (USDA, Complete Guide, Guide 6).
@pytest.mark.parametrize(
    "words",
    [("--produce", "sauerkraut"), ("--produce", "cucumber", "--recipe", "fermented dills")],
)
def test_a_ferment_takes_its_weeks_unasked(run: Run, words: tuple[str, ...]) -> None:
    ran = run("record", *words, "--trimmed", "12 lb", "--cure-hours", "800",
              "--jar", "pint", "--jars", "10", "--json")  # fmt: skip
    assert ran.document["unusual"] == []
    assert "two weeks" not in ran.err


def test_two_weeks_and_half_the_weight_are_not_odd_yet(run: Run) -> None:
    ran = run("record", "--produce", "cucumber", "--trimmed", "12 lb", "--salt", "6 lb",
              "--cure-hours", "336", "--jar", "pint", "--jars", "14", "--json")  # fmt: skip
    assert ran.document["unusual"] == []


def test_a_raw_pack_by_a_card_that_lists_hot_is_refused_by_begin_and_said_by_record(
    run: Run,
) -> None:
    # Pickled carrots (NCHFP; AIB 539, Guide 6) are simmered, and packed hot.
    crop = ("--produce", "carrot", "--cut", "slices", "--pack", "raw", "--trimmed", "5 lb")
    said = "a raw pack, the card lists hot"
    begun = run("begin", "--batch", "a", *crop, "--jar", "pint", "--recipe", "pickled-carrots")
    assert begun.code == 1
    assert "does not list a raw pack; listed: hot" in " ".join(begun.err.split())
    record = run("record", *crop, "--jar", "pint", "--jars", "9", "--recipe", "pickled-carrots")
    assert said in " ".join(record.err.split())
    hot = ("--produce", "carrot", "--cut", "slices", "--pack", "boiled", "--trimmed", "5 lb")
    other = run("record", *hot, "--jar", "pint", "--jars", "9", "--recipe", "pickled-carrots")
    assert "the card lists" not in other.err


def test_a_name_of_a_dropped_batch_is_told_when_it_is_begun_anew(run: Run, begun: Path) -> None:
    assert run("drop", "--yes").code == 0
    ran = run(*BEGIN)
    assert ran.code == 0
    assert "A batch 'c9' was dropped before" in ran.err
    assert "was dropped before" not in run(*BEGIN[:-1], "c10").err


def test_salt_is_judged_beside_the_cured_weight_where_no_other_is_known(
    run: Run, ledger: Path
) -> None:
    cucumbers = ("record", "--produce", "cucumber", "--jars", "6 pints", "--cured", "5 lb")
    assert "more than half the weight" in run(*cucumbers, "--salt", "4 lb").err
    assert "more than half the weight" not in run(*cucumbers, "--salt", "8 oz").err


@pytest.mark.parametrize(("hours", "days"), [("340", "over 14 days"), ("360", "are 15 days")])
def test_hours_in_salt_are_told_as_days_without_rounding_away(
    run: Run, ledger: Path, hours: str, days: str
) -> None:
    # 24 hours a day: 340 of them are 14 days and 4 hours.
    ran = run("record", "--produce", "cucumber", "--jars", "6 pints", "--cure-hours", hours)
    assert days in " ".join(ran.err.split())


def test_a_pack_that_the_card_does_not_list_is_refused_of_an_open_batch(
    run: Run, ledger: Path
) -> None:
    # USDA Complete Guide, Guide 6, pickled carrots: hot pack alone.
    run("begin", "--recipe", "pickled-carrots", "--as-bought", "6 lb", "--batch", "c9")
    ran = run("amend", "c9", "pack=raw")
    assert ran.code == 1
    assert "does not list a raw pack; listed: hot" in ran.err


@pytest.mark.parametrize(
    ("said", "so_far"),
    [
        (("--produce", "9 g"), {"produce_g": 9.0}),
        (("--produce", "4500 g"), {"produce_g": 4500.0}),
        (("--produce-left", "4990 g"), {"produce_left_g": 4990.0}),
        (("--brine", "5 l"), {"brine_ml": 5000.0}),
        (
            ("--pot-left", "2 l", "--brine-made", "1 l", "--yes"),
            {"pot_left_ml": 2000.0, "brine_made_ml": 1000.0},
        ),
    ],
)
def test_a_reading_that_cannot_be_is_refused_in_the_words_that_python_has(
    run: Run, said: tuple[str, ...], so_far: dict[str, float]
) -> None:
    asked: dict[str, Any] = {
        "produce": "carrot", "cut": "sticks", "jar": "pint", "trimmed_g": 5000.0, "cure_hours": 0.0,
    }  # fmt: skip
    # In Python in g and ml; what is a kitchen's is told in that kitchen's measures.
    with told_to(lambda: Units.US), pytest.raises(ForecastError) as refusal:
        habits_from([]).forecast(**asked, so_far=SoFar(3, **so_far))
    run("begin", "--produce", "carrot", "--cut", "sticks", "--jar", "pint", "--batch", "c9")
    run("weigh", "--trimmed", "5000 g", "--cure-hours", "0")
    ran = run("pack", "--jars", "3", *said)
    told = " ".join(ran.err.split())
    assert (ran.code, "Still to come" in ran.out) == (0, False)
    assert str(refusal.value).removeprefix("so far: ") in told
    assert "No forecast" in told
    # It is noted, and stays so until it is weighed or counted again.
    assert "No forecast: so far: " in run().err


def test_a_batch_that_is_closed_or_dropped_is_said_to_be(run: Run, begun: Path) -> None:
    run("weigh", "--trimmed", "6 lb")
    assert run("close", "--jars", "9").code == 0
    for words in (("close", "--batch", "c9", "--jars", "9"), ("weigh", "--batch", "C9"),
                  ("pack", "--jars", "3", "--batch", "c9"), ("drop", "--batch", "c9")):  # fmt: skip
        if words[0] == "weigh":
            words = (*words, "--trimmed", "5 lb")
        ran = run(*words)
        assert ran.code == 1
        assert "batch 'c9' is closed and recorded; 'jarcast amend' changes its values" in ran.err
    run(*BEGIN[:-1], "c10")
    assert "batch 'c9' is closed" in run("close", "--batch", "c9", "--jars", "9").err
    run("drop", "--yes")
    said = run("close", "--batch", "c10").err
    assert "batch 'c10' was dropped; 'jarcast undo NAME' opens it again" in said
    assert "no batch is open" in run("close", "--batch", "beet").err


def test_nothing_stands_between_the_times_of_several_sizes_of_jar(run: Run) -> None:
    said = run("begin", "--recipe", "quick-fresh-pack-dill", "--jar", "6 quart, then pint",
               "--as-bought", "40 lb", "--altitude", "500 ft").out  # fmt: skip
    block = said[said.index("Source:") :].splitlines()
    kinds = [line.split()[0] for line in block if line.startswith("  ") and ":" in line]
    assert kinds == ["vinegar:", "brine,", "headspace:", "jars", "process:", "process:", "in"]
    # AIB 539, Guide 6, p. 6-10, 0 to 1000 ft: quarts 15 minutes, pints 10.
    assert [line.rpartition(": ")[2] for line in block if "process" in line] == ["15 min", "10 min"]
    assert re.search(r"Set out \d+ jars and lids \(6 quarts, then \d+ pints\)\.", said)


@pytest.mark.parametrize(
    ("units", "left", "made", "heavy", "light"),
    # NIST Handbook 44, Appendix C: a cup is 236.5882365 ml, a pound 453.59237 g.
    [("us", "14 cups", "12 cups", "11 lb 6 oz", "10 lb"),
     ("metric", "3.31 l", "2.84 l", "5.16 kg", "4.54 kg")],
)  # fmt: skip
def test_what_cannot_be_is_told_in_the_measures_of_the_kitchen(
    run: Run, units: str, left: str, made: str, heavy: str, light: str
) -> None:
    crop = ("--produce", "carrot", "--cut", "sticks", "--jar", "pint")

    def told_by(ran: Any) -> str:
        return " ".join(f"{ran.out} {ran.err}".split())

    run("--units", units)
    run("begin", *crop, "--as-bought", "10 lb", "--batch", "c1")
    run("weigh", "--brine-made", "12 cups")
    told = told_by(run("pack", "--jars", "2", "--pot-left", "14 cups", "--yes"))
    assert f"{left} of brine left in the pot is more than was made ({made})" in told
    told = told_by(run("weigh", "--trimmed", "11 lb 6 oz", "--yes"))
    assert f"trimmed, {heavy}, is more than as bought, {light}" in told
    told = told_by(run("forecast", *crop, "--as-bought", "10 lb", "--trimmed", "11 lb 6 oz"))
    assert f"trimmed, {heavy}, is more than as bought, {light}" in told
