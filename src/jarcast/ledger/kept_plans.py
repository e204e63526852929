"""Plans that are kept: each a setting of its own, read only where plans are asked for."""

from jarcast.domain.events import PLAN
from jarcast.ledger.schema import STANDS
from jarcast.ledger.store import Ledger


def plans_in(ledger: Ledger) -> dict[str, str]:
    """The text of each plan that is kept, by its name in small letters, the first kept first."""
    rows = ledger.rows(
        f"SELECT key, value FROM setting WHERE key GLOB '{PLAN}*' AND {STANDS} ORDER BY id"
    )
    found = {str(key).removeprefix(PLAN): str(value) for key, value in rows}
    return {name: text for name, text in found.items() if text}


def write_plan_text(ledger: Ledger, name: str, text: str) -> None:
    """Keep the text of a plan, '' for one that is dropped; inside ``writing`` only."""
    ledger.remember(f"{PLAN}{name.casefold()}", text)
