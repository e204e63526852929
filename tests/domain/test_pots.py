"""Pots over time: a reading keeps what was made by then, and the same facts give one answer."""

import datetime as dt
import itertools

import pytest

from jarcast.domain.packing import SoFar
from jarcast.domain.pots import Made, is_less, known_to_be_made, packing_by, pot_problem, pots_made
from jarcast.ledger.steps import OpenBatch, Step, StepKind

CUP = 236.5882365  # ml, NIST Handbook 44, Appendix C
NOW = dt.datetime(2024, 8, 31, tzinfo=dt.UTC)
READ = SoFar(jars=8.0, pot_left_ml=1.0 * CUP)


def cups(ml: float | None) -> float | None:
    return None if ml is None else ml / CUP


def told(*log: Made | SoFar) -> tuple[float | None, float | None, float | None]:
    """Made in all, in the pot now, and gone from it, in cups."""
    found = packing_by(log)
    assert found is not None
    read = next(one for one in found.readings if one.pot_left_ml is not None)
    return cups(found.brine_made_ml), cups(found.pot_left_ml), cups(read.used_ml)


def test_the_pot_now_is_what_was_left_and_what_was_made_since() -> None:
    # By hand: 8 cups made, 1 left, 7 gone; 4 cups more make 5 in the pot, and still 7 gone.
    assert told(Made(8 * CUP), READ) == pytest.approx((8, 1, 7))
    assert told(Made(8 * CUP), READ, Made(12 * CUP)) == pytest.approx((12, 5, 7))
    assert told(Made(8 * CUP), READ, Made(12 * CUP), Made(15 * CUP)) == pytest.approx((15, 8, 7))


def test_before_the_packing_only_what_was_made_is_known() -> None:
    assert packing_by([]) is None
    assert packing_by([Made(None)]) is None
    assert packing_by([Made(8 * CUP)]) == SoFar(jars=0.0, brine_made_ml=8 * CUP)
    assert packing_by([Made(8 * CUP), Made(None), READ]) == READ


def test_the_same_facts_in_another_order_of_entry_give_the_same_answer() -> None:
    after = SoFar(jars=8.0, pot_left_ml=5 * CUP)
    same = [
        (Made(8 * CUP), READ, Made(12 * CUP)),  # the second pot after the reading
        (Made(8 * CUP), Made(12 * CUP), after),  # before it
        (Made(12 * CUP), after),  # both at once
        (READ, Made(8 * CUP), Made(12 * CUP)),  # the first pot said late
        (Made(8 * CUP), SoFar(jars=8.0), READ, Made(12 * CUP)),
        (Made(8 * CUP), READ, SoFar(jars=8.0), Made(12 * CUP)),
    ]
    for log in same:
        assert told(*log) == pytest.approx((12, 5, 7)), log


def test_more_left_than_was_made_by_then_tells_that_the_next_pot_was_there() -> None:
    # 9 cups cannot be left of 8: the second pot, noted after the reading, was made before it.
    read = SoFar(jars=4.0, pot_left_ml=9 * CUP)
    assert told(Made(8 * CUP), read, Made(12 * CUP)) == pytest.approx((12, 9, 3))


def test_a_third_pot_may_come_before_with_or_after_a_reading() -> None:
    # 6, 10 and 13 cups made; 4 jars take 3 cups of the first 6, 4 more jars 4 of the next.
    first, second = SoFar(jars=4.0, pot_left_ml=3 * CUP), SoFar(jars=8.0, pot_left_ml=3 * CUP)
    plain = packing_by([Made(6 * CUP), first, Made(10 * CUP), second, Made(13 * CUP)])
    assert plain is not None
    for moved in (
        [Made(6 * CUP), Made(10 * CUP), SoFar(jars=4.0, pot_left_ml=7 * CUP), second,
         Made(13 * CUP)],
        [Made(6 * CUP), first, Made(10 * CUP), Made(13 * CUP),
         SoFar(jars=8.0, pot_left_ml=6 * CUP)],
        [Made(13 * CUP), SoFar(jars=4.0, pot_left_ml=10 * CUP),
         SoFar(jars=8.0, pot_left_ml=6 * CUP)],
    ):  # fmt: skip
        found = packing_by(moved)
        assert found is not None
        assert cups(found.pot_left_ml) == pytest.approx(6)
        for one, other in zip(found.readings, plain.readings, strict=True):
            assert one.used_ml == pytest.approx(other.used_ml or 0.0)


def test_a_note_without_a_reading_leaves_the_readings_before_it() -> None:
    four = SoFar(jars=4.0, pot_left_ml=4.5 * CUP)
    again = packing_by([Made(8 * CUP), four, Made(12 * CUP), SoFar(jars=4.0)])
    assert again == SoFar(jars=4.0, pot_left_ml=8.5 * CUP, brine_made_ml=12 * CUP)
    later = packing_by([Made(8 * CUP), four, Made(12 * CUP), SoFar(jars=6.0)])
    assert later is not None
    assert (later.jars, later.pot_left_ml, later.brine_made_ml) == (6.0, None, 12 * CUP)
    assert later.earlier == SoFar(jars=4.0, pot_left_ml=4.5 * CUP, brine_made_ml=8 * CUP)


def test_less_made_in_all_corrects_the_last_word_and_the_pots_before_stand() -> None:
    # 8 cups were meant as 6, before the reading: 6 made then, and 1 left of them.
    assert told(Made(8 * CUP), READ, Made(6 * CUP)) == pytest.approx((6, 1, 5))
    # The second pot was 3 cups, not 4: still 8 made by the reading.
    log = (Made(8 * CUP), READ, Made(12 * CUP), Made(11 * CUP))
    assert told(*log) == pytest.approx((11, 4, 7))
    # Mended upwards it is no pot of its own either.
    assert told(Made(8 * CUP), READ, Made(9 * CUP, mends=True)) == pytest.approx((9, 1, 8))
    assert told(Made(8 * CUP), READ, Made(12 * CUP), Made(4 * CUP))[0] == pytest.approx(4)


