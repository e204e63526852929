"""The demo: the same question from no batch, a few, and all of them."""

import numpy as np
import pytest

from jarcast.app.demo import run_demo
from jarcast.batchtable import read_csv
from jarcast.domain.batch import Batch
from jarcast.files.shipped import shipped

pytestmark = pytest.mark.contract


@pytest.fixture(scope="module")
def history() -> list[Batch]:
    return [entry.batch for entry in read_csv(shipped("data_demo", "batches.csv")).entries]


def test_the_range_narrows_as_the_record_grows(history: list[Batch]) -> None:
    steps = run_demo(history)
    counts = [step.batches for step in steps]
    assert counts[0] == 0
    assert counts == sorted(counts)
    assert counts[-1] == len(history)
    ranges = [step.forecast.jars.interval(0.8) for step in steps]
    widths = [high / low for low, high in ranges]
    assert widths[0] > widths[1] > widths[2]


def test_the_order_of_the_file_does_not_matter(history: list[Batch]) -> None:
    one, other = run_demo(history), run_demo(history[::-1])
    for a, b in zip(one, other, strict=True):
        np.testing.assert_allclose(a.forecast.jars.draws, b.forecast.jars.draws, rtol=1e-9)


def test_an_empty_record_is_no_trouble() -> None:
    assert [step.batches for step in run_demo([])] == [0, 0, 0]
