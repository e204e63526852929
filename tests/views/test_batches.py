"""Batches as a table and as JSON, and what does not fit in them."""

import datetime as dt
import json
import shlex
from typing import Any

import pytest
from msgspec.structs import replace

from jarcast.domain.batch import Batch
from jarcast.domain.contradictions import contradictions
from jarcast.domain.fields import COLUMNS
from jarcast.learning.slips import Slip
from jarcast.measures import Units
from jarcast.views.batches import (
    batch_document,
    batches_text,
    flag_words,
    flags_document,
    flags_text,
    slips_document,
    slips_text,
)

ONE = Batch(
    batch="7",
    date=dt.date(2024, 8, 31),
    produce="Carrots",
    cut="Stick",
    jar=("pint-wide", "pint"),
    jars=(5.0, 4.5),
    trimmed_g=2834.9523125,  # 6 lb 4 oz: 100 oz of 28.349523125 g (NIST Handbook 44, App. C)
    brine_made_ml=2365.882365,  # 10 US cups
    brine_left_ml=354.88235475,  # 1 1/2 US cups
)


def changed(**values: Any) -> Batch:
    return replace(ONE, **values)


def cells(line: str) -> list[str]:
    return [cell.strip() for cell in line.split("  ") if cell.strip()]


def test_a_batch_is_one_line_under_its_headings() -> None:
    head, row = batches_text([ONE], Units.US).splitlines()
    assert cells(head) == [
        "date", "batch", "what", "as bought", "trimmed", "cured", "cooked", "jars", "brine used",
    ]  # fmt: skip
    assert cells(row) == [
        "2024-08-31", "7", "carrot, sticks", "-", "6 lb 4 oz", "-", "-", "5 pint-wide + 4.5 pint",
        "8½ cups",
    ]  # fmt: skip
    _, row = batches_text([ONE], Units.METRIC).splitlines()
    assert "2.83 kg" in row
    assert "2.01 l" in row  # 8 1/2 cups are 2011 ml


def test_columns_line_up_whatever_their_length() -> None:
    batches = [ONE, changed(batch="x" * 500), changed(produce="Brussels sprouts, halved " * 9)]
    lines = batches_text(batches, Units.US).splitlines()
    assert len({line.index("6 lb 4 oz") for line in lines[1:]}) == 1
    assert lines[0].index("trimmed") == lines[1].index("6 lb 4 oz")
    assert not any(line != line.rstrip() for line in lines)


def test_a_name_without_a_letter_stands_as_it_was_typed() -> None:
    assert "---" in batches_text([changed(produce="---")], Units.US)
    assert "🥕" in batches_text([changed(produce="🥕")], Units.US)


def test_brine_that_was_not_written_down_or_cannot_be_is_a_dash() -> None:
    for batch in (changed(brine_left_ml=None), changed(brine_made_ml=100.0)):
        assert batches_text([batch], Units.US).endswith("-")


def test_json_has_every_column_and_null_for_what_was_not_written_down() -> None:
    document = batch_document(ONE)
    assert tuple(document) == COLUMNS
    assert document["date"] == "2024-08-31"
    assert document["jar"] == "pint-wide + pint"
    assert document["jars"] == "5 + 4.5"
    assert document["trimmed_g"] == 2834.9523125
    unsaid = [column for column, value in document.items() if value is None]
    assert {"pack", "as_bought_g", "cure_hours", "sealed", "note"} <= set(unsaid)
    assert json.loads(json.dumps(document, allow_nan=False)) == document


def test_every_contradiction_is_named_with_its_batch() -> None:
    # More brine left than was made, and more weight after trimming than before.
    batch = changed(brine_left_ml=3000.0, as_bought_g=1000.0, batch="odd\x1bone")
    flags = [(batch.batch, flag) for flag in contradictions(batch)]
    assert len(flags) == 2
    head, *lines = flags_text(flags).splitlines()
    assert "nothing is learned" in head
    assert "until you mend it" in head
    for line, (_, flag) in zip(lines, flags, strict=True):
        assert line == f"  odd\ufffdone: {flag.message}"
    for told, (name, flag) in zip(flags_document(flags), flags, strict=True):
        assert told == {"batch": name, "columns": list(flag.columns), "message": flag.message}


