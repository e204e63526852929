"""jarcast kitchen baskets: what one's own buckets and baskets weigh, each with its produce."""

from collections.abc import Mapping, Sequence
from typing import Annotated

import typer

from jarcast.cli.common import JsonOption, LedgerOption, show, show_json, tell, work_at
from jarcast.errors import BatchError
from jarcast.ledger.own_measures import basket_name, baskets_in, setting_of

app = typer.Typer(
    no_args_is_help=True,
    help="Baskets of your own: what a full one weighs, so you can count instead of weigh.",
)


@app.command("list")
def list_(ledger: LedgerOption = None, as_json: JsonOption = False) -> None:
    """List your baskets, and what each weighs full.

    \b
    Example:  jarcast kitchen baskets list
    """
    with work_at(ledger) as work:
        _show(baskets_in(work.settings, work.path), as_json=as_json)


@app.command("add", context_settings={"ignore_unknown_options": True})
def add(
    name: Annotated[str, typer.Argument(help="A name for the basket: 'blue bucket'.")],
    holds: Annotated[
        list[str],
        typer.Argument(help="What it weighs full, by produce: --cucumber '23 lb'."),
    ],
    ledger: LedgerOption = None,
    as_json: JsonOption = False,
) -> None:
    """Remember what a basket of yours weighs full, one option for each produce.

    Weigh what one holds, without the basket. From then on you can write '2 blue buckets' wherever a
    weight goes; it counts as a range, since no two are filled alike. The same name with another
    produce adds to it.

    \b
    Example:  jarcast kitchen baskets add "blue bucket" --cucumber "23 lb"
    """
    with work_at(ledger) as work:
        before = baskets_in(work.settings, work.path).get(basket_name(name), {})
        work.remember_with(*setting_of(name, _pairs(holds), before))
        work.remember()
        if not as_json:
            tell(f"'2 {basket_name(name)}s' can now be given as a weight.")
        _show(baskets_in(work.settings, work.path), as_json=as_json)


def _pairs(words: Sequence[str]) -> dict[str, str]:
    """'--green-bean', '12 lb' as produce and weight. Raises BatchError."""
    found: dict[str, str] = {}
    rest = list(words)
    while rest:
        option, equals, weight = rest.pop(0).partition("=")
        if not option.startswith("--") or not (equals or rest):
            raise BatchError(
                f"'{option[:40]}': give each produce with its weight, such as --cucumber '23 lb'"
            )
        found[option.removeprefix("--").replace("-", " ")] = weight if equals else rest.pop(0)
    return found


def _show(baskets: Mapping[str, Mapping[str, str]], *, as_json: bool) -> None:
    if as_json:
        show_json({"format": "jarcast baskets", "version": 1, "baskets": baskets})
    elif not baskets:
        show("No baskets of your own yet; 'jarcast kitchen baskets add' keeps one.")
    for name, holds in () if as_json else baskets.items():
        show(f"{name}: {', '.join(f'{produce} {text}' for produce, text in holds.items())}")
