"""jarcast beliefs: which starting beliefs a ledger is learned on."""

import os
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from jarcast.cli.common import BELIEFS, JsonOption, LedgerOption, ledger_path, show, show_json
from jarcast.errors import BeliefsError

if TYPE_CHECKING:
    from jarcast.learning.beliefs import Beliefs

app = typer.Typer(
    no_args_is_help=True, help="Starting beliefs: the published yields, or a pooled file."
)
SHIPPED = "shipped"
_PUBLISHED = (SHIPPED, "published")  # either word takes the published ones
VARIABLE = "JARCAST_BELIEFS"


def chosen_file(remembered: str | None) -> tuple[Path | None, str]:
    """The beliefs file in use, None for the published yields, and who chose it."""
    for chosen, by in ((os.environ.get(VARIABLE), VARIABLE), (remembered, "jarcast beliefs use")):
        if chosen:
            return (None if chosen in _PUBLISHED else Path(chosen).expanduser()), by
    return None, "nothing else was chosen"


def beliefs_in_use(remembered: str | None) -> "Beliefs | None":
    """The beliefs chosen by the environment or, failing that, remembered in the ledger.

    None stands for the published ones. Raises BeliefsError when they cannot be read.
    """
    path, by = chosen_file(remembered)
    if path is None:
        return None
    from jarcast.learning.beliefs import load_beliefs

    try:
        return load_beliefs(path)
    except BeliefsError as error:
        mend = f"unset {VARIABLE}" if by == VARIABLE else "'jarcast beliefs use shipped'"
        raise BeliefsError(
            f"{error}. It was chosen by {by}; {mend} takes the published ones"
        ) from (error)


@app.command("use")
def use(
    file: Annotated[str, typer.Argument(help="A beliefs file, or 'shipped' (or 'published').")],
    ledger: LedgerOption = None,
    as_json: JsonOption = False,
) -> None:
    """Choose the starting beliefs that this ledger is learned on; remembered in the ledger.

    \b
    Example:  jarcast beliefs use club.json
    """
    from jarcast.ledger import Ledger

    if file not in _PUBLISHED:
        from jarcast.learning.beliefs import load_beliefs

        load_beliefs(Path(file).expanduser())  # refused now, not at the next forecast
    chosen = SHIPPED if file in _PUBLISHED else str(Path(file).expanduser().resolve())
    with Ledger.open(ledger_path(ledger), writing=True) as opened:
        opened.remember(BELIEFS, chosen)
    _answer(chosen, as_json)


@app.command("show")
def show_(ledger: LedgerOption = None, as_json: JsonOption = False) -> None:
    """Show which starting beliefs are in use.

    \b
    Example:  jarcast beliefs show
    """
    from jarcast.ledger import Ledger

    with Ledger.open(ledger_path(ledger)) as opened:
        _answer(opened.setting(BELIEFS), as_json)


def _answer(remembered: str | None, as_json: bool) -> None:
    from jarcast.learning.beliefs import starting_beliefs
    from jarcast.views.pool import beliefs_document, beliefs_text

    path, by = chosen_file(remembered)
    beliefs = beliefs_in_use(remembered) or starting_beliefs()
    if as_json:
        show_json(beliefs_document(beliefs, path, by))
    else:
        show(beliefs_text(beliefs, path, by))
