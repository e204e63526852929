"""What is sent from the screens: each form makes one call of the commands, once for its key."""

import hashlib
import re
import threading
from collections import OrderedDict
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any

from flask import abort, redirect, request
from werkzeug.wrappers import Response

from jarcast.errors import AskedBackError, JarcastError
from jarcast.ledger.entry import Request
from jarcast.page import screens
from jarcast.page.desk import Answer, Seen
from jarcast.page.prose import in_lines
from jarcast.page.shown import NOT_ASKED, Page, Refused, bare, field

_KEY = re.compile(r"[0-9a-f]{32}")
_MOST_TOLD = 200  # answers kept to be read after the redirect
_ANOTHER_POT = (  # two people who write down one pot: it would count twice
    "A pot was noted since you opened this: brine made is now '{text}', and you typed '{typed}'. "
    "If yours is another pot, send it again. If it is the same one, go back."
)

Done = tuple[str, list[str]]  # where to look next, and what is told there


class Fine(str):
    """What was done as asked: told beside what is to be looked at, in no warning's colour."""

    __slots__ = ()
    fine = True


class Doing:
    """Each form of a page, by the name of its route; one is done after the other."""

    def __init__(self, page: Page) -> None:
        """Forms of this page."""
        self._commands, self._one_by_one = page.commands, threading.Lock()
        self._told: OrderedDict[str, list[str]] = OrderedDict()

    def told(self, key: str) -> list[str]:
        """What was told of a form, by its key, for the screen after it."""
        return self._told.get(key, [])

    def _once(self, do: Callable[[Request], Done], again: str) -> Response:
        """Do what a form asks, once for each key; then look."""
        asked = _request()
        with self._one_by_one:
            before = self._commands.digest_of(asked.key)
            if before not in (None, asked.digest):
                abort(422, "Another form was sent with this key.")
            where, said = (again, []) if before is not None else do(asked)
            if said:
                self._told[asked.key] = said
            while len(self._told) > _MOST_TOLD:
                self._told.popitem(last=False)
        return redirect(where + (f"?told={asked.key}" if self.told(asked.key) else ""), 303)

    def _answer(self, command: str, said: dict[str, Any], asked: Request) -> Answer:
        with _refusing():
            return self._commands.run(command, said, asked)

    def _run(self, command: str, said: dict[str, Any], asked: Request) -> list[str]:
        return _told(self._answer(command, said, asked))

    def _take_back(self, said: dict[str, Any], asked: Request) -> list[str]:
        self._run("undo", {**said, "yes": True, "further": True}, asked)
        return [Fine("Taken back. Nothing was deleted.")]

    def jar(self, number: int) -> Any:
        """One more jar is full."""
        here, sort = f"/batch/{number}", field("sort")

        def do(asked: Request) -> Done:
            seen = bare(self._commands, number)
            if sort not in seen.sorts:
                abort(400)
            packed = dict(seen.packed)
            packed[sort] = packed.get(sort, 0.0) + 1.0
            return here, self._run("pack", _pack(seen, screens.jars_text(packed)), asked)

        return self._once(do, here)

    def answered(self, number: int, name: str) -> Any:
        """One question is answered."""
        question = screens.QUESTIONS.get(name) or abort(404)
        here, text = f"/batch/{number}", field(name)

        def do(asked: Request) -> Done:
            seen = bare(self._commands, number)
            if not text:
                raise Refused("Nothing was typed.")
            _check_seen(seen, name, text)
            said = {"batch": seen.at.name, "yes": _sure(), name: text}
            if question.command == "pack":
                said |= _pack(seen, screens.jars_text(seen.packed))
            return here, self._run(question.command, said, asked)

        return self._once(do, here)

    def undo(self, number: int) -> Any:
        """Take back the last step of a batch."""
        here = f"/batch/{number}"

        def do(asked: Request) -> Done:
            seen = bare(self._commands, number)
            _check_newest(seen.newest, "Another step was noted meanwhile. Look again, then undo.")
            begun = seen.newest == seen.number
            return "/" if begun else here, self._take_back({"batch": seen.at.name}, asked)

        return self._once(do, here)

    def close(self, number: int) -> Any:
        """Write the batch down."""

        def do(asked: Request) -> Done:
            seen = bare(self._commands, number)
            jars = _jars(seen)
            _check_seen(seen, "jars", jars)
            said = {"batch": seen.at.name, "yes": _sure(), "jars": jars}
            more = {name: field(name) for name in ("brine_left", "sealed")}
            _check_sealed(more["sealed"])
            told = self._run("close", said | {k: v for k, v in more.items() if v}, asked)
            return "/", [Fine(f"Closed: {seen.at.name}."), *told]

        return self._once(do, "/")

    def begin(self) -> Any:
        """Open a batch."""

        def do(asked: Request) -> Done:
            said: dict[str, Any] = {"yes": _sure()}
            for name in ("produce", "cut", "pack", "jar", "person"):
                said |= {name: field(name)} if field(name) else {}
            recipe = field("recipe")
            if recipe == "none":
                said["recipe"] = ""
            elif recipe:
                if recipe not in self._commands.choices().cards:
                    abort(400)
                said["recipe"] = recipe
            if not {"produce", "recipe"} & {one for one, text in said.items() if text}:
                raise Refused("Say what you are putting up under Crop, or choose its recipe.")
            answer = self._answer("begin", said, asked)
            name = answer.document["batch"]
            found = [seen for seen in self._commands.look(bare=True).open if seen.at.name == name]
            where = f"/batch/{found[0].number}" if found else "/"
            return where, _told(answer)

        return self._once(do, "/")

    def sealed(self) -> Any:
        """How many jars of a closed batch sealed."""
        name, count = field("batch"), field("sealed")
        where = "/sealed" if field("list") else "/"
        change = {"batch": name, "changes": [f"sealed={count}"]}

        def do(asked: Request) -> Done:
            if not count:
                raise Refused("Nothing was typed.")
            _check_sealed(count)
            with _refusing():
                odd = "" if _sure() else self._commands.odd_sealed(name, count)
            if odd:
                raise Refused(odd, odd=True)
            return where, self._run("amend", change, asked)

        return self._once(do, where)

    def undo_last(self) -> Any:
        """Take back the last thing done, whatever it was."""

        def do(asked: Request) -> Done:
            newest = self._commands.newest()
            _check_newest(newest, "Something was done meanwhile. Look again, then undo.")
            return "/", self._take_back({}, asked)

        return self._once(do, "/")


