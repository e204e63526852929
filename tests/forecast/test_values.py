"""Draws of a batch's links and of its brine: what belongs together, and how large it is."""

import datetime as dt

import numpy as np
import pytest

from jarcast import Habits, SoFar, habits_from
from jarcast.domain.batch import Batch
from jarcast.forecast.brine import brine_in_jars
from jarcast.forecast.keywords import request_by
from jarcast.forecast.remaining import look_ahead
from jarcast.forecast.values import Values, draw_values
from jarcast.learning.model.brine_rows import SPACE_SHARE

DRAWS = 8192


def drawn(habits: Habits, so_far: SoFar | None = None) -> Values:
    request, _ = request_by(
        habits.learned, habits.shelf,
        {"produce": "carrot", "cut": "sticks", "trimmed_g": 2700.0, "cure_hours": 0.0,
         "so_far": so_far}, DRAWS, 0,
    )  # fmt: skip
    ahead = look_ahead(habits.learned, request)
    (found,) = draw_values(habits.learned, [ahead], DRAWS, np.random.default_rng(3))
    return found


def test_a_draw_of_much_noise_lies_farther_off() -> None:
    # A hand known well from forty batches, packed as it is asked for: what is left to draw is the
    # batch's own noise.
    rng = np.random.default_rng(8)
    record = [
        Batch(
            batch=str(n), date=dt.date(2024, 7, 1) + dt.timedelta(days=n), produce="carrot",
            cut="sticks", pack="", jar=("pint",), jars=(n % 5 + 6.25,), cure_hours=0.0,
            trimmed_g=float(260.0 * (n % 5 + 6.25) * np.exp(0.07 * rng.standard_normal())),
        )
        for n in range(40)
    ]  # fmt: skip
    found = drawn(habits_from(record), SoFar(jars=2.0, produce_g=600.0))
    assert found.pack_sd.shape == found.pack_component.shape == (DRAWS,)
    middle = np.array(
        [np.median(found.pack[found.pack_component == n]) for n in found.pack_component]
    )
    off = np.abs(found.pack[:, 0] - middle)
    noisy = found.pack_sd > 2.0 * np.median(found.pack_sd)  # the wide kinds, 5 and 25 times
    assert 0.005 < noisy.mean() < 0.2
    assert off[noisy].mean() > 1.5 * off[~noisy].mean()


def test_of_a_batch_not_begun_no_noise_size_is_kept(habits: Habits) -> None:
    found = drawn(habits)
    assert found.pack_sd.size == found.pack_component.size == 0


def test_brine_between_the_pieces_scatters_in_proportion_to_the_space() -> None:
    none = np.zeros(0)
    room = np.full(DRAWS, 0.9)  # ml a gram
    nobody = none.astype(int)
    values = Values({}, none, none, nobody, room, none, np.ones(DRAWS // 2), none, nobody)
    found = brine_in_jars(
        values, np.full(DRAWS, 2000.0), np.full(DRAWS, 3000.0), np.random.default_rng(4)
    )
    assert found.mean() == pytest.approx(1200.0, rel=1e-9)  # mirrored pairs: exactly the space
    # Of DRAWS / 8 apart: four standard errors of a normal sample's sd.
    assert found.std() == pytest.approx(1200.0 * SPACE_SHARE, rel=4 / np.sqrt(2 * DRAWS / 8))
