"""A season's tally as text and JSON: jars by year, crop and size, what sealed, what a jar cost."""

from collections.abc import Mapping, Sequence
from itertools import chain
from typing import Any

from jarcast.domain.batch import Batch, plain_number
from jarcast.domain.tally import Tally, by_year, tally
from jarcast.views.words import counted, crop_words, lined_up, shortened, wrapped

_HEADINGS = ("year", "what", "jars", "batches", "sealed", "cost a jar")


def tally_text(batches: Sequence[Batch]) -> str:
    """A line for each crop of a year, one for the whole year, and what sealed in all."""
    rows: list[tuple[str, ...]] = [_HEADINGS]
    for year, crops in by_year(batches).items():
        for (produce, cut), own in crops.items():
            rows.append((str(year), *_cells(crop_words(produce, cut, ""), tally(own))))
        if len(crops) > 1:
            every = tally(list(chain.from_iterable(crops.values())))
            rows.append((str(year), *_cells("in all", every)))
    if not any(batch.cost is not None for batch in batches):
        rows = [row[:-1] for row in rows]
    return "\n".join([*lined_up(rows), "", _sealed_words(tally(batches))])


def _cells(what: str, found: Tally) -> tuple[str, ...]:
    jars = " + ".join(f"{plain_number(count)} {sort}" for sort, count in found.jars.items())
    sealed = f"{plain_number(found.sealed)} of {plain_number(found.told)}" if found.told else "-"
    cost = "-" if found.cost_a_jar is None else f"{found.cost_a_jar:.2f}"
    return shortened(what, 40), jars, str(found.batches), sealed, cost


def _sealed_words(found: Tally) -> str:
    if found.rate is None and not found.left_out:
        return "No batch says how many jars sealed; add it with 'jarcast amend BATCH sealed=7'."
    lines = []
    if found.rate is not None:
        jars = counted(round(found.told), "full jar", "full jars")
        share = f"{100 * found.rate:.0f} %"
        lines.append(
            f"Sealed: {plain_number(found.sealed)} of {jars}, {share}, where it was recorded."
        )
    if found.left_out:
        batches = counted(found.left_out, "batch", "batches")
        said = f"Not counted: {batches} with more jars sealed than filled"
        lines.append(wrapped(f"{said}; 'jarcast batches' names them, 'jarcast amend' mends them."))
    return "\n".join(lines)


def tally_document(batches: Sequence[Batch]) -> dict[str, Any]:
    """The tally for JSON; version 1 of 'jarcast tally'."""
    years = [
        {
            "year": year,
            **_document(list(chain.from_iterable(crops.values()))),
            "crops": [
                {"produce": produce, "cut": cut or None, **_document(own)}
                for (produce, cut), own in crops.items()
            ],
        }
        for year, crops in by_year(batches).items()
    ]
    return {"format": "jarcast tally", "version": 1, **_document(batches), "years": years}


def _document(batches: Sequence[Batch]) -> Mapping[str, Any]:
    found = tally(batches)
    return {
        "batches": found.batches,
        "jars": dict(found.jars),
        "sealed": found.sealed if found.told else None,
        "sealed_of": found.told if found.told else None,
        "sealed_rate": found.rate,
        "cost": found.cost if found.paid_jars else None,
        "cost_a_jar": found.cost_a_jar,
    }
