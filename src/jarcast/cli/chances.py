"""Options that are chances."""

from jarcast.errors import ForecastError


def check_chances(short_chance: float, level: float) -> None:
    """Raise ForecastError where one of them is no chance that can be asked for."""
    for name, chance in (("--short-chance", short_chance), ("--level", level)):
        if not 0.001 <= chance <= 0.999:
            raise ForecastError(f"{name}: must be 0.001 to 0.999; you gave {chance}")
