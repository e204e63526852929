"""A headless Chromium to look at pages with, spoken to over its DevTools pipe.

The protocol: JSON messages, each ended by a NUL, read by the browser from its file descriptor 3
and written to 4 (Chromium's --remote-debugging-pipe; Chrome DevTools Protocol 1.3).
"""

import base64
import contextlib
import json
import os
import shutil
import subprocess
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

NAME = "counter.home"  # a name of a network at home: plain HTTP there is no secure context
NAMES = ("chromium", "chromium-browser", "google-chrome")


class Browser:
    """One headless browser with one page."""

    def __init__(self, program: str, folder: Path) -> None:
        to_read, self._write = os.pipe()
        self._read, to_write = os.pipe()
        options = ["--headless=new", "--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage",
                   "--no-first-run", "--disable-background-networking", "--remote-debugging-pipe",
                   "--hide-scrollbars", f"--user-data-dir={folder}",
                   f"--host-resolver-rules=MAP {NAME} 127.0.0.1"]  # fmt: skip
        # A shell puts the two ends where the browser looks for them.
        ends = f"3<&{to_read} 4>&{to_write}"
        self._process = subprocess.Popen(
            ["/bin/bash", "-c", f'exec "$0" "$@" {ends}', program, *options, "about:blank"],
            pass_fds=(to_read, to_write),
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        os.close(to_read)
        os.close(to_write)
        self._rest, self._count, self._events = b"", 0, []
        pages = self.call("Target.getTargets")["targetInfos"]
        page = next(one["targetId"] for one in pages if one["type"] == "page")
        attached = self.call("Target.attachToTarget", targetId=page, flatten=True)
        self._session = attached["sessionId"]
        self.send("Page.enable")
        self.send("Network.enable")
        self.send("Runtime.enable")

    def call(self, method: str, session: str = "", **given: Any) -> dict[str, Any]:
        """Ask the browser, and wait for the answer."""
        self._count += 1
        message = {"id": self._count, "method": method, "params": given}
        if session:
            message["sessionId"] = session
        os.write(self._write, json.dumps(message).encode() + b"\0")
        while True:
            answer = self._next()
            if answer.get("id") == self._count:
                assert "error" not in answer, answer["error"]
                return answer["result"]
            self._events.append(answer)

    def send(self, method: str, **given: Any) -> dict[str, Any]:
        """Ask the page."""
        return self.call(method, self._session, **given)

    def _next(self) -> dict[str, Any]:
        while b"\0" not in self._rest:
            more = os.read(self._read, 1 << 20)
            assert more, "the browser has gone"
            self._rest += more
        message, _, self._rest = self._rest.partition(b"\0")
        return json.loads(message)

    def open(self, file: Path, width: int = 1280) -> None:
        """Load a page from its file at a width, and wait until it stands."""
        self.visit(file.as_uri(), width)

    def visit(self, url: str, width: int = 1280, height: int = 844) -> None:
        """Load a page from its address at a size, and wait until it stands."""
        self.send("Emulation.setDeviceMetricsOverride", width=width, height=height,
                  deviceScaleFactor=1, mobile=width < 600)  # fmt: skip
        self._events.clear()
        self.send("Page.navigate", url=url)
        while not any(e.get("method") == "Page.loadEventFired" for e in self._events):
            self._events.append(self._next())

    def pretend(self, media: str = "", *, dark: bool = False) -> None:
        """Show pages as on paper ('print') or a screen, set to dark or to light."""
        scheme = {"name": "prefers-color-scheme", "value": "dark" if dark else "light"}
        self.send("Emulation.setEmulatedMedia", media=media, features=[scheme])

    def asked_for(self) -> list[str]:
        """What the page last opened was fetched from, itself included."""
        return [
            event["params"]["request"]["url"]
            for event in self._events
            if event.get("method") == "Network.requestWillBeSent"
        ]

    def told(self, script: str) -> Any:
        """What a script says of the page, a promise awaited."""
        answer = self.send("Runtime.evaluate", expression=script, awaitPromise=True,
                           returnByValue=True)  # fmt: skip
        assert "exceptionDetails" not in answer, answer["exceptionDetails"]
        return answer["result"].get("value")

    def until(self, script: str, seconds: float = 10.0) -> None:
        """Wait until a script says yes; of what loads meanwhile nothing is asked."""
        give_up = time.monotonic() + seconds
        while time.monotonic() < give_up:
            with contextlib.suppress(AssertionError):  # the page is just being left
                if self.told(script):
                    return
            time.sleep(0.05)
        raise AssertionError(
            f"not within {seconds} s: {script}; {self.told('document.body.innerText')}"
        )

    def tap(self, selector: str, text: str = "") -> None:
        """Tap what a selector finds, the first that holds this text, as a finger does."""
        find = (f"[...document.querySelectorAll({json.dumps(selector)})]"
                f".find(e => e.textContent.includes({json.dumps(text)}))")  # fmt: skip
        self.until(f"document.readyState === 'complete' && !!{find}")
        self.told(f"{find}.scrollIntoView({{block: 'center', behavior: 'instant'}})")
        x, y = self.told(
            f"(r => [r.x + r.width / 2, r.y + r.height / 2])({find}.getBoundingClientRect())"
        )
        for kind in ("mousePressed", "mouseReleased"):
            self.send("Input.dispatchMouseEvent", type=kind, x=x, y=y, button="left", clickCount=1)

    def offline(self, lost: bool) -> None:
        """Lose the network, or have it back."""
        self.send("Network.emulateNetworkConditions", offline=lost, latency=0,
                  downloadThroughput=-1, uploadThroughput=-1)  # fmt: skip

    def scheme(self, name: str) -> None:
        """Light or dark, as the system would ask for."""
        self.send("Emulation.setEmulatedMedia",
                  features=[{"name": "prefers-color-scheme", "value": name}])  # fmt: skip

    def printed(self, width_in: float, height_in: float) -> bytes:
        """The page printed as a PDF on paper of this size."""
        answer = self.send("Page.printToPDF", paperWidth=width_in, paperHeight=height_in,
                           preferCSSPageSize=False, printBackground=True)  # fmt: skip
        return base64.b64decode(answer["data"])

    def screenshot(self, *, whole: bool = True) -> bytes:
        """What the page looks like, as PNG."""
        answer = self.send("Page.captureScreenshot", captureBeyondViewport=whole)
        return base64.b64decode(answer["data"])

    def close(self) -> None:
        """End the browser."""
        os.close(self._write)
        os.close(self._read)
        try:
            self._process.wait(timeout=5)
        except subprocess.TimeoutExpired:
            self._process.kill()
            self._process.wait()


@pytest.fixture(scope="session")
def browser(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Browser]:
    """A headless Chromium; tests that need it fail, and are not skipped, where there is none."""
    program = next((found for name in NAMES if (found := shutil.which(name))), None)
    assert program, "Chromium is not installed: apt-get install chromium"
    opened = Browser(program, tmp_path_factory.mktemp("chromium"))
    yield opened
    opened.close()
