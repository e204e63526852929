"""jarcast beliefs: which starting beliefs a ledger is learned on, and better ones by pooling."""

from pathlib import Path
from typing import Annotated

import typer

from jarcast.app.chosen_beliefs import (
    BELIEFS,
    PUBLISHED,
    SHIPPED,
    beliefs_in_use,
    chosen_file,
    keep_copy,
)
from jarcast.cli.common import JsonOption, LedgerOption, show, show_json, work_at
from jarcast.cli.pool import pool

app = typer.Typer(
    no_args_is_help=True,
    help="Starting beliefs: the published yields, or a file pooled from many households.",
)


app.command("pool")(pool)


@app.command("use")
def use(
    file: Annotated[str, typer.Argument(help="A beliefs file, or 'shipped' (or 'published').")],
    ledger: LedgerOption = None,
    as_json: JsonOption = False,
) -> None:
    """Choose the starting beliefs this ledger learns from; remembered in the ledger.

    A copy of the file is kept beside the ledger, so you can move the file itself.

    \b
    Example:  jarcast beliefs use club.json
    """
    path = Path(file).expanduser()
    if file not in PUBLISHED:
        from jarcast.learning.model.beliefs import load_beliefs

        load_beliefs(path)  # refused now, not at the next forecast
    with work_at(ledger) as work:
        chosen = SHIPPED if file in PUBLISHED else keep_copy(path, work.path)
        work.remember_with(BELIEFS, chosen)
        work.remember()
        _answer(chosen, work.path, as_json)


@app.command("show")
def show_(ledger: LedgerOption = None, as_json: JsonOption = False) -> None:
    """Show which starting beliefs are in use.

    \b
    Example:  jarcast beliefs show
    """
    with work_at(ledger) as work:
        _answer(work.settings.get(BELIEFS), work.path, as_json)


def _answer(remembered: str | None, ledger: Path, as_json: bool) -> None:
    from jarcast.learning.model.beliefs import starting_beliefs
    from jarcast.views.pool import beliefs_document, beliefs_text

    path, by = chosen_file(remembered, ledger)
    beliefs = beliefs_in_use(remembered, ledger) or starting_beliefs()
    if as_json:
        show_json(beliefs_document(beliefs, path, by))
    else:
        show(beliefs_text(beliefs, path, by))
