"""How jars differ from one another, learned from notes made while packing."""

import datetime as dt
import math

import numpy as np
import pytest

from jarcast.domain.batch import Batch
from jarcast.domain.jars import SHELF
from jarcast.domain.packing import SoFar
from jarcast.learning.fit.jar_spread import PRIOR_DOF
from jarcast.learning.learned import Learned, learn_batches
from jarcast.learning.model.weight_rows import SCALE_G

PINT_ML = SHELF["pint"].fill_volume_ml(0.5)
USUAL = 0.05  # the shipped belief; models/sources/people.csv


def packed(spread: float, number: int, rng: np.random.Generator) -> tuple[Batch, tuple[SoFar, ...]]:
    """A batch of 12 pints of its own density, noted after every second jar on a kitchen scale."""
    density = 0.6 * math.exp(0.2 * rng.standard_normal())
    jars = PINT_ML * density * np.exp(spread * rng.standard_normal(12))
    batch = Batch(
        batch=str(number), date=dt.date(2024, 7, 1) + dt.timedelta(days=number), produce="carrot",
        cut="sticks", pack="raw", jar=("pint",), jars=(12.0,), headspace_in=0.5, cure_hours=0.0,
        trimmed_g=float(jars.sum()),
    )  # fmt: skip
    weighed = {k: float(jars[:k].sum() + SCALE_G * rng.standard_normal()) for k in range(2, 12, 2)}
    return batch, tuple(SoFar(k, grams) for k, grams in weighed.items())


def learned_from(spread: float, count: int, seed: int = 0) -> Learned:
    rng = np.random.default_rng(seed)
    both = [packed(spread, number, rng) for number in range(count)]
    return learn_batches(
        [batch for batch, _ in both], packed={batch.batch: notes for batch, notes in both}
    )


def test_without_notes_it_is_the_published_spread() -> None:
    assert learn_batches([]).jar_to_jar.variance == pytest.approx(USUAL**2)
    assert learn_batches([]).jar_to_jar.dof == PRIOR_DOF


@pytest.mark.parametrize("spread", [0.02, 0.05, 0.1])
def test_many_notes_find_the_spread_whatever_the_batches_differ_by(spread: float) -> None:
    found = learned_from(spread, 60)
    assert found.jar_to_jar.dof == PRIOR_DOF + 60 * 5
    # The inverse gamma posterior's scale: prior and squares, each by its degrees of freedom. A sd
    # from 300 of them is known to 4 %.
    due = math.sqrt((PRIOR_DOF * USUAL**2 + 300 * spread**2) / (PRIOR_DOF + 300))
    assert math.sqrt(found.jar_to_jar.variance) == pytest.approx(due, rel=0.12)


def test_one_batch_moves_it_only_so_far() -> None:
    found = learned_from(0.1, 1)
    assert USUAL**2 < found.jar_to_jar.variance < 0.1**2


def test_a_slip_in_a_note_teaches_little() -> None:
    batch, notes = packed(0.05, 1, np.random.default_rng(1))
    slipped = (notes[0], SoFar(4, 10.0 * (notes[1].produce_g or 0.0)), *notes[2:])
    sound = learn_batches([batch], packed={"1": notes}).jar_to_jar.variance
    found = learn_batches([batch], packed={"1": slipped}).jar_to_jar.variance
    assert found < sound + 3 * 9 * USUAL**2 / (PRIOR_DOF + 3)


def test_what_is_left_tells_as_much_as_what_is_packed() -> None:
    batch, notes = packed(0.05, 1, np.random.default_rng(2))
    all_of_it = batch.trimmed_g or 0.0
    left = tuple(
        SoFar(note.jars, produce_left_g=all_of_it - (note.produce_g or 0.0)) for note in notes
    )
    one, two = (learn_batches([batch], packed={"1": each}) for each in (notes, left))
    assert two.jar_to_jar.variance == pytest.approx(one.jar_to_jar.variance)


def test_notes_of_a_batch_that_is_not_there_teach_nothing() -> None:
    gone = {"gone": (SoFar(3, 700.0), SoFar(5, 1300.0))}
    assert learn_batches([], packed=gone).jar_to_jar.dof == PRIOR_DOF
