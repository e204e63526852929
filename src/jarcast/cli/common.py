"""What the commands share: options, opening the ledger, showing answers."""

import json
import os
import sys
from enum import IntEnum
from pathlib import Path
from typing import Annotated, Any

import typer

from jarcast.errors import JarcastError, MeasureError
from jarcast.measures import Units


class ExitCode(IntEnum):
    """How a command ends."""

    FINE = 0
    FAILED = 1
    USAGE = 2


LedgerOption = Annotated[
    Path | None,
    typer.Option(
        "--ledger",
        envvar="JARCAST_LEDGER",
        help="The ledger file. Unless given, the one in your data folder.",
        show_envvar=True,
    ),
]
JsonOption = Annotated[
    bool, typer.Option("--json", help="One JSON document on standard output, and nothing else.")
]
UnitsOption = Annotated[
    Units | None,
    typer.Option(
        "--units",
        help="How measures are shown: us (pounds, cups) or metric. Remembered in the ledger.",
    ),
]


def ledger_path(chosen: Path | None) -> Path:
    """The ledger's file: as chosen, else the usual one."""
    from jarcast.ledger import default_path

    return default_path() if chosen is None else chosen


def kitchen_units(path: Path, chosen: Units | None) -> Units:
    """Units to show measures in: as chosen, and then remembered; else as remembered; else US."""
    from jarcast.ledger import Ledger

    with Ledger.open(path) as ledger:
        known = ledger.setting("units")
    if chosen is None:
        return Units(known) if known in tuple(Units) else Units.US
    if known != chosen:
        with Ledger.open(path, writing=True) as ledger:
            ledger.remember("units", chosen.value)
    return chosen


def show(text: str) -> None:
    """An answer, on standard output."""
    try:
        sys.stdout.write(text.rstrip("\n") + "\n")
        sys.stdout.flush()
    except BrokenPipeError:  # the reader, such as head, has seen enough
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        raise typer.Exit(ExitCode.FINE) from None


def show_json(document: dict[str, Any]) -> None:
    """An answer as one JSON document; no NaN or infinity ever stands in it."""
    show(json.dumps(document, ensure_ascii=False, indent=2, allow_nan=False))


def tell(text: str) -> None:
    """A message beside the answer, on standard error."""
    if text:
        sys.stderr.write(text.rstrip("\n") + "\n")


def read_option(option: str, text: str | None, reader: Any) -> float | None:
    """A measure typed for an option, or None. Raises MeasureError naming the option."""
    if text is None:
        return None
    try:
        return float(reader(text))
    except MeasureError as error:
        raise MeasureError(f"{option} {error}") from error


def failure_text(error: JarcastError, as_json: bool) -> str:
    """How an error is shown."""
    if as_json:
        problems = list(getattr(error, "problems", ()))
        document = {"format": "jarcast error", "version": 1, "error": str(error)}
        return json.dumps({**document, "problems": problems}, ensure_ascii=False, indent=2)
    return f"jarcast: {error}"
