"""The middle of packing in jarcast guide: after a few jars, and after each pot of brine."""

from collections.abc import Callable
from contextlib import suppress
from functools import partial

from jarcast.cli.common import tell
from jarcast.cli.counter import Desk
from jarcast.cli.pack import check_count, note_packing
from jarcast.cli.prompts import Back, prompt
from jarcast.cli.questions import with_brine
from jarcast.errors import JarcastError
from jarcast.measures import parse_volume, parse_weight
from jarcast.views.words import wrapped

_JARS = "Jars packed so far, after three or so (Enter: all are filled)"
_PRODUCE = "Produce left in the bowl"
_POT = "Brine left in the pot now"
_OPTIONS = {
    "--jars ": "",
    "--pot-left": "the brine left in the pot",
    "--pot-before": "what was left before the new pot",
    "--more-brine": "the other pot",
    "--brine-made": "the brine made",
}
_MORE = "Another pot of brine (Enter: none)"


def packing(here: Desk) -> Desk:
    """Ask how far the packing has come, as often as there is something to tell.

    Each answer is noted as 'jarcast pack' notes it, and what it comes to is shown. Raises Back at
    the first of its questions.
    """
    while jars := _readable(_JARS, partial(check_count, here)):
        with suppress(Back):
            if _noted(here, jars):
                _more_brine(here, jars)
        here = here.again()
    return here


def _readable(words: str, read: Callable[[str], object]) -> str:
    """An answer that can be read, asked for again until it is; '' for none. Raises Back."""
    while answer := prompt(words):
        try:
            read(answer)
        except JarcastError as error:
            _tell(error)
        else:
            return answer
    return ""


def _tell(error: JarcastError) -> None:
    """Tell what is wrong, naming no options where they are questions."""
    text = str(error)
    for option, words in _OPTIONS.items():
        text = text.replace(option, words)
    tell(wrapped(f"{text}."))


def _noted(here: Desk, jars: str) -> bool:
    """Note the jars with what is left of produce and brine, and whether that could be.

    Raises Back at the first of its questions.
    """
    asked = [("produce_left", _PRODUCE, parse_weight)]
    asked += [("pot_left", _POT, parse_volume)] if with_brine(here.read()) else []
    said, place = {"jars": jars}, 0
    while place < len(asked):
        name, words, read = asked[place]
        try:
            said[name] = _readable(words, read)
            place += 1
        except Back:
            if not place:
                raise
            place -= 1
    try:
        note_packing(here, {name: text for name, text in said.items() if text}, guided=True)
    except JarcastError as error:
        _tell(error)
        return False
    return True


def _more_brine(here: Desk, jars: str) -> None:
    """Note each pot that is made. Raises Back."""
    while with_brine(here.read()) and (more := _readable(_MORE, parse_volume)):
        try:
            note_packing(here.again(), {"jars": jars}, (None, more), guided=True)
        except JarcastError as error:
            _tell(error)
