"""Taking an action back: what each kind leaves, what cannot be taken back, and two terminals."""

import datetime as dt
import random
import subprocess
import sys
from collections.abc import Iterator
from contextlib import suppress
from itertools import permutations
from pathlib import Path
from typing import Any

import pytest
from msgspec.structs import replace

from jarcast.domain.batch import Batch
from jarcast.errors import BatchError
from jarcast.ledger import Entry, Ledger, undoing
from jarcast.ledger.annotations import check_known, confirm, withdraw, withdrawn
from jarcast.ledger.kept_brine import Kept, kept_brine
from jarcast.ledger.kept_forecasts import keep_forecast, kept_forecasts
from jarcast.ledger.own_measures import add_jar, measured_jar, own_jars
from jarcast.ledger.schema import SCHEMA, objects_of
from jarcast.ledger.soundness import problem_of
from jarcast.ledger.steps import (
    StepKind,
    add_step,
    begin,
    close,
    dropped_batches,
    notes_in,
    open_batches,
    steps,
)
from jarcast.ledger.undoing import last_done, root_of, taken_back, undo, undoes
from jarcast.ledger.whole_names import names_taken

ONE = Batch(
    batch="1", date=dt.date(2024, 8, 31), produce="carrot", jar=("pint",), jars=(9.5,),
    trimmed_g=2700.0, recipe="pickled-carrots",
)  # fmt: skip


def like(name: str, **values: Any) -> Entry:
    return Entry(replace(ONE, batch=name, **values))


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "ledger.sqlite3"


@pytest.fixture
def ledger(path: Path) -> Iterator[Ledger]:
    """A ledger that is still sound when a test has done with it."""
    with Ledger.open(path, writing=True) as opened:
        yield opened
        assert problem_of(opened._connection) == ""


def take_back(ledger: Ledger, batch: str | None = None, *, further: bool = False) -> str:
    """Take back the last action; the kind it was of."""
    done = last_done(ledger, batch, further=further)
    undo(ledger, done)
    return done.kind


def state(ledger: Ledger) -> tuple[object, ...]:
    """Everything that stands."""
    return (
        ledger.entries(), open_batches(ledger), dropped_batches(ledger), withdrawn(ledger),
        names_taken(ledger), notes_in(steps(ledger)), own_jars(ledger), ledger.readings(),
        ledger.setting("units"), kept_brine(ledger, "pickled-carrots"), kept_forecasts(ledger),
    )  # fmt: skip


def tall(water_g: float):
    return measured_jar("tall", water_g)


def _packed(ledger: Ledger) -> None:
    add_step(ledger, "open", StepKind.PACK, {"jars": "3"}, {"jars": 3.0, "produce_g": 860.0})


ACTS = {
    "import": lambda ledger: ledger.add([like("a"), like("b")], "import"),
    "record": lambda ledger: ledger.add([like("a")], "record"),
    "amend": lambda ledger: ledger.amend(like("1", trimmed_g=2500.0)),
    "confirm": lambda ledger: confirm(ledger, "1", ["trimmed_g"]),
    "withdraw": lambda ledger: withdraw(ledger, "1"),
    "begin": lambda ledger: begin(ledger, "new", {"produce": "beet", "jar": "pint"}),
    "weigh": lambda ledger: add_step(ledger, "open", StepKind.WEIGH, {"trimmed": "5 lb"}),
    "pack": _packed,
    "close": lambda ledger: close(
        ledger, "open", like("open"), {"jars": "9.5"}, ["trimmed_g"],
        kept=Kept("pickled-carrots", 900.0, "900 ml"),
    ),
    "drop": lambda ledger: add_step(ledger, "open", StepKind.DROP, {}),
    "setting": lambda ledger: ledger.remember("units", "metric"),
    "jar": lambda ledger: add_jar(ledger, tall(430.0), {"water": "430 g"}),
    "forecast": lambda ledger: keep_forecast(ledger, "next", {"trimmed_g": 2000.0}, {"jars": 7}),
}  # fmt: skip


@pytest.fixture
def begun(ledger: Ledger) -> Ledger:
    """A ledger of a batch, an open one, a jar of one's own and remembered units."""
    ledger.add([Entry(ONE)], "record")
    begin(ledger, "open", {"produce": "carrot", "jar": "pint"})
    ledger.remember("units", "us")
    add_jar(ledger, tall(415.0), {"water": "415 g"})
    return ledger


