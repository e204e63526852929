"""At a terminal: questions in the order of the work, odd values asked back, nothing lost."""

import contextlib
import datetime as dt
import os
import re
import signal
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from jarcast.ledger import Ledger
from jarcast.ledger.steps import open_batches, steps

Run = Callable[..., Any]

pytestmark = [
    pytest.mark.skipif(os.name != "posix", reason="pseudo-terminals are POSIX's"),
    pytest.mark.xdist_group("alone"),
]

LAST_JAR = "Do you leave the last jar part full? (yes, sometimes, no, or never ask) [never ask]: "
REST = "What becomes of the rest? (topped up, smaller jar, eaten, or varies) [varies]: "
ESCAPES = re.compile(r"\x1b\[[0-9;?]*[A-Za-z]")
OUNCE_G, CUP_ML = 28.349523125, 236.5882365  # NIST Handbook 44, Appendix C


class Terminal:
    """One command at a pseudo-terminal: what it asks is answered, what it says is kept."""

    def __init__(self, *words: str) -> None:
        from pexpect.fdpexpect import fdspawn

        self.master, follower = os.openpty()
        self.process = subprocess.Popen(
            [sys.executable, "-m", "jarcast", *words],
            stdin=follower,
            stdout=follower,
            stderr=follower,
            start_new_session=True,
        )
        os.close(follower)
        self.ends = fdspawn(self.master, encoding="utf-8", timeout=30)
        self.said = ""

    def hears(self, question: str) -> str:
        """Wait for a question; gives all that was said before it."""
        self.ends.expect_exact(question)
        before = ESCAPES.sub("", self.ends.before).replace("\r\n", "\n")
        self.said += before + question
        return " ".join(before.split())

    def answers(self, question: str, answer: str) -> str:
        """Wait for a question and answer it; gives what was said before it."""
        before = self.hears(question)
        self.ends.send(f"{answer}\n")
        return before

    def interrupt(self) -> None:
        """What Ctrl-C does."""
        self.process.send_signal(signal.SIGINT)

    def ends_with(self) -> tuple[int, str]:
        """Exit code, and what was said after the last question."""
        import pexpect

        # Linux ends the reading of a terminal that nobody writes to with an error.
        with contextlib.suppress(OSError):
            self.ends.expect(pexpect.EOF)
        said = ESCAPES.sub("", self.ends.before or "").replace("\r\n", "\n")
        return self.process.wait(30), " ".join(said.split())

    def close(self) -> None:
        if self.process.poll() is None:
            self.process.kill()
        self.process.wait(30)
        with contextlib.suppress(OSError):
            os.close(self.master)


@pytest.fixture
def terminal() -> Iterator[Callable[..., Terminal]]:
    """Starts commands at a terminal, and ends those that are left."""
    started: list[Terminal] = []

    def start(*words: str) -> Terminal:
        started.append(Terminal(*words))
        return started[-1]

    yield start
    for one in started:
        one.close()


@pytest.fixture
def us(run: Run) -> None:
    """A kitchen whose units are known, so that they are not asked for."""
    run("--units", "us")


def open_typed(path: Path) -> dict[str, str]:
    with Ledger.open(path) as opened:
        (found,) = open_batches(opened)
    return found.typed


def test_a_whole_batch_is_asked_for_in_the_order_of_the_work(
    terminal: Callable[..., Terminal], run: Run, ledger: Path
) -> None:
    at = terminal("guide")
    for question, answer in (
        ("Show measures in (us or metric) [us]: ", ""),
        ("What is put up: ", "carrot"),
        ("Cut (sticks, slices, whole...): ", "sticks"),
        ("Pack (raw or hot): ", "raw"),
        ("Jar (pint, quart, pint-wide...): ", "pint"),
        ("Recipe: ", ""),
        ("Weight as bought: ", "8 lb"),
        ("Weight trimmed: ", "3 lb 2 oz + 4 lb 1 oz - 410 g"),
        ("Hours in salt (0: not salted): ", "0"),
        ("Brine made: ", "9 cups"),  # neither salted nor hot: not asked for these weights
        ("Jars packed so far, after three or so (Enter: all are filled): ", ""),
        ("Jars filled (last jar half full? write 1/2): ", "8.5"),
        ("Brine left in the pot: ", "2 cups"),
        ("Jars that sealed: ", ""),
        ("Note: ", "windy"),
    ):
        at.answers(question, answer)
    said = at.answers(LAST_JAR, "")
    assert f"Closed, and recorded in {ledger}" in said
    assert "The forecast was about " in said
    code, said = at.ends_with()
    assert code == 0
    assert "About " in at.said  # what it is expected to come to, as the weights came
    (batch,) = run("batches", "--json").document["batches"]
    assert batch["trimmed_g"] == pytest.approx(115 * OUNCE_G - 410, abs=1e-9)
    assert batch["brine_left_ml"] == pytest.approx(2 * CUP_ML)
    assert (batch["jars"], batch["sealed"], batch["recipe"]) == ("8.5", None, None)
    assert (batch["date"], batch["note"]) == (dt.date.today().isoformat(), "windy")
    with Ledger.open(ledger) as opened:
        assert opened.setting("units") == "us"


