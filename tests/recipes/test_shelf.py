"""Finding cards: shipped ones, one's own, and files that cannot be used."""

import tempfile
from pathlib import Path
from typing import Any

import pytest

from jarcast.errors import RecipeError
from jarcast.recipes import add_card, card_key, card_shelf, own_folder, shipped_recipes

CARD = """\
name = "Turnip sticks with beet"
produce = "turnip"
style = "cover brine"
[tested]
amount = "4 lb"
basis = "prepared"
jar = "pint"
jars = 5
"""


def write(folder: Path, name: str, text: str = CARD) -> Path:
    folder.mkdir(exist_ok=True)
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return path


def test_a_folder_that_is_not_there_holds_no_cards_and_is_not_made(tmp_path: Path) -> None:
    shelf = card_shelf(tmp_path / "none")
    assert set(shelf.shipped) == set(shipped_recipes())
    assert not shelf.own
    assert not (tmp_path / "none").exists()


@pytest.mark.parametrize(
    "name", ["pickled-beets", "Pickled Beets", " pickled_beets ", "PICKLED  BEETS", "beets"]
)
def test_a_card_is_found_by_key_by_name_or_by_a_part_only_it_has(name: str, tmp_path: Path) -> None:
    assert card_shelf(tmp_path).find(name).key == "pickled-beets"


def test_a_part_that_several_cards_have_names_them(tmp_path: Path) -> None:
    with pytest.raises(RecipeError, match=r"could be any of: .*corn-relish.*say which one"):
        card_shelf(tmp_path).find("relish")


@pytest.mark.parametrize("name", ["pickld-beats", "", "?", "x" * 5000])
def test_an_unknown_card_is_answered_in_one_short_sentence(name: str, tmp_path: Path) -> None:
    with pytest.raises(RecipeError) as caught:
        card_shelf(tmp_path).find(name)
    assert "there is no recipe card" in str(caught.value)
    assert len(str(caught.value)) < 250


def test_a_near_miss_names_what_is_near(tmp_path: Path) -> None:
    with pytest.raises(RecipeError, match="near it: pickled-beets"):
        card_shelf(tmp_path).find("pickld-beats")


def test_a_card_of_ones_own_is_added_as_it_is_written_and_found(tmp_path: Path) -> None:
    path = write(tmp_path / "desk", "Turnip Sticks.toml", "# my own\n" + CARD)
    folder = tmp_path / "data" / "recipes"
    assert add_card(path, folder).key == "turnip-sticks"
    assert (folder / "turnip-sticks.toml").read_bytes() == path.read_bytes()
    assert [item.name for item in folder.iterdir()] == ["turnip-sticks.toml"]
    assert card_shelf(folder).find("turnip sticks").safety is None
    assert add_card(path, folder).key == "turnip-sticks"  # the same again changes nothing


def test_another_card_of_the_same_name_is_not_written_over(tmp_path: Path) -> None:
    folder = tmp_path / "recipes"
    add_card(write(tmp_path / "desk", "turnip.toml"), folder)
    other = write(tmp_path / "desk", "turnip.toml", CARD.replace("jars = 5", "jars = 6"))
    with pytest.raises(RecipeError, match="another card 'turnip' already"):
        add_card(other, folder)
    assert (folder / "turnip.toml").read_text("utf-8") == CARD


def test_a_card_with_slips_is_not_added(tmp_path: Path) -> None:
    bad = write(tmp_path / "desk", "turnip.toml", CARD.replace('"4 lb"', '"4"'))
    with pytest.raises(RecipeError, match="line 5, tested, amount"):
        add_card(bad, tmp_path / "recipes")
    assert not (tmp_path / "recipes").exists()


def test_a_card_of_ones_own_cannot_pass_for_a_shipped_one(tmp_path: Path) -> None:
    path = write(tmp_path / "desk", "Pickled Beets.toml")
    with pytest.raises(RecipeError, match="ships with jarcast"):
        add_card(path, tmp_path / "recipes")
    write(tmp_path / "recipes", "pickled-beets.toml")
    shelf = card_shelf(tmp_path / "recipes")
    assert not shelf.own
    assert shelf.find("pickled-beets").safety is not None
    assert [item.name for item, _ in shelf.broken] == ["pickled-beets.toml"]


def test_one_broken_card_leaves_the_others_usable_and_says_why(tmp_path: Path) -> None:
    write(tmp_path, "good.toml")
    write(tmp_path, "bad.toml", "name = ")
    shelf = card_shelf(tmp_path)
    assert list(shelf.own) == ["good"]
    with pytest.raises(RecipeError, match=r"is there but cannot be used: .*line 1"):
        shelf.find("bad")


def test_a_folder_that_cannot_be_written_is_one_sentence(tmp_path: Path) -> None:
    path = write(tmp_path / "desk", "turnip.toml")
    blocked = write(tmp_path / "desk", "file") / "recipes"
    with pytest.raises(RecipeError, match="could not be added"):
        add_card(path, blocked)


def test_a_file_without_a_name_is_refused(tmp_path: Path) -> None:
    with pytest.raises(RecipeError, match="no name"):
        add_card(write(tmp_path, "--.toml"), tmp_path / "recipes")


def test_keys_are_words_joined_by_dashes() -> None:
    assert card_key("  Aunt Mabel's_Dill (2nd) ") == "aunt-mabel-s-dill-2nd"


def test_ones_own_folder_is_the_platforms_for_user_data() -> None:
    assert own_folder().parts[-2:] == ("jarcast", "recipes")


@pytest.mark.parametrize("links", [True, False], ids=["links", "a disk without links"])
def test_of_two_cards_added_at_once_by_one_name_neither_is_overwritten(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, links: bool
) -> None:
    folder = tmp_path / "recipes"
    mine = write(tmp_path / "mine", "turnip.toml")
    other = write(tmp_path / "other", "turnip.toml", CARD.replace("jars = 5", "jars = 6"))
    really, others = tempfile.mkstemp, iter([other])

    def another_is_quicker(**where: Any) -> tuple[int, str]:
        """Somebody else adds a card of this name just before the file is written."""
        for card in others:
            add_card(card, folder)
        return really(**where)

    def no_links(*_: object) -> None:
        raise OSError(95, "Operation not supported")

    if not links:
        monkeypatch.setattr("os.link", no_links)
    monkeypatch.setattr("tempfile.mkstemp", another_is_quicker)
    with pytest.raises(RecipeError, match="another card 'turnip' already"):
        add_card(mine, folder)
    assert (folder / "turnip.toml").read_bytes() == other.read_bytes()
    assert [item.name for item in folder.iterdir()] == ["turnip.toml"]
