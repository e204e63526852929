"""The one gate that every request passes before anything else: its Host, its Origin, its device.

On plain HTTP under a name of the local network a browser sends no Sec-Fetch-Site and keeps no
Secure cookie, and a cookie goes to every port of the host: so Host, Origin and the form's token
carry the weight.
"""

import hashlib
import hmac
from collections.abc import Callable, Iterable
from typing import Any

from flask import Flask, abort, redirect, request
from werkzeug.wrappers import Response

from jarcast.page.pairing import Pairing

SAFE = ("GET", "HEAD")
OPEN = ("pair", "paired", "static")  # endpoints that a device not let in yet may reach
HEADERS = {
    "Content-Security-Policy": (
        "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; "
        "connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
    ),
    # 'no-referrer' would turn the Origin of our own forms into 'null'.
    "Referrer-Policy": "same-origin",
    "X-Content-Type-Options": "nosniff",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Cache-Control": "no-store",
}

Start = Callable[..., Any]
Wsgi = Callable[[dict[str, Any], Start], Iterable[bytes]]


def hosts_of(names: Iterable[str], port: int) -> frozenset[str]:
    """What a Host may be: each name with the port; without it too where that is 80."""
    bare = list(names)
    found = {f"{name}:{port}" for name in bare}
    return frozenset(found | set(bare if port == 80 else ()))


class Gate:
    """Refuses, before routing, what was not sent to this server by name or not by its own pages."""

    def __init__(self, inner: Wsgi, hosts: frozenset[str]) -> None:
        """``hosts`` are the names, each with the port, that this server goes by."""
        self._inner, self._hosts = inner, hosts

    def __call__(self, environ: dict[str, Any], start: Start) -> Iterable[bytes]:
        """A WSGI application around another."""
        why = self._refusal(environ)

        def headed(status: str, headers: list[tuple[str, str]], *more: Any) -> Any:
            own = [one for one in headers if one[0] not in HEADERS]
            return start(status, [*own, *HEADERS.items()], *more)

        if why is None:
            return self._inner(environ, headed)
        status, words = why
        text = words.encode()
        headed(
            status,
            [("Content-Type", "text/plain; charset=utf-8"), ("Content-Length", str(len(text)))],
        )
        return [] if environ.get("REQUEST_METHOD") == "HEAD" else [text]

    def _refusal(self, environ: dict[str, Any]) -> tuple[str, str] | None:
        host = environ.get("HTTP_HOST", "")
        if host not in self._hosts:
            return "400 Bad Request", "This is not a name of this server.\n"
        if environ.get("REQUEST_METHOD") in SAFE:
            return None
        if environ.get("HTTP_ORIGIN", "") != f"http://{host}":
            return "403 Forbidden", "Sent by another page. For scripts, use the command line.\n"
        if environ.get("HTTP_SEC_FETCH_SITE", "same-origin") != "same-origin":
            return "403 Forbidden", "Sent by another page.\n"
        return None


def form_token(token: str) -> str:
    """What a form of a device carries beside its cookie."""
    return hmac.new(token.encode(), b"form", hashlib.sha256).hexdigest()


def guard(app: Flask, pairing: Pairing, cookie: str, *, read_only: bool = False) -> None:
    """Let only devices that were let in past the few open routes, by the route that matched."""

    @app.before_request
    def _device() -> Any:
        if request.endpoint in OPEN:
            return None
        token = request.cookies.get(cookie, "")
        if not token or not pairing.knows(token):
            if request.method in SAFE and request.endpoint not in (None, "state"):
                return redirect("/pair", 303)
            abort(401)
        if request.method not in SAFE:
            if read_only:
                abort(403, "This page only shows things: it was started with --read-only.")
            sent = request.form.get("token", "")
            if not hmac.compare_digest(sent.encode(), form_token(token).encode()):
                abort(403)
        return None


def let_in(answer: Response, cookie: str, token: str) -> Response:
    """An answer with the cookie of a device; no Secure, which a browser drops on plain HTTP."""
    answer.set_cookie(
        cookie, token, max_age=180 * 86400, path="/", httponly=True, samesite="Strict", secure=False
    )
    return answer
