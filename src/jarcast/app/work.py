"""One command's work with the ledger: opened once, read at one moment, written in one action."""

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from functools import cached_property
from pathlib import Path
from types import TracebackType
from typing import TYPE_CHECKING, Self

from msgspec import Struct, field
from msgspec.structs import replace

from jarcast.app.chosen_beliefs import BELIEFS, beliefs_in_use
from jarcast.app.memory import Memory
from jarcast.domain.batch import Batch
from jarcast.domain.jars import Jar
from jarcast.domain.last_jar import LastJar
from jarcast.domain.names import person_key
from jarcast.domain.packing import SoFar
from jarcast.ledger import Ledger
from jarcast.ledger.entry import Request
from jarcast.ledger.kept_brine import KeptBrine, brine_on_hand
from jarcast.ledger.own_measures import shelf
from jarcast.ledger.passing import Passing
from jarcast.ledger.steps import OpenBatch, Step, in_the_making, notes_in, steps
from jarcast.measures import Units
from jarcast.measures.told import KITCHEN

if TYPE_CHECKING:
    from jarcast.forecast.habits import Habits
    from jarcast.learning.model.beliefs import Beliefs


PERSON = "person"  # the setting of who packed last, '' for nobody named
LAST_JAR = "last_jar"  # the setting of what becomes of the last jar
MOST_HELD = 5000  # batches that a list of them holds in memory: a tenth of what the rest takes


class Kitchen(Struct, frozen=True, dict=True):
    """What a ledger held of one kitchen at one moment.

    ``batches`` by date, then in order of entry; ``shelf`` the jars by key, ``steps`` those of all
    batches in the making, ``settings`` what is remembered, ``brine`` what is kept by recipe;
    ``ledger`` is its file. ``learn`` learns in the place of ``habits_from``, whose arguments it
    takes.
    """

    batches: list[Batch]
    shelf: Mapping[str, Jar]
    steps: Sequence[Step] = ()
    settings: Mapping[str, str] = field(default_factory=dict)
    brine: Mapping[str, KeptBrine] = field(default_factory=dict)
    ledger: Path = Path()
    learn: "Callable[..., Habits] | None" = None

    @cached_property
    def packed(self) -> Mapping[str, tuple[SoFar, ...]]:
        """Notes made while packing, by batch."""
        return notes_in(self.steps)

    @cached_property
    def open(self) -> list[OpenBatch]:
        """The open batches, in the order they were begun."""
        return in_the_making(self.steps)[0]

    @property
    def dropped(self) -> list[OpenBatch]:
        """Batches that were dropped, and neither opened again nor begun anew since."""
        return in_the_making(self.steps)[1]

    @cached_property
    def people(self) -> Mapping[str, str]:
        """Names of those who ever packed here, as first written, by their keys."""
        return self.named(batch.person for batch in self.batches)

    def named(self, packers: Iterable[str]) -> Mapping[str, str]:
        """The same where these packed the batches, oldest first."""
        named = [*dict.fromkeys(packers)]
        named += [one.typed.get("person", "") for one in self.open]
        named.append(self.settings.get(PERSON, ""))
        found: dict[str, str] = {}
        for name in named:
            found.setdefault(person_key(name), " ".join(name.split()))
        found.pop("", None)
        return found

    @cached_property
    def beliefs(self) -> "Beliefs | None":
        """The starting beliefs chosen; None stands for the published ones. Raises BeliefsError."""
        return beliefs_in_use(self.settings.get(BELIEFS), self.ledger)

    @cached_property
    def habits(self) -> "Habits":
        """What is learned from it all. Raises BeliefsError."""
        from jarcast.forecast.habits import habits_from

        said = self.settings.get(LAST_JAR)
        return (self.learn or habits_from)(
            self.batches, self.beliefs, shelf=self.shelf, packed=self.packed,
            last_jar=said if said in set(LastJar) else None,  # a later version's word says nothing
        )  # fmt: skip

    def with_batch(self, batch: Batch) -> "Kitchen":
        """The kitchen once this batch is recorded, in the place of one of its name."""
        others = [one for one in self.batches if one.batch != batch.batch]
        at = sum(one.date <= batch.date for one in others)
        return replace(self, batches=[*others[:at], batch, *others[at:]])


