"""The words of recipe cards as they stood when a batch was begun by them."""

import hashlib
from collections.abc import Iterable

from msgspec import Struct

from jarcast.ledger.schema import STANDS
from jarcast.ledger.store import Ledger


class CardText(Struct, frozen=True):
    """A card's text, under the key or file that a batch names it by."""

    key: str
    text: str

    @property
    def digest(self) -> str:
        """SHA-256 of the text, in hexadecimal."""
        return hashlib.sha256(self.text.encode()).hexdigest()


def keep_card(ledger: Ledger, card: CardText) -> None:
    """Keep a card's text, once; inside ``writing`` only."""
    if card_kept(ledger, card.digest) is None:
        with ledger.writing("card") as action:
            keep_card_of(ledger, action, card)


def keep_card_of(ledger: Ledger, action: int, card: CardText) -> None:
    """Keep a card's text as what an action went by, whether it is kept already or not."""
    ledger.execute(
        "INSERT INTO card_text (action_id, key, digest, text) VALUES (?, ?, ?, ?)",
        action, card.key, card.digest, card.text,
    )  # fmt: skip


def cards_of(ledger: Ledger, actions: Iterable[int]) -> dict[int, CardText]:
    """The texts that actions were kept with, by action."""
    wanted = {int(action) for action in actions}
    marks = ", ".join("?" * len(wanted))
    query = f"SELECT action_id, key, text FROM card_text WHERE action_id IN ({marks}) ORDER BY id"
    rows = ledger.rows(query, *sorted(wanted)) if wanted else []
    return {int(action): CardText(str(key), str(text)) for action, key, text in rows}


def card_kept(ledger: Ledger, digest: str) -> CardText | None:
    """The card's text with this digest; None where none is kept. Raises LedgerError."""
    rows = ledger.rows(
        f"SELECT key, text FROM card_text WHERE digest = ? AND {STANDS} ORDER BY id DESC LIMIT 1",
        digest,
    )
    return CardText(str(rows[0][0]), str(rows[0][1])) if rows else None
