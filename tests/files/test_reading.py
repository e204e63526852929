"""A file is read so far and no further, and whoever never writes to a pipe is not waited for."""

import os
import threading
import time
from pathlib import Path

import pytest

from jarcast.files import reading
from jarcast.files.reading import open_to_read, private_folder, read_file

pytestmark = pytest.mark.skipif(os.name != "posix", reason="named pipes and modes are POSIX's")


def test_a_file_is_read_whole_up_to_its_limit(tmp_path: Path) -> None:
    path = tmp_path / "a"
    path.write_bytes(b"x" * 2000)
    assert read_file(path, 2000) == b"x" * 2000
    with pytest.raises(OSError, match="longer than 1 kB"):
        read_file(path, 1999)


def test_a_pipe_or_a_device_is_no_file(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe")
    for path in (tmp_path / "pipe", Path("/dev/zero")):
        with pytest.raises(OSError, match="not a file"):
            read_file(path, 10)


def test_a_pipe_that_nobody_writes_to_is_empty_before_long(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe")
    began = time.monotonic()
    with open_to_read(tmp_path / "pipe") as file:
        assert file.read() == b""
    assert time.monotonic() - began < 4.0


def test_a_pipe_is_read_as_it_comes_and_given_up_when_nothing_does(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(reading, "WAIT_SECONDS", 0.5)
    os.mkfifo(tmp_path / "pipe")
    held = os.open(tmp_path / "pipe", os.O_RDWR)

    def write() -> None:
        time.sleep(0.2)
        os.write(held, b"one\n")

    thread = threading.Thread(target=write)
    thread.start()
    with open_to_read(tmp_path / "pipe") as file:
        assert file.readline() == b"one\n"
        with pytest.raises(TimeoutError, match="nothing came"):
            file.readline()
    thread.join()
    os.close(held)


def test_every_folder_that_is_made_is_private_and_the_others_are_left(tmp_path: Path) -> None:
    before = os.umask(0)
    try:
        tmp_path.chmod(0o755)
        private_folder(tmp_path / "a" / "b" / "c")
        private_folder(tmp_path / "a" / "b" / "c")
    finally:
        os.umask(before)
    modes = [(tmp_path / part).stat().st_mode & 0o777 for part in (".", "a", "a/b", "a/b/c")]
    assert modes == [0o755, 0o700, 0o700, 0o700]
