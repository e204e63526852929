"""What a batch says beside its weights, and what is usual for this person where it says nothing."""

import math
from collections import Counter
from collections.abc import Mapping, Sequence

from msgspec import Struct
from msgspec.structs import replace

from jarcast.domain.batch import Batch
from jarcast.domain.contradictions import contradictions_in
from jarcast.domain.jars import Jar
from jarcast.domain.names import cut_key, pack_key, person_key, produce_key, put_up_as
from jarcast.domain.read_only import ReadOnly
from jarcast.domain.stages import Link, is_cooked, ready_stage, salt_share, was_salted
from jarcast.learning.model.beliefs import Beliefs
from jarcast.learning.model.endings import last_size
from jarcast.learning.model.links import USUAL_CURE_HOURS, Situation, cure_strength

LEAST_CURE_CHANCE = 0.1  # below it a batch that does not mention a cure is taken as uncured


class Circumstances(Struct, frozen=True, gc=False):
    """What a batch says beside its weights.

    ``cured`` is the chance that it was cured, 0 or 1 where it says so. ``volume_ml`` is the fill
    volume of its jars, ``jars`` that in jars of its last sort, and ``step`` the part of a jar that
    a part-full one is counted to. ``counted`` is the count that shows how it ended: of the last
    sort, or of the one that is no whole number; ``smaller`` whether its last jar is one of a
    smaller size, by name. Its values contradict one another on the ``barred`` links, so it
    teaches nothing there; ``doubted`` are the columns they stand in.
    """

    situation: Situation
    cured: float
    hot: bool
    volume_ml: float
    jars: float
    step: float
    counted: float
    smaller: bool
    barred: frozenset[Link]
    doubted: frozenset[str] = frozenset()

    @property
    def counting_sd_ml(self) -> float:
        """Error of the fill volume where the last jar was left part full, an sd in ml."""
        return self.step / math.sqrt(12.0) * self.volume_ml / self.jars


class UsualPractice(Struct, frozen=True):
    """How this person usually does a crop, for what was not recorded.

    ``cured`` counts batches by produce and cut: those cured, and those that say whether they were.
    ``cure_hours`` is the usual time in salt, ``jar_step`` the finest part of a jar that is written,
    ``people`` the batches by who made them, where somebody is named.
    """

    cured: Mapping[str, tuple[float, float]]
    cure_hours: float | None
    jar_step: float
    people: Mapping[str, int] = ReadOnly({})

    def cure_chance(self, produce: str, cut: str, believed: float) -> float:
        """Chance that a batch of this crop is cured when it does not say."""
        cured, said = self.cured.get(f"{produce}/{cut}", (0.0, 0.0))
        return (2.0 * believed + cured) / (2.0 + said)

    def is_new(self, name: str) -> bool:
        """Whether a kitchen of one meets somebody else."""
        return bool(name) and len(self.people) < 2 and name not in self.people

    def who(self, name: str) -> tuple[tuple[str, float], ...]:
        """The chances of who it is that is called so, '' for nobody named; () in a kitchen of one.

        Where nobody is named, each as often as they are, and half a batch more.
        """
        if len(self.people) < 2:
            return ()
        if name:
            return ((name, 1.0),)
        total = sum(self.people.values()) + 0.5 * len(self.people)
        return tuple((one, (count + 0.5) / total) for one, count in self.people.items())


def usual_practice(batches: Sequence[Batch]) -> UsualPractice:
    """How the person who put up these batches usually works."""
    cured: Counter[str] = Counter()
    said: Counter[str] = Counter()
    hours = []
    for batch in batches:
        answer = was_salted(batch)
        if answer is None:
            continue
        key = f"{produce_key(batch.produce)}/{cut_key(batch.cut)}"
        said[key] += 1
        cured[key] += answer
        if batch.cure_hours:
            hours.append(batch.cure_hours)
    usual = sorted(hours)[len(hours) // 2] if hours else None
    counts = {key: (float(cured[key]), float(said[key])) for key in said}
    people = Counter(name for batch in batches if (name := person_key(batch.person)))
    return UsualPractice(counts, usual, jar_step(batches), people)


def jar_step(batches: Sequence[Batch]) -> float:
    """The part of a jar that a part-full one is counted to, of which all counts are multiples."""
    counts = [count for batch in batches for count in batch.jars]
    for step in (0.5, 0.25, 0.125):
        if sum(abs(c / step - round(c / step)) > 1e-6 for c in counts) <= 0.1 * len(counts):
            return step
    return 0.05


def circumstances_of(
    batch: Batch, beliefs: Beliefs, shelf: Mapping[str, Jar], practice: UsualPractice
) -> Circumstances:
    """Read a batch's circumstances."""
    cut, pack = cut_key(batch.cut), pack_key(batch.pack)
    produce = put_up_as(produce_key(batch.produce), batch.cure_hours)
    crop = beliefs.crop(produce, cut, pack)
    answer = was_salted(batch)
    cured = practice.cure_chance(produce, cut, crop.cured) if answer is None else float(answer)
    volume = batch.fill_volume_ml(shelf)
    wide = sum(n for key, n in zip(batch.jar, batch.jars, strict=True) if shelf[key].wide)
    last_ml, counted, smaller = _last_sort(batch, shelf)
    jars = volume / last_ml
    situation = Situation(
        crop=crop,
        produce=produce,
        cut=cut,
        pack=pack,
        cure=cure_strength(batch.cure_hours, practice.cure_hours or USUAL_CURE_HOURS),
        salt_share=salt_share(batch),
        fill_ml=volume / batch.total_jars,
        wide=wide / batch.total_jars,
        people=practice.who(person_key(batch.person)),
    )
    hot = is_cooked(batch)
    flags = contradictions_in(batch, volume)
    barred = frozenset(link for flag in flags for link in flag.links)
    doubted = frozenset(column for flag in flags for column in flag.columns)
    case = Circumstances(
        situation, cured, hot, volume, jars, practice.jar_step, counted, smaller, barred, doubted
    )
    ready = ready_weight(batch, case) or volume * crop.density.centre
    return replace(case, situation=replace(situation, ready_g=ready))


def _last_sort(batch: Batch, shelf: Mapping[str, Jar]) -> tuple[float, float, bool]:
    """How much a jar of the last sort holds, in ml, the count that shows how the batch ended, and
    whether that is one smaller jar, wherever it is named.
    """
    rooms = [shelf[key].fill_volume_ml(batch.headspace_in) for key in batch.jar]
    for room, count in zip(rooms, batch.jars, strict=True):
        if count == 1.0 and last_size(max(rooms), room) == 1.0:
            return room, count, True
    return rooms[-1], next((n for n in batch.jars if n % 1), batch.jars[-1]), False


def ready_weight(batch: Batch, case: Circumstances) -> float | None:
    """Weight in grams as it went into the jars, where it was recorded.

    That is less what was not jarred.
    """
    grams: float | None = getattr(batch, ready_column(case))
    if grams is None or batch.not_jarred_g is None:
        return grams
    left = grams - batch.not_jarred_g
    return left if left > 0.0 else None  # else they contradict one another


def ready_column(case: Circumstances) -> str:
    """The column that holds the ready weight of a batch, or would."""
    salted = case.cured >= LEAST_CURE_CHANCE
    return ready_stage(salted=salted, cooked=case.hot).column


def cell_name(at: Situation) -> str:
    """The cell of a batch: produce and cut."""
    return f"{at.produce}/{at.cut}"
