"""Imports point one way, and what is heavy to load is loaded only where it is used."""

import ast
import os
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

import jarcast

SOURCE = Path(jarcast.__file__).resolve().parent

# Each part may import those on the lines above its own, and itself.
LAYERS = (
    ("errors", "_version"),
    ("files", "measures"),
    ("domain",),
    ("recipes", "ledger"),
    ("batchtable", "learning"),
    ("forecast", "pooling"),
    ("trackrecord", "harvest"),
    ("app",),
    ("views",),
    ("cli",),
)
RANK = {part: rank for rank, parts in enumerate(LAYERS) for part in parts}

HEAVY = ("numpy", "pandas", "sklearn", "scipy", "joblib", "matplotlib")
# The scikit-learn face of the regression: nothing of the package imports it on its way.
HEAVY_ALLOWED = {"learning/estimator.py"}


def modules() -> list[Path]:
    return sorted(path for path in SOURCE.rglob("*.py") if "shipped_data" not in path.parts)


def name_of(path: Path) -> str:
    return path.relative_to(SOURCE).as_posix()


def part_of(path: Path) -> str:
    return path.relative_to(SOURCE).parts[0].removesuffix(".py")


def imports(tree: ast.AST, top_only: bool = False) -> Iterator[str]:
    """Names imported in a module; with ``top_only`` those that are loaded with it."""
    nodes = _at_top(tree) if top_only else ast.walk(tree)
    for node in nodes:
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, "imports are written in full"
            yield from (f"{node.module}.{alias.name}" for alias in node.names)


def _at_top(tree: ast.AST) -> Iterator[ast.AST]:
    """Statements that run when a module is loaded: not those in functions or for type checkers."""
    for node in ast.iter_child_nodes(tree):
        if isinstance(node, (ast.FunctionDef, ast.AsyncFunctionDef, ast.Lambda)):
            continue
        if isinstance(node, ast.If) and "TYPE_CHECKING" in ast.unparse(node.test):
            continue
        yield node
        yield from _at_top(node)


def parsed(path: Path) -> ast.Module:
    return ast.parse(path.read_text(encoding="utf-8"))


def parts_imported(path: Path) -> set[str]:
    """Parts of the package that a module imports anywhere, in its functions too."""
    return {
        name.split(".")[1]
        for name in imports(parsed(path))
        if name.startswith("jarcast.") and name.split(".")[1] != part_of(path)
    }


INNER = [path for path in modules() if part_of(path) not in ("__init__", "__main__")]


@pytest.mark.parametrize("path", INNER, ids=name_of)
def test_a_module_imports_only_what_lies_below_it(path: Path) -> None:
    part = part_of(path)
    assert part in RANK, f"say in LAYERS where {part} belongs"
    above = {other for other in parts_imported(path) if RANK.get(other, 99) >= RANK[part]}
    assert not above


@pytest.mark.parametrize("path", INNER, ids=name_of)
def test_nothing_imports_the_command_line(path: Path) -> None:
    assert part_of(path) == "cli" or "cli" not in parts_imported(path)


def test_ledger_and_batch_table_know_nothing_of_learning_or_showing() -> None:
    for path in INNER:
        if part_of(path) in ("ledger", "batchtable"):
            assert not parts_imported(path) & {"learning", "forecast", "views", "cli"}


def test_the_model_knows_nothing_of_how_it_is_fitted() -> None:
    outside = ("fit", "posterior", "draws", "learned", "slips", "estimator")
    for path in sorted((SOURCE / "learning" / "model").glob("*.py")):
        found = {name for name in imports(parsed(path)) if name.startswith("jarcast.learning.")}
        assert not [name for name in found if name.split(".")[2] in outside], path.name


def test_views_and_learning_open_no_files_and_no_ledger() -> None:
    for path in INNER:
        if part_of(path) in ("learning", "views"):
            assert not parts_imported(path) & {"ledger", "batchtable", "recording"}


