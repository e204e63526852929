"""A mapping that cannot be written to and, unlike Python's own view, can be copied and pickled."""

from collections.abc import Iterator, Mapping
from typing import TypeVar

K = TypeVar("K")
V = TypeVar("V")


class ReadOnly(Mapping[K, V]):
    """The items of a mapping as they were when this was made; equal to any mapping with them."""

    __slots__ = ("_held",)

    def __init__(self, held: Mapping[K, V]) -> None:
        """Keep a copy of the items."""
        self._held = dict(held)

    def __getitem__(self, key: K) -> V:
        """As of any mapping."""
        return self._held[key]

    def __iter__(self) -> Iterator[K]:
        """As of any mapping."""
        return iter(self._held)

    def __len__(self) -> int:
        """As of any mapping."""
        return len(self._held)

    def __repr__(self) -> str:
        """As a dict in its name."""
        return f"ReadOnly({self._held!r})"
