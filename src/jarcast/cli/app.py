"""The app: its commands, and the one place where errors become messages and exit codes."""

import os
import sys
from typing import Annotated, NoReturn

import typer

from jarcast._version import __version__
from jarcast.cli import batches, demo, forecast, moving, record
from jarcast.cli.common import ExitCode, failure_text
from jarcast.errors import JarcastError

app = typer.Typer(
    name="jarcast",
    no_args_is_help=True,
    add_completion=False,
    # Plain help starts in half the time, and reads the same in a pipe.
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    context_settings={"help_option_names": ["-h", "--help"]},
)


def _version(asked: bool) -> None:
    if asked:
        typer.echo(f"jarcast {__version__}")
        raise typer.Exit


@app.callback()
def jarcast(
    version: Annotated[
        bool, typer.Option("--version", callback=_version, is_eager=True, help="Show the version.")
    ] = False,
) -> None:
    """Write down what each batch weighed and filled; know what the next one will come to.

    \b
    See it work:          jarcast demo
    Bring in a notebook:  jarcast import batches.csv
    Write down a batch:   jarcast record --produce carrot --cut sticks \\
                            --trimmed "6 lb 4 oz" --jar pint --jars 9.5
    Ask about the next:   jarcast forecast --produce carrot --cut sticks --trimmed "5 lb"
    """


app.command("demo")(demo.demo)
app.command("record")(record.record)
app.command("forecast")(forecast.forecast)
app.command("batches")(batches.batches)
app.command("import")(moving.import_)
app.command("export")(moving.export)


def main(arguments: list[str] | None = None) -> None:
    """Run the command line and leave with its exit code; no traceback reaches the user.

    Typer itself shows wrong usage (exit code 2) and leaves by SystemExit.
    """
    typed = sys.argv[1:] if arguments is None else arguments
    try:
        typer.main.get_command(app)(args=typed, prog_name="jarcast")
    except JarcastError as error:
        _fail(failure_text(error, "--json" in typed))
    except KeyboardInterrupt:
        _fail("\njarcast: stopped; what was not finished was not written")
    except Exception as error:
        if os.environ.get("JARCAST_DEBUG"):
            raise
        _fail(
            f"jarcast: this should not have happened ({type(error).__name__}: {error}); nothing "
            "was half-written. Setting JARCAST_DEBUG=1 shows where."
        )


def _fail(message: str) -> NoReturn:
    sys.stderr.write(message + "\n")
    sys.exit(ExitCode.FAILED)
