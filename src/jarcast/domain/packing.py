"""How far the packing of a batch has come: what is in the jars, and what is left."""

from decimal import Decimal

from msgspec import Struct
from msgspec.structs import force_setattr

from jarcast.domain.amount import check_amount
from jarcast.domain.fields import MOST_GRAMS, MOST_JARS, MOST_ML
from jarcast.errors import ForecastError, in_short

_MOST = {"jars": MOST_JARS}
_WORDS = {
    "jars": "jars so far",
    "produce_g": "produce packed so far",
    "brine_ml": "brine in the jars so far",
    "produce_left_g": "produce left",
    "pot_left_ml": "brine left in the pot",
    "brine_made_ml": "brine made",
    "produce_step_g": "step of the scale",
    "brine_step_ml": "step of the measure for brine",
}


class SoFar(Struct, frozen=True):
    """A batch in the middle of being packed; ``None`` is not known.

    ``jars`` filled so far, of the forecast's sorts in their order; ``produce_g`` the ready produce
    standing in them and ``brine_ml`` the brine, without pot loss; ``produce_left_g`` and
    ``pot_left_ml`` what is left to pack; ``brine_made_ml`` all the brine made up to now.
    ``earlier`` is the reading before this one, at fewer jars, with the brine made by then; others
    stand behind it in order. What this one does not tell is taken from the last of them that does.
    ``produce_step_g`` and ``brine_step_ml`` are the smallest steps that the scale and the measure
    were read to; where they are not told, the readings themselves speak for a step. Raises
    ForecastError for a number that cannot be.
    """

    jars: float
    produce_g: float | None = None
    brine_ml: float | None = None
    produce_left_g: float | None = None
    pot_left_ml: float | None = None
    brine_made_ml: float | None = None
    earlier: "SoFar | None" = None
    produce_step_g: float | None = None
    brine_step_ml: float | None = None

    def __post_init__(self) -> None:
        """Refuse what is no amount, and produce that weighs nothing in full jars."""
        for name in _WORDS:
            value = getattr(self, name)
            if value is None and name != "jars":
                continue
            most = _MOST.get(name, MOST_GRAMS if name.endswith("_g") else MOST_ML)
            amount = check_amount(_WORDS[name], value, most)
            if isinstance(value, Decimal):  # which does not reckon with floats
                force_setattr(self, name, amount)
        for name in ("produce_step_g", "brine_step_ml"):
            if getattr(self, name) == 0:
                raise ForecastError(
                    f"{_WORDS[name]}: a step cannot be 0; leave it out if you do not know it"
                )
        if self.earlier is not None and not isinstance(self.earlier, SoFar):
            raise ForecastError(f"earlier: {in_short(self.earlier)} is not a reading")
        if self.earlier is not None and self.earlier.jars > self.jars:
            raise ForecastError(
                f"jars so far: {self.jars:g} are fewer than the {self.earlier.jars:g} noted "
                "earlier; count all the jars so far"
            )
        if self.jars > 0 and self.produce_g == 0:
            raise ForecastError(
                "produce packed so far: full jars cannot weigh 0; leave it out if you did not "
                "weigh them"
            )

    @property
    def tells(self) -> bool:
        """Whether it tells more than a count of jars: of what is in them, or what is left."""
        read = (self.produce_g, self.brine_ml, self.produce_left_g, self.pot_left_ml)
        return any(one is not None for one in read)

    @property
    def readings(self) -> "tuple[SoFar, ...]":
        """This reading and those before it, the newest first."""
        return (self, *(() if self.earlier is None else self.earlier.readings))

    @property
    def used_ml(self) -> float | None:
        """Brine that had left the pot by then, into the jars or lost, in ml; None: not known."""
        if self.brine_made_ml is None or self.pot_left_ml is None:
            return None
        return self.brine_made_ml - self.pot_left_ml

    @property
    def ready_g(self) -> float | None:
        """All the ready produce there is, in g, where both its parts are known."""
        if self.produce_g is None or self.produce_left_g is None:
            return None
        return self.produce_g + self.produce_left_g
