"""What a line tells once all of it is read: which pints are jars, what the brine came to."""

import re
from collections.abc import Callable
from contextlib import suppress
from functools import partial

from jarcast.domain.names import plain_words, produce_key
from jarcast.errors import MeasureError
from jarcast.measures import parse_volume, parse_weight
from jarcast.notebook.asides import salts_produce
from jarcast.notebook.crop_name import FILLERS
from jarcast.notebook.ingredients import BRINE
from jarcast.notebook.jar_counts import TWICE, fractioned, half_in, told_apart
from jarcast.notebook.part_full import PartFull, counted_so
from jarcast.notebook.pieces import JARS, VOLUME, as_jars, unit_of
from jarcast.notebook.reading import Reading, unfit
from jarcast.notebook.settled import (
    brine_told,
    count_told,
    cut_told,
    full_told,
    half_told,
    left_told,
    made_told,
    note_count,
    off_told,
    salt_told,
    used_told,
    whole_told,
)

_BRINE = re.compile(rf"\b{BRINE}\b", re.IGNORECASE)
_ROUNDED = 1.05  # parts may be rounded, and come to a little more than their sum
_OF_MADE = FILLERS | {"again", "another", "fresh", "more", "new"}
_MADE_AFTER = re.compile(
    r"\b(?:ran out|used|gone|left)\b.*\b(?:made|make|making|mixed|heated)\b.*\b(?:more|another)\b"
    r"|\b(?:ran out|used|gone|left)\b.*\b(?:more|another)\b.*\b(?:brine|made)\b",
    re.IGNORECASE,
)


def settle(at: Reading, crop: str, read: Callable[[], None]) -> None:
    """Place what waited for the rest of the line; ``crop`` are the words that name it.

    ``read`` reads the clauses that answers stand for.
    """
    _settle_jars(at, crop, read)
    _settle_made(at)
    _settle_part_full(at)
    _settle_liquids(at)
    _settle_used(at)
    _settle_ran_out(at)
    _settle_off(at)
    _settle_parts(at)
    _settle_salt(at)


def _settle_jars(at: Reading, crop: str, read: Callable[[], None]) -> None:
    counts = told_apart(at.jars, crop, at.shelf)
    if any(count_told(at, one, at.answer(one.clause, why), why) for one, why in counts.asked):
        read()
        _settle_jars(at, crop, read)
        return
    if counts.jars:
        at.cells["jars"] = as_jars(counts.jars)
        _settle_half(at)
    if counts.trimmed and "trimmed" in at.cells:
        why = f"what is {counts.trimmed}? Say 'jars' or 'trimmed' with it"
        at.ask(counts.trimmed, why, partial(cut_told, at, counts.trimmed))
    elif counts.trimmed:
        at.cells["trimmed"] = counts.trimmed
        at.taken.append(f"{counts.trimmed} {counts.cut} taken as trimmed")
    at.taken += counts.taken
    for one, why in counts.asked:
        twice = why.startswith(TWICE)
        at.ask(one.clause, why, unfit, f"{counts.jars} is kept" if twice else "it is not added")
        note_count(at, one)


def _settle_half(at: Reading) -> None:
    """Ask whether a half beside whole jars of its sort is a smaller jar, or half a jar."""
    written = at.cells["jars"]
    if (half := half_in(written, at.shelf)) is None:
        return
    at.cells["jars"] = half.whole
    smaller = f"'{half.smaller}' or " if half.smaller else ""
    why = f"is the half a smaller jar, or half a jar? Write {smaller}'{half.part}'"
    at.ask(written, why, partial(half_told, at, half), f"{half.whole} is kept")


def _settle_part_full(at: Reading) -> None:
    """A whole count of jars less what one of them lacks, where the words say how full it was."""
    jars, said = at.cells.get("jars", ""), at.part_full
    if said is None or not jars:
        return
    found, words = counted_so(jars, said, at.shelf), said.words.strip()
    if not found:
        within, on_top = (
            fractioned(counted_so(jars, PartFull("", 0.5, joined=joined), at.shelf))
            for joined in (False, True)
        )
        why = (
            f"is that one of {jars}, and how full? Write '{within}' where it is one of them and "
            f"half full, '{on_top}' where it comes on top"
        )
        at.ask(words, why, partial(full_told, at, jars, said), f"{jars} is kept")
    elif found != jars:
        at.cells["jars"] = found
        at.taken.append(f"{jars}, {words}, taken as {found}")


def _settle_made(at: Reading) -> None:
    """Pints 'made' are jars where the brine is told otherwise, and brine where the jars are."""
    for measure, words in at.made:
        column = "brine_made"
        if JARS in measure.kinds and "jars" not in at.cells:
            column = "jars" if "brine_made" in at.cells else ""
        elif JARS in measure.kinds and not _OF_MADE.issuperset(plain_words(words)):
            column = ""  # 'made 2 pts chow chow'
        if column:
            at.put(column, measure, words, measure.text)
        else:
            why = f"is {measure.text} jars or brine? Say 'jars' or 'brine' with it"
            at.ask(f"made {measure.text}", why, partial(made_told, at, measure))