@pytest.mark.parametrize("kind", ACTS)
def test_what_stood_before_stands_again_and_undoing_the_undo_brings_it_back(
    begun: Ledger, kind: str
) -> None:
    before = state(begun)
    ACTS[kind](begun)
    after = state(begun)
    assert after != before
    assert take_back(begun) == kind
    assert state(begun) == before
    assert take_back(begun) == "undo"
    assert state(begun) == after
    assert take_back(begun) == "undo"
    assert state(begun) == before


@pytest.mark.parametrize("kind", ACTS)
def test_what_was_taken_back_can_be_done_anew(begun: Ledger, kind: str) -> None:
    ACTS[kind](begun)
    take_back(begun)
    before = len(undoes(begun))
    ACTS[kind](begun)
    assert take_back(begun) == kind
    assert len(undoes(begun)) == before + 1


def test_nothing_is_deleted(begun: Ledger) -> None:
    begun.amend(like("1", trimmed_g=2500.0))
    take_back(begun)
    assert [one.entry.batch.trimmed_g for one in begun.history("1")] == [2700.0]
    versions = begun.history("1", undone_too=True)
    assert [one.entry.batch.trimmed_g for one in versions] == [2700.0, 2500.0]
    assert len(steps(begun, "open")) == len(steps(begun, "open", undone_too=True))


def test_of_a_batch_that_is_named_the_last_action_on_it_is_taken_back(begun: Ledger) -> None:
    begun.amend(like("1", trimmed_g=2500.0))
    add_step(begun, "open", StepKind.WEIGH, {"trimmed": "5 lb"})
    begun.remember("units", "metric")
    assert take_back(begun, "1") == "amend"
    assert begun.batches() == [ONE]
    assert open_batches(begun)[0].typed["trimmed"] == "5 lb"
    assert begun.setting("units") == "metric"
    assert take_back(begun, "1") == "undo"  # the last action on it is the undo
    assert begun.batches()[0].trimmed_g == 2500.0


def test_further_goes_on_past_undos(ledger: Ledger) -> None:
    for name in ("a", "b", "c"):
        ledger.add([like(name)], "record")
    assert [take_back(ledger, further=True) for _ in range(3)] == ["record"] * 3
    assert ledger.batches() == []
    with pytest.raises(BatchError, match="nothing to take back"):
        last_done(ledger, further=True)


def test_there_is_nothing_to_take_back_in_a_new_ledger_or_of_no_batch(begun: Ledger) -> None:
    with pytest.raises(BatchError, match="there is no batch 'nobody'"):
        last_done(begun, "nobody")
    none = Ledger.open(begun.path.with_name("none.sqlite3"))
    with none, pytest.raises(BatchError, match="nothing to take back"):
        last_done(none)


def test_after_an_import_is_taken_back_the_mended_file_comes_in(ledger: Ledger) -> None:
    ledger.add([like("0")], "record")
    ledger.add([like("a"), like("b")], "import")
    take_back(ledger)
    assert not ledger.knows("a")
    with pytest.raises(BatchError, match="'a' was taken back; 'jarcast undo' brings it back"):
        check_known(ledger, "a")
    mended = [like("new"), like("b", trimmed_g=2600.0), like("a"), like("newer")]
    assert ledger.add(mended, "import").added == ("new", "b", "a", "newer")
    assert ledger.find("b") == mended[1]
    assert [one.batch for one in ledger.batches()] == ["0", "a", "b", "new", "newer"]
    with pytest.raises(BatchError, match="other values"):
        ledger.add([like("b")], "import")
    assert ledger.add(mended, "import").skipped == ("new", "b", "a", "newer")


def test_a_row_that_comes_twice_is_found_by_its_place_whatever_was_taken_back(
    ledger: Ledger,
) -> None:
    ledger.add([like("b"), like("d")], "import")
    take_back(ledger)
    names = ["a", "b", "c", "d", "e"]
    for place, name in enumerate(names):
        rows = [*map(like, names), like(name, trimmed_g=1.0)]
        with suppress(BatchError), ledger.adding("import") as adding:
            for one in rows[:-1]:
                adding.take([one])
            (twice,) = adding.take(rows[-1:]).twice
            assert twice.first == place
            raise BatchError("enough")  # nothing of it is written
        assert ledger.batches() == []


