"""Containers and cups in a notebook: '1/2 bushel' is what is published for it, and that is told."""

import re
from collections.abc import Mapping

from jarcast.domain.jars import SHELF, Jar
from jarcast.domain.stages import STAGES
from jarcast.errors import BatchError
from jarcast.measures import POUND_G

_WEIGHED = tuple(stage.typed for stage in STAGES[:2])
_HALF = re.compile(r"\bhalf(?: of)?(?: an?)?[ -]+", re.IGNORECASE)


def tell_containers(cells: dict[str, str], shelf: Mapping[str, Jar] = SHELF) -> list[str]:
    """What is doubtful in weights that were counted in containers or cups, each told as read.

    One that nothing is known of is taken out; its words go to the note.
    """
    from jarcast.domain.said_weight import read_counted_weight

    doubts = []
    for column in _WEIGHED:
        text = cells.get(column, "")
        plain = _HALF.sub("1/2 ", text)
        if not re.search(r"[^\W\d_]{2}", plain):
            continue
        words = column.replace("_", " ")
        try:
            said = read_counted_weight(
                plain, column, cells.get("produce", ""), cells.get("cut", ""), shelf
            )
        except BatchError as error:
            del cells[column]
            doubts.append(f"{words} '{text}' is left out: {error}")
            cells["note"] = "; ".join(filter(None, (cells.get("note"), f"{words}: {text}")))
            continue
        if said is None or said.counted is None:
            continue
        cells[column] = plain
        low, high = (g / float(POUND_G) for g in (said.counted.low_g, said.counted.high_g))
        source = f": {said.counted.sources[0]}" if said.counted.sources else ""
        doubts.append(
            f"{words} '{text}' is read as {(low * high) ** 0.5:.3g} lb, {low:.3g} to {high:.3g} "
            f"eight times in ten{source}"
        )
    return doubts
