"""The commands, in the order help lists them, and where each lives.

Only the command asked for is loaded: with all of them every answer would wait for every other's
options to be read. The list of them shows the lines kept here, and loads none.
"""

from collections.abc import Iterable
from importlib import import_module
from typing import Any, NamedTuple

import typer
from typer.core import TyperGroup


class Command(NamedTuple):
    """Where a command lives, as module:function or module:app for a group, and what it does."""

    where: str
    about: str


GROUPS = {
    "Ahead": {
        "forecast": Command("forecast:forecast", "Forecast a batch: jars, and the brine to make."),
        "harvest": Command("harvest:harvest", "Forecast many batches at once, and what to buy."),
        "buy": Command("buy:buy", "How much to buy for so many jars."),
    },
    "At the counter": {
        "begin": Command("begin:begin", "Open a batch: weigh, pack and close it step by step."),
        "weigh": Command("weigh:weigh", "Note what you weighed of an open batch."),
        "pack": Command("pack:pack", "Note how far you have packed; see whether the brine lasts."),
        "close": Command("close:close", "Close an open batch, and record it."),
        "drop": Command("opened:drop", "End an open batch without recording it."),
        "guide": Command("guide:guide", "Enter a batch by answering questions."),
        "serve": Command("serve:serve", "Put the open batches on a phone or a tablet."),
    },
    "Afterwards": {
        "record": Command("record:record", "Record a finished batch."),
        "batches": Command("batches:batches", "List the recorded batches, oldest first."),
        "amend": Command("amend:amend", "Change values of a batch, or confirm odd ones."),
        "withdraw": Command("corrections:withdraw", "Take a batch out; nothing is deleted."),
        "undo": Command("undo:undo", "Take back the last thing you did, whatever it was."),
        "history": Command("corrections:history", "Show everything entered of a batch."),
        "habits": Command(
            "habits:habits", "What was learned about your trimming, salting and packing."
        ),
        "hindsight": Command(
            "hindsight:hindsight", "How often the ranges held, and how far off they were."
        ),
        "report": Command("report:report", "Write it all up as one page, with charts."),
    },
    "Recipes": {
        "recipes": Command(
            "recipes:app", "Tested recipe cards: list, show, check, add, new, scale."
        ),
    },
    "The kitchen, its ledger and copies": {
        "kitchen": Command("kitchen:app", "What is remembered of your kitchen; change it."),
        "import": Command("moving:import_", "Bring in a notebook, a table or another ledger."),
        "export": Command("moving:export", "Write all batches as a CSV file."),
        "restore": Command("restore:restore", "List the copies of the ledger, or bring one back."),
        "demo": Command("demo:demo", "See it work, on an invented household."),
    },
    "Many kitchens": {
        "beliefs": Command("beliefs:app", "Starting beliefs: published, or pooled from kitchens."),
    },
}
COMMANDS = {name: command for group in GROUPS.values() for name, command in group.items()}

# What an option wants, as help shows it; others by their kind.
PLACEHOLDERS = {
    "WEIGHT": "as_bought trimmed cured cooked weight produce_left not_jarred salt",
    "VOLUME": "brine_made brine_left more_brine brine pot_left kept_brine keep_brine",
    "CROP": "produce", "CUT": "cut", "RECIPE": "recipe", "JARS": "jars", "JAR": "jar",
    "HOURS": "cure_hours", "HEIGHT": "altitude", "INCHES": "headspace", "NAME": "person batch keep",
    "DATE": "date since", "CHANCE": "short_chance level chance", "WORDS": "note cautions",
}  # fmt: skip
_OF = {name: what for what, names in PLACEHOLDERS.items() for name in names.split()}
_KINDS = {"integer": "N", "integer range": "N", "int range": "N", "float": "NUMBER", "path": "FILE"}


class Grouped(TyperGroup):
    """The list of commands in groups, in the order of the work."""

    def format_commands(self, ctx: Any, formatter: Any) -> None:  # noqa: ARG002 (Click's form)
        """Write the groups, each with its commands."""
        for title, group in GROUPS.items():
            with formatter.section(title):
                formatter.write_dl([(name, command.about) for name, command in group.items()])


def with_placeholders(command: Any) -> Any:
    """A command and those in it, with what each option wants in place of its type's name."""
    for option in command.params:
        kind = option.type.name
        if option.param_type_name == "option" and not option.is_flag and option.metavar is None:
            if kind == "text":
                option.metavar = _OF.get(option.name, "TEXT")
            else:
                option.metavar = _OF.get(option.name) or _KINDS.get(kind)
    for inner in getattr(command, "commands", {}).values():
        with_placeholders(inner)
    return command


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
