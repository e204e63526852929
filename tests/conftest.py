"""Fixtures of the tests of forecasts, harvests and the track record."""

import datetime as dt

import pytest

from jarcast import Habits, habits_from
from jarcast.domain.batch import Batch


@pytest.fixture(scope="session")
def batches() -> list[Batch]:
    """A small made-up record: three carrots, two salted cucumbers, a hot pack of beets."""
    day = dt.date(2024, 8, 1)
    return [
        Batch(
            batch=str(number), date=day + dt.timedelta(days=number), produce="carrot",
            cut="sticks", pack="raw", jar=("pint",), jars=(jars,), as_bought_g=1.25 * trimmed,
            trimmed_g=trimmed, cure_hours=0.0, brine_made_ml=3000.0, brine_left_ml=left,
        )
        for number, (jars, trimmed, left) in enumerate(
            [(9.0, 2300.0, 700.0), (7.5, 2000.0, 1000.0), (12.0, 3150.0, 100.0)]
        )
    ] + [
        Batch(
            batch=f"c{number}", date=day + dt.timedelta(days=10 + number), produce="cucumber",
            cut="slices", pack="raw", jar=("quart",), jars=(jars,), trimmed_g=trimmed,
            cure_hours=12.0, cured_g=0.85 * trimmed,
        )
        for number, (jars, trimmed) in enumerate([(4.0, 2600.0), (5.5, 3500.0)])
    ] + [
        Batch(
            batch="b", date=day + dt.timedelta(days=20), produce="beet", cut="slices", pack="hot",
            jar=("pint-wide",), jars=(6.0,), as_bought_g=2700.0,
        )
    ]  # fmt: skip


@pytest.fixture(scope="session")
def habits(batches: list[Batch]) -> Habits:
    """What the record teaches."""
    return habits_from(batches)


@pytest.fixture(scope="session")
def beginner() -> Habits:
    """The starting beliefs, no batch of one's own."""
    return habits_from([])
