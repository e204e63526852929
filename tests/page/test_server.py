"""The page as a process: how it starts and stops, how it stands many at once and being killed."""

import os
import re
import secrets
import signal
import socket
import sqlite3
import subprocess
import sys
import threading
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from jarcast.ledger import Ledger
from jarcast.page.codes import qr_lines

from .conftest import free_port

pytestmark = pytest.mark.xdist_group("alone")


class Process:
    """'jarcast serve' as a process of its own, on a port that was free."""

    def __init__(self, *more: str) -> None:
        self.port = free_port()
        self.origin = f"http://127.0.0.1:{self.port}"
        command = [sys.executable, "-m", "jarcast", "serve", "--no-browser", "--port"]
        self.process = subprocess.Popen(
            [*command, str(self.port), *more], stdout=subprocess.PIPE, stderr=subprocess.PIPE,
            text=True,
        )  # fmt: skip
        assert self.process.stdout is not None
        self.said = [self.process.stdout.readline() for _ in range(2)]
        found = re.search(r"[0-9A-Z-]{17}", self.said[1])
        assert found is not None, self.said
        self.code, self.cookie, self.token = found[0], "", ""

    def ask(self, method: str, path: str, **fields: str) -> tuple[int, dict[str, str], str]:
        import http.client
        from urllib.parse import urlencode

        link = http.client.HTTPConnection("127.0.0.1", self.port, timeout=30)
        headers = {"Origin": self.origin, "Cookie": self.cookie}
        headers["Content-Type"] = "application/x-www-form-urlencoded"
        form = {"key": secrets.token_hex(16), "token": self.token} | fields
        link.request(method, path, urlencode(form) if method == "POST" else None, headers)
        answer = link.getresponse()
        found = answer.status, dict(answer.getheaders()), answer.read().decode()
        link.close()
        return found

    def pair(self) -> "Process":
        status, headers, _ = self.ask("POST", "/pair", code=self.code)
        assert status == 303
        self.cookie = headers["Set-Cookie"].partition(";")[0]
        return self.know()

    def know(self) -> "Process":
        """Read the token of a form."""
        found = re.search(r'name="form-token" content="(\w+)"', self.ask("GET", "/devices")[2])
        assert found is not None
        self.token = found[1]
        return self

    def begin(self) -> str:
        said = {"produce": "carrot", "cut": "sticks", "pack": "raw", "jar": "pint"}
        status, headers, page = self.ask("POST", "/begin", **said)
        assert status == 303, page
        return headers["Location"].partition("?")[0]

    def stop(self, how: int) -> tuple[int, str, str]:
        self.process.send_signal(how)
        out, err = self.process.communicate(timeout=30)
        return self.process.returncode, out, err


@pytest.fixture
def started() -> Any:
    """Starts processes, and ends those that still run."""
    running: list[Process] = []

    def start(*more: str) -> Process:
        running.append(Process(*more))
        return running[-1]

    yield start
    for one in running:
        one.process.kill()
        one.process.communicate()


@pytest.mark.parametrize("how", [signal.SIGINT, signal.SIGTERM])
def test_it_says_where_it_is_and_stops_cleanly(started: Callable[..., Process], how: int) -> None:
    one = started()
    assert one.said[0] == f"The page is at {one.origin}; Ctrl-C ends it.\n"
    assert one.ask("GET", "/pair")[0] == 200
    code, out, err = one.stop(how)
    assert (code, err) == (0, "")
    assert out == "The page has stopped; every answer is recorded.\n"


def test_a_port_that_is_taken_is_said_plainly() -> None:
    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        other.listen()
        port = other.getsockname()[1]
        ran = subprocess.run(
            [sys.executable, "-m", "jarcast", "serve", "--no-browser", "--port", str(port)],
            capture_output=True, text=True, timeout=60,
        )  # fmt: skip
    assert ran.returncode == 1
    assert ran.stderr.startswith(f"jarcast: port {port} of 127.0.0.1 cannot be used")
    assert "--port" in ran.stderr
    assert "Traceback" not in ran.stderr


def test_a_device_is_known_after_a_restart(started: Callable[..., Process]) -> None:
    one = started().pair()
    path = one.begin()
    one.stop(signal.SIGTERM)
    other = started()
    other.cookie = one.cookie.replace(f"jarcast-{one.port}", f"jarcast-{other.port}")
    assert other.ask("GET", path)[0] == 200


def test_twenty_clients_at_once_lose_no_tap(started: Callable[..., Process], home: Path) -> None:
    one = started().pair()
    path = one.begin()
    bad: list[Any] = []
    taps = 5

    def tap() -> None:
        for _ in range(taps):
            status, _, page = one.ask("POST", f"{path}/jar", sort="pint")
            seen = one.ask("GET", path)[0]
            if (status, seen) != (303, 200):
                bad.append((status, seen, re.findall(r">([^<]{9,})<", page)))

    clients = [threading.Thread(target=tap) for _ in range(20)]
    for client in clients:
        client.start()
    for client in clients:
        client.join()
    assert bad == [], one.stop(signal.SIGTERM)[2]  # and what the server said of it
    with Ledger.open(home / "ledger.sqlite3") as opened:
        kinds = opened.rows("SELECT kind, count(*) FROM step GROUP BY kind ORDER BY kind")
    assert kinds == [("begin", 1), ("pack", 20 * taps)]


