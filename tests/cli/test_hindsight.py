"""jarcast hindsight, forecast --keep, and what record says of a kept forecast."""

import datetime as dt
import os
import re
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from msgspec.structs import replace
from scipy import stats

from jarcast.batchtable import read_csv
from jarcast.cli.progress import Progress
from jarcast.files.shipped import shipped
from jarcast.ledger import Entry, Ledger
from jarcast.ledger.kept_forecasts import kept_forecasts
from jarcast.measures import Units
from jarcast.trackrecord import hindsight as trackrecord
from jarcast.trackrecord.hindsight import Beside, Group, Hindsight, Tally, TrackRecord
from jarcast.trackrecord.scoring import Frequency
from jarcast.views.hindsight import hindsight_text

BATCHES = 24  # of the demo household that most tests use
FORECAST = ("forecast", "--produce", "carrot", "--cut", "sticks", "--jar", "pint")
FORECAST_NOW = (*FORECAST, "--trimmed", "6 lb")
RECORD = (
    "record", "--produce", "carrot", "--cut", "sticks", "--jar", "pint", "--batch", "next",
    "--trimmed", "6 lb",
)  # fmt: skip
CUP_ML = 236.5882365  # exact: NIST Handbook 44, Appendix C
Run = Callable[..., Any]


def demo_entries(times: int = 1) -> list[Entry]:
    """The demo household's batches, as often as wanted, three years apart."""
    entries = read_csv(shipped("data_demo", "batches.csv"), today=dt.date.max).entries
    return [
        replace(
            entry,
            batch=replace(
                entry.batch,
                batch=entry.batch.batch if turn == 0 else f"{entry.batch.batch}-{turn}",
                date=entry.batch.date - dt.timedelta(days=1100 * turn),
            ),
        )
        for turn in range(times)
        for entry in entries
    ]


@pytest.fixture
def household(ledger: Path) -> Path:
    """A ledger with the first batches of the demo household."""
    with Ledger.open(ledger, writing=True) as opened:
        opened.add(demo_entries()[:BATCHES], "import")
    return ledger


@pytest.fixture
def said(run: Run) -> Callable[..., str]:
    """What a command that succeeds says, with its line breaks taken out."""

    def say(*typed: str) -> str:
        ran = run(*typed)
        assert ran.code == 0, ran.err
        return " ".join(ran.out.split())

    return say


@pytest.fixture
def answer(run: Run) -> Callable[..., dict[str, Any]]:
    """What a command that succeeds answers with --json."""

    def ask(*typed: str) -> dict[str, Any]:
        ran = run(*typed, "--json")
        assert ran.code == 0, ran.err
        document: dict[str, Any] = ran.document
        return document

    return ask


def test_without_a_batch_there_is_nothing_to_look_back_on(
    said: Run, answer: Run, ledger: Path
) -> None:
    assert "nothing to look back on" in said("hindsight")
    document = answer("hindsight")
    assert document["batches"] == 0
    assert document["replayed"] == {"groups": [], "waiting": [], "set_aside": [], "forecasts": []}
    assert not ledger.exists()


def test_hindsight_says_how_often_the_ranges_held_and_writes_nothing(
    said: Run, household: Path
) -> None:
    before = household.read_bytes()
    text = said("hindsight")
    assert household.read_bytes() == before
    assert f"{BATCHES} batches replayed one step ahead" in text
    held = re.search(
        rf"Of {BATCHES} batches, the 8-in-10 range for jars held (\d+) times \((\d+) %\); "
        r"anything from (\d+) to (\d+) would be normal\.",
        text,
    )
    assert held is not None, text
    times, percent, low, high = map(int, held.groups())
    assert percent == round(100 * times / BATCHES)
    assert (low, high) == stats.binom.interval(0.95, BATCHES, 0.8)
    assert re.search(r"A running average of your own ratios could answer for \d+ of them", text)
    assert "No forecasts kept yet." in text
    assert re.search(r"Typical miss: [\d½¼¾⅓⅔]+ cups?\.", text)
    assert re.search(r"Typical miss: \d+ ml\.", said("hindsight", "--units", "metric"))


