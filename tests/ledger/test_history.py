"""Everything that was entered of one batch, in one line of time."""

import datetime as dt
from collections.abc import Iterator
from pathlib import Path

import pytest
from msgspec.structs import replace

from jarcast.app.record import make_entry
from jarcast.domain.batch import Batch
from jarcast.domain.events import Change, Event
from jarcast.errors import BatchError
from jarcast.ledger import Entry, Ledger
from jarcast.ledger.annotations import confirm, withdraw
from jarcast.ledger.history import batch_history
from jarcast.ledger.steps import StepKind, add_step, begin, close
from jarcast.ledger.undoing import last_done, undo

# Factors: NIST Handbook 44, Appendix C.
POUND_G, OUNCE_G, CUP_ML = 453.59237, 28.349523125, 236.5882365
TODAY = dt.date(2024, 8, 31)
ONE = Batch(batch="1", date=TODAY, produce="carrot", jar=("pint",), jars=(9.5,), trimmed_g=2700.0)


@pytest.fixture
def ledger(tmp_path: Path) -> Iterator[Ledger]:
    with Ledger.open(tmp_path / "ledger.sqlite3", writing=True) as opened:
        yield opened


def told(event: Event) -> dict[str, tuple[str, str, str]]:
    """Before, after and typed, by column."""
    return {change.column: (change.before, change.after, change.typed) for change in event.changes}


def test_an_import_an_amendment_and_what_was_said_come_in_order(ledger: Ledger) -> None:
    ledger.add([Entry(ONE, {"trimmed_g": "2.7 kg"}), Entry(_named("other"))], "import")
    confirm(ledger, "1", ["jars", "trimmed_g"])
    ledger.amend(Entry(replace(ONE, trimmed_g=100 * OUNCE_G), {"trimmed_g": "100 oz"}))
    withdraw(ledger, "1")
    undo(ledger, last_done(ledger, "1"))
    ledger.amend(Entry(replace(ONE, trimmed_g=None)))
    found = batch_history(ledger, "1")
    assert [event.kind for event in found] == [
        "import", "confirm", "amend", "withdraw", "undo", "amend",
    ]  # fmt: skip
    order = [event.action for event in found]
    assert order == sorted(set(order))
    assert told(found[0]) == {
        "date": ("", "2024-08-31", ""),
        "produce": ("", "carrot", ""),
        "jar": ("", "pint", ""),
        "jars": ("", "9.5", ""),
        "trimmed_g": ("", "2700", "2.7 kg"),
    }
    assert found[1].changes == (
        Change("jars", "9.5", "9.5"),
        Change("trimmed_g", "2700", "2700"),
    )
    assert told(found[2]) == {"trimmed_g": ("2700", "2834.9523125", "100 oz")}
    assert found[3].changes == found[4].changes == ()
    assert told(found[5]) == {"trimmed_g": ("2834.9523125", "", "")}


def _named(name: str) -> Batch:
    return replace(ONE, batch=name)


def test_the_steps_of_a_batch_lead_to_it_and_closing_tells_only_what_was_new(
    ledger: Ledger,
) -> None:
    first = {"produce": "Carrots", "jar": "pints", "as_bought": "8 lb", "date": "2024-08-31"}
    begin(ledger, "1", {**first, "note": "from the market"})
    add_step(ledger, "1", StepKind.WEIGH, {"trimmed": "3 lb 2 oz + 2 lb 9 oz - 410 g"})
    note = {"jars": "3", "pot_left": "5 cups", "brine_made": "9 cups"}
    read = {"jars": 3.0, "pot_left_ml": 5 * CUP_ML, "brine_made_ml": 9 * CUP_ML}
    add_step(ledger, "1", StepKind.PACK, note, read)
    add_step(ledger, "1", StepKind.PACK, {"jars": "5"}, {**read, "jars": 5.0})
    end = {"jars": "9.5", "brine_left": "1 cup", "note": "a good one"}
    typed = {
        **first, "trimmed": "3 lb 2 oz + 2 lb 9 oz - 410 g", "brine_made": "9 cups",
        "batch": "1", **end, "note": "from the market; a good one",
    }  # fmt: skip
    close(ledger, "1", make_entry(typed, TODAY), end)
    begun, weighed, packed, more, closed = batch_history(ledger, "1")
    kinds = [event.kind for event in (begun, weighed, packed, more, closed)]
    assert kinds == ["begin", "weigh", "pack", "pack", "close"]
    assert told(begun)["as_bought_g"] == ("", "3628.73896", "8 lb")
    # Three pounds two and two pounds nine less a bowl: 91 oz less 410 g.
    grams = float(told(weighed)["trimmed_g"][1])
    assert grams == pytest.approx(91 * OUNCE_G - 410.0)
    assert told(weighed)["trimmed_g"][2] == "3 lb 2 oz + 2 lb 9 oz - 410 g"
    assert told(packed) == {
        "brine_made_ml": ("", "2129.2941285", "9 cups"),
        "jars_so_far": ("", "3", ""),
        "pot_left_ml": ("", "1182.9411825", "5 cups"),
    }
    assert told(more) == {"jars_so_far": ("3", "5", "")}
    assert told(closed) == {
        "jars": ("", "9.5", ""),
        "brine_left_ml": ("", "236.5882365", "1 cup"),
        "note": ("from the market", "from the market; a good one", ""),
    }


def test_a_batch_that_is_open_or_was_dropped_has_its_steps(ledger: Ledger) -> None:
    begin(ledger, "1", {"produce": "carrot", "as_bought": "8 lb"})
    add_step(ledger, "1", StepKind.DROP, {})
    begin(ledger, "1", {"produce": "beet"})
    found = batch_history(ledger, "1")
    assert [event.kind for event in found] == ["begin", "drop", "begin"]
    assert told(found[2]) == {"produce": ("", "beet", "")}  # begun anew, from nothing


def test_a_value_taken_away_in_a_step_is_told(ledger: Ledger) -> None:
    begin(ledger, "1", {"produce": "carrot", "as_bought": "1 lb"})
    add_step(ledger, "1", StepKind.WEIGH, {"as_bought": ""})
    assert told(batch_history(ledger, "1")[1]) == {"as_bought_g": ("453.59237", "", "")}


def test_nothing_is_told_of_a_batch_that_never_was(ledger: Ledger) -> None:
    with pytest.raises(BatchError, match="there is no batch '1'"):
        batch_history(ledger, "1")


def test_what_was_taken_back_is_still_told_and_the_next_change_is_of_what_stood(
    ledger: Ledger,
) -> None:
    ledger.add([Entry(ONE)], "record")
    ledger.amend(Entry(replace(ONE, trimmed_g=2000.0)))
    undo(ledger, last_done(ledger))
    ledger.amend(Entry(replace(ONE, trimmed_g=2500.0)))
    found = batch_history(ledger, "1")
    assert [(event.kind, event.undone) for event in found] == [
        ("record", False), ("amend", True), ("undo", False), ("amend", False),
    ]  # fmt: skip
    assert found[2].undoes == found[1].action
    assert told(found[1]) == {"trimmed_g": ("2700", "2000", "")}
    assert told(found[3]) == {"trimmed_g": ("2700", "2500", "")}  # not from 2000


def test_a_batch_that_was_taken_back_altogether_is_still_told(ledger: Ledger) -> None:
    ledger.add([Entry(ONE)], "record")
    undo(ledger, last_done(ledger))
    assert [(event.kind, event.undone) for event in batch_history(ledger, "1")] == [
        ("record", True), ("undo", False),
    ]  # fmt: skip
