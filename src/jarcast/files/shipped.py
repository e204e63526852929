"""Where the data that travels with jarcast lives: in a wheel and in a checkout alike."""

from pathlib import Path

_PACKAGE = Path(__file__).resolve().parents[1]


def shipped(*parts: str) -> Path:
    """Path of a shipped file, such as ``shipped("models", "starting-beliefs.json")``.

    Raises FileNotFoundError, naming the file, if the installation lacks it.
    """
    for root in (_PACKAGE / "shipped_data", _PACKAGE.parent.parent):
        path = root.joinpath(*parts)
        if path.exists():
            return path
    raise FileNotFoundError(f"{'/'.join(parts)} is missing from this installation of jarcast")
