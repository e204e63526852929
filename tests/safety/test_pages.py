"""A damaged page is refused, or costs nothing: a sample of what ``pages.py`` tries."""

from . import pages


def test_what_a_damaged_ledger_gives_is_every_row_as_it_was_or_nothing() -> None:
    said, code = pages.run(600, 2)
    assert code == 0, said
