"""What was entered of a batch, in the kitchen's units and as JSON."""

import datetime as dt
import json
import time
from collections.abc import Iterator

import pytest

from jarcast.domain.events import Change, Event
from jarcast.measures import Units
from jarcast.views.history import history_document, history_text

AT = dt.datetime(2024, 8, 31, 23, 30, tzinfo=dt.UTC)
# 100 oz of 28.349523125 g and 8 US cups of 236.5882365 ml (NIST Handbook 44, Appendix C).
WEIGHT, VOLUME = "2834.9523125", "1892.705892"
EVENTS = (
    Event(
        "import",
        AT,
        1,
        (
            Change("produce", "", "carrot"),
            Change("trimmed_g", "", WEIGHT, "6 lb 4 oz"),
            Change("brine_made_ml", "", VOLUME, "2 qt"),
            Change("cure_hours", "", "12"),
            Change("headspace_in", "", "0.5"),
            Change("jars", "", "5 + 4.5"),
        ),
    ),
    Event("confirm", AT, 2, (Change("trimmed_g", WEIGHT, WEIGHT),)),
    Event("amend", AT, 3, (Change("trimmed_g", WEIGHT, "2700", "2.7 kg"),)),
    Event("amend", AT, 4, (Change("trimmed_g", "2700", ""),)),
    Event("pack", AT, 5, (Change("jars_so_far", "3", "5"), Change("pot_left_ml", "", VOLUME))),
    Event("withdraw", AT, 6, ()),
)


@pytest.fixture(autouse=True)
def in_new_york(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """Local time four hours behind UTC, all year."""
    monkeypatch.setenv("TZ", "XXX4")
    time.tzset()
    yield
    monkeypatch.undo()
    time.tzset()


def lines(units: Units = Units.US) -> list[str]:
    return history_text("c1", "withdrawn", EVENTS, units).splitlines()


def test_each_event_stands_under_its_local_time_and_its_word() -> None:
    heads = [line for line in lines() if line.startswith("2024")]
    assert heads == [
        f"2024-08-31 19:30  {event.kind}" for event in EVENTS
    ]  # half past eleven at night in UTC


def test_a_value_is_shown_in_the_kitchen_s_units_with_what_was_typed_where_it_differs() -> None:
    said = [" ".join(line.split()) for line in lines()]
    assert "trimmed weight 6 lb 4 oz" in said
    assert "brine made 8 cups (typed '2 qt')" in said
    assert "trimmed weight 6 lb 4 oz -> 5 lb 15 oz (typed '2.7 kg')" in said
    assert "trimmed weight 5 lb 15 oz -> taken away" in said
    assert "trimmed weight 6 lb 4 oz is right" in said
    assert "hours in salt 12 h" in said
    assert "headspace 0.5 in" in said
    assert "jars so far 3 -> 5" in said
    metric = [" ".join(line.split()) for line in lines(Units.METRIC)]
    assert "trimmed weight 2.83 kg -> 2.70 kg (typed '2.7 kg')" in metric
    assert "left in the pot 1.89 l" in metric


def test_where_the_batch_stands_comes_first() -> None:
    assert lines()[0].startswith("c1: withdrawn")
    assert "'jarcast undo'" in lines()[0]
    for standing in ("closed", "open", "dropped"):
        text = history_text("x" * 500, standing, EVENTS, Units.US)
        assert len(text.splitlines()[0]) < 130


def test_what_was_typed_moves_no_cursor_and_fills_no_screen() -> None:
    text = history_text(
        "a\x1bb", "closed", [Event("amend", AT, 1, (Change("note", "", "\x1b[2J" * 99),))], Units.US
    )
    assert "\x1b" not in text
    assert max(map(len, text.splitlines())) < 100


def test_json_has_numbers_for_numbers_and_null_for_none() -> None:
    document = history_document("c1", "closed", EVENTS)
    assert (document["format"], document["version"]) == ("jarcast history", 1)
    assert json.loads(json.dumps(document, allow_nan=False)) == document
    first, _, third, fourth, pack, last = document["events"]
    assert first["at"] == "2024-08-31T23:30:00+00:00"
    by_column = {change["column"]: change for change in first["changes"]}
    assert by_column["trimmed_g"] == {
        "column": "trimmed_g", "before": None, "after": 2834.9523125, "typed": "6 lb 4 oz",
    }  # fmt: skip
    assert by_column["jars"]["after"] == "5 + 4.5"  # as in the batch table
    assert by_column["cure_hours"]["after"] == 12.0
    assert (third["changes"][0]["before"], third["changes"][0]["after"]) == (2834.9523125, 2700.0)
    assert (fourth["changes"][0]["after"], fourth["changes"][0]["typed"]) == (None, None)
    assert pack["changes"][0] == {
        "column": "jars_so_far", "before": 3.0, "after": 5.0, "typed": None,
    }  # fmt: skip
    assert last["changes"] == []
