"""What is said of batches once they are recorded: what to look at again, what stands there."""

from collections.abc import Collection, Iterable, Sequence
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING

from jarcast.domain.fields import ALL_COLUMNS, typed_name
from jarcast.domain.unusual import unusual
from jarcast.errors import JarcastError
from jarcast.ledger.entry import cell_text, said_anew, said_otherwise
from jarcast.views.words import shortened

if TYPE_CHECKING:
    from jarcast.app.work import Kitchen, Work
    from jarcast.domain.contradictions import Flag
    from jarcast.ledger import Entry
    from jarcast.measures import Units
    from jarcast.recipes import Recipe
    from jarcast.views.history import Said


def unusual_in(own: "Kitchen", names: Collection[str]) -> "list[tuple[str, Flag]]":
    """Salt and hours of these batches that are hardly meant, each with the batch's name."""
    judged = (batch for batch in own.batches if batch.batch in names)
    return [(batch.batch, one) for batch in judged for one in unusual(batch, ALL_COLUMNS)]


def untested_in(own: "Kitchen", names: Collection[str], path: Path) -> list[tuple[str, str]]:
    """What of these batches their recipe's card does not allow, a clause each, with their names."""
    from functools import cache

    from jarcast.app.open_batch import against_card
    from jarcast.cli.after_jars import not_salted_so
    from jarcast.cli.cards import card_named
    from jarcast.recipes import other_cut

    @cache
    def card(recipe: str) -> "Recipe | None":
        with suppress(JarcastError):  # a card that cannot be read is named where it is asked for
            return card_named(recipe, path)
        return None

    found = []
    for batch in own.batches:
        if batch.batch not in names or (named := card(batch.recipe)) is None:
            continue
        clauses = (*against_card(batch, named, own.shelf), *not_salted_so(batch, named))
        head = f"not what the card of {named.name} says"
        found += [(batch.batch, f"{head}: {clause}") for clause in clauses]
        found += [(batch.batch, one.text.removesuffix(".")) for one in other_cut(named, batch.cut)]
    return found


def already_there_text(work: "Work", entry: "Entry", units: "Units") -> str:
    """That a batch of this name is there with other values, and the commands that put these in.

    '' where none stands there, as one that was withdrawn does not.
    """
    from jarcast.views.batches import amending_text, quoted
    from jarcast.views.history import beside_lines

    standing = work.ledger.find(entry.batch.batch)
    if standing is None:
        return ""
    there = standing.batch
    anew, other = said_anew(there, entry.batch), said_otherwise(there, entry.batch)
    unsaid = said_anew(entry.batch, there)
    columns = (*anew, *other, *unsaid)
    beside = beside_lines(_said(standing, columns), _said(entry, columns), units)
    lines = [
        f"batch {quoted(there.batch)} is already in the ledger with other values; nothing was "
        "changed",
        *(f"  {one}" for one in beside),
    ]
    ways = (("to add what is missing", anew), ("to put in what differs", other))
    lines += [
        f"  {way}: {amending_text(there.batch, _as_typed(entry, columns))}"
        for way, columns in ways
        if columns
    ]
    return "\n".join([*lines, "  if it is another batch: give it a name of its own, --batch NAME"])


def _said(entry: "Entry", columns: "Iterable[str]") -> "list[Said]":
    from jarcast.views.history import Said

    batch, typed = entry.batch, entry.typed
    return [
        Said(one, cell_text(batch, one), typed.get(one) or batch.counted_as(one)) for one in columns
    ]


def _as_typed(entry: "Entry", columns: "Iterable[str]") -> dict[str, str]:
    """Columns of an entry with what was typed; with the exact value where that is not kept."""
    kept = entry.typed
    return {
        typed_name(one) if kept.get(one) else one: kept.get(one) or cell_text(entry.batch, one)
        for one in columns
    }


def asked_back_text(found: "Sequence[tuple[str, Flag | str]]", units: "Units") -> str:
    """What would have been asked back at a terminal, a line each; '' where there is nothing."""
    from jarcast.views.batches import flag_words

    lines = [
        f"  {shortened(name, 40)}: {one if isinstance(one, str) else flag_words(one, units)}"
        for name, one in found
    ]
    head = "Please look at these again; they were kept as they stand ('jarcast amend' mends them):"
    return "\n".join([head, *lines]) if lines else ""
