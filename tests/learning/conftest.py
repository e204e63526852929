"""Fixtures of the learning tests: certified data sets, and households made up from the model."""

import datetime as dt
import math
import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
import pytest

from jarcast.domain.batch import Batch
from jarcast.domain.jars import SHELF
from jarcast.learning.model.beliefs import Beliefs, starting_beliefs

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

    certified = [
        re.match(r"\s*B\d+\s+(\S+)\s+(\S+)\s*$", line) for line in section("Certified Values")
    ]
    coefficients = np.array([[float(m[1]), float(m[2])] for m in certified if m])
    (residual,) = re.findall(
        r"Standard Deviation\s+([\d.E+-]+)\s*$",
        "\n".join(section("Certified Values")),
        re.MULTILINE,
    )
    data = np.array([[float(cell) for cell in line.split()] for line in section("Data")])
    X = DESIGNS[name](data[:, 1:])
    return Certified(X, data[:, 0], coefficients[:, 0], coefficients[:, 1], float(residual))


@pytest.fixture(scope="session")
def strd() -> Callable[[str], Certified]:
    return read_strd


ML_PER_CUP = 236.5882365  # exact: NIST Handbook 44, Appendix C
DAY_ONE = dt.date(2019, 6, 1)


class Crop(NamedTuple):
    """What a household puts up, and whether it cures it."""

    produce: str
    cut: str
    pack: str
    cured: bool = False


CARROT = Crop("carrot", "sticks", "raw")
BEAN = Crop("green bean", "whole", "raw")
BEET = Crop("beet", "slices", "hot")
CABBAGE = Crop("cabbage", "shredded", "raw", cured=True)
FLORETS = Crop("cauliflower", "florets", "raw")
MIXED = (CARROT, BEAN, BEET, CABBAGE, FLORETS)


@dataclass
class Household:
    """A made-up household whose hand and crops are drawn from the beliefs.

    The chain is written out here once more, from the words of the model: weights by yields,
    volume by density below the tissue's, brine by the space left and the pot loss.
    """

    rng: np.random.Generator
    beliefs: Beliefs = field(default_factory=starting_beliefs)

    def __post_init__(self) -> None:
        people, z = self.beliefs.people, self.rng.standard_normal
        self.hand = {
            name: getattr(people, name).between_people * z()
            for name in ("trim", "cure", "cook", "pack")
        }
        wide = people.loss_between_people
        self.loss_ml = people.loss_ml * math.exp(wide * z() - 0.5 * wide**2)
        self.offsets: dict[tuple[str, str], float] = {}

    def offset(self, crop: Crop, name: str) -> float:
        """How far this household's crop lies from the published centre, on its link's scale."""
        key = (f"{crop.produce}/{crop.cut}", name)
        if key not in self.offsets:
            spread = getattr(self.believed(crop), name).spread
            self.offsets[key] = spread * self.rng.standard_normal()
        return self.offsets[key]

    def believed(self, crop: Crop) -> Any:
        return self.beliefs.crop(crop.produce, crop.cut, crop.pack)

    def typical(self, crop: Crop, name: str, hours: float = 24.0) -> float:
        """The household's own yield, keep (after so many hours) or density, without noise."""
        belief = getattr(self.believed(crop), name)
        link = {"trim_yield": "trim", "cure_keep": "cure", "cook_keep": "cook", "density": "pack"}
        moved = self.offset(crop, name) + self.hand[link[name]]
        if name == "trim_yield":
            odds = belief.centre / (1.0 - belief.centre) * math.exp(moved)
            return odds / (1.0 + odds)
        if name == "cook_keep":  # nothing gains weight in the pot
            return min(float(belief.centre * math.exp(moved)), 0.97)
        if name == "cure_keep":  # levels off; a full cure is 24 hours
            strength = (1.0 - math.exp(-hours / 5.0)) / (1.0 - math.exp(-24.0 / 5.0))
            return float((belief.centre * math.exp(moved)) ** strength)
        return float(belief.centre * math.exp(moved))

    def put_up(
        self,
        crop: Crop,
        number: int,
        grams: float | None = None,
        jar: str = "pint",
        tighter: float = 0.0,
        step: float = 0.25,
    ) -> tuple[Batch, float, float]:
        """One batch as recorded, and the jars and brine it truly came to.

        ``tighter`` is added to the log density; jars are written to ``step`` of a jar.
        """
        z, people = self.rng.standard_normal, self.beliefs.people
        bought = 3500.0 * math.exp(0.35 * z()) if grams is None else grams
        share = self.typical(crop, "trim_yield")
        odds = share / (1.0 - share) * math.exp(people.trim.noise * z())
        trimmed = bought * odds / (1.0 + odds)
        hours = float(self.rng.choice([12.0, 24.0])) if crop.cured else 0.0
        ready = trimmed
        if crop.cured:
            ready *= self.typical(crop, "cure_keep", hours) * math.exp(people.cure.noise * z())
        cured = ready
        if crop.pack == "hot":
            ready *= self.typical(crop, "cook_keep") * math.exp(people.cook.noise * z())
        tissue = self.believed(crop).tissue.centre * math.exp(self.offset(crop, "tissue"))
        density = self.typical(crop, "density") * math.exp(people.pack.noise * z() + tighter)
        density /= (1.0 + (density / tissue) ** 12) ** (1.0 / 12.0)
        fill = SHELF[jar].fill_volume_ml()
        jars = ready / (fill * density)
        jars *= math.exp(people.jar_to_jar * z() / math.sqrt(max(jars, 1.0)))
        wide = people.loss_between_batches
        loss = self.loss_ml * math.exp(wide * z() - 0.5 * wide**2)
        brine = max(jars * fill - ready / tissue, 0.01 * jars * fill) + loss
        made = math.ceil(brine / ML_PER_CUP + 3.0 * self.rng.random())
        left = round(4.0 * (made - brine / ML_PER_CUP)) / 4.0
        batch = Batch(
            batch=f"{number:03d}",
            date=DAY_ONE + dt.timedelta(days=number),
            produce=crop.produce,
            cut=crop.cut,
            pack=crop.pack,
            jar=(jar,),
            jars=(max(round(jars / step), 1) * step,),
            as_bought_g=_weighed(bought),
            trimmed_g=_weighed(trimmed),
            cure_hours=hours,
            cured_g=_weighed(cured) if crop.cured else None,
            cooked_g=_weighed(ready) if crop.pack == "hot" else None,
            brine_made_ml=made * ML_PER_CUP,
            brine_left_ml=max(left, 0.0) * ML_PER_CUP,
        )
        return batch, jars, brine

    def history(self, crops: Iterable[Crop], **how: Any) -> list[Batch]:
        """One batch of each crop named, a day apart."""
        return [self.put_up(crop, number, **how)[0] for number, crop in enumerate(crops)]


def _weighed(grams: float) -> float:
    """As a kitchen scale shows it, to five grams."""
    return 5.0 * max(round(grams / 5.0), 1)


@pytest.fixture(scope="session")
def crops() -> tuple[Crop, ...]:
    """Carrot sticks, green beans, beets packed hot, salted cabbage, cauliflower, in this order."""
    return MIXED


@pytest.fixture(scope="session")
def household() -> Callable[[int], Household]:
    """A household by its seed."""
    return lambda seed: Household(np.random.default_rng(seed))
