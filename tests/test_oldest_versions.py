"""The versions that CI takes for the oldest allowed are the lower bounds of pyproject.toml."""

import runpy
import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

ROOT = Path(__file__).resolve().parents[1]


@pytest.fixture(scope="module")
def lowest() -> Callable[[dict[str, Any]], list[str]]:
    found: Callable[[dict[str, Any]], list[str]] = runpy.run_path(str(ROOT / ".ci" / "lowest.py"))[
        "lowest"
    ]
    return found


def project(*dependencies: str) -> dict[str, Any]:
    extras = {"charts": [], "cluster": [], "test": ["mine[charts,cluster]", "more>=8.2"]}
    return {"name": "mine", "dependencies": [*dependencies], "optional-dependencies": extras}


def test_every_lower_bound_becomes_the_version_itself(lowest: Any) -> None:
    given = ("one>=1.26", "two>=0.27,<0.29", "three-x>=4.9; sys_platform != 'win32'")
    assert lowest(project(*given)) == [
        "one==1.26", "two==0.27", "three-x==4.9; sys_platform != 'win32'", "more==8.2",
    ]  # fmt: skip


@pytest.mark.parametrize("given", ["one", "one==2", "one<3", "one~=2.1"])
def test_what_has_no_lower_bound_is_refused_by_name(lowest: Any, given: str) -> None:
    with pytest.raises(SystemExit, match="has no lower bound"):
        lowest(project(given))


def test_all_that_the_package_needs_is_pinned(lowest: Any) -> None:
    found = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]
    names = {line.partition("==")[0] for line in lowest(found)}
    assert {"msgspec", "numpy", "pandas", "typer", "matplotlib", "dask", "pytest"} <= names
    assert len(names) == len(lowest(found))