def test_an_amount_is_no_produce_no_cut_and_no_pack(
    terminal: Callable[..., Terminal], us: None, ledger: Path
) -> None:
    at = terminal("guide")
    at.answers("What is put up: ", "5 lb 10 oz")
    assert "'5 lb 10 oz' is no produce" in at.answers("What is put up: ", "cauliflower")
    at.answers("Cut (sticks, slices, whole...): ", "5 lb 10 oz")
    assert "is no cut" in at.answers("Cut (sticks, slices, whole...): ", "florets")
    at.answers("Pack (raw or hot): ", "0")
    assert "'0' is no pack; say it such as raw or hot" in at.answers("Pack (raw or hot): ", "whole")
    assert "'whole' is a cut; a pack is raw or hot" in at.answers("Pack (raw or hot): ", "raw")
    at.hears("Jar (pint, quart, pint-wide...): ")
    typed = open_typed(ledger)
    assert (typed["produce"], typed["cut"], typed["pack"]) == ("cauliflower", "florets", "raw")


def test_the_guide_says_what_to_answer_and_leaves_no_empty_steps(
    terminal: Callable[..., Terminal], run: Run, us: None, ledger: Path
) -> None:
    run("begin", "--batch", "q", "--produce", "cauliflower", "--cut", "florets", "--pack", "raw",
        "--jar", "pint", "--trimmed", "5 lb 10 oz", "--cure-hours", "0")  # fmt: skip
    at = terminal("guide")
    for question, answer in (
        ("Recipe: ", ""),
        ("Weight as bought: ", ""),
        ("Brine made: ", "5 cups"),
        ("Jars packed so far, after three or so (Enter: all are filled): ", "3"),
        ("Produce left in the bowl: ", ""),
        ("Brine left in the pot now: ", "1 cup"),
    ):
        at.answers(question, answer)
    said = at.hears("Another pot of brine (Enter: none): ")
    assert "when asked for another pot of brine" in said
    assert not re.search(r"(^|[ (])--[a-z]{2}", said)
    events = run("history", "q", "--json").document["events"]
    assert [event["kind"] for event in events] == ["begin", "weigh", "pack"]
    assert all(event["changes"] for event in events)


def test_a_wrong_answer_is_asked_again_with_the_reason(
    terminal: Callable[..., Terminal], us: None, ledger: Path
) -> None:
    at = terminal("guide")
    at.answers("What is put up: ", "")
    assert "Every batch needs a produce" in at.answers("What is put up: ", "carrot")
    at.answers("whole...): ", "sticks")
    at.answers("(raw or hot): ", "raw")
    at.answers("pint-wide...): ", "bucket")
    assert "known jars are" in at.answers("pint-wide...): ", "")
    assert "Every batch needs a jar" in at.answers("pint-wide...): ", "pint")
    at.answers("Recipe: ", "pickled")
    assert "could be any of" in at.answers("Recipe: ", "pickled-beets")
    assert "is for beet, not for carrot" in at.answers("Recipe: ", "")
    at.answers("as bought: ", "8")
    assert "has no unit" in at.answers("as bought: ", "8 lb")
    at.hears("trimmed: ")
    assert open_typed(ledger)["as_bought"] == "8 lb"


def test_an_odd_weight_is_asked_back_once_and_may_stand(
    terminal: Callable[..., Terminal], us: None, run: Run, ledger: Path
) -> None:
    run("begin", "--produce", "carrot", "--cut", "sticks", "--pack", "raw", "--jar", "pint",
        "--recipe", "", "--as-bought", "8 lb", "--batch", "c9")  # fmt: skip
    at = terminal("guide")
    at.answers("trimmed: ", "2.8 lb")
    said = at.answers("Keep it? [y/N]: ", "n")
    assert "2 lb 13 oz of 8 lb as bought" in said
    assert "kilograms typed as pounds?" in said
    at.answers("trimmed: ", "2.9 lb")
    at.answers("Keep it? [y/N]: ", "y")
    at.hears("Hours in salt")
    with Ledger.open(ledger) as opened:
        (found,) = open_batches(opened)
    assert found.typed["trimmed"] == "2.9 lb"
    assert "trimmed_g" in found.sure


