"""Batches as a table, and what does not fit in them."""

import shlex
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from itertools import chain
from typing import TYPE_CHECKING, Any

from jarcast.domain.batch import Batch
from jarcast.domain.contradictions import Amount, Flag
from jarcast.domain.fields import ALL_COLUMNS, FIELD_OF, OPTIONAL, typed_name
from jarcast.domain.names import cut_key, pack_key, produce_key
from jarcast.domain.stages import STAGES, weights_of
from jarcast.measures import Units, format_volume, format_weight
from jarcast.views.words import columns, crop_words, padded, plain, shortened, wrapped

if TYPE_CHECKING:  # a batch can be shown without what was learned
    from jarcast.learning.slips import Slip

# Of a batch, in a command to copy, which takes the whole name; a longer one nobody copies.
_LONGEST_NAME = 300
_HEADINGS = (
    "date",
    "batch",
    "what",
    *(stage.label for stage in STAGES),
    "jars",
    "brine used",
    "packed by",
)


def batches_text(batches: Iterable[Batch], units: Units) -> str:
    """A plain table, one line a batch; '-' where nothing was recorded."""
    return "\n".join(batches_lines(tuple(batches), units))


def batches_lines(
    batches: Iterable[Batch], units: Units, named: Callable[[str], str] = str
) -> Iterator[str]:
    """The same line by line, of batches that can be gone through twice: first for the widths.

    Who packed stands in it where anybody is, as ``named`` spells the name.
    """
    widths = [*map(columns, _HEADINGS)]
    anybody = False
    for batch in batches:
        widths = [*map(max, widths, map(columns, _cells(batch, units, named)))]
        anybody = anybody or bool(batch.person)
    if not anybody:
        widths.pop()
    for row in chain((_HEADINGS,), (_cells(batch, units, named) for batch in batches)):
        yield "  ".join(map(padded, row, widths)).rstrip()  # as many cells as there are widths


def _cells(batch: Batch, units: Units, named: Callable[[str], str]) -> tuple[str, ...]:
    used = batch.brine_used_ml
    produce = produce_key(batch.produce) or batch.produce
    weights = weights_of(batch).items()
    counted = {one.column for one in batch.doubt}
    about = {column: "about " if column in counted else "" for column, _ in weights}
    crop = crop_words(produce, cut_key(batch.cut), pack_key(batch.pack))
    return (
        batch.date.isoformat(),
        shortened(batch.batch, 40),
        shortened(crop, 36),
        *(
            "-" if grams is None else about[column] + format_weight(grams, units)
            for column, grams in weights
        ),
        shortened(batch.filled_text, 40),
        "-" if used is None or used < 0 else format_volume(used, units),
        shortened(named(batch.person), 20) if batch.person else "-",
    )


def batch_document(batch: Batch) -> dict[str, Any]:
    """One batch for JSON: the batch table's columns, null where nothing was recorded.

    The optional ones only where they were.
    """
    document: dict[str, Any] = {}
    for column in ALL_COLUMNS:
        value = getattr(batch, column)
        if column in OPTIONAL and value in (None, ""):
            continue
        if column == "date":
            value = batch.date.isoformat()
        elif column == "jar":
            value = batch.jar_text
        elif column == "jars":
            value = batch.jars_text
        document[column] = None if value == "" else value
    if batch.doubt:
        document["counted"] = {
            one.column: {"typed": one.typed, "log_sd": one.log_sd} for one in sorted(batch.doubt)
        }
    return document


def batches_document() -> dict[str, Any]:
    """Batches for JSON, before there is one; version 1 of 'jarcast batches'."""
    return {"format": "jarcast batches", "version": 1, "batches": []}


def flags_text(flags: Iterable[tuple[str, Flag]], units: Units | None = None) -> str:
    """Contradictions, a line each; '' where there are none. In g and ml unless in units."""
    lines = [f"  {shortened(name, 40)}: {flag_words(flag, units)}" for name, flag in flags]
    if not lines:
        return ""
    head = (
        "These do not fit together; they were kept, but nothing is learned from what they touch "
        "until you mend it ('jarcast amend'):"
    )
    return "\n".join([head, *lines])


