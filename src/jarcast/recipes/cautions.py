"""Cautions: which rules of the table apply here, with the card's numbers filled in.

What a caution says and where it comes from stands in models/rules.toml; here stands when it
applies. No acidity is predicted anywhere: the regulation on acidified foods is cited because it is
why the proportions matter, and nothing is computed from it.
"""

import math
import re
from collections.abc import Iterator, Mapping, Sequence
from itertools import chain, combinations
from typing import Any

from msgspec import Struct

from jarcast.domain.names import cut_key
from jarcast.domain.rules import Rule, limit, not_kept, plain_method, rules
from jarcast.measures import Units
from jarcast.recipes.acid import at_pressure
from jarcast.recipes.block import SEE_SOURCE, band_text, pack_text
from jarcast.recipes.card import Kind, ProcessRow, Recipe, SafetyNumbers, Style
from jarcast.recipes.cook_line import short
from jarcast.recipes.ferment_salt import SaltShare, against_share, salt_share_of
from jarcast.recipes.listed import check_jar, lists_smaller
from jarcast.recipes.lock import process_rows_for

CLOSING = (
    "The tested recipe decides, together with your local food-safety guidance; what is made for "
    "sale needs licensed practice."
)
MOST_NOW = 3  # cautions beside a forecast; all of them stand on the card's own page
# Which of them are said where there are more: those on what goes wrong, before those on what may.
PRESSING = (
    "salt too low", "salt too high", "not to be kept", "beyond a batch", "steam", "refrigerator",
    "short of brine", "used brine", "salt not checked", "kept brine", "unsealed", "part jar",
    "whole jars",
)  # fmt: skip
ALWAYS = ("other cut",)  # counted among no others
BESIDE_NUMBERS = ("other cut", "steam")  # said wherever the numbers of a card are shown
NOT_SALTED_SO = ("salt too low", "salt too high")
SALT = (*NOT_SALTED_SO, "salt not checked")
_ROUNDED = 1.0 + 1e-9  # two printed batches added up of cups are two
IN_COOK_LINE = ("vinegar", "process", "see the source", "no process", "sterile jars")

# A clause that names a thing to say that it is not for this recipe: nothing is advised on it. A
# limit on its use ('not longer than', 'not for more than') is no such clause.
_FORBIDS = re.compile(
    r"(?:\b(?:not|no|none|never|without|instead of)\b|n't\b)(?! (?:for )?(?:more|longer|less)\b)"
    r".*\b(?:pickling lime|alum|calcium chloride)\b"
    r"|\b(?:pickling lime|alum|calcium chloride)\b.*\b(?:not|never) (?:for(?! more\b)|used)\b",
    re.IGNORECASE,
)

_Found = Iterator[tuple[str, Mapping[str, str]]]  # circumstance, and what its words are filled with


class Caution(Struct, frozen=True):
    """One caution: a short name for it, what it says, and its source."""

    key: str
    text: str
    source: str


class Situation(Struct, frozen=True, kw_only=True):
    """What is known when cautions are asked for.

    ``produce`` as it was named, where no recipe is; ``cut`` as it is put up; ``sizes`` of jar,
    where they are several and ``jar`` is none of them; ``part_jar``: the last jar will not be full;
    ``whole_jars``: only whole ones are filled; ``short``: the brine will not do or has not done;
    ``carried_brine``: brine that has touched produce is at hand; ``kept_brine``: clean brine of an
    earlier batch is; ``unsealed``: jars that did not seal; ``salt``: what salt there is over the
    trimmed weight; ``times``: how many times the printed batch is made; ``pots``: the same of each
    pot to be heated, by its name, where the brine is made by itself: they are judged then, and not
    the batch; ``pot_made``: of the largest that was heated; ``units``: those a band of altitude is
    told in; ``steam``: the kitchen's canner is an atmospheric steam canner; ``whole_list``: all
    that holds for the card is asked for.
    """

    recipe: Recipe | None
    produce: str = ""
    cut: str = ""
    jar: str = ""
    sizes: tuple[str, ...] = ()
    pack: str = ""
    altitude_ft: float | None = None
    part_jar: bool = False
    whole_jars: bool = False
    short: bool = False
    carried_brine: bool = False
    kept_brine: bool = False
    unsealed: float = 0
    salt: SaltShare | None = None
    times: float = 1.0
    pots: tuple[tuple[str, float], ...] = ()
    pot_made: float = 0.0
    units: Units = Units.US
    steam: bool = False
    whole_list: bool = False


