"""Which starting beliefs were chosen, and by what: the environment, or the ledger."""

import hashlib
import os
from pathlib import Path
from typing import TYPE_CHECKING

from jarcast.errors import BeliefsError, JarcastError
from jarcast.files.whole import write_whole

if TYPE_CHECKING:
    from jarcast.learning.model.beliefs import Beliefs

BELIEFS = "beliefs"  # the setting in the ledger: a file, or the word for none
SHIPPED = "shipped"
PUBLISHED = (SHIPPED, "published")  # either word takes the published ones
VARIABLE = "JARCAST_BELIEFS"


def _beside(ledger: Path) -> Path:
    """The folder of the copies taken for a ledger: beside the file itself, as its backups are."""
    real = Path(os.path.realpath(ledger))
    return real.with_name(f"{real.name}.beliefs")


def keep_copy(file: Path, ledger: Path) -> str:
    """Keep a copy of a beliefs file beside the ledger, and give what the ledger is to remember.

    A copy is named by what is in it and never changed: what an ``undo`` goes back to is still
    there. Raises BeliefsError where the file cannot be read, JarcastError where the copy cannot be
    written.
    """
    try:
        content = file.read_bytes()
    except OSError as error:
        raise BeliefsError(f"{file}: cannot be read ({error.strerror})") from error
    folder, name = _beside(ledger), f"{hashlib.sha256(content).hexdigest()[:16]}.json"
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise JarcastError(
            f"{folder} cannot be made for a copy of {file.name} ({error.strerror}); nothing changed"
        ) from error
    write_whole(folder / name, lambda stream: stream.write(content))
    return name


def chosen_file(remembered: str | None, ledger: Path) -> tuple[Path | None, str]:
    """The beliefs file in use, None for the published yields, and who chose it.

    What the ledger remembers is a copy beside it, or the whole path of a file, as it once was.
    """
    own = remembered and str(_beside(ledger) / Path(remembered).expanduser())
    own = remembered if remembered in PUBLISHED else own
    for chosen, by in ((os.environ.get(VARIABLE), VARIABLE), (own, "jarcast beliefs use")):
        if chosen:
            return (None if chosen in PUBLISHED else Path(chosen).expanduser()), by
    return None, "nothing else was chosen"


def beliefs_in_use(remembered: str | None, ledger: Path) -> "Beliefs | None":
    """The beliefs chosen by the environment or, failing that, remembered in the ledger.

    None stands for the published ones. Raises BeliefsError when they cannot be read.
    """
    path, by = chosen_file(remembered, ledger)
    if path is None:
        return None
    from jarcast.learning.model.beliefs import load_beliefs

    try:
        return load_beliefs(path)
    except BeliefsError as error:
        mend = f"unset {VARIABLE}" if by == VARIABLE else "'jarcast beliefs use shipped'"
        raise BeliefsError(
            f"{error}. It was chosen with {by}; {mend} goes back to the published ones"
        ) from (error)
