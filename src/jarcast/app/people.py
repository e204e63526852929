"""Names of people in a kitchen: as first written, and told where they are new."""

from jarcast.app.work import Kitchen
from jarcast.domain.batch import text_problem
from jarcast.domain.names import person_key
from jarcast.errors import BatchError, cut_short


def first_written(own: Kitchen, said: str) -> str:
    """A name as it was first written in this kitchen, its case and spaces forgiven."""
    if problem := text_problem(said):
        raise BatchError(f"--person: the name {problem}")
    return own.people.get(person_key(said), " ".join(said.split()))


def new_here(own: Kitchen, *names: str) -> str:
    """That names are new in a kitchen where others are known, which may be a slip of the pen."""
    fresh = {key: name for name in names if (key := person_key(name)) and key not in own.people}
    if not fresh or not own.people:
        return ""
    new, known = (", ".join(cut_short(n, 40) for n in some) for some in
                  (fresh.values(), own.people.values()))  # fmt: skip
    return f"{new} {'is' if len(fresh) == 1 else 'are'} new here; known: {known}."
