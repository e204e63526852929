"""Files that appear whole or not at all."""

import os
import stat
import threading
from pathlib import Path
from typing import BinaryIO

import pytest

from jarcast.errors import JarcastError
from jarcast.files.whole import write_whole, write_whole_text

# How a SQLite 3 database begins: https://sqlite.org/fileformat2.html, 1.3.
DATABASE = bytes.fromhex("53514c69746520666f726d6174203300")


def breaking(stream: BinaryIO) -> None:
    """Writes a part, and then finds no room."""
    stream.write(b"half of it")
    raise OSError(28, "No space left on device")


def test_what_is_written_stands_there_whole_and_its_owner_s_alone(tmp_path: Path) -> None:
    path = tmp_path / "out.txt"
    path.write_text("old")
    write_whole_text(path, lambda stream: stream.write("50 \u00b0F\r\n"))
    assert path.read_bytes() == "50 \u00b0F\r\n".encode()
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    assert list(tmp_path.iterdir()) == [path]


def test_a_file_that_is_read_only_stays_as_it_is(tmp_path: Path) -> None:
    path = tmp_path / "out.txt"
    path.write_text("old")
    path.chmod(0o444)
    with pytest.raises(JarcastError, match="read-only; nothing was changed"):
        write_whole_text(path, lambda stream: stream.write("new"))
    assert (path.read_text(), stat.S_IMODE(path.stat().st_mode)) == ("old", 0o444)
    assert list(tmp_path.iterdir()) == [path]


def test_a_failure_half_way_leaves_the_old_file_and_no_litter(tmp_path: Path) -> None:
    path = tmp_path / "out.txt"
    path.write_text("old")
    with pytest.raises(JarcastError, match="No space left on device; nothing was changed"):
        write_whole(path, breaking)
    assert path.read_text() == "old"
    assert list(tmp_path.iterdir()) == [path]


def test_an_interrupt_leaves_the_old_file_and_no_litter(tmp_path: Path) -> None:
    def stopped(stream: BinaryIO) -> None:
        raise KeyboardInterrupt

    path = tmp_path / "out.txt"
    path.write_text("old")
    with pytest.raises(KeyboardInterrupt):
        write_whole(path, stopped)
    assert path.read_text() == "old"
    assert list(tmp_path.iterdir()) == [path]


def test_a_database_is_never_written_over(tmp_path: Path) -> None:
    path = tmp_path / "other.html"
    path.write_bytes(DATABASE + bytes(84))
    with pytest.raises(JarcastError, match="is a ledger or another database"):
        write_whole(path, lambda stream: stream.write(b"new"))
    assert path.read_bytes() == DATABASE + bytes(84)


def test_a_folder_is_refused_with_a_name_to_take(tmp_path: Path) -> None:
    with pytest.raises(JarcastError, match=r"is a folder; name a file in it, such as .*out\.csv"):
        write_whole(tmp_path, lambda stream: stream.write(b"new"), "out.csv")


def test_a_mistake_in_what_is_written_is_not_blamed_on_the_name(tmp_path: Path) -> None:
    def wrong(stream: BinaryIO) -> None:
        raise ValueError("no number")

    with pytest.raises(ValueError, match="no number"):
        write_whole(tmp_path / "out.txt", wrong)
    with pytest.raises(JarcastError, match="cannot be the name of a file"):
        write_whole(Path("a\0b"), wrong)


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="named pipes are POSIX's")
def test_a_pipe_is_written_into_and_stays_one(tmp_path: Path) -> None:
    pipe, read = tmp_path / "pipe", []
    os.mkfifo(pipe)
    reader = threading.Thread(target=lambda: read.append(pipe.read_bytes()), daemon=True)
    reader.start()
    write_whole_text(pipe, lambda stream: stream.write("new\n"))
    reader.join(10)
    assert read == [b"new\n"]
    assert stat.S_ISFIFO(pipe.stat().st_mode)
