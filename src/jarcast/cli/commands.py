"""The commands, in the order help lists them, and where each lives.

Only the command asked for is loaded: with all of them every answer would wait for every other's
options to be read. The list of them shows the lines kept here, and loads none.
"""

from collections.abc import Iterable
from importlib import import_module
from typing import NamedTuple

import typer


class Command(NamedTuple):
    """Where a command lives, as module:function or module:app for a group, and what it does."""

    where: str
    about: str


COMMANDS = {
    "demo": Command("demo:demo", "Learn from an invented household, forecast its next batch."),
    "record": Command("record:record", "Write down one finished batch."),
    "guide": Command("guide:guide", "Be asked for a batch, question by question."),
    "begin": Command("begin:begin", "Open a batch: weigh, pack and close it step by step."),
    "weigh": Command("weigh:weigh", "Note what was weighed of an open batch."),
    "pack": Command("pack:pack", "Note how far the packing is; see whether the brine lasts."),
    "close": Command("close:close", "Close an open batch: it is written down."),
    "serve": Command("serve:serve", "Offer the open batches as a page, for a phone or a tablet."),
    "drop": Command("opened:drop", "End an open batch without writing one down."),
    "forecast": Command(
        "forecast:forecast", "Forecast one batch: jars, and how much brine to make."
    ),
    "harvest": Command("harvest:harvest", "Forecast many batches at once, and what to buy."),
    "buy": Command("buy:buy", "Say how much to buy for so many jars."),
    "batches": Command("batches:batches", "List the batches written down, oldest first."),
    "amend": Command("amend:amend", "Change values of a batch, or stand by odd ones."),
    "withdraw": Command(
        "corrections:withdraw", "Take a batch out of everything; nothing is deleted."
    ),
    "undo": Command("undo:undo", "Take back the last thing you did, whatever it was."),
    "history": Command("corrections:history", "Show everything that was entered of a batch."),
    "habits": Command("habits:habits", "Show what was learned of your trim, cure, pack and brine."),
    "hindsight": Command(
        "hindsight:hindsight", "Look back: how often the ranges held, the usual miss."
    ),
    "report": Command("report:report", "Write the notebook as one page, with charts."),
    "recipes": Command("recipes:app", "Tested recipe cards: list, show, check, add, scale."),
    "kitchen": Command("kitchen:app", "Show or change what is remembered of your kitchen."),
    "import": Command(
        "moving:import_", "Take in a batch table, or notebooks with headings of your own."
    ),
    "export": Command("moving:export", "Write all batches as a CSV file."),
    "restore": Command("restore:restore", "List the copies of the ledger, or bring one back."),
    "beliefs": Command("beliefs:app", "Which starting beliefs are used: published, or pooled."),
}

# Commands of the version before, and what does their work now.
MOVED = {
    "sheet": "jarcast forecast --sheet FILE",
    "confirm": "jarcast amend BATCH --as-is",
    "pool": "jarcast beliefs pool",
    "open": "jarcast",
    "jars": "jarcast kitchen jars",
    "reinstate": "jarcast undo BATCH",
}


def first_word(typed: Iterable[str]) -> str:
    """The first word typed that is not an option; '' if every one is."""
    return next((word for word in typed if not word.startswith("-")), "")


def asked_for(typed: Iterable[str]) -> str:
    """The command typed; '' for none, or for one that does not exist."""
    first = first_word(typed)
    return first if first in COMMANDS else ""


def list_only(app: typer.Typer) -> None:
    """List every command with its line, for help and error messages; none of them can be run."""
    for name, command in COMMANDS.items():
        app.command(name, help=command.about)(_listed)


def _listed() -> None:
    """Stand in for a command that is only listed."""


def register(app: typer.Typer, names: Iterable[str]) -> None:
    """Add commands to the app."""
    for name in names:
        module, _, what = COMMANDS[name].where.partition(":")
        found = getattr(import_module(f"jarcast.cli.{module}"), what)
        if isinstance(found, typer.Typer):
            app.add_typer(found, name=name)
        else:
            app.command(name)(found)
