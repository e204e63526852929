"""How one batch is packed jar by jar: what each jar takes, what becomes of the rest, what is lost.

What happens, with the assumptions in numbers (common practice, no source, where none is named):

- A jar holds its fill volume up to the headspace. Produce takes its weight over its tissue density
  of that, at most 0.93 of it; brine takes the rest.
- Log density of jar i, counted from 0: the batch's own, plus a slope times i, plus 5 % from jar to
  jar. The batch's own is the person's and the crop's, plus 7 % from batch to batch.
- The slope is a person's, normal about 0: some tire and pack looser, some get into their stride.
  Its sd is 1 % a jar where anybody tires: over nine jars the last then lies 8 % off the first, as
  much as two batches of one hand lie apart. With 2 % it would be 16 %, and two such jars side by
  side on the counter would be seen and put right.
- Jars are filled until what is left does not fill another. What becomes of that rest is a habit:
  ``part``: it stands in a jar of its own, covered with brine, and counts as that part of a jar.
  ``topped``: its jar is topped up with brine and counts as one; less than a household's own least
  share of a jar (5 to 25 %) is eaten, as nobody takes a lid for a mouthful.
  ``squeezed``: it is pressed in among the others, if that packs them no denser than a household's
  own limit (5 to 15 % more) and the pieces have the room; else it has a jar, topped up.
  ``eaten``: it is eaten; more than a household's own limit (50 to 95 % of a jar) has a jar, topped
  up. Of a batch that does not fill one jar the only jar is topped up, whatever the habit, but for
  ``part``. ``smaller``: half a jar of it or less has a jar of half the size, more has a whole one;
  either is topped up with brine.
- Where a batch has jars of two sorts, the first so many are of one and the others of the other.
- One pot loses what the harness's plain world has it lose, about 150 ml: 40 % between people, 30 %
  between batches. A share of it boils off before the first jar, a share goes with the ladle, jar by
  jar, and a share is the film that nobody gets out of the pot; Dirichlet(2, 2, 2), by batch.
- A second pot heated for the same batch loses again what boils off and the film, of a loss of its
  own: the ladle's share is already counted.
"""

import math
from dataclasses import dataclass

import numpy as np
from accuracy.worlds import FULLEST, Array, Habits, World, bounded

PART, TOPPED, SQUEEZED, EATEN, SMALLER = "part", "topped", "squeezed", "eaten", "smaller"
HABITS = (PART, TOPPED, SQUEEZED, EATEN)  # those that 'mixed' is of
TIRING_SD = 0.01  # log density a jar
_LEAST, _PRESS, _MOST = (0.05, 0.25), (0.05, 0.15), (0.5, 0.95)


@dataclass(frozen=True)
class Hand:
    """What a household does with the last jar, and how it tires.

    ``shares`` is how often it follows each of HABITS, and SMALLER where it is the fifth; ``least``
    the smallest share of a jar that is topped up, ``press`` how much denser jars are packed to take
    a rest in, ``most`` the largest share of a jar that is eaten; ``slope`` is log density a jar.
    """

    shares: tuple[float, ...]
    least: float
    press: float
    most: float
    slope: float


def draw_hand(habit: str, slope_sd: float, rng: np.random.Generator) -> Hand:
    """A household's hand: always of one habit, or 'mixed': shares of its own, Dirichlet(0.6).

    With 0.6 for each of the four, two households in three follow one habit in half of their
    batches or more.
    """
    own = rng.dirichlet(np.full(len(HABITS), 0.6))
    always = np.array([float(habit == one) for one in (*HABITS, SMALLER)])
    shares = own if habit == "mixed" else always
    return Hand(
        shares=tuple(float(share) for share in shares),
        least=float(rng.uniform(*_LEAST)),
        press=float(rng.uniform(*_PRESS)),
        most=float(rng.uniform(*_MOST)),
        slope=float(slope_sd * rng.standard_normal()),
    )


