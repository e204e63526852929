"""An answer for a terminal, laid out anew: sentences whole, tables as tables, numbers apart."""

from collections.abc import Callable
from typing import Any

import pytest

from jarcast.page import screens
from jarcast.page.prose import blocks, in_lines, newest_first
from jarcast.recipes import safety_block, shipped_recipes
from jarcast.views.words import row, wrapped


def test_a_paragraph_that_was_broken_for_a_terminal_is_one_line_again() -> None:
    said = (
        "These do not fit together; they were kept, but nothing is learned from what they touch "
        "until you mend it: more brine left (12 cups) than made (11 cups): the two swapped?"
    )
    assert "\n" in wrapped(said)
    assert in_lines(wrapped(said)) == said


def test_two_sentences_on_lines_of_their_own_stay_apart() -> None:
    assert in_lines("Closed.\nRecorded.") == "Closed.\nRecorded."


@pytest.mark.parametrize("key", sorted(shipped_recipes()))
def test_no_entry_of_a_card_runs_into_the_next(key: str) -> None:
    # Two process times in one line could be taken for one another.
    card = shipped_recipes()[key]
    for jar in card.safety.jars if card.safety is not None else ():
        block = safety_block(card, jar)
        heads = [line.partition(":")[0].strip() for line in block.splitlines() if ": " in line]
        found = [one.text for one in blocks(block)]
        for head in ("process", "headspace", "vinegar", "jars tested"):
            said = sum(1 for text in found if text.startswith(f"{head}:"))
            assert said == sum(1 for one in heads if one == head), (head, found)


def test_a_label_keeps_the_words_that_hang_below_it() -> None:
    said = "About 7 pints, 8 times in 10 between 6 and 8½; the recipe says 7½, for this produce."
    answer = f"{row('JARS', said)}\n{row('SET OUT', '10 jars and lids.')}\n"
    assert answer.count("\n") == 3
    assert [(one.label, one.text) for one in blocks(answer)] == [
        ("JARS", said),
        ("SET OUT", "10 jars and lids."),
    ]


def test_a_table_has_a_value_under_each_heading_and_turns_round_below_them() -> None:
    text = (
        "                       yours                published\n"
        "  left after trimming  76 % (75 to 78 %)    78 % (61 to 88 %)\n"
        "  pack density, g/ml   0.66 (0.62 to 0.70)  0.69 (0.56 to 0.85)\n"
    )
    (table,) = blocks(text)
    assert table.rows[0] == ["", "yours", "published"]
    assert table.rows[2] == ["pack density, g/ml", "0.66 (0.62 to 0.70)", "0.69 (0.56 to 0.85)"]
    (turned,) = newest_first([table])
    assert list(turned.rows) == [table.rows[0], table.rows[2], table.rows[1]]


def test_commands_one_below_the_other_are_no_table() -> None:
    text = (
        "  25e: trimmed weight looks about 2.1 times too high: pounds typed as kilograms?\n"
        '    to mend it:        jarcast amend "25e" trimmed="..."\n'
        '    if it is right:    jarcast amend "25e" --as-is trimmed\n'
    )
    found = blocks(text)
    assert [one.rows for one in found] == [(), (), ()]
    assert found[2].text.endswith('jarcast amend "25e" --as-is trimmed')


def test_batches_are_shown_the_latest_first(device: Any, run: Callable[..., Any]) -> None:
    for day in ("2026-08-01", "2026-08-03"):
        device.commands.run("record", {"produce": "okra", "jar": "pint", "jars": "4", "date": day,
                                       "trimmed": "5 lb", "yes": True})  # fmt: skip
    page = device.get("/before/batches").text
    assert 'data-label="trimmed">5 lb' in page
    assert page.index("2026-08-03") < page.index("2026-08-01")


@pytest.mark.parametrize(
    ("said", "shown"),
    [
        ("packed by 李梅 (--person).", "packed by 李梅 (who packs)."),
        ("or add --as-named to keep the name", "or tick 'It is right' to keep the name"),
        ("all of it, --brine-made '9 cups'", "all of it, all brine made '9 cups'"),
        # a command is typed at the terminal, and is copied whole
        ("weigh one: jarcast kitchen baskets add 'tub' --green-bean '23 lb'", None),
        ("once, and it is remembered: jarcast kitchen --altitude '3000 ft'", None),
        ("Keep one with 'jarcast forecast ... --keep NAME', and", None),
    ],
)  # fmt: skip
def test_options_are_named_as_the_page_names_them_and_commands_stay(
    said: str, shown: str | None
) -> None:
    assert screens.in_page_words(said) == (said if shown is None else shown)
