"""The altitude of a kitchen: read from what was typed, and remembered where that is asked for.

A look at another altitude moves nobody's kitchen: only 'jarcast kitchen' and 'jarcast begin', which
say so, remember one.
"""

import re
import shlex
from typing import TYPE_CHECKING, Annotated

import typer

from jarcast.cli.canner import KIND, Kind
from jarcast.cli.common import read_option, tell
from jarcast.errors import MeasureError, cut_short

if TYPE_CHECKING:
    from jarcast.app.work import Work
    from jarcast.recipes import Place

AltitudeOption = Annotated[
    str | None,
    typer.Option(
        "--altitude",
        help="For this answer only: '3000 ft', '900 m'. Picks the recipe's process time. "
        "'jarcast kitchen' keeps yours.",
    ),
]
KeptAltitudeOption = Annotated[
    str | None,
    typer.Option(
        "--altitude",
        help="Where you live: '3000 ft', '900 m'. Picks the recipe's process time. Remembered in "
        "the ledger.",
    ),
]

FEET_PER_METRE = 1 / 0.3048  # exact: NIST Handbook 44, Appendix C
SETTING = "altitude"  # in the ledger, as it was typed
LOWEST_FT, HIGHEST_FT = -1500.0, 20_000.0  # nobody lives lower or higher

_ALTITUDE = r"(-?[0-9]+(?:,[0-9]{3})*(?:\.[0-9]+)?) ?([^\W\d_]+|')?\.?"
_FEET = ("ft", "foot", "feet", "'")
_METRES = ("m", "metre", "metres", "meter", "meters")
_EXAMPLE = "write it like '3000 ft' or '900 m'"


def parse_altitude(text: str) -> float:
    """Feet of an altitude such as '3000 ft' or '900 m'.

    Raises MeasureError; a bare number could be either, and is refused.
    """
    shown = cut_short(text, 40)
    found = re.fullmatch(_ALTITUDE, " ".join(text.casefold().replace("\u2212", "-").split()))
    if not found:
        raise MeasureError(f"'{shown}' is not an altitude; {_EXAMPLE}")
    number, unit = found[1], found[2]
    if not unit and not float(number.replace(",", "")):
        return 0.0  # sea level is 0 in any unit
    if not unit:
        raise MeasureError(f"'{shown}': in feet or in metres? {_EXAMPLE.capitalize()}")
    if unit not in (*_FEET, *_METRES):
        raise MeasureError(f"'{shown}': '{unit}' is neither feet nor metres; {_EXAMPLE}")
    if re.fullmatch(r"-?[0-9]{1,3}\.[0-9]{3}", number):
        raise MeasureError(
            f"'{shown}': is {number.replace('.', '')} {unit} meant? Write it without the point"
        )
    feet = float(number.replace(",", "")) * (FEET_PER_METRE if unit in _METRES else 1.0)
    if not LOWEST_FT <= feet <= HIGHEST_FT:
        raise MeasureError(
            f"'{shown}' is not an altitude people live at; check the number and its unit"
        )
    return feet


def kitchen_place(work: "Work", typed: str | None) -> "Place":
    """The altitude and the kind of canner of a kitchen: whatever shows a process needs both."""
    from jarcast.recipes import Place

    return Place(_altitude(work, typed), steam=work.settings.get(KIND) == Kind.STEAM)


def _altitude(work: "Work", typed: str | None) -> float | None:
    """Altitude in feet: as typed, for this answer only; else as remembered; else None.

    Says that a typed one is not remembered, unless it is the kitchen's own.
    """
    feet = read_option("--altitude", typed, parse_altitude)
    known = work.settings.get(SETTING)
    kept = None if known is None else parse_altitude(known)
    if typed is None:
        return kept
    if feet != kept:
        still = "" if known is None else f", and your kitchen stays at {known}"
        tell(
            f"{typed.strip()} counts for this answer only{still}. To keep it: jarcast kitchen "
            f"--altitude {shlex.quote(typed.strip())}"
        )
    return feet


def to_remember(work: "Work", typed: str) -> str:
    """Make this the kitchen's altitude from now on, with what the command writes next.

    Gives what to say of it then: '' unless it was another. Raises MeasureError for what is no
    altitude.
    """
    read_option("--altitude", typed, parse_altitude)
    typed = typed.strip()
    known = work.settings.get(SETTING)
    work.remember_with(SETTING, typed)
    if known in (None, typed):
        return ""
    return f"Your kitchen's altitude is {typed} from now on; it was {known}."
