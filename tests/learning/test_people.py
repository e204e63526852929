"""Several people in one kitchen: what they share, what is each one's own, and who is not named.

Expectations come from the arithmetic of normal variables and of mixtures, done here another way.
"""

import datetime as dt
from collections.abc import Sequence

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace
from numpy.testing import assert_array_equal

from jarcast import Habits, SoFar, habits_from
from jarcast.domain.batch import Batch
from jarcast.domain.jars import SHELF
from jarcast.domain.stages import Link
from jarcast.learning.draws import effect_moments
from jarcast.learning.learned import learn_batches, people_told
from jarcast.learning.model.beliefs import starting_beliefs
from jarcast.learning.model.circumstances import circumstances_of, usual_practice
from jarcast.learning.model.effects import OWN_SHARES, common_to_all, loadings, own

ASK = {"produce": "carrot", "cut": "sticks", "pack": "raw", "trimmed_g": 4000.0, "cure_hours": 0.0}
PEOPLE = starting_beliefs().people


def batch(number: int, person: str = "", g_a_pint: float = 280.0, jars: float = 8.5) -> Batch:
    return Batch(
        batch=f"b{number}", date=dt.date(2024, 6, 1) + dt.timedelta(days=number), produce="carrot",
        cut="sticks", pack="raw", jar=("pint",), jars=(jars,), trimmed_g=g_a_pint * jars,
        cure_hours=0.0, brine_made_ml=3000.0, brine_left_ml=600.0, person=person,
    )  # fmt: skip


def kitchen(loose: str = "Ada", tight: str = "Ben", each: int = 5) -> list[Batch]:
    """Two people, one of whom packs a third more into a jar than the other."""
    found = []
    for i in range(each):
        jars = (8.5, 6.5, 9.5, 7.5, 10.5)[i % 5]
        found.append(batch(2 * i, loose, 240.0 + i, jars))
        found.append(batch(2 * i + 1, tight, 320.0 + i, jars))
    return found


@pytest.fixture(scope="module")
def two() -> Habits:
    return habits_from(kitchen())


def per_jar(habits: Habits, **ask: object) -> np.ndarray:
    """Draws of the grams in a jar."""
    return 4000.0 / habits.forecast(**{**ASK, **ask}, draws=20_000).jars.draws  # type: ignore[arg-type]


# --- a kitchen of one -----------------------------------------------------------------------------


def test_a_kitchen_of_one_is_as_it_was_whether_or_not_its_person_is_named() -> None:
    rows = [batch(i, jars=7.0 + i / 2) for i in range(6)]
    nobody = habits_from(rows).forecast(**ASK)
    for names in (["Ada"] * 6, ["", "Ada", "", "ADA ", " ada", ""]):
        named = habits_from([replace(one, person=n) for one, n in zip(rows, names, strict=True)])
        for person in ("", "Ada", "  aDa "):
            found = named.forecast(**ASK, person=person)
            assert_array_equal(found.jars.draws, nobody.jars.draws)
            assert_array_equal(found.brine_ml.draws, nobody.brine_ml.draws)


def test_before_any_batch_everybody_is_anybody() -> None:
    nothing = habits_from([])
    assert_array_equal(
        nothing.forecast(**ASK, person="Zoe").jars.draws, nothing.forecast(**ASK).jars.draws
    )


def test_somebody_new_to_a_kitchen_of_one_has_half_of_what_was_learned_of_it() -> None:
    # Two people share half of the variance between people: of one who lies one sd off, the other
    # is believed half a sd off, with 1 - 1/4 of the variance. By hand, of normal variables.
    learned = learn_batches([batch(i, "Ada", 200.0, 7.0 + i / 2) for i in range(12)])
    block = learned.block(Link.PACK)
    at = circumstances_of(batch(99), learned.beliefs, SHELF, learned.practice).situation
    size = PEOPLE.pack.between_people
    only = {common_to_all(Link.PACK): size}
    new = {
        effect: value
        for effect, value in loadings(Link.PACK, replace(at, stranger="zoe"), PEOPLE).items()
        if effect.group in ("person", "own")
    }
    for mean, cov in effect_moments(block, [only, new]):
        assert mean[1] == pytest.approx(0.5 * mean[0])
        assert cov[1, 1] == pytest.approx(0.25 * cov[0, 0] + 0.75 * size**2)


# --- several --------------------------------------------------------------------------------------


def test_each_has_an_own_hand(two: Habits) -> None:
    ada, ben = (np.median(per_jar(two, person=name)) for name in ("Ada", "ben"))
    assert 230.0 < ada < 262.0
    assert 300.0 < ben < 332.0


def test_somebody_new_has_the_kitchens_spread(two: Habits) -> None:
    new = np.log(per_jar(two, person="Zoe"))
    for name in ("Ada", "Ben"):
        assert new.std() > 1.3 * np.log(per_jar(two, person=name)).std()
    # No wider than somebody of whom nothing at all is known.
    assert new.std() < np.log(per_jar(habits_from([]))).std()
    assert np.log(per_jar(two, person="Ada")).mean() < new.mean()
    assert new.mean() < np.log(per_jar(two, person="Ben")).mean()


