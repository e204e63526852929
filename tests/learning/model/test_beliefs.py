"""Starting beliefs: what a file must be, and which belief stands for which crop."""

import json
import math
import pickle
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from jarcast.errors import BeliefsError
from jarcast.files.shipped import shipped
from jarcast.learning.model.beliefs import (
    FORMAT,
    VERSION,
    Beliefs,
    beliefs_from,
    load_beliefs,
    starting_beliefs,
)


def amount(centre: float, spread: float = 0.2) -> dict[str, float]:
    return {"centre": centre, "spread": spread}


def crop(produce: str, cut: str = "", pack: str = "", density: float = 0.6) -> dict[str, Any]:
    return {
        "produce": produce, "cut": cut, "pack": pack, "cured": "never",
        "trim_yield": amount(0.8), "cure_keep": amount(0.85), "cook_keep": amount(0.9),
        "density": amount(density), "tissue": amount(1.02, 0.02),
    }  # fmt: skip


def content() -> dict[str, Any]:
    """A small file of beliefs; density tells the rows apart."""
    hands = {"hand": 0.1, "noise": 0.05}
    return {
        "format": FORMAT,
        "version": VERSION,
        "label": "a test",
        "people": {
            "trim": {**hands}, "cure": {**hands}, "cook": {**hands},
            "pack": {**hands, "jar_to_jar": 0.05},
            "brine": {"loss_ml": 100, "loss_between_people": 0.4, "loss_between_batches": 0.3},
        },
        "crops": [
            crop("carrot", density=0.51),
            crop("carrot", "", "hot", density=0.52),
            crop("carrot", "slices", density=0.53),
            crop("carrot", "slices", "hot", density=0.54),
            crop("Beets", "Whole", density=0.55),
        ],
        "anything": crop("anything", density=0.50),
    }  # fmt: skip


def made(raw: object) -> Beliefs:
    return beliefs_from(raw, "made-up.json")


def set_at(path: str, value: object) -> Callable[[dict[str, Any]], None]:
    """Sets the value at a path such as 'crops/0/density/centre'."""

    def change(raw: dict[str, Any]) -> None:
        *steps, last = path.split("/")
        at: Any = raw
        for step in steps:
            at = at[int(step)] if isinstance(at, list) else at[step]
        at[last] = value

    return change


# --- files ---------------------------------------------------------------------------------------


def test_a_file_of_beliefs_is_read(tmp_path: Path) -> None:
    path = tmp_path / "beliefs.json"
    path.write_text(json.dumps(content()), encoding="utf-8")
    found = load_beliefs(path)
    assert found.label == "a test"
    assert found.produce == ("beet", "carrot")
    assert found.people.loss_ml == 100.0
    assert found.crop("carrot", "slices").density.centre == 0.53


def test_numbers_come_back_to_the_last_bit(tmp_path: Path) -> None:
    raw = content()
    raw["crops"][0]["density"]["centre"] = 0.1 + 0.2
    path = tmp_path / "beliefs.json"
    path.write_text(json.dumps(raw), encoding="utf-8")
    assert load_beliefs(path).crop("carrot").density.centre == 0.1 + 0.2


@pytest.mark.parametrize(
    "body",
    [
        pytest.param(pickle.dumps({"format": FORMAT, "version": VERSION}), id="pickle"),
        pytest.param(b"", id="empty"),
        pytest.param(b"\x00\xff\xfe\x80", id="bytes"),
        pytest.param(json.dumps(content()).encode()[:300], id="cut short"),
        pytest.param(b"[" * 100_000, id="nested without end"),
        pytest.param(b"9" * 5000, id="a number without end"),
        pytest.param("carrot,0.8\n".encode("utf-16"), id="another encoding"),
    ],
)
def test_what_is_not_json_text_is_refused_and_never_run(tmp_path: Path, body: bytes) -> None:
    path = tmp_path / "beliefs.json"
    path.write_bytes(body)
    with pytest.raises(BeliefsError, match="is not a beliefs file") as caught:
        load_beliefs(path)
    assert str(path) in str(caught.value)


