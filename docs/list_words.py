"""Every sentence that a user can meet, on one page, to be read from top to bottom.

    python docs/list_words.py > words.txt

From the source alone: texts with a space in them, what stands between braces as {...}; of
docstrings only those of commands, which are their help; and the words of the pages. Regular
expressions and SQL are left out as far as they can be told.
"""

import ast
import re
from collections.abc import Iterator
from pathlib import Path

SOURCE = Path(__file__).resolve().parents[1] / "src" / "jarcast"
_SENTENCE = re.compile(r"[A-Za-z]{2,}[,;:.!?']* \S|\S [A-Za-z]{2,}")
_NO_SENTENCE = re.compile(r"\\[bdswDSW]|\(\?|^\s*(?:SELECT|INSERT|CREATE|ALTER|PRAGMA|DROP|WITH)\b")
_OF_A_PAGE = re.compile(r"<(?:script|style)\b.*?</(?:script|style)>|<[^>]*>|{%.*?%}|{#.*?#}", re.S)
_NAMED = re.compile(r"(?:aria-label|placeholder|title|alt)=\"([^\"]+)\"")

Found = tuple[str, int, str]  # file, line, text


def words() -> Iterator[Found]:
    """Each text with its file and line."""
    for path in sorted(SOURCE.rglob("*.py")):
        name = path.relative_to(SOURCE).as_posix()
        if not name.startswith("shipped_data/"):
            yield from in_module(name, path.read_text(encoding="utf-8"))
    for path in sorted(SOURCE.rglob("*.html")):
        name = path.relative_to(SOURCE).as_posix()
        yield from in_page(name, path.read_text(encoding="utf-8"))


def in_module(name: str, code: str) -> Iterator[Found]:
    """Texts of a module; docstrings only in ``cli``, where a command's is its help."""
    tree = ast.parse(code)
    docs = {id(node) for node in _docstrings(tree, help_too=not name.startswith("cli/"))}
    inside = {
        id(part)
        for node in ast.walk(tree)
        if isinstance(node, ast.JoinedStr)
        for part in ast.walk(node)
        if part is not node
    }
    for node in ast.walk(tree):
        if id(node) in docs or id(node) in inside:
            continue
        text = _text(node)
        if _SENTENCE.search(text) and not _NO_SENTENCE.search(text):
            yield name, node.lineno, " ".join(text.split())  # type: ignore[attr-defined]


def in_page(name: str, page: str) -> Iterator[Found]:
    """Texts of a template, and what its labels say aloud."""
    for number, line in enumerate(page.splitlines(), start=1):
        for text in (*_NAMED.findall(line), _OF_A_PAGE.sub(" ", line)):
            if _SENTENCE.search(text):
                yield name, number, " ".join(text.split())


def _text(node: ast.AST) -> str:
    if isinstance(node, ast.Constant) and isinstance(node.value, str):
        return node.value
    if isinstance(node, ast.JoinedStr):
        return "".join(_text(part) or "{...}" for part in node.values)
    return ""


def _docstrings(tree: ast.AST, *, help_too: bool) -> Iterator[ast.AST]:
    """What documents modules, classes and functions; of functions only where ``help_too``."""
    for node in ast.walk(tree):
        if isinstance(node, ast.FunctionDef):
            if not help_too and not node.name.startswith("_"):
                continue
        elif not isinstance(node, ast.Module | ast.ClassDef):
            continue
        first = node.body[0] if node.body else None
        if isinstance(first, ast.Expr) and isinstance(first.value, ast.Constant):
            yield first.value


def main() -> None:
    """Print them, file by file."""
    before = ""
    for name, line, text in words():
        if name != before:
            print(f"\n== {name}")
            before = name
        print(f"{line:5}  {text}")


if __name__ == "__main__":
    main()
