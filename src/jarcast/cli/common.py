"""What the commands share: options, opening the ledger, showing answers."""

import codecs
import io
import os
import sys
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager, suppress
from contextvars import ContextVar
from enum import IntEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, TextIO

import typer
from msgspec import Struct

from jarcast.errors import JarcastError, LedgerError, MeasureError
from jarcast.measures import Units

if TYPE_CHECKING:
    from jarcast.app.work import Work


class Elsewhere:
    """Whoever a command answers to in the place of the terminal, such as a page.

    ``open`` opens the ledger for it, with the request that is answered. What is shown and told is
    kept here, and nobody is asked anything.
    """

    def __init__(self, open_at: "Callable[[Path], Work]") -> None:
        """Nothing is said yet."""
        self.open_at = open_at
        self.shown: list[str] = []
        self.told: list[str] = []
        self.document: dict[str, Any] = {}


_ELSEWHERE: ContextVar[Elsewhere | None] = ContextVar("elsewhere", default=None)


@contextmanager
def answered(to: Elsewhere) -> Iterator[Elsewhere]:
    """Commands that are run within answer there, and in this thread alone."""
    before = _ELSEWHERE.set(to)
    try:
        yield to
    finally:
        _ELSEWHERE.reset(before)


def elsewhere() -> bool:
    """Whether the command under way answers to another than the terminal."""
    return _ELSEWHERE.get() is not None


def refuse_ledger(file: Path, ledger: Path) -> None:
    """Raise JarcastError for a file to write to that is the ledger, by whatever name."""
    with suppress(OSError, ValueError):
        if file.samefile(ledger):
            raise JarcastError(f"{file} is the ledger itself; name another file to write to")


def asking(as_json: bool = False) -> bool:
    """Whether there is someone at a terminal to ask."""
    return not (as_json or elsewhere()) and sys.stdin is not None and sys.stdin.isatty()


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
        readable=False,  # is found out on opening it, where more can be said
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
SureOption = Annotated[bool, typer.Option("--yes", help="Do not ask first.")]
PersonOption = Annotated[
    str | None,
    typer.Option(
        "--person", help="Who trims and packs, where several do; as last time if none, '' nobody."
    ),
]


def alone(context: typer.Context) -> bool:
    """Whether a group was called without one of its commands.

    Raises an error of usage where options stand before the command: they belong after it.
    """
    command = context.invoked_subcommand
    if command is None:
        return True
    sources = [context.get_parameter_source(name) for name in context.params]
    if any(source is not None and source.name == "COMMANDLINE" for source in sources):
        due = f"{context.command_path} {command} ..."
        raise typer.BadParameter(f"options come after the command: {due}")
    return False


def ledger_path(chosen: Path | None) -> Path:
    """The ledger's file: as chosen, else the usual one. Raises JarcastError for '-'."""
    from jarcast.ledger import default_path

    if chosen is None:
        return default_path()
    if str(chosen) == "-":
        from jarcast.files.output import refuse_output

        refuse_output(chosen, "ledger", "ledger.sqlite3")
    with suppress(RuntimeError):  # '~nobody/...': no such home, so it is a name like any other
        return chosen.expanduser()  # a shell leaves the ~ of '--ledger=~/...' alone
    return chosen


def work_at(chosen: Path | None) -> "Work":
    """A command's work with the ledger, opened: as chosen, else the usual one."""
    from jarcast.app.work import Work

    other = _ELSEWHERE.get()
    return (Work if other is None else other.open_at)(ledger_path(chosen))


def kitchen_units(work: "Work", chosen: Units | None, *, later: bool = False) -> Units:
    """Units to show measures in: as chosen, and then remembered; else as remembered; else US.

    Remembered at once or, ``later``, with what the command writes. Where they cannot be remembered
    that is said, and the answer is given all the same.
    """
    known = work.settings.get("units")
    if chosen is None:
        return Units(known) if known in tuple(Units) else Units.US
    work.remember_with("units", chosen.value)
    if not later:
        remember_now(work, f"--units {chosen}")
    return chosen


def remember_now(work: "Work", what: str) -> None:
    """Remember what was chosen; that it cannot be is said, and the answer is given all the same."""
    try:
        work.remember()
    except LedgerError as error:
        tell(f"{what} is not remembered: {error}")


class Packer(Struct, frozen=True):
    """Who packs, '' where nobody is named; ``as_last`` where that was not typed."""

    name: str
    as_last: bool = False

    @property
    def text(self) -> str:
        """Who it is, where that is as last time; '' else."""
        return f"Packed by {self.name}, as last time: --person to change." if self.as_last else ""

    @property
    def document(self) -> dict[str, Any]:
        """The same for JSON; nothing where nobody is named."""
        return {"person": self.name, "person_as_last_time": self.as_last} if self.name else {}