def test_a_pickle_that_would_run_code_does_not(tmp_path: Path) -> None:
    class Bomb:
        def __reduce__(self) -> tuple[Any, ...]:
            return (Path.touch, (tmp_path / "it ran",))

    path = tmp_path / "beliefs.json"
    path.write_bytes(pickle.dumps(Bomb()))
    with pytest.raises(BeliefsError, match="nothing else is ever loaded"):
        load_beliefs(path)
    assert not (tmp_path / "it ran").exists()


@pytest.mark.parametrize("name", ["missing.json", "."])
def test_a_path_that_cannot_be_read_is_named(tmp_path: Path, name: str) -> None:
    with pytest.raises(BeliefsError, match="cannot be read") as caught:
        load_beliefs(tmp_path / name)
    assert str(tmp_path) in str(caught.value)


@pytest.mark.parametrize("raw", [[], "carrot", None, 3, {}, {"format": "something else"}])
def test_another_kind_of_file_is_refused(raw: object) -> None:
    with pytest.raises(BeliefsError, match=r"made-up\.json: is not a file of 'jarcast starting"):
        made(raw)


@pytest.mark.parametrize("version", [VERSION + 1, 99, 0, None, "new"])
def test_another_version_is_refused_with_what_to_do(version: object) -> None:
    raw = {**content(), "version": version}
    with pytest.raises(BeliefsError, match=f"is version {version} of the format.*update jarcast"):
        made(raw)


NUMBERS = [
    "crops/0/trim_yield/centre", "crops/1/cure_keep/spread", "crops/2/cook_keep/centre",
    "crops/3/density/spread", "crops/4/tissue/centre", "anything/density/centre",
    "people/trim/hand", "people/cure/noise", "people/pack/jar_to_jar", "people/brine/loss_ml",
    "people/brine/loss_between_people", "people/brine/loss_between_batches",
]  # fmt: skip


@pytest.mark.parametrize("path", NUMBERS)
@pytest.mark.parametrize("value", [-1.0, 0, math.nan, math.inf, -math.inf])
def test_a_number_that_is_not_positive_is_refused(path: str, value: float) -> None:
    raw = content()
    set_at(path, value)(raw)
    with pytest.raises(BeliefsError, match=f"{value} is not a positive number") as caught:
        made(raw)
    # The quantity is named, so that it can be found in the file.
    assert any(word in str(caught.value) for word in path.split("/"))


@pytest.mark.parametrize("path", NUMBERS)
@pytest.mark.parametrize("value", ["0.5", True, None, [0.5], {"value": 0.5}])
def test_a_value_that_is_no_number_is_refused(path: str, value: object) -> None:
    raw = content()
    set_at(path, value)(raw)
    with pytest.raises(BeliefsError, match="is not a number"):
        made(raw)


def test_nan_in_the_text_of_a_file_is_refused(tmp_path: Path) -> None:
    # Python's JSON reader takes NaN although JSON has none.
    path = tmp_path / "beliefs.json"
    path.write_text(json.dumps(content()).replace("0.53", "NaN"), encoding="utf-8")
    with pytest.raises(BeliefsError, match="carrot/slices/ density: nan is not a positive number"):
        load_beliefs(path)


@pytest.mark.parametrize("centre", [1, 1.2, 80])
def test_a_trim_yield_is_a_share_below_one(centre: float) -> None:
    raw = content()
    set_at("crops/0/trim_yield/centre", centre)(raw)
    with pytest.raises(BeliefsError, match=r"trim_yield: centre .* is not a share below 1"):
        made(raw)