def test_the_rule_on_a_steam_canner_comes_with_the_card(
    terminal: Callable[..., Terminal], us: None, run: Run
) -> None:
    # AIB 539, Guide 6, p. 6-15, beets at 6001 to 8000 ft: 45 min, the most in such a canner by the
    # National Center for Home Food Preservation.
    run("kitchen", "--canner-kind", "steam", "--altitude", "7000 ft")
    at = terminal("guide")
    for question, answer in (
        ("What is put up: ", "beet"), ("whole...): ", "slices"), ("hot): ", "hot"),
        ("wide...): ", "pint"), ("Recipe: ", "pickled-beets"),
    ):  # fmt: skip
        at.answers(question, answer)
    said = at.hears("as bought: ")
    assert "45 min (pint, 6001-8000 ft); 45 min is the most, altitude included. Vent it" in said


def test_ctrl_c_keeps_what_was_entered_and_the_next_time_goes_on_there(
    terminal: Callable[..., Terminal], us: None, run: Run, ledger: Path
) -> None:
    at = terminal("guide")
    for question, answer in (
        ("What is put up: ", "beet"), ("whole...): ", "slices"), ("hot): ", "hot"),
        ("wide...): ", "pint"), ("Recipe: ", "pickled-beets"), ("as bought: ", ""),
        ("trimmed: ", "6 lb"),
    ):  # fmt: skip
        at.answers(question, answer)
    at.hears("Hours in salt (0: not salted): ")
    at.interrupt()
    code, said = at.ends_with()
    assert code == 1
    assert "what you entered is kept; jarcast guide --batch" in said
    typed = open_typed(ledger)
    assert (typed["trimmed"], typed["as_bought"], typed["recipe"]) == ("6 lb", "", "pickled-beets")
    again = terminal("guide")
    assert "Going on with" in again.answers("Hours in salt (0: not salted): ", "0")
    again.answers("Weight cooked: ", "5 lb")  # asked, as the pack is hot
    again.hears("Brine made: ")
    assert open_typed(ledger)["cooked"] == "5 lb"


def test_ctrl_c_at_the_first_question_begins_nothing(
    terminal: Callable[..., Terminal], us: None, ledger: Path
) -> None:
    at = terminal("guide")
    at.hears("What is put up: ")
    at.interrupt()
    code, said = at.ends_with()
    assert code == 1
    assert "Stopped: nothing was entered." in said
    assert "Traceback" not in said
    with Ledger.open(ledger) as opened:
        assert open_batches(opened) == []


def test_without_jars_the_batch_stays_open_and_is_asked_for_them_again(
    terminal: Callable[..., Terminal], us: None, run: Run, ledger: Path
) -> None:
    run("begin", "--produce", "carrot", "--jar", "pint", "--batch", "c9", "--trimmed", "6 lb",
        "--cut", "sticks", "--pack", "raw", "--recipe", "", "--as-bought", "8 lb",
        "--cure-hours", "0")  # fmt: skip
    at = terminal("guide", "--batch", "C9")
    at.answers("Brine made: ", "9 cups")
    at.answers("all are filled): ", "")
    at.answers("write 1/2): ", "")
    code, said = at.ends_with()
    assert (code, "'c9' stays open" in said) == (0, True)
    again = terminal("guide")
    for question, answer in (
        ("all are filled): ", ""), ("write 1/2): ", "8"), ("the pot: ", "1 cup"),
        ("sealed: ", "8"), ("Note: ", ""), (LAST_JAR, ""),
    ):  # fmt: skip
        again.answers(question, answer)
    assert again.ends_with()[0] == 0
    assert run("batches", "--json").document["batches"][0]["sealed"] == 8.0


def test_enter_takes_what_the_last_like_batch_had_and_a_dash_takes_nothing(
    terminal: Callable[..., Terminal], filled: Path, us: None
) -> None:
    at = terminal("guide")
    for question, answer in (
        ("What is put up: ", "Carrots"), ("[Sticks]: ", ""), ("[raw]: ", ""), ("[pint]: ", ""),
        ("Recipe: ", ""), ("as bought: ", ""), ("trimmed: ", "5 lb"), ("[0]: ", "-"),
        ("Salt: ", ""),
    ):  # fmt: skip
        at.answers(question, answer)
    at.hears("cured, rinsed and drained: ")
    typed = open_typed(filled)
    assert (typed["cut"], typed["pack"], typed["jar"]) == ("Sticks", "raw", "pint")
    assert (typed["as_bought"], typed["cure_hours"]) == ("", "")


