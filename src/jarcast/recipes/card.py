"""What a tested recipe card holds, frozen.

Everything that keeps the food safe sits in ``SafetyNumbers``: read from a card, and never written
by anything else. Weights are grams, volumes millilitres, altitudes feet as the sources print them.
"""

import math
from enum import StrEnum

from msgspec import Struct

from jarcast.measures import typeset

# Room that dissolved sugar takes in a syrup: partial specific volume of sucrose, handbook tables
# of aqueous solutions (CRC Handbook), from memory. Dissolved salt is counted as taking none, as
# the recipes are published in cups of liquid.
SUGAR_ML_PER_G = 0.62


class Kind(StrEnum):
    """What an ingredient is to the brine."""

    VINEGAR = "vinegar"
    LEMON_JUICE = "lemon juice"
    WATER = "water"
    OIL = "oil"
    SUGAR = "sugar"
    SALT = "salt"
    OTHER = "other"

    @property
    def acid(self) -> bool:
        """Whether it brings the acid."""
        return self in (Kind.VINEGAR, Kind.LEMON_JUICE)

    @property
    def liquid(self) -> bool:
        """Whether it counts as liquid in the finished volume."""
        return self.acid or self in (Kind.WATER, Kind.OIL)


class Basis(StrEnum):
    """The stage at which a recipe weighs or measures its produce."""

    AS_BOUGHT = "as bought"
    PREPARED = "prepared"


class Style(StrEnum):
    """Where the liquid in the jar comes from."""

    COVER_BRINE = "cover brine"  # made apart and poured over the produce
    RELISH = "relish"  # cooked with the produce, which gives liquid of its own
    FERMENT = "ferment"  # salted, and sours in its own or in a salt brine


class Source(Struct, frozen=True):
    """Where a card's numbers stand in print: the copy that was read.

    ``also`` names the other copies that were read and what each says, a line each.
    """

    publication: str
    edition: str
    page: str
    link: str = ""
    also: tuple[str, ...] = ()

    @property
    def cited(self) -> str:
        """Publication, edition and page in one line."""
        return f"{self.publication}; {self.edition}; {self.page}"


class Ingredient(Struct, frozen=True):
    """One ingredient as the card prints it.

    ``ml`` and ``grams`` are None where the measure, or the household weight, does not give them;
    ``weighed`` is whether the card prints a weight. ``count`` is set for what is counted, such as
    8 heads of dill. A seasoning, a part of the produce and what goes into each jar may be printed
    in words, such as '1/4 clove': then all three are None.
    """

    name: str
    kind: Kind
    printed: str
    ml: float | None = None
    grams: float | None = None
    count: float | None = None
    weighed: bool = False

    @property
    def brine_ml(self) -> float:
        """Room in ml that it takes in the finished brine."""
        if self.kind.liquid:
            return self.ml or 0.0
        return SUGAR_ML_PER_G * (self.grams or 0.0) if self.kind is Kind.SUGAR else 0.0

    @property
    def line(self) -> str:
        """Amount and name as printed: '6 cups vinegar', '1½ tsp salt'."""
        return typeset(f"{self.printed} {self.name}")


class Cure(Struct, frozen=True):
    """What is done with the produce before the jars: salting, soaking, a hot solution.

    Its ingredients are discarded or worked in as ``detail`` says; they are no part of the brine.
    ``hours`` is lowest and highest, None where the source gives no hours; ``refrigerated`` whether
    it stands in the refrigerator meanwhile.
    """

    detail: str
    hours: tuple[float, float] | None = None
    ingredients: tuple[Ingredient, ...] = ()
    refrigerated: bool = False

    @property
    def usual_hours(self) -> float | None:
        """The middle of the hours that the card gives; None for none."""
        return None if self.hours is None else sum(self.hours) / 2.0

    @property
    def time(self) -> str:
        """How long and where it stands: '3 to 4 h in the refrigerator'; '' if not said."""
        ends = dict.fromkeys(self.hours or ())
        hours = " to ".join(f"{end:g}" for end in ends) + " h" if ends else ""
        cold = self.refrigerated and "refrigerated" not in self.detail
        return " ".join(filter(None, (hours, "in the refrigerator" if cold else "")))

    @property
    def line(self) -> str:
        """What is done, how long and where: 'salt, drain, 3 to 4 h in the refrigerator'."""
        return ", ".join(filter(None, (self.detail, self.time)))


class Tested(Struct, frozen=True):
    """The batch the recipe was printed for.

    One of ``grams`` and ``ml`` is set: produce is weighed or measured by the cup, at ``basis``.
    Neither is where some parts are weighed and others measured, which ``parts`` then tell.
    ``jars`` is the printed yield, lowest and highest, in jars of ``jar``; ``parts`` the produce
    one by one, as printed, where there is more than the amount says.
    """

    printed: str
    basis: Basis
    jar: str
    jars: tuple[float, float]
    grams: float | None = None
    ml: float | None = None
    detail: str = ""
    parts: tuple[Ingredient, ...] = ()

    @property
    def several_ways(self) -> bool:
        """Whether some of its produce is weighed and some measured, so that no amount is whole."""
        return self.grams is None and self.ml is None

    @property
    def middle_jars(self) -> float:
        """The middle of the printed yield."""
        return (self.jars[0] + self.jars[1]) / 2


