"""Weights that are counted in containers or cups: told as they are taken, asked back if unknown."""

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

import typer

from jarcast.cli.common import asking, tell
from jarcast.domain.said_weight import SaidWeight, read_counted_weight, read_weight
from jarcast.domain.stages import STAGES
from jarcast.errors import BatchError, MeasureError, cut_short
from jarcast.measures import Units, format_weight

if TYPE_CHECKING:
    from jarcast.domain.jars import Jar


def weights_asked(
    said: Mapping[str, str | None],
    crop: tuple[str, str],
    shelf: "Mapping[str, Jar]",
    units: Units,
    *,
    as_json: bool = False,
) -> dict[str, Any]:
    """The weights of a forecast in g by column, a range where they are not weighed.

    ``said`` are the texts by stage, without its unit. A container that nobody knows is asked back
    at a terminal. Raises BatchError or MeasureError, naming the option.
    """
    found: dict[str, Any] = {}
    for stage in STAGES:
        text = said.get(stage.typed)
        found[stage.column] = None
        while text is not None and found[stage.column] is None:
            option = f"--{stage.typed.replace('_', '-')}"
            try:
                read = read_weight(text, stage.typed, *crop, shelf)
            except MeasureError as error:
                raise MeasureError(f"{option} {error}") from error
            except BatchError as error:
                text = _asked(f"{option} '{cut_short(text)}'", error, as_json=as_json)
                continue
            found[stage.column] = read.grams
            tell(_taken(text, crop, read, units))
    return found


def asked_back(
    cells: Mapping[str, Any],
    crop: tuple[str, str],
    shelf: "Mapping[str, Jar]",
    *,
    as_json: bool = False,
) -> dict[str, Any]:
    """The cells of a batch, a weight asked for each container that nobody knows.

    Raises BatchError where nobody can be asked.
    """
    found = dict(cells)
    for stage in STAGES:
        while text := found.get(stage.typed):
            try:
                read_counted_weight(text, stage.typed, *crop, shelf)
            except BatchError as error:
                part = f"{stage.label} '{cut_short(text)}'"
                found[stage.typed] = _asked(part, error, as_json=as_json)
            else:
                break
    return found


def _asked(part: str, error: BatchError, *, as_json: bool) -> str:
    """What a count weighs, asked at a terminal. Raises BatchError where nobody can be asked."""
    if not asking(as_json):
        raise BatchError(f"{part}: {error}") from error
    tell(f"{part}: {error}.")
    return str(typer.prompt("What do they weigh ('23 lb', or about: '20-25 lb')", err=True))


def _taken(text: str, crop: tuple[str, str], read: SaidWeight, units: Units) -> str:
    """What a count is taken as, and by whom; '' for a weight."""
    if read.counted is None:
        return ""
    low, high = (format_weight(grams, units) for grams in (read.counted.low_g, read.counted.high_g))
    of = ", ".join(filter(None, crop))
    by = "; ".join(read.counted.sources)
    return f"'{cut_short(text)}' of {of} is taken as {low} to {high}, 8 times in 10 ({by})."
