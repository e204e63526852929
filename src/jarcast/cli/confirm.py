"""jarcast amend --as-is, and the odd values that it is for."""

from collections.abc import Collection, Sequence
from typing import TYPE_CHECKING

from jarcast.cli.common import kitchen_units, show, show_json, tell
from jarcast.domain.contradictions import Flag, contradictions
from jarcast.domain.fields import KITCHEN, typed_name
from jarcast.domain.stages import weighed
from jarcast.errors import BatchError
from jarcast.measures import Units

if TYPE_CHECKING:
    from jarcast.app.work import Kitchen, Work
    from jarcast.domain.batch import Batch
    from jarcast.learning.slips import Slip


def stand_by(
    work: "Work", batch: str, columns: Sequence[str], units: Units | None, *, as_json: bool
) -> None:
    """Confirm odd-looking values of a batch, by column: they are right, and count in full.

    Raises BatchError for columns that hold nothing, and for values that contradict one another.
    """
    from jarcast.ledger.annotations import check_standing, confirm
    from jarcast.ledger.whole_names import standing_names, whole_name
    from jarcast.views.batches import batch_document, column_words, flags_document, flags_text

    own, opened = work.kitchen, work.ledger
    batch = whole_name(opened, batch, standing_names(opened))
    standing = check_standing(opened, batch).batch
    named = [_plain_column(column) for column in columns]
    flags = [(batch, flag) for flag in contradictions(standing, own.shelf)]
    shown = kitchen_units(work, units, later=True)
    _refuse_contradictions(own, standing, named, shown)
    with work.writing("confirm"):
        new = confirm(opened, batch, named)
        standing = check_standing(opened, batch).batch
    if as_json:
        show_json(
            {
                "format": "jarcast confirm",
                "version": 1,
                "confirmed": list(new),
                "batch": batch_document(standing),
                "flags": flags_document(flags),
            }
        )
        return
    words = ", ".join(column_words(column) for column in dict.fromkeys(named))
    show(f"{batch}: {words} {_confirmed(new)}")
    tell(flags_text(flags, shown))


def _confirmed(new: Sequence[str]) -> str:
    return "confirmed as it stands; it counts in full." if new else "was confirmed before."


def _plain_column(text: str) -> str:
    """A column named alone. Raises BatchError where a value stands with it."""
    if "=" in text:
        raise BatchError(
            f"'{text[:60]}': with --as-is only the columns are named, such as trimmed; a new value "
            "is given without it"
        )
    return exact_column(text)


def exact_column(text: str) -> str:
    """A column as it was typed to the batch table's own: 'brine-left' -> 'brine_left_ml'."""
    from jarcast.batchtable.header import column_name

    name = column_name(text)
    return KITCHEN.get(name, name)


def _refuse_contradictions(
    own: "Kitchen", batch: "Batch", columns: Collection[str], units: Units
) -> None:
    """Raise BatchError for values that contradict others and are odd in no other way."""
    from jarcast.views.batches import flag_words, quoted

    flags = [flag for flag in contradictions(batch, own.shelf) if set(columns) & set(flag.columns)]
    odd = {column for slip in odd_in(own, [batch.batch]) for column in (slip.column, *slip.others)}
    if not flags or odd & set(columns):
        return
    said = "; ".join(flag_words(flag, units) for flag in flags)
    first = next(column for column in columns if column in flags[0].columns)
    raise BatchError(
        f"nothing was confirmed: {said}. Values that contradict each other cannot all be right; "
        f'mend the wrong one: jarcast amend {quoted(batch.batch)} {typed_name(first)}="..."'
    )


def odd_in(own: "Kitchen", names: Collection[str]) -> "tuple[Slip, ...]":
    """Values of these batches that do not fit the rest; what that needs is loaded only here.

    A batch with neither a weight nor brine recorded has nothing to be judged by.
    """
    judged = [one for one in own.batches if one.batch in names and _can_be_odd(one)]
    if not judged:
        return ()
    from jarcast.learning.slips import find_slips

    return find_slips(own.habits.learned.verdicts(), judged)


def _can_be_odd(batch: "Batch") -> bool:
    return bool(weighed(batch)) or batch.brine_used_ml is not None


def flags_in(own: "Kitchen", names: Collection[str]) -> "list[tuple[str, Flag]]":
    """Contradictions inside these batches, each with the batch's name."""
    return [
        (batch.batch, flag)
        for batch in own.batches
        if batch.batch in names
        for flag in contradictions(batch, own.shelf)
    ]
