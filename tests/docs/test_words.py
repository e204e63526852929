"""Retired words stay away from whatever a user can meet; the list of that leaves nothing out."""

import importlib.util
import re
from pathlib import Path
from typing import Any

import pytest

ROOT = Path(__file__).parents[2]

# What readers stumbled over, and what is said now: two words for one thing, or a translation.
RETIRED = {
    r"have ready \{?[\w.{}]* ?jars and as many": "Set out 13 jars and lids",
    r"of 100 such batches": "batches in 100",
    r"\brests on\b": "based on",
    r"that it runs short": "of running short",
    r"limited by the recipe's proportion": "raised to the recipe's own amount",
    r"no recipe card was named": "no recipe named",
    r"what you put up is for the refrigerator": "keep these jars in the refrigerator",
    r"cured or not is left open": "salted or not? both are allowed for",
    r"by the printed yield": "the recipe's own yield",
    r"each value is the middle": "best estimate, then its 8-in-10 range",
    r"nothing is known of your hand": "forecasts use published yields",
    r"\d x too (?:much|little)|\} x \{": "about twice too high",
    r"look odd beside": "please check these",
    r"by chance alone": "would be normal",
    r"order .{0,40} would have been short": "you would have run short",
    r"came \(inside\)": "you filled 8½, inside",
    r"say it to have it otherwise": "change with --pack or --jar",
    r"what is to buy, each with": "shopping list",
    r"in the middle \{?.{0,30} come of it": "most likely about 34½",
    r"no number of jars that can be": "enter at least 1 jar",
    r"a chance from .{0,30} is due": "must be 0.001 to 0.999",
    r"stands, and counts": "in use",
    r"be asked for a batch": "enter a batch by answering questions",
    r"stand by odd values": "confirm odd-looking values",
    r"keep it for the batch of this name": "save this forecast under the batch's name",
    r"draw it into this file": "also save a chart",
    r"the last one as its part": "last jar half full? write ½",
    r"range, and what (?:came|went)": "forecast and filled",
    r"as often as it says": "promised",
    r"lost in the pot, a batch": "left in the pot, per batch",
    r"once in twenty|80 times in 100": "1 chance in 20, 8 times in 10",
}


def _script() -> Any:
    spec = importlib.util.spec_from_file_location("list_words", ROOT / "docs" / "list_words.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


LISTED = list(_script().words())


@pytest.mark.parametrize("retired", RETIRED)
def test_a_retired_word_is_said_nowhere(retired: str) -> None:
    found = re.compile(retired, re.IGNORECASE)
    said = [f"{file}:{line}: {text}" for file, line, text in LISTED if found.search(text)]
    assert said == [], f"say it as in: {RETIRED[retired]}"


def test_no_words_are_said_twice_running() -> None:
    # "write it like it like": two words or more, so that names such as chow chow stay.
    twice = re.compile(r"\b([a-z]+(?: [a-z]+){1,3}) \1\b")
    said = [f"{file}:{line}: {text}" for file, line, text in LISTED]
    examples = re.compile(r"\bjarcast [a-z]+ jarcast [a-z]+\b")  # commands, one after another
    assert [one for one in said if twice.search(examples.sub("", one))] == []


def test_what_is_said_is_listed() -> None:
    """Of each kind one: an answer, help, a refusal in two pieces, a page's words, its labels."""
    script = _script()
    code = '''"""No word of it."""
def show(n):
    """Help of a command."""
    print(f"Set out {n} jars and lids")
    raise ValueError("ask for more than " "nothing at all")
'''
    said = [text for _, _, text in script.in_module("cli/x.py", code)]
    assert sorted(said) == [
        "Help of a command.",
        "Set out {...} jars and lids",
        "ask for more than nothing at all",
    ]
    page = '<p class="told">How many <b>sealed</b>?</p><input aria-label="Weight, as bought">'
    heard = [text for _, _, text in script.in_page("x.html", page)]
    assert heard == ["Weight, as bought", "How many sealed ?"]
    files = {file.partition("/")[0] for file, _, _ in LISTED}
    assert {"cli", "views", "page", "ledger", "recipes", "forecast"} <= files
