"""Containers in a notebook: '1/2 bushel' is what is published for it, and that is told."""

import re

from jarcast.domain.stages import STAGES
from jarcast.errors import BatchError
from jarcast.measures import POUND_G

_WEIGHED = tuple(stage.typed for stage in STAGES[:2])
_HALF = re.compile(r"(?:\bhalf|\b1/2)(?: of)?(?: an?)?[ -]+", re.IGNORECASE)


def weigh_containers(cells: dict[str, str]) -> list[str]:
    """Write counted containers so that they are read as such; gives what is doubtful in them.

    They stay a count, whose weight is a range. Where no weight is published, the words that stood
    there go to the note, and are all that is kept.
    """
    from jarcast.domain.containers import read_counted

    doubts = []
    for column in _WEIGHED:
        text = cells.get(column, "")
        plain = _HALF.sub("1/2 ", text)
        if not re.search(r"[^\W\d_]{2}", plain):
            continue
        words = column.replace("_", " ")
        try:
            counted = read_counted(plain, cells.get("produce", ""))
        except BatchError as error:
            del cells[column]
            doubts.append(f"{words} '{text}' is left out: {error}")
            cells["note"] = "; ".join(filter(None, (cells.get("note"), f"{words}: {text}")))
        else:
            if counted is None:
                continue
            cells[column] = plain
            pounds = (counted.low_g * counted.high_g) ** 0.5 / float(POUND_G)
            low, high = (grams / float(POUND_G) for grams in (counted.low_g, counted.high_g))
            doubts.append(
                f"{words} '{text}' is read as {pounds:.3g} lb, {low:.3g} to {high:.3g} 8 times in "
                f"10: {counted.sources[0]}"
            )
    return doubts
