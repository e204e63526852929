"""Odd values that the user stands by count as they are."""

import datetime as dt

import numpy as np
from msgspec.structs import replace

from jarcast import habits_from
from jarcast.domain.batch import Batch
from jarcast.domain.last_jar import LastJar
from jarcast.learning.learned import Learned, learn_batches
from jarcast.learning.slips import find_slips


def household() -> list[Batch]:
    """Eleven alike batches of carrots, and a twelfth that packs 2.2 times as much."""
    rng = np.random.default_rng(5)
    found = [
        Batch(
            batch=str(number), date=dt.date(2024, 7, 1) + dt.timedelta(days=number),
            produce="carrot", cut="sticks", pack="raw", jar=("quart",), cure_hours=0.0,
            jars=(6.0,), trimmed_g=3000.0 * float(np.exp(0.05 * rng.standard_normal())),
        )
        for number in range(11)
    ]  # fmt: skip
    return [*found, replace(found[0], batch="odd", trimmed_g=1400.0, date=dt.date(2024, 8, 1))]


def learned(record: list[Batch]) -> Learned:
    """What the record teaches of somebody who leaves the last jar part full, and has said so."""
    return learn_batches(record, last_jar=LastJar.PART)


def test_a_confirmed_value_is_no_longer_named_and_counts() -> None:
    batches = household()
    confirmed = [*batches[:-1], replace(batches[-1], confirmed=frozenset({"trimmed_g"}))]
    assert [slip.batch for slip in find_slips(learned(batches).verdicts(), batches)] == ["odd"]
    assert find_slips(learned(confirmed).verdicts(), confirmed) == ()
    asked = {"produce": "carrot", "cut": "sticks", "pack": "raw", "jar": "quart"}

    def middle(record: list[Batch]) -> float:
        habits = habits_from(record, whole_jars=False)
        found = habits.forecast(**asked, trimmed_g=3000.0, cure_hours=0.0, draws=400_000)
        return found.jars.median

    # A looser batch that counts means more jars, if not many more after so odd a one; taken for a
    # slip it changes hardly anything.
    without = middle(batches[:-1])
    assert abs(middle(batches) / without - 1.0) < 0.002
    assert middle(confirmed) / without > 1.003
