"""What is said of a batch once its jars are written down, whichever way they come in.

`close`, `record`, `amend`, the page and `import` all say it by this: what its recipe's card does
not allow, how closely it was packed, what becomes of jars that did not seal or are part full, what
contradicts itself, and how its forecasts did. A part-full jar is spoken of at the counter, and of
a batch that is written down later only where its jars are just out of the canner: put up lately,
and told how many sealed.
"""

import datetime as dt
from collections.abc import Callable, Collection, Mapping, Sequence
from contextlib import suppress
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from jarcast.cli.common import tell
from jarcast.domain.contradictions import contradictions
from jarcast.domain.jars import size_of
from jarcast.domain.last_jar import LastJar
from jarcast.errors import JarcastError
from jarcast.views.words import wrapped

if TYPE_CHECKING:
    from jarcast.app.work import Kitchen
    from jarcast.domain.batch import Batch
    from jarcast.domain.jars import Jar
    from jarcast.ledger import Ledger
    from jarcast.measures import Units
    from jarcast.recipes import Caution, Recipe
    from jarcast.trackrecord.hindsight import TrackRecord

RECENT_DAYS = 14  # how long jars of a batch that was taken in are still to be seen to
_OF_JARS = ("jars", "jar", "sealed")  # what the jars are told by


def after_jars(
    batch: "Batch",
    find: "Callable[[], Recipe | None]",
    shelf: "Mapping[str, Jar]",
    units: "Units",
    *,
    changed: Collection[str] | None = None,
    today: dt.date | None = None,
) -> "tuple[Caution, ...]":
    """The cautions of a batch with its jars; all of them, or what goes with what was ``changed``.

    ``find`` gives its card, or raises RecipeError for one that cannot be used, which is told.
    ``today`` is the day on which a batch is written down that was put up before; None for one that
    is closed at the counter.
    """
    whole = changed is None
    jars = whole or bool(set(_OF_JARS) & set(changed or ()))
    named = bool(batch.recipe.strip())
    found = by_card(batch, find, shelf, units, say_unchecked=whole) if named else ()
    if not jars or (today is not None and batch.sealed is None):
        return tuple(found)
    in_hand = today is None or _recent(batch, today)
    return (*found, *of_jars(batch, _found(find) if named else None, in_hand=in_hand))


def _found(find: "Callable[[], Recipe | None]") -> "Recipe | None":
    """A batch's card; None where it cannot be used, which is told where its numbers are due."""
    with suppress(JarcastError):
        return find()
    return None


def tell_after(
    own: "Kitchen",
    batch: "Batch",
    cautions: "Collection[Caution]",
    units: "Units",
    *,
    changed: Collection[str] | None = None,
) -> None:
    """Tell them, and what is missing or contradicts itself in the batch."""
    from jarcast.app.work import LAST_JAR
    from jarcast.views.batches import flags_text

    for one in cautions:
        tell(wrapped(f"{one.text} ({one.source})" if one.source else one.text))
    of_brine = changed is None or bool({"brine_made", "brine_left"} & set(changed))
    if of_brine and batch.brine_left_ml is not None and batch.brine_made_ml is None:
        tell(_brine_made_text(batch))
    if own.settings.get(LAST_JAR) == LastJar.SMALLER and any(n % 1 for n in batch.jars):
        tell(_smaller_jar_text(batch))
    flags = [(batch.batch, flag) for flag in contradictions(batch, own.shelf)]
    tell(flags_text(flags, units))


def _smaller_jar_text(batch: "Batch") -> str:
    """How to write the smaller jar of somebody who has one, and counted half a jar."""
    from jarcast.views.batches import quoted

    said = wrapped(
        "Half a jar: if it is a smaller jar, write it by its name, such as '7 pint + 1 half-pint', "
        "so that the card is asked whether it lists such a jar, and its seal counts:"
    )
    return f'{said}\n    jarcast amend {quoted(batch.batch)} jars="..."'


def _brine_made_text(batch: "Batch") -> str:
    """What is missing where only the brine left was recorded."""
    from jarcast.views.batches import quoted

    said = wrapped(
        "You gave the brine left but not the brine made (--brine-made), so nothing can be learned "
        "about your brine. To add it:"
    )
    return f'{said}\n    jarcast amend {quoted(batch.batch)} brine_made="..."'


def kept_record(opened: "Ledger", name: str) -> "TrackRecord | None":
    """How the forecasts kept for a batch did; None if none were kept, or that cannot be said."""
    from jarcast.ledger.kept_forecasts import kept_forecasts

    try:
        if not kept_forecasts(opened, name):
            return None
        from jarcast.app.track_record import how_it_did

        return how_it_did(opened, name)
    except JarcastError as error:  # the batch is written down all the same
        tell(str(error))
        return None


def cautions_document(cautions: "Collection[Caution]") -> list[dict[str, Any]]:
    """The same for JSON."""
    from jarcast.views.by_recipe import caution_document

    return caution_document(tuple(cautions))


