"""Names as they are typed and told: case and spaces forgiven, and a part of one will do."""

from collections.abc import Sequence

from jarcast.errors import BatchError, cut_short

_MOST_LISTED = 12  # names in one message


def fitting(names: Sequence[str], typed: str) -> list[str]:
    """Names that a typed one may mean: the very one, else by case and spaces, else by a part."""
    plain = {name: _plain(name) for name in names}
    wanted = _plain(typed)
    ways = (
        lambda name: name == typed.strip(),
        lambda name: plain[name] == wanted,
        lambda name: plain[name].startswith(wanted),
        lambda name: wanted in plain[name],
    )
    for way in ways if wanted else ():
        if fits := [name for name in names if way(name)]:
            return fits
    return []


def only(fits: Sequence[str], typed: str) -> str:
    """The one name that fits. Raises BatchError with all of them where there are several."""
    if len(fits) == 1:
        return fits[0]
    raise BatchError(f"'{cut_short(typed)}' could be any of: {in_one_line(fits)}; say which one")


def in_one_line(names: Sequence[str]) -> str:
    """Names in one line, no more of them than can be read."""
    more = f" and {len(names) - _MOST_LISTED} more" if len(names) > _MOST_LISTED else ""
    return ", ".join(f"'{cut_short(name)}'" for name in names[:_MOST_LISTED]) + more


def _plain(name: str) -> str:
    return " ".join(name.casefold().split())
