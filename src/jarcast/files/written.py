"""Whether the last thing that this process was to write stands in its ledger."""

from pathlib import Path

# The ledger and the action, 0 for none of its own. Emptied when something is about to be written,
# and filled once it was committed.
STANDS_IN: list[tuple[Path, int]] = []
