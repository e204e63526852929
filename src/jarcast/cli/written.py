"""What is said of a batch once it is written down: its forecasts, jars that did not seal."""

from pathlib import Path
from typing import TYPE_CHECKING

from jarcast.cli.common import tell
from jarcast.errors import JarcastError

if TYPE_CHECKING:
    from jarcast.batch import Batch
    from jarcast.forecasting.hindsight import TrackRecord


def kept_record(path: Path, name: str) -> "TrackRecord | None":
    """How the forecasts kept for a batch did; None if none were kept, or that cannot be said."""
    from jarcast.ledger import Ledger

    try:
        with Ledger.open(path) as opened:
            if not opened.kept_forecasts(name):
                return None
            from jarcast.cli.kept import how_it_did

            return how_it_did(opened, name)
    except JarcastError as error:  # the batch is written down all the same
        tell(str(error))
        return None


def unsealed_text(batch: "Batch") -> str:
    """What to do with jars that did not seal, where fewer sealed than were filled whole."""
    missing = int(batch.total_jars) - batch.sealed if batch.sealed is not None else 0
    if missing <= 0:
        return ""
    from jarcast.recipes.cautions import Situation
    from jarcast.views.counter import caution_text
    from jarcast.views.words import wrapped

    return wrapped(caution_text("unsealed", Situation(recipe=None, unsealed=missing)))


def part_jar_text(batch: "Batch") -> str:
    """What to do with a part-full jar, where one was filled."""
    from jarcast.recipes.cautions import Situation
    from jarcast.views.counter import caution_text
    from jarcast.views.words import wrapped

    if all(count == int(count) for count in batch.jars):
        return ""
    return wrapped(caution_text("part jar", Situation(recipe=None, part_jar=True)))
