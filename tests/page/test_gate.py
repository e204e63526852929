"""Nobody in who does not belong: each line of the security checklist, by its number.

The sources stand beside each: standards, advisories of other servers, and what was measured in
Chromium on a plain-HTTP name.
"""

import logging
import re
import secrets
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from jarcast.page.gate import hosts_of
from jarcast.page.pairing import MOST_WRONG, Pairing
from jarcast.page.server import LOOPBACK, Settings

ORIGIN = "http://127.0.0.1:8417"
UNSAFE = ("POST", "PUT", "DELETE", "PATCH", "OPTIONS")


def steps_in(device: Any) -> int:
    return int(device.commands.newest())


# 1. Default bind 127.0.0.1; --lan binds one chosen address.


def test_01_it_listens_on_this_machine_alone_unless_told(serving: Callable[..., Any]) -> None:
    assert Settings().host == LOOPBACK == "127.0.0.1"
    served = serving()
    assert served.server.socket.getsockname()[0] == "127.0.0.1"


def test_01_the_address_of_the_network_is_never_that_of_all(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    from jarcast.errors import JarcastError
    from jarcast.page import server

    class Everywhere:
        def __enter__(self) -> "Everywhere":
            return self

        def __exit__(self, *_: object) -> None: ...

        def connect(self, _: object) -> None: ...

        def getsockname(self) -> tuple[str, int]:
            return "0.0.0.0", 1  # noqa: S104 - refused

    monkeypatch.setattr(server.socket, "socket", lambda *_: Everywhere())
    with pytest.raises(JarcastError, match="not on a network"):
        server.lan_address()


# 2. and 3. Host equals an allowed name:port exactly, before routing, static files, errors.

WRONG_HOSTS = (
    "", "127.0.0.1", "127.0.0.1:8418", "127.0.0.1:84170", "127.0.0.1:8417.evil.example",
    "evil.example", "evil.example:8417", "localhost6:8417", "localhost.evil.example:8417",
    "127.0.0.1.evil.example:8417", "127x0x0x1:8417", "LOCALHOST:8417 ", "127.0.0.1:8417,evil",
    "user@127.0.0.1:8417", "[::1]:8417", "[::1", "127.0.0.1:", ":8417", "127.0.0.1:8417/",
)  # fmt: skip


@pytest.mark.parametrize("host", WRONG_HOSTS)
@pytest.mark.parametrize("path", ["/", "/static/page.css", "/pair", "/nothing"])
def test_02_03_04_a_host_that_is_not_ours_is_refused_everywhere(
    device: Any, host: str, path: str
) -> None:
    # localhost6 was CVE-2021-22884, the open bracket CVE-2026-14631
    answer = device.client.open(path, method="GET", environ_overrides={"HTTP_HOST": host})
    assert answer.status_code == 400
    assert "carrot" not in answer.text
    assert "<" not in answer.text


def test_02_a_forwarded_host_counts_for_nothing(device: Any) -> None:
    answer = device.client.get(
        "/", base_url="http://evil.example:8417", headers={"X-Forwarded-Host": "127.0.0.1:8417"}
    )
    assert answer.status_code == 400
    assert device.get("/", **{"X-Forwarded-Host": "evil.example"}).status_code == 200


def test_02_a_host_that_is_missing_or_said_twice_is_refused(serving: Callable[..., Any]) -> None:
    served = serving()
    host = served.host.encode()
    twice = b"GET /pair HTTP/1.1\r\nHost: %s\r\nHost: evil.example\r\n\r\n" % host
    for request in (b"GET /pair HTTP/1.1\r\n\r\n", b"GET /pair HTTP/1.0\r\n\r\n", twice):
        assert served.raw(request).startswith((b"HTTP/1.1 400", b"HTTP/1.0 400")), request
    assert (
        served.raw(b"GET /pair HTTP/1.1\r\nHost: %s\r\nConnection: close\r\n\r\n" % host)[9:12]
        == b"200"
    )


def test_02_without_a_port_a_name_holds_on_port_80_alone() -> None:
    assert hosts_of(["kitchen.home"], 80) == {"kitchen.home:80", "kitchen.home"}
    assert hosts_of(["kitchen.home"], 8417) == {"kitchen.home:8417"}


def test_04_a_broken_host_is_no_crash(serving: Callable[..., Any]) -> None:
    served = serving()
    answer = served.raw(b"GET / HTTP/1.1\r\nHost: [::1\r\nConnection: close\r\n\r\n")
    assert answer[9:12] == b"400"
    assert served.ask("GET", "/pair")[0] == 200  # it goes on


# 5. and 13. One gate before all routes; authorised by the route that matched.


def test_05_13_every_route_asks_who_it_is(stranger: Any) -> None:
    # CVE-2024-28179: one handler that forgot to ask
    seen = 0
    for rule in stranger.app.url_map.iter_rules():
        if rule.endpoint in ("pair", "paired", "static"):
            continue
        path = re.sub(r"<(int:)?\w+>", "1", rule.rule)
        for method in sorted(rule.methods - {"HEAD", "OPTIONS"}):
            form = {"token": "0" * 64, "key": secrets.token_hex(16)}
            answer = stranger.client.open(
                path, method=method, base_url=ORIGIN, headers={"Origin": ORIGIN}, data=form
            )
            shown = answer.status_code in (401, 403) or answer.headers.get("Location") == "/pair"
            assert shown, (method, path, answer.status_code)
            seen += 1
    assert seen >= 15


@pytest.mark.parametrize(
    "path",
    ["//pair/../", "/pair/..", "/static/../", "/%70air/", "/static/%2e%2e/routes.py", "/nix"],
)
def test_05_no_way_of_writing_a_path_gets_past_it(stranger: Any, path: str) -> None:
    # CVE-2026-48710: a path was judged in one spelling and served in another
    answer = stranger.get(path)
    assert answer.status_code in (301, 303, 308, 401, 404)
    assert "Begin a batch" not in answer.text


# 6. A rebound name gets no data.


def test_06_a_rebound_name_gets_nothing(serving: Callable[..., Any]) -> None:
    # CVE-2024-28224; with the cookie of a device that was let in
    served = serving()
    token = served.pairing.use(served.pairing.new_code())
    cookie = f"jarcast-{served.port}={token}"
    status, _, body = served.ask("GET", "/", Host="evil.example", Cookie=cookie)
    assert (status, b"<" in body) == (400, False)
    assert served.ask("GET", "/", Cookie=cookie)[0] == 200


# 7., 8. and 10. What other pages send.


@pytest.mark.parametrize(
    "origin",
    ["", "null", "http://evil.example", "http://127.0.0.1:9999", "https://127.0.0.1:8417",
     "http://127.0.0.1:8417.evil.example", "http://localhost:8417", "http://127.0.0.1"],
)  # fmt: skip
def test_07_a_post_of_another_origin_is_refused(device: Any, origin: str) -> None:
    before = steps_in(device)
    form = {"token": device.token, "key": secrets.token_hex(16), "produce": "carrot"}
    assert device.send("/begin", form, Origin=origin).status_code == 403
    assert device.send("/pair", {"code": "x"}, Origin=origin).status_code == 403
    assert steps_in(device) == before


def test_07_every_method_that_is_not_safe_is_asked_for_its_origin(device: Any) -> None:
    for method in UNSAFE:
        answer = device.client.open("/begin", method=method, base_url=ORIGIN)
        assert answer.status_code == 403, method


@pytest.mark.parametrize("site", ["cross-site", "same-site", "none", ""])
def test_08_sec_fetch_site_if_sent_is_same_origin(device: Any, site: str) -> None:
    form = {"token": device.token, "key": secrets.token_hex(16), "produce": "carrot"}
    headers = {"Origin": ORIGIN, "Sec-Fetch-Site": site}
    answer = device.client.post("/begin", data=form, base_url=ORIGIN, headers=headers)
    assert answer.status_code == 403
    assert device.send("/begin", form, **{"Sec-Fetch-Site": "same-origin"}).status_code == 303


def answers_of(device: Any) -> list[Any]:
    """A page, an error, a static file, a refusal at the gate, a redirect, a post refused."""
    return [
        device.get("/"), device.get("/nix"), device.get("/static/page.js"),
        device.client.get("/", base_url="http://evil.example"), device.get("/pair"),
        device.post("/begin", key="short"), device.post("/pair", code="wrong"),
        device.get("/state"), device.client.post("/begin", base_url=ORIGIN),
    ]  # fmt: skip


def test_09_19_20_every_answer_carries_its_headers(device: Any) -> None:
    due = {
        "Referrer-Policy": "same-origin",
        "X-Content-Type-Options": "nosniff",
        "Cross-Origin-Resource-Policy": "same-origin",
        "Cache-Control": "no-store",
    }
    policy = {
        "default-src": "'none'", "script-src": "'self'", "style-src": "'self'",
        "img-src": "'self'", "connect-src": "'self'", "form-action": "'self'",
        "base-uri": "'none'", "frame-ancestors": "'none'",
    }  # fmt: skip
    for answer in answers_of(device):
        for name, value in due.items():
            assert answer.headers.getlist(name) == [value], (answer.request.path, name)
        said = answer.headers["Content-Security-Policy"]
        assert dict(one.strip().split(" ", 1) for one in said.split(";")) == policy


def test_10_no_answer_lets_another_page_read_it(device: Any) -> None:
    # GHSA-vg6x-rcgg-rjx6
    for answer in [*answers_of(device), device.get("/", Origin="http://evil.example")]:
        assert not [name for name, _ in answer.headers if name.startswith("Access-Control-")]


def test_11_looking_changes_nothing_and_pairs_nothing(device: Any) -> None:
    path = device.begin()
    before, devices = steps_in(device), device.pairing._read()
    code = device.pairing.new_code()
    for rule in device.app.url_map.iter_rules():
        if "GET" in rule.methods and rule.endpoint != "static":
            device.get(re.sub(r"<int:\w+>", path.rpartition("/")[2], rule.rule)
                       .replace("<name>", "trimmed").replace("<what>", "habits"))  # fmt: skip
    device.get(f"/pair?code={code}")
    assert (steps_in(device), device.pairing._read()) == (before, devices)
    assert device.pairing.use(code) is not None  # no look used it up


# 12., 14., 15. and 16. Who is let in.


def test_12_this_machine_needs_a_code_too(stranger: Any) -> None:
    # CVE-2025-49596: a server on loopback that trusted whoever reached it
    answer = stranger.get("/")
    assert (answer.status_code, answer.headers["Location"]) == (303, "/pair")
    assert stranger.get("/state").status_code == 401


def test_14_a_token_is_of_256_random_bits_and_kept_hashed(ledger: Path, device: Any) -> None:
    # ASVS 7.2.3 asks for 128
    tokens = {device.pairing.use(device.pairing.new_code()) for _ in range(3)}
    assert len(tokens) == 3
    kept = (ledger.parent / f"{ledger.name}.devices.json").read_text()
    assert all(
        re.fullmatch(r"[0-9a-f]{64}", str(token)) and str(token) not in kept for token in tokens
    )
    assert (ledger.parent / f"{ledger.name}.devices.json").stat().st_mode & 0o77 == 0


def test_15_a_code_holds_once_and_for_ten_minutes(tmp_path: Path) -> None:
    now = [0.0]
    pairing = Pairing(tmp_path / "d.json", lambda: now[0])
    code = pairing.new_code()
    assert len(code.replace("-", "")) * 5 >= 64  # five bits a sign: NIST 800-63B asks for 64
    assert pairing.use(code.lower()) is not None
    assert pairing.use(code) is None
    late = pairing.new_code()
    now[0] += 600.0
    assert pairing.use(late) is None
    first, second = pairing.new_code(), pairing.new_code()
    assert pairing.use(first) is None
    assert pairing.use(second) is not None


def test_15_five_wrong_codes_void_it_for_everyone(stranger: Any) -> None:
    code = stranger.pairing.new_code()
    for _ in range(MOST_WRONG - 1):
        assert stranger.post("/pair", code="0000").status_code == 403
    assert MOST_WRONG == 5
    other = stranger.pairing.new_code()  # as many tries again
    for number in range(5):
        headers = {"Origin": ORIGIN, "X-Forwarded-For": f"10.0.0.{number}"}
        stranger.client.post("/pair", data={"code": "1"}, base_url=ORIGIN, headers=headers)
    assert stranger.post("/pair", code=other).status_code == 403
    assert code != other


def test_16_a_code_goes_in_a_fragment_and_into_no_log(
    serving: Callable[..., Any], caplog: pytest.LogCaptureFixture, capfd: pytest.CaptureFixture[str]
) -> None:
    # GHSA-q6j3-c4wc-63vw: a token in a query stood in logs and Referers
    caplog.set_level(logging.DEBUG)
    served = serving()
    code = served.pairing.new_code()
    body = f"code={code}".encode()
    form = {"Content_Type": "application/x-www-form-urlencoded", "Origin": served.origin}
    status, headers, _ = served.ask("POST", "/pair", body, **form)
    assert (status, headers["Location"]) == (303, "/")
    said = caplog.text + "".join(capfd.readouterr())
    assert code not in said
    page = served.ask("GET", "/pair")[2].decode()
    assert re.search(r'<form method="post" action="/pair"', page)


def test_16_what_is_printed_has_the_code_behind_a_hash_sign(
    monkeypatch: pytest.MonkeyPatch, ledger: Path
) -> None:
    from jarcast.cli.at_page import AtPage
    from jarcast.page import server

    said: list[str] = []
    opened: list[str] = []

    class Stopped:
        class task_dispatcher:  # noqa: N801 - as waitress names it
            @staticmethod
            def shutdown(timeout: float) -> None: ...

        def run(self) -> None: ...

        def close(self) -> None: ...

    pairing = Pairing(ledger.with_name("d.json"))
    monkeypatch.setattr(server, "make_server", lambda *_: (Stopped(), pairing))
    monkeypatch.setattr(server.webbrowser, "open", opened.append)
    monkeypatch.setattr(server.signal, "signal", lambda *_: None)
    server.serve(AtPage(ledger), ledger, Settings(), said.append)
    assert re.fullmatch(r"http://127\.0\.0\.1:8417/pair#[0-9A-Z-]{17}", opened[0])
    server.serve(AtPage(ledger), ledger, Settings(host="192.168.1.7"), said.append)
    assert any(re.search(r"http://192\.168\.1\.7:8417/pair#[0-9A-Z-]{17}$", one) for one in said)
    assert any("plain HTTP" in one for one in said)  # 25. a warning at the start
    assert len(opened) == 1


# 17. and 18. The cookie, and its end.


def test_17_the_cookie_is_strict_and_of_this_port(stranger: Any) -> None:
    answer = stranger.post("/pair", code=stranger.pairing.new_code())
    cookie = answer.headers["Set-Cookie"]
    parts = [part.strip() for part in cookie.split(";")]
    assert parts[0].startswith("jarcast-8417=")
    assert {"HttpOnly", "SameSite=Strict", "Path=/"} <= set(parts)
    # Secure is dropped by a browser on plain HTTP, __Host- with it
    assert not [part for part in parts if part.lower().startswith(("secure", "domain"))]


def test_18_a_device_is_ended_at_once_and_for_good(ledger: Path, device: Any) -> None:
    # CVE-2026-40934: a session that outlived its end
    assert device.get("/").status_code == 200
    ran = subprocess.run(
        [sys.executable, "-m", "jarcast", "serve", "--forget"], capture_output=True, text=True,
        timeout=60,
    )  # fmt: skip
    assert (ran.returncode, ran.stdout) == (0, "1 device is no longer let in.\n")
    assert device.get("/").headers["Location"] == "/pair"
    assert device.again().get("/").headers["Location"] == "/pair"


def test_18_one_device_ends_alone_and_a_restart_keeps_the_others(ledger: Path, device: Any) -> None:
    other = device.pairing.use(device.pairing.new_code())
    assert device.post("/devices/forget", which="this").status_code == 303
    assert device.get("/").headers["Location"] == "/pair"
    assert Pairing(device.pairing._file).knows(str(other))
    assert not Pairing(device.pairing._file).knows("")


def test_18_a_file_of_devices_that_cannot_be_read_lets_nobody_in(device: Any) -> None:
    for content in ("", "{", '{"devices": 3}', "[]", '{"devices": [3, null]}'):
        device.pairing._file.write_text(content)
        assert device.get("/").headers["Location"] == "/pair", content


# 19. No code within a page.


def test_19_no_page_has_code_or_style_of_its_own(device: Any) -> None:
    path = device.begin(recipe="none")
    pages = ["/", path, f"{path}/close", f"{path}/ask/trimmed", "/begin", "/forecast", "/devices",
             "/before/habits", "/pair", "/nix"]  # fmt: skip
    for page in pages:
        text = device.get(page).text
        assert not re.search(
            r"<script(?![^>]*\bsrc=)|<style|\sstyle=|\son\w+=|javascript:", text
        ), page
        assert not re.search(r'(src|href|action)="(https?:)?//', text), page


# 21. Sizes.


def test_21_too_much_is_refused(serving: Callable[..., Any], device: Any) -> None:
    served = serving()
    form = {"Content_Type": "application/x-www-form-urlencoded", "Origin": served.origin}
    assert served.ask("POST", "/pair", b"code=" + b"x" * 70_000, **form)[0] == 413
    assert device.send("/pair", {"code": "x" * 70_000}).status_code == 413
    # CVE-2024-49767: many parts of a form
    parts = "".join(
        f'--b\r\nContent-Disposition: form-data; name="f{n}"\r\n\r\n1\r\n' for n in range(99)
    )
    answer = device.client.post(
        "/pair", data=f"{parts}--b--\r\n".encode(), base_url=ORIGIN, headers={"Origin": ORIGIN},
        content_type="multipart/form-data; boundary=b",
    )  # fmt: skip
    assert answer.status_code == 413


# 22., 23. and 24. What goes in and comes out.


def test_22_a_name_of_code_stays_text(device: Any) -> None:
    nasty = "<script>alert(1)</script>"
    path = device.begin(produce=nasty, yes="on")
    for page in ("/", path, f"{path}/close", f"{path}/ask/note", "/begin"):
        text = device.get(page).text
        assert nasty not in text
    assert "&lt;script&gt;" in device.get(path).text
    answer = device.post(f"{path}/ask/trimmed", trimmed=f'">{nasty}')
    assert answer.status_code == 422
    assert nasty not in answer.text


def test_23_an_error_shows_nothing_of_the_inside(
    device: Any, monkeypatch: pytest.MonkeyPatch, ledger: Path
) -> None:
    def broken(*_: Any, **__: Any) -> Any:
        raise RuntimeError(f"secret {ledger}")

    monkeypatch.setattr(device.commands, "look", broken)
    answer = device.get("/")
    assert answer.status_code == 500
    assert "Traceback" not in answer.text
    assert "secret" not in answer.text
    assert str(ledger.parent) not in answer.text
    assert not device.app.debug
    assert device.get("/console").status_code == 404


def test_23_the_server_does_not_say_what_it_is(serving: Callable[..., Any]) -> None:
    _, headers, _ = serving().ask("GET", "/pair")
    assert "Server" not in headers


@pytest.mark.parametrize(
    "recipe", ["/etc/passwd", "../recipes/x.toml", "own.toml", "pickled carrots"]
)
def test_24_no_file_is_named_by_a_request(device: Any, recipe: str) -> None:
    before = steps_in(device)
    assert device.post("/begin", produce="carrot", recipe=recipe).status_code == 400
    asked = device.get(f"/forecast?produce=carrot&trimmed=5+lb&recipe={recipe}")
    assert "There is no card for that recipe here" in asked.text
    assert "root:" not in asked.text
    assert device.get("/static/../../../ledger.sqlite3").status_code in (401, 404)
    assert device.get("/before/export").status_code == 404
    assert steps_in(device) == before


def test_24_no_option_is_taken_from_a_form_that_the_page_does_not_have(
    device: Any, home: Path
) -> None:
    path = device.begin()
    elsewhere = home / "other.sqlite3"
    device.post(f"{path}/ask/trimmed", trimmed="5 lb", ledger=str(elsewhere), units="metric")
    assert not elsewhere.exists()
    assert "lb" in device.get(path).text
    assert device.post(f"{path}/ask/ledger", ledger=str(elsewhere)).status_code == 404


# 25. --read-only.


def test_25_a_page_that_only_shows_refuses_every_post(ledger: Path, device: Any) -> None:
    path = device.begin()
    before = steps_in(device)
    shown = device.again(read_only=True).pair()
    refused = 0
    for rule in shown.app.url_map.iter_rules():
        if "POST" in rule.methods and rule.endpoint != "paired":
            where = re.sub(r"<int:\w+>", path.rpartition("/")[2], rule.rule).replace(
                "<name>", "note"
            )
            assert shown.post(where, note="x", sort="pint").status_code == 403, where
            refused += 1
    assert refused >= 8
    assert steps_in(shown) == before
    assert shown.get(path).status_code == 200
    assert "<button" not in shown.get(path).text
