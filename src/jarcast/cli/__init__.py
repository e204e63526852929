"""The command line: parse, call, show."""

from jarcast.cli.app import main

__all__ = ["main"]
