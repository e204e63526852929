"""Numbers as they are said, written as they are reckoned."""

import pytest

from jarcast.notebook.spoken import in_digits


@pytest.mark.parametrize(
    ("said", "reckoned"),
    [
        ("six and a half pounds", "6 1/2 pounds"),
        ("a pound and a half", "1 1/2 pound"),
        ("two and three quarters cups left", "2 3/4 cups left"),
        ("a quart and a half of brine", "1 1/2 quart of brine"),
        ("half cup left", "1/2 cup left"),
        ("three-quarters cup", "3/4 cup"),
        ("two thirds of a cup", "2/3 cup"),
        ("quarter cup left", "1/4 cup left"),
        ("twenty four pints", "twenty-four pints"),
        ("2x 3 lb bags", "6 lb bags"),
        ("3 lb x 2", "6 lb"),
        ("two 5-lb bags", "10 lb bags"),
        ("3 sacks of 2.5 kg each", "7.5 kg"),
        ("a 25 lb sack", "25 lb sack"),
        ("a dozen pts", "12 pts"),
        ("half a dozen wide quarts", "6 wide quarts"),
        ("half gallon of brine", "1/2 gal of brine"),
    ],
)
def test_a_number_in_words_is_written_in_digits(said: str, reckoned: str) -> None:
    assert in_digits(said)[0].strip() == reckoned


@pytest.mark.parametrize(
    "text",
    [
        "4 pts and a half pint",  # two jars, not four pints and a half
        "2 half pound bags",
        "a pint and a half",  # a sort of jar
        "half pint",
        "half bushel",
        "6 x 16 oz jars",
        "6 x 1 pint",
        "2 heads 5 lb 8 oz",
        "half-inch slices",
        "beets quartered 6 lb",
        "a dozen peppercorns",
        "3 1/2 lb bag",
    ],
)
def test_names_of_jars_and_other_numbers_stay_as_they_are(text: str) -> None:
    assert in_digits(text) == (text, [])
