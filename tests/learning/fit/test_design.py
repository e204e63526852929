"""Matrices of a block: which effect stands where, and how the walk is cut into segments."""

import math

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal

from jarcast.domain.stages import Link
from jarcast.learning.fit.design import Design, segment_lengths, walk_loads
from jarcast.learning.model.effects import Effect
from jarcast.learning.model.row import Row

HAND = Effect(Link.PACK, "person", "")
CARROT = Effect(Link.PACK, "crop", "carrot")
BEET = Effect(Link.PACK, "crop", "beet")


@pytest.mark.parametrize("length", [0, 1, 2, 7, 8, 9, 40, 365, 10_000])
def test_the_walk_is_cut_into_stretches_that_make_up_the_whole(length: int) -> None:
    lengths = segment_lengths(length)
    assert sum(lengths) == length
    assert all(step >= 1 for step in lengths)
    assert len(lengths) <= 8 + 4 * math.log2(length + 1)


def test_the_latest_batches_are_walked_one_by_one() -> None:
    assert segment_lengths(100)[-8:] == [1] * 8
    assert max(segment_lengths(100)) == max(segment_lengths(100)[:2])


def test_a_walk_is_as_long_as_the_time_walked() -> None:
    # Steps are independent, so their variances add up: after k batches, k steps' worth.
    segments = segment_lengths(30)
    steps = walk_loads(segments, np.array([0.0, 1.0, 30.0]))
    whole = (walk_loads(segments, np.array([30.0])) ** 2).sum()
    assert_array_equal(steps[0], 0.0)
    assert whole == pytest.approx(30.0)
    assert (np.diff(walk_loads(segments, np.arange(31.0)), axis=0) >= 0.0).all()


def test_batches_of_one_moment_have_walked_the_same_and_recent_ones_most() -> None:
    segments = segment_lengths(12)
    one, same, later = walk_loads(segments, np.array([5.0, 5.0, 9.0]))
    assert_array_equal(one, same)
    assert (later >= one).all()


def row(time: int, loadings: dict[Effect, float], **values: object) -> Row:
    given: dict[str, object] = {
        "shares": {Link.PACK: 1.0}, "reading": 0.1, "slip": 1.0, "columns": ("a", "b"),
    }  # fmt: skip
    given.update(values)
    return Row(str(time), time, 0.5 * time, loadings, **given)  # type: ignore[arg-type]


def test_each_effect_has_a_column_and_each_row_its_loadings() -> None:
    rows = [
        row(0, {HAND: 0.15, CARROT: 0.2}, cell="carrot/sticks"),
        row(1, {HAND: 0.15, BEET: 0.3}, cell="beet/slices", ceiling=True),
        row(2, {HAND: 0.15, CARROT: 0.2}, cell="carrot/sticks"),
    ]
    design = Design(rows, (Link.PACK,), 3)
    order = [design.effects[e] for e in (HAND, CARROT, BEET)]
    assert_array_equal(design.X[:, order], [[0.15, 0.2, 0.0], [0.15, 0.0, 0.3], [0.15, 0.2, 0.0]])
    assert_array_equal(design.y, [0.0, 0.5, 1.0])
    assert_array_equal(design.rows_seen.ceiling, [False, True, False])
    assert [design.cells[i] for i in design.cell] == [r.cell for r in rows]
    assert sorted(design.crop[Link.PACK]) == sorted([design.effects[CARROT], design.effects[BEET]])


def test_only_hands_walk_and_cooking_does_not() -> None:
    cook = Effect(Link.COOK, "person", "")
    rows = [row(t, {cook: 0.05}, shares={Link.COOK: 1.0}) for t in range(4)]
    assert Design(rows, (Link.COOK,), 4).walking == ()
    both = [
        row(t, {HAND: -0.15, cook: 0.05}, shares=dict.fromkeys((Link.COOK, Link.PACK), 1.0))
        for t in range(4)
    ]
    design = Design(both, (Link.COOK, Link.PACK), 4)
    assert design.walking == (Link.PACK,)
    # A hand that walks enters as it loads: here each step lowers the target.
    assert_allclose(design.walk, -0.15 * walk_loads(design.segments, np.arange(4.0)))


def test_no_rows_make_empty_matrices() -> None:
    design = Design([], (Link.PACK,), 0)
    assert design.X.shape == (0, 0)
    assert design.y.shape == design.reading.shape == (0,)
