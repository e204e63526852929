"""Write reference/commands.md and reference/python.md from the commands' help and the docstrings.

    python docs/make_reference.py

A test compares what stands there with what this gives.
"""

import ast
import contextlib
import inspect
import io
import os
import textwrap
from collections.abc import Iterable, Iterator, Mapping
from importlib import import_module
from pathlib import Path
from typing import Any

import typer

REFERENCE = Path(__file__).resolve().parent / "reference"
MADE_BY = "<!-- Made by docs/make_reference.py; change the {what}, and run it again. -->"
# Beside the names of the package itself: the scikit-learn regressor, and what reads a file that a
# forecast goes by.
ALSO = (
    ("jarcast.learning", "ConjugateRegression"),
    ("jarcast.learning", "load_beliefs"),
    ("jarcast.recipes", "load_card"),
    ("jarcast.recipes", "shipped_recipes"),
)


def main() -> None:
    """Write both pages."""
    REFERENCE.mkdir(exist_ok=True)
    for name, text in (("commands.md", commands_page()), ("python.md", python_page())):
        (REFERENCE / name).write_text(text, encoding="utf-8")


def commands_page() -> str:
    """Every command's own help, 80 columns wide."""
    names = list(command_names())
    parts = [
        MADE_BY.format(what="commands' help"),
        "# Commands",
        "Each command's own help, as `jarcast COMMAND --help` shows it. Exit codes: 0 fine, 1 what "
        "was asked\ncould not be done, 2 wrong usage. What `--json` gives stands in "
        "[JSON answers](json.md).",
        "\n".join(f"- [`{name}`](#{anchor(name)})" for name in names),
        _help_of(""),
        *(f"## {name}\n\n{_help_of(name)}" for name in names),
    ]
    return "\n\n".join(parts) + "\n"


def command_names() -> Iterator[str]:
    """The commands in the order help lists them; those of a group as 'recipes add'."""

    from jarcast.cli.app import build_app
    from jarcast.cli.commands import with_placeholders

    app: Any = with_placeholders(typer.main.get_command(build_app()))
    yield from _names_in(app, "")


def _names_in(group: Any, before: str) -> Iterator[str]:
    for name, command in getattr(group, "commands", {}).items():
        yield f"{before}{name}"
        yield from _names_in(command, f"{before}{name} ")


def anchor(heading: str) -> str:
    """The name that a heading is linked by."""
    return "".join(c for c in heading.casefold().replace(" ", "-") if c.isalnum() or c in "-_")


def _help_of(name: str) -> str:
    from jarcast.cli import main as jarcast

    printed = io.StringIO()
    surroundings = {"COLUMNS": "80", "TERM": "dumb", "NO_COLOR": "1"}
    before = {key: os.environ.get(key) for key in surroundings}
    os.environ.update(surroundings)
    try:
        with contextlib.redirect_stdout(printed), contextlib.suppress(SystemExit):
            jarcast([*name.split(), "--help"])
    finally:
        for key, value in before.items():
            os.environ.pop(key) if value is None else os.environ.update({key: value})
    lines = "\n".join(line.rstrip() for line in printed.getvalue().strip().split("\n"))
    return _fenced(lines)


def python_page() -> str:
    """The public names, with their signatures and docstrings."""
    import jarcast
    import jarcast.errors

    names = [("jarcast", name) for name in jarcast.__all__ if not name.startswith("_")]
    parts = [
        MADE_BY.format(what="docstrings"),
        "# Python",
        "The public names. Weights are in grams, volumes in millilitres, lengths in inches; the "
        "batch table\nis [this one](batch-table.md). `jarcast.__version__` is the version. Every "
        "error is a\n`jarcast.errors.JarcastError`.",
        "Of the types below, a `Weight` is a number of grams, or a pair (low, high) that holds it "
        "8 times\nin 10; a `Recipe` is what `jarcast.recipes.load_card` reads, `Beliefs` what "
        "`jarcast.learning.load_beliefs`\nreads. Wherever `Units` are taken, 'us' and 'metric' are "
        "taken as well.",
        *(_name(module, name) for module, name in (*names, *ALSO)),
        f"## jarcast.errors\n\n{_fenced(inspect.cleandoc(jarcast.errors.__doc__ or ''))}",
        *_errors(ast.parse(inspect.getsource(jarcast.errors))),
    ]
    return "\n\n".join(parts) + "\n"


