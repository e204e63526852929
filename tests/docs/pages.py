"""The pages of documentation, and the examples in them.

What is run: ``console`` fences (after each ``$`` a command, then what it prints), ``sh`` fences and
indented blocks that begin with a program (commands alone), ``python`` fences. A fence with a file's
name after its language, such as ``csv notebook.csv``, is that file.
"""

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
DOCS = ROOT / "docs"

_FENCE = re.compile(r"^(?P<indent> *)(?P<ticks>```+)(?P<info>.*)$")
_PROGRAM = re.compile(r"^\s*(jarcast|python3?|cat|head|mkdir|cp|mv) ")
# What is installed from elsewhere, and what takes minutes: run elsewhere, or by hand.
_NOT_RUN = ("pip install", "tests/benchmarks/", "tests/safety/")


@dataclass(frozen=True)
class Block:
    """A block of code: its language, the words after that, its lines, and where it begins."""

    language: str
    name: str
    lines: tuple[str, ...]
    line: int


@dataclass
class Command:
    """A command as it is typed, and what the page says it prints; None where it does not say."""

    typed: str
    line: int
    prints: list[str] | None = field(default=None)


def pages() -> list[Path]:
    """README and every page of docs."""
    return [ROOT / "README.md", *sorted(DOCS.rglob("*.md"))]


def page_name(page: Path) -> str:
    """A page as the repository has it: 'docs/how-to/measure-a-jar.md'."""
    return page.relative_to(ROOT).as_posix()


def blocks(page: Path) -> Iterator[Block]:
    """The blocks of code of a page, in order."""
    lines = page.read_text(encoding="utf-8").splitlines()
    at = 0
    while at < len(lines):
        fence = _FENCE.match(lines[at])
        if fence:
            block, at = _fenced(lines, at, fence)
            yield block
        elif lines[at].startswith("    ") and at and not lines[at - 1].strip():
            block, at = _indented(lines, at)
            yield block
        else:
            at += 1


def _fenced(lines: list[str], at: int, fence: re.Match[str]) -> tuple[Block, int]:
    end = at + 1
    while lines[end].strip() != fence["ticks"]:
        end += 1
    indent = len(fence["indent"])
    language, _, name = fence["info"].strip().partition(" ")
    inside = tuple(line[indent:] for line in lines[at + 1 : end])
    return Block(language, name.strip(), inside, at + 1), end + 1


def _indented(lines: list[str], at: int) -> tuple[Block, int]:
    end = at
    while end < len(lines) and (lines[end].startswith("    ") or not lines[end].strip()):
        end += 1
    inside = tuple(line[4:] for line in lines[at:end])
    language = "sh" if _PROGRAM.match(inside[0]) else ""
    return Block(language, "", inside, at + 1), end


def is_run(block: Block) -> bool:
    """Whether a block is one that the tests run, or a file that what they run reads."""
    text = "\n".join(block.lines)
    if any(words in text for words in _NOT_RUN):
        return False
    return block.language in ("console", "sh", "python") or bool(block.name)


def commands(block: Block) -> list[Command]:
    """The commands of a console or sh block, in order."""
    found: list[Command] = []
    goes_on = False
    for number, line in enumerate(block.lines, start=block.line + 1):
        if goes_on:
            found[-1].typed += f"\n{line}"
        elif block.language == "sh":
            if line.strip():
                found.append(Command(line, number))
        elif line.startswith("$ "):
            found.append(Command(line[2:], number))
        else:
            assert found, f"line {number}: a console block begins with a command"
            found[-1].prints = [*(found[-1].prints or ()), line.rstrip()]
            continue
        goes_on = bool(found) and found[-1].typed.endswith("\\")
    return found


def as_pattern(prints: list[str]) -> re.Pattern[str]:
    """What a page says is printed: a line '...' stands for any lines, '...' in one for any text."""
    parts = []
    for line in "\n".join(prints).strip("\n").split("\n"):
        if line.strip() == "...":
            parts.append(r"(?:[^\n]*\n)*")
        else:
            parts.append(r"[^\n]*?".join(re.escape(text) for text in line.split("...")) + r"\n")
    return re.compile("".join(parts))
