"""The app: its commands, and the one place where errors become messages and exit codes."""

import atexit
import gc
import io
import os
import signal
import sys
import warnings
from collections.abc import Iterable, Sequence
from contextlib import suppress
from typing import Annotated, Any, NoReturn

import typer

from jarcast._version import __version__
from jarcast.cli.commands import (
    COMMANDS,
    MOVED,
    Grouped,
    first_word,
    list_only,
    register,
    with_placeholders,
)
from jarcast.cli.common import (
    ExitCode,
    JsonOption,
    LedgerOption,
    UnitsOption,
    UnprintedError,
    alone,
    failure_document,
    forgiving_streams,
    quiet_output,
    tell,
    work_at,
)
from jarcast.errors import JarcastError, NearName
from jarcast.files.written import STANDS_IN

# The root of Typer's errors of usage. It lies in a click of Typer's own or in the real one, by
# Typer's version; BadParameter -> UsageError -> this is the same in both.
_WRONG_USAGE: Any = typer.BadParameter.__mro__[2]
LIVING = 50_000  # objects made before the garbage collector looks
_NOT_FINISHED = "; nothing half-done was written"
_INTERRUPTED = 130  # what Typer makes of a KeyboardInterrupt


def _version(asked: bool) -> None:
    if asked:
        typer.echo(f"jarcast {__version__}")
        raise typer.Exit


def jarcast(
    context: typer.Context,
    units: UnitsOption = None,
    ledger: LedgerOption = None,
    as_json: JsonOption = False,
    _: Annotated[
        bool, typer.Option("--version", callback=_version, is_eager=True, help="Show the version.")
    ] = False,
) -> None:
    """Write down what each batch weighed and filled; know what the next one will come to.

    Without a command: the open batches, and what to do next.

    \b
    See it work:          jarcast demo
    Bring in a notebook:  jarcast import batches.csv
    Record a batch:       jarcast record --produce carrot --cut sticks \\
                            --trimmed "6 lb 4 oz" --jar pint --jars 9.5
    Ask about the next:   jarcast forecast --produce carrot --cut sticks \\
                            --trimmed "5 lb"
    """
    if alone(context):
        from jarcast.cli.opened import what_next

        with work_at(ledger) as work:
            what_next(work, units, as_json=as_json)


def build_app(names: Iterable[str] = COMMANDS) -> typer.Typer:
    """The app with these commands, all of them unless named; with none they are only listed."""
    app = typer.Typer(
        name="jarcast",
        cls=Grouped,
        invoke_without_command=True,
        add_completion=False,
        # Plain help starts in half the time, and reads the same in a pipe.
        rich_markup_mode=None,
        pretty_exceptions_enable=False,
        context_settings={"help_option_names": ["-h", "--help"]},
    )
    app.callback()(jarcast)
    chosen = tuple(names)
    register(app, chosen)
    if not chosen:
        list_only(app)
    return app


def _stop(*_: object) -> None:
    """End as at Ctrl-C, so that what works on other cores is ended first."""
    raise KeyboardInterrupt


def _as_a_process() -> None:
    """End at SIGTERM as at Ctrl-C; collect garbage less often, and not at all at the end.

    Loading modules makes thousands of objects that stay. Going through them every 700 new ones,
    and all of them again when Python ends, is a tenth of a short command's time or more.
    """
    with suppress(ValueError):  # in a thread
        signal.signal(signal.SIGTERM, _stop)
    gc.set_threshold(LIVING)
    atexit.register(gc.freeze)


def main(arguments: list[str] | None = None) -> NoReturn:
    """Run the command line and leave with its exit code; no traceback reaches the user."""
    typed = sys.argv[1:] if arguments is None else arguments
    as_json = "--json" in typed
    # A household's matrices are small: numpy's threads cost more than they save, on a busy machine
    # ten times as much. It reads this when it is loaded.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    _as_a_process()
    forgiving_streams()
    STANDS_IN.clear()
    warnings.simplefilter("ignore", NearName)  # a near name is asked back before it is forecast
    if (first := first_word(typed)) in MOVED:
        _moved(first, as_json)
    try:
        app = build_app([first] if first in COMMANDS else [])
        command = with_placeholders(typer.main.get_command(app))
        ended = command(args=typed, prog_name="jarcast", standalone_mode=False)
    except UnprintedError as error:
        _fail(str(error), as_json, code=ExitCode.FINE if STANDS_IN else ExitCode.FAILED)
    except JarcastError as error:
        _fail(str(error), as_json, error.problems)
    except _WRONG_USAGE as error:
        _wrong_usage(error, as_json)
    except (KeyboardInterrupt, typer.Abort):
        ended = _INTERRUPTED
    except OSError as error:  # of standard output, as the rest is caught where it is read
        quiet_output()
        why, code = error.strerror or str(error), ExitCode.FINE if STANDS_IN else ExitCode.FAILED
        _fail(why, as_json, code=code)
    except Exception as error:
        if os.environ.get("JARCAST_DEBUG"):
            raise
        _fail(
            f"this should not have happened ({type(error).__name__}: {error}); nothing "
            "was half-written. Setting JARCAST_DEBUG=1 shows where.",
            as_json,
        )
    if ended == _INTERRUPTED:
        _fail("stopped" + ("" if STANDS_IN else _NOT_FINISHED), as_json)
    sys.exit(ended or ExitCode.FINE)


def _fail(
    message: str,
    as_json: bool,
    problems: Sequence[str] = (),
    code: ExitCode = ExitCode.FAILED,
) -> NoReturn:
    """Say what went wrong and, where that is so, that the ledger has what was entered."""
    for path, action in STANDS_IN[-1:]:
        message += f"; what was entered is in {path} all the same"
        if action:
            from jarcast.ledger.repeats import mark_unanswered

            mark_unanswered(path, action)
    tell(failure_document(message, problems) if as_json else f"jarcast: {message}")
    sys.exit(code)


def _moved(old: str, as_json: bool) -> NoReturn:
    message = f"'jarcast {old}' is now '{MOVED[old]}'"
    tell(failure_document(message) if as_json else message)
    sys.exit(ExitCode.USAGE)


def _wrong_usage(error: Any, as_json: bool) -> NoReturn:
    if as_json:
        tell(failure_document(error.format_message()))
    else:
        text = io.StringIO()
        error.show(file=text)
        tell(text.getvalue())
    sys.exit(ExitCode.USAGE)
