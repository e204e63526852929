"""Clean brine kept for the next pot of a recipe, in words."""

from jarcast.domain.rules import said as rule_said
from jarcast.measures import Units, format_volume
from jarcast.views.words import wrapped


def kept_brine_text(ml: float, recipe: str, since: tuple[str, str], units: Units) -> str:
    """Clean brine kept of a recipe ``since`` a date and a batch, and how to use it."""
    caution = rule_said("kept brine")
    amount, (date, batch) = format_volume(ml, units), since
    said = (
        f"You kept {amount} of clean {recipe} brine on {date} (batch '{batch}'). It is not counted "
        f'here; where it goes into the pot, note it with jarcast weigh --kept-brine "{amount}".'
    )
    return f"{wrapped(said)}\n{wrapped(caution)}"


def put_by_words(ml: float, recipe: str, units: Units) -> str:
    """What was put by of a recipe's clean brine, and what to heed."""
    caution = rule_said("kept brine")
    if ml <= 0.0:
        return wrapped(f"No {recipe} brine is left.")
    amount = format_volume(ml, units)
    said = f"Kept for the next pot of {recipe}: {amount} of clean brine."
    return f"{wrapped(said)}\n{wrapped(caution)}"
