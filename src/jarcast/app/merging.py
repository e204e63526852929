"""Another ledger's batches into this one: none lost, and none counted twice."""

from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import TypeVar

from msgspec.structs import replace

from jarcast.app.work import Work
from jarcast.domain.batch import Batch
from jarcast.domain.jars import SHELF, Jar
from jarcast.domain.names import person_key
from jarcast.errors import LedgerError
from jarcast.ledger import Entry, Ledger
from jarcast.ledger.entry import differences, said_otherwise
from jarcast.ledger.own_measures import measured_by, own_jar_key, own_jars
from jarcast.ledger.whole_names import names_taken
from jarcast.notebook.rehearsal import Rehearsal

_T = TypeVar("_T")
_Placed = tuple[str, _T]  # with its place: which file, which batch or row
_SQLITE = b"SQLite format 3\0"  # how its files begin: https://sqlite.org/fileformat2.html
_WITHDRAWN = "batch '{name}' is withdrawn here; 'jarcast undo' takes it back"
_SUFFIXES = frozenset((".sqlite3", ".sqlite", ".db"))


def is_ledger(file: Path) -> bool:
    """Whether a file is to be read as a ledger, by how it begins or what it is called."""
    if file.suffix.lower() in _SUFFIXES:
        return True
    try:
        if not file.is_file():  # of a pipe nothing may be read here
            return False
        with file.open("rb") as opened:
            return opened.read(len(_SQLITE)) == _SQLITE
    except (OSError, ValueError):
        return False


def rehearse_ledger(work: Work, file: Path, person: str) -> Rehearsal:
    """The standing batches of another ledger, as they would come into this one.

    ``person`` packed what names nobody there, and stands before names that other batches have
    here; where it is empty the file's own name does. Raises LedgerError.
    """
    if not file.is_file():
        raise LedgerError(f"{file} is not there; name the file of the other ledger")
    if work.path.exists() and file.samefile(work.path):
        raise LedgerError(f"{file} is the ledger itself; name another file")
    with Ledger.open(file) as other, other.looking():
        entries, theirs, typed = other.entries(), own_jars(other), measured_by(other)
    who = person or file.stem
    renamed, jars = _jars(work.shelf, theirs, entries, who)
    coming = [
        (
            f"{file}, batch '{before.batch.batch}'",
            _as_here(before, person, renamed),
            before.batch.person != "",
        )
        for before in entries
    ]
    found, told, left = _Here(work).named(coming, who)
    kept = tuple((jar, typed[key]) for key, jar in jars.items())
    return Rehearsal(found, told, left, jars=kept)


def with_free_names(work: Work, rehearsal: Rehearsal, person: str) -> Rehearsal:
    """A file of another kitchen's batches: those whose name is another's here get one of their own.

    The very same where none needs it.
    ``person`` packed them, and stands before their names; where it is empty they stay as they are.
    A file of which no fewer batches stand here as they are there than otherwise is this kitchen's
    own, and keeps its names.
    """
    here = _Here(work)
    if not person or here.wrote([entry.batch for _, entry in rehearsal.entries]):
        return rehearsal
    key = person_key(person)
    coming = [
        (place, entry, person_key(entry.batch.person) != key) for place, entry in rehearsal.entries
    ]
    found, told, left = here.named(coming, person)
    if not told and not left:
        return rehearsal
    doubts, out = (*rehearsal.doubts, *told), (*rehearsal.left, *left)
    return replace(rehearsal, entries=found, doubts=doubts, left=out)


def _as_here(entry: Entry, person: str, renamed: Mapping[str, str]) -> Entry:
    """An entry with who packed it, and its jars as they are called here."""
    jar = tuple(renamed.get(key, key) for key in entry.batch.jar)
    return Entry(replace(entry.batch, person=entry.batch.person or person, jar=jar), entry.typed)


class _Here:
    """The names of this ledger, and of what comes into it."""

    def __init__(self, work: Work) -> None:
        self._ledger = work.ledger
        self._ours = {batch.batch: batch for batch in work.kitchen.batches}
        self._taken = names_taken(work.ledger)
        self._given: set[str] = set()

    def named(
        self, coming: Iterable[tuple[str, Entry, bool]], who: str
    ) -> tuple[tuple[_Placed[Entry], ...], tuple[_Placed[str], ...], tuple[_Placed[str], ...]]:
        """Batches by their names here, each with its place: those that come in, which of them have
        another name here, and why the others stay out.

        Of each it is told whether its table or ledger says who packed it; ``who`` stands before a
        name that another batch has. Several of one name there have one name here.
        """
        names: dict[str, str] = {}
        found, told, left = list[_Placed[Entry]](), list[_Placed[str]](), list[_Placed[str]]()
        for place, entry, has_person in coming:
            own = entry.batch.batch
            if own not in names:
                names[own] = self._name_for(entry.batch, has_person, who)
            name = names[own]
            if name in self._taken and name not in self._ours:
                left.append((place, _WITHDRAWN.format(name=name)))
                continue
            if name != own:
                told.append((place, f"is named '{name}' here"))
            found.append((place, Entry(replace(entry.batch, batch=name), entry.typed)))
        return tuple(found), tuple(told), tuple(left)

    def wrote(self, batches: Sequence[Batch]) -> bool:
        """Whether these were written here: of those of a name here, most say nothing otherwise.

        What is of the same person here came in before, and tells nothing of it.
        """
        there = [
            (own, one)
            for one in batches
            if (own := self._ours.get(one.batch)) is not None
            and person_key(own.person) != person_key(one.person)
        ]
        same = sum(not said_otherwise(own, replace(one, person=own.person)) for own, one in there)
        return 0 < len(there) <= 2 * same

    def _name_for(self, batch: Batch, named: bool, who: str) -> str:
        """The name of a batch here: its own, unless that is another batch's.

        ``named`` tells whether the other ledger says who packed it.
        """
        own = f"{who}: {batch.batch}"
        came_before = own in self._taken
        free = batch.batch not in self._taken and batch.batch not in self._given
        same = batch.batch not in self._given and self._is_same(batch, named)
        name = batch.batch if not came_before and (free or same) else own
        self._given.add(name)
        return name

    def _is_same(self, batch: Batch, named: bool) -> bool:
        """Whether the batch of this name here is this one, as it was or is there."""
        there = self._ours.get(batch.batch)
        if there is None:
            versions = self._ledger.history(batch.batch)  # of one that is withdrawn
            if not versions:
                return False
            there = versions[-1].entry.batch
        if person_key(there.person) == person_key(batch.person):
            return (there.date, there.produce) == (batch.date, batch.produce)
        # The other ledger had it from here, and was told who packed it.
        apart = differences(replace(there, person=batch.person), batch)
        return named and not there.person and not apart


def _jars(
    shelf: Mapping[str, Jar], theirs: Mapping[str, Jar], entries: list[Entry], who: str
) -> tuple[dict[str, str], dict[str, Jar]]:
    """Jars of their own that batches are in: those called otherwise here, and those to be added.

    The latter are by their key there. One that has another size here gets a name of its own.
    """
    renamed: dict[str, str] = {}
    new: dict[str, Jar] = {}
    for key in dict.fromkeys(key for entry in entries for key in entry.batch.jar):
        if key in SHELF or (here := shelf.get(key)) == theirs[key]:
            continue
        jar = theirs[key]
        if here is not None:
            jar = replace(jar, key=own_jar_key(f"{who} {key}"))
            renamed[key] = jar.key
        new[key] = jar
    return renamed, new