class ProcessRow(Struct, frozen=True):
    """One cell of a process table.

    ``pack`` is '' where the source gives one time for the pack its directions describe, ``to_ft``
    None for the band without an upper end, ``pressure_psi`` None for a boiling-water process.
    ``sterile`` is whether the source asks for sterile jars, None where the card does not say.
    """

    method: str
    pack: str
    jar: str
    from_ft: int
    to_ft: int | None
    minutes: float
    pressure_psi: float | None = None
    sterile: bool | None = None

    def holds(self, altitude_ft: float) -> bool:
        """Whether the altitude lies in this band; a part of a foot counts as the next whole.

        Below sea level water boils hotter: the lowest band holds there.
        """
        feet = max(math.ceil(altitude_ft), 0)
        return self.from_ft <= feet and (self.to_ft is None or feet <= self.to_ft)

    @property
    def time(self) -> str:
        """Its minutes, and the pressure where there is one: '10 min at 11 psi'."""
        pressure = "" if self.pressure_psi is None else f" at {self.pressure_psi:g} psi"
        return f"{self.minutes:g} min{pressure}"

    @property
    def band(self) -> str:
        """The altitude band in words: '1001-6000 ft'."""
        if self.to_ft is None:
            return f"above {self.from_ft - 1} ft"
        return f"{self.from_ft}-{self.to_ft} ft"


class Addition(Struct, frozen=True):
    """What goes straight into each jar of one size: by the jars filled, never by the brine."""

    jar: str
    part: Ingredient


class Ferment(Struct, frozen=True):
    """How a ferment stands: degrees Fahrenheit as the sources print them, weeks.

    ``warmth`` is (degrees, weeks), each lowest and highest; ``least_f`` and ``most_f`` what it must
    not be cooler or warmer than, None where the source does not say. ``salt`` is as printed.
    """

    warmth: tuple[tuple[tuple[float, float], tuple[float, float]], ...]
    salt: str = ""
    least_f: float | None = None
    most_f: float | None = None

    @property
    def usual_hours(self) -> float | None:
        """Hours under salt, the middle of all the weeks that the card gives; None for none."""
        weeks = [week for _, both in self.warmth for week in both]
        return 168.0 * (min(weeks) + max(weeks)) / 2.0 if weeks else None


class SafetyNumbers(Struct, frozen=True):
    """The numbers that keep the food safe, as the tested recipe prints them.

    ``least_acid_percent`` is None for a recipe without vinegar; ``ferment_salt`` the lowest and
    highest share of salt in the trimmed weight (0.02 is 2 %), None where the card gives none.
    ``headspace_detail`` says how high produce and liquid stand where that is more than one number,
    ``low_temperature`` what the source says of pasteurising at a low temperature, '' where it does
    not offer that for this recipe.
    """

    source: Source
    formula: tuple[Ingredient, ...]
    least_acid_percent: float | None
    headspace_in: float
    jars: tuple[str, ...]
    process: tuple[ProcessRow, ...]
    ferment_salt: tuple[float, float] | None = None
    steam_canner: bool = False
    cautions: tuple[str, ...] = ()
    per_jar: tuple[Addition, ...] = ()
    ferment: Ferment | None = None
    headspace_detail: str = ""
    low_temperature: str = ""

    @property
    def volume_ml(self) -> float:
        """Finished volume in ml of the formula: liquids, and the room its dissolved sugar takes."""
        return math.fsum(part.brine_ml for part in self.formula)


class Recipe(Struct, frozen=True):
    """One recipe card.

    ``safety`` is None for a card that does not say where it comes from: it may then be used for
    its yield only. ``packs`` is empty where the source does not say raw or hot. ``seasonings`` go
    by the batch and are no part of the formula; ``steps`` are the numbers of what is done, in
    order; ``standing`` is how long jars stand before they are opened. ``stands_in_brine``: the
    produce stands in its brine before the jars, and the brine is drawn off it.
    """

    key: str
    name: str
    produce: str
    cut: str
    packs: tuple[str, ...]
    style: Style
    tested: Tested
    cure: Cure | None
    safety: SafetyNumbers | None
    notes: tuple[str, ...] = ()
    seasonings: tuple[Ingredient, ...] = ()
    steps: tuple[str, ...] = ()
    standing: str = ""
    stands_in_brine: bool = False

    @property
    def usual_hours(self) -> float | None:
        """Hours in salt or soak before the jars: the middle of what the card gives; else None."""
        ferment = None if self.safety is None else self.safety.ferment
        if ferment is not None and ferment.usual_hours is not None:
            return ferment.usual_hours
        return None if self.cure is None else self.cure.usual_hours

    @property
    def salt_share(self) -> tuple[float, float] | None:
        """Lowest and highest share of salt in the trimmed weight that a ferment's card states."""
        if self.safety is None or self.style is not Style.FERMENT:
            return None
        return self.safety.ferment_salt

    @property
    def own_liquid(self) -> bool:
        """Whether the jar's liquid is the produce's own: no cover brine to forecast."""
        return self.style is not Style.COVER_BRINE
