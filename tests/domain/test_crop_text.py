"""Crops as people name them: cuts told apart, slips of the pen known, other produce left alone."""

import itertools

import pytest

from jarcast.domain.crop_text import near_name, near_pack, read_crop, slips_between, vocabulary
from jarcast.domain.names import pack_key, produce_key
from jarcast.errors import BatchError
from jarcast.learning.model.beliefs import starting_beliefs


def test_the_vocabulary_holds_all_that_is_published() -> None:
    parts = {part for key in starting_beliefs().produce for part in key.split(" + ")}
    assert parts <= vocabulary()


@pytest.mark.parametrize(
    ("typed", "crop"),
    [
        ("cauliflower florets", ("cauliflower", "florets")),
        ("Shredded green cabbage", ("cabbage", "shredded")),
        ("carrot sticks", ("carrot", "sticks")),
        ("pickling cucumber spears", ("cucumber", "spears")),
        ("cucumbers cut into chips", ("cucumber", "slices")),
        ("dill spears", ("cucumber", "spears")),
        ("dills", ("cucumber", "spears")),
        ("dill chips", ("cucumber", "slices")),
        ("whole okra", ("okra", "whole")),
    ],
)
def test_a_cut_said_with_the_produce_is_told_apart(typed: str, crop: tuple[str, str]) -> None:
    assert read_crop(typed) == crop
    assert read_crop(typed, crop[1]) == crop


@pytest.mark.parametrize(
    "typed",
    [
        "dill", "garlic cloves", "corn kernels", "carrots", "half sours", "sea bean strips",
        "bread and butter chips", "florets", "",
    ],
)  # fmt: skip
def test_what_names_no_known_produce_and_cut_stays_as_it_is(typed: str) -> None:
    assert read_crop(typed, "") == (typed, "")


def test_two_cuts_are_refused_and_both_are_named() -> None:
    with pytest.raises(BatchError, match=r"'carrot sticks' says sticks, and cut says 'rings'"):
        read_crop("carrot sticks", "rings")


@pytest.mark.parametrize(
    ("typed", "meant"),
    [
        ("califlower", "cauliflower"), ("Cauliflour", "cauliflower"), ("cucmber", "cucumber"),
        ("cabage", "cabbage"), ("carot", "carrot"), ("brocolli", "broccoli"),
        ("zuchinni", "zucchini"), ("jalepenos", "jalapeno"), ("onoin", "onion"),
        ("beats", "beet"), ("ocra", "okra"),
        ("raddish", "radish"), ("kolrabi", "kohlrabi"), ("cauli flower", "cauliflower"),
        ("brusselsprouts", "brussels sprout"), ("bell peper", "bell pepper"),
        ("green beens", "green bean"), ("courgete", "courgette"),
        ("califlower + carrots", "cauliflower + carrot"),
    ],
)  # fmt: skip
def test_a_slip_of_the_pen_is_known(typed: str, meant: str) -> None:
    assert produce_key(near_name(typed)) == produce_key(meant)


# Ordinary produce that nobody has published yields of: every one is meant as it stands.
OTHER = [
    "apple",
    "pear",
    "peach",
    "plum",
    "cherry",
    "grape",
    "mango",
    "lemon",
    "lime",
    "orange",
    "fig",
    "kumquat",
    "quince",
    "cranberry",
    "rhubarb",
    "chard",
    "kale",
    "collard",
    "bok choy",
    "arugula",
    "endive",
    "radicchio",
    "artichoke",
    "sunchoke",
    "lotus root",
    "burdock",
    "salsify",
    "shallot",
    "chive",
    "ramp",
    "fiddlehead",
    "garlic scape",
    "nasturtium",
    "samphire",
    "sea bean",
    "fava bean",
    "broad bean",
    "soybean",
    "bean sprout",
    "bamboo shoot",
    "cherry tomato",
    "purslane",
    "chayote",
    "bitter melon",
    "cantaloupe",
    "melon",
    "celtuce",
    "lettuce",
    "cress",
    "horseradish",
    "turmeric",
    "grapefruit",
    "apricot",
    "persimmon",
    "papaya",
    "pepper",
    "poblano",
    "habanero",
    "parsley",
    "chicory",
    "savoy cabbage",
    "marrow",
    "plantain",
    "lentil",
    "caper",
    "carob",
    "olive",
    "banana",
    "beet green",
    "pea shoot",
    "black bean",
    "navy bean",
    "kidney bean",
    "mung bean",
    "snow pea",
    "wild leek",
    "dill",
    "mint",
    "nopal",
    "tamarillo",
    "cucamelon",
    "romanesco",
    "broccolini",
    "celery leaf",
    "peanut",
    "walnut",
    "taro",
    "yuca",
    "kiwi",
    "nori",
    "sage",
    "rice",
]


@pytest.mark.parametrize("name", OTHER)
def test_other_produce_is_taken_for_no_slip(name: str) -> None:
    assert near_name(name) == ""


def test_no_known_name_is_near_another_that_is_another_produce() -> None:
    for name, other in itertools.combinations(sorted(vocabulary()), 2):
        if produce_key(name) != produce_key(other):
            assert slips_between(name, other) is None, (name, other)


def test_a_name_of_ones_own_is_known_and_may_be_meant() -> None:
    own = frozenset({"califlower", "garlic scape"})
    assert near_name("califlower", own) == ""
    assert near_name("garlic scpaes", own) == "garlic scape"


@pytest.mark.parametrize("typed", ["kirbys", "picklers", "cucs", "cukes"])
def test_what_picklers_call_cucumbers_are_cucumbers(typed: str) -> None:
    assert produce_key(typed) == "cucumber"  # common practice, no source


@pytest.mark.parametrize(
    ("typed", "meant"),
    [
        ("rwa", "raw"), ("rwa pack", "raw"), ("Raw packd", "raw"), ("hott", "hot"), ("ht", "hot"),
        ("coold", "raw"), ("frehs", "raw"), ("boild", "hot"), ("coked", "hot"),
        # As they are meant, and kinds of one's own.
        ("raw", ""), ("Hot pack", ""), ("cold", ""), ("", ""), ("dry", ""), ("vacuum", ""),
        ("wet", ""), ("tight and hot", ""),
    ],
)  # fmt: skip
def test_a_pack_that_is_nearly_raw_or_hot_may_be_meant(typed: str, meant: str) -> None:
    assert near_pack(typed) == meant
    assert near_pack(typed, frozenset({pack_key(typed)})) == ""
