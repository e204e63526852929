"""Options of what is drawn: chances, and the seed."""

from typing import Annotated

import typer

from jarcast.errors import ForecastError

LevelOption = Annotated[float, typer.Option("--level", help="How often the range should hold.")]
SeedOption = Annotated[int, typer.Option("--seed", help="Seed of the draws.", min=0)]


def check_chances(short_chance: float, level: float) -> None:
    """Raise ForecastError where one of them is no chance that can be asked for."""
    for name, chance in (("--short-chance", short_chance), ("--level", level)):
        if not 0.001 <= chance <= 0.999:
            raise ForecastError(f"{name}: must be 0.001 to 0.999; you gave {chance}")
