"""jarcast beliefs pool: starting beliefs from many households' exports."""

from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from jarcast.cli.common import JsonOption, LedgerOption, show, show_json, work_at
from jarcast.errors import JarcastError
from jarcast.files.output import refuse_output


class Backend(StrEnum):
    """What the households are spread over."""

    LOCAL = "local"
    DASK = "dask"


def pool(
    files: Annotated[
        list[Path],
        typer.Argument(help="CSV files of batches, one a household.", readable=False),
    ],
    to: Annotated[
        Path, typer.Option("--to", help="The beliefs file to write.", readable=False)
    ] = Path("beliefs.json"),
    jobs: Annotated[
        int, typer.Option("--jobs", help="Processes to use; -1 is one a core.", min=-1)
    ] = -1,
    backend: Annotated[
        Backend, typer.Option("--backend", help="This machine, or a Dask cluster.")
    ] = Backend.LOCAL,
    scheduler: Annotated[
        str | None,
        typer.Option("--scheduler", help="Address of the Dask scheduler: tcp://host:8786."),
    ] = None,
    ledger: LedgerOption = None,
    as_json: JsonOption = False,
) -> None:
    """Learn better starting beliefs from many households' exports.

    Each household is reduced to sums, which are combined with the published yields; the file holds
    no batches. 'jarcast beliefs use' then uses it. What pooling gains is tested by leaving
    households out, and shown on your own last batch where you have a ledger.

    \b
    Example:  jarcast beliefs pool exports/*.csv --to club.json
    """
    from jarcast.cli.progress import Progress
    from jarcast.pooling.files import pool_files
    from jarcast.trackrecord.pool_gain import gains, own_next
    from jarcast.views.pool import pool_document, pool_text

    address = _address(backend, scheduler)
    _check_target(to, files)
    with work_at(ledger) as work:
        own = work.kitchen
    with Progress("pooling") as progress:
        found = pool_files(files, to, jobs=jobs or 1, scheduler=address, tell=progress)
    with Progress("trying it") as progress:
        gained = gains(files, found.reduced, progress)
    mine = own_next(own.batches, found.reduced, own.beliefs, own.shelf)
    if as_json:
        show_json(pool_document(found, gained, mine))
    else:
        show(pool_text(found, gained, mine))


def _address(backend: Backend, scheduler: str | None) -> str | None:
    if (backend is Backend.DASK) != (scheduler is not None):
        raise JarcastError(
            "a Dask cluster is named by both --backend dask and --scheduler ADDRESS, such as "
            "tcp://127.0.0.1:8786; give both, or neither to work on this machine"
        )
    return scheduler


def _check_target(to: Path, files: list[Path]) -> None:
    """Raises JarcastError before the work rather than after it."""
    refuse_output(to, "beliefs file", "beliefs.json")
    if to.is_dir():
        raise JarcastError(f"{to} is a folder; name a file in it, such as {to / 'beliefs.json'}")
    if not to.absolute().parent.is_dir():
        raise JarcastError(f"there is no folder {to.parent} to write {to.name} in; make it first")
    if to.resolve() in [file.resolve() for file in files]:
        raise JarcastError(f"{to} is one of the exports; name another file to write to")
