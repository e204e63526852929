"""jarcast beliefs: which starting beliefs a ledger is learned on, and better ones by pooling."""

from pathlib import Path
from typing import Annotated

import typer

from jarcast.app.chosen_beliefs import BELIEFS, PUBLISHED, SHIPPED, beliefs_in_use, chosen_file
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
    """Choose the starting beliefs that this ledger is learned on; remembered in the ledger.

    \b
    Example:  jarcast beliefs use club.json
    """
    if file not in PUBLISHED:
        from jarcast.learning.model.beliefs import load_beliefs

        load_beliefs(Path(file).expanduser())  # refused now, not at the next forecast
    chosen = SHIPPED if file in PUBLISHED else str(Path(file).expanduser().resolve())
    with work_at(ledger) as work:
        work.remember_with(BELIEFS, chosen)
        work.remember()
    _answer(chosen, as_json)


@app.command("show")
def show_(ledger: LedgerOption = None, as_json: JsonOption = False) -> None:
    """Show which starting beliefs are in use.

    \b
    Example:  jarcast beliefs show
    """
    with work_at(ledger) as work:
        _answer(work.settings.get(BELIEFS), as_json)


def _answer(remembered: str | None, as_json: bool) -> None:
    from jarcast.learning.model.beliefs import starting_beliefs
    from jarcast.views.pool import beliefs_document, beliefs_text

    path, by = chosen_file(remembered)
    beliefs = beliefs_in_use(remembered) or starting_beliefs()
    if as_json:
        show_json(beliefs_document(beliefs, path, by))
    else:
        show(beliefs_text(beliefs, path, by))
