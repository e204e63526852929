"""The worlds households live in: how produce becomes jars and brine there.

The plain world, which every other changes in one respect:

- A person's hand is a constant: pack .15 (log density), trim .25 (logit), cure and cook .04.
- A crop lies off its published centre by pack .12, trim .30, cure and cook .06, tissue .02.
- One batch differs from the next by pack .07, trim .15, cure .035, cook .05, normal.
- Density differs from jar to jar by 5 %; over a batch of j jars that averages to 5 % / sqrt(j).
- Nothing gains more than 4 % in the salt or the pot.
- A cure takes off exp(-hours / 8 h) less as it goes on, and is whole at 24 hours.
- Brine used is the fill volume less what the pieces take (weight / tissue density), plus a pot
  loss of about 150 ml: 40 % between people, 30 % between batches (logs), whatever the batch size.
- Pieces never take more than 0.93 of the fill volume; the approach to that is smooth.
- jars are written to the half jar, weights to 5 g (10 g as bought), brine to the quarter cup.
- Of 'made' brine a person heats a fifth more than the printed amount, put right by how earlier
  batches of that crop came out. Short of it they heat another pot, or one time in four make do,
  and then what is recorded is all made, nothing left.

What each other world changes is written in its entry of WORLDS. These figures are assumptions,
not findings; they are the practitioner's guesses at how hands, crops and batches differ.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from math import exp, log

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Number = float | Array

STAGES = ("as_bought", "trimmed", "cured", "cooked")
FULLEST = 0.93  # of the fill volume that pieces can take
_SHARPNESS = 30.0  # of the smooth approach to FULLEST: 10 % below it the bend is 0.2 %
_MOST_KEPT = log(1.04)  # salt or water taken up; more than that produce does not gain
USUAL_READY_G = 4000.0  # batch size at which a size effect is nil
_FARTHEST = 10.0  # scales of long-tailed noise: beyond it produce would weigh nothing or burst
PINT_ML = 450.0  # about what a pint holds up to the headspace


@dataclass(frozen=True)
class World:
    """The law of one world; spreads are standard deviations on each quantity's own scale."""

    name: str
    about: str
    hand: Mapping[str, float] = field(
        default_factory=lambda: {"trim": 0.25, "cure": 0.04, "cook": 0.04, "pack": 0.15}
    )
    crop: Mapping[str, float] = field(
        default_factory=lambda: {
            "trim": 0.30, "cure": 0.06, "cook": 0.06, "pack": 0.12, "tissue": 0.02,
        }
    )  # fmt: skip
    noise: Mapping[str, float] = field(
        default_factory=lambda: {"trim": 0.15, "cure": 0.035, "cook": 0.05, "pack": 0.07}
    )
    jar_to_jar: float = 0.05
    loss_ml: float = 150.0
    loss_people: float = 0.4
    loss_batches: float = 0.3
    tail_dof: float = 0.0  # degrees of freedom of the batch noise; 0 is normal
    drift: float = 0.0  # log density a batch, ten batches long from the fourth
    walk: float = 0.0  # the step a batch (sd) that the limit takes the hand's walk to have
    off_book: Mapping[str, float] = field(default_factory=dict)  # each crop this far up or down
    unlisted: bool = False
    size_slope: float = 0.0  # log density per log of batch size
    topped_up: bool = False  # jars come out whole
    simmer: bool = False  # loss grows with the minutes on the stove
    slips: float = 0.0  # share of rows with one gross slip
    missing: float = 0.0  # share of weights not written down
    sparse: bool = False  # only as bought, jars and brine are written down
    generous: float = 1.2
    makes_do: float = 0.25

    def drift_at(self, batch_number: int) -> float:
        """How far the hand has moved (log density) at the batch of this number, from 1."""
        return self.drift * min(max(batch_number - 3, 0), 10)


_PLAIN = World("plain", "every quantity normal on its own scale, hand and crops constant")
_SIMMER_RATE_ML = 7.0  # a minute; 150 ml in the 21 minutes of a batch of nine pints

WORLDS: dict[str, World] = {
    world.name: world
    for world in (
        _PLAIN,
        replace(
            _PLAIN,
            name="slips",
            about=(
                "the plain households; 3 rows in 100 hold a gross slip in one weight or volume (x "
                "or / 2.2, 10, for volumes 4 or 10), and 1 weight in 8 was not recorded. Limit "
                "and oracle see the clean table"
            ),
            slips=0.03,
            missing=0.125,
        ),
        replace(
            _PLAIN,
            name="drift",
            about="the hand packs 2.5 % denser with each batch from the 4th to the 13th, then "
            "stays; the limit takes hands to walk 3.5 % a batch, either way and always: it is no "
            "true limit here, and the steady limit is the same without the walk",
            drift=0.025,
            walk=0.035,
        ),
        replace(
            _PLAIN,
            name="heavy",
            about="batch noise of trim, cure, cook and pack is Student-t with 3 degrees of "
            "freedom, the plain spread being its scale, cut at ten scales",
            tail_dof=3.0,
        ),
        replace(
            _PLAIN,
            name="off-book",
            about="every crop packs 25 % denser or looser than published on top of its usual "
            "offset, and loses about a quarter more or less in trimming",
            off_book={"pack": log(1.25), "trim": log(1.25)},
        ),
        replace(
            _PLAIN,
            name="unlisted",
            about="produce nobody published, its true centres spread widely about a vague guess",
            unlisted=True,
            crop={"trim": 0.6, "cure": 0.09, "cook": 0.09, "pack": 0.22, "tissue": 0.03},
        ),
        replace(
            _PLAIN,
            name="sizes",
            about="other equations: big batches pack looser (density as size to the -0.1), and "
            "the last jar is topped up with brine, or its produce squeezed into the others when "
            "it would be less than 0.4 of a jar and there is room, so that jars come out whole",
            size_slope=-0.1,
            topped_up=True,
        ),
        replace(
            _PLAIN,
            name="simmer",
            about="other equations: brine boils off by the minute (about 7 ml, 40 % between "
            "people and 30 % between batches) over 8 minutes and 1.5 for each pint packed; nobody "
            "heats a second pot, so brine that ran out is written as nothing left",
            loss_ml=_SIMMER_RATE_ML,
            simmer=True,
            generous=1.1,
            makes_do=1.0,
        ),
        replace(
            _PLAIN,
            name="sparse",
            about="only the weight as bought, the jars and the brine are ever recorded",
            sparse=True,
        ),
    )
}


