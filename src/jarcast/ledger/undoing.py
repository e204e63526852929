"""Taking an action back: as an action of its own, so that nothing is deleted.

What an action wrote stays in its tables, and no reading of them counts it while the action is taken
back (``STANDS`` in the schema). An undo may be taken back like any other action.
"""

import datetime as dt
from collections.abc import Mapping

from jarcast.domain.events import UNDO, Done
from jarcast.domain.jar_text import read_jars
from jarcast.domain.jars import SHELF, Jar
from jarcast.errors import BatchError, cut_short
from jarcast.ledger.backups import legible
from jarcast.ledger.own_measures import own_jars
from jarcast.ledger.schema import STANDS
from jarcast.ledger.steps import open_batches
from jarcast.ledger.store import Ledger
from jarcast.ledger.whole_names import in_one_line

# Every table that says something of a batch, and how it names it.
_OF_BATCHES = """
    SELECT action_id, name FROM reading JOIN batch ON batch.id = batch_id
    UNION SELECT action_id, name FROM confirmation JOIN batch ON batch.id = batch_id
    UNION SELECT action_id, name FROM withdrawal JOIN batch ON batch.id = batch_id
    UNION SELECT action_id, batch FROM step
    UNION SELECT action_id, batch FROM forecast
    UNION SELECT action_id, batch FROM kept_brine
"""


Undos = Mapping[int, tuple[int, ...]]  # each undo, oldest first, and the actions it takes back


def undoes(ledger: Ledger) -> Undos:
    """Each undo there ever was."""
    found: dict[int, tuple[int, ...]] = {}
    for action, target in ledger.rows("SELECT action_id, undoes FROM undone ORDER BY id"):
        found[action] = (*found.get(action, ()), target)
    return found


def taken_back(undos: Undos) -> set[int]:
    """Actions taken back by these undos; as the view ``undone_now`` has them."""
    out: set[int] = set()
    for undo in undos:
        turned = list(undos[undo])
        while turned:  # an undo of an undo turns over all that lie below it
            out ^= {turned[-1]}
            turned += undos.get(turned.pop(), ())
    return out


def last_done(ledger: Ledger, batch: str | None = None, *, further: bool = False) -> Done:
    """The last action that stands; of one batch, if named.

    ``further``: the last that is no undo. Raises BatchError where there is none, and LedgerError.
    """
    undos = undoes(ledger)
    if batch is None:
        rows = ledger.rows("SELECT id FROM action WHERE kind <> 'unanswered'")  # not the user's
    else:
        rows = ledger.rows(f"SELECT action_id FROM ({_OF_BATCHES}) WHERE name = ?", batch)
    own = {int(action) for (action,) in rows}
    own |= {undo for undo in undos if root_of(undos, undo) in own}
    standing = own - taken_back(undos) - (undos.keys() if further else set())
    if not standing:
        if batch is not None and not own:
            raise BatchError(
                f"there is no batch '{cut_short(batch)}'; 'jarcast batches' lists their names"
            )
        what = "" if batch is None else f" of batch '{cut_short(batch)}'"
        raise BatchError(f"there is nothing{what} to take back")
    last = max(standing)
    if (before := _kept_with(ledger, last)) in standing:
        last = before
    return _done(ledger, last, undos)


def undo(ledger: Ledger, done: Done) -> None:
    """Take back an action that stands.

    Raises BatchError where it was taken back meanwhile, where later entries build on it, or what
    would be left could not be; and LedgerError.
    """
    with ledger.writing(UNDO) as action:
        if ledger.rows("SELECT 1 FROM undone_now WHERE action_id = ?", done.action):
            raise BatchError(
                "that was taken back at another terminal meanwhile; nothing was changed"
            )
        _refuse_built_on(ledger, done, action)
        for target in (done.action, *done.with_it):
            ledger.execute("INSERT INTO undone (action_id, undoes) VALUES (?, ?)", action, target)
        _refuse_missing_jars(ledger)
        _refuse_missing_brine(ledger)


def _kept_with(ledger: Ledger, action: int) -> int | None:
    """The step just before, where this action kept no more than the forecast it showed; else None.

    So older versions wrote it; a step and its forecast are one action since.
    """
    rows = ledger.rows(
        "SELECT step.action_id FROM step JOIN forecast ON forecast.batch = step.batch "
        "WHERE forecast.action_id = ?1 AND step.action_id = ?1 - 1 "
        "AND step.action_id NOT IN (SELECT action_id FROM forecast) "
        "AND NOT EXISTS (SELECT 1 FROM step AS own WHERE own.action_id = ?1)",
        action,
    )
    return int(rows[0][0]) if rows else None


