"""What a screen shows of an open batch: its big figures, its question, what comes next."""

import re
from collections.abc import Mapping
from typing import NamedTuple

from jarcast.domain.batch import Batch, number_text
from jarcast.domain.stages import STAGES
from jarcast.forecast.first_load import waits_for_reading
from jarcast.measures import Units, format_made, format_volume
from jarcast.page.desk import Seen
from jarcast.views.pots import pots_of, read_when
from jarcast.views.words import chance_words, exactly, filled_words, halves

LEVEL, SHORT = 0.8, 0.05  # as the commands at the counter say it
PARTS = ("0", "1/4", "1/2", "3/4")  # of a part-full last jar


class Figure(NamedTuple):
    """One big number: what it is, the number, what belongs to it. ``warn``: it wants doing."""

    label: str
    number: str
    beside: str = ""
    warn: bool = False


class Question(NamedTuple):
    """One question of a screen: the words, how its answer is read, which command takes it."""

    label: str
    asks: str
    kind: str
    command: str = "weigh"
    help: str = ""


_BOWLS = "Add up several bowls, and take off the empty one: 3 lb + 2 lb - 410 g."
QUESTIONS: Mapping[str, Question] = {
    **{
        stage.typed: Question(
            f"Weight, {stage.label}", f"What does it weigh, {stage.label}?", "weight", help=_BOWLS
        )
        for stage in STAGES
    },
    "salt": Question("Salt", "How much salt went on it?", "salt"),
    "cure_hours": Question("Hours in salt", "How many hours was it in salt?", "hours",
                           help="0 if it was not salted."),
    "more_brine": Question("A pot made", "How much brine did you make just now?", "volume",
                           help="Just this pot; earlier ones are already counted."),
    "brine_made": Question("All brine made", "How much brine was made in all?", "volume",
                           help="Every pot so far."),
    "pot_left": Question("Left in the pot", "How much brine is in the pot now?", "volume", "pack"),
    "produce_left": Question("Left in the bowl", "What does the produce still to pack weigh?",
                             "weight", "pack", _BOWLS),
    "note": Question("Note", "Anything worth remembering?", "text"),
}  # fmt: skip


def figures(seen: Seen, units: Units) -> list[Figure]:
    """The big numbers of a batch, the most pressing first."""
    now = seen.now
    if now is None:
        return [Figure("Jars packed", exactly(seen.jars))] if seen.jars else []
    middle, low, high = map(halves, now.counts(now.jars, LEVEL))
    span = "" if low == high else f"{low} to {high}, 8 times in 10"
    if not seen.jars:
        found = [Figure("Jars it will fill", middle, span)]
        return found if not now.has_brine else [*found, *_to_make(seen, units)]
    left, least, most = map(halves, now.counts(now.jars_to_come, LEVEL))
    between = "" if least == most else f"{least} to {most}, 8 times in 10"
    found = [Figure("Jars packed", exactly(seen.jars)), Figure("Still to come", left, between)]
    return [*_lasts(seen, units), *found]


def _to_make(seen: Seen, units: Units) -> list[Figure]:
    now = seen.now
    assert now is not None  # noqa: S101 - asked of a forecast alone
    order = now.brine_to_make(SHORT, units)
    pots = pots_of(now, units, SHORT, seen.load)
    if now.so_far is not None and now.brine_there_ml is not None and not pots:
        return _lasts(seen, units)
    if pots:
        jars = f"first load of {exactly(pots[0].jars)}"
        if pots[0].ml <= 0.0:
            return [Figure("Brine in the pot", "Enough", jars)]
        return [Figure("Brine to heat first", format_made(pots[0].ml, units), jars)]
    return [Figure("Brine to make", format_made(order, units))]


def _lasts(seen: Seen, units: Units) -> list[Figure]:
    """Whether the brine there lasts, and what to heat."""
    now = seen.now
    if now is None or not now.has_brine:
        return []
    order = now.brine_to_make(SHORT, units)
    there, chance = now.brine_there_ml, now.runs_out
    if there is None or chance is None:
        return [Figure("Brine for the rest", format_made(order, units), warn=order > 0.0)]
    pot = f"about {format_volume(there.median, units)} in the pot"
    odds = f"{chance_words(chance)} of running short"
    if order <= 0.0:
        return [Figure("The brine lasts", "Enough", f"{pot}; {odds}")]
    if waits_for_reading(now, seen.load):
        jars = f"first load of {exactly(seen.load)}; weigh bowl and pot {read_when(now)}"
        return [Figure("Brine in the pot", "Enough", jars)]
    return [Figure("Heat now", format_made(order, units), f"{pot}; {odds}", warn=True)]


