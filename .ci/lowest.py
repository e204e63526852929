"""Print the oldest versions that pyproject.toml allows, one requirement a line.

    python .ci/lowest.py >lowest.txt

Of the dependencies and of the extras cluster and test; each is pinned to its lower bound.
"""

import re
import tomllib
from pathlib import Path

EXTRAS = ("cluster", "test")
# A name, its lower bound, and perhaps where it is wanted at all: 'pexpect>=4.9; sys_platform ...'.
_BOUND = re.compile(r"(?P<name>[\w.-]+)>=(?P<lower>[\w.]+)[^;]*(?P<where>;.*)?")


def lowest(project: dict) -> list[str]:
    """The requirements, pinned; an extra that names the package itself adds nothing of its own."""
    wanted = [*project["dependencies"]]
    for extra in EXTRAS:
        wanted += project["optional-dependencies"][extra]
    pinned = []
    for one in wanted:
        if one.startswith(f"{project['name']}["):
            continue
        found = _BOUND.fullmatch(one.strip())
        if found is None:
            raise SystemExit(f"pyproject.toml: {one!r} has no lower bound ('name>=version')")
        pinned.append(f"{found['name']}=={found['lower']}{found['where'] or ''}")
    return pinned


if __name__ == "__main__":
    pyproject = Path(__file__).resolve().parents[1] / "pyproject.toml"
    print("\n".join(lowest(tomllib.loads(pyproject.read_text("utf-8"))["project"])))
