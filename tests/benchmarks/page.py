"""How fast the page at the counter answers: a page, and a tapped jar to the new forecast.

A ledger of many batches, the page in this process by its own application, answer by answer; and,
with --clients, over sockets from as many clients at once. Run alone, on one core: taskset -c 0.
"""

import argparse
import csv
import re
import secrets
import sys
import tempfile
import threading
import time
from collections.abc import Callable
from pathlib import Path
from urllib.parse import urlencode

import numpy as np

from jarcast.cli.at_page import AtPage
from jarcast.files.shipped import shipped
from jarcast.ledger import Ledger
from jarcast.page.gate import form_token
from jarcast.page.server import Settings, make_server

PORT = 8493
HOST = f"127.0.0.1:{PORT}"


def filled(folder: Path, batches: int) -> Path:
    """A ledger of so many batches: those of the demo household, over and over."""
    from jarcast.batchtable.importer import import_csv

    with shipped("data_demo", "batches.csv").open(encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    table, ledger = folder / "batches.csv", folder / "ledger.sqlite3"
    with table.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, rows[0].keys())
        writer.writeheader()
        for number in range(batches):
            writer.writerow(rows[number % len(rows)] | {"batch": f"b{number}"})
    with Ledger.open(ledger, writing=True) as opened:
        import_csv(table, opened)
    return ledger


class Client:
    """One device over a socket that it keeps."""

    def __init__(self, token: str) -> None:
        import http.client

        self.link = http.client.HTTPConnection("127.0.0.1", PORT, timeout=60)
        self.headers = {"Origin": f"http://{HOST}", "Cookie": f"jarcast-{PORT}={token}"}
        self.headers["Content-Type"] = "application/x-www-form-urlencoded"
        self.token = form_token(token)

    def get(self, path: str) -> str:
        return self._ask("GET", path, None)[1]

    def post(self, path: str, **fields: str) -> str:
        form = {"key": secrets.token_hex(16), "token": self.token} | fields
        status, said = self._ask("POST", path, urlencode(form))
        assert status == 303, " ".join(re.findall(r">([^<]*[a-z][^<]*)<", said))[:600]
        return said

    def _ask(self, method: str, path: str, body: str | None) -> tuple[int, str]:
        self.link.request(method, path, body, self.headers)
        answer = self.link.getresponse()
        text = answer.read().decode()
        return answer.status, answer.headers["Location"] or text


def spread(label: str, do: Callable[[], object], turns: int) -> None:
    """Time it so many times: median, 95 in 100, the worst, and the processor's own, in ms."""
    found, busy = [], time.process_time()
    for _ in range(turns):
        start = time.perf_counter()
        do()
        found.append(1e3 * (time.perf_counter() - start))
    middle, most, worst = np.quantile(found, [0.5, 0.95, 1.0])
    own = 1e3 * (time.process_time() - busy) / turns
    print(
        f"{label:34} p50 {middle:6.1f} ms   p95 {most:6.1f} ms   worst {worst:6.1f} ms   "
        f"busy {own:5.1f} ms"
    )


def at_once(token: str, path: str, clients: int, seconds: float, ledger: Path) -> None:
    """So many clients for so long, each a tap and a look in turn: errors, and taps lost."""
    answered, errors, until = [0] * clients, list[str](), time.monotonic() + seconds

    def work(number: int) -> None:
        one = Client(token)
        while time.monotonic() < until:
            try:
                one.post(f"{path}/jar", sort="pint")
                answered[number] += 1
                one.get("/state")
            except (AssertionError, OSError) as error:
                errors.append(repr(error)[:600])

    with Ledger.open(ledger) as opened:
        before = opened.rows("SELECT count(*) FROM step WHERE kind = 'pack'")[0][0]
    running = [threading.Thread(target=work, args=(number,)) for number in range(clients)]
    for one in running:
        one.start()
    for one in running:
        one.join()
    with Ledger.open(ledger) as opened:
        kept = opened.rows("SELECT count(*) FROM step WHERE kind = 'pack'")[0][0] - before
    lost = sum(answered) - kept
    print(f"{clients} clients, {seconds:g} s: {kept} taps, {lost} lost, {len(errors)} errors")
    print(*errors[:3], sep="\n")


def main() -> None:
    """Print what was measured; nothing here passes or fails."""
    options = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    options.add_argument("--batches", type=int, default=500)
    options.add_argument("--turns", type=int, default=60)
    options.add_argument("--clients", type=int, default=0)
    options.add_argument("--seconds", type=float, default=60.0)
    asked = options.parse_args()
    sys.setswitchinterval(0.001)
    with tempfile.TemporaryDirectory() as name:
        ledger = filled(Path(name), asked.batches)
        server, pairing = make_server(AtPage(ledger), ledger, Settings(port=PORT))
        threading.Thread(target=server.run, daemon=True).start()
        token = pairing.use(pairing.new_code()) or ""
        one = Client(token)
        said = {"produce": "carrot", "cut": "sticks", "pack": "raw", "jar": "pint"}
        path = one.post("/begin", **said, recipe="none", yes="on").partition("?")[0]
        assert re.fullmatch(r"/batch/\d+", path)
        one.post(f"{path}/ask/trimmed", trimmed="60 lb", yes="on")
        one.post(f"{path}/ask/more_brine", more_brine="90 cups")

        def tapped() -> None:
            one.post(f"{path}/jar", sort="pint")
            one.get(path)

        for screen in ("/", path, f"{path}/ask/pot_left", f"{path}/close", "/begin", "/state"):
            label = screen.replace(path, "/batch/N")
            spread(f"page {label}", lambda screen=screen: one.get(screen), asked.turns)  # type: ignore[misc]
        spread("a tapped jar to its new forecast", tapped, min(asked.turns, 40))
        if asked.clients:
            at_once(token, path, asked.clients, asked.seconds, ledger)


if __name__ == "__main__":
    main()