def root_of(undos: Undos, action: int) -> int:
    """What an undo, or an undo of one, is about in the end."""
    while action in undos:
        action = undos[action][0]
    return action


def moment_of(ledger: Ledger, action: int) -> dt.datetime:
    """When an action was done, in UTC. Raises LedgerError."""
    at = ledger.rows("SELECT at FROM action WHERE id = ?", action)[0][0]
    with legible(ledger.path, "when something was entered"):
        return dt.datetime.fromisoformat(at)


def _done(ledger: Ledger, action: int, undos: Undos) -> Done:
    kind = str(ledger.rows("SELECT kind FROM action WHERE id = ?", action)[0][0])
    when = moment_of(ledger, action)
    if action in undos:
        below = _done(ledger, undos[action][0], undos)
        return Done(action, kind, when, below.batches, below.settings, below.jars, below)
    names = ledger.rows(f"SELECT name FROM ({_OF_BATCHES}) WHERE action_id = ?", action)
    settings = ledger.rows("SELECT key, value FROM setting WHERE action_id = ?", action)
    jars = ledger.rows("SELECT name FROM own_jar WHERE action_id = ?", action)
    kept = (action + 1,) if _kept_with(ledger, action + 1) == action else ()
    return Done(
        action, kind, when, tuple(sorted({str(name) for (name,) in names})),
        tuple((str(key), str(value)) for key, value in settings),
        tuple(str(name) for (name,) in jars),
        with_it=tuple(one for one in kept if one not in taken_back(undos)),
    )  # fmt: skip


def _refuse_built_on(ledger: Ledger, done: Done, action: int) -> None:
    """Raise BatchError where a later action that stands says something of one of its batches."""
    later = ledger.rows(
        f"SELECT DISTINCT name FROM ({_OF_BATCHES}) "
        f"WHERE action_id > ? AND action_id < ? AND {STANDS}",
        max(done.action, *done.with_it, 0), action,
    )  # fmt: skip
    undos = undoes(ledger)
    above = [one for one in undos if root_of(undos, one) == root_of(undos, done.action)]
    if done.undoes is not None and max(set(above) - taken_back(undos)) != done.action:
        raise BatchError(
            "what this undo took back has been taken back again since; nothing was changed"
        )
    if built := sorted({str(name) for (name,) in later} & set(done.batches)):
        them = "them" if len(built) > 1 else "it"
        raise BatchError(
            f"more was entered since for {in_one_line(built)}, which depends on this; take that "
            f"back first ('jarcast undo' with its name), or 'jarcast withdraw' takes {them} out"
        )


def _refuse_missing_jars(ledger: Ledger) -> None:
    """Raise BatchError where a batch is in a jar of one's own that would be measured no more."""
    rows = ledger.rows("SELECT name, capacity_ml, bore_mm FROM own_jar")
    ever = {str(name): Jar(name, *measures) for name, *measures in rows}
    gone = ever.keys() - own_jars(ledger).keys()
    if not gone:
        return
    found = {
        key: "batches are recorded"
        for (jars,) in ledger.rows("SELECT DISTINCT jar FROM standing")
        for key in str(jars).split(" + ")
    }
    for one in open_batches(ledger):
        for read in read_jars(one.typed.get("jar", ""), {**SHELF, **ever}, turns=True):
            found.setdefault(read.sort, f"batch '{cut_short(one.name)}' is open")
    for key in sorted(gone & found.keys()):
        raise BatchError(
            f"{found[key]} in the jar '{key}', which would then be unmeasured; nothing was "
            "changed. Measure it again instead: 'jarcast kitchen jars add'"
        )


def _refuse_missing_brine(ledger: Ledger) -> None:
    """Raise BatchError where more kept brine would have gone into batches than was kept."""
    rows = ledger.rows(
        f"SELECT recipe FROM kept_brine WHERE {STANDS} GROUP BY recipe "
        "HAVING sum(ml) < -1.0 - 0.01 * sum(max(ml, 0.0))"  # as much too much as taking it allows
    )
    if rows:
        raise BatchError(
            f"brine of the recipe '{rows[0][0]}' kept by this has since gone into another batch; "
            "nothing was changed. Take that back first"
        )
