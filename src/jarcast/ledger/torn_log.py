"""A write-ahead log whose damage SQLite would not say: it stops at the first frame it cannot read.

What a killed process had begun ends a log so, and rightly; but where a commit, and anything after
it, stands behind such a frame, that commit had been acknowledged.
https://sqlite.org/fileformat2.html, section 4.
"""

import sqlite3
from contextlib import closing
from pathlib import Path
from typing import Literal

HEADER_BYTES = 32
_FRAME_BYTES = 24  # of a frame's own header; a page follows
_MAGIC = (0x377F0682, 0x377F0683)


def is_torn(path: Path) -> bool:
    """Whether the log of a private copy of a ledger holds what was acknowledged and is not read.

    The log is folded into that copy.
    """
    try:
        data = path.with_name(path.name + "-wal").read_bytes()
    except FileNotFoundError:
        return False
    if len(data) <= HEADER_BYTES or not any(data):
        return False
    if not _is_header(data[:HEADER_BYTES]):  # SQLite throws such a log away
        return True
    try:
        with closing(sqlite3.connect(path)) as copy:
            copy.execute("SELECT count(*) FROM sqlite_schema").fetchone()
            read = int(copy.execute("PRAGMA wal_checkpoint").fetchone()[1])
    except sqlite3.DatabaseError:
        return False
    return _committed_beyond(data, max(read, 0))


def _committed_beyond(data: bytes, read: int) -> bool:
    """Whether a commit stands behind the frames that are read, and a frame after it."""
    size = _FRAME_BYTES + _number(data, 8)
    committed = False
    for at in range(HEADER_BYTES + read * size, len(data) - _FRAME_BYTES + 1, size):
        if data[at + 8 : at + 16] == data[16:24]:  # otherwise it is of an earlier round
            if committed:
                return True
            committed = _number(data, at + 4) != 0
    return False


def _is_header(header: bytes) -> bool:
    """Whether the checksum of a header is right; its first number gives the order of bytes."""
    if _number(header, 0) not in _MAGIC:
        return False
    order: Literal["big", "little"] = "big" if _number(header, 0) & 1 else "little"
    words = [int.from_bytes(header[at : at + 4], order) for at in range(0, 24, 4)]
    first = second = 0
    for here, after in zip(words[::2], words[1::2], strict=True):
        first = (first + here + second) & 0xFFFFFFFF
        second = (second + after + first) & 0xFFFFFFFF
    return (first, second) == (_number(header, 24), _number(header, 28))


def _number(data: bytes, at: int) -> int:
    return int.from_bytes(data[at : at + 4], "big")