@pytest.mark.parametrize("path", modules(), ids=name_of)
def test_only_the_command_line_knows_typer(path: Path) -> None:
    outer = {name.split(".")[0] for name in imports(parsed(path))}
    assert part_of(path) == "cli" or not outer & {"typer", "click", "rich"}


@pytest.mark.parametrize("path", modules(), ids=name_of)
def test_heavy_packages_are_imported_where_they_are_used(path: Path) -> None:
    loaded = {name.split(".")[0] for name in imports(parsed(path), top_only=True)}
    # numpy is what learning and forecasting are written in.
    free = (
        {"numpy"}
        if part_of(path) in ("learning", "forecast", "pooling", "harvest", "trackrecord")
        else set()
    )
    assert name_of(path) in HEAVY_ALLOWED or not loaded & set(HEAVY) - free


def test_the_package_has_no_import_cycles() -> None:
    within = {
        ".".join(("jarcast", *path.relative_to(SOURCE).with_suffix("").parts)): path
        for path in modules()
    }
    within = {name.removesuffix(".__init__"): path for name, path in within.items()}
    edges = {
        name: {
            found if found in within else found.rpartition(".")[0]
            for found in imports(parsed(path), top_only=True)
            if found.startswith("jarcast.")
        }
        # A package's face gathers its modules; they do not import it back.
        for name, path in within.items()
        if path.name != "__init__.py"
    }
    done: set[str] = set()

    def walk(name: str, trail: tuple[str, ...]) -> None:
        assert name not in trail, " -> ".join((*trail, name))
        if name not in done:
            for found in edges.get(name, ()):
                walk(found, (*trail, name))
            done.add(name)

    for name in edges:
        walk(name, ())


def loaded_by(code: str, folder: Path) -> list[str]:
    """Heavy packages that are loaded after a piece of code, in a process of its own."""
    ask = f"{code}\nimport sys\nprint('loaded', *[n for n in {HEAVY!r} if n in sys.modules])"
    ran = subprocess.run(
        [sys.executable, "-c", ask],
        capture_output=True,
        text=True,
        timeout=60,
        cwd=folder,
        env={**os.environ, "JARCAST_LEDGER": str(folder / "ledger.sqlite3")},
    )
    assert ran.stderr == ""
    return ran.stdout.splitlines()[-1].split()[1:]


def typed(*words: str) -> str:
    """Code that runs the command line, and goes on."""
    return f"""
from jarcast.cli import main
try:
    main({list(words)!r})
except SystemExit as ended:
    assert not ended.code
"""


@pytest.mark.parametrize(
    "code",
    ["import jarcast", "import jarcast.cli", typed("--help"), typed("forecast", "--help")],
    ids=["package", "cli", "help", "help of forecast"],
)
def test_the_start_loads_nothing_heavy(code: str, tmp_path: Path) -> None:
    assert loaded_by(code, tmp_path) == []


def test_recording_listing_importing_and_exporting_need_no_numpy(tmp_path: Path) -> None:
    (tmp_path / "one.csv").write_text("batch,date,produce,jar,jars\n1,2024-08-31,carrot,pint,7\n")
    code = "".join(
        [
            typed("import", "one.csv"),
            typed("record", "--produce", "okra", "--jar", "pint", "--jars", "3"),
            typed("batches"),
            typed("export", "out.csv"),
        ]
    )
    assert loaded_by(code, tmp_path) == []


def test_a_forecast_needs_numpy_and_nothing_heavier(tmp_path: Path) -> None:
    (tmp_path / "one.csv").write_text(
        "batch,date,produce,cut,pack,jar,trimmed_g,jars,brine_made_ml,brine_left_ml\n"
        "1,2024-08-31,carrot,sticks,raw,pint,2700,9,2400,900\n"
    )
    code = typed("import", "one.csv") + "".join(
        typed("forecast", "--produce", "carrot", "--trimmed", "5 lb", *more)
        for more in ((), ("--json",))
    )
    assert loaded_by(code, tmp_path) == ["numpy"]


def test_the_demo_needs_nothing_heavier_either(tmp_path: Path) -> None:
    assert loaded_by(typed("demo"), tmp_path) == ["numpy"]
