"""What would narrow a forecast, in one line and for JSON."""

from typing import Any

from jarcast.domain.stages import COOKED, CURED, TRIMMED
from jarcast.forecast.answer import Forecast
from jarcast.forecast.narrowing import LEVEL, Narrowing
from jarcast.forecast.outcome import Outcome
from jarcast.views.words import counted

_WIDE = 1.0 / 3.0  # a range wider than this of its middle is worth narrowing
_ONCE = {TRIMMED: "trimmed", CURED: "salted and drained", COOKED: "cooked"}
_PARTS = {
    0.1: "a tenth", 0.2: "a fifth", 0.25: "a quarter", 1 / 3: "a third", 0.5: "half",
    2 / 3: "two thirds", 0.75: "three quarters",
}  # fmt: skip
_HARDLY, _MUCH = 0.05, 0.875
_WORTH = 0.2  # of a range: by less, a weighing is not worth a line where another tells more,
_WORTH_BY_POTS = 1.0 / 3.0  # and least of all where three jars will tell before the second pot


def narrowing_text(forecast: Forecast, *, by_pots: bool = False) -> list[str]:
    """What to weigh next and what it buys, where the range is wide; else nothing.

    ``by_pots``: to weigh again after some jars is said already.
    """
    wide, said = _wide(forecast), list[str]()
    found = forecast.would_narrow() if wide else ()
    for one in found:
        left = one.brine if wide == "brine" else one.jars
        worth = _WORTH_BY_POTS if by_pots else _WORTH if len(found) > 1 else 0.0
        little = one.weigh and 1.0 - left < worth
        if little or (by_pots and not one.weigh):
            continue
        subject = "it" if said else f"the range of {wide}"
        said.append(_weigh(one, left, subject) if one.weigh else _read(one, left, subject))
    return [" ".join(said)] if said else []


def _wide(forecast: Forecast) -> str:
    """'jars' or 'brine' where that range is wide, '' where neither is."""
    if _is_wide(forecast.jars):
        return "jars"
    return "brine" if forecast.has_brine and _is_wide(forecast.brine_ml) else ""


def _is_wide(amount: Outcome) -> bool:
    low, high = amount.interval(LEVEL)
    return high - low > _WIDE * amount.median


def _weigh(one: Narrowing, left: float, subject: str) -> str:
    once = f"Weigh it once {_ONCE[one.weigh]}: {subject}"
    if 1.0 - left < _HARDLY:
        return f"{once} hardly narrows."
    if left <= 0.5:
        return f"{once} is then {_as_wide(left)}."
    return f"{once} narrows by about {_nearest(1.0 - left)}."


def _read(one: Narrowing, left: float, subject: str) -> str:
    jars = counted(one.after_jars, "jar", "jars")
    if subject == "it":
        return f"Weighed before the jars and again after {one.after_jars}, it is {_as_wide(left)}."
    return f"Weigh the bowl after {jars}: {subject} is then {_as_wide(left)}."


def _as_wide(left: float) -> str:
    return "about as wide" if left > _MUCH else f"about {_nearest(left)} as wide"


def _nearest(part: float) -> str:
    return _PARTS[min(_PARTS, key=lambda known: abs(known - part))]


def narrowing_document(forecast: Forecast) -> list[dict[str, Any]]:
    """What would narrow it, for JSON: each range after one more reading over that of now."""
    return [
        {
            "weigh": one.weigh.removesuffix("_g") or None,
            "after_jars": one.after_jars,
            "jars": one.jars,
            "brine": one.brine if forecast.has_brine else None,
        }
        for one in forecast.would_narrow()
    ]
