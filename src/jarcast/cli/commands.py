"""The commands, in the order help lists them, and where each lives.

Only the command asked for is loaded: with all of them every answer would wait for every other's
options to be read.
"""

from collections.abc import Iterable
from importlib import import_module

import typer

# Name -> module:function, or module:app for a group of commands.
COMMANDS = {
    "demo": "demo:demo",
    "record": "record:record",
    "guide": "guide:guide",
    "begin": "begin:begin",
    "weigh": "weigh:weigh",
    "pack": "pack:pack",
    "close": "close:close",
    "open": "opened:open_",
    "drop": "opened:drop",
    "forecast": "forecast:forecast",
    "sheet": "sheet:sheet",
    "harvest": "harvest:harvest",
    "buy": "buy:buy",
    "batches": "batches:batches",
    "amend": "amend:amend",
    "confirm": "confirm:confirm",
    "withdraw": "corrections:withdraw",
    "reinstate": "corrections:reinstate",
    "history": "corrections:history",
    "habits": "habits:habits",
    "hindsight": "hindsight:hindsight",
    "report": "report:report",
    "recipes": "recipes:app",
    "jars": "jars:app",
    "import": "moving:import_",
    "export": "moving:export",
    "restore": "restore:restore",
    "pool": "pool:pool",
    "beliefs": "beliefs:app",
}


def asked_for(typed: Iterable[str]) -> Iterable[str]:
    """The command typed, or all of them where none is: for help, and to say what there is."""
    first = next((word for word in typed if not word.startswith("-")), "")
    return (first,) if first in COMMANDS else COMMANDS


def register(app: typer.Typer, names: Iterable[str]) -> None:
    """Add commands to the app."""
    for name in names:
        module, _, what = COMMANDS[name].partition(":")
        found = getattr(import_module(f"jarcast.cli.{module}"), what)
        if isinstance(found, typer.Typer):
            app.add_typer(found, name=name)
        else:
            app.command(name)(found)
