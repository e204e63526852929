"""What still lies ahead of a batch: its situation, the links to come, and the jars."""

from msgspec import Struct
from msgspec.structs import replace

from jarcast.domain.stages import Link, is_hot, links_after, salt_share
from jarcast.forecast.request import Request
from jarcast.learning.learned import Learned
from jarcast.learning.model.beliefs import CropBelief
from jarcast.learning.model.circumstances import LEAST_CURE_CHANCE
from jarcast.learning.model.links import Situation, cure_strength


class Ahead(Struct, frozen=True):
    """One batch before it is drawn.

    ``links`` lie between the latest known weight and the jars, the pack link aside; ``at_jars``
    is the situation in each sort of jar; ``cured`` the chance of a cure. ``people`` are the chances
    of who will trim and pack, by name, where it may be one of several.
    """

    request: Request
    situation: Situation
    cured: float
    links: tuple[Link, ...]
    at_jars: tuple[Situation, ...]
    people: tuple[tuple[str, float], ...] = ()

    @property
    def weighed(self) -> bool:
        """Whether the latest known weight was weighed, as it goes into the jars."""
        return not self.links and not self.request.grams_sd


def look_ahead(learned: Learned, request: Request) -> Ahead:
    """What lies ahead of a request's latest known weight, by what was learned."""
    situation, cured = _situation(learned, request)
    links = tuple(x for x in links_after(request.stage) if _happens(x, request, cured))
    at_jars = tuple(
        replace(situation, fill_ml=turn.fill_ml, wide=float(turn.jar.wide))
        for turn in request.turns
    )
    who = situation.people if len(situation.people) > 1 else ()
    return Ahead(request, situation, cured, links, at_jars, who)


def _situation(learned: Learned, request: Request) -> tuple[Situation, float]:
    crop = request.crop or learned.beliefs.crop(request.produce, request.cut, request.pack)
    if request.cure_hours == 0 or (request.salt_g == 0 and not request.cure_hours):
        cured = 0.0
    elif request.cure_hours or request.salt_g:
        cured = 1.0
    else:
        cured = learned.practice.cure_chance(request.produce, request.cut, crop.cured)
        sure = LEAST_CURE_CHANCE
        cured = 0.0 if cured < sure else 1.0 if cured > 1.0 - sure else cured
    usual = learned.practice.cure_hours
    strength = (
        cure_strength(request.cure_hours)
        if usual is None
        else cure_strength(request.cure_hours, usual)
    )
    new = learned.batches > 0 and learned.practice.is_new(request.person)
    at = Situation(
        crop=crop,
        produce=request.produce,
        cut=request.cut,
        pack=request.pack,
        cure=strength,
        salt_share=salt_share(request),
        ready_g=_ready_expected(request, crop, cured, strength),
        people=learned.practice.who(request.person),
        stranger=request.person if new else "",
    )
    return at, cured


def _ready_expected(request: Request, crop: CropBelief, cured: float, strength: float) -> float:
    """About what will go into the jars, by the published yields, in grams."""
    grams, ahead = request.grams, links_after(request.stage)
    if Link.TRIM in ahead:
        grams *= crop.trim_yield.centre
    if Link.CURE in ahead:
        grams *= crop.cure_keep.centre ** (cured * strength)
    if Link.COOK in ahead and is_hot(request.pack):
        grams *= crop.cook_keep.centre
    return grams


def _happens(link: Link, request: Request, cured: float) -> bool:
    if link is Link.CURE:
        return cured > 0.0
    if link is Link.COOK:
        return is_hot(request.pack)
    return True
