"""The keywords of a forecast, as they were given, to what is asked."""

from __future__ import annotations

import warnings
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from msgspec.structs import replace

from jarcast.domain.crop_text import near_name, near_pack, read_crop
from jarcast.domain.jars import Jar, size_of
from jarcast.domain.names import produce_key
from jarcast.domain.packing import SoFar
from jarcast.domain.stages import STAGE_COLUMNS
from jarcast.errors import BatchError, ForecastError, NearName, cut_short, in_short
from jarcast.forecast.request import Choices, Request, check_request
from jarcast.learning.learned import Learned
from jarcast.learning.model.links import USUAL_CURE_HOURS

if TYPE_CHECKING:
    from jarcast.recipes import Recipe

# The keywords of a forecast, and so of a line of a harvest.
_KEYWORDS = frozenset(
    {"produce", "cut", "pack", "jar", *STAGE_COLUMNS, "cure_hours", "salt_g", "headspace_in",
     "recipe", "so_far", "person"}
)  # fmt: skip


def request_by(
    learned: Learned,
    shelf: Mapping[str, Jar],
    line: Mapping[str, Any],
    draws: int,
    seed: int,
    up: int = 2,
) -> tuple[Request, Recipe | None]:
    """A line of keywords as a request, and the recipe, which decides what was not chosen.

    ``up`` is how many calls above this one warnings belong to. Raises as ``Habits.forecast``, and
    ForecastError for an unknown keyword.
    """
    given = {key: value for key, value in line.items() if value is not None}
    unknown = given.keys() - _KEYWORDS
    if unknown:
        raise ForecastError(
            f"'{min(map(_keyword, unknown))}' is not something a forecast goes by; choose from "
            f"{', '.join(sorted(_KEYWORDS))}"
        )
    given = _crop_of(learned, given, up + 1)
    recipe = given.get("recipe")
    _check_kinds(recipe, given.get("so_far"))
    if recipe is not None and not given.keys() & {"cure_hours", "salt_g"}:
        given["cure_hours"] = _hours_by(learned, recipe)
    produce, cut, pack, jar = (given.get(name, "") for name in ("produce", "cut", "pack", "jar"))
    choices, allow_jar = Choices(produce, cut, pack, jar, given.get("headspace_in")), None
    if recipe is not None:
        from jarcast.forecast.recipe import allowed_jars, choices_by

        choices, allow_jar = choices_by(recipe, choices), allowed_jars(recipe, shelf)
    if isinstance(choices.jar, str) and not choices.jar:
        choices = choices._replace(jar="pint")
    asked: dict[str, Any] = choices._asdict()
    asked |= {name: given.get(name) for name in ("cure_hours", "salt_g", "so_far", "person")}
    request = check_request(
        **asked,
        weights={stage: given.get(stage) for stage in STAGE_COLUMNS},
        draws=draws,
        seed=seed,
        shelf=shelf,
        allow_jar=allow_jar,
    )
    return request if recipe is None else _by_card(learned, request, recipe), recipe


def _hours_by(learned: Learned, recipe: Recipe) -> float | None:
    """Hours in salt or soak by a card: its own, or the usual where it gives none."""
    if recipe.usual_hours is not None or recipe.cure is None:
        return recipe.usual_hours
    return learned.practice.cure_hours or USUAL_CURE_HOURS


def _by_card(learned: Learned, request: Request, recipe: Recipe) -> Request:
    """With what the card prints of its crop, until a batch of one's own of it tells.

    Its rest has a smaller jar only where the card lists one of half the size.
    """
    from jarcast.recipes.listed import lists_half

    last = size_of(request.turns[-1].jar.key)
    request = replace(request, smaller_jar=lists_half(recipe, last))
    if any(key[0] == request.produce for key in learned.cells):
        return request
    from jarcast.forecast.printed import believed_by

    beliefs = learned.beliefs
    crop = beliefs.crop(request.produce, request.cut, request.pack)
    return replace(request, crop=believed_by(recipe, request, crop, beliefs.people))


def _crop_of(learned: Learned, given: Mapping[str, Any], up: int) -> dict[str, Any]:
    """A line with produce and cut told apart; warns of a produce or pack that may be misspelt."""
    produce, cut = given.get("produce", ""), given.get("cut", "")
    if not (isinstance(produce, str) and isinstance(cut, str)):
        return dict(given)
    try:
        produce, cut = read_crop(produce, cut)
    except BatchError as error:
        raise ForecastError(str(error)) from error
    if learned.beliefs.crop(produce_key(produce)).known == "nothing published":
        warn_near(produce, frozenset(key[0] for key in learned.cells), stacklevel=up + 2)
    if isinstance(pack := given.get("pack", ""), str) and "recipe" not in given:
        warn_near_pack(pack, frozenset(key[2] for key in learned.cells), stacklevel=up + 2)
    return {**given, "produce": produce, "cut": cut}


def _keyword(key: object) -> str:
    return key if isinstance(key, str) else in_short(key)


def _check_kinds(recipe: object, so_far: object) -> None:
    """Refuse a recipe or a reading that is something else. Raises ForecastError."""
    if so_far is not None and not isinstance(so_far, SoFar):
        raise ForecastError(f"so_far: {in_short(so_far)}: give jarcast.SoFar(jars=3, ...)")
    if recipe is None:
        return
    from jarcast.recipes import Recipe

    if not isinstance(recipe, Recipe):
        raise ForecastError(
            f"recipe: {in_short(recipe)} is not a card; jarcast.recipes.load_card(path) reads one, "
            "and jarcast.recipes.shipped_recipes()[name] has those that ship"
        )


def warn_near(produce: str, own: frozenset[str], stacklevel: int) -> None:
    """Warn with NearName where a produce is nearly a known name, published or one's ``own``."""
    if near := near_name(produce, own):
        text = f"nothing is published of '{produce}', so the forecast for it is a wide "
        warnings.warn(f"{text}guess; did you mean '{near}'?", NearName, stacklevel=stacklevel)


def warn_near_pack(pack: str, own: frozenset[str], stacklevel: int) -> None:
    """Warn with NearName where a pack is nearly 'raw' or 'hot', and none of one's ``own``."""
    if near := near_pack(pack, own):
        text = f"the pack '{cut_short(pack)}' is neither raw nor hot, so it is a kind of its own"
        warnings.warn(f"{text}; did you mean '{near}'?", NearName, stacklevel=stacklevel)
