"""Which batch counts for which line of the plans that are kept: each for one at most."""

import datetime as dt
import random
import time

import pytest

from jarcast.app.kept_plans import KeptPlan
from jarcast.app.planned_and_filled import counted
from jarcast.domain.batch import Batch
from jarcast.harvest.plan.line import Plan, PlanLine

FIRST = dt.date(2025, 7, 1)
CROPS = ("carrot", "beet", "okra")
CUTS = ("", "slices", "sticks")


def batch(name: str, produce: str, cut: str, day: int, jars: float = 5.0) -> Batch:
    return Batch(
        batch=name, date=FIRST + dt.timedelta(days=day), produce=produce, cut=cut, jar=("pint",),
        jars=(jars,),
    )  # fmt: skip


def kept(name: str, since: int, lines: list[PlanLine]) -> KeptPlan:
    planned = tuple((10.0, 8.0, 12.0) for _ in lines)
    day = FIRST + dt.timedelta(days=since)
    return KeptPlan(name, day, day, Plan(tuple(lines)), planned, (10.0 * len(lines), 0.0, 0.0))


def line(produce: str, cut: str, days: tuple[int, int] | None = None, name: str = "") -> PlanLine:
    span = None if days is None else tuple(FIRST + dt.timedelta(days=day) for day in days)
    return PlanLine(
        place="", name=name, produce=produce, cut=cut, as_bought_g=4000.0,
        days=None if span is None else (span[0], span[1]),
    )  # fmt: skip


@pytest.mark.parametrize("seed", range(20))
def test_every_batch_counts_once_or_not_at_all_and_only_where_it_may(seed: int) -> None:
    rng = random.Random(seed)  # noqa: S311

    def any_line(at: int) -> PlanLine:
        start = rng.randrange(30)
        days = rng.choice([None, (start, start + rng.randrange(10))])
        name = rng.choice(["", f"b{at}"])
        return line(rng.choice(CROPS), rng.choice(CUTS), days, name)

    plans = {
        name: kept(name, rng.randrange(10), [any_line(at) for at in range(rng.randrange(1, 9))])
        for name in ("one", "two")
    }
    batches = sorted(
        (
            batch(f"b{at}", rng.choice(CROPS), rng.choice(CUTS), rng.randrange(40))
            for at in range(40)
        ),
        key=lambda one: one.date,
    )
    found, none = counted(plans, batches, str)
    names = [one.batch for own in found.values() for one in own] + [one.batch for one in none]
    assert sorted(names) == sorted(one.batch for one in batches)

    def may(own: Batch, plan: KeptPlan, asked: PlanLine) -> bool:
        """The rule, as the reference says it."""
        first, last = asked.days or (plan.since, dt.date.max)
        cuts = "" in (asked.cut, own.cut) or asked.cut == own.cut
        return own.produce == asked.produce and cuts and first <= own.date <= last

    for (name, at), own in found.items():
        asked = plans[name].plan.lines[at]
        for one in own:
            assert one.batch == asked.name or may(one, plans[name], asked)
    taken = {place for place, own in found.items() if own[0].batch == _line(plans, place).name}
    for one in none:
        for name, plan in plans.items():
            for at, asked in enumerate(plan.plan.lines):
                assert (name, at) in taken or not may(one, plan, asked)


def _line(plans: dict[str, KeptPlan], place: tuple[str, int]) -> PlanLine:
    return plans[place[0]].plan.lines[place[1]]


def test_once_no_line_is_empty_the_one_that_lacks_the_most_comes_next() -> None:
    plan = kept("p", 0, [line("beet", "slices"), line("beet", "slices")])
    jars = {"a": 7.0, "b": 2.0, "c": 6.0, "d": 1.0}
    batches = [
        batch(name, "beet", "slices", day, count) for day, (name, count) in enumerate(jars.items())
    ]
    found, _ = counted({"p": plan}, batches, str)
    # 10 jars each: 7 and 2 filled, so 3 and 8 lack; c's 6 go to the second, which then lacks 2.
    assert {at: [one.batch for one in own] for (_, at), own in found.items()} == {
        0: ["a", "d"],
        1: ["b", "c"],
    }


@pytest.mark.xdist_group("alone")
def test_five_thousand_batches_are_counted_over_five_thousand_lines() -> None:
    plan = kept("p", 0, [line(CROPS[at % 3], CUTS[at % 3]) for at in range(5_000)])
    batches = [batch(f"b{at}", CROPS[at % 3], CUTS[at % 3], at // 200) for at in range(5_000)]
    start = time.process_time()
    found, none = counted({"p": plan}, batches, str)
    assert time.process_time() - start < 5.0
    assert (len(found), none) == (5_000, [])