def test_what_later_entries_build_on_is_not_taken_back(ledger: Ledger) -> None:
    ledger.add([like("a"), like("b")], "import")
    ledger.amend(like("b", trimmed_g=2500.0))
    before = state(ledger)
    with pytest.raises(BatchError, match="more was entered since for 'b'"):
        take_back(ledger, "a")
    assert state(ledger) == before
    take_back(ledger, "b")
    take_back(ledger, "a")
    assert ledger.batches() == []


def test_an_import_does_not_come_back_over_the_mended_one(ledger: Ledger) -> None:
    ledger.add([like("a"), like("b")], "import")
    take_back(ledger)
    ledger.add([like("a", trimmed_g=2600.0)], "import")
    with pytest.raises(BatchError, match="more was entered since for 'a'"):
        take_back(ledger, "b")
    assert [one.batch for one in ledger.batches()] == ["a"]


def test_a_jar_that_a_batch_is_in_stays_measured(ledger: Ledger) -> None:
    add_jar(ledger, tall(415.0), {"water": "415 g"})
    measured = last_done(ledger)
    begin(ledger, "open", {"produce": "carrot", "jar": "tall jar"})
    with pytest.raises(BatchError, match="'open' is open in the jar 'tall'"):
        undo(ledger, measured)
    take_back(ledger)
    ledger.add([like("a", jar=("tall",))], "record")
    with pytest.raises(BatchError, match="batches are recorded in the jar 'tall'"):
        undo(ledger, measured)
    take_back(ledger)
    undo(ledger, measured)
    assert own_jars(ledger) == {}
    with pytest.raises(BatchError, match="batches are recorded in the jar 'tall'"):
        take_back(ledger, "a")  # the batch comes back by this, and its jar does not
    assert ledger.batches() == []


def test_kept_brine_that_went_on_is_not_taken_back_from_under_a_batch(ledger: Ledger) -> None:
    for name in ("a", "b"):
        begin(ledger, name, {"produce": "carrot", "recipe": "pickled-carrots"})
    kept = Kept("pickled-carrots", 900.0, "900 ml")
    close(ledger, "a", like("a"), {}, kept=kept)
    add_step(ledger, "b", StepKind.WEIGH, {"note": "kept brine"}, taken=kept)
    with pytest.raises(BatchError, match="has since gone into another batch"):
        take_back(ledger, "a")
    assert [one.batch for one in ledger.batches()] == ["a"]
    take_back(ledger, "b")
    take_back(ledger, "a")
    assert kept_brine(ledger, "pickled-carrots") is None


def test_the_view_and_python_agree_on_what_is_taken_back(ledger: Ledger) -> None:
    """A hundred undos of twenty actions, and of undos of them; seed 7."""
    rng = random.Random(7)  # noqa: S311 - no secret
    ledger.add([like("a")], "record")
    for number in range(20):
        ledger.remember("units", str(number))
    standing = {action for (action,) in ledger.rows("SELECT id FROM action")}
    below: dict[int, int] = {}
    for _ in range(100):
        units = rng.randrange(1, 21)  # an action, or the last undo above it that stands
        above = {
            one
            for one in standing
            if root_of({undo: (of,) for undo, of in below.items()}, one) == units
        }
        target = (
            max(above - {units}, default=units)
            if units not in standing
            else rng.choice([units, max(above)])
        )
        with ledger.writing("undo") as action:
            ledger.execute("INSERT INTO undone (action_id, undoes) VALUES (?, ?)", action, target)
        below[action] = target
        standing |= {action}
        turned = target
        while True:  # by hand: an action stands while no undo of it stands
            undone = any(undo in standing for undo, of in below.items() if of == turned)
            standing = standing - {turned} if undone else standing | {turned}
            if turned not in below:
                break
            turned = below[turned]
    out = {action for (action,) in ledger.rows("SELECT action_id FROM undone_now")}
    assert out == taken_back(undoes(ledger))
    everything = {action for (action,) in ledger.rows("SELECT id FROM action")}
    assert out == everything - standing


UNDO_AT_ONCE = """
import sys
from pathlib import Path
from jarcast.errors import BatchError
from jarcast.ledger import Ledger
from jarcast.ledger.undoing import last_done, undo
with Ledger.open(Path(sys.argv[1])) as ledger:
    done = last_done(ledger)
print("read", flush=True)
sys.stdin.readline()
with Ledger.open(Path(sys.argv[1]), writing=True) as ledger:
    try:
        undo(ledger, done)
        print("done")
    except BatchError as error:
        print(error)
"""