@dataclass(frozen=True)
class Habits:
    """True habits for one crop: a float each, or an array (draws,) where they are uncertain.

    ``trim`` in logits, the others in logs; ``loss`` is the log of the pot loss in ml (in the
    simmer world of the ml a minute).
    """

    trim: Number
    cure: Number
    cook: Number
    pack: Number
    tissue: Number
    loss: Number


@dataclass(frozen=True)
class Setting:
    """What is decided before a batch is packed."""

    hours: float  # of cure; 0 is none
    hot: bool
    fill_ml: float  # one jar's fill volume

    @property
    def stages(self) -> tuple[str, ...]:
        """The weights this batch goes through, in order; the last is the ready weight."""
        skipped = {"cured": self.hours <= 0, "cooked": not self.hot}
        return tuple(stage for stage in STAGES if not skipped.get(stage, False))


@dataclass(frozen=True)
class Course:
    """What became of a batch: weights in g by stage, jars, brine in ml; arrays (draws,)."""

    weights: Mapping[str, Array]
    jars: Array
    brine_ml: Array


def cure_share(hours: float) -> float:
    """Share of the full 24-hour cure that so many hours bring."""
    return (1.0 - exp(-hours / 8.0)) / (1.0 - exp(-3.0))


def bounded(log_density: Number, log_tissue: Number) -> Array:
    """Log density kept smoothly below the densest there is for this tissue."""
    top = log(FULLEST) + log_tissue
    room = np.logaddexp(0.0, (top - log_density) * _SHARPNESS) / _SHARPNESS
    return np.asarray(top - room)


def simmer_minutes(fill_ml: Number) -> Number:
    """Minutes the pot simmers while so much volume is packed."""
    return 8.0 + 1.5 * fill_ml / PINT_ML


def whole_jars(jars: Array, pieces_jars: Array) -> Array:
    """Jars of a person who tops up the last one, or squeezes in less than 0.4 of a jar.

    ``pieces_jars`` is the room the pieces themselves take; where they cannot be squeezed in, the
    last jar is topped up however little is in it.
    """
    whole = np.maximum(np.floor(jars + 0.6), 1.0)
    return np.where(pieces_jars > FULLEST * whole, np.ceil(jars), whole)


def carry(
    world: World,
    habits: Habits,
    setting: Setting,
    stage: str,
    weight_g: float,
    rng: np.random.Generator,
    draws: int = 1,
) -> Course:
    """Draws of what becomes of a batch that weighs ``weight_g`` at ``stage``."""

    def noise(link: str) -> Array:
        if world.tail_dof:
            tail = np.clip(rng.standard_t(world.tail_dof, draws), -_FARTHEST, _FARTHEST)
            return world.noise[link] * tail
        return world.noise[link] * rng.standard_normal(draws)

    weights = {stage: np.full(draws, float(weight_g))}
    ready = weights[stage]
    for after in setting.stages[setting.stages.index(stage) + 1 :]:
        if after == "trimmed":
            ready = ready / (1.0 + np.exp(-(habits.trim + noise("trim"))))
        elif after == "cured":
            keep = habits.cure * cure_share(setting.hours) + noise("cure")
            ready = ready * np.exp(np.minimum(keep, _MOST_KEPT))
        else:
            ready = ready * np.exp(np.minimum(habits.cook + noise("cook"), _MOST_KEPT))
        weights[after] = ready
    log_density = habits.pack + noise("pack") + world.size_slope * np.log(ready / USUAL_READY_G)
    rough_jars = np.maximum(ready / (setting.fill_ml * np.exp(log_density)), 1.0)
    log_density = log_density + world.jar_to_jar / np.sqrt(rough_jars) * rng.standard_normal(draws)
    jars = ready / (setting.fill_ml * np.exp(bounded(log_density, habits.tissue)))
    if world.topped_up:
        jars = whole_jars(jars, ready / np.exp(habits.tissue) / setting.fill_ml)
    fill_ml = jars * setting.fill_ml
    loss = np.exp(habits.loss + world.loss_batches * rng.standard_normal(draws))
    if world.simmer:
        loss = loss * simmer_minutes(fill_ml)
    brine = fill_ml - ready / np.exp(habits.tissue) + loss
    return Course(weights, jars, brine)
