"""The days of a line: when its batches are put up."""

import datetime as dt
import re

from jarcast.errors import BatchError

_TO = re.compile(r"\s+(?:to|-|\u2013)\s+|\s*/\s*", re.IGNORECASE)
EXAMPLE = "write them like '2025-07-01' or '2025-07-01 to 2025-07-14'"


def read_days(text: str) -> tuple[dt.date, dt.date]:
    """First and last day of '2025-07-01 to 2025-07-14', or of one day. Raises BatchError."""
    parts = _TO.split(text.strip())
    try:
        days = [dt.date.fromisoformat(part) for part in parts]
    except ValueError as error:
        raise BatchError(f"is neither a day nor a first and a last day; {EXAMPLE}") from error
    if len(days) > 2 or days[0] > days[-1]:
        raise BatchError(f"put the first day before the last; {EXAMPLE}")
    return days[0], days[-1]