@pytest.mark.parametrize(
    ("path", "value"),
    [
        ("crops", 5), ("crops", {"carrot": 1}), ("crops", None), ("crops/0/produce", 5),
        ("crops/0/cut", None), ("crops/0/cured", "often"), ("crops/0/cured", []),
        ("crops/0/density", None), ("crops/0/density", 0.6), ("crops/0/density", {"centre": 0.6}),
        ("people", []), ("people", None), ("people/pack", 3), ("people/brine", {}),
        ("anything", None), ("anything", {}),
    ],
)  # fmt: skip
def test_a_file_of_another_shape_is_refused_by_name(path: str, value: object) -> None:
    raw = content()
    set_at(path, value)(raw)
    with pytest.raises(BeliefsError, match=r"made-up\.json: lacks or misstates"):
        made(raw)


@pytest.mark.parametrize("name", ["crops", "people", "anything"])
def test_a_file_that_lacks_a_part_is_refused_by_name(name: str) -> None:
    raw = content()
    del raw[name]
    with pytest.raises(BeliefsError, match=f"lacks or misstates '{name}'"):
        made(raw)


# --- which belief ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("asked", "density", "known"),
    [
        (("carrot", "slices", "hot"), 0.54, "this cut"),
        (("carrot", "slices", "raw"), 0.53, "this cut"),  # a pack nobody listed: any pack's
        (("carrot", "slices", ""), 0.53, "this cut"),
        (("carrot", "sticks", "hot"), 0.52, "this produce"),  # a cut nobody listed: any cut's
        (("carrot", "sticks", "raw"), 0.51, "this produce"),
        (("carrot", "", ""), 0.51, "this produce"),
        (("beet", "whole", ""), 0.55, "this cut"),  # listed under other spellings
        (("beet", "slices", ""), 0.50, "nothing published"),
        (("salsify", "sticks", "raw"), 0.50, "nothing published"),
    ],
)
def test_the_nearest_belief_stands_for_a_crop(
    asked: tuple[str, str, str], density: float, known: str
) -> None:
    found = made(content()).crop(*asked)
    assert found.density.centre == density
    assert found.known == known


def test_a_cut_that_was_not_written_down_is_believed_more_widely() -> None:
    beliefs = made(content())
    whole, unsaid = beliefs.crop("carrot", "sticks"), beliefs.crop("carrot", "")
    for name in ("trim_yield", "density"):
        assert getattr(unsaid, name).centre == getattr(whole, name).centre
        assert getattr(unsaid, name).spread > getattr(whole, name).spread
    assert unsaid.known == "this produce"


def test_produce_nobody_published_is_believed_more_widely_than_any_listed() -> None:
    beliefs = starting_beliefs()
    unknown = beliefs.crop("salsify", "sticks", "raw")
    assert unknown.known == "nothing published"
    for name in ("trim_yield", "density"):
        listed = [getattr(crop, name).spread for crop in beliefs.crops.values() if crop.cut]
        typical = sorted(listed)[len(listed) // 2]
        assert getattr(unknown, name).spread > typical


def test_the_beliefs_that_travel_with_jarcast_are_read_once_and_whole() -> None:
    beliefs = starting_beliefs()
    assert starting_beliefs() is beliefs
    assert len(beliefs.produce) >= 30
    for crop_belief in beliefs.crops.values():
        assert 0 < crop_belief.trim_yield.centre < 1
        assert 0 < crop_belief.density.centre < crop_belief.tissue.centre
        assert crop_belief.known in ("this cut", "this produce")


def test_the_quick_way_to_the_shipped_beliefs_reads_what_the_checking_one_reads() -> None:
    quick, checked = starting_beliefs(), load_beliefs(shipped("models", "starting-beliefs.json"))
    assert dict(quick.crops) == dict(checked.crops)
    assert (quick.people, quick.anything, quick.label) == (
        checked.people, checked.anything, checked.label,
    )  # fmt: skip


def test_beliefs_cannot_be_changed_once_read() -> None:
    beliefs = starting_beliefs()
    key, value = next(iter(beliefs.crops.items()))
    with pytest.raises(TypeError):
        beliefs.crops[key] = value  # type: ignore[index]
    with pytest.raises(AttributeError):
        value.density.centre = 2.0  # type: ignore[misc]