def test_of_a_long_record_the_latest_are_looked_back_on_and_all_when_asked(
    answer: Run, said: Run, household: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    whole = answer("hindsight")
    monkeypatch.setattr(trackrecord, "ENOUGH", 6)
    latest, every = answer("hindsight"), answer("hindsight", "--all")
    assert (latest["batches"], latest["looked_at"]) == (BATCHES, 6)
    assert (every["batches"], every["looked_at"]) == (BATCHES, BATCHES)
    assert every["replayed"] == whole["replayed"]
    forecasts = latest["replayed"]["forecasts"]
    assert len({one["batch"] for one in forecasts}) == 6
    assert forecasts == whole["replayed"]["forecasts"][-len(forecasts) :]
    assert f"The latest 6 of {BATCHES} batches (--all for every one) replayed" in said("hindsight")
    assert f"{BATCHES} batches replayed one step ahead" in said("hindsight", "--all")


def test_hindsight_as_json_has_the_documented_fields(answer: Run, household: Path) -> None:
    document = answer("hindsight")
    assert (document["format"], document["version"]) == ("jarcast hindsight", 1)
    assert set(document) == {"format", "version", "batches", "looked_at", "kept", "replayed"}
    replayed = document["replayed"]
    assert [group["stage"] for group in replayed["groups"]][:3] == [
        "latest", "as_bought_g", "trimmed_g",
    ]  # fmt: skip
    latest = replayed["groups"][0]
    assert set(latest) == {"stage", "jars", "brine_ml"}
    assert set(latest["jars"]) == {
        "scored", "held", "short", "typical_miss", "crps", "running_average", "ran_out", "passed",
    }  # fmt: skip
    assert [held["chance"] for held in latest["jars"]["held"]] == [0.5, 0.8, 0.9]
    for held in latest["jars"]["held"]:
        assert 0 <= held["times"] <= held["of"] == BATCHES
        assert 0 <= held["band"][0] <= held["times"] / held["of"] <= held["band"][1] <= 1
    first = replayed["forecasts"][0]
    assert set(first) == {"batch", "stage", "grams", "own_batches", "jars", "brine_ml"}
    assert set(first["jars"]) == {
        "median", "low", "high", "level", "was", "at_least", "held", "crps", "running_average",
    }  # fmt: skip
    assert (first["batch"], first["own_batches"]) == ("23a", 0)
    documented = (Path(__file__).parents[2] / "docs" / "reference" / "json.md").read_text(
        encoding="utf-8"
    )
    section = documented.partition("## `jarcast hindsight`")[2].partition("\n## ")[0]
    names = {*document, *replayed, *latest, *latest["jars"], *latest["jars"]["held"][0]}
    for name in {*names, *first, *first["jars"]} - {"format", "version"}:
        assert f"`{name}`" in section, name


def test_a_mere_look_writes_nothing_and_a_forecast_is_kept_on_request(
    run: Run, said: Run, answer: Run, household: Path
) -> None:
    before = household.read_bytes()
    looked = run(*FORECAST_NOW)
    assert household.read_bytes() == before
    kept = run(*FORECAST_NOW, "--keep", "next")
    assert kept.out == looked.out
    assert "Kept for batch 'next'" in kept.err
    again = run(*FORECAST_NOW, "--keep", " next ", "--json")
    assert "was kept before" in again.err
    assert again.document == answer(*FORECAST_NOW)
    with Ledger.open(household) as opened:
        (stored,) = kept_forecasts(opened)
    assert (stored.batch, stored.known["stage"]) == ("next", "trimmed_g")
    jars = again.document["jars"]
    kept_jars = [stored.answer["jars"][at] for at in (10, 50, 90)]
    assert kept_jars == pytest.approx([jars["low"], jars["median"], jars["high"]], rel=1e-9)
    assert "Kept for batches not recorded yet: next." in said("hindsight")


@pytest.mark.parametrize(("name", "why"), [("23a", "'23a' is already in"), (" ", "name is empty")])
def test_a_forecast_is_not_kept_for_a_batch_that_is_there_or_has_no_name(
    run: Run, household: Path, name: str, why: str
) -> None:
    before = household.read_bytes()
    ran = run(*FORECAST_NOW, "--keep", name)
    assert (ran.code, ran.out) == (1, "")
    assert why in ran.err
    assert household.read_bytes() == before


def test_recording_the_batch_says_how_its_kept_forecast_did(
    run: Run, said: Run, answer: Run, household: Path
) -> None:
    run(*FORECAST_NOW, "--keep", "next")
    with Ledger.open(household) as opened:
        (stored,) = kept_forecasts(opened)
    middle = round(2 * stored.answer["jars"][50]) / 2
    text = said(*RECORD, "--jars", str(middle), "--brine-made", "24 cups", "--brine-left", "1 cup")
    assert "Kept forecast from 6 lb trimmed:" in text
    assert "came (inside)" in text
    assert "used (outside)" in text
    kept = answer("hindsight")["kept"]
    (one,) = kept["forecasts"]
    assert (one["batch"], one["jars"]["was"], one["jars"]["held"]) == ("next", middle, True)
    assert one["brine_ml"]["was"] == pytest.approx(23 * CUP_ML)
    assert kept["waiting"] == []
    text = said("hindsight")
    assert "1 forecast that you kept" in text
    assert "Of 1 batch, the 8-in-10 range for jars held 1 time (100 %): too few to judge" in text


def test_recording_another_weight_than_was_forecast_says_that_it_is_not_scored(
    run: Run, said: Run, household: Path
) -> None:
    run(*FORECAST, "--trimmed", "8 lb", "--keep", "next")
    text = said(*RECORD, "--jars", "9")
    assert "Kept forecast from 8 lb trimmed not scored: a different weight was put up" in text
    assert "Not scored, 1 forecast: a different weight was put up" in said("hindsight")


def test_recording_as_json_holds_the_kept_forecasts(run: Run, answer: Run, household: Path) -> None:
    run(*FORECAST_NOW, "--keep", "next")
    first = answer(*RECORD, "--jars", "9")
    assert [one["batch"] for one in first["kept_forecasts"]] == ["next"]
    assert answer(*RECORD, "--jars", "9")["kept_forecasts"] == []  # nothing was added


def test_a_batch_without_a_kept_forecast_is_recorded_without_a_word_of_it(said: Run) -> None:
    assert "forecast" not in said(*RECORD, "--jars", "9")


def test_ranges_that_held_too_seldom_or_too_often_are_called_so() -> None:
    # Of 40 at 0.8 chance alone gives 27 to 37: the central 95 % of the binomial.
    assert stats.binom.interval(0.95, 40, 0.8) == (27, 37)
    for times, verdict in [
        (26, "too narrow for you."),
        (27, "would be normal."),
        (37, "would be normal."),
        (38, "wider than they need to be."),
    ]:
        held = tuple(Frequency(level, times, 40) for level in (0.5, 0.8, 0.9))
        nothing = Frequency(0.05, 0, 0)
        jars = Tally(40, held, nothing, 0.5, 0.4, Beside(30, 0.7, 0.52), 0, 0)
        brine = Tally(0, (), nothing, None, None, None, 0, 0)
        record = TrackRecord((), (), (), (Group("latest", jars, brine),))
        found = Hindsight(40, 40, TrackRecord((), (), (), ()), record)
        lines = " ".join(hindsight_text(found, Units.US).split())
        assert f"for jars held {times} times ({100 * times / 40:.0f} %)" in lines
        assert f"{verdict} Typical miss: 0.5 jars." in lines
        assert "its typical miss there is 0.7 jars, against 0.5 jars here." in lines
        assert "brine held" not in lines


# Progress, and stopping


class Terminal:
    """A standard error that is, or is not, a terminal."""

    def __init__(self, is_terminal: bool) -> None:
        self.text = ""
        self._is_terminal = is_terminal

    def isatty(self) -> bool:
        return self._is_terminal

    def write(self, text: str) -> None:
        self.text += text

    def flush(self) -> None:
        """Nothing is held back."""


def watched(monkeypatch: pytest.MonkeyPatch, seconds: list[float], *, terminal: bool) -> str:
    """What is shown when a step is done at each of these seconds."""
    stream, clock = Terminal(terminal), iter([0.0, *seconds])
    monkeypatch.setattr("jarcast.cli.progress.sys.stderr", stream)
    monkeypatch.setattr("jarcast.cli.progress.time.monotonic", lambda: next(clock))
    with Progress("looking back") as progress:
        for done in range(1, len(seconds) + 1):
            progress(done, len(seconds))
    return stream.text


def test_progress_is_shown_after_a_second_on_a_terminal_and_taken_away(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    shown = watched(monkeypatch, [0.4, 0.9, 1.2, 1.25, 2.0], terminal=True)
    assert re.findall(r"(\d) of 5", shown) == ["3", "5"]
    assert re.search(r"\r +\r$", shown)


def test_quick_work_and_a_pipe_are_left_in_peace(monkeypatch: pytest.MonkeyPatch) -> None:
    assert watched(monkeypatch, [0.4, 0.9], terminal=True) == ""
    assert watched(monkeypatch, [0.4, 1.2, 5.0], terminal=False) == ""


@pytest.mark.skipif(os.name != "posix", reason="process groups and pseudo-terminals are POSIX's")
@pytest.mark.xdist_group("alone")
@pytest.mark.parametrize("how", [signal.SIGINT, signal.SIGTERM])
def test_stopping_a_long_replay_ends_in_one_sentence(ledger: Path, how: signal.Signals) -> None:
    with Ledger.open(ledger, writing=True) as opened:
        opened.add(demo_entries(12), "import")
    ours, theirs = os.openpty()
    typed = [sys.executable, "-m", "jarcast", "hindsight"]
    with subprocess.Popen(
        typed, stdout=subprocess.PIPE, stderr=theirs, start_new_session=True
    ) as process:
        os.close(theirs)
        seen = b""
        until = time.monotonic() + 60
        while b"looking back [" not in seen and time.monotonic() < until:
            seen += os.read(ours, 4096)
        if how is signal.SIGINT:
            os.killpg(process.pid, how)  # as Ctrl-C does: to the workers as well
        else:
            process.send_signal(how)
        answered = process.communicate(timeout=60)[0]
    os.set_blocking(ours, False)
    try:
        while more := os.read(ours, 4096):
            seen += more
    except OSError:  # the other end is closed
        pass
    os.close(ours)
    assert answered == b""
    assert process.returncode == 1
    last = seen.decode().replace("\r\n", "\n").rsplit("\r", 1)[-1]
    assert last == "jarcast: stopped; nothing half-done was written\n"


def test_a_forecast_kept_for_a_jar_of_ones_own_is_scored(run: Run) -> None:
    run("kitchen", "jars", "add", "crock", "--water", "900 g")
    run(*FORECAST_NOW, "--jar", "crock", "--keep", "next")
    typed = ("--produce", "carrot", "--cut", "sticks", "--trimmed", "6 lb", "--jars", "4")
    ran = run("record", "--batch", "next", *typed, "--jar", "crock")
    assert (ran.code, "this should not have happened" in ran.err) == (0, False)
    assert len(run("hindsight", "--json").document["kept"]["forecasts"]) == 1
