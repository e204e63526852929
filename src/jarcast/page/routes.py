"""The page as an application: its routes, what every screen is given, and its errors."""

import os
import secrets
from pathlib import Path
from typing import Any

from flask import Flask, request
from werkzeug.exceptions import HTTPException

from jarcast.errors import JarcastError
from jarcast.measures import typeset
from jarcast.page import screens
from jarcast.page.devices import Devices
from jarcast.page.doing import Doing
from jarcast.page.gate import form_token, guard
from jarcast.page.looking import Looking
from jarcast.page.shown import Page, Refused, shown
from jarcast.views.pages.filling import typed as legible
from jarcast.views.words import crop_words, exactly, jar_words

_BATCH = "/batch/<int:number>"
LOOKED_AT = {
    "now": "/", "state": "/state", "batch": _BATCH, "question": f"{_BATCH}/ask/<name>",
    "closing": f"{_BATCH}/close", "beginning": "/begin", "ask": "/forecast",
    "before": "/before/<what>", "unsealed": "/sealed", "card": f"{_BATCH}/card",
}  # fmt: skip
DONE = {
    "jar": f"{_BATCH}/jar", "answered": f"{_BATCH}/ask/<name>", "undo": f"{_BATCH}/undo",
    "close": f"{_BATCH}/close", "begin": "/begin", "sealed": "/sealed", "undo_last": "/undo",
}  # fmt: skip
LET_IN = {
    "pair": ("GET", "/pair"), "paired": ("POST", "/pair"), "devices": ("GET", "/devices"),
    "another": ("POST", "/devices"), "forget": ("POST", "/devices/forget"),
}  # fmt: skip


def make_app(page: Page) -> Flask:
    """The page as a Flask application; ``Gate`` stands around it."""
    own = Path(__file__).parent
    app = Flask(__name__, template_folder=str(own / "templates"), static_folder=str(own / "static"))
    app.config.update(MAX_CONTENT_LENGTH=65536, MAX_FORM_MEMORY_SIZE=65536, MAX_FORM_PARTS=60)
    app.jinja_env.filters.update(
        typed=legible, typeset=typeset, crop=crop_words, exactly=exactly, jars=jar_words,
        full=screens.full_of, filled=screens.filled_of,
    )  # fmt: skip
    app.jinja_env.trim_blocks = app.jinja_env.lstrip_blocks = True
    guard(app, page.pairing, page.cookie, read_only=page.read_only)
    looking, doing, devices = Looking(page), Doing(page), Devices(page)
    for name, rule in LOOKED_AT.items():
        app.add_url_rule(rule, name, getattr(looking, name), methods=["GET"])
    for name, rule in DONE.items():
        app.add_url_rule(rule, name, getattr(doing, name), methods=["POST"])
    for name, (method, rule) in LET_IN.items():
        app.add_url_rule(rule, name, getattr(devices, name), methods=[method])

    @app.context_processor
    def _always() -> dict[str, Any]:
        token = request.cookies.get(page.cookie, "")
        return {
            "token": form_token(token), "key": secrets.token_hex(16), "read_only": page.read_only,
            "told": doing.told(request.args.get("told", "")), "questions": screens.QUESTIONS,
        }  # fmt: skip

    _failing(app, looking)
    return app


def _failing(app: Flask, looking: Looking) -> None:
    """Errors as pages that show nothing of the inside; the terminal is told more."""

    @app.errorhandler(Refused)
    def refused(error: Refused) -> Any:
        return looking.refused(error)

    @app.errorhandler(JarcastError)
    def failed(error: JarcastError) -> Any:
        app.logger.error("%s", error)
        return shown("error.html", 0, 500, why="The ledger cannot be used right now; the terminal "
                     "that runs 'jarcast serve' says more.")  # fmt: skip

    @app.errorhandler(HTTPException)
    def no(error: HTTPException) -> Any:
        code = error.code or 500
        own = "" if type(error)().description == error.description else error.description
        return shown("error.html", 0, code, why=own or _WORDS.get(code, ""))

    @app.errorhandler(Exception)
    def broken(error: Exception) -> Any:
        debug = bool(os.environ.get("JARCAST_DEBUG"))
        app.logger.error("%s: %s", type(error).__name__, error, exc_info=error if debug else None)
        return shown("error.html", 0, 500, why="This should not have happened. Nothing was "
                     "half-written; look at the batch, and try again.")  # fmt: skip


_WORDS = {
    400: "That was not sent from this page.", 401: "This device has not been let in.",
    403: "That was not sent by this page.", 404: "There is no such page.",
    405: "This page cannot do that.", 413: "That is too much to send at once.",
}  # fmt: skip
