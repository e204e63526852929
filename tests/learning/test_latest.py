"""Of a crop the latest batches are learned from."""

import datetime as dt

from msgspec.structs import replace

from jarcast.domain.batch import Batch
from jarcast.learning.latest import MOST, learned_from
from jarcast.learning.learned import learn_batches

FIRST = Batch(
    batch="0", date=dt.date(2001, 1, 1), produce="carrot", cut="sticks", pack="raw", jar=("pint",),
    jars=(9.0,), trimmed_g=2700.0,
)  # fmt: skip
MANY = [
    replace(FIRST, batch=str(number), date=FIRST.date + dt.timedelta(number))
    for number in range(MOST + 30)
]


def test_a_history_that_is_no_longer_than_that_is_taken_whole_and_by_date() -> None:
    assert learned_from(reversed(MANY[:MOST])) == MANY[:MOST]


def test_of_a_crop_the_older_ones_are_left_out_and_another_crop_s_are_not() -> None:
    okra = replace(FIRST, batch="o", produce="okra", cut="whole")
    ana = replace(FIRST, batch="a", person="Ana")
    spelt = replace(MANY[-1], batch="s", produce="Carrots ")
    assert learned_from([*MANY, okra, ana, spelt]) == [okra, ana, *MANY[31:], spelt]


def test_what_is_told_of_habits_counts_what_was_learned_from() -> None:
    learned = learn_batches(MANY)
    assert (learned.batches, sum(learned.cells.values())) == (MOST, MOST)
    assert learned.cells == {("carrot", "sticks", "raw"): MOST}