def packer(work: "Work", said: str | None, *, batch: str = "", remember: bool = True) -> Packer:
    """Who packs: as typed, and then remembered with what is written next, else as last time.

    Untyped, of a ``batch`` that stands there already, it is as that says itself. A name is as it
    was first written. Raises BatchError for one that cannot be recorded.
    """
    from jarcast.app.work import PERSON

    own = work.kitchen
    before = own.settings.get(PERSON, "")
    if said is None:
        for one in own.batches if batch else ():
            if one.batch == batch:
                return Packer(one.person)
        return Packer(before, bool(before))
    from jarcast.app.people import first_written, new_here

    name = first_written(own, said)
    tell(new_here(own, name))
    if remember and name != before:
        work.remember_with(PERSON, name)
    return Packer(name)


def forgiving_streams() -> None:
    """Let a sign that a stream has no code for be spelt out, and be no error.

    A part is written as its figures, '9½' as '9 1/2'; any other sign such as '\\xf1'.
    """
    codecs.register_error("spelt out", _spelt_out)
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="spelt out")


def _spelt_out(error: UnicodeError) -> tuple[str | bytes, int]:
    from jarcast.measures import spelt_out

    if not isinstance(error, UnicodeEncodeError):
        raise error
    sign, before = error.object[error.start], error.object[error.start - 1 : error.start]
    said = spelt_out(f"{before}{sign}" if before.isdecimal() else sign)
    if said.endswith(sign):
        return codecs.backslashreplace_errors(error)
    return said.removeprefix(before), error.start + 1


def quiet_output() -> None:
    """Send what standard output could not take nowhere; it would fail once more at the end."""
    with suppress(OSError, ValueError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


class UnprintedError(JarcastError):
    """An answer that standard output would not take."""


@contextmanager
def answering() -> Iterator[TextIO]:
    """Standard output, for an answer. A reader, such as head, that has seen enough ends it.

    Raises UnprintedError when it cannot be written for another reason.
    """
    if sys.stdout is None:  # closed before the start: nobody wants the answer
        yield io.StringIO()
        return
    try:
        yield sys.stdout
        sys.stdout.flush()
    except BrokenPipeError:
        quiet_output()
        raise typer.Exit(ExitCode.FINE) from None
    except OSError as error:
        quiet_output()
        raise UnprintedError(f"the answer cannot be written: {error.strerror or error}") from error


def plain_lines(text: str) -> str:
    """Lines for a terminal: whatever was typed in them, none moves its cursor."""
    from jarcast.views.words import plain

    return "\n".join(plain(line) for line in text.rstrip("\n").split("\n")) + "\n"


def show(text: str) -> None:
    """An answer, on standard output."""
    if (other := _ELSEWHERE.get()) is not None:
        other.shown.append(plain_lines(text))
        return
    with answering() as stream:
        lines = plain_lines(text)
        if stream.isatty():  # loaded where somebody looks; what was typed is plain by now
            from jarcast.cli.screen import on_screen

            lines = on_screen(lines, stream)
        stream.write(lines)


def show_lines(lines: Iterable[str]) -> None:
    """The same line by line, so that a long one is never held, but on a terminal."""
    if _ELSEWHERE.get() is not None or (sys.stdout is not None and sys.stdout.isatty()):
        show("\n".join(lines))
        return
    with answering() as stream:
        stream.writelines(map(plain_lines, lines))


def show_json(
    document: dict[str, Any], many: str = "", items: Iterable[dict[str, Any]] = ()
) -> None:
    """An answer as one JSON document; no NaN or infinity ever stands in it.

    ``many`` names an empty list of it, whose ``items`` are shown as they come: they are never held.
    """
    import json

    if (other := _ELSEWHERE.get()) is not None:
        other.document = {**document, many: [*items]} if many else document
        return
    with answering() as stream:
        every_sign = (stream.encoding or "utf-8").casefold().startswith("utf")
        writer = json.JSONEncoder(ensure_ascii=not every_sign, indent=2, allow_nan=False)
        text = writer.encode(document)
        if many:
            before, _, text = text.partition(f'"{many}": []')
            stream.write(f'{before}"{many}": [')
            end = ""
            for item in items:
                in_list = writer.encode(item).replace("\n", _IN_LIST)  # in no text: JSON writes \\n
                stream.write(("," if end else "") + _IN_LIST + in_list)
                end = "\n  "
            text = f"{end}]{text}"
        stream.write(f"{text}\n")


_IN_LIST = "\n    "  # where an item of a document's list stands


def tell(text: str) -> None:
    """A message beside the answer, on standard error."""
    if text and (other := _ELSEWHERE.get()) is not None:
        other.told.append(plain_lines(text))
    elif text and sys.stderr is not None:
        lines = plain_lines(text)
        if sys.stderr.isatty():
            from jarcast.cli.screen import if_narrow

            lines = if_narrow(lines)
        with suppress(OSError):  # there is nowhere left to say so
            sys.stderr.write(lines)


def read_option(option: str, text: str | None, reader: Any) -> float | None:
    """A measure typed for an option, or None. Raises MeasureError naming the option."""
    if text is None:
        return None
    try:
        return float(reader(text))
    except MeasureError as error:
        raise MeasureError(f"{option} {error}") from error


def failure_document(message: str, problems: Sequence[str] = ()) -> str:
    """An error as one JSON document; version 1 of 'jarcast error'."""
    import json

    document = {"format": "jarcast error", "version": 1, "error": message}
    return json.dumps({**document, "problems": list(problems)}, indent=2)