def test_jars_that_go_back_leave_out_the_readings_of_more() -> None:
    found = packing_by([Made(8 * CUP), READ, SoFar(jars=5.0, produce_left_g=900.0)])
    assert found is not None
    assert found.readings == (found,)


def test_the_same_jars_weighed_again_are_as_they_were_weighed_last() -> None:
    first = SoFar(jars=3.0, produce_g=900.0, brine_ml=500.0)
    found = packing_by([first, SoFar(jars=3.0, produce_left_g=1500.0)])
    assert found == SoFar(jars=3.0, produce_left_g=1500.0, brine_ml=500.0)


def test_an_order_of_entry_that_time_allows_never_changes_what_is_gone() -> None:
    # Two pots and a reading between them, and a count of jars anywhere after the reading.
    events = [Made(8 * CUP), READ, Made(12 * CUP)]
    for place in (2, 3):
        log = [*events]
        log.insert(place, SoFar(jars=10.0))
        found = packing_by(log)
        assert found is not None
        assert found.earlier is not None
        assert cups(found.earlier.used_ml) == pytest.approx(7)
        assert cups(found.brine_made_ml) == pytest.approx(12)


def test_the_steps_of_a_ledger_are_such_a_log() -> None:
    cells = {"jars": 8.0, "pot_left_ml": CUP, "brine_made_ml": 8 * CUP, "earlier": None}
    typed = [
        (StepKind.BEGIN, {"produce": "carrot", "brine_made": "8 cups"}, {}),
        (StepKind.PACK, {"jars": "8", "pot_left": "1 cup"}, cells),
        (StepKind.WEIGH, {"brine_made": "8 cups + 4 cups"}, {}),
        (StepKind.WEIGH, {"brine_made": "13 cups"}, {"mends": True}),
    ]
    steps = tuple(Step("q", *said, NOW, n) for n, said in enumerate(typed))
    made = [packing_by(OpenBatch("q", steps[:n]).log) for n in range(1, 5)]
    assert [cups(one.pot_left_ml) for one in made[1:] if one] == pytest.approx([1, 5, 6])
    assert [cups(one.brine_made_ml) for one in made if one] == pytest.approx([8, 8, 12, 13])


def test_a_pack_note_that_says_the_brine_made_reads_it_as_made_by_then() -> None:
    cells = {"jars": 8.0, "pot_left_ml": 5 * CUP, "brine_made_ml": 12 * CUP}
    begun = Step("q", StepKind.BEGIN, {"brine_made_ml": str(8 * CUP)}, {}, NOW, 1)
    step = Step("q", StepKind.PACK, {"brine_made": "8 cups + 4 cups"}, cells, NOW, 2)
    found = packing_by(OpenBatch("q", (begun, step)).log)
    assert found == SoFar(jars=8.0, pot_left_ml=5 * CUP, brine_made_ml=12 * CUP)
    unread = Step("q", StepKind.WEIGH, {"brine_made": "a lot"}, {}, NOW, 3)
    assert OpenBatch("q", (unread,)).log == (Made(None),)


@pytest.mark.parametrize(
    ("log", "pots"),
    # In cups: 8 made and 12 in all is a second pot of 4; a total mended is no pot of its own.
    [
        ([], []),
        ([READ], []),
        ([Made(8 * CUP)], [8]),
        ([Made(8 * CUP), READ, Made(12 * CUP)], [8, 4]),
        ([Made(8 * CUP), READ, Made(12 * CUP), Made(11 * CUP)], [8, 3]),
        ([Made(8 * CUP), Made(9 * CUP, mends=True)], [9]),
        ([Made(8 * CUP), Made(8 * CUP)], [8]),
        ([Made(8 * CUP), Made(None)], []),
        ([SoFar(jars=8.0, brine_made_ml=12 * CUP), Made(14 * CUP)], [12, 2]),
    ],
)
def test_each_pot_is_what_was_made_since_the_one_before(
    log: list[Made | SoFar], pots: list[float]
) -> None:
    assert [cups(ml) for ml in pots_made(log)] == pytest.approx(pots)


def test_what_must_have_been_made_is_what_was_said_or_what_stands_there() -> None:
    assert known_to_be_made(None) == 0.0
    assert known_to_be_made(SoFar(3.0, brine_made_ml=900.0)) == 900.0
    assert known_to_be_made(SoFar(3.0, brine_ml=500.0, pot_left_ml=700.0)) == 1200.0
    later = SoFar(5.0, earlier=SoFar(3.0, pot_left_ml=900.0))
    assert known_to_be_made(later) == 900.0
    assert is_less(4 * CUP, 8 * CUP)
    assert not is_less(sum(itertools.repeat(0.1 * CUP, 80)), 8 * CUP)


def test_more_gone_than_the_jars_take_points_to_the_pot_before() -> None:
    note = SoFar(jars=4.0, pot_left_ml=4.5 * CUP, brine_made_ml=12 * CUP)  # 7.5 cups gone
    assert "--pot-before" in pot_problem(note, most_ml=5 * CUP, added_ml=4 * CUP)
    assert "--pot-before" not in pot_problem(note, most_ml=5 * CUP)
    assert "--pot-before" not in pot_problem(note, most_ml=3 * CUP, added_ml=4 * CUP)
    assert pot_problem(note, most_ml=8 * CUP, added_ml=4 * CUP) == ""
    assert pot_problem(SoFar(jars=4.0), most_ml=1.0) == ""