def test_a_contradiction_is_told_in_the_kitchen_s_units() -> None:
    # 2 lb and 4 lb 8 oz of 453.59237 g; 10 and 12 US cups of 236.5882365 ml (NIST Handbook 44).
    batch = changed(
        as_bought_g=2 * 453.59237, trimmed_g=4.5 * 453.59237, brine_left_ml=12 * 236.5882365
    )
    heavier, swapped = contradictions(batch)
    assert flag_words(heavier, Units.US).startswith("trimmed 4 lb 8 oz is heavier than as bought 2")
    assert flag_words(heavier, Units.METRIC).startswith("trimmed 2.04 kg is heavier than as bought")
    assert flag_words(swapped, Units.US).startswith("more brine left (12 cups) than made (10 cups)")
    assert flag_words(swapped, Units.METRIC).startswith("more brine left (2.84 l) than made (2.37")
    said = flags_text([(batch.batch, heavier)], Units.US)
    assert flag_words(heavier, Units.US) in said
    # JSON says the same to every kitchen.
    assert "2041 g is heavier than as bought 907 g" in flag_words(heavier, None) == heavier.message


def slip(**values: Any) -> Slip:
    plain: dict[str, Any] = {
        "batch": "25e", "column": "trimmed_g", "others": (), "factor": 2.2, "chance": 0.9,
        "guess": "pounds typed as kilograms?",
    }  # fmt: skip
    return Slip(**{**plain, **values})


def test_a_value_that_looks_odd_is_named_with_the_two_ways_to_go_on() -> None:
    *_, said, mend, right = slips_text([slip()]).splitlines()
    assert (
        said == "  25e: trimmed weight looks about 2.2 times too high: pounds typed as kilograms?"
    )
    assert mend.endswith(' jarcast amend "25e" trimmed="..."')
    assert right.endswith(' jarcast amend "25e" --as-is trimmed')


@pytest.mark.parametrize(
    ("factor", "words"), [(1.2, "20 % too high"), (0.8, "20 % too low"), (1.002, "1 % too high")]
)
def test_less_than_half_as_much_again_is_said_in_per_cent(factor: float, words: str) -> None:
    *_, said, _, _ = slips_text([slip(factor=factor, guess="")]).splitlines()
    assert said == f"  25e: trimmed weight looks about {words}"


def test_too_little_and_what_else_it_may_be_are_said() -> None:
    odd = slip(column="brine_left_ml", factor=0.25, guess="", others=("brine_made_ml", "jars"))
    *_, said, mend, _ = slips_text([odd]).splitlines()
    assert (
        said
        == "  25e: brine left looks about 4.0 times too low (or else brine made, number of jars)"
    )
    assert 'brine_left="..."' in mend


@pytest.mark.parametrize("name", ['say "dill"', "5 $ a pound", "it's", "hot!", "a\\b", "two words"])
def test_a_command_to_copy_names_the_batch_as_a_shell_reads_it(name: str) -> None:
    # The shell's own rules of quoting: POSIX.1-2017, 2.2; Python's shlex follows them.
    *_, right = slips_text([slip(batch=name)]).splitlines()
    command = right.partition("jarcast ")[2]
    assert shlex.split(command) == ["amend", name, "--as-is", "trimmed"]


def test_slips_for_json_are_what_was_found() -> None:
    assert slips_document([slip(others=("jars",))]) == [
        {
            "batch": "25e", "column": "trimmed_g", "or_else": ["jars"], "factor": 2.2,
            "chance": 0.9, "guess": "pounds typed as kilograms?",
        }
    ]  # fmt: skip


def test_where_all_fits_nothing_is_said() -> None:
    assert flags_text([]) == ""
    assert flags_document([]) == []
    assert slips_text([]) == ""
    assert slips_document([]) == []
