"""What a batch says beside its weights, and what is usual for this person where it says nothing."""

import math
from collections import Counter
from collections.abc import Mapping, Sequence

from msgspec import Struct
from msgspec.structs import replace

from jarcast.domain.batch import Batch, contradictions_in
from jarcast.domain.jars import Jar
from jarcast.domain.names import cut_key, pack_key, produce_key
from jarcast.domain.stages import Link, is_cooked, ready_stage, salt_share, was_salted
from jarcast.learning.model.beliefs import Beliefs
from jarcast.learning.model.links import USUAL_CURE_HOURS, Situation, cure_strength

LEAST_CURE_CHANCE = 0.1  # below it a batch that does not mention a cure is taken as uncured


class Circumstances(Struct, frozen=True):
    """What a batch says beside its weights.

    ``cured`` is the chance that it was cured, 0 or 1 where it says so. ``volume_ml`` is the fill
    volume of its jars and ``volume_sd_ml`` the error of counting them. Its values contradict one
    another on the ``barred`` links, so it teaches nothing there.
    """

    situation: Situation
    cured: float
    hot: bool
    volume_ml: float
    volume_sd_ml: float
    barred: frozenset[Link]


class UsualPractice(Struct, frozen=True):
    """How this person usually does a crop, for what was not written down.

    ``cured`` counts batches by produce and cut: those cured, and those that say whether they were.
    ``cure_hours`` is the usual time in salt, ``jar_step`` the finest part of a jar that is written.
    """

    cured: Mapping[str, tuple[float, float]]
    cure_hours: float | None
    jar_step: float

    def cure_chance(self, produce: str, cut: str, believed: float) -> float:
        """Chance that a batch of this crop is cured when it does not say."""
        cured, said = self.cured.get(f"{produce}/{cut}", (0.0, 0.0))
        return (2.0 * believed + cured) / (2.0 + said)


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
    return UsualPractice(counts, usual, jar_step(batches))


def jar_step(batches: Sequence[Batch]) -> float:
    """The step in which jars are counted, of which all counts are multiples.

    Half a jar until at least eight batches have whole jars only.
    """
    counts = [count for batch in batches for count in batch.jars]
    if len(batches) >= 8 and all(count == round(count) for count in counts):
        return 1.0
    for step in (0.5, 0.25, 0.125):
        if sum(abs(c / step - round(c / step)) > 1e-6 for c in counts) <= 0.1 * len(counts):
            return step
    return 0.05


def circumstances_of(
    batch: Batch, beliefs: Beliefs, shelf: Mapping[str, Jar], practice: UsualPractice
) -> Circumstances:
    """Read a batch's circumstances."""
    produce, cut, pack = produce_key(batch.produce), cut_key(batch.cut), pack_key(batch.pack)
    crop = beliefs.crop(produce, cut, pack)
    answer = was_salted(batch)
    cured = practice.cure_chance(produce, cut, crop.cured) if answer is None else float(answer)
    volume = batch.fill_volume_ml(shelf)
    wide = sum(n for key, n in zip(batch.jar, batch.jars, strict=True) if shelf[key].wide)
    step_ml = practice.jar_step * volume / batch.total_jars
    situation = Situation(
        crop=crop,
        produce=produce,
        cut=cut,
        pack=pack,
        cure=cure_strength(batch.cure_hours, practice.cure_hours or USUAL_CURE_HOURS),
        salt_share=salt_share(batch),
        fill_ml=volume / batch.total_jars,
        wide=wide / batch.total_jars,
    )
    hot = is_cooked(batch)
    barred = frozenset(link for flag in contradictions_in(batch, volume) for link in flag.links)
    case = Circumstances(situation, cured, hot, volume, step_ml / math.sqrt(12.0), barred)
    ready = ready_weight(batch, case) or volume * crop.density.centre
    return replace(case, situation=replace(situation, ready_g=ready))


def ready_weight(batch: Batch, case: Circumstances) -> float | None:
    """Weight in grams as it went into the jars, where it was written down."""
    grams: float | None = getattr(batch, ready_column(case))
    return grams


def ready_column(case: Circumstances) -> str:
    """The column that holds the ready weight of a batch, or would."""
    salted = case.cured >= LEAST_CURE_CHANCE
    return ready_stage(salted=salted, cooked=case.hot).column


def cell_name(at: Situation) -> str:
    """The cell of a batch: produce and cut."""
    return f"{at.produce}/{at.cut}"
