"""The page's server: where it listens, what it prints, how it stops."""

import logging
import signal
import socket
import sys
import webbrowser
from collections.abc import Callable
from pathlib import Path
from typing import Any

from msgspec import Struct

from jarcast.errors import JarcastError
from jarcast.page.codes import qr_lines
from jarcast.page.desk import Commands
from jarcast.page.gate import Gate, hosts_of
from jarcast.page.pairing import MINUTES, Pairing, devices_file
from jarcast.page.routes import make_app
from jarcast.page.shown import Page

LOOPBACK = "127.0.0.1"
_MOST_BYTES = 65536
PLAIN = (
    "This is plain HTTP: others on the same network can read what is sent, even codes. Use it "
    "only at home, put nothing secret in notes, and stop it when you are done."
)


class Settings(Struct, frozen=True):
    """How the page is offered: ``host`` is the one address that is listened on."""

    host: str = LOOPBACK
    port: int = 8417
    names: tuple[str, ...] = ()
    browser: bool = True
    read_only: bool = False

    @property
    def address(self) -> str:
        """Where the page is reached."""
        return f"http://{self.host}:{self.port}"


def lan_address() -> str:
    """The address of this machine on its network. Raises JarcastError where it is on none."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(("192.0.2.1", 9))  # RFC 5737: nothing is sent, a way out is looked up
            found = str(probe.getsockname()[0])
        except OSError as error:
            raise JarcastError(_NO_NETWORK) from error
    if found.startswith("127.") or found == "0.0.0.0":  # noqa: S104 - refused, not bound
        raise JarcastError(_NO_NETWORK)
    return found


_NO_NETWORK = "this machine is not on a network; join one, or leave out --lan"


def make_server(commands: Commands, ledger: Path, settings: Settings) -> tuple[Any, Pairing]:
    """A waitress server that listens already, and who may come in.

    Raises JarcastError where its port is taken, or the address is none of this machine.
    """
    from waitress.server import create_server

    logging.getLogger("waitress.queue").setLevel(logging.ERROR)  # that some wait is no news
    pairing = Pairing(devices_file(ledger))
    cookie = f"jarcast-{settings.port}"
    page = Page(commands, pairing, cookie, settings.address, settings.read_only,
                alone=settings.host == LOOPBACK)  # fmt: skip
    own = (settings.host, *(("localhost",) if settings.host == LOOPBACK else ()), *settings.names)
    app = Gate(make_app(page), hosts_of(own, settings.port))
    try:
        server = create_server(
            app, host=settings.host, port=settings.port, ident=None, threads=4,
            channel_timeout=15, connection_limit=200, max_request_body_size=_MOST_BYTES,
            clear_untrusted_proxy_headers=True,
        )  # fmt: skip
    except OSError as error:
        raise JarcastError(
            f"port {settings.port} of {settings.host} cannot be used ({error.strerror}): another "
            "program may have it; choose another with --port"
        ) from error
    return server, pairing


def serve(
    commands: Commands,
    ledger: Path,
    settings: Settings,
    say: Callable[[str], None],
    draw: Callable[[str], None] = print,
) -> None:
    """Serve until Ctrl-C or SIGTERM. Raises JarcastError where that cannot be begun.

    ``say`` shows a sentence, ``draw`` a line of the picture with its colours.
    """
    server, pairing = make_server(commands, ledger, settings)
    signal.signal(signal.SIGTERM, _stop)
    try:
        code = pairing.new_code()
        link = f"{settings.address}/pair#{code}"
        say(f"The page is at {settings.address}; Ctrl-C ends it.")
        say(f"Code for one device, good once, for {MINUTES} minutes: {code}")
        if settings.host != LOOPBACK:
            say(f"On the other device: {link}")
            for text in _picture(link):
                draw(text)
            say(PLAIN)
        elif settings.browser:
            webbrowser.open(link)
        server.run()
    except (KeyboardInterrupt, SystemExit):
        pass
    finally:
        close(server)
    say("The page has stopped; every answer is recorded.")


def close(server: Any) -> None:
    """End a server: what is under way is answered first, then every connection is closed."""
    server.task_dispatcher.shutdown(timeout=5)
    server.close()
    for channel in list(getattr(server, "active_channels", {}).values()):
        channel.close()


def _picture(link: str) -> list[str]:
    """The code for a camera, where the terminal has room for it."""
    import shutil

    if not sys.stdout.isatty():
        return []
    lines = qr_lines(link)
    room = shutil.get_terminal_size().columns
    return lines if lines and len(lines[0]) - 13 <= room else []


def _stop(*_: object) -> None:
    raise KeyboardInterrupt