def cautions_for(at: Situation) -> tuple[Caution, ...]:
    """The cautions that apply here, in the order of the table of rules.

    Raises RecipeError for a jar or a pack that the card does not list.
    """
    found: dict[str, Mapping[str, str]] = dict(_circumstances(at))
    return tuple(_said(rule, found[rule.when], at) for rule in rules().rule if rule.when in found)


def other_cut(recipe: Recipe, cut: str) -> tuple[Caution, ...]:
    """That a card is for another cut than the one put up; () where it is not."""
    found = cautions_for(Situation(recipe=recipe, cut=cut))
    return tuple(one for one in found if one.key == "other cut")


def beside_numbers(at: Situation) -> tuple[Caution, ...]:
    """The cautions that go with a card's numbers wherever they are shown.

    They are told to whoever reads a process: that the cut is another, or that it is too long for
    the kitchen's steam canner.
    """
    return tuple(one for one in cautions_for(at) if one.key in BESIDE_NUMBERS)


def too_long_for_steam(at: Situation) -> tuple[Caution, ...]:
    """What to heed where some time of these jars is too long for the kitchen's steam canner."""
    most = limit("steam_minutes").refuse
    if at.recipe is None or not any(
        _boils(row) and row.minutes > most for row in _here(_rows(at.recipe, at), at)
    ):
        return ()
    return tuple(one for one in cautions_for(at) if one.key == "steam")


def salt_caution(recipe: Recipe, of: Any) -> Caution | None:
    """What is to be said of the salt of a batch, or of what a forecast is asked for; else None.

    By every way that salt is written down it is held against the card by this one rule.
    """
    if recipe.salt_share is None or of.salt_g is None:
        return None
    found = cautions_for(Situation(recipe=recipe, salt=salt_share_of(of)))
    return next((one for one in found if one.key in SALT), None)


def cautions_now(at: Situation) -> tuple[Caution, ...]:
    """The few that stand beside an answer, the most pressing of them: each in its place.

    What the cook's line says is left out.
    """
    told = (*IN_COOK_LINE, "no source", "no thinning")
    found = [one for one in cautions_for(at) if one.key not in told]
    ranked = sorted((one for one in found if one.key not in ALWAYS), key=_rank)[:MOST_NOW]
    return tuple(one for one in found if one.key in ALWAYS or one in ranked)


def _rank(caution: Caution) -> int:
    return PRESSING.index(caution.key) if caution.key in PRESSING else len(PRESSING)


def _said(rule: Rule, words: Mapping[str, str], at: Situation) -> Caution:
    safety = None if at.recipe is None else at.recipe.safety
    cited = rules().cited(rule.source, rule.page, rule.more)
    if rule.source == "card" and safety is not None:
        cited = f"{safety.source.cited}{cited}" if cited else safety.source.cited
    return Caution(rule.key, rule.text.format(**words), cited)


def _circumstances(at: Situation) -> _Found:
    recipe = at.recipe
    if recipe is None:
        yield "no recipe", {}
    elif recipe.safety is None:
        yield "no source", {"name": recipe.name}
        yield from _of_cut(recipe, at.cut)
    else:
        yield from _of_formula(recipe.safety)
        yield from _of_process(recipe, recipe.safety, at)
        if salted := against_share(recipe, at.salt):
            yield salted
        if at.whole_list:
            yield from _of_card(recipe, recipe.safety)
        yield from _of_cut(recipe, at.cut)
    if recipe is None or recipe.safety is None or not recipe.safety.process:
        yield "refrigerator", {}
        if bad := not_kept(recipe.produce if recipe is not None else at.produce):
            yield bad
    for when, applies in (
        (_of_part_jar(at), at.part_jar),
        ("whole jars", at.whole_jars),
        ("short of brine", at.short),
        ("used brine", at.carried_brine),
        ("kept brine", at.kept_brine),
        ("unsealed", at.unsealed > 0),
    ):
        if applies:
            yield when, {}
    yield from _of_size(at)


