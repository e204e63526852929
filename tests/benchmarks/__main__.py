"""List the benchmarks, or run one by its name.

python -m tests.benchmarks
python -m tests.benchmarks cold_start --help
"""

import ast
import runpy
import sys
from pathlib import Path

FOLDER = Path(__file__).resolve().parent


def found() -> dict[str, Path]:
    """Every script here that can be run, by its name: 'cold_start', 'growth.importing'."""
    return {
        ".".join(path.relative_to(FOLDER).with_suffix("").parts): path
        for path in sorted(FOLDER.rglob("*.py"))
        if path != Path(__file__).resolve() and '__name__ == "__main__"' in path.read_text("utf-8")
    }


def listing() -> str:
    """A line for each: its name, and what it measures."""
    scripts = found()
    width = max(map(len, scripts))
    return "\n".join(f"{name:{width}}  {about(path)}" for name, path in scripts.items())


def about(path: Path) -> str:
    """The first sentence of a script's docstring."""
    said = ast.get_docstring(ast.parse(path.read_text("utf-8"))) or ""
    return " ".join(said.partition("\n\n")[0].split()).split(". ")[0].rstrip(".")


def main(words: list[str]) -> int:
    """List, or run; gives the exit code."""
    if not words or words[0] in ("-h", "--help"):
        print(listing())
        print("\nRun one: python -m tests.benchmarks NAME [OPTION ...]; --help shows its options.")
        return 0
    script = found().get(words[0])
    if script is None:
        print(f"There is no benchmark {words[0]!r}. These are:\n{listing()}", file=sys.stderr)
        return 2
    sys.argv = [str(script), *words[1:]]
    runpy.run_path(str(script), run_name="__main__")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
