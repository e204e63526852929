"""An amount that a program gives, as a weight or a number of jars: it must be one."""

import math
from numbers import Real

from jarcast.domain.batch import plain_number
from jarcast.errors import ForecastError, in_short


def check_amount(name: str, value: object, most: float, *, zero: bool = True) -> None:
    """Refuse what is no amount up to ``most``; ``zero`` tells whether 0 is one.

    ``name`` is what it is of. Raises ForecastError.
    """
    try:
        if isinstance(value, bool) or not isinstance(value, Real):
            raise TypeError
        amount = float(value)
    except (TypeError, OverflowError) as error:  # numpy's hours are numbers, but not to ``float``
        raise ForecastError(f"{name}: {in_short(value)} is no number") from error
    if not math.isfinite(amount) or amount < 0 or (amount == 0 and not zero):
        rule = "0 or more" if zero else "more than 0"
        raise ForecastError(f"{name}: {value} cannot be; it must be {rule}")
    if amount > most:
        raise ForecastError(
            f"{name}: {plain_number(amount)} is more than can be ({plain_number(most)} at most)"
        )