def test_several_open_batches_are_picked_by_number(
    terminal: Callable[..., Terminal], us: None, run: Run, ledger: Path
) -> None:
    for name in ("one", "two"):
        run("begin", "--produce", "okra", "--batch", name)
    at = terminal("weigh", "--trimmed", "3 lb")
    listed = at.answers("Its number: ", "3")
    assert "1 one 2 two" in listed
    assert "is not one of 1 to 2" in at.answers("Its number: ", "2")
    assert at.ends_with()[0] == 0
    with Ledger.open(ledger) as opened:
        assert [len(steps(opened, name)) for name in ("one", "two")] == [1, 2]
    guided = terminal("guide")
    assert "3 a new batch" in guided.answers("Its number: ", "3")
    guided.hears("What is put up: ")
    another = terminal("guide", "--new")
    another.hears("What is put up: ")


def test_a_value_not_kept_when_asked_back_leaves_no_step(
    terminal: Callable[..., Terminal], us: None, run: Run, ledger: Path
) -> None:
    run("begin", "--produce", "carrot", "--cut", "sticks", "--as-bought", "8 lb", "--batch", "c9")
    at = terminal("weigh", "--trimmed", "2.8 lb")
    at.answers("Keep it? [y/N]: ", "")
    code, said = at.ends_with()
    assert code == 1
    assert "nothing was recorded; enter it again" in said
    kept = terminal("weigh", "--trimmed", "2.8 lb", "--yes")
    assert kept.ends_with()[0] == 0
    with Ledger.open(ledger) as opened:
        assert len(steps(opened, "c9")) == 2


def test_a_value_stood_by_at_the_terminal_is_confirmed_once_it_is_written_down(
    terminal: Callable[..., Terminal], us: None, run: Run, ledger: Path
) -> None:
    run("begin", "--produce", "carrot", "--cut", "sticks", "--as-bought", "8 lb", "--batch", "c9")
    at = terminal("weigh", "--trimmed", "2.8 lb")
    at.answers("Keep it? [y/N]: ", "y")
    assert at.ends_with()[0] == 0
    closing = terminal("close")
    closing.answers("Sort of jar (pint, quart...): ", "pint")
    closing.answers("write 1/2): ", "4")
    assert closing.ends_with()[0] == 0
    with Ledger.open(ledger) as opened:
        (batch,) = opened.batches()
    assert batch.jars == (4.0,)
    assert {"trimmed_g", "as_bought_g"} <= batch.confirmed


def test_without_a_terminal_nothing_waits(run: Run, ledger: Path) -> None:
    ran = run("guide")
    assert (ran.code, ran.out) == (1, "")
    assert "missing are produce, jar and jars" in ran.err
    assert "jarcast record" in ran.err
    assert not ledger.exists()
    run("begin", "--produce", "okra", "--batch", "o1")
    assert "batch 'o1' is open, and missing is jar, jars" in run("guide").err
    run("begin", "--produce", "okra", "--batch", "o2")
    assert "several batches are open: 'o1', 'o2'" in run("guide").err


def test_a_pipe_is_no_terminal(process: Callable[..., Any], run: Run) -> None:
    ran = process("guide", input=b"carrot\n")
    assert ran.returncode == 1
    assert b"no terminal" in ran.stderr
    run("begin", "--produce", "okra", "--batch", "o1")
    ran = process("close", input=b"y\n")
    assert ran.returncode == 1
    assert b"still missing: --jar, --jars" in ran.stderr


def test_record_asks_contradictions_back_too(
    terminal: Callable[..., Terminal], us: None, ledger: Path
) -> None:
    words = ("record", "--produce", "okra", "--jar", "pint", "--jars", "4")
    at = terminal(*words, "--as-bought", "2 lb", "--trimmed", "4 lb")
    assert "contradict each other" in at.answers("Keep it? [y/N]: ", "n")
    assert at.ends_with()[0] == 1
    with Ledger.open(ledger) as opened:
        assert opened.batches() == []


