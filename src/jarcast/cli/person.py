"""Who packs, asked at the terminal where a kitchen has several people."""

from typing import TYPE_CHECKING

from jarcast.cli.common import Packer, packer
from jarcast.cli.prompts import prompt

if TYPE_CHECKING:
    from jarcast.app.work import Work

_ASK = "Who packs it ('-' for nobody named)"


def asked(work: "Work", said: str | None) -> Packer:
    """Who packs, asked at the terminal where several are known or one was named. Raises Back."""
    from jarcast.app.work import PERSON

    own = work.kitchen
    before = own.settings.get(PERSON, "")
    if said is None and (before or len(own.people) > 1):
        said = prompt(_ASK, before)
    return packer(work, said)