def _told(answer: Answer) -> list[str]:
    return [screens.in_page_words(in_lines(text)) for text in answer.told]


@contextmanager
def _refusing() -> Iterator[None]:
    """What a command refuses, refused in the words of the page."""
    try:
        yield
    except JarcastError as error:
        odd = isinstance(error, AskedBackError)
        raise Refused(screens.in_page_words(str(error)), odd=odd) from error


def _request() -> Request:
    """The key of the form, and a digest of what it asks."""
    key = request.form.get("key", "")
    if not _KEY.fullmatch(key):
        abort(400, "The form has no key. Load the page again.")
    asked = sorted((k, v) for k, v in request.form.items(multi=True) if k not in NOT_ASKED)
    text = repr((request.path, asked))
    return Request(key, hashlib.sha256(text.encode()).hexdigest())


def _check_newest(newest: int, why: str) -> None:
    """Refuse, for this reason, where something was done since the form was made."""
    if request.form.get("saw") != str(newest):
        raise Refused(why, 409, again=False)


def _check_seen(seen: Seen, name: str, typed: str) -> None:
    """Refuse where the same thing was said since this form was made, by whichever device.

    The same text again changes nothing, but for a pot, which is added to what was made.
    """
    saw = request.form.get("saw", "")
    column = "brine_made" if name == "more_brine" else name
    action, text = seen.said.get(column, (0, ""))
    if not saw.isdecimal() or action <= int(saw):
        return
    if name == "more_brine":
        raise Refused(_ANOTHER_POT.format(text=text, typed=typed), 409)
    if text != typed:
        raise Refused(
            f"Another device entered '{text}' meanwhile; you typed '{typed}'. Send it again if "
            "yours is right.",
            409,
        )


def _sure() -> bool:
    return request.form.get("yes") == "on"


def _jars(seen: Seen) -> str:
    """Jars filled in all, with the part-full one."""
    whole = {sort: _count(f"jars-{sort}") for sort in seen.sorts}
    return screens.with_part(whole, field("part"), field("part_of"))


def _count(name: str) -> float:
    text = field(name) or "0"
    if not text.isdecimal() or len(text) > 4:
        raise Refused("Count whole jars here; choose the part-full one by its picture.")
    return float(text)


def _check_sealed(text: str) -> None:
    if text and not text.isdecimal():
        raise Refused("Count the sealed jars in whole numbers, such as 7.")


def _pack(seen: Seen, jars: str) -> dict[str, Any]:
    return {"batch": seen.at.name, "jars": jars, "yes": _sure()}
