"""The cells of one line to a line of the plan, or every problem there is with them."""

import datetime as dt
import re
from collections.abc import Callable, Iterable, Iterator, Mapping
from functools import partial
from typing import TYPE_CHECKING, Any

from msgspec import Struct

from jarcast.batchtable.rows import Problem
from jarcast.domain.batch import number_problem, text_problem
from jarcast.domain.crop_text import read_crop
from jarcast.domain.fields import READERS, typed_name
from jarcast.domain.jar_text import read_jars
from jarcast.domain.jars import SHELF, Jar, jar_key
from jarcast.domain.said_weight import SaidWeight, read_weight
from jarcast.errors import BatchError, ForecastError, MeasureError, RecipeError
from jarcast.harvest.plan.line import TEXTS, WEIGHTS, PlanLine

if TYPE_CHECKING:
    from jarcast.recipes import Recipe

Cards = Callable[[str], "Recipe"]  # raises RecipeError for a card that is not there
Judge = Callable[[Mapping[str, str]], Iterable[Problem]]

LONGEST_CELL = 500  # characters
_TO = re.compile(r"\s+(?:to|-|\u2013)\s+|\s*/\s*", re.IGNORECASE)
_DAYS = "write them like '2025-07-01' or '2025-07-01 to 2025-07-14'"
_MEASURES = {"cure_hours": "cure_hours", "salt": "salt_g", "headspace": "headspace_in"}


def _nothing_more(_: Mapping[str, str]) -> Iterable[Problem]:
    return ()


class LineChecker(Struct):
    """Checks the lines of one plan. ``cards`` finds a recipe card by its name.

    ``judge`` gives what else is to be told of a line's cells. Without ``by_card`` a line is not
    held against its card, as one is not that was once taken in and kept.
    """

    cards: Cards
    shelf: Mapping[str, Jar] = SHELF
    judge: Judge = _nothing_more
    by_card: bool = True

    def check(self, place: str, cells: Mapping[str, str]) -> tuple[PlanLine | None, list[Problem]]:
        """A line, or every problem of it. ``cells`` holds what was written, by column."""
        problems: list[Problem] = []
        values: dict[str, Any] = {}
        try:
            cells = _told_apart(cells)
        except BatchError as error:
            problems.append(Problem("produce", cells["produce"], str(error)))
        card = self._card(cells.get("recipe", ""), problems)
        produce = cells.get("produce", "") or (card.produce if card else "")
        for column, cell in cells.items():
            try:
                if len(cell) > LONGEST_CELL:
                    raise BatchError(f"has {len(cell)} characters; {LONGEST_CELL} at most are read")
                values.update(_read(column, cell, (produce, cells.get("cut", "")), self.shelf))
            except (BatchError, MeasureError) as error:
                problems.append(Problem(column, cell, str(error).removeprefix(f"'{cell}': ")))
        problems += self._jar_problems(cells.get("jar", ""), card)
        if card is not None and self.by_card:
            problems += _other_than(card, cells, values.get("headspace_in"))
        problems += self.judge(cells)
        if not produce.strip() and not cells.get("recipe"):
            problems.append(Problem("produce", "", "is empty; name a produce or a recipe"))
        if not any(cells.get(weight) for weight in WEIGHTS):
            why = "has no weight; add one such as '12 lb', or '20-35 lb' before it is weighed"
            problems.append(Problem("", None, why))
        if problems:
            return None, problems
        return PlanLine(place=place, recipe=card, typed=dict(cells), **values), []

    def _jar_problems(self, cell: str, card: "Recipe | None") -> list[Problem]:
        """A sort of jar that nobody knows, or that the card does not list."""
        from jarcast.forecast.recipe import allowed_jars

        allow = None if card is None or not self.by_card else allowed_jars(card, self.shelf)
        try:
            for one in read_jars(cell, self.shelf, turns=True) if cell else ():
                if one.sort:
                    (allow or partial(jar_key, shelf=self.shelf))(one.sort)
        except (BatchError, RecipeError) as error:
            return [Problem("jar", cell, str(error))]
        return []

    def _card(self, name: str, problems: list[Problem]) -> "Recipe | None":
        if not name or len(name) > LONGEST_CELL:
            return None
        try:
            return self.cards(name)
        except RecipeError as error:
            problems.append(Problem("recipe", name, str(error)))
            return None


def _other_than(
    card: "Recipe", cells: Mapping[str, str], headspace_in: float | None
) -> Iterator[Problem]:
    """Cells that say something else than the card: its produce, pack and headspace."""
    from jarcast.forecast.recipe import choices_by
    from jarcast.forecast.request import Choices

    none = Choices("", "", "", "", None)
    for column, given in (
        ("produce", none._replace(produce=cells.get("produce", ""))),
        ("pack", none._replace(pack=cells.get("pack", ""))),
        ("headspace", none._replace(headspace_in=headspace_in)),
    ):
        if cells.get(column):
            try:
                choices_by(card, given)
            except (ForecastError, RecipeError) as error:
                yield Problem(column, cells[column], str(error))


def _told_apart(cells: Mapping[str, str]) -> Mapping[str, str]:
    """A line whose produce names its cut too, with both apart. Raises BatchError."""
    crop = (cells.get("produce", ""), cells.get("cut", ""))
    produce, cut = read_crop(*crop)
    return cells if (produce, cut) == crop else {**cells, "produce": produce, "cut": cut}


def _read(
    column: str, cell: str, crop: tuple[str, str], shelf: Mapping[str, Jar]
) -> dict[str, Any]:
    """The values of one cell. Raises BatchError or MeasureError with what is wrong."""
    if column in TEXTS:
        if why := text_problem(cell):
            raise BatchError(why)
        return {} if column == "recipe" else {column: cell}
    if column in WEIGHTS:
        return _checked(f"{column}_g", read_weight(cell, column, *crop, shelf))
    if column == "days":
        return {column: read_days(cell)}
    name = _MEASURES[column]
    value = READERS[typed_name(name)](cell)
    if why := number_problem(name, value):
        raise BatchError(why)
    return {name: value}


def _checked(name: str, amount: SaidWeight) -> dict[str, Any]:
    ends = amount.grams if isinstance(amount.grams, tuple) else (amount.grams,)
    for end in ends:
        if why := number_problem(name, end):
            raise BatchError(why)
    counted = {} if amount.counted is None else {"counted": amount.counted}
    return {name: amount.grams, **counted}


def read_days(text: str) -> tuple[dt.date, dt.date]:
    """First and last day of '2025-07-01 to 2025-07-14', or of one day. Raises BatchError."""
    parts = _TO.split(text.strip())
    try:
        days = [dt.date.fromisoformat(part) for part in parts]
    except ValueError as error:
        raise BatchError(f"is neither a day nor a first and a last day; {_DAYS}") from error
    if len(days) > 2 or days[0] > days[-1]:
        raise BatchError(f"put the first day before the last; {_DAYS}")
    return days[0], days[-1]
