"""What a process that goes on keeps of a ledger: its batches, what was learned, the last forecasts.

Read and learned again once a batch that is recorded has changed, and not before.
"""

import threading
from collections import deque
from collections.abc import Mapping, Sequence
from functools import cached_property
from typing import TYPE_CHECKING, Any

from jarcast.domain.batch import Batch
from jarcast.domain.jars import Jar
from jarcast.domain.packing import SoFar
from jarcast.ledger import Ledger

if TYPE_CHECKING:
    from jarcast.forecast.answer import Forecast
    from jarcast.forecast.habits import Habits
    from jarcast.learning.model.beliefs import Beliefs


class Memory:
    """The batches of one ledger and ``habits_from`` them, each with what it was made of."""

    def __init__(self) -> None:
        """Nothing is read yet."""
        self._lock = threading.Lock()
        self._state: tuple[Any, ...] = ()
        self._batches: list[Batch] = []
        self._made_of: tuple[Any, ...] = ()
        self._habits: Habits | None = None

    def batches(self, ledger: Ledger) -> list[Batch]:
        """``ledger.batches()``, inside ``looking``. Raises LedgerError."""
        state = ledger.state_of_batches()
        with self._lock:
            if state != self._state:
                self._batches, self._state = ledger.batches(), state
            return self._batches

    def learn(
        self,
        batches: Sequence[Batch],
        beliefs: "Beliefs | None" = None,
        *,
        shelf: Mapping[str, Jar],
        packed: Mapping[str, Sequence[SoFar]],
        last_jar: str | None,
    ) -> "Habits":
        """As ``habits_from``; notes of batches that are still open teach nothing."""
        from jarcast.forecast.habits import habits_from

        closed = {one.batch for one in batches}
        notes = {name: said for name, said in packed.items() if name in closed}
        made_of = (list(batches), beliefs, dict(shelf), notes, last_jar)
        with self._lock:
            if self._habits is None or self._made_of != made_of:
                learned = habits_from(
                    batches, beliefs, shelf=shelf, packed=notes, last_jar=last_jar
                )
                self._habits = _remembering(learned)
                self._made_of = made_of
            return self._habits


_MOST_KEPT = 24  # forecasts: a step asks for what was shown before it, and for what follows


def _remembering(habits: "Habits") -> "Habits":
    """The same habits, which forecast nothing anew that they have just forecast."""
    from jarcast.forecast.habits import Habits

    class Remembering(Habits, frozen=True, dict=True):
        @cached_property
        def kept(self) -> "deque[tuple[dict[str, Any], Forecast]]":
            return deque(maxlen=_MOST_KEPT)

        def forecast(self, **asked: Any) -> "Forecast":
            for before, made in tuple(self.kept):
                if before == asked:
                    return made
            made = super().forecast(**asked)
            self.kept.append((asked, made))
            return made

    return Remembering(habits.learned, habits.shelf)