class Work:
    """One command's work with the ledger; use it as a context manager.

    The ledger is opened once, to look. ``kitchen`` is read at one moment, on first use, and stays
    as it was then. ``writing`` is the bracket of the one action that is written.
    """

    def __init__(
        self,
        path: Path,
        request: Request | None = None,
        memory: Memory | None = None,
    ) -> None:
        """Open the ledger at ``path``. Raises LedgerError.

        ``request`` is kept with what is written first; ``memory`` is that of a process that goes
        on.
        """
        self.path = path
        self.ledger = Ledger.open(path)
        self.ledger.request = request
        self._memory = memory
        self._to_remember: dict[str, str] = {}
        self._remembered: dict[str, str] = {}

    def __enter__(self) -> Self:
        """The work itself; messages are told in its kitchen's units from now on."""
        self._told_before = KITCHEN.set(self._units)
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """Close the ledger, whatever happened."""
        KITCHEN.reset(self._told_before)
        self.ledger.close()

    def _units(self) -> Units:
        """Those of the kitchen, as they are or will be remembered."""
        known = {**self.settings, **self._to_remember}.get("units")
        return Units(known) if known in tuple(Units) else Units.US

    @cached_property
    def kitchen(self) -> Kitchen:
        """What the ledger held when it was first asked. Raises LedgerError."""
        opened, memory = self.ledger, self._memory
        with opened.looking():
            return self._with(opened.batches() if memory is None else memory.batches(opened))

    def _with(self, batches: list[Batch]) -> Kitchen:
        opened, memory = self.ledger, self._memory
        return Kitchen(
            batches, shelf(opened), steps(opened), opened.settings(), brine_on_hand(opened),
            self.path, None if memory is None else memory.learn,
        )  # fmt: skip

    @contextmanager
    def going_through(self) -> Iterator[list[Batch] | Passing]:
        """The batches, to be gone through as often as need be; nothing can be written meanwhile.

        More than ``MOST_HELD`` are not held, but read anew each time, all of one moment. Raises
        LedgerError.
        """
        if self._memory is not None or self.ledger.at_most(MOST_HELD):
            yield self.kitchen.batches
            return
        with self.ledger.looking():
            yield Passing(self.ledger)

    def kitchen_of(self, every: Iterable[Batch]) -> Kitchen:
        """The kitchen while its batches are gone through, with those that are learned from alone.

        Raises LedgerError.
        """
        from jarcast.learning.latest import learned_from

        held, latest = self.__dict__.get("kitchen"), learned_from(every)
        return self._with(latest) if held is None else replace(held, batches=latest)

    @property
    def settings(self) -> Mapping[str, str]:
        """What is remembered, by key, with what was remembered since; the batches stay unread."""
        read = self.__dict__.get("kitchen")
        before = self._settings if read is None else read.settings
        return {**before, **self._remembered}

    @cached_property
    def _settings(self) -> dict[str, str]:
        return self.ledger.settings()

    @cached_property
    def shelf(self) -> Mapping[str, Jar]:
        """The jars by key; the batches stay unread."""
        read = self.__dict__.get("kitchen")
        return shelf(self.ledger) if read is None else read.shelf

    def anew(self) -> None:
        """Forget what was read: another action is under way."""
        for name in ("kitchen", "_settings", "shelf"):
            self.__dict__.pop(name, None)

    @contextmanager
    def writing(self, kind: str) -> Iterator[int]:
        """The bracket of an action, in which goes what is to be remembered too; gives its id.

        Raises LedgerError.
        """
        self.ledger.to_write()
        with self.ledger.writing(kind) as action:
            for key, value in self._to_remember.items():
                self.ledger.remember(key, value)
            yield action
        self._remembered |= self._to_remember
        self._to_remember.clear()

    def remember_with(self, key: str, value: str) -> None:
        """Keep a setting that is another, such as new units, with what is written next."""
        if self.settings.get(key) != value:
            self._to_remember[key] = value

    def remember(self) -> None:
        """Keep it now, as nothing else is written. Raises LedgerError."""
        if not self._to_remember:
            return
        try:
            with self.writing("setting"):
                pass
        finally:
            self._to_remember.clear()
