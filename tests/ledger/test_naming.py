"""Which batch is meant by a name that was typed."""

import datetime as dt
from collections.abc import Iterator
from pathlib import Path

import pytest

from jarcast.domain.batch import Batch
from jarcast.errors import BatchError
from jarcast.ledger import Entry, Ledger
from jarcast.ledger.annotations import withdraw, withdrawn
from jarcast.ledger.steps import begin
from jarcast.ledger.whole_names import fitting, in_one_line, standing_names, whole_name

NAMES = ("carrots", "Carrots 3", "okra late", "okra  Early")


@pytest.fixture
def ledger(tmp_path: Path) -> Iterator[Ledger]:
    """Four batches, one of them withdrawn, and one that is open."""
    day = dt.date(2024, 8, 31)
    with Ledger.open(tmp_path / "ledger.sqlite3", writing=True) as opened:
        batches = (
            Batch(batch=name, date=day, produce="carrot", jar=("pint",), jars=(9.0,))
            for name in NAMES
        )
        opened.add([Entry(batch) for batch in batches], "import")
        withdraw(opened, "okra late")
        begin(opened, "beets", {"produce": "beet"})
        yield opened


@pytest.mark.parametrize(
    ("typed", "meant"),
    [
        ("carrots", "carrots"),  # as it stands, though another begins so
        ("CARROTS", "carrots"),
        ("carrots  3", "Carrots 3"),
        ("3", "Carrots 3"),
        (" Okra early ", "okra  Early"),
        ("beet", "beets"),
        ("nobody", "nobody"),
        ("", ""),
    ],
)
def test_case_and_spaces_are_forgiven_and_a_part_will_do(
    ledger: Ledger, typed: str, meant: str
) -> None:
    assert whole_name(ledger, typed, standing_names(ledger)) == meant


def test_those_it_is_looked_for_among_come_first(ledger: Ledger) -> None:
    assert whole_name(ledger, "okra", standing_names(ledger)) == "okra  Early"
    assert whole_name(ledger, "okra", withdrawn(ledger)) == "okra late"
    assert whole_name(ledger, "beets", standing_names(ledger)) == "beets"


def test_where_several_answer_they_are_named(ledger: Ledger) -> None:
    with pytest.raises(BatchError, match="'okra' could be any of: 'okra  Early', 'okra late'; say"):
        whole_name(ledger, "okra")


def test_the_beginning_of_a_name_comes_before_its_middle() -> None:
    assert fitting(["late okra", "okra"], "OK") == ["okra"]
    assert fitting(["late okra", "early okra"], "okra") == ["late okra", "early okra"]


def test_many_names_are_not_all_listed() -> None:
    text = in_one_line([f"c{number}" for number in range(100)])
    assert text.endswith("'c11' and 88 more")
    assert len(in_one_line(["c" * 500])) < 70