def _settle_liquids(at: Reading) -> None:
    """Vinegar and water are the brine that was made where the words say so, and else asked."""
    if not at.liquids:
        return
    if "brine_made" in at.cells:
        _ask_whether_all(at)
        return
    texts = [told.measure.text for told, _ in at.liquids]
    if _is_said(at) and all(VOLUME in told.measure.kinds for told, _ in at.liquids):
        at.cells["brine_made"] = " + ".join(texts)
        at.taken.append(f"brine made taken as {' + '.join(texts)}, what went into it")
        return
    what = " + ".join(" ".join(told.whole.split()).strip("+&, ") for told, _ in at.liquids)
    volumes = all(VOLUME in told.measure.kinds for told, _ in at.liquids)
    say = "'yes', or how much it was, like" if volumes else "how much it was, like"
    why = f"is {what} all the brine that was made? Say {say} 'brine 8 cups'"
    at.ask(at.liquids[0][1], why, partial(brine_told, at, " + ".join(texts) if volumes else ""))


def _ask_whether_all(at: Reading) -> None:
    """Ask where what went into the brine is as much as all of it: '6 c brine, 6 c water'.

    Vinegar alone, or water, is never all of a brine, and the parts are no more than the whole.
    """
    made = at.cells["brine_made"]
    parts = [told.measure.text for told, _ in at.liquids]
    with suppress(MeasureError):
        whole, inside = parse_volume(made), sum(map(parse_volume, parts))
        if inside > _ROUNDED * whole or (len(parts) == 1 and inside >= whole):
            beside = " + ".join(
                " ".join(told.whole.split()).strip("+&, ") for told, _ in at.liquids
            )
            say = "Say 'yes', or how much it was, like 'brine 8 cups'"
            why = f"is {made} all the brine, with {beside} beside it? {say}"
            settle = partial(brine_told, at, made)
            at.ask(at.liquids[0][1], why, settle, f"{made} is kept")


def _is_said(at: Reading) -> bool:
    """Whether vinegar and water are said to be the brine: 'brine: 1 qt vinegar, 1 qt water'."""
    return any(_BRINE.search(clause) for _, clause in at.liquids)


def _settle_used(at: Reading) -> None:
    """Brine used and brine left are what was made; used alone tells too little."""
    if not at.used or "brine_made" in at.cells:
        return
    told, clause = at.used[0]
    left = at.cells.get("brine_left")
    if len(at.used) == 1 and left and VOLUME in told.measure.kinds:
        at.cells["brine_made"] = f"{told.measure.text} + {left}"
        at.taken.append(f"brine made taken as {told.measure.text} used + {left} left")
        return
    why = f"{told.measure.text} was used: how much brine was made? Say 'brine 8 cups'"
    at.ask(clause, why, partial(used_told, at, told.measure.text))


def _settle_ran_out(at: Reading) -> None:
    """'ran out' and 'all used' are no brine left, where brine was made and no more after it."""
    if at.ran_out and "brine_made" in at.cells and "brine_left" not in at.cells:
        at.cells["brine_left"] = "0 cups"
    elif at.ran_out:
        at.notes.append(at.ran_out)
    if at.cells.get("brine_left") == "0 cups" and _MADE_AFTER.search(at.text):
        del at.cells["brine_left"]
        why = "how much brine was left in the end? Say 'no brine left' or '2 cups left'"
        at.ask("", why, partial(left_told, at))


def _settle_off(at: Reading) -> None:
    """A weight as bought without what was taken off it is the trimmed weight."""
    if not at.off or "trimmed" in at.cells:
        return
    whole, parts = at.cells.get("as_bought", ""), [told.measure.text for told, _ in at.off]
    rest = " - ".join([whole, *parts])
    try:
        parse_weight(rest)
    except MeasureError:
        why = f"{parts[0]} was taken off: how much was it before, or after?"
        settle = partial(off_told, at, " - ".join(parts))
        at.ask(at.off[0][1], f"{why} Say '10 lb bought' or '8 lb trimmed'", settle)
        return
    at.cells["trimmed"] = rest
    at.taken.append(f"trimmed taken as {rest}")


def _settle_parts(at: Reading) -> None:
    """'6 lb cukes & 2 lb onions' of a mixture of the two are added up."""
    if len(at.loose) < 2 or at.cells.get("as_bought") != at.loose[0][1]:
        return
    names, texts = [name for name, _, _ in at.loose], [text for _, text, _ in at.loose]
    parts = set(produce_key(at.cells.get("produce", "")).split(" + "))
    if set(names) == parts and len(names) == len(parts):
        at.cells["as_bought"] = " + ".join(texts)
        of_parts = {at.quoted(clause) for _, _, clause in at.loose}
        at.asked = [
            one for one in at.asked
            if not (one[0] in of_parts and any(one[1].startswith(f"what is {t}?") for t in texts))
        ]  # fmt: skip
        at.taken.append(f"{' + '.join(texts)} taken as bought")
    elif names[0] and names[0] not in parts:
        del at.cells["as_bought"]
        why = f"what is {texts[0]}? Say what all of it weighed as bought, like '8 lb bought'"
        at.ask(at.loose[0][2], why, partial(whole_told, at, unit_of(texts[0])))


def _settle_salt(at: Reading) -> None:
    """Salt beside vinegar and water, with nothing said of salting, may be the brine's."""
    salt = at.cells.get("salt")
    if not salt or not at.liquids or salts_produce(at.text):
        return
    del at.cells["salt"]
    at.notes.append(salt if "salt" in salt else f"salt {salt}")
    if not _is_said(at):
        why = f"is {salt} in the brine, or was the produce salted?"
        settle = partial(salt_told, at, salt)
        at.ask(salt, f"{why} Say 'in the brine' or 'salted with {salt}'", settle)