def _of_size(at: Situation) -> _Found:
    """What is more at once than was tested: a pot, where the brine is made by itself, or it all."""
    most = limit("printed_batches").refuse * _ROUNDED
    over = [name for name, times in at.pots if times > most]
    if over:
        yield "beyond a pot", {"pots": " and ".join(over)}
    elif at.times > most and not at.pots:
        batches = math.ceil(at.times)
        yield "beyond a batch", {"batches": str(batches), "each": f"{at.times / batches:.3g}"}
    if at.pot_made > most:
        yield "beyond a pot, made", {"times": f"{at.pot_made:.3g}"}


def _of_part_jar(at: Situation) -> str:
    """Whether the card has a smaller jar to put a part-full one in."""
    if at.recipe is None or at.recipe.safety is None:
        return "part jar, no card"
    return "part jar" if lists_smaller(at.recipe, at.jar) else "part jar, none smaller"


def _of_cut(recipe: Recipe, put_up: str) -> _Found:
    cut = cut_key(put_up)
    if cut and recipe.cut not in ("", cut):
        yield "other cut", {"card_cut": recipe.cut, "cut": cut}


def _of_formula(safety: SafetyNumbers) -> _Found:
    if safety.least_acid_percent is not None:
        weak = safety.least_acid_percent < limit("least_vinegar_percent").point_out
        yield "weak vinegar" if weak else "vinegar", {"acid": f"{safety.least_acid_percent:g} %"}
    kinds = dict.fromkeys(part.kind.value for part in safety.formula if part.kind.acid)
    if kinds:
        yield "acid", {"sours": " or ".join(kinds)}


def _of_process(recipe: Recipe, safety: SafetyNumbers, at: Situation) -> _Found:
    rows = _rows(recipe, at)
    if not safety.process:
        yield "no process", {}
        return
    here = _here(rows, at)
    yield from _of_sterile(recipe, rows, at)
    if at.altitude_ft is None:
        grows = any(_boils(row) for row in rows)
        yield "process, altitude not known" if grows else "process, no boiling water", {}
    elif not at.jar:
        yield "process, jar not known", {}
    elif not here:
        yield "process not on the card", {"see_source": SEE_SOURCE}
    else:
        yield "process", _time_words(here, at.units)
    if at.steam or at.whole_list:
        yield from _steam(here, at.units)


def _rows(recipe: Recipe, at: Situation) -> tuple[ProcessRow, ...]:
    """The card's times for the jars put up, at every altitude; of all its jars where none is said.

    Raises RecipeError for a jar that it does not list.
    """
    sizes = [check_jar(recipe, size) for size in ((at.jar,) if at.jar else at.sizes)]
    if recipe.safety is None or not recipe.safety.process:
        return ()
    of_sizes = (process_rows_for(recipe, size, pack=at.pack) for size in sizes)
    return tuple(chain.from_iterable(of_sizes)) if sizes else recipe.safety.process


def _here(rows: tuple[ProcessRow, ...], at: Situation) -> tuple[ProcessRow, ...]:
    """Those of the altitude, where it is known."""
    feet = at.altitude_ft
    return rows if feet is None else tuple(row for row in rows if row.holds(feet))


def _time_words(rows: tuple[ProcessRow, ...], units: Units) -> Mapping[str, str]:
    """The jar that a time is for, the time, by method and pack where there are several, the band.

    The jar is named: the card's page has the times of its other jars beside it.
    """
    times = " or ".join(
        row.time if len(rows) == 1 else f"{row.time} ({row.method}, {pack_text(row)})"
        for row in rows
    )
    bands = dict.fromkeys(band_text(row, units) for row in rows)
    return {"jar": rows[0].jar, "time": times, "band": " or ".join(bands)}


def _boils(row: ProcessRow) -> bool:
    """Whether a process is one of boiling water, which takes the longer the higher one lives."""
    return not at_pressure(row) and not plain_method(row.method).startswith("low-temperature")