def test_less_brine_in_all_than_is_known_is_asked_back_in_the_guide(
    terminal: Callable[..., Terminal], us: None, run: Run, ledger: Path
) -> None:
    crop = ("--produce", "carrot", "--cut", "sticks", "--pack", "raw", "--jar", "pint")
    weights = ("--as-bought", "8 lb", "--trimmed", "6 lb", "--cure-hours", "0")
    run("begin", "--batch", "c1", *crop, *weights)
    run("pack", "--jars", "4", "--pot-left", "4 1/2 cups")
    at = terminal("guide")
    at.answers("Recipe: ", "")
    at.answers("Brine made: ", "4 cups")
    said = at.answers("Its number: ", "1")
    assert "4 cups in all, or 4 cups more?" in said
    assert "4½ cups that are known to be made" in said
    at.hears("Jars packed so far")
    assert open_typed(ledger)["brine_made"] == "4 cups"
    at.interrupt()
    assert at.ends_with()[0] == 1


@pytest.mark.parametrize(("number", "made"), [("1", "4 cups"), ("2", "8 cups + 4 cups")])
def test_less_brine_in_all_than_is_known_is_asked_back_at_a_terminal(
    terminal: Callable[..., Terminal], us: None, run: Run, ledger: Path, number: str, made: str
) -> None:
    run("begin", "--batch", "c1", "--produce", "carrot", "--trimmed", "6 lb", "--brine-made",
        "8 cups")  # fmt: skip
    at = terminal("weigh", "--brine-made", "4 cups")
    assert "4 cups in all, or 4 cups more?" in at.answers("Its number: ", number)
    assert at.ends_with()[0] == 0
    assert open_typed(ledger)["brine_made"] == made


def test_brine_is_kept_only_where_it_is_clean(
    terminal: Callable[..., Terminal], us: None, run: Run, ledger: Path
) -> None:
    crop = ("--produce", "carrot", "--pack", "raw", "--jar", "pint")
    run("begin", "--batch", "c1", *crop, "--recipe", "ana")
    for answer, code in (("n", 1), ("y", 0)):
        at = terminal("close", "--jars", "4", "--keep-brine", "1 cup")
        at.answers("has it never touched produce? [y/N]: ", answer)
        assert at.ends_with()[0] == code
    (batch,) = run("batches", "--json").document["batches"]
    assert batch["batch"] == "c1"


def test_drop_asks_first_at_a_terminal(
    us: None, terminal: Callable[..., Terminal], run: Run, ledger: Path
) -> None:
    run("begin", "--batch", "q", "--produce", "carrot", "--jar", "pint")
    at = terminal("drop")
    at.answers("Drop 'q' and what you noted of it in 1 step? [y/N]: ", "n")
    code, said = at.ends_with()
    assert code == 1
    assert "'q' stays open" in said
    assert open_typed(ledger)["produce"] == "carrot"
    at = terminal("drop")
    at.answers("[y/N]: ", "y")
    assert at.ends_with()[0] == 0
    run("undo", "q")
    assert terminal("drop", "--yes").ends_with()[0] == 0


def test_record_asks_about_salt_hours_and_an_untested_pack(
    us: None, terminal: Callable[..., Terminal], run: Run
) -> None:
    at = terminal(
        "record", "--produce", "carrot", "--cut", "slices", "--pack", "raw", "--trimmed", "5 lb",
        "--salt", "4 lb", "--cure-hours", "400", "--jar", "pint", "--jars", "9",
        "--recipe", "pickled-carrots", "--batch", "q",
    )  # fmt: skip
    said = at.answers("Keep them? [y/N]: ", "n")
    for due in ("more than half the weight", "over 16 days", "a raw pack, the card lists hot"):
        assert due in said
    assert at.ends_with()[0] == 1
    assert run("batches", "--json").document["batches"] == []


BEGUN = (
    "begin", "--produce", "carrot", "--cut", "sticks", "--pack", "raw", "--jar", "pint",
    "--recipe", "", "--batch", "c9", "--as-bought", "8 lb", "--cure-hours", "0",
)  # fmt: skip


def test_after_three_jars_what_is_left_is_asked_for_and_after_each_pot(
    terminal: Callable[..., Terminal], us: None, run: Run, ledger: Path
) -> None:
    run(*BEGUN)
    run("weigh", "--trimmed", "6 lb 4 oz", "--brine-made", "7 cups")
    at = terminal("guide")
    at.answers("all are filled): ", "3")
    at.answers("Produce left in the bowl: ", "4 lb 3")
    # What cannot be read is said at once, naming no option, and asked again.
    said = at.answers("Produce left in the bowl: ", "4 lb 3 oz")
    assert "4 lb 3" in said
    assert "--produce-left" not in said
    at.answers("Brine left in the pot now: ", "5 cups")
    said = at.answers("Another pot of brine (Enter: none): ", "3 cups")
    assert "Still to come" in said
    assert "Still to come" in at.answers("Another pot of brine (Enter: none): ", "")
    at.answers("all are filled): ", "")
    at.hears("Jars filled")
    with Ledger.open(ledger) as opened:
        (found,) = open_batches(opened)
    first, *_ = found.packed
    assert first.jars == 3.0
    assert first.produce_left_g == pytest.approx(67 * OUNCE_G)
    assert first.pot_left_ml == pytest.approx(5 * CUP_ML)
    assert found.packed[-1].brine_made_ml == pytest.approx(10 * CUP_ML)


