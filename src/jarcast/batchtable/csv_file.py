"""A CSV file as records of cells, read a line at a time with bounded memory.

The quoting is RFC 4180's; the separator may also be a semicolon or a tab, and lines may end in any
of the usual ways. Any other file is refused as soon as it is clear that it is one.
"""

import csv
import io
import os
import re
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from itertools import chain
from pathlib import Path
from typing import NamedTuple

from jarcast.batchtable.header import known_columns
from jarcast.domain.fields import COLUMNS
from jarcast.errors import BatchError
from jarcast.files.reading import open_to_read, why_unread

LONGEST_CELL = 64 * 1024
LONGEST_RECORD = 2 * 1024 * 1024
LONGEST_FILE = 200 * 1000 * 1000
_UNDECODED = re.compile("[\ud800-\udfff]")


class Record(NamedTuple):
    """The cells of one record, and the line of the file it starts on."""

    line: int
    cells: list[str]


class _Lines:
    """The lines of a text file. Raises BatchError for what is too long, or is not text."""

    def __init__(self, text: io.TextIOWrapper, name: str) -> None:
        self._text = text
        self._name = name
        self._length = 0
        self.number = 0
        self.pending = 0  # characters since the record began

    def __iter__(self) -> Iterator[str]:
        return self

    def __next__(self) -> str:
        try:
            line = self._text.readline(LONGEST_RECORD + 1)
        except OSError as error:  # the file's fault, whatever the records are being read for
            raise BatchError(why_unread(Path(self._name), error, "the CSV file")) from error
        if not line:
            raise StopIteration
        self.number += 1
        self.pending += len(line)
        self._length += len(line)
        if self.pending > LONGEST_RECORD:
            raise self.refusal(
                "a row longer than any batch's; is a quote missing, or is this the wrong file?"
            )
        if self._length > LONGEST_FILE:
            raise self.refusal(f"the file is longer than {LONGEST_FILE // 10**6} MB; split it")
        if "\0" in line:
            raise self.refusal("a NUL byte, which text never has; save it as 'CSV UTF-8'")
        if not line.isascii() and (found := _UNDECODED.search(line)):
            byte = ord(found[0]) & 0xFF
            raise self.refusal(
                f"byte {byte:02X} (hex) is not UTF-8, probably an accented letter in an older "
                "encoding; save the file as 'CSV UTF-8'"
            )
        return line

    def refusal(self, why: str) -> BatchError:
        message = f"{self._name}, line {max(self.number, 1)}: {why}"
        return BatchError(message, (message,))


def _open(path: Path) -> io.BufferedReader:
    try:
        return open_to_read(path)
    except ValueError as error:
        raise BatchError(why_unread(path, error, "the CSV file")) from error


@contextmanager
def _opened(path: Path) -> Iterator[io.BufferedReader]:
    try:
        with _open(path) as file:
            if os.fstat(file.fileno()).st_size > LONGEST_FILE:
                raise BatchError(
                    f"{path} is longer than {LONGEST_FILE // 10**6} MB; split it, or name the "
                    "right file"
                )
            yield file
    except OSError as error:
        raise BatchError(why_unread(path, error, "the CSV file")) from error


def _separator(line: str) -> str:
    """The separator by which most cells of the header are known ones."""
    found = {
        separator: known_columns(next(csv.reader([line[:LONGEST_CELL]], delimiter=separator), []))
        for separator in (",", ";", "\t")
    }
    return max(found, key=lambda separator: (found[separator], line.count(separator)))


class CsvFile:
    """An open CSV file: its ``separator``, its ``header``, and its other records in turn."""

    def __init__(self, binary: io.BufferedReader, name: str) -> None:
        """Read the header. Raises BatchError if there is none, or if it is not text."""
        self._binary = binary
        self._size = 0  # of a pipe, or of bytes in memory
        with suppress(OSError):
            self._size = os.fstat(binary.fileno()).st_size
        if binary.peek(2).startswith((b"\xff\xfe", b"\xfe\xff")):
            raise BatchError(f"{name} is in UTF-16; save it as 'CSV UTF-8'")
        text = io.TextIOWrapper(binary, "utf-8-sig", errors="surrogateescape", newline="")
        self._lines = _Lines(text, name)
        first = self._first_line(name)
        self.separator = _separator(first)
        self._skipped = self._lines.number - 1
        self._reader = csv.reader(
            chain([first], self._lines),
            delimiter=self.separator,
            strict=True,
            skipinitialspace=True,
        )
        header = next(iter(self), None)
        if header is None:  # nothing but separators
            raise BatchError(_empty(name))
        self.header = header.cells

    def _first_line(self, name: str) -> str:
        for line in self._lines:
            self._lines.pending = len(line)
            if line.strip() and not re.fullmatch(r"sep=[,;\t]\s*", line):
                return line
        raise BatchError(_empty(name))

    def progress(self) -> tuple[int, int]:
        """How much of the file is read, and all of it, in kB."""
        with suppress(OSError):  # a pipe does not tell
            return self._binary.tell() // 1000, self._size // 1000
        return 0, 0

    def __iter__(self) -> Iterator[Record]:
        """The next records; wholly blank lines are left out. Raises BatchError."""
        while True:
            line = self._skipped + self._reader.line_num + 1
            try:
                cells = next(self._reader)
            except StopIteration:
                return
            except csv.Error as error:
                raise self._lines.refusal(_malformed(str(error), line)) from error
            length, self._lines.pending = self._lines.pending, 0
            if length > LONGEST_CELL and max(map(len, cells)) > LONGEST_CELL:
                raise self._lines.refusal(_malformed("field larger than field limit", line))
            if any(map(str.strip, cells)):
                yield Record(line, cells)


def _empty(name: str) -> str:
    return f"{name} is empty; its first line should be the header: {','.join(COLUMNS)}"


def _malformed(error: str, line: int) -> str:
    if "field larger" in error:
        return (
            f"a cell longer than {LONGEST_CELL // 1024} KiB in the row that starts on line "
            f"{line}; is a quote missing?"
        )
    if "unexpected end" in error:
        return f"a quote opened in the row that starts on line {line} is never closed"
    return (
        f"a stray quote in the row that starts on line {line}; put quotes around a cell that has "
        'one in it, and double the one inside: "5"" tall"'
    )


@contextmanager
def open_csv(path: Path) -> Iterator[CsvFile]:
    """Open a CSV file for reading. Raises BatchError, in one sentence, if that cannot be."""
    with _opened(path) as binary:
        yield CsvFile(binary, str(path))
