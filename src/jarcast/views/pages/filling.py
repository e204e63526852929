"""Filling a page's template: every text is escaped, and nothing is fetched from anywhere."""

import re
from pathlib import Path
from typing import TYPE_CHECKING, Any

from jarcast.measures import typeset
from jarcast.views.words import plain

if TYPE_CHECKING:
    from markupsafe import Markup

_FOLDER = Path(__file__).resolve().parent
_NUMBER_FIRST = re.compile(r"([\d.½¼¾⅓⅔⅛]+) (.+)")
_NUMBER_AND_UNIT = re.compile(r"([\d.½¼¾⅓⅔⅛]) ([^\W\d_])")
# A drawing's head, of which its view box alone is kept.
_OPENING = re.compile(r'^.*?<svg [^>]*viewBox="([^"]+)"[^>]*>', re.DOTALL)
_NOT_WITHIN_A_PAGE = (
    (re.compile(r"<metadata>.*?</metadata>|<style.*?</style>|<!--.*?-->", re.DOTALL), ""),
    (re.compile(r"xlink:href="), "href="),
    (re.compile(r"\n\s*"), "\n"),
)


def fill(template: str, **values: Any) -> str:
    """The page of this template with these values. Whatever is no ``Markup`` is escaped."""
    from jinja2 import Environment, FileSystemLoader, StrictUndefined

    environment = Environment(
        loader=FileSystemLoader(_FOLDER),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters["typed"] = typed
    environment.filters["typeset"] = typeset
    return environment.get_template(template).render(**values)


def typed(text: str) -> str:
    """A user's text for a page: no sign that only moves a cursor, lines kept as lines."""
    return "\n".join(plain(line) for line in text.splitlines())


def big(text: str) -> tuple[str, str]:
    """A measure as its number and its unit, '12' and 'cups'; of several parts all are number."""
    text = typeset(text)
    found = _NUMBER_FIRST.fullmatch(text)
    if found is None or any(sign.isnumeric() for sign in found[2]):
        return _NUMBER_AND_UNIT.sub("\\1\u00a0\\2", text), ""  # a number keeps its unit beside it
    return found[1], found[2]


def inline_svg(drawn: bytes, name: str, words: str) -> "Markup":
    """A drawing to stand within a page; ``words`` say what it shows, for those who cannot see it.

    ``name`` sets its marks apart from those of the page's other drawings.
    """
    from markupsafe import Markup

    head, _, inside = _OPENING.sub(r"\1>", drawn.decode("utf-8"), count=1).partition(">")
    for pattern, instead in _NOT_WITHIN_A_PAGE:
        inside = pattern.sub(instead, inside)
    inside = re.sub(r'\bid="([^"]+)"', rf'id="{name}-\1"', inside)
    inside = re.sub(r'href="#([^"]+)"', rf'href="#{name}-\1"', inside)
    inside = re.sub(r"url\(#([^)]+)\)", rf"url(#{name}-\1)", inside)
    # The drawing is this program's own; only the words come from elsewhere.
    opening = Markup('<svg class="chart" role="img" aria-label="{}" viewBox="{}">')
    return opening.format(words, head) + Markup(inside)  # noqa: S704
