"""`.ci/run` ends as its checks ended: tidying up changes nothing about it."""

import subprocess
from pathlib import Path

import pytest

RUN = Path(__file__).resolve().parents[1] / ".ci" / "run"


def ended(checks: str) -> int:
    """The exit code of `checks`, in a shell that tidies up as `.ci/run` does."""
    text = RUN.read_text("utf-8")
    tidying = text[
        text.index("work=$(mktemp") : text.index("trap tidy EXIT") + len("trap tidy EXIT")
    ]
    script = f"set -euo pipefail\n{tidying}\n{checks}\n"
    return subprocess.run(["bash", "-c", script], timeout=30).returncode


@pytest.mark.parametrize(("checks", "code"), [("true", 0), ("false", 1), ("exit 3", 3)])
@pytest.mark.parametrize(
    "background",
    [
        "",
        'sleep 0 & checking=$!; wait "$checking"',  # It has ended: there is nothing left to stop.
        "sleep 20 & checking=$!",
    ],
)
def test_it_ends_as_its_checks_did(background: str, checks: str, code: int) -> None:
    assert ended(f"{background}\n{checks}") == code
