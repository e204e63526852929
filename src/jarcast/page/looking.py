"""The screens that are looked at: each reads, and shows; none changes anything."""

import secrets
from collections.abc import Callable, Mapping
from typing import Any

from flask import abort, request
from werkzeug.wrappers import Response

from jarcast.domain.stages import STAGES
from jarcast.errors import AskedBackError, JarcastError
from jarcast.page import screens
from jarcast.page.desk import Commands
from jarcast.page.prose import blocks, newest_first
from jarcast.page.shown import LONGEST, NOT_ASKED, Page, Refused, batch_of, shown

_STARTED = secrets.token_hex(4)  # two servers of one address never share an ETag
_ASKED = ("produce", "cut", "pack", "jar", "recipe", "person", *(stage.typed for stage in STAGES))


class Looking:
    """Each screen of a page, by the name of its route."""

    def __init__(self, page: Page) -> None:
        """Screens of this page."""
        self._page, self._commands = page, page.commands

    def now(self) -> Any:
        """Open batches, what each comes to, how many jars sealed."""
        look = self._commands.look()
        cards = [(seen, screens.figures(seen, look.units)[:2]) for seen in look.open]
        return shown("now.html", look.newest, cards=cards, look=look)

    def unsealed(self) -> Any:
        """Batches of which it is not said yet how many jars sealed."""
        look = self._commands.look(bare=True)
        return shown("sealed.html", look.newest, look=look)

    def state(self) -> Response:
        """Number of the last action, and 304 for a device that has seen it."""
        answer = Response(str(self._commands.newest()), mimetype="text/plain")
        answer.set_etag(f"{self._page.address}-{_STARTED}-{answer.get_data(as_text=True)}")
        return answer.make_conditional(request.environ)

    def batch(self, number: int) -> Any:
        """One batch: its figures, what to say next."""
        look, seen = batch_of(self._commands, number)
        return shown(
            "batch.html",
            look.newest,
            seen=seen,
            figures=screens.figures(seen, look.units),
            step=screens.next_step(seen),
        )

    def question(self, number: int, name: str, refused: Refused | None = None) -> Any:
        """One question, with its pad."""
        look, seen = batch_of(self._commands, number)
        asked = screens.QUESTIONS.get(name) or abort(404)
        return shown(
            "question.html",
            *_kept(look.newest, refused),
            seen=seen,
            name=name,
            asked=asked,
            units=look.units,
            refused=refused,
            sent=_sent(refused),
        )

    def closing(self, number: int, refused: Refused | None = None) -> Any:
        """What is asked at the end."""
        look, seen = batch_of(self._commands, number)
        sent = _sent(refused)
        packed = screens.packed_now(seen.packed)
        return shown(
            "close.html",
            *_kept(look.newest, refused),
            seen=seen,
            units=look.units,
            packed=screens.packed_anew(packed, sent) if refused else packed,
            refused=refused,
            sent=sent,
        )

    def beginning(self, refused: Refused | None = None) -> Any:
        """What goes into jars, as last time or otherwise."""
        choices, sent = self._commands.choices(), _sent(refused)
        if not refused:
            sent = {"person": choices.person}
        newest = _kept(self._commands.newest(), refused)
        return shown("begin.html", *newest, choices=choices, refused=refused, sent=sent)

    def refused(self, error: Refused) -> Any:
        """The form that was refused, as it was, with the reason; a short one where it was a tap."""
        given = request.view_args or {}
        ways: Mapping[str, Callable[..., Any]]
        ways = {"answered": self.question, "close": self.closing, "begin": self.beginning}
        if error.again and (form := ways.get(request.endpoint or "")):
            return form(**given, refused=error)
        number, seen = given.get("number"), None
        if number is not None:
            seen = next(iter(self._commands.look(number).open), None)
        return shown(
            "refused.html",
            *_kept(0, error),
            refused=error,
            sent=_sent(error),
            back="/" if number is None else f"/batch/{number}",
            action=request.path,
            seen=seen,
        )

    def ask(self) -> Any:
        """A forecast; it writes nothing."""
        sent = {name: request.args.get(name, "")[:LONGEST] for name in _ASKED}
        answer, why, odd = "", "", False
        if any(text for name, text in sent.items() if name != "person"):
            sure = request.args.get("yes") == "on"
            answer, why, odd = _forecast(self._commands, sent, sure=sure)
        return shown(
            "forecast.html",
            self._commands.newest(),
            choices=self._commands.choices(),
            sent=sent,
            answer=blocks(answer),
            refused=Refused(why, odd=odd) if why else None,
        )

    def before(self, what: str) -> Any:
        """Batches, habits, the track record, as the commands say them."""
        titles = {"batches": "Batches", "habits": "Habits", "hindsight": "Track record"}
        if what not in titles:
            abort(404)
        try:
            text = screens.in_page_words(self._commands.run(what, {}).shown)
        except JarcastError as error:
            text = screens.in_page_words(str(error))
        found = newest_first(blocks(text)) if what == "batches" else blocks(text)
        newest = self._commands.newest()
        return shown("text.html", newest, title=titles[what], titles=titles, text=found)

    def card(self, number: int) -> Any:
        """The whole card of a batch."""
        look, seen = batch_of(self._commands, number, bare=True)
        try:
            text = self._commands.card(number) or abort(404)
        except JarcastError as error:
            text = str(error)
        return shown("card.html", look.newest, seen=seen, text=blocks(text))


def _kept(newest: int, refused: Refused | None) -> tuple[int, int]:
    """What a screen shows last, and its status; a refused form stays, whatever is done beside."""
    return (newest, 200) if refused is None else (0, refused.status)


def _sent(refused: Refused | None) -> dict[str, str]:
    """What was typed into the form that was refused."""
    if refused is None:
        return {}
    return {k: v[:LONGEST] for k, v in request.form.items() if k not in NOT_ASKED}


def _forecast(
    commands: Commands, sent: Mapping[str, str], *, sure: bool = False
) -> tuple[str, str, bool]:
    """A forecast in words; or '', why there is none, and whether what was asked may be right."""
    said: dict[str, Any] = {name: text for name, text in sent.items() if text.strip()}
    try:
        if (recipe := said.get("recipe")) and recipe not in commands.choices().cards:
            return "", "There is no card for that recipe here.", False
        answer = commands.run("forecast", said | ({"as_named": True} if sure else {}))
    except JarcastError as error:
        return "", screens.in_page_words(str(error)), isinstance(error, AskedBackError)
    told = "".join(f"{text}\n" for text in answer.told)
    return screens.in_page_words(f"{told}{answer.shown}"), "", False
