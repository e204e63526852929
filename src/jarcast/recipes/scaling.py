"""A recipe scaled, always the whole formula by one factor: by produce, by jars, by brine."""

from collections.abc import Sequence
from fractions import Fraction

from msgspec import Struct
from msgspec.structs import replace

from jarcast.domain.jars import SHELF
from jarcast.errors import RecipeError
from jarcast.measures import Units, format_volume, format_weight, typeset
from jarcast.recipes.card import Basis, Recipe, Style
from jarcast.recipes.ferment_salt import to_buy
from jarcast.recipes.listed import check_jar, needs_safety
from jarcast.recipes.perjar import jar_shopping
from jarcast.recipes.portions import Portion, finished_portions_ml, measured
from jarcast.recipes.shopping import ShoppingLine

MOST_TIMES = 100_000.0  # a batch this many times the printed one is a slip
_SAME = Fraction(1, 10**12)  # relative: a factor this close to a printed batch is that batch


class Scaled(Struct, frozen=True):
    """A recipe scaled by one factor.

    ``factor`` is the one asked for, ``made_factor`` the one after rounding (never lower), both
    times the printed batch. ``volume_ml`` is the exact finished volume, ``made_ml`` that of the
    rounded amounts (never lower); both 0 where there is no liquid to make. ``produce`` says how
    much produce that is at the card's basis; ``jars`` the printed yield by the same factor;
    ``sorts`` the jars to be filled, counts and sizes, by which goes what each jar takes.
    """

    recipe: Recipe
    units: Units
    factor: float
    made_factor: float
    brine: tuple[Portion, ...]
    cure: tuple[Portion, ...]
    volume_ml: float
    made_ml: float
    produce: str
    jars: tuple[float, float]
    sorts: tuple[tuple[float, str], ...] = ()

    @property
    def shopping(self) -> tuple[ShoppingLine, ...]:
        """What to buy, by volume and by weight; water is not bought."""
        portions = (*self.brine, *self.cure)
        bought = to_buy(self.recipe, portions, self._printed_g, self.units)
        return (*bought, *jar_shopping(self.recipe, self.sorts, self.units))

    @property
    def trimmed_g(self) -> float | None:
        """The trimmed weight in g, where that is what the card weighs."""
        return self._printed_g if self.recipe.tested.basis is Basis.PREPARED else None

    @property
    def _printed_g(self) -> float | None:
        grams = self.recipe.tested.grams
        return None if grams is None else grams * self.factor


def scale_for_produce(
    recipe: Recipe, amount: float, basis: Basis, units: Units = Units.US
) -> Scaled:
    """The recipe for so much produce, in g (in ml for a card that measures it by the cup).

    Raises RecipeError where ``basis`` is not the card's: a yield of one's own may not turn one
    into the other here.
    """
    tested = recipe.tested
    if basis is not tested.basis:
        raise RecipeError(
            f"{recipe.name} is written for produce {tested.basis}, not {basis}; weigh it "
            f"{tested.basis}, or scale by jars"
        )
    if tested.several_ways:
        raise RecipeError(
            f"{recipe.name} has some of its produce by weight and some by the cup "
            f"({tested.printed}); scale it by jars"
        )
    printed = tested.grams if tested.grams is not None else tested.ml
    return scale(recipe, amount / (printed or 1.0), units)


def scale_for_jars(
    recipe: Recipe, jars: Sequence[tuple[float, str]], units: Units = Units.US
) -> Scaled:
    """The recipe for jars, counts and sorts, by its printed yield; a range's middle.

    Jars of another tested size count by their fill volume. Raises RecipeError for a jar the
    recipe was not tested in.
    """
    headspace = needs_safety(recipe).headspace_in
    sizes = [(count, SHELF[check_jar(recipe, jar)]) for count, jar in jars]
    filled = sum(count * size.fill_volume_ml(headspace) for count, size in sizes)
    scaled = scale(recipe, times_for_volume(recipe, filled), units)
    counted = tuple((count, check_jar(recipe, jar)) for count, jar in jars)
    return replace(scaled, sorts=counted)


def times_for_volume(recipe: Recipe, filled_ml: float) -> float:
    """Times the printed batch for jars of so much fill volume in ml, by its printed yield."""
    headspace = needs_safety(recipe).headspace_in
    printed = SHELF[recipe.tested.jar].fill_volume_ml(headspace)
    return filled_ml / (recipe.tested.middle_jars * printed)


def scale_to_volume(recipe: Recipe, brine_ml: float, units: Units = Units.US) -> Scaled:
    """The recipe for at least so much finished brine.

    Raises RecipeError for a recipe without a cover brine: its liquid follows its produce.
    """
    safety = needs_safety(recipe)
    if recipe.own_liquid:
        raise RecipeError(
            f"{recipe.name} ({recipe.style}) makes liquid of its own; scale it by produce or jars"
        )
    return scale(recipe, brine_ml / safety.volume_ml, units)


def scale(recipe: Recipe, factor: float, units: Units = Units.US) -> Scaled:
    """The recipe times ``factor``, every ingredient by it.

    Raises RecipeError for a card without safety numbers, and for a factor that is not above 0 or
    is beyond any kitchen.
    """
    units = Units(units)
    safety = needs_safety(recipe)
    if not 0 < factor <= MOST_TIMES:
        raise RecipeError(
            f"{recipe.name} cannot be made {factor:g} times; give an amount above 0 and at most "
            f"{MOST_TIMES:g} times the printed one"
        )
    exact = _exact_factor(factor)
    up_salt = recipe.style is Style.FERMENT
    made, brine = measured(safety.formula, exact, units, up_salt=up_salt)
    _, cure = measured(recipe.cure.ingredients if recipe.cure else (), exact, units, up_salt=True)
    low, high = recipe.tested.jars
    return Scaled(
        recipe=recipe,
        units=units,
        factor=factor,
        made_factor=max(factor, float(made)),
        brine=brine,
        cure=cure,
        volume_ml=safety.volume_ml * factor,
        made_ml=max(float(finished_portions_ml(brine)), safety.volume_ml * factor),
        produce=_produce(recipe, factor, units),
        jars=(low * factor, high * factor),
        sorts=((high * factor, recipe.tested.jar),),
    )


def _exact_factor(factor: float) -> Fraction:
    """The factor, or the simple fraction it stands for: 0.99999999999999 of a batch is one."""
    simple = Fraction(factor).limit_denominator(1000)
    exact = Fraction(factor)
    return simple if abs(simple - exact) <= _SAME * exact else exact


def _produce(recipe: Recipe, factor: float, units: Units) -> str:
    tested = recipe.tested
    if tested.several_ways:
        return f"{factor:.3g} times {typeset(tested.printed)} {tested.basis}"
    if tested.grams is not None:
        return f"{format_weight(tested.grams * factor, units)} {tested.basis}"
    return f"{format_volume((tested.ml or 0.0) * factor, units)} {tested.basis}"
