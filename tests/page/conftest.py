"""A page on a ledger of its own: asked in this process, or over a socket as a browser would."""

import contextlib
import http.client
import re
import secrets
import socket
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from jarcast.cli.at_page import AtPage
from jarcast.page.gate import Gate, hosts_of
from jarcast.page.pairing import Pairing, devices_file
from jarcast.page.routes import make_app
from jarcast.page.server import Settings, close, make_server
from jarcast.page.shown import Page

PORT = 8417
HOST = f"127.0.0.1:{PORT}"
ORIGIN = f"http://{HOST}"
COOKIE = f"jarcast-{PORT}"


class Device:
    """One device: what it has in its cookie jar, and how its forms are sent."""

    def __init__(self, ledger: Path, **settings: Any) -> None:
        self.ledger, self.commands = ledger, AtPage(ledger)
        self.pairing = Pairing(devices_file(ledger))
        page = Page(self.commands, self.pairing, COOKIE, ORIGIN, **settings)
        self.app = make_app(page)
        self.app.wsgi_app = Gate(self.app.wsgi_app, hosts_of(["127.0.0.1", "localhost"], PORT))  # type: ignore[method-assign]
        self.client = self.app.test_client()

    def pair(self) -> "Device":
        """The same, let in."""
        answer = self.post("/pair", code=self.pairing.new_code())
        assert answer.status_code == 303
        return self

    def again(self, **settings: Any) -> "Device":
        """The same device after the server was started anew."""
        other = Device(self.ledger, **settings)
        cookie = self.client.get_cookie(COOKIE, "127.0.0.1")
        if cookie is not None:
            other.client.set_cookie(COOKIE, cookie.value, domain="127.0.0.1")
        return other

    def get(self, path: str, **headers: str) -> Any:
        return self.client.get(path, base_url=ORIGIN, headers=headers, buffered=True)

    def send(self, path: str, fields: dict[str, str], **headers: str) -> Any:
        """A post as it stands, with the Origin of this page unless another is said."""
        headers = {"Origin": ORIGIN} | headers
        said = {name: value for name, value in headers.items() if value}
        return self.client.post(path, data=fields, base_url=ORIGIN, headers=said)

    def post(self, path: str, **fields: str) -> Any:
        """A form of this page, with its token, and a key of its own unless one is said."""
        form = {"key": secrets.token_hex(16), "token": self.token, **fields}
        return self.send(path, {name.replace("__", "-"): text for name, text in form.items()})

    @property
    def token(self) -> str:
        found = re.search(r'name="form-token" content="(\w*)"', self.get("/devices").text)
        return found[1] if found else ""

    def begin(self, **fields: str) -> str:
        """The path of a batch that was begun."""
        fields = {"produce": "carrot", "cut": "sticks", "pack": "raw", "jar": "pint"} | fields
        answer = self.post("/begin", **fields)
        assert answer.status_code == 303, answer.text
        return str(answer.headers["Location"]).partition("?")[0]


@pytest.fixture
def ledger(home: Path) -> Path:
    """Where the ledger will be."""
    return home / "ledger.sqlite3"


@pytest.fixture
def stranger(ledger: Path) -> Device:
    """A device that was not let in."""
    return Device(ledger)


@pytest.fixture
def device(stranger: Device) -> Device:
    """A device that was let in."""
    return stranger.pair()


class Served:
    """The page over a socket: where, and who may come in."""

    def __init__(self, server: Any, pairing: Pairing, port: int, ledger: Path) -> None:
        self.server, self.pairing, self.port, self.ledger = server, pairing, port, ledger
        self.host = f"127.0.0.1:{port}"
        self.origin = f"http://{self.host}"

    def ask(
        self, method: str, path: str, body: bytes | None = None, **headers: str
    ) -> tuple[int, dict[str, str], bytes]:
        """Status, headers and body of one request."""
        link = http.client.HTTPConnection("127.0.0.1", self.port, timeout=20)
        named = {name.replace("_", "-"): value for name, value in headers.items()}
        link.request(method, path, body, {"Host": self.host} | named)
        answer = link.getresponse()
        found = answer.status, dict(answer.getheaders()), answer.read()
        link.close()
        return found

    def raw(self, request: bytes) -> bytes:
        """What comes back for bytes that no client would send."""
        with socket.create_connection(("127.0.0.1", self.port), timeout=20) as link:
            link.sendall(request)
            link.shutdown(socket.SHUT_WR)
            found = b""
            while more := link.recv(65536):
                found += more
            return found


def free_port() -> int:
    with socket.socket() as one:
        one.bind(("127.0.0.1", 0))
        return int(one.getsockname()[1])


def _run(server: Any) -> None:
    with contextlib.suppress(OSError):  # its sockets are closed under it at the end
        server.run()


@pytest.fixture
def serving(ledger: Path) -> Iterator[Callable[..., Served]]:
    """Starts the page in a thread, as waitress serves it."""
    running: list[tuple[Any, threading.Thread]] = []

    def start(**settings: Any) -> Served:
        port = free_port()
        server, pairing = make_server(AtPage(ledger), ledger, Settings(port=port, **settings))
        thread = threading.Thread(target=_run, args=(server,), daemon=True)
        thread.start()
        running.append((server, thread))
        return Served(server, pairing, port, ledger)

    yield start
    for server, thread in running:
        close(server)
        thread.join(timeout=5)
        close(server)  # what came in meanwhile


@pytest.fixture
def run(home: Path) -> Callable[..., Any]:
    """Runs the command line in a process of its own, on the same ledger."""

    def command(*arguments: str) -> Any:
        ran = subprocess.run(
            [sys.executable, "-m", "jarcast", *arguments], capture_output=True, text=True,
            timeout=60,
        )  # fmt: skip
        return SimpleNamespace(code=ran.returncode, out=ran.stdout, err=ran.stderr)

    return command