def flag_words(flag: Flag, units: Units | None) -> str:
    """A contradiction in a sentence, its amounts in the kitchen's units; in g and ml if none."""

    def show(amount: Amount) -> str:
        if units is None:
            return str(amount)
        shown = format_weight if amount.unit == "g" else format_volume
        return shown(amount.value, units)

    return plain(flag.worded(show))


def flags_document(flags: Iterable[tuple[str, Flag]]) -> list[Mapping[str, Any]]:
    """Contradictions for JSON."""
    return [
        {"batch": name, "columns": list(flag.columns), "message": flag.message}
        for name, flag in flags
    ]


NearNames = Mapping[tuple[str, str], Sequence[str]]  # produce, the known name, batches


_NEAR = {
    "produce": "Nothing is published of these, and each is close to a known name; as they stand, "
    "nothing is learned about that crop:",
    "pack": "These packs are neither raw nor hot; as they stand, each is a kind of its own:",
}


def near_text(near: NearNames, column: str = "produce") -> str:
    """Produce or packs that may be misspelt, and how to mend it; '' where there are none."""
    lines = [_NEAR[column]] if near else []
    for (said, meant), names in near.items():
        more = f" and {len(names) - 1} more" if len(names) > 1 else ""
        lines += [
            f"  '{shortened(said, 40)}' in {quoted(names[0])}{more}: did you mean {meant}?",
            f'    to mend it:        jarcast amend {quoted(names[0])} {column}="{meant}"',
        ]
    return "\n".join(lines)


def near_document(near: NearNames, column: str = "produce") -> list[dict[str, Any]]:
    """The same for JSON; ``column`` is what is nearly a known name."""
    return [
        {column: said, "near": meant, "batches": list(names)}
        for (said, meant), names in near.items()
    ]


def column_words(column: str) -> str:
    """A column of the batch table as one says it: 'trimmed weight'."""
    return FIELD_OF[column].label if column in FIELD_OF else column


def quoted(name: str) -> str:
    """A batch's name as it is typed in a command."""
    return _in_quotes(shortened(name, _LONGEST_NAME))


def _in_quotes(text: str) -> str:
    return shlex.quote(text) if any(sign in text for sign in '"$`\\!') else f'"{text}"'


def amending_text(name: str, values: Mapping[str, str]) -> str:
    """The command that gives the batch of this name values, by what they are typed under."""
    changes = (f"{column}={_in_quotes(text)}" for column, text in values.items())
    return " ".join(["jarcast amend", quoted(name), *changes])


def slips_text(slips: "Sequence[Slip]") -> str:
    """Values that do not fit, with a guess at the slip and how to go on; '' where there are none.

    Commands stand on lines of their own, to be copied.
    """
    if not slips:
        return ""
    others = "" if all(slip.alone for slip in slips) else "your other batches and "
    lines = [
        wrapped(
            f"Please check these: they do not fit {others}what is published, and barely count "
            "until you do. Nothing was changed."
        )
    ]
    for slip in slips:
        name, column = quoted(slip.batch), typed_name(slip.column)
        lines.append(f"  {shortened(slip.batch, 40)}: {slip_words(slip)}")
        if slip.not_jarred:
            lines.append(f'    say how much:      jarcast amend {name} not_jarred="6 lb"')
        lines += [
            f'    to mend it:        jarcast amend {name} {column}="..."',
            f"    if it is right:    jarcast amend {name} --as-is {column}",
        ]
    return "\n".join(lines)


def slip_words(slip: "Slip") -> str:
    """A value that does not fit, in a sentence: 'trimmed weight looks about 2.2 times too high'."""
    size = slip.factor if slip.factor >= 1 else 1.0 / slip.factor
    way = "high" if slip.factor >= 1 else "low"
    by = f"{size:.1f} times" if size >= 1.5 else f"{max(100.0 * abs(slip.factor - 1.0), 1.0):.0f} %"
    text = f"{column_words(slip.column)} looks about {by} too {way}"
    if slip.guess:
        text += f": {slip.guess}"
    if slip.others:
        text += f" (or else {', '.join(column_words(other) for other in slip.others)})"
    return text


def slips_document(slips: "Iterable[Slip]") -> list[dict[str, Any]]:
    """Values that do not fit, for JSON."""
    return [
        {
            "batch": slip.batch,
            "column": slip.column,
            "or_else": list(slip.others),
            "factor": slip.factor,
            "chance": slip.chance,
            "guess": slip.guess,
        }
        for slip in slips
    ]
