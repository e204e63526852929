"""How much to buy, as text and as JSON."""

from collections.abc import Sequence
from typing import Any

from jarcast.domain.stages import AS_BOUGHT, STAGE_OF
from jarcast.forecast.answer import Forecast
from jarcast.forecast.outcome import MOST_SHORT
from jarcast.harvest.to_buy import ToBuy
from jarcast.measures import Units, format_weight
from jarcast.views.forecast import (
    CAUTION,
    FOR_THE_REFRIGERATOR,
    as_usual,
    no_card_cautions,
    outcome_document,
    rests_on_text,
    usual_cut_lines,
)
from jarcast.views.words import (
    counted,
    crop_words,
    exactly,
    filled_words,
    halves,
    jar_words,
    times_in,
    titled,
    wrapped,
)

_BOUGHT_STEP_G = {Units.US: 453.59237 / 4.0, Units.METRIC: 100.0}  # a quarter pound, by the scale


def buy_text(
    found: ToBuy, units: Units, level: float = 0.8, *, usual_cut: str = "", whole: bool = True
) -> str:
    """What to buy first, then what is likely to come of it, what it rests on, and a caution.

    ``usual_cut`` is a cut that was filled in, as the usual one; the caution only of the ``whole``.
    """
    line = found.lines[0]
    request = line.request
    key = request.turns[0].jar.key if len(request.turns) == 1 else ""
    jars = jar_words(key, found.wanted) if key else "jars"
    wanted = f"{exactly(found.wanted)} {jars}"
    if not key:  # the last sort takes what the others leave
        each = [(turn.count, turn.jar.key) for turn in request.turns[:-1]]
        last = found.wanted - sum(count for count, _ in each)
        wanted += f" ({filled_words([*each, (last, request.turns[-1].jar.key)])})"
    crop = crop_words(request.produce, request.cut, request.pack)
    low, high = found.jars.interval(level)
    stage = STAGE_OF[found.stage].label
    weight = format_weight(rounded_up(found.grams, units), units)
    batches = len(found.lines)
    over = f", over {counted(batches, 'batch', 'batches')}" if batches > 1 else ""
    have = "Buy" if found.stage == AS_BOUGHT else f"Have ready, {stage},"
    lines = [
        f"{titled(crop)}: for {wanted}{over}",
        *usual_cut_lines(usual_cut),
        "",
        f"{have} {weight}: {times_in(found.chance)} it fills {exactly(found.wanted)} {jars} or "
        "more.",
        "",
        f"Most likely about {halves(found.jars.median)}, {times_in(level)} between {halves(low)} "
        f"and {halves(high)}: have jars and lids for more, or room for it in the refrigerator.",
        "",
        rests_on_text(line),
        *(one["text"] for one in _cautions(line) if line.recipe is not None),
    ]
    if whole:
        lines += ["", *([FOR_THE_REFRIGERATOR] if line.recipe is None else []), CAUTION]
    return "\n".join(wrapped(text) for text in lines)


def rounded_up(grams: float, units: Units) -> float:
    """A weight rounded up to what one asks for at a stall: a quarter pound, or 100 g."""
    step = _BOUGHT_STEP_G[units]
    return -(-grams // step) * step


def list_text(found: Sequence[tuple[ToBuy, str]], units: Units) -> str:
    """What to buy of several crops, each with a cut that was filled in; the caution once."""
    texts = [buy_text(one, units, usual_cut=cut, whole=False) for one, cut in found]
    together = "Each on its own: getting all of them at once is less likely."
    card = all(one.lines[0].recipe is not None for one, _ in found)
    ends = [together, *([] if card else [FOR_THE_REFRIGERATOR]), CAUTION]
    return "\n\n".join([*texts, "\n".join(map(wrapped, ends))])


def list_document(found: Sequence[tuple[ToBuy, str]]) -> dict[str, Any]:
    """The same for JSON; version 1 of 'jarcast buy list'."""
    crops = [buy_document(one, cut) for one, cut in found]
    return {"format": "jarcast buy list", "version": 1, "crops": crops}


def buy_document(found: ToBuy, usual_cut: str = "", level: float = 0.8) -> dict[str, Any]:
    """What to buy for JSON; version 1 of 'jarcast buy'."""
    line = found.lines[0]
    request = line.request
    return {
        "format": "jarcast buy",
        "version": 1,
        "produce": request.produce,
        "cut": request.cut,
        "pack": request.pack,
        "jar": ", then ".join(turn.jar.key for turn in request.turns),
        "wanted_jars": found.wanted,
        "chance": found.chance,
        "batches": len(found.lines),
        "stage": found.stage,
        "grams": found.grams,
        "jars": outcome_document(found.jars, level),
        "as_usual": as_usual(usual_cut),
        "cautions": _cautions(line),
    }


def _cautions(line: Forecast) -> list[dict[str, str]]:
    """What is to be heeded of one batch: without a card, or what its card is not for."""
    if line.recipe is None:
        return no_card_cautions()
    from jarcast.recipes import UNSAID
    from jarcast.views.by_recipe import caution_document
    from jarcast.views.formula import line_cautions

    # Buying shows no process, so that no canner matters yet.
    return caution_document(line_cautions(line, UNSAID, MOST_SHORT, Units.US))
