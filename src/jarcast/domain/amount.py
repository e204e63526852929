"""An amount that a program gives, as a weight or a number of jars: it must be one."""

import math
from decimal import Decimal
from numbers import Real

from jarcast.domain.batch import plain_number
from jarcast.errors import ForecastError, in_short


def check_amount(name: str, value: object, most: float, *, zero: bool = True) -> float:
    """An amount up to ``most`` as a float; ``zero`` tells whether 0 is one.

    ``name`` is what it is of. Raises ForecastError for what is none.
    """
    try:
        if isinstance(value, bool) or not isinstance(value, Real | Decimal):
            raise TypeError
        amount = float(value)
    except (TypeError, ValueError, OverflowError) as error:  # numpy's hours, a signalling NaN
        raise ForecastError(f"{name}: {in_short(value)} is no number") from error
    if not math.isfinite(amount) or amount < 0 or (amount == 0 and not zero):
        rule = "0 or more" if zero else "more than 0"
        raise ForecastError(f"{name}: {value} cannot be; it must be {rule}")
    if amount > most:
        raise ForecastError(
            f"{name}: {plain_number(amount)} is more than can be ({plain_number(most)} at most)"
        )
    return amount