def test_with_nobody_named_it_may_be_each_of_them_by_their_batches_and_half_a_one(
    two: Habits,
) -> None:
    more = habits_from([*kitchen(), *(batch(20 + i, "Ada", 242.0, 7.5) for i in range(10))])
    for habits, chance in ((two, 5.5 / 11.0), (more, 15.5 / 21.0)):
        ada, ben, either = (per_jar(habits, person=name) for name in ("Ada", "Ben", ""))
        # A mixture's distribution function is that of its parts, weighed (binomial error 0.0035).
        for grams in (230.0, 260.0, 280.0, 300.0, 330.0):
            due = chance * (ada < grams).mean() + (1.0 - chance) * (ben < grams).mean()
            assert (either < grams).mean() == pytest.approx(due, abs=0.02)


def test_the_share_that_is_ones_own_is_weighed_by_how_it_foretells() -> None:
    apart, alike = (
        learn_batches(kitchen()),
        learn_batches([replace(one, trimmed_g=280.0 * one.total_jars) for one in kitchen()]),
    )

    def mean_share(learned: object) -> float:
        parts = learned.block(Link.PACK).components  # type: ignore[attr-defined]
        assert {one.own for one in parts} <= set(OWN_SHARES)
        return float(sum(one.weight * one.own for one in parts))

    assert mean_share(apart) > mean_share(alike) + 0.05


def test_priors_of_common_and_own_add_up_to_that_between_people(two: Habits) -> None:
    for component in two.learned.block(Link.PACK).components:
        shared = component.prior(common_to_all(Link.PACK))
        assert shared + component.prior(own(Link.PACK, "zoe")) == pytest.approx(1.0)
        assert component.prior(common_to_all(Link.CURE)) == 1.0  # nobody's own there


def test_batches_that_name_nobody_go_to_whom_they_look_like() -> None:
    rows = kitchen()
    unnamed = [replace(rows[4], person=""), replace(rows[5], person="")]  # Ada's, and Ben's
    found = _who_it_was([*rows[:4], *unnamed, *rows[6:]])
    assert found["b4"]["ada"] > 0.9
    assert found["b5"]["ben"] > 0.9


def test_where_people_work_alike_a_batch_without_a_name_stays_in_doubt() -> None:
    rows = [replace(one, trimmed_g=280.0 * one.total_jars) for one in kitchen()]
    found = _who_it_was([*rows[:4], replace(rows[4], person=""), *rows[5:]])
    # Prior odds by their batches and half a one: 4.5 to 5.5.
    assert found["b4"]["ada"] == pytest.approx(0.45, abs=0.1)


def _who_it_was(rows: Sequence[Batch]) -> dict[str, dict[str, float]]:
    beliefs, practice = starting_beliefs(), usual_practice(rows)
    cases = [circumstances_of(one, beliefs, SHELF, practice) for one in rows]
    learned = learn_batches(rows)
    told = people_told(cases, learned.blocks)
    named = zip(rows, told or cases, strict=True)
    return {one.batch: dict(case.situation.people) for one, case in named if not one.person}


def test_names_told_of_half_of_the_batches_teach_of_the_other_half() -> None:
    rows = kitchen(each=8)
    half = [replace(one, person=one.person if i % 4 < 2 else "") for i, one in enumerate(rows)]
    only = [one for i, one in enumerate(rows) if i % 4 < 2]
    for name in ("Ada", "Ben"):
        whole, told, fewer = (
            np.log(per_jar(habits_from(some), person=name)) for some in (rows, half, only)
        )
        assert abs(told.mean() - whole.mean()) < 0.02
        assert told.std() < fewer.std()


def test_the_first_jars_tell_who_is_packing(two: Habits) -> None:
    jars = SoFar(jars=3, produce_g=3 * 322.0)
    seen = two.forecast(**ASK, so_far=jars, draws=8000)
    told = two.forecast(**ASK, so_far=jars, person="Ben", draws=8000)
    assert seen.jars.median == pytest.approx(told.jars.median, rel=0.02)
    low, high = seen.jars.interval(0.8)
    before = two.forecast(**ASK, draws=8000).jars.interval(0.8)
    assert high - low < 0.5 * (before[1] - before[0])


@settings(max_examples=25, deadline=None)
@given(st.lists(st.sampled_from(["", "Ada", "Ben", "Cy", "ada"]), min_size=1, max_size=7))
def test_any_names_give_a_forecast(names: list[str]) -> None:
    habits = habits_from([batch(i, name, 250.0 + 9 * i) for i, name in enumerate(names)])
    for person in ("", "Ada", "Dee"):
        found = habits.forecast(**ASK, person=person, draws=64)
        assert np.isfinite(found.jars.draws).all()
        assert np.isfinite(found.brine_ml.draws).all()


def test_lines_of_one_harvest_share_the_kitchen_and_each_has_its_person(two: Habits) -> None:
    lines = [{**ASK, "person": "Ada"}, {**ASK, "person": "Ben"}, dict(ASK)]
    ada, ben, _ = two.forecast_together(lines, draws=8000)
    assert ada.jars.median > 1.15 * ben.jars.median
    # What they share, and the crop, is drawn once: their jars go together.
    assert np.corrcoef(ada.jars.draws, ben.jars.draws)[0, 1] > 0.1
