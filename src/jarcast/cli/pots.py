"""Pots of brine as they are typed: all that was made, or one more."""

from collections.abc import Mapping
from typing import TYPE_CHECKING, Annotated

import typer

from jarcast.cli.common import asking, read_option
from jarcast.cli.counter import pick
from jarcast.domain.pots import is_less, known_to_be_made
from jarcast.errors import AskedBackError, BatchError
from jarcast.measures import Units, format_volume, parse_volume

if TYPE_CHECKING:
    from jarcast.app.open_batch import Underway

BrineMadeOption = Annotated[
    str | None, typer.Option("--brine-made", help="All the brine made so far, every pot: '8 cups'.")
]
MoreBrineOption = Annotated[
    str | None,
    typer.Option("--more-brine", help="One more pot, added to what was made: '4 cups'."),
]


def pots_typed(
    at: "Underway",
    made: str | None,
    more: str | None,
    units: Units,
    *,
    yes: bool = False,
    as_json: bool = False,
) -> dict[str, str]:
    """All the brine made so far, as one would type it; nothing where neither was said.

    Less in all than is known to be made is asked back at a terminal; off it BatchError is raised,
    naming the option for each way, unless it is said with ``yes``.
    """
    if made is None and more is None:
        return {}
    if read_option("--more-brine", more, parse_volume) == 0.0:  # nothing was made
        more = None
    if made is None:
        return {} if more is None else _added(at, more)
    if not made.strip() and more is None:
        return {"brine_made": made}
    total = made.strip() if more is None else f"{made.strip()} + {more.strip()}"
    ml = read_option("--brine-made", total, parse_volume) or 0.0
    known = known_to_be_made(at.so_far)
    if yes or not is_less(ml, known):
        return {"brine_made": total}
    said = f"{format_volume(known, units)} that are known to be made"
    if more is not None or not asking(as_json):
        other = f"for all of it, --brine-made '{total}' --yes"
        raise AskedBackError(
            f"--brine-made '{total}' is less than the {said}, and nothing was recorded. For "
            f"another pot say --more-brine '{made.strip()}'; {other}"
        )
    ways = [f"{total} in all: what was said before was wrong", f"{total} more: another pot"]
    question = f"That is less than the {said}. {total} in all, or {total} more?"
    return _added(at, total) if pick(ways, question) else {"brine_made": total}


def _added(at: "Underway", more: str) -> dict[str, str]:
    """Another pot. Raises BatchError where there was brine before, and nobody said how much."""
    before = at.typed.get("brine_made", "").strip()
    if before:
        return {"brine_made": f"{before} + {more.strip()}"}
    if at.so_far is not None and (at.so_far.jars or at.so_far.pot_left_ml):
        raise BatchError(
            f"--more-brine '{more.strip()}' adds to what was made, but that is not known yet; give "
            f"all of it: --brine-made '8 cups + {more.strip()}', for 8 cups before"
        )
    return {"brine_made": more.strip()}


def pot_now(typed: Mapping[str, str], before: str | None, more: str | None) -> dict[str, str]:
    """The pot as it is now, from the pot ``before`` one more was added.

    Raises a usage error where there is no other pot, or the pot now is said as well.
    """
    if before is None:
        return {}
    if more is None:
        raise typer.BadParameter(
            "that is the pot before another was added, and goes with --more-brine; --pot-left is "
            "the pot as it is now",
            param_hint="--pot-before",
        )
    if "pot_left" in typed:
        raise typer.BadParameter(
            "give either the pot before the new one, or with --pot-left the pot as it is now",
            param_hint="--pot-before",
        )
    return {"pot_left": f"{before.strip()} + {more.strip()}"}
