"""The crop that is meant by what was typed: the cut told apart, a misspelt produce asked back."""

from collections.abc import Callable, Collection, Iterable
from typing import TYPE_CHECKING, Annotated

import typer

from jarcast.cli.common import asking, tell
from jarcast.cli.prompts import BACK, Back, confirmed
from jarcast.domain.crop_text import cut_as_pack, near_name, near_pack, read_crop
from jarcast.domain.dishes import made_of
from jarcast.domain.names import pack_key, produce_key
from jarcast.errors import AskedBackError, cut_short
from jarcast.views.words import shortened, wrapped

if TYPE_CHECKING:
    from jarcast.app.work import Kitchen

AsNamedOption = Annotated[
    bool, typer.Option("--as-named", help="Keep a produce or pack that looks misspelt as it is.")
]


def crop_meant(
    own: "Kitchen",
    crop: tuple[str, str],
    *,
    sure: bool = False,
    as_json: bool = False,
    insist: str = "--as-named",
    guided: bool = False,
) -> tuple[str, str]:
    """Produce and cut as they are meant.

    A produce that is nearly a known name is asked back at a terminal, unless the user is ``sure``,
    and so is what a dish is made of; where nobody can be asked a dish is told to be wide.
    Raises BatchError where nobody can be asked, with ``insist`` as the option to say so, and where
    two cuts are said; in the guide Back.
    """
    produce, cut = read_crop(*crop)
    if not sure and (of := made_of(produce)):
        return _dish(produce, cut, of, ask=asking(as_json), guided=guided)
    near = "" if sure else near_of(own, produce)
    if not near:
        return produce, cut
    if asking(as_json):
        words = f"Nothing is published of '{produce[:40]}'. Did you mean {near}?"
        return near if confirmed(words, default=True, guided=guided) else produce, cut
    raise AskedBackError(
        f"nothing is published of '{produce}', and no batch of it is recorded; did you mean "
        f"{near}? Write it that way, or add {insist} to keep the name as it is"
    )


def pack_meant(
    own: "Kitchen",
    pack: str,
    *,
    sure: bool = False,
    as_json: bool = False,
    insist: str = "--as-named",
) -> str:
    """The pack as it is meant: one that is nearly raw or hot is asked back, as a produce is.

    Raises BatchError where nobody can be asked, with ``insist`` as the option to say so.
    """
    if sure or pack in ("", "raw", "hot"):
        return pack
    near = near_pack_of(own, pack)
    if not near:
        if why := cut_not_pack(own, pack):
            raise AskedBackError(f"{why}; to keep it as it is, add {insist}")
        return pack
    said = f"the pack '{cut_short(pack, 40)}' is neither raw nor hot"
    if asking(as_json):
        words = f"{said[:1].upper()}{said[1:]}. Did you mean {near}?"
        return near if typer.confirm(words, default=True, err=True) else pack
    raise AskedBackError(
        f"{said}; did you mean {near}? Write it that way, or add {insist} to keep it as it is"
    )


def near_pack_of(own: "Kitchen", pack: str) -> str:
    """'raw' or 'hot', whichever a pack nearly is; '' for one that is known, or near none."""
    if not near_pack(pack):  # the usual case, for which the batches need not be looked through
        return ""
    return near_pack(pack, frozenset(pack_key(batch.pack) for batch in own.batches))


def cut_not_pack(own: "Kitchen", pack: str) -> str:
    """Why a pack is none, where it is a cut; '' where it is not, or batches of such are there."""
    if not cut_as_pack(pack):
        return ""
    if not cut_as_pack(pack, frozenset(pack_key(batch.pack) for batch in own.batches)):
        return ""
    return (
        f"the pack '{cut_short(pack, 40)}' is a cut: a pack is raw or hot, and a cut goes under cut"
    )


def near_packs_in(own: "Kitchen", names: Collection[str]) -> dict[tuple[str, str], list[str]]:
    """Packs of these batches that are nearly raw or hot: the pack, that word, and its batches."""
    before = frozenset(pack_key(b.pack) for b in own.batches if b.batch not in names)
    return _nearly(((b.pack, b.batch) for b in own.batches if b.batch in names), near_pack, before)


def _nearly(
    said: Iterable[tuple[str, str]],
    near: Callable[[str, frozenset[str]], str],
    known: frozenset[str],
) -> dict[tuple[str, str], list[str]]:
    """What is ``said`` in batches and is nearly something known: it, that name, and the batches."""
    found: dict[tuple[str, str], list[str]] = {}
    for text, batch in said:
        if meant := near(text, known):
            found.setdefault((text, meant), []).append(batch)
    return found


def _dish(
    produce: str, cut: str, of: tuple[str, str], *, ask: bool, guided: bool
) -> tuple[str, str]:
    """What a dish is made of, as it is answered; the dish itself where nobody answers."""
    name, parts = f"'{cut_short(produce, 40)}' is a dish", ", ".join(filter(None, of))
    if not ask:
        tell(
            f"{name}, and what goes into it varies: it is a kind of its own here, with wide "
            f"ranges. Say what it is made of, such as {parts}, and the forecast goes by that."
        )
        return produce, cut
    question = f"{name}. What is yours made of ('{produce[:40]}' keeps the name)"
    answer = str(typer.prompt(question, default=parts, err=True)).strip()
    if guided and answer.casefold() == BACK:
        raise Back
    if answer == parts:
        return of[0], cut or of[1]
    named, _, shape = answer.partition(",")
    return read_crop(named.strip(), cut or shape.strip())


def near_of(own: "Kitchen", produce: str) -> str:
    """The known name that a produce is nearly, '' for one that is known, or near no known one."""
    if not near_name(produce):  # the usual case, for which the batches need not be looked through
        return ""
    return near_name(produce, _known_produce(own))


def _known_produce(own: "Kitchen", without: Collection[str] = ()) -> frozenset[str]:
    """Keys of the produce of a kitchen's batches, ``without`` some, and of beliefs of its own."""
    keys = frozenset(produce_key(b.produce) for b in own.batches if b.batch not in without)
    return keys if own.beliefs is None else keys | frozenset(own.beliefs.produce)


def none_of_text(own: "Kitchen", produce: str) -> str:
    """That no batch is of a produce that is nearly a known name; '' for any other."""
    near = near_of(own, produce)
    return f"No batch of '{cut_short(produce, 40)}'; did you mean {near}?" if near else ""


def near_in(own: "Kitchen", names: Collection[str]) -> dict[tuple[str, str], list[str]]:
    """Produce of these batches that is nearly a known name: it, that name, and its batches.

    Produce of the other batches is known.
    """
    produce = ((b.produce, b.batch) for b in own.batches if b.batch in names)
    return _nearly(produce, near_name, _known_produce(own, names))


def unknown_text(own: "Kitchen", produce: str) -> str:
    """That nothing is known of a produce, which may be a slip of the pen; '' where something is.

    ``own`` is the kitchen without the batch that is being recorded.
    """
    from jarcast.learning.model.beliefs import starting_beliefs

    key = produce_key(produce)
    crop = (own.beliefs or starting_beliefs()).crop(key)
    if crop.known != "nothing published" or key in {produce_key(b.produce) for b in own.batches}:
        return ""
    return wrapped(
        f"Nothing is published of '{shortened(produce, 40)}', and this is your first batch of it, "
        "so ranges are wide. If it is a typo, mend it with 'jarcast amend' and produce=."
    )
