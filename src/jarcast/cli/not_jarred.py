"""What of a batch was not jarred: asked of one that looks too heavy for its jars."""

from typing import TYPE_CHECKING

import typer

from jarcast.cli.common import asking, tell
from jarcast.domain.contradictions import WAS_SOME_NOT_JARRED, contradictions
from jarcast.errors import MeasureError
from jarcast.measures import Units, format_weight, parse_weight

if TYPE_CHECKING:
    from jarcast.app.work import Kitchen
    from jarcast.domain.batch import Batch

_ASK = "How much of it did not go into jars, such as '6 lb' (Enter: all of it did)"


def ask(own: "Kitchen", batch: "Batch", *, yes: bool = False, as_json: bool = False) -> str:
    """What was not jarred, as typed; '' where nobody is asked, or all of it was.

    Asked at a terminal, of a batch that does not say and looks too heavy for its jars; ``own`` is
    the kitchen without it.
    """
    if yes or not asking(as_json) or not _too_heavy(own, batch):
        return ""
    tell("That looks like too much for its jars: was some of it not jarred?")
    while True:
        answer = str(typer.prompt(_ASK, default="", show_default=False, err=True)).strip()
        if answer in ("", "-"):
            return ""
        try:
            parse_weight(answer)
        except MeasureError as error:
            tell(str(error))
        else:
            return answer


def _too_heavy(own: "Kitchen", batch: "Batch") -> bool:
    from jarcast.cli.confirm import odd_in

    if batch.not_jarred_g is not None:
        return False
    flags = contradictions(batch, own.shelf)
    if any(WAS_SOME_NOT_JARRED in flag.message for flag in flags):
        return True
    odd = odd_in(own.with_batch(batch), [batch.batch])
    return any(slip.not_jarred for slip in odd)


def text(batch: "Batch", units: "Units") -> str:
    """What of a batch was not jarred, in a line; '' where it does not say."""
    if batch.not_jarred_g is None:
        return ""
    return f"Not jarred: {format_weight(batch.not_jarred_g, units)}."
