"""Options that commands share: what is typed of a batch, and what is drawn."""

from typing import Annotated

import typer

from jarcast.errors import ForecastError

CutOption = Annotated[str | None, typer.Option("--cut", help="sticks, slices...")]
DateOption = Annotated[str | None, typer.Option("--date", help="2025-08-31; today if none.")]
NameOption = Annotated[
    str | None,
    typer.Option("--batch", help="A name for the batch; one is made up if you give none."),
]
AsBoughtOption = Annotated[str | None, typer.Option("--as-bought", help="'12 lb'.")]
TrimmedOption = Annotated[str | None, typer.Option("--trimmed", help="Weight trimmed.")]
SaltOption = Annotated[str | None, typer.Option("--salt", help="'200 g', '3/4 cup'.")]
CureHoursOption = Annotated[
    str | None, typer.Option("--cure-hours", help="Hours in salt; 0 means not salted.")
]
CuredOption = Annotated[str | None, typer.Option("--cured", help="Rinsed and drained.")]
CookedOption = Annotated[str | None, typer.Option("--cooked", help="For a hot pack.")]
HeadspaceOption = Annotated[str | None, typer.Option("--headspace", help="'1/2 in'.")]
BrineMadeOption = Annotated[
    str | None, typer.Option("--brine-made", help="All the brine made: '8 cups'.")
]
BrineLeftOption = Annotated[
    str | None, typer.Option("--brine-left", help="What was left in the pot; '0 cups' if none.")
]
NotJarredOption = Annotated[
    str | None,
    typer.Option(
        "--not-jarred", help="How much of the ready produce never went into a jar: '6 lb', '0 lb'."
    ),
]
CostOption = Annotated[
    str | None, typer.Option("--cost", help="What the batch cost, jars and all: '18.50'.")
]
NoteOption = Annotated[str | None, typer.Option("--note", help="Anything worth keeping.")]
LevelOption = Annotated[float, typer.Option("--level", help="How often the range should hold.")]
SeedOption = Annotated[int, typer.Option("--seed", help="Seed of the draws.", min=0)]


def check_chances(short_chance: float, level: float) -> None:
    """Raise ForecastError where one of them is no chance that can be asked for."""
    for name, chance in (("--short-chance", short_chance), ("--level", level)):
        if not 0.001 <= chance <= 0.999:
            raise ForecastError(f"{name}: must be 0.001 to 0.999; you gave {chance}")
