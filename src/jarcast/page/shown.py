"""What the screens and the forms share: the page's settings, a field, a batch, a refusal."""

from typing import Any

from flask import abort, render_template, request
from msgspec import Struct

from jarcast.page.desk import Commands, Look, Seen
from jarcast.page.pairing import Pairing

LONGEST = 400  # signs of one field
NOT_ASKED = ("token", "key", "saw", "yes")  # of a form, what is no part of what it asks
_GONE = "This batch is no longer open: it was closed, dropped or taken back."


class Page(Struct, frozen=True):
    """One server's page: its commands, its pairing, the name of its cookie, where it is reached.

    ``alone`` tells that no other machine can reach it.
    """

    commands: Commands
    pairing: Pairing
    cookie: str
    address: str
    read_only: bool = False
    alone: bool = False


class Refused(Exception):  # noqa: N818 - it is an answer
    """What a form asked was not done: why, the status, and whether it may be sent again."""

    def __init__(
        self, why: str, status: int = 422, *, again: bool = True, odd: bool = False
    ) -> None:
        """``why`` is a sentence for whoever taps; ``odd``: it may be right, and is asked back."""
        super().__init__(why)
        self.status, self.again, self.odd = status, again, odd


def shown(template: str, newest: int, status: int = 200, **values: Any) -> tuple[str, int]:
    """A screen; ``newest`` is the last action that it shows, 0 where it need not keep in step."""
    return render_template(template, newest=newest, **values), status


def field(name: str) -> str:
    """One field of the form, as it was typed."""
    text = request.form.get(name, "").strip()
    if len(text) > LONGEST or "\0" in text:
        abort(400)
    return text


def batch_of(commands: Commands, number: int, *, bare: bool = False) -> tuple[Look, Seen]:
    """The kitchen, and the open batch of this number in it; ``bare``: not forecast."""
    look = commands.look(number, bare=bare)
    if not look.open:
        abort(404, _GONE)
    return look, look.open[0]


def bare(commands: Commands, number: int) -> Seen:
    """The batch as it was recorded, not forecast."""
    return batch_of(commands, number, bare=True)[1]
