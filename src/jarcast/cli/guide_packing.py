"""The middle of packing in jarcast guide: after a few jars, and after each pot of brine."""

from jarcast.cli.common import tell
from jarcast.cli.counter import Desk
from jarcast.cli.pack import note_packing
from jarcast.cli.prompts import Back, prompt
from jarcast.cli.questions import with_brine
from jarcast.errors import JarcastError
from jarcast.views.words import wrapped

_JARS = "Jars packed so far, after three or so (Enter: all are filled)"
_PRODUCE = "Produce left in the bowl"
_POT = "Brine left in the pot now"
_OPTIONS = {
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
    while jars := prompt(_JARS):
        try:
            _noted(here, jars)
        except Back:
            continue
        except JarcastError as error:
            tell(wrapped(f"{_as_answers(str(error))}."))
        here = here.again()
    return here


def _as_answers(text: str) -> str:
    """A message that names options, as it is said where they are questions."""
    for option, words in _OPTIONS.items():
        text = text.replace(option, words)
    return text


def _noted(here: Desk, jars: str) -> None:
    """Note the jars with what is left, then each pot that is made. Raises Back, JarcastError."""
    brine = with_brine(here.read())
    produce_left = prompt(_PRODUCE)
    pot_left = prompt(_POT) if brine else ""
    said = {"jars": jars, "produce_left": produce_left, "pot_left": pot_left}
    note_packing(here, {name: text for name, text in said.items() if text}, guided=True)
    while brine and (more := prompt(_MORE)):
        note_packing(here.again(), {"jars": jars}, (None, more), guided=True)
