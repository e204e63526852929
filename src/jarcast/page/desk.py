"""What the page asks of the commands, and what it is given to show."""

from collections.abc import Mapping, Sequence
from typing import Any, Protocol

from msgspec import Struct

from jarcast.app.open_batch import Underway
from jarcast.domain.batch import Batch
from jarcast.forecast.answer import Forecast
from jarcast.ledger.entry import Request
from jarcast.measures import Units

_MOST_BUTTONS = 4  # jars that one can tap, where no more sorts were packed


class Seen(Struct, frozen=True):
    """One open batch: ``number`` is the action it was begun by, ``newest`` that of its last step.

    ``now`` is what it will come to, None where it waits or, ``why``, that cannot be said. ``lines``
    say it in sentences; ``safety`` is the card's block, or what to heed without one. ``packed``
    counts the jars by sort, ``sorts`` are those that it may go into; ``load`` is what the canner
    holds. ``said`` is what was last typed of each column, after the action that it was typed in.
    """

    number: int
    newest: int
    at: Underway
    now: Forecast | None
    why: str
    known: str
    lines: Sequence[str]
    safety: str
    by_card: bool
    packed: Mapping[str, float]
    sorts: Sequence[str]
    load: float
    said: Mapping[str, tuple[int, str]]

    @property
    def jars(self) -> float:
        """Jars packed so far."""
        return 0.0 if self.at.so_far is None else self.at.so_far.jars

    @property
    def formula(self) -> Sequence[str]:
        """What goes into the brine to heat, a line each; its first line is how much that makes."""
        return [line.strip() for line in self.lines if line.startswith("  ")]

    @property
    def words(self) -> Sequence[str]:
        """The other sentences on what is expected."""
        return [line for line in self.lines if line and not line.startswith("  ")]

    @property
    def tapped(self) -> Sequence[str]:
        """Sorts that have a button: the first few, and whichever was packed."""
        return [s for i, s in enumerate(self.sorts) if i < _MOST_BUTTONS or self.packed.get(s)]


class Look(Struct, frozen=True):
    """The kitchen at one moment. ``newest`` is the number of the last action of all.

    ``unsealed`` are batches of which it is not said yet how many jars sealed, the latest first.
    """

    newest: int
    units: Units
    open: Sequence[Seen]
    unsealed: Sequence[Batch] = ()


class Choices(Struct, frozen=True):
    """What a new batch may be of: the batch of each crop that was last, cards by key, people."""

    last: Sequence[Batch]
    cards: Mapping[str, str]
    jars: Sequence[str]
    people: Sequence[str]
    person: str


class Answer(Struct, frozen=True):
    """What a command answered: a document, or text; and what it told beside."""

    document: Mapping[str, Any]
    shown: str
    told: Sequence[str]


class Commands(Protocol):
    """The commands, as the page asks for them. Each raises JarcastError for what cannot be."""

    def newest(self) -> int:
        """Number of the last action."""

    def digest_of(self, key: str) -> str | None:
        """Digest of a request that was recorded already; None for a new one."""

    def look(self, number: int | None = None, *, bare: bool = False) -> Look:
        """The open batches; one of them alone, by its number; ``bare``: none is forecast."""

    def card(self, number: int) -> str:
        """All that the card of an open batch says; '' where it has none."""

    def choices(self) -> Choices:
        """What a new batch may be of."""

    def odd_sealed(self, batch: str, count: str) -> str:
        """What is odd about so many sealed jars of a closed batch; '' where nothing is."""

    def run(self, command: str, said: Mapping[str, Any], request: Request | None = None) -> Answer:
        """Run a command with these options; ``request`` is kept with what it writes."""
