"""Containers in a notebook: '1/2 bushel' is what is published for it, and that is told."""

import re

from jarcast.domain.stages import STAGES
from jarcast.errors import BatchError
from jarcast.measures import POUND_G

_WEIGHED = tuple(stage.typed for stage in STAGES[:2])
_HALF = re.compile(r"\bhalf(?: of)?(?: an?)?[ -]+", re.IGNORECASE)


def weigh_containers(cells: dict[str, str]) -> list[str]:
    """Write counted containers as pounds; gives what is doubtful in them.

    The words that stood there go to the note. Where no weight is published, they are all that is
    kept.
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
        else:
            if counted is None:
                continue
            pounds = (counted.low_g * counted.high_g) ** 0.5 / float(POUND_G)
            cells[column] = f"{pounds:.4g} lb"
            low, high = (grams / float(POUND_G) for grams in (counted.low_g, counted.high_g))
            doubts.append(
                f"{words} '{text}' is read as {pounds:.3g} lb, {low:.3g} to {high:.3g} 8 times in "
                f"10: {counted.sources[0]}"
            )
        note = cells.get("note")
        cells["note"] = "; ".join(filter(None, (note, f"{words}: {text}")))
    return doubts
