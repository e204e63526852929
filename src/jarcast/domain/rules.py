"""The rules of the trade, from one table with their sources (models/rules.toml)."""

import re
import tomllib
from collections.abc import Iterator
from functools import cache
from itertools import pairwise

import msgspec
from msgspec import Struct

from jarcast.files.shipped import shipped


class Rule(Struct, frozen=True):
    """One rule: what it says, and the circumstance (``when``) in which it is said.

    ``source`` names one of the table's sources, ``more`` another beside it.
    """

    key: str
    when: str
    text: str
    source: str
    page: str = ""
    more: str = ""


class SizeRule(Struct, frozen=True):
    """For a jar that a card does not list: the listed sizes whose time is published for it."""

    jar: str
    takes: tuple[str, ...]
    source: str
    also: str = ""
    page: str = ""


class Limit(Struct, frozen=True):
    """A bound of a card's number: what cannot be, and what no published recipe has."""

    refuse: float
    point_out: float
    source: str
    page: str


class Methods(Struct, frozen=True):
    """Ways to process a jar: those that there are, and words of those that are none."""

    known: tuple[str, ...]
    never: tuple[str, ...]
    source: str
    page: str


class NotKept(Struct, frozen=True):
    """Words of what is not kept like pickles: what stands in oil, and meat."""

    meat: tuple[str, ...]
    plants: tuple[str, ...]


class Rules(Struct, frozen=True):
    """The table as a whole."""

    sources: dict[str, str]
    rule: tuple[Rule, ...]
    size: tuple[SizeRule, ...]
    limits: dict[str, Limit]
    methods: Methods
    not_kept: NotKept

    def cited(self, source: str, page: str = "", more: str = "") -> str:
        """A source with its page, and another beside it."""
        first = "; ".join(text for text in (self.sources[source], page) if text)
        return f"{first}. {self.sources[more]}" if more else first

    def said(self, when: str) -> Iterator[Rule]:
        """The rules of one circumstance."""
        return (rule for rule in self.rule if rule.when == when)


@cache  # it stays as it is while a program runs
def rules() -> Rules:
    """The table as it is shipped."""
    with shipped("models", "rules.toml").open("rb") as file:
        return msgspec.convert(tomllib.load(file), Rules)


def limit(name: str) -> Limit:
    """One limit of the table by its name."""
    return rules().limits[name]


def plain_method(text: str) -> str:
    """A method in plain words, without its pressure or what stands in brackets."""
    return " ".join(re.sub(r"\(.*?\)|,.*", "", text).casefold().split())


def why_no_method(text: str) -> str:
    """Why a card's method of processing is none; '' where it is one."""
    plain, methods = plain_method(text), rules().methods
    if plain in methods.known:
        return ""
    cited = rules().cited(methods.source, methods.page)
    if any(word in plain.replace("-", " ") for word in methods.never):
        return f"'{text}' is not a way to process jars ({cited}: not recommended)"
    return (
        f"'{text}' is not a method known here: boiling-water canner, pressure canner, "
        "low-temperature pasteurization"
    )


def not_kept(produce: str) -> tuple[str, dict[str, str]] | None:
    """The circumstance of a produce that is not kept like pickles, and its name; None for others.

    What stands in oil comes before meat, whose own rule has no figure.
    """
    words = {"bad": produce.strip().capitalize()}
    if "oil" in re.findall(r"\w+", produce.casefold()):
        return "not to be kept", words
    return ("meat", words) if is_meat(produce) else None


def is_meat(name: str) -> bool:
    """Whether a name is of meat, fish, eggs or milk, going by its words.

    A word before a plant's, as in 'oyster mushroom', is part of that plant's name.
    """
    listed = rules().not_kept
    words = re.findall(r"\w+|[+,;&/]", re.sub("['’]s", "", name.casefold()))
    singular = [word if word in listed.meat else word.removesuffix("s") for word in words]
    following = pairwise([*singular, ""])
    return any(one in listed.meat and after not in listed.plants for one, after in following)


def said(when: str, **words: str) -> str:
    """What the rule of a circumstance that needs no card says, with its source.

    Raises StopIteration where there is none.
    """
    rule = next(rules().said(when))
    return f"{bare(when, **words)} ({rules().cited(rule.source, rule.page, rule.more)})"


def bare(when: str, **words: str) -> str:
    """The same without its source. Raises StopIteration where there is none."""
    return next(rules().said(when)).text.format(**words)