@pytest.mark.parametrize(("answer", "kept"), [("n", 4.0), ("y", 22.0)])
def test_a_count_far_from_the_jars_before_is_asked_about_and_kept_if_it_is_so(
    terminal: Callable[..., Terminal], run: Run, us: None, answer: str, kept: float
) -> None:
    run("begin", "--batch", "c", "--produce", "carrot", "--cut", "sticks", "--jar", "pint",
        "--trimmed", "6 lb", "--cure-hours", "0")  # fmt: skip
    run("pack", "--jars", "4", "--produce-left", "3 lb 10 oz")  # 9½ oz a jar: ten in all
    at = terminal("pack", "--jars", "22")
    said = at.answers("Keep it? [y/N]: ", answer)
    assert "far more jars than the 4 packed before point to: 22" in said
    code, _ = at.ends_with()
    assert code == (answer == "n")
    assert run("--json").document["batches"][0]["so_far"]["jars"] == kept


def test_a_count_stood_by_in_the_guide_is_confirmed_once_it_is_written_down(
    terminal: Callable[..., Terminal], run: Run, us: None, ledger: Path
) -> None:
    run("begin", "--batch", "c", "--produce", "carrot", "--cut", "sticks", "--jar", "pint",
        "--pack", "raw", "--trimmed", "6 lb", "--cure-hours", "0")  # fmt: skip
    run("pack", "--jars", "4", "--produce-left", "3 lb 10 oz")
    at = terminal("guide")
    for question, typed in (
        ("Recipe: ", ""),
        ("Weight as bought: ", ""),
        ("Brine made: ", ""),
        ("Jars packed so far, after three or so (Enter: all are filled): ", ""),
        ("Jars filled (last jar half full? write 1/2): ", "13"),
    ):
        at.answers(question, typed)
    said = at.answers("Keep it? [y/N]: ", "y")
    assert "far more jars than the 4 packed before point to: 13" in said
    at.answers("Jars that sealed: ", "")
    at.answers("Note: ", "")
    at.answers(LAST_JAR, "")
    assert at.ends_with()[0] == 0
    with Ledger.open(ledger) as opened:
        (batch,) = opened.batches()
    assert "jars" in batch.confirmed


def test_each_answer_in_the_middle_of_packing_is_read_before_the_next_is_asked(
    terminal: Callable[..., Terminal], us: None, run: Run, ledger: Path
) -> None:
    run(*BEGUN)
    run("weigh", "--trimmed", "6 lb 4 oz", "--brine-made", "7 cups")
    at = terminal("guide")
    at.answers("all are filled): ", "5,6 kg")
    assert "'5,6 kg'" in at.answers("all are filled): ", "a few")
    assert "'a few'" in at.answers("all are filled): ", "3")
    assert "--jars" not in at.said
    at.answers("Produce left in the bowl: ", "back")
    at.answers("all are filled): ", "3")
    at.answers("Produce left in the bowl: ", "4 lb 3 oz")
    at.answers("Brine left in the pot now: ", "back")
    at.answers("Produce left in the bowl: ", "4 lb 3 oz")
    at.answers("Brine left in the pot now: ", "5")
    at.answers("Brine left in the pot now: ", "5 cups")
    at.answers("Another pot of brine (Enter: none): ", "9")
    said = at.answers("Another pot of brine (Enter: none): ", "3 cups")
    assert "'9' has no unit" in said
    at.answers("Another pot of brine (Enter: none): ", "")
    at.hears("all are filled): ")
    with Ledger.open(ledger) as opened:
        (found,) = open_batches(opened)
    assert found.packed[-1].brine_made_ml == pytest.approx(10 * CUP_ML)
    assert len(found.packed) == 2


