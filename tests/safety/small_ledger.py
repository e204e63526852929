"""A small ledger with something in every table, and commands that read and write it."""

from pathlib import Path

from command_lines import _run

_MADE = (
    ["kitchen", "--altitude", "1500 ft", "--canner", "7 quarts / 8 pints", "--person", "Ana"],
    ["import", "good.csv"],
    ["record", "--recipe", "pickled-carrots", "--produce", "carrot", "--trimmed", "3 lb",
     "--jar", "pint", "--jars", "4",
     "--batch", "r1", "--cost", "9.50", "--yes"],
    ["kitchen", "baskets", "add", "bucket", "--produce", "9 lb"],
    ["forecast", "--produce", "carrot", "--cut", "sticks", "--trimmed", "5 lb", "--keep", "o"],
    ["begin", "--recipe", "dilled-okra", "--trimmed", "4 lb", "--batch", "p"],
    ["close", "--jars", "5", "--brine-made", "8 cups", "--brine-left", "2 cups", "--keep-brine",
     "2 cups", "--batch", "p", "--yes"],
    ["begin", "--produce", "okra", "--trimmed", "5 lb", "--jar", "pint", "--batch", "o"],
    ["weigh", "--brine-made", "8 cups", "--batch", "o", "--yes"],
    ["pack", "--jars", "2", "--pot-left", "6 cups", "--batch", "o", "--yes"],
    ["harvest", "plan.csv", "--keep", "stall"],
    ["amend", "c1", "jars=9"],
    ["withdraw", "b1"],
    ["record", "--produce", "okra", "--trimmed", "1 lb", "--jar", "pint", "--jars", "1", "--batch",
     "u", "--yes"],
    ["undo", "--yes"],
)  # fmt: skip
COMMANDS: tuple[list[str], ...] = (
    [], ["batches"], ["batches", "--tally"], ["batches", "--withdrawn"], ["history", "c1"],
    ["history", "o"], ["history", "p"], ["habits"], ["hindsight"], ["export", "out.csv"],
    ["forecast", "--produce", "carrot", "--cut", "sticks", "--trimmed", "5 lb"],
    ["forecast", "--recipe", "dilled-okra", "--as-bought", "9 lb"],
    ["forecast", "--produce", "carrot", "--trimmed", "5 lb", "--keep", "new"],
    ["harvest"], ["harvest", "stall"], ["harvest", "stall", "--csv", "result.csv"], ["kitchen"],
    ["harvest", "--line", "carrot: 1 bucket"], ["kitchen", "jars", "list"],
    ["kitchen", "baskets", "list"],
    ["weigh", "--trimmed", "4 lb 2 oz", "--batch", "o", "--yes"], ["undo", "--yes"],
    ["weigh", "--more-brine", "1 cup", "--batch", "o", "--yes"], ["beliefs", "show"],
    ["pack", "--jars", "3", "--pot-left", "5 cups", "--batch", "o", "--yes"],
    ["close", "--jars", "9", "--batch", "o", "--yes"], ["drop", "--batch", "o", "--yes"],
    ["amend", "c1", "note=x"], ["withdraw", "k1"], ["import", "good.csv"],
    ["record", "--produce", "carrot", "--trimmed", "2 lb", "--jars", "3 pint", "--yes"],
    ["begin", "--recipe", "pickled-carrots", "--trimmed", "4 lb"], ["restore"],
    ["recipes", "show", "pickled-carrots"], ["recipes", "scale", "pickled-carrots", "--jars", "9"],
)  # fmt: skip


def make(path: Path, folder: Path) -> None:
    """The ledger, by commands; ``folder`` is the present one and holds good.csv and plan.csv."""
    from jarcast.domain.jars import Jar
    from jarcast.ledger import Ledger
    from jarcast.ledger.annotations import confirm
    from jarcast.ledger.own_measures import add_jar

    assert Path.cwd() == folder
    for words in _MADE:
        code, _, err = _run(words)
        assert code == 0, (words, err)
    with Ledger.open(path, writing=True) as ledger:
        add_jar(ledger, Jar("tall", 500.0, 60.0), {"water": "500 g"})
        confirm(ledger, "c1", ["trimmed_g"])
