"""Which starting beliefs were chosen, and by what: the environment, or the ledger."""

import os
from pathlib import Path
from typing import TYPE_CHECKING

from jarcast.errors import BeliefsError

if TYPE_CHECKING:
    from jarcast.learning.model.beliefs import Beliefs

BELIEFS = "beliefs"  # the setting in the ledger: a file, or the word for none
SHIPPED = "shipped"
PUBLISHED = (SHIPPED, "published")  # either word takes the published ones
VARIABLE = "JARCAST_BELIEFS"


def chosen_file(remembered: str | None) -> tuple[Path | None, str]:
    """The beliefs file in use, None for the published yields, and who chose it."""
    for chosen, by in ((os.environ.get(VARIABLE), VARIABLE), (remembered, "jarcast beliefs use")):
        if chosen:
            return (None if chosen in PUBLISHED else Path(chosen).expanduser()), by
    return None, "nothing else was chosen"


def beliefs_in_use(remembered: str | None) -> "Beliefs | None":
    """The beliefs chosen by the environment or, failing that, remembered in the ledger.

    None stands for the published ones. Raises BeliefsError when they cannot be read.
    """
    path, by = chosen_file(remembered)
    if path is None:
        return None
    from jarcast.learning.model.beliefs import load_beliefs

    try:
        return load_beliefs(path)
    except BeliefsError as error:
        mend = f"unset {VARIABLE}" if by == VARIABLE else "'jarcast beliefs use shipped'"
        raise BeliefsError(
            f"{error}. It was chosen by {by}; {mend} takes the published ones"
        ) from (error)