def test_back_at_a_question_of_yes_or_no_asks_the_question_before_it(
    terminal: Callable[..., Terminal], us: None, ledger: Path
) -> None:
    at = terminal("guide")
    at.answers("What is put up: ", "carrott")
    at.answers("Did you mean carrot? [Y/n]: ", "back")
    at.answers("What is put up: ", "carrot")
    for question in ("Cut (", "Pack (", "Jar ("):
        at.answers(question, {"Jar (": "pint"}.get(question, ""))
    at.answers("Recipe: ", "")
    at.answers("Weight as bought: ", "8 lb")
    at.answers("Weight trimmed: ", "12 lb")  # more than was bought
    at.answers("Keep it? [y/N]: ", "maybe")
    assert "answer y or n, or back" in at.answers("Keep it? [y/N]: ", "back")
    at.answers("Weight trimmed: ", "6 lb 4 oz")
    at.hears("Hours in salt")
    assert "Error" not in at.said
    assert open_typed(ledger)["trimmed"] == "6 lb 4 oz"


def test_back_is_no_answer_where_there_is_no_question_before(
    terminal: Callable[..., Terminal], run: Run, us: None
) -> None:
    run(*BEGUN)
    at = terminal("weigh", "--trimmed", "12 lb")
    at.answers("Keep it? [y/N]: ", "back")
    assert "'back': answer y or n." in at.answers("Keep it? [y/N]: ", "n")
    assert at.ends_with()[0] == 1


def test_back_asks_the_question_before_again_with_its_answer(
    terminal: Callable[..., Terminal], us: None, run: Run, ledger: Path
) -> None:
    run(*BEGUN)
    at = terminal("guide")
    assert "'back' goes back a question" in at.answers("Weight trimmed: ", "6 lb")
    at.answers("Brine made: ", "back")
    at.answers("Hours in salt (0: not salted) [0]: ", "back")
    at.answers("Weight trimmed [6 lb]: ", "6 lb 4 oz")
    at.answers("Brine made: ", "9 cups")
    at.answers("all are filled): ", "")
    at.answers("Jars filled (last jar half full? write 1/2): ", "back")
    at.answers("all are filled): ", "back")
    at.answers("Brine made [9 cups]: ", "")
    at.hears("all are filled): ")
    typed = open_typed(ledger)
    assert (typed["trimmed"], typed["brine_made"]) == ("6 lb 4 oz", "9 cups")


def test_going_back_past_the_packing_forgets_no_jar_that_was_packed(
    terminal: Callable[..., Terminal], us: None, run: Run
) -> None:
    run(*BEGUN)
    run("weigh", "--trimmed", "7 lb", "--brine-made", "12 cups")
    at = terminal("guide")
    at.answers("all are filled): ", "3")
    at.answers("Produce left in the bowl: ", "")
    at.answers("Brine left in the pot now: ", "8 cups")
    at.answers("Another pot of brine (Enter: none): ", "")
    at.answers("all are filled): ", "back")
    said = at.answers("Brine made [12 cups]: ", "13 cups") and at.hears("all are filled): ")
    assert "3 jars packed." in " ".join(said.split())
    assert "Nothing to heat yet" not in said
    assert "the first 7 jars" not in said


def test_before_the_first_question_there_is_none(
    terminal: Callable[..., Terminal], us: None
) -> None:
    at = terminal("guide")
    at.answers("What is put up: ", "back")
    assert "This is the first question." in at.answers("What is put up: ", "carrot")
    at.answers("whole...): ", "back")
    at.answers("What is put up [carrot]: ", "-")
    assert "Every batch needs" in at.answers("What is put up [carrot]: ", "back")
    assert "This is the first question." in at.hears("whole...): ")


def test_the_cards_for_what_is_put_up_are_named_where_a_recipe_is_asked_for(
    terminal: Callable[..., Terminal], us: None
) -> None:
    at = terminal("guide")
    for question, answer in (
        ("What is put up: ", "cucumbers"), ("whole...): ", "slices"), ("hot): ", "raw"),
        ("wide...): ", "pint"),
    ):  # fmt: skip
        at.answers(question, answer)
    said = at.hears("Recipe: ")
    # Those for slices first: AIB 539, Guide 6, p. 6-12, 6-33 to 6-35; then the whole ones, p. 6-10
    # and 6-11.
    assert (
        "no-sugar-cucumber-slices, quick-sweet, reduced-sodium-dill, reduced-sodium-sweet, "
        "fourteen-day-sweet, quick-fresh-pack-dill"
    ) in said


