"""A mapping that cannot be written to and, unlike Python's own view, can be copied and pickled."""

from collections.abc import Mapping
from typing import Any, NoReturn, TypeVar

K = TypeVar("K")
V = TypeVar("V")


class ReadOnly(dict[K, V]):
    """The items of a mapping as they were when this was made; equal to any mapping with them."""

    __slots__ = ()

    def __init__(self, held: Mapping[K, V]) -> None:
        """Keep a copy of the items."""
        super().__init__(held)

    def _refuse(self, *_: Any, **__: Any) -> NoReturn:
        raise TypeError("it cannot be changed; make a dict of it first")

    __setitem__ = __delitem__ = __ior__ = _refuse
    clear = pop = popitem = setdefault = update = _refuse

    def __reduce__(self) -> tuple[type["ReadOnly[K, V]"], tuple[dict[K, V]]]:
        """Copied and pickled by what it holds: a dict's own way writes item by item."""
        return type(self), (dict(self),)

    def __repr__(self) -> str:
        """As a dict in its name."""
        return f"ReadOnly({super().__repr__()})"