def test_of_two_terminals_that_take_back_the_same_one_is_refused(path: Path) -> None:
    with Ledger.open(path, writing=True) as ledger:
        ledger.add([like("a")], "record")
    both = [
        subprocess.Popen(
            [sys.executable, "-c", UNDO_AT_ONCE, str(path)],
            stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True,
        )
        for _ in range(2)
    ]  # fmt: skip
    for one in both:
        assert one.stdout is not None
        assert one.stdout.readline() == "read\n"
    said = sorted(one.communicate("\n", timeout=60)[0].strip() for one in both)
    assert said[0] == "done"
    assert "taken back at another terminal meanwhile" in said[1]
    with Ledger.open(path) as ledger:
        assert (ledger.batches(), len(undoes(ledger))) == ([], 1)


def test_a_step_that_came_at_another_terminal_keeps_what_it_builds_on(ledger: Ledger) -> None:
    begin(ledger, "c1", {"produce": "carrot"})
    done = last_done(ledger)
    add_step(ledger, "c1", StepKind.WEIGH, {"trimmed": "5 lb"})
    with pytest.raises(BatchError, match="more was entered since for 'c1'"):
        undo(ledger, done)
    assert [one.name for one in open_batches(ledger)] == ["c1"]


def test_what_builds_on_a_step_taken_back_meanwhile_is_refused(ledger: Ledger) -> None:
    begin(ledger, "c1", {"produce": "carrot"})
    add_step(ledger, "c1", StepKind.WEIGH, {"trimmed": "5 lb"})
    read = open_batches(ledger)[0].newest
    take_back(ledger)
    with pytest.raises(BatchError, match="changed at another terminal meanwhile"):
        close(ledger, "c1", like("c1"), {}, after=read)


@pytest.mark.parametrize("kinds", list(permutations(["amend", "weigh", "setting"])))
def test_taking_back_step_by_step_leads_through_every_state_there_was(
    begun: Ledger, kinds: tuple[str, ...]
) -> None:
    states = [state(begun)]
    for kind in kinds:
        ACTS[kind](begun)
        states.append(state(begun))
    for kind, before in zip(reversed(kinds), reversed(states[:-1]), strict=True):
        assert take_back(begun, further=True) == kind
        assert state(begun) == before


def test_an_undo_is_not_taken_back_where_the_same_was_taken_back_anew(ledger: Ledger) -> None:
    ledger.add([like("a")], "record")
    record = last_done(ledger)
    undo(ledger, record)
    take_back(ledger)
    brought_back = last_done(ledger)
    undo(ledger, record)
    with pytest.raises(BatchError, match="taken back again since"):
        undo(ledger, brought_back)
    assert ledger.batches() == []


def test_the_forecast_kept_after_a_step_goes_and_comes_with_it(ledger: Ledger) -> None:
    begin(ledger, "c1", {"produce": "carrot"})
    before = state(ledger)
    add_step(ledger, "c1", StepKind.WEIGH, {"trimmed": "5 lb"})
    keep_forecast(ledger, "c1", {"trimmed_g": 2268.0}, {"jars": 7})
    after = state(ledger)
    assert take_back(ledger) == "weigh"
    assert state(ledger) == before
    assert take_back(ledger) == "undo"
    assert state(ledger) == after
    ledger.remember("units", "metric")
    keep_forecast(ledger, "c1", {"trimmed_g": 2268.0}, {"jars": 8})  # asked for by itself
    assert take_back(ledger) == "forecast"
    assert open_batches(ledger)[0].typed["trimmed"] == "5 lb"


def test_every_table_that_says_something_of_a_batch_is_looked_at_before_an_undo() -> None:
    """Each is named with a batch in `undoing`, or is listed here with the reason it is not."""
    apart = {
        "setting": "no batch's",
        "own_jar": "no batch's",
        "card_text": "no batch's: a card as it stood, found by its digest",
        "undone": "what takes back",
    }
    tables = {
        name
        for (kind, name), sql in objects_of(SCHEMA).items()
        if kind == "table" and "action_id" in sql
    }
    named = {name for name in tables if f"FROM {name}" in undoing._OF_BATCHES}
    assert tables - named == apart.keys()
