"""What to buy for a harvest, in the sizes shops sell, and what it costs.

Of each thing so much is bought that the joint total falls short with the chosen chance at most:
less than adding up what each batch would order by itself, since not all of them run high at once.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from fractions import Fraction
from types import MappingProxyType

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from jarcast.errors import ForecastError
from jarcast.forecast.answer import Forecast
from jarcast.forecast.outcome import Outcome
from jarcast.harvest.costs import CropCost, costs_by_crop, not_weighed_as_bought
from jarcast.harvest.needs import Need, Needs, Order, Thing, Unknown, heading, needs_of
from jarcast.measures import Units
from jarcast.recipes.kitchen import Rounding, round_volume, round_weight

MOST_PIECES = 100_000
_NOTHING = 1e-9  # relative: amounts this close are the same


class Size(Struct, frozen=True):
    """A size in which shops sell a thing; ``measure`` is 'ml', 'g' or 'count'.

    ``text`` is the size as it was typed.
    """

    name: str
    amount: float
    measure: str
    text: str = ""


class Price(Struct, frozen=True):
    """What one such size costs; ``sign`` is the currency's as it was typed, or ''."""

    size: Size
    price: float
    sign: str = ""


class ToBuy(Struct, frozen=True):
    """One line of the list.

    ``amount`` falls short with the chosen chance at most, rounded up to a measure of a kitchen;
    ``pieces`` are the sizes to buy, with how many of each, empty where none is known; ``to_pay``
    is None without a price.
    """

    need: Need
    amount: float
    pieces: tuple[tuple[Size, int], ...]
    to_pay: float | None
    unit_price: float | None


class Shopping(Struct, frozen=True):
    """The whole list; ``unknown``, ``limited`` and ``no_floor`` as in ``Needs``.

    ``orders_ml`` is what the batches would make of brine if each made its own order and threw its
    rest away. ``to_pay`` sums what has a price, ``by_jar`` is what of it one jar uses up; both are
    None without prices. ``unmatched`` names sizes and prices that nothing here answers to. With
    prices, ``by_crop`` is what each crop uses up, ``unpriced`` what is needed and has no price, and
    ``no_weight`` names crops whose weight as bought, and so their price, is not told.
    """

    lines: tuple[ToBuy, ...]
    unknown: tuple[Unknown, ...]
    limited: tuple[int, ...]
    no_floor: tuple[Unknown, ...]
    short_chance: float
    orders_ml: float
    to_pay: float | None
    by_jar: Outcome | None
    sign: str
    unmatched: tuple[str, ...]
    by_crop: tuple[CropCost, ...] = ()
    unpriced: tuple[ToBuy, ...] = ()
    no_weight: tuple[str, ...] = ()


def shopping(
    forecasts: Sequence[Forecast],
    *,
    short_chance: float = 0.05,
    sizes: Sequence[Size] = (),
    prices: Sequence[Price] = (),
    units: Units = Units.US,
    have: Mapping[str, float] = MappingProxyType({}),
) -> Shopping:
    """What to buy for these batches, whose draws belong together place by place.

    Never less than what each batch measures out by itself. ``have`` counts jars at hand by sort,
    keys of the shelf: they are not bought again, though each takes a new lid.

    Raises ForecastError for a chance that cannot be, prices in several currencies, and a size in
    another measure than the thing is needed in.
    """
    if not 0.0 < short_chance < 1.0:
        raise ForecastError(f"a chance must be between 0 and 1; {short_chance} was given")
    signs = {price.sign for price in prices if price.sign}
    if len(signs) > 1:
        raise ForecastError(f"prices in {' and '.join(sorted(signs))}: write them in one currency")
    order = Order(short_chance, units)
    needs = _beyond(needs_of(forecasts, order), have)
    lines = tuple(_to_buy(need, short_chance, sizes, prices, units) for need in needs.needs)
    paid = [line.to_pay for line in lines if line.to_pay is not None]
    return Shopping(
        lines=tuple(line for line in lines if _listed(line)),
        unknown=needs.unknown,
        limited=needs.limited,
        no_floor=needs.no_floor,
        short_chance=short_chance,
        orders_ml=math.fsum(
            one.brine_to_make(short_chance, units) for one in forecasts if one.has_brine
        ),
        to_pay=math.fsum(paid) if paid else None,
        by_jar=_by_jar(lines, forecasts) if paid else None,
        sign=next(iter(signs), ""),
        unmatched=_unmatched(needs, sizes, prices),
        by_crop=_by_crop(forecasts, order, lines) if paid else (),
        unpriced=tuple(one for one in lines if one.to_pay is None and one.amount) if paid else (),
        no_weight=not_weighed_as_bought(forecasts) if paid else (),
    )


