"""jarcast serve."""

from typing import Annotated

import typer

from jarcast.cli.common import LedgerOption, ledger_path, show
from jarcast.errors import LedgerError


def serve(
    port: Annotated[
        int, typer.Option("--port", help="Port to listen on.", min=1, max=65535)
    ] = 8417,
    lan: Annotated[
        bool, typer.Option("--lan", help="Offer it to other devices on this network too.")
    ] = False,
    name: Annotated[
        str | None, typer.Option("--name", help="A name of this machine on the network, too.")
    ] = None,
    no_browser: Annotated[
        bool, typer.Option("--no-browser", help="Print the address, and open no browser.")
    ] = False,
    read_only: Annotated[
        bool, typer.Option("--read-only", help="Show only: nothing can be changed.")
    ] = False,
    forget: Annotated[
        bool, typer.Option("--forget", help="Forget every device that was let in, and stop.")
    ] = False,
    ledger: LedgerOption = None,
) -> None:
    """Show the open batches as a page, for a phone or tablet at the counter.

    It listens on this machine only; with --lan on its home-network address, which it prints
    with a one-time code. What you tap goes into the same ledger, and you can work on the same batch
    at the terminal. Ctrl-C ends it.

    \b
    Examples:
      jarcast serve
      jarcast serve --lan
      jarcast serve --forget
    """
    path = ledger_path(ledger)
    if forget:
        from jarcast.page.pairing import Pairing, devices_file
        from jarcast.views.words import counted

        count = Pairing(devices_file(path)).forget_all()
        show(f"{counted(count, 'device is', 'devices are')} no longer let in.")
        return
    from jarcast.ledger.plain_words import only_readable

    if only_readable(path):
        raise LedgerError(
            f"{path.parent} is read-only, and the page keeps there which devices it let in; copy "
            "the ledger to a folder of your own, and serve that with --ledger"
        )
    from jarcast.cli.at_page import AtPage
    from jarcast.page.server import LOOPBACK, Settings, lan_address, serve

    settings = Settings(
        host=lan_address() if lan else LOOPBACK, port=port, names=(name,) if name else (),
        browser=not no_browser, read_only=read_only,
    )  # fmt: skip
    commands = AtPage(path)
    commands.newest()  # a ledger that cannot be used is said before anything is offered
    serve(commands, path, settings, show, typer.echo)