def filled_of(batch: Batch) -> str:
    """The jars that a batch filled: '7½ pints', '4 pints + 2 half-pints'."""
    return filled_words(zip(batch.jars, batch.jar, strict=True))


def next_step(seen: Seen) -> str:
    """What an open batch most likely needs next: 'weigh', 'pack' or 'packing'."""
    if not seen.at.weighed and not seen.jars:
        return "weigh"
    return "packing" if seen.jars else "pack"


def jars_text(packed: Mapping[str, float]) -> str:
    """Counts by sort as one types them: '3', '4 pint + 2 half-pint'."""
    filled = {sort: number for sort, number in packed.items() if number}
    return " + ".join(f"{number_text(number)} {sort}" for sort, number in filled.items()) or "0"


class Packed(NamedTuple):
    """Jars as the form at the end shows them: counts by sort, and what fills the part-full one.

    ``parts`` are the pictures to choose from, ``part`` the one that was noted, ``sort`` the jar
    that it is of, '' where none was.
    """

    counts: Mapping[str, str]
    part: str
    sort: str
    parts: tuple[str, ...] = PARTS


def packed_now(packed: Mapping[str, float]) -> Packed:
    """Jars noted so far; a part that is no quarter has a picture of its own, so as to be kept."""
    counts = {sort: number_text(number) for sort, number in packed.items()}
    found = [(sort, number) for sort, number in packed.items() if number != int(number)]
    if not found:
        return Packed(counts, "0", "")
    sort, number = found[-1]
    counts[sort] = number_text(int(number))
    rest = round(number - int(number), 6)
    part = next((known for known in PARTS if _share(known) == rest), number_text(rest))
    return Packed(counts, part, sort, tuple(sorted({*PARTS, part}, key=_share)))


def packed_anew(packed: Packed, sent: Mapping[str, str]) -> Packed:
    """The same as it was sent, to be mended."""
    counts = {k.removeprefix("jars-"): v for k, v in sent.items() if k.startswith("jars-")}
    part = sent.get("part", packed.part)
    return packed._replace(
        counts={**packed.counts, **counts},
        part=part if part in packed.parts else "0",
        sort=sent.get("part_of", packed.sort),
    )


def full_of(part: str) -> float:
    """How full a jar of this picture is: '1/2' is 0.5; 0 for what is no part of one."""
    try:
        share = _share(part)
    except (ValueError, ZeroDivisionError):
        return 0.0
    return share if 0.0 < share < 1.0 else 0.0


def _share(part: str) -> float:
    top, _, bottom = part.partition("/")
    return float(top) / float(bottom or 1)


def with_part(packed: Mapping[str, float], part: str, sort: str = "") -> str:
    """Counts by sort with the part-full jar, '4 pint + 2.5 half-pint'; the last, unless named."""
    filled = {sort: number for sort, number in packed.items() if number} or dict(packed)
    share = full_of(part)
    if share and filled:
        last = sort if sort in packed else list(filled)[-1]
        filled[last] = filled.get(last, 0.0) + share
    return jars_text(filled)


# A command to be typed at the terminal stays as it is; an option outside of one gets its label.
_COMMAND_OR_OPTION = re.compile(
    r"jarcast(?: [a-z][a-z-]*)+"
    r"(?: (?:'[^']*'|\"[^\"]*\"|\.\.\.|(?:[^\s'\";:.]|\.(?=\w))+))*|--([a-z][a-z-]*)"
)
_STAND_BY = re.compile(r"\badd --(?:yes|as-named)\b")
_INSTEAD = {
    "batch": "its batch", "jars": "jars", "brine-made": "all brine made", "yes": "'It is right'",
    "more-brine": "a pot made", "produce": "crop", "recipe": "recipe", "person": "who packs",
    "as-named": "'It is right'",
}  # fmt: skip


def in_page_words(text: str) -> str:
    """A message of a command, its options named as the page names them."""

    def label(found: re.Match[str]) -> str:
        if not found[1]:
            return found[0]
        key = found[1].replace("-", "_")
        known = QUESTIONS.get(key)
        return _INSTEAD.get(found[1]) or (found[1] if known is None else known.label.casefold())

    return _COMMAND_OR_OPTION.sub(label, _STAND_BY.sub("tick 'It is right'", text))
