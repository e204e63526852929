"""The process table of a card: minutes and pressure by method, pack, jar and altitude band."""

import re

from jarcast.domain.names import pack_key
from jarcast.recipes.card import ProcessRow
from jarcast.recipes.fields import Table, shown

MOST_MINUTES = 600
MOST_PSI = 30
MOST_FT = 30_000  # higher than anyone lives

Band = tuple[int, int | None]  # lowest and highest foot; None has no upper end

_BAND = re.compile(r"([0-9]{1,5}) ?- ?([0-9]{1,5})(?: ?ft)?")
_TOP_BAND = re.compile(r"(?:above|over) ([0-9]{1,5})(?: ?ft)?")


def process_rows(
    card: Table, packs: tuple[str, ...], jars: tuple[str, ...]
) -> tuple[ProcessRow, ...]:
    """Every cell of every [[process]] table; what is wrong goes to the card's list to mend."""
    rows: list[ProcessRow] = []
    for table in card.tables("process"):
        table.known("method", "pack", "jar", "minutes", "pressure_psi", "sterile_jars")
        method = table.text("method")
        sterile = table.yes("sterile_jars") if table.has("sterile_jars") else None
        pack = _pack(table, packs)
        cells = _cells(table)
        for jar in _jars(table, jars):
            for (low, high), minutes, psi in cells:
                row = ProcessRow(method, pack, jar, low, high, minutes, psi, sterile)
                if clash := next((old for old in rows if _overlap(old, row)), None):
                    table.wrong("minutes", f"{jar} at {row.band} already has its time at "
                                f"{clash.band}; each altitude needs one")  # fmt: skip
                rows.append(row)
    return tuple(rows)


def _pack(table: Table, packs: tuple[str, ...]) -> str:
    if not table.has("pack"):
        if len(packs) > 1:
            table.wrong("pack", f"is missing; the card has several packs ({', '.join(packs)})")
        return packs[0] if packs else ""
    pack = pack_key(table.text("pack"))
    if pack and pack not in packs:
        table.wrong("pack", f"'{pack}' is not a pack of this card; add it to the card's own pack")
    return pack


def _jars(table: Table, tested: tuple[str, ...]) -> tuple[str, ...]:
    found = []
    for text in table.texts("jar", needed=True):
        if not (jar := table.size("jar", text)):
            continue
        if tested and jar not in tested:
            table.wrong("jar", f"{jar} is not one of the tested jars ({', '.join(tested)})")
        found.append(jar)
    return tuple(found)


def _cells(table: Table) -> list[tuple[Band, float, float | None]]:
    """Band, minutes and pressure of each cell; a number alone holds for every band."""
    minutes = _by_band(table, "minutes", MOST_MINUTES)
    pressure = _by_band(table, "pressure_psi", MOST_PSI) if table.has("pressure_psi") else None
    if isinstance(minutes, float) and not isinstance(pressure, dict):
        table.wrong("minutes", "needs the altitudes it holds for, such as "
                    '{ "0-1000" = 10, "1001-6000" = 15, "above 6000" = 20 }')  # fmt: skip
        return []
    if isinstance(minutes, dict) and isinstance(pressure, dict) and set(minutes) != set(pressure):
        table.wrong("pressure_psi", "has other altitude bands than minutes; write the same ones")
        return []
    bands = minutes if isinstance(minutes, dict) else pressure if isinstance(pressure, dict) else {}
    return [
        (
            band,
            minutes[band] if isinstance(minutes, dict) else minutes,
            pressure[band] if isinstance(pressure, dict) else pressure,
        )
        for band in bands
        if minutes is not None
    ]


def _by_band(table: Table, key: str, most: float) -> dict[Band, float] | float | None:
    """One number, or a number for each altitude band."""
    value = table.raw(key)
    if not isinstance(value, dict):
        return table.number(key, 0, most)
    found: dict[Band, float] = {}
    for text, number in value.items():
        band = _band(text)
        checked = table.checked(key, number, 0, most)
        if band is None:
            table.wrong(key, f"{shown(text)} is not an altitude band in feet; write it as the "
                        "source does, such as \"0-1000\" or \"above 6000\"")  # fmt: skip
        elif checked is not None:
            found[band] = checked
    return found


def _band(text: str) -> Band | None:
    plain = text.strip().casefold().replace(",", "").replace("\u2013", "-")
    if found := _BAND.fullmatch(plain):
        low, high = int(found[1]), int(found[2])
        return (low, high) if low < high <= MOST_FT else None
    if found := _TOP_BAND.fullmatch(plain):
        return (int(found[1]) + 1, None) if int(found[1]) <= MOST_FT else None
    return None


def _overlap(one: ProcessRow, other: ProcessRow) -> bool:
    same = (one.method, one.pack, one.jar) == (other.method, other.pack, other.jar)
    below = one.to_ft is not None and one.to_ft < other.from_ft
    above = other.to_ft is not None and other.to_ft < one.from_ft
    return same and not below and not above
