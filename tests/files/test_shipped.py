"""Data that travels with the package is found in a checkout and in an installed package alike."""

from pathlib import Path

import pytest

from jarcast.files import shipped as module
from jarcast.files.shipped import shipped

pytestmark = pytest.mark.contract


@pytest.mark.parametrize(
    "parts",
    [
        ("models", "starting-beliefs.json"),
        ("models", "recipes"),
        ("data_demo", "batches.csv"),
    ],
)
def test_what_travels_with_the_package_is_there(parts: tuple[str, ...]) -> None:
    path = shipped(*parts)
    assert path.exists()
    assert path.is_absolute()
    assert path.parts[-len(parts) :] == parts


def test_what_is_not_there_is_named() -> None:
    with pytest.raises(FileNotFoundError, match=r"models/none\.json is missing"):
        shipped("models", "none.json")


def test_an_installed_package_has_its_own_copy_and_needs_no_checkout(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    # As the wheel lays it out: jarcast/shipped_data/models. What lies beside the package there is
    # other people's, and comes second.
    package = tmp_path / "site-packages" / "jarcast"
    own = package / "shipped_data" / "models"
    own.mkdir(parents=True)
    (own / "starting-beliefs.json").write_text("ours")
    other = tmp_path / "models"
    other.mkdir()
    (other / "starting-beliefs.json").write_text("theirs")
    monkeypatch.setattr(module, "_PACKAGE", package)
    assert shipped("models", "starting-beliefs.json").read_text() == "ours"