def _of_sterile(recipe: Recipe, rows: Sequence[ProcessRow], at: Situation) -> _Found:
    """Sterile jars, with the reason that is true: the card asks for them, or the time is short.

    A time that is short at some altitudes asks for them at all of them, and says at which it is.
    The card's page, which has the times of all its jars, says for which of them.
    """
    if at.whole_list and recipe.safety is not None:
        of_each = (process_rows_for(recipe, jar, pack=at.pack) for jar in recipe.safety.jars)
        rows = [row for of_jar in of_each for row in of_jar]
    there = [row for row in rows if at.altitude_ft is not None and row.holds(at.altitude_ft)]
    minutes = f"{limit('sterile_minutes').refuse:g}"
    for when, found in (
        ("sterile by the card", [row for row in rows if row.sterile]),
        ("short process", [row for row in rows if short(row) and not row.sterile]),
    ):
        here = [row for row in found if row in there]
        where, by_band = _which(*((here, there) if here else (found, rows)), at.units)
        words = {"which": f" ({where})" if where else "", "sterile": minutes}
        if found:
            yield f"{when}, at some altitudes" if by_band else when, words


def _which(
    found: Sequence[ProcessRow], among: Sequence[ProcessRow], units: Units
) -> tuple[str, bool]:
    """What tells rows from the others ``among`` which they stand, and whether altitude does.

    'hot pack', 'pint; quart', '0-1000 ft'; '' where there are no others.
    """
    told = [(row.jar, pack_text(row), row.method, band_text(row, units)) for row in among]
    for by in (by for many in range(5) for by in combinations(range(4), many)):
        named = [tuple(one[place] for place in by) for one in told]
        names = [name for name, row in zip(named, among, strict=True) if row in found]
        if all((name in names) == (row in found) for name, row in zip(named, among, strict=True)):
            break
    return "; ".join(", ".join(name) for name in dict.fromkeys(names)), 3 in by


def _steam(rows: tuple[ProcessRow, ...], units: Units) -> _Found:
    """What the published rule comes to for these times: the canner must not boil dry."""
    most = limit("steam_minutes").refuse
    boiling = [row for row in rows if _boils(row)]
    if not boiling:
        return
    allowed = [row for row in boiling if row.minutes <= most]
    longer = [row for row in boiling if row.minutes > most]
    bound = f"{most:g} min is the most, altitude included"
    packs = len({row.pack for row in boiling}) > 1
    if not allowed:
        yield (
            "steam canner, too long",
            {"steam": f"{_each(longer, units, packs=packs)}, and {bound}"},
        )
        return
    beyond = f", but not for {_each(longer, units, packs=packs)}" if longer else ""
    same = f"for the same time, {_each(allowed, units, packs=packs)}"
    yield "steam canner", {"steam": f"{same}{beyond}; {bound}"}


def _each(rows: list[ProcessRow], units: Units, *, packs: bool) -> str:
    """'35 min (pint, 1001-3000 ft)', or several; each pack's own times, where there are several."""
    by_pack: dict[str, list[ProcessRow]] = {}
    for row in rows:
        by_pack.setdefault(row.pack if packs else "", []).append(row)
    return "; ".join(
        f"{pack} pack {_times(found, units)}" if pack else _times(found, units)
        for pack, found in by_pack.items()
    )


def _times(rows: list[ProcessRow], units: Units) -> str:
    times: dict[float, list[str]] = {}
    for row in rows:
        times.setdefault(row.minutes, []).append(f"{row.jar}, {band_text(row, units)}")
    return ", ".join(
        f"{minutes:g} min ({'; '.join(dict.fromkeys(where))})" for minutes, where in times.items()
    )


def _of_card(recipe: Recipe, safety: SafetyNumbers) -> _Found:
    """What holds for what a card puts up, whenever it is put up."""
    parts = (*safety.formula, *(recipe.cure.ingredients if recipe.cure is not None else ()))
    clauses = (clause for note in recipe.notes for clause in re.split(r"[,.;:()]", note))
    used = (clause for clause in clauses if not _FORBIDS.search(clause))
    names = " ".join((*(part.name for part in parts), *recipe.steps, *used)).casefold()
    for when, applies in (
        ("oil on the card", any(part.kind is Kind.OIL for part in parts)),
        ("ferment", recipe.style is Style.FERMENT),
        ("cucumbers", "cucumber" in recipe.produce),
        ("firming agent", re.search(r"\b(pickling lime|alum)\b", names) is not None),
        ("crisping agent", "calcium chloride" in names),
        ("canned", bool(safety.process)),
        ("boiling water", any(not at_pressure(row) for row in safety.process)),
    ):
        if applies:
            yield when, {}