@dataclass(frozen=True)
class Packing:
    """A batch as it was packed.

    ``fill_ml`` is the volume of a jar, of the last one where there are two sorts; ``ready_g`` all
    the ready produce, ``aside_g`` what of it never came near a jar; ``full_g`` (jars,) what each
    full jar took when it was filled, of ``full_ml`` (jars,) in volume, ``rest_g`` what was left
    then. ``jars`` is the count in the end, ``jarred_g`` and ``brine_ml`` what stands in them,
    ``eaten_g`` what was eaten. ``loss_ml`` is the pot's, ``gone`` its shares: boiled off, with the
    ladle, film; ``second_loss_ml`` what another pot would lose beside.
    """

    fill_ml: float
    tissue: float
    habit: str
    ready_g: float
    aside_g: float
    full_g: Array
    full_ml: Array
    rest_g: float
    jars: float
    jarred_g: float
    brine_ml: float
    eaten_g: float
    loss_ml: float
    gone: tuple[float, float, float]
    second_loss_ml: float

    @property
    def need_ml(self) -> float:
        """All the brine it takes out of one pot: what stands in the jars, and what is lost."""
        return self.brine_ml + self.loss_ml

    def stood(self, jars: int) -> tuple[float, float]:
        """Produce in g and brine in ml in the first full jars, when they were filled."""
        grams = float(self.full_g[:jars].sum())
        return grams, float(self.full_ml[:jars].sum()) - grams / self.tissue

    def poured_ml(self, jars: int) -> float:
        """Brine out of the pot once so many jars are full, the loss up to then included.

        The film is still in the pot then, and seen by who reads its mark. All of ``need_ml`` where
        the batch has no more jars than that.
        """
        if jars > len(self.full_g) or jars >= self.jars:
            return self.need_ml
        boiled, ladled, _ = self.gone
        return self.stood(jars)[1] + self.loss_ml * (boiled + ladled * jars / self.jars)


def pack(
    world: World,
    habits: Habits,
    hand: Hand,
    fill_ml: float,
    ready_g: float,
    rng: np.random.Generator,
    aside: float = 0.0,
    first: tuple[int, float] = (0, 0.0),
) -> Packing:
    """Pack the ready weight of a batch jar by jar; the share ``aside`` of it is not jarred.

    ``first`` are so many jars of another volume in ml that come before those of ``fill_ml``.
    What is drawn is drawn in one order, so that another habit, slope or share changes nothing else.
    """
    tissue = math.exp(habits.tissue)
    batch = float(habits.pack) + world.noise["pack"] * rng.standard_normal()
    loss, second = (
        math.exp(habits.loss + world.loss_batches * rng.standard_normal()) for _ in range(2)
    )
    boiled, ladled, film = (float(share) for share in rng.dirichlet((2.0, 2.0, 2.0)))
    which = int(np.searchsorted(np.cumsum(hand.shares), rng.random()))
    habit = (*HABITS, SMALLER)[min(which, len(hand.shares) - 1)]
    left = ready_g * (1.0 - aside)
    full: list[float] = []
    while True:
        log_density = batch + hand.slope * len(full) + world.jar_to_jar * rng.standard_normal()
        volume = first[1] if len(full) < first[0] else fill_ml
        takes = volume * float(np.exp(bounded(log_density, habits.tissue)))
        if left < takes:
            break
        full.append(takes)
        left -= takes
    last, eaten = last_jar(habit, hand, np.array(full), left, takes, volume * tissue)
    jars, jarred = len(full) + last, float(sum(full)) + left - eaten
    full_ml = np.where(np.arange(len(full)) < first[0], first[1], fill_ml)
    filled_ml = float(full_ml.sum()) + last * volume
    return Packing(
        fill_ml=volume, tissue=tissue, habit=habit, ready_g=ready_g, aside_g=ready_g * aside,
        full_g=np.array(full), full_ml=full_ml, rest_g=left, jars=jars, jarred_g=jarred,
        brine_ml=filled_ml - jarred / tissue, eaten_g=eaten, loss_ml=loss,
        gone=(boiled, ladled, film), second_loss_ml=second * (boiled + film),
    )  # fmt: skip


def last_jar(
    habit: str, hand: Hand, full_g: Array, rest_g: float, takes_g: float, solid_g: float
) -> tuple[float, float]:
    """What becomes of the rest: how much of a jar it makes, and how much of it is eaten, in g.

    ``takes_g`` is what the next jar would take, ``solid_g`` a jar of nothing but produce.
    """
    part = rest_g / takes_g
    if habit == PART:
        return part, 0.0
    if habit == SMALLER:
        return (0.5 if part <= 0.5 else 1.0), 0.0
    if not len(full_g):
        return 1.0, 0.0
    if habit == SQUEEZED:
        packed = float(full_g.sum())
        room = FULLEST * solid_g * len(full_g)
        goes_in = rest_g <= hand.press * packed and packed + rest_g <= room
        return (0.0, 0.0) if goes_in else (1.0, 0.0)
    kept = part >= hand.least if habit == TOPPED else part > hand.most
    return (1.0, 0.0) if kept else (0.0, rest_g)