@pytest.mark.parametrize(
    ("answers", "kept"),
    [
        (["yes"], "part"),
        (["perhaps", "never ask"], "learn"),
        (["sometimes"], "learn"),
        ([""], "learn"),
        (["no", ""], "whole"),
        (["no", "Topped up"], "topped"),
        (["n", "what?", "smaller jar"], "smaller"),
        (["no", "eaten"], "eaten"),
        (["no", "back", "yes"], "part"),
        (["back", "-"], "learn"),
    ],
)
def test_the_last_jar_is_asked_about_once_after_the_first_batch(
    terminal: Callable[..., Terminal], us: None, run: Run, answers: list[str], kept: str
) -> None:
    ready = ("begin", "--produce", "carrot", "--cut", "sticks", "--pack", "raw", "--jar", "pint",
             "--recipe", "", "--trimmed", "5 lb", "--cure-hours", "0")  # fmt: skip

    def close(name: str) -> Terminal:
        run(*ready, "--batch", name)
        at = terminal("guide", "--batch", name)
        for question, answer in (
            ("as bought: ", ""), ("Brine made: ", ""), ("are filled): ", ""),
            ("write 1/2): ", "8"), ("sealed: ", ""), ("Note: ", ""),
        ):  # fmt: skip
            at.answers(question, answer)
        return at

    first, of_the_rest = close("one"), False
    for answer in answers:
        first.answers(REST if of_the_rest else LAST_JAR, answer)
        of_the_rest = answer != "back" and (of_the_rest or answer in ("no", "n"))
    assert first.ends_with()[0] == 0
    assert run("kitchen", "--json").document["last_jar"] == kept
    code, said = close("two").ends_with()
    assert code == 0
    assert "last jar part full?" not in said


def test_who_has_said_it_is_not_asked_and_ctrl_c_there_loses_nothing(
    terminal: Callable[..., Terminal], us: None, run: Run
) -> None:
    run("begin", "--produce", "okra", "--jar", "pint", "--trimmed", "3 lb", "--cure-hours", "0")
    at = terminal("guide")
    for question, answer in (
        ("whole...): ", ""), ("hot): ", "raw"), ("Recipe: ", ""), ("as bought: ", ""),
        ("Brine made: ", ""), ("are filled): ", ""), ("write 1/2): ", "6"), ("sealed: ", ""),
        ("Note: ", ""),
    ):  # fmt: skip
        at.answers(question, answer)
    at.hears(LAST_JAR)
    at.interrupt()
    assert at.ends_with()[0] == 0
    assert len(run("batches", "--json").document["batches"]) == 1
    assert run("kitchen", "--json").document["last_jar"] == "learn"


def test_a_batch_too_heavy_for_its_jars_is_asked_what_was_not_jarred(
    terminal: Callable[..., Terminal], us: None, run: Run
) -> None:
    record = ("record", "--batch", "dills", "--produce", "cucumber", "--cut", "spears", "--pack",
              "raw", "--cure-hours", "0", "--as-bought", "20 lb", "--jar", "quart", "--jars", "7",
              "--brine-made", "1 gal", "--brine-left", "0 cups")  # fmt: skip
    at = terminal(*record)
    question = "How much of it did not go into jars, such as '6 lb' (Enter: all of it did): "
    assert "too much for its jars: was some of it not jarred?" in at.answers(question, "six")
    at.answers(question, "9 lb")
    assert "much brine for these jars" in at.answers("Keep it? [y/N]: ", "y")
    code, said = at.ends_with()
    assert code == 0
    assert "Not jarred: 9 lb." in said
    (batch,) = run("batches", "--json").document["batches"]
    assert batch["not_jarred_g"] == pytest.approx(144 * OUNCE_G)


def test_who_packs_is_asked_only_where_two_are_known_or_one_was_named(
    terminal: Callable[..., Terminal], us: None, run: Run
) -> None:
    ready = ("record", "--produce", "okra", "--jar", "pint", "--jars", "4")
    who = "Who packs it ('-' for nobody named)"

    def begun(answer: str | None, default: str = "") -> str:
        at = terminal("guide", "--new")
        before = at.answers("put up", "okra")
        if answer is not None:
            at.answers(f"{who}{default}: ", answer)
        at.hears("whole...")
        at.interrupt()
        at.ends_with()
        return f"{before} {at.said}"

    assert "Who packs" not in begun(None)
    run(*ready, "--person", "Ann")
    begun("", " [Ann]")
    begun("-", " [Ann]")
    assert "Who packs" not in begun(None)
    run(*ready, "--person", "Bea")
    run("kitchen", "--person", "")
    begun("bea")
    found = run("--json").document["batches"]
    named = [one["values"].get("person") for one in found]
    assert named == [None, "Ann", None, None, "Bea"]
    assert run("kitchen", "--json").document["person"] == "Bea"
