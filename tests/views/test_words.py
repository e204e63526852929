"""Numbers, jars and crops in words; and texts that no terminal minds."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rich.cells import cell_len

from jarcast.domain.jars import SHELF, jar_key
from jarcast.views.words import (
    between,
    columns,
    counted,
    crop_words,
    filled_words,
    halves,
    jar_words,
    padded,
    plain,
    shortened,
    times_in,
    wrapped,
)


@pytest.mark.parametrize(
    ("count", "due"),
    [
        (0.0, "0"),
        (0.24, "0"),
        (0.26, "½"),
        (0.5, "½"),
        (1.0, "1"),
        (7.5, "7½"),  # 'seven full and a half'
        (9.76, "10"),
        (100.5, "100½"),
    ],
)
def test_jars_are_told_to_the_nearest_half(count: float, due: str) -> None:
    assert halves(count) == due


@given(st.floats(min_value=0.0, max_value=1e6))
def test_a_count_told_in_halves_is_within_a_quarter_jar(count: float) -> None:
    shown = halves(count)
    whole, half = shown.removesuffix("½"), 0.5 if shown.endswith("½") else 0.0
    assert abs(float(whole or 0) + half - count) <= 0.25


@pytest.mark.parametrize(
    ("level", "due"),
    [
        (0.8, "8 times in 10"),
        (0.5, "5 times in 10"),
        (0.95, "19 times in 20"),
        (0.99, "99 times in 100"),
        (0.125, "12.5 times in 100"),
    ],
)
def test_a_chance_is_told_as_times_in_so_many(level: float, due: str) -> None:
    assert times_in(level) == due


@given(st.floats(min_value=1e-3, max_value=1.0 - 1e-3))
def test_the_words_for_a_chance_mean_that_chance(level: float) -> None:
    times, _, _, out_of = times_in(level).split()
    assert float(times) / float(out_of) == pytest.approx(level, rel=1e-3)


def test_every_jar_has_words_in_one_and_in_many() -> None:
    for key in SHELF:
        one, many = jar_words(key, 1), jar_words(key, 5)
        noun = "jar" if " of " in one else one  # 'jars of 500 ml', 'pints', "'my crock' jars"
        assert many == one.replace(noun, f"{noun}s", 1)
        assert ("wide-mouth" in one) is key.endswith("-wide")
    assert jar_words("pint-wide", 3) == "wide-mouth pints"
    assert jar_words("my crock", 3) == "'my crock' jars"


def test_a_crop_is_told_with_what_is_known_of_it() -> None:
    assert crop_words("carrot", "sticks", "raw") == "carrot, sticks, raw pack"
    assert crop_words("carrot", "", "hot") == "carrot, hot pack"
    assert crop_words("carrot", "", "") == "carrot"


def test_one_and_many() -> None:
    assert counted(1, "batch", "batches") == "1 batch"
    assert counted(0, "batch", "batches") == "0 batches"
    assert counted(2.5, "jar", "jars") == "2.5 jars"


# Texts for a terminal

_text = st.text(st.characters() | st.sampled_from("\x1b\n\r\t\b\x9b\u202e\u200d🥕大e\u0301"))


@given(_text)
def test_no_text_moves_the_cursor_or_turns_the_line(text: str) -> None:
    shown = plain(text)
    assert len(shown) == len(text)
    # U+200C and U+200D only join or part the letters beside them (Unicode Standard, 23.2).
    assert shown.replace("\u200c", "").replace("\u200d", "").isprintable()
    assert all(now == then for now, then in zip(shown, text, strict=True) if then.isprintable())


def test_what_steers_a_terminal_becomes_a_mark() -> None:
    # ECMA-48: ESC [ and its one-byte form 9B begin a control sequence, BEL, BS, CR move or ring.
    for sign in "\x1b\x9b\a\b\r\n\t\x7f\u202e\u2066\u2028":
        assert plain(f"a{sign}b") == "a\ufffdb"
    assert plain("גזר 🥕 大根 जार e\u0301 [b]") == "גזר 🥕 大根 जार e\u0301 [b]"


@given(
    st.text(st.characters(exclude_categories=["Cs", "Cc", "Cf"]), max_size=20), st.integers(4, 9)
)
def test_a_shortened_text_is_no_longer_than_asked_and_marked(text: str, longest: int) -> None:
    shown = shortened(text, longest)
    assert len(shown) <= longest
    assert shown == plain(text) or shown.endswith("...")


@pytest.mark.parametrize(
    "text",
    ["carrot", "", "大根の漬物", "ｗｉｄｅ", "גזר", "🥕🥒", "e\u0301te\u0301", "½ qt", "한국"],
)
def test_columns_are_those_a_reference_library_counts(text: str) -> None:
    assert columns(text) == cell_len(text)
    assert cell_len(padded(text, 20)) == 20


def test_a_paragraph_is_broken_into_lines_that_fit() -> None:
    text = "Brine used, with what stays in the pot: about 8 1/2 cups. " * 5
    lines = wrapped(text).splitlines()
    assert max(len(line) for line in lines) <= 78
    assert " ".join(lines) == text.strip()
    assert wrapped("") == ""


def test_an_option_to_type_is_not_broken() -> None:
    for before in range(60, 80):
        assert "--cure-hours" in wrapped("x" * before + " --cure-hours 0 means not")


def test_a_range_whose_ends_read_the_same_is_not_told() -> None:
    assert between("8", "11", 0.8) == ", 8 times in 10 between 8 and 11"
    assert between("14", "14", 0.8) == ""


def test_no_word_of_a_jar_begins_with_a_figure_that_runs_into_its_count() -> None:
    # '13 500 ml jars' is 13,500 ml to whoever reads it.
    for key in SHELF:
        for count in (1, 5):
            assert not jar_words(key, count)[0].isdigit(), key
            assert jar_key(jar_words(key, count)) == key  # and it can be typed as it is said
    filled = filled_words([(6.0, "1l"), (13.0, "500ml-wide")])
    assert filled == "6 jars of 1 l + 13 wide-mouth jars of 500 ml"