def _killed(start: Callable[..., Process], ledger: Path, kills: int) -> None:
    """Kill the server while taps come in: each tap that was answered is there, and once."""
    one = start().pair()
    path, answered = one.begin(), set[str]()
    for number in range(kills):
        stop = threading.Event()
        sent: list[str] = []

        def tap(server: Process = one, sent: list[str] = sent, stop: Any = stop) -> None:
            while not stop.is_set():
                key = secrets.token_hex(16)
                sent.append(key)
                try:
                    if server.ask("POST", f"{path}/jar", sort="pint", key=key)[0] == 303:
                        answered.add(key)
                except OSError:
                    return

        client = threading.Thread(target=tap)
        client.start()
        time.sleep(0.5 + 0.15 * (number % 5))
        one.process.send_signal(signal.SIGKILL)
        stop.set()
        client.join()
        one.process.communicate()
        cookie = one.cookie
        again = start()
        again.cookie = cookie.replace(f"jarcast-{one.port}", f"jarcast-{again.port}")
        one = again.know()
        for key in sent[-1:]:  # the phone sends again what was not answered
            assert one.ask("POST", f"{path}/jar", sort="pint", key=key)[0] == 303
            answered.add(key)
    with sqlite3.connect(ledger) as opened:
        rows = opened.execute("SELECT request FROM action WHERE kind = 'pack'").fetchall()
        assert opened.execute("PRAGMA integrity_check").fetchone() == ("ok",)
        steps = opened.execute("SELECT count(*) FROM step WHERE kind = 'pack'").fetchone()[0]
    opened.close()
    assert len(rows) == len(answered) == steps > kills
    assert {asked.partition(":")[0] for (asked,) in rows} == answered


def test_killed_in_the_middle_nothing_is_lost_or_half(
    started: Callable[..., Process], home: Path
) -> None:
    _killed(started, home / "ledger.sqlite3", 4)


@pytest.mark.slow
def test_killed_fifty_times_nothing_is_lost_or_half(
    started: Callable[..., Process], home: Path
) -> None:
    _killed(started, home / "ledger.sqlite3", 50)


def test_the_code_for_a_camera_is_black_on_white_whatever_the_terminal(home: Path) -> None:
    # ISO/IEC 18004: a finder pattern of 7 by 7 modules in three corners, 4 modules of white around
    lines = qr_lines("http://192.0.2.2:8417/pair#EDBQ-XXYJ-HNV3-7J")
    assert all(line.startswith("\x1b[30;107m") and line.endswith("\x1b[0m") for line in lines)
    signs = [line[len("\x1b[30;107m") : -len("\x1b[0m")] for line in lines]
    up = [[sign in "▀█" for sign in line] for line in signs]
    down = [[sign in "▄█" for sign in line] for line in signs]
    rows = [row for pair in zip(up, down, strict=True) for row in pair]
    width = len(rows[0])
    assert not any(any(row) for row in rows[:4])
    assert not any(any(row[:4]) or any(row[-4:]) for row in rows)
    edge, ring, core = (
        [True] * 7,
        [True, *[False] * 5, True],
        [True, False, *[True] * 3, False, True],
    )
    finder = [edge, ring, core, core, core, ring, edge]
    for top, left in ((4, 4), (4, width - 11), (width - 11, 4)):
        assert [row[left : left + 7] for row in rows[top : top + 7]] == finder


def test_a_terminal_shows_that_code_with_its_colours(home: Path) -> None:
    import pexpect

    said = ["-m", "jarcast", "serve", "--lan", "--port", str(free_port())]
    shown = pexpect.spawn(sys.executable, said, dimensions=(60, 90), encoding="utf-8", timeout=30)
    found = shown.expect(["\x1b\\[30;107m", "not on a network"])
    if found == 0:
        shown.expect("plain HTTP")
        shown.sendintr()
    shown.expect(pexpect.EOF)
    shown.close()
    # 1 on a machine without a network, which says so
    assert shown.exitstatus == found, (shown.before, shown.signalstatus)


def test_nothing_of_it_is_loaded_by_another_command(home: Path) -> None:
    code = (
        "import sys\nfrom jarcast.cli import main\n"
        "try:\n    main(['batches'])\nexcept SystemExit:\n    pass\n"
        "print(*[n for n in ('flask', 'werkzeug', 'waitress', 'segno', 'jarcast.page') "
        "if n in sys.modules])"
    )
    ran = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, timeout=60,
        env=dict(os.environ),
    )  # fmt: skip
    assert ran.stdout.splitlines()[-1] == ""
