"""Fixtures of the learning tests: certified data sets, and households made up from the model."""

import re
from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

import numpy as np
import pytest

STRD = Path(__file__).resolve().parents[1] / "data" / "strd"


class Certified(NamedTuple):
    """One NIST data set: design, response, and what is certified of them."""

    X: np.ndarray
    y: np.ndarray
    coefficients: np.ndarray
    sd_of_coefficients: np.ndarray
    residual_sd: float


# The model of each data set as its own header states it, from the predictor columns.
DESIGNS: dict[str, Callable[[np.ndarray], np.ndarray]] = {
    "Norris": lambda x: np.column_stack([np.ones(len(x)), x]),
    "Pontius": lambda x: np.column_stack([np.ones(len(x)), x, x**2]),
    "NoInt1": lambda x: x,
    "Longley": lambda x: np.column_stack([np.ones(len(x)), x]),
    "Wampler1": lambda x: np.column_stack([x[:, 0] ** k for k in range(6)]),
}


def read_strd(name: str) -> Certified:
    """A file of the NIST/ITL Statistical Reference Datasets, read by its header's line numbers."""
    lines = (STRD / f"{name}.dat").read_text(encoding="ascii").splitlines()
    places = {
        what: (int(first), int(last))
        for what, first, last in re.findall(
            r"(Certified Values|Data)\s+\(lines\s+(\d+) to\s+(\d+)\)", "\n".join(lines[:10])
        )
    }

    def section(what: str) -> list[str]:
        first, last = places[what]
        return lines[first - 1 : last]

    certified = [re.match(r"\s*B\d+\s+(\S+)\s+(\S+)\s*$", line) for line in section("Certified Values")]
    coefficients = np.array([[float(m[1]), float(m[2])] for m in certified if m])
    (residual,) = re.findall(
        r"Standard Deviation\s+([\d.E+-]+)\s*$", "\n".join(section("Certified Values")), re.MULTILINE
    )
    data = np.array([[float(cell) for cell in line.split()] for line in section("Data")])
    X = DESIGNS[name](data[:, 1:])
    return Certified(X, data[:, 0], coefficients[:, 0], coefficients[:, 1], float(residual))


@pytest.fixture(scope="session")
def strd() -> Callable[[str], Certified]:
    return read_strd
