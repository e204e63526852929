"""Copies of the ledger as text and as JSON, and one that was brought back."""

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from jarcast.domain.copies import Copy, Salvaged
from jarcast.views.words import counted, lined_up, shortened, wrapped


def copies_text(ledger: Path, folder: Path, found: Sequence[Copy]) -> str:
    """The copies there are, newest first, a line each."""
    if not found:
        return wrapped(
            f"There are no copies of {ledger} yet. One is made before the first entry of a day, "
            f"once there is something to keep, in {folder}."
        )
    rows = [("copy", "made", "why", "batches", "sound"), *(_cells(copy) for copy in found)]
    return "\n".join([*lined_up(rows), "", f"They are in {folder}.", _BRING_BACK])


_BRING_BACK = (
    "'jarcast restore COPY' brings one back; the present ledger is set aside first, and listed "
    "here."
)


def _cells(copy: Copy) -> tuple[str, str, str, str, str]:
    return (
        copy.name,
        f"{copy.made:%Y-%m-%d %H:%M}",
        copy.why.replace("-", " "),  # 'before-schema-3'
        "?" if copy.batches is None else str(copy.batches),
        "yes" if not copy.problem else f"no: {shortened(copy.problem, 60)}",
    )


def restored_text(ledger: Path, copy: Copy, set_aside: Path | None) -> str:
    """A copy that was brought back, and where to find what stood before."""
    batches = counted(copy.batches or 0, "batch", "batches")
    lines = [f"{ledger} is again as it was on {copy.made:%Y-%m-%d %H:%M}: {batches}."]
    if set_aside is not None:
        lines.append(f"What was there until now is kept as {set_aside}.")
    return "\n".join(lines)


def copies_document(ledger: Path, folder: Path, found: Sequence[Copy]) -> dict[str, Any]:
    """The copies for JSON; version 1 of 'jarcast copies'."""
    return {
        "format": "jarcast copies",
        "version": 1,
        "ledger": str(ledger),
        "folder": str(folder),
        "copies": [
            {
                "copy": copy.name,
                "made": copy.made.isoformat(),
                "why": copy.why,
                "batches": copy.batches,
                "sound": not copy.problem,
                "problem": copy.problem,
            }
            for copy in found
        ],
    }


def restored_document(ledger: Path, copy: Copy, set_aside: Path | None) -> dict[str, Any]:
    """A copy that was brought back, for JSON; version 1 of 'jarcast restore'."""
    return {
        "format": "jarcast restore",
        "version": 1,
        "ledger": str(ledger),
        "copy": copy.name,
        "batches": copy.batches,
        "set_aside": None if set_aside is None else str(set_aside),
    }


def salvaged_text(ledger: Path, saved: Salvaged) -> str:
    """How much could be read of a damaged ledger, and what could not."""
    batches = counted(saved.batches, "batch", "batches")
    lines = [f"{batches} copied to the new ledger {saved.path}; {ledger} was left as it is."]
    lines += (
        ["Missing, or to check:", *(f"  {line}" for line in saved.missing)]
        if saved.missing
        else ["Nothing is missing."]
    )
    return "\n".join(lines)


def salvaged_document(ledger: Path, saved: Salvaged) -> dict[str, Any]:
    """The same for JSON; version 1 of 'jarcast salvage'."""
    return {
        "format": "jarcast salvage",
        "version": 1,
        "ledger": str(ledger),
        "to": str(saved.path),
        "batches": saved.batches,
        "missing": list(saved.missing),
    }
