"""Learning one block of arrows: the regression, and what sits around it.

A block is the arrows that some row ties together; its rows are solved as one regression. Around
that closed form: noise sizes and the size of the crops' spread are learned by expectation-
maximisation under inverse-gamma priors (MacKay 1992, Neural Computation 4; Bishop, Pattern
Recognition and Machine Learning, 2006, section 10.3), long tails by ``robust``, and a hand that
changes by letting it walk at a few speeds, weighed by the evidence of each.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from jarcast.batch import Arrow
from jarcast.learning.arrows import Effect, Loadings
from jarcast.learning.regression import Array, posterior
from jarcast.learning.robust import TAIL_PRIOR, judge, tail_shares

ROUNDS = 6
FIRST_JUDGE = 2  # rounds in which slips are found before anything could be spread to fit them
NOISE_DOF = 6.0  # batches the prior noise size is worth
SPREAD_DOF = 4.0  # effects the prior size of the crops' spread is worth
WIDEST = 5.0  # learned variance of the crops' effects over the prior's, at most
SPREADING = frozenset({Arrow.TRIM, Arrow.CURE, Arrow.COOK, Arrow.PACK})  # tissue is what it is

# Speeds of the walking hand: sd of its step from one batch to the next, in units of the spread
# between people, and the prior chance of each. Zero is a steady hand.
SPEEDS = (0.0, 0.1, 0.25)
SPEED_CHANCES = (0.72, 0.14, 0.14)
WALKING = frozenset({Arrow.TRIM, Arrow.CURE, Arrow.PACK})


@dataclass(frozen=True, slots=True)
class Row:
    """One equation that a batch gives: target = sum of effects + noise of its arrows.

    ``target`` is what was read less the published centres; ``shares`` how strongly each arrow's
    noise enters (times ``noise_size``); ``reading`` the variance of reading it; ``slip`` the
    variance a slip would have; ``ceiling`` marks a target that may lie anywhere below.
    """

    batch: str
    time: int
    target: float
    loadings: Loadings
    shares: Mapping[Arrow, float]
    reading: float
    slip: float
    columns: tuple[str, ...]
    ceiling: bool = False


@dataclass(frozen=True, slots=True)
class Noise:
    """Noise variance of an arrow (relative to its rows' share) and how well it is known."""

    variance: float
    dof: float


@dataclass(frozen=True, slots=True)
class Level:
    """One block learned at one walking speed.

    ``mean`` (p,) and ``root`` (p, k): the block's effects, then the stretches walked by each of
    ``walkers``; ``walked`` their loadings now, for a hand of unit size (empty when steady).
    ``spread`` is the learned variance of the crops' effects in units of the prior's.
    """

    weight: float
    mean: Array
    root: Array
    walked: Array
    walkers: tuple[Arrow, ...]
    noise: Mapping[Arrow, Noise]
    tails: Array
    spread: Mapping[Arrow, float]


@dataclass(frozen=True, slots=True)
class RowVerdict:
    """How a row fits: its surprise against the forecast by all the others."""

    batch: str
    columns: tuple[str, ...]
    surprise: float  # on the row's own scale
    slip_chance: float


@dataclass(frozen=True, slots=True)
class Block:
    """What was learned of the arrows of one block."""

    arrows: tuple[Arrow, ...]
    effects: Mapping[Effect, int]
    levels: tuple[Level, ...]
    verdicts: tuple[RowVerdict, ...]


def segments(length: int) -> list[int]:
    """Lengths of the stretches the walk is made of, oldest first: single batches at the end.

    Doubling lengths keep the count near log(length), whatever the length.
    """
    lengths: list[int] = []
    size, left = 1, length
    while left > 0:
        for _ in range(8 if size == 1 else 4):
            step = min(size, left)
            if step:
                lengths.append(step)
            left -= step
        size *= 2
    return lengths[::-1]


class _Design:
    """Matrices of a block's rows."""

    def __init__(self, rows: Sequence[Row], arrows: tuple[Arrow, ...], now: int) -> None:
        self.effects = {
            e: i for i, e in enumerate(dict.fromkeys(e for r in rows for e in r.loadings))
        }
        n = len(rows)
        self.X = np.zeros((n, len(self.effects)))
        self.shares = np.zeros((n, len(arrows)))
        hands = np.zeros((n, len(arrows)))
        for i, row in enumerate(rows):
            for effect, value in row.loadings.items():
                self.X[i, self.effects[effect]] = value
            for a, arrow in enumerate(arrows):
                self.shares[i, a] = row.shares.get(arrow, 0.0)
                hands[i, a] = row.loadings.get(Effect(arrow, "hand", ""), 0.0)
        self.y = np.array([row.target for row in rows])
        self.reading = np.array([row.reading for row in rows])
        self.slip = np.array([row.slip for row in rows])
        self.ceiling = np.array([row.ceiling for row in rows])
        self.crop = {
            arrow: np.array(
                [i for e, i in self.effects.items() if e.arrow is arrow and e.group == "crop"],
                dtype=int,
            )
            for arrow in arrows
        }
        self._walk(rows, hands, arrows, now)

    def _walk(self, rows: Sequence[Row], hands: Array, arrows: tuple[Arrow, ...], now: int) -> None:
        """Columns of the walking hands at unit speed: one for each stretch and walking arrow."""
        lengths = segments(now)
        ends = np.cumsum(lengths)
        time = np.array([row.time for row in rows])
        # Part of each stretch walked by the time of each row; the first batch is the start.
        starts = ends - lengths
        part = np.clip((time[:, None] - starts) / np.array(lengths), 0.0, 1.0)
        steps = part * np.sqrt(lengths)
        walking = [a for a, arrow in enumerate(arrows) if arrow in WALKING]
        self.walks = np.hstack(
            [np.zeros((len(rows), 0)), *(hands[:, [a]] * steps for a in walking)]
        )
        self.walk_now = np.sqrt(np.array(lengths, dtype=float))
        self.walkers = tuple(arrows[a] for a in walking)


def learn_block(
    rows: Sequence[Row], arrows: tuple[Arrow, ...], prior_noise: Mapping[Arrow, float], now: int
) -> Block:
    """Learn one block from its rows; ``now`` is the number of batches so far.

    ``prior_noise`` holds the prior noise variance of each arrow.
    """
    design = _Design(rows, arrows, now)
    speeds = SPEEDS if design.walkers and len(rows) > 1 else SPEEDS[:1]
    fits = [_Settling(design, arrows, prior_noise, speed) for speed in speeds]
    for fit in fits:
        for turn in range(ROUNDS):
            fit.turn(learn_spread=turn >= FIRST_JUDGE)
    score = np.array([fit.score() for fit in fits]) + np.log(SPEED_CHANCES[: len(fits)])
    weights = np.exp(score - score.max())
    weights /= weights.sum()
    levels = tuple(fit.level(float(w)) for fit, w in zip(fits, weights, strict=True))
    best = fits[int(weights.argmax())]
    verdicts = tuple(
        RowVerdict(row.batch, row.columns, float(miss), float(slip))
        for row, miss, slip in zip(rows, best.miss, best.judged.shares[:, -1], strict=True)
    )
    return Block(arrows, design.effects, levels, verdicts)


class _Settling:
    """Expectation-maximisation of one block at one walking speed; ``turn`` is one round."""

    def __init__(
        self,
        design: _Design,
        arrows: tuple[Arrow, ...],
        prior_noise: Mapping[Arrow, float],
        speed: float,
    ) -> None:
        self.design, self.arrows, self.speed = design, arrows, speed
        self.X = np.hstack([design.X, speed * design.walks]) if speed else design.X
        self.prior = np.array([prior_noise[arrow] for arrow in arrows])
        self.size, self.dof = self.prior.copy(), np.full(len(arrows), NOISE_DOF)
        self.spread = np.ones(self.X.shape[1])  # prior variance of each effect
        self.crop_spread = dict.fromkeys(arrows, 1.0)
        self.tails = TAIL_PRIOR
        self.y, self.reading = design.y.copy(), design.reading.copy()
        self.shares2 = design.shares**2
        self.variance = self.shares2 @ self.size + self.reading

    def turn(self, *, learn_spread: bool) -> None:
        """One round: solve, judge every row by the others, learn the sizes anew."""
        self.found = posterior(
            self.X,
            self.y,
            weights=1.0 / self.variance,
            prior_scale=np.sqrt(self.spread),
            noise_scale=1.0,
            noise_dof=math.inf,
        )
        reach = self.X @ self.found.root
        own = np.einsum("ij,ij->i", reach, reach)
        lift = self.variance / np.maximum(self.variance - own, 1e-9 * self.variance)
        self.miss, doubt = (self.y - self.X @ self.found.mean) * lift, own * lift
        noise = self.shares2 @ self.size
        self._place_ceilings(doubt, noise)
        self.judged = judge(self.miss, doubt, noise, self.reading, self.design.slip, self.tails)
        self.variance = self.judged.variance
        self.tails = tail_shares(self.judged.shares)
        self._learn_noise(noise)
        if learn_spread:
            self._learn_spread()

    def _place_ceilings(self, doubt: Array, noise: Array) -> None:
        """Rows known only as 'at most this': the target that says the same as a reading would.

        Moments of the truncated normal; the message of Minka (2001), expectation propagation.
        """
        for i in np.flatnonzero(self.design.ceiling):
            ahead = self.y[i] - self.miss[i]
            total = doubt[i] + noise[i] + self.design.reading[i]
            at = max((self.design.y[i] - ahead) / math.sqrt(total), -8.0)
            below = 0.5 * math.erfc(-at / math.sqrt(2.0))
            hazard = math.exp(-0.5 * at * at) / math.sqrt(2.0 * math.pi) / below
            kept = max(1.0 - hazard * (hazard + at), 1e-3)  # share of the variance left
            extra = total * kept / max(1.0 - kept, 1e-6)
            self.y[i] = ahead - hazard * math.sqrt(total) * (1.0 + extra / total)
            self.reading[i] = self.design.reading[i] + extra
            self.miss[i] = self.y[i] - ahead

    def _learn_noise(self, noise: Array) -> None:
        part = self.shares2 * self.size / noise[:, None]  # each arrow's part of a row's noise
        seen = np.where(self.shares2 > 0, part**2 * self.judged.known[:, None], 0.0)
        count = (self.shares2 > 0).sum(axis=0)
        grown = part * self.judged.relative[:, None] + 1.0 - part  # in units of the present size
        grown = np.where(self.shares2 > 0, grown, 0.0).sum(axis=0)
        self.size = (NOISE_DOF * self.prior + self.size * grown) / (NOISE_DOF + count)
        self.dof = NOISE_DOF + seen.sum(axis=0)

    def _learn_spread(self) -> None:
        root = self.found.root
        squares = self.found.mean**2 + np.einsum("ij,ij->i", root, root)
        for arrow in SPREADING & set(self.arrows):
            index = self.design.crop[arrow]
            learned = (SPREAD_DOF + squares[index].sum()) / (SPREAD_DOF + len(index))
            learned = min(max(float(learned), 1.0 / WIDEST), WIDEST)
            self.crop_spread[arrow] = learned
            self.spread[index] = learned

    def score(self) -> float:
        """Log evidence, with the priors of the sizes that were learned."""
        ratio = self.size / self.prior
        log_prior = -0.5 * NOISE_DOF * (np.log(ratio) + 1.0 / ratio).sum()
        spread = np.array(list(self.crop_spread.values()))
        log_prior -= 0.5 * SPREAD_DOF * (np.log(spread) + 1.0 / spread).sum()
        return float(log_prior + self.found.log_evidence + self.judged.price)

    def level(self, weight: float) -> Level:
        """What was settled, frozen."""
        return Level(
            weight=weight,
            mean=self.found.mean,
            root=self.found.root,
            walked=self.speed * self.design.walk_now if self.speed else np.zeros(0),
            walkers=self.design.walkers,
            noise={
                arrow: Noise(float(v), float(d))
                for arrow, v, d in zip(self.arrows, self.size, self.dof, strict=True)
            },
            tails=self.tails,
            spread=dict(self.crop_spread),
        )