def _name(module: str, name: str) -> str:
    found = getattr(import_module(module), name)
    head = f"## {module}.{name}"
    if isinstance(found, Mapping):
        return "\n\n".join([head, _fenced(f"{name}: Mapping[str, Jar]"), _listed(found)])
    source = ast.parse(inspect.getsource(found))
    if inspect.ismodule(found):
        public = (n for n in source.body if getattr(n, "name", "") in found.__all__)
        return "\n\n".join([head, _docstring(source), *_functions(name, public)])
    tree = source.body[0]
    if isinstance(tree, ast.ClassDef):
        return "\n\n".join([head, _class(tree), *_members(tree)])
    if isinstance(tree, ast.FunctionDef):
        return "\n\n".join([head, _fenced(_signature(tree)), _docstring(tree)])
    raise TypeError(f"{name} is neither a class nor a function")


def _listed(shelf: Mapping[str, Any]) -> str:
    """The jars of a shelf, with what says which they are."""
    names = "\n".join(textwrap.wrap(", ".join(shelf), 96, break_on_hyphens=False))
    return f"The jars that are built in, by name; `{{**SHELF, ...}}` adds your own:\n{names}."


def _functions(name: str, found: Iterable[ast.stmt]) -> Iterator[str]:
    """The functions of a module that is a public name itself."""
    for node in found:
        if isinstance(node, ast.FunctionDef):
            typed = f"{name}.{_signature(node)}"
            yield f"### {name}.{node.name}\n\n{_fenced(typed)}\n\n{_docstring(node)}"


def _errors(tree: ast.Module) -> Iterator[str]:
    """Each error by its name, with what it is caught as."""
    for node in tree.body:
        if isinstance(node, ast.ClassDef):
            caught_as = ", ".join(ast.unparse(base) for base in node.bases)
            yield f"### {node.name}\n\n{_fenced(f'{node.name}({caught_as})')}\n\n{_docstring(node)}"


def _class(tree: ast.ClassDef) -> str:
    fields = [
        _named(node.target.id, node.annotation, node.value)
        for node in tree.body
        if isinstance(node, ast.AnnAssign) and isinstance(node.target, ast.Name)
    ]
    fields += [ast.unparse(node) for node in tree.body if isinstance(node, ast.Assign)]
    return "\n\n".join([*([_fenced("\n".join(fields))] if fields else []), _docstring(tree)])


def _members(tree: ast.ClassDef) -> Iterator[str]:
    """Methods and properties that are public."""
    for node in tree.body:
        if not isinstance(node, ast.FunctionDef) or node.name.startswith("_"):
            continue
        if any(ast.unparse(mark) == "overload" for mark in node.decorator_list):
            continue  # for type checkers; what it does stands at the last of them
        is_property = any("property" in ast.unparse(mark) for mark in node.decorator_list)
        typed = _named(node.name, node.returns, None) if is_property else _signature(node)
        yield f"### {tree.name}.{node.name}\n\n{_fenced(typed)}\n\n{_docstring(node)}"


def _signature(node: ast.FunctionDef) -> str:
    """A call, on one line where it fits and else with an argument on each."""
    takes, gives = list(_arguments(node.args)), _typed(node.returns)
    one_line = f"{node.name}({', '.join(takes)}) -> {gives}"
    if len(one_line) <= 96:
        return one_line
    return f"{node.name}(\n{''.join(f'    {one},{chr(10)}' for one in takes)}) -> {gives}"


def _arguments(arguments: ast.arguments) -> Iterator[str]:
    without: list[ast.expr | None] = [None] * (len(arguments.args) - len(arguments.defaults))
    for one, default in zip(arguments.args, [*without, *arguments.defaults], strict=True):
        if one.arg != "self":
            yield _named(one.arg, one.annotation, default)
    if arguments.kwonlyargs:
        yield "*"
    for one, default in zip(arguments.kwonlyargs, arguments.kw_defaults, strict=True):
        yield _named(one.arg, one.annotation, default)


def _named(name: str, annotation: ast.expr | None, default: ast.expr | None) -> str:
    given = "" if default is None else f" = {ast.unparse(default)}".replace("''", '""')
    return f"{name}: {_typed(annotation)}{given}"


def _typed(annotation: ast.expr | None) -> str:
    """A type, without the quotes it may be written in."""
    return "None" if annotation is None else ast.unparse(annotation).strip("'")


def _docstring(node: ast.ClassDef | ast.FunctionDef | ast.Module) -> str:
    text = ast.get_docstring(node) or ""
    return _fenced(text) if "----\n" in text or ">>>" in text else text


def _fenced(text: str) -> str:
    return f"```text\n{text}\n```"


if __name__ == "__main__":
    main()
