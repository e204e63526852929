"""What is known of an open batch, and how it went once it is closed."""

from jarcast.app.open_batch import Underway
from jarcast.domain.batch import Batch
from jarcast.domain.jar_text import planned
from jarcast.domain.stages import STAGE_COLUMNS, before_salt
from jarcast.measures import Units, format_volume, format_weight
from jarcast.trackrecord.hindsight import TrackRecord
from jarcast.views.ranges import alike
from jarcast.views.words import counted, exactly, filled_words, halves, jar_words, wrapped


def known_text(at: Underway, units: Units) -> str:
    """What is known of an open batch: weights, salt, brine made, jars packed."""
    before, after = list[str](), list[str]()
    for stage in at.weighed:
        column = f"{stage}_g"
        about = "about " if at.batch.doubt_of(column) else ""
        weight = about + format_weight(getattr(at.batch, column), units)
        (before if before_salt(column) else after).append(f"{stage.replace('_', ' ')} {weight}")
    said = [*before, *_salted(at.batch, units), *after]
    if at.batch.brine_made_ml is not None:
        said.append(f"{format_volume(at.batch.brine_made_ml, units)} of brine made")
    if at.so_far is not None and at.so_far.jars:
        said.append(f"{_packed(at)} packed")
    return ", ".join(said) or "nothing weighed yet"


def _packed(at: Underway) -> str:
    """The jars packed so far, each count with its sort where there are several."""
    jars = 0.0 if at.so_far is None else at.so_far.jars
    by_sort = planned(at.typed.get("jar", ""), jars)
    if len(set(at.batch.jar)) < 2 or not by_sort:
        return counted(jars, "jar", "jars")
    # The sorts come in the batch's turns, whatever an own jar was called when it was typed.
    keys = dict.fromkeys(at.batch.jar)
    return filled_words((number, key) for key, number in zip(keys, by_sort.values(), strict=False))


def _salted(batch: Batch, units: Units) -> list[str]:
    """The salt and the hours in it, as far as they are known."""
    hours = batch.cure_hours
    if hours == 0.0:
        return ["not salted"]
    said = [] if batch.salt_g is None else [f"{format_weight(batch.salt_g, units)} of salt"]
    return said if hours is None else [*said, f"{counted(hours, 'hour', 'hours')} in salt"]


def went_text(record: TrackRecord, units: Units, batch: Batch) -> str:
    """How the last forecast before the jars came out: its middle, and what came of the batch."""
    if not record.scored:
        return ""
    one = max(record.scored, key=lambda scored: STAGE_COLUMNS.index(scored.stored.stage))
    jars, sorts = one.stored.jars.median, {turn.jar for turn in one.stored.turns}
    word = jar_words(min(sorts), jars) if len(sorts) == 1 else "jars"
    came = filled_words(zip(batch.jars, batch.jar, strict=True))
    if not set(batch.jar) <= sorts:
        came += f" (as much as {exactly(one.jars.was)} {word})"
    said = f"The forecast was about {halves(jars)} {word}; you filled {came}."
    if one.brine is None or one.stored.brine_ml is None:
        return wrapped(said)
    say = alike(max(one.stored.brine_ml.median, one.brine.was), units)
    middle, used = say(one.stored.brine_ml.median), say(one.brine.was)
    least = "at least " if one.brine.at_least else ""
    return wrapped(f"{said} Brine: forecast {middle}, used {least}{used}.")