def _beyond(needs: Needs, have: Mapping[str, float]) -> Needs:
    """What is needed over the jars at hand, draw by draw."""

    def missing(need: Need) -> Need:
        at_hand = have.get(need.name, 0.0) if need.thing is Thing.JARS else 0.0
        if not at_hand:
            return need
        return replace(need, amount=Outcome(np.maximum(need.amount.draws - at_hand, 0.0)))

    return replace(needs, needs=tuple(map(missing, needs.needs)))


def _listed(line: ToBuy) -> bool:
    """Produce has its place on the list only where it is paid for: gardens sell nothing."""
    return line.amount > 0 and (line.need.thing is not Thing.PRODUCE or line.to_pay is not None)


def _to_buy(
    need: Need,
    short_chance: float,
    sizes: Sequence[Size],
    prices: Sequence[Price],
    units: Units,
) -> ToBuy:
    if need.thing is Thing.PRODUCE:  # what there is of it is put up, be it much or little
        amount = need.amount.median
    else:
        enough = max(need.amount.quantile(1.0 - short_chance), need.least)
        amount = rounded_up(enough, need.measure, units)
        if need.thing is Thing.BRINE and enough == need.least:
            amount = enough  # the pots' own orders, each on a step of the kitchen
    price = next((p for name in need.names for p in prices if p.size.name == name), None)
    sold = next(
        (found for name in need.names if (found := [size for size in sizes if size.name == name])),
        [] if price is None else [price.size],
    )
    for size in (*sold, *([] if price is None else [price.size])):
        if size.measure != need.measure:
            raise ForecastError(_other_measure(size, need))
    loose = need.thing is Thing.PRODUCE  # sold by what the scale says
    pieces = () if loose else pieces_for(amount, sold)
    if price is None:
        return ToBuy(need, amount, pieces, None, None)
    unit = price.price / price.size.amount
    paid = amount if loose else sum(size.amount * count for size, count in pieces)
    return ToBuy(need, amount, pieces, unit * paid, unit)


def _other_measure(size: Size, need: Need) -> str:
    words = {"ml": "by volume", "g": "by weight", "count": "by number"}
    due = words.get(need.measure, "as the card prints it")
    return (
        f"{size.name} was given {words[size.measure]}, and {need.name} is needed {due}; give its "
        "size that way"
    )


def rounded_up(amount: float, measure: str, units: Units) -> float:
    """An amount rounded up to a whole piece, or to a mark of the kitchen's cups or scale."""
    if amount <= _NOTHING:
        return 0.0
    exact = Fraction(amount * (1.0 - _NOTHING))
    if measure == "ml":
        return max(amount, float(round_volume(exact, units, Rounding.UP)))
    if measure == "g":
        return max(amount, float(round_weight(exact, units, Rounding.UP)))
    step = 4 if measure == "times" else 1
    return math.ceil(amount * step - 1e-9) / step


def pieces_for(amount: float, sizes: Sequence[Size]) -> tuple[tuple[Size, int], ...]:
    """Sizes to buy for at least an amount: the largest, and for the rest the smallest that will do.

    Gives each size with how many of it, the largest first. Raises ForecastError for a size so
    small that nobody would buy that many.
    """
    if not sizes or amount <= 0:
        return ()
    ordered = sorted(
        {size.amount: size for size in sizes}.values(), key=lambda size: size.amount, reverse=True
    )
    largest = ordered[0]
    many = math.floor(amount / largest.amount * (1 + _NOTHING))
    if many > MOST_PIECES:
        raise ForecastError(
            f"{largest.name}: {largest.text or largest.amount} would be bought {many} times; is "
            "that the right size?"
        )
    counts = dict.fromkeys(ordered, 0)
    counts[largest] = many
    rest = amount - many * largest.amount
    if rest > _NOTHING * amount:
        counts[min((s for s in ordered if s.amount >= rest), key=lambda size: size.amount)] += 1
    return tuple((size, count) for size, count in counts.items() if count)


def _by_jar(lines: Sequence[ToBuy], forecasts: Sequence[Forecast]) -> Outcome:
    """Price of what is used up for each jar that is filled, draw by draw."""
    used = np.sum(
        [line.need.amount.draws * line.unit_price for line in lines if line.unit_price is not None],
        axis=0,
    )
    jars = np.sum([one.jars_to_come.draws for one in forecasts], axis=0)
    return Outcome(np.asarray(used / np.maximum(jars, 1.0)))


def _by_crop(
    forecasts: Sequence[Forecast], order: Order, lines: Sequence[ToBuy]
) -> tuple[CropCost, ...]:
    prices = {heading(line.need): line.unit_price for line in lines}
    beyond = {heading(line.need): line.need.amount for line in lines}
    return costs_by_crop(forecasts, order, prices, beyond)


def _unmatched(needs: Needs, sizes: Sequence[Size], prices: Sequence[Price]) -> tuple[str, ...]:
    known = {name for need in needs.needs for name in need.names}
    given = (*(size.name for size in sizes), *(price.size.name for price in prices))
    return tuple(dict.fromkeys(name for name in given if name not in known))