def of_jars(
    batch: "Batch", card: "Recipe | None" = None, *, in_hand: bool = True
) -> "tuple[Caution, ...]":
    """What becomes of jars that did not seal, and of a part-full one of a batch ``in_hand``.

    Of the latter by its ``card``, where that lists the jar.
    """
    sorts = zip(batch.jar, batch.jars, strict=True)
    part = [size_of(key) for key, count in sorts if in_hand and count != int(count)]
    left = unsealed(batch)
    if not part and not left:
        return ()
    from jarcast.recipes import Situation, cautions_for

    card, jar = _by_part_jar(card, part)
    at = Situation(recipe=card, jar=jar, unsealed=left, part_jar=bool(part))
    return tuple(one for one in cautions_for(at) if one.key in ("part jar", "unsealed"))


def _by_part_jar(card: "Recipe | None", part: "Sequence[str]") -> "tuple[Recipe | None, str]":
    """The card that speaks of part-full jars of these sizes, and the size it has most to say of.

    None where it lists none of them, or no numbers at all.
    """
    from jarcast.recipes import lists_smaller

    listed = () if card is None or card.safety is None else card.safety.jars
    sizes = [size for size in part if size in listed]
    if card is None or not sizes:
        return None, ""
    return card, next((size for size in sizes if lists_smaller(card, size)), sizes[0])


def _recent(batch: "Batch", today: dt.date) -> bool:
    return batch.date >= today - dt.timedelta(days=RECENT_DAYS)


def unsealed(batch: "Batch") -> int:
    """Jars filled whole that did not seal, as far as that was said."""
    whole = sum(map(int, batch.jars))  # two part-full jars of two sorts make no whole one
    return 0 if batch.sealed is None else max(whole - int(batch.sealed), 0)


def by_card(
    batch: "Batch",
    find: "Callable[[], Recipe | None]",
    shelf: "Mapping[str, Jar]",
    units: "Units",
    *,
    say_unchecked: bool = True,
) -> "tuple[Caution, ...]":
    """What of a batch its recipe's card does not allow; () if all is so.

    Where its packing or its salt cannot be checked this is said, unless without ``say_unchecked``.
    """
    from jarcast.app.open_batch import against_card
    from jarcast.recipes import NOT_SALTED_SO, Caution, other_cut, salt_caution

    try:
        card = find()
    except JarcastError as error:  # the batch is written down all the same
        return (Caution("no card", str(error), ""),)
    if card is None:
        return ()
    salt = salt_caution(card, batch)
    said = [*other_cut(card, batch.cut)]
    if salt is not None and (say_unchecked or salt.key in NOT_SALTED_SO):
        said.append(salt)
    if found := against_card(batch, card, shelf):
        text = (
            f"Not what its recipe's card says: {'; '.join(found)}. It is recorded as it happened. "
            f"The process of {card.name} is for its own produce, pack, jars and headspace and does "
            "not hold for these jars: keep them in the refrigerator."
        )
        return (*said, Caution("not on the card", text, ""))
    packing = _packing(batch, card, shelf, units, say_unchecked=say_unchecked)
    return (*said, Caution("pack check", packing, "")) if packing else tuple(said)


def _packing(
    batch: "Batch",
    card: "Recipe",
    shelf: "Mapping[str, Jar]",
    units: "Units",
    *,
    say_unchecked: bool,
) -> str:
    """That a batch was packed closer than its card, or that this cannot be told; '' else."""
    from jarcast.forecast.pack_check import packing_of
    from jarcast.recipes import no_check_text

    check, why = packing_of(card, batch, shelf, units)
    if check is not None and check.message:
        return f"Pack check: {check.message}"
    return no_check_text(why) if say_unchecked else ""


def not_salted_so(batch: "Batch", card: "Recipe") -> tuple[str, ...]:
    """That a batch has less salt, or more, than its card allows; () where it has not."""
    from jarcast.recipes import NOT_SALTED_SO, salt_caution

    found = salt_caution(card, batch)
    if found is None or found.key not in NOT_SALTED_SO:
        return ()
    return (found.text.removesuffix("."),)


def jars_in(own: "Kitchen", names: Collection[str], today: dt.date, path: "Path") -> str:
    """What becomes of jars of batches just taken in that are still to be seen to; '' for none.

    ``path`` is the ledger, beside which the cards of one's own lie. Each caution is said once, with
    the batches that it is of.
    """
    from jarcast.cli.cards import card_named
    from jarcast.ledger.whole_names import in_one_line

    found: dict[str, list[str]] = {}
    for batch in own.batches:
        if batch.batch in names and _recent(batch, today):
            card = _found(partial(card_named, batch.recipe, path)) if batch.recipe.strip() else None
            for one in of_jars(batch, card):
                found.setdefault(f"{one.text} ({one.source})", []).append(batch.batch)
    return "\n".join(wrapped(f"{in_one_line(who)}: {text}") for text, who in found.items())
