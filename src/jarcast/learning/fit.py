"""Learning one block of arrows: the regression, and what sits around it.

A block is the arrows that some row ties together; its rows are solved as one regression. Around
that closed form: noise sizes and the size of the crops' spread are learned by expectation-
maximisation under inverse-gamma priors (MacKay 1992, Neural Computation 4; Bishop, Pattern
Recognition and Machine Learning, 2006, section 10.3), long tails by ``robust``, and a hand that
changes by letting it walk at a few speeds, weighed by the evidence of each.
"""

import math
from collections.abc import Callable, Mapping, Sequence

import numpy as np

from jarcast.batch import Arrow
from jarcast.learning.block import Block, Level, Noise, Row, RowVerdict, Scale
from jarcast.learning.design import Design
from jarcast.learning.left_out import Groups
from jarcast.learning.regression import Array, proper_posterior
from jarcast.learning.robust import TAIL_PRIOR, judge, tail_shares

ROUNDS = 5  # of a steady hand
WALK_ROUNDS = 3  # of a walking hand, which starts from where the steady one settled
REVISED_ROUNDS = 3  # after each revision of brine's noise; before the first there are FIRST_JUDGE
MOST_REVISIONS = 5
# Each round goes so much farther, in logs, than expectation-maximisation would: it settles sooner
# (Salakhutdinov and Roweis 2003, "Adaptive overrelaxed bound optimization methods", from memory).
# Not with ceilings, which are placed anew each round.
STRIDE = 1.4
# Rounds in which slips are found before anything could be spread to fit them, and noise is learned
# before it could pass for tails, which give it back slowly.
FIRST_JUDGE = 2
NOISE_DOF = 6.0  # batches the prior noise size is worth
SCATTER_DOF = 20.0  # batches of one cell the common noise is worth
SPREAD_DOF = 4.0  # effects the prior size of the crops' spread is worth
WIDEST = 5.0  # learned variance of the crops' effects over the prior's, at most

# Speeds of the walking hand: sd of its step from one batch to the next, in units of the spread
# between people, and the prior chance of each. Zero is a steady hand.
SPEEDS = (0.0, 0.1, 0.25)
SPEED_CHANCES = (0.72, 0.14, 0.14)


def learn_block(
    rows: Sequence[Row], arrows: tuple[Arrow, ...], prior_noise: Mapping[Arrow, float], now: int
) -> Block:
    """Learn one block from its rows; ``now`` is the number of batches so far.

    ``prior_noise`` holds the prior noise variance of each arrow.
    """
    return settle(Design(rows, arrows, now), prior_noise)


def settle(
    design: Design,
    prior_noise: Mapping[Arrow, float],
    revise: Callable[[Level], bool] | None = None,
) -> Block:
    """Learn one block that is laid out; see ``learn_block``.

    ``revise`` sees what a steady hand settled on and shares out the design's noise anew; it tells
    whether that moved so far that it is to be asked again.
    """
    rows = design.rows
    speeds = SPEEDS if design.walkers and len(rows) > 1 else SPEEDS[:1]
    X, sizes = design.thinned.X, design.thinned.sizes
    steady = Groups(X, sizes)
    if len(speeds) > 1:
        walking = Groups(np.hstack([X, design.walks]), [*sizes, design.walks.shape[1]])
    fits = [_Settling(design, prior_noise, walking if speed else steady, speed) for speed in speeds]
    first, *others = fits
    first.turns(ROUNDS if revise is None else FIRST_JUDGE, judging_first=FIRST_JUDGE)
    first.finish()
    if revise is not None and rows:
        first.revised(revise)
    for fit in others:
        fit.start_from(first)
        fit.turns(WALK_ROUNDS)
        fit.finish()
    score = np.array([fit.score() for fit in fits]) + np.log(SPEED_CHANCES[: len(fits)])
    weights = np.exp(score - score.max())
    weights /= weights.sum()
    levels = tuple(fit.level(float(w)) for fit, w in zip(fits, weights, strict=True))
    best = fits[int(weights.argmax())]
    verdicts = tuple(
        RowVerdict(row.batch, row.columns, miss, _factor(row, miss), slip)
        for row, miss, slip in zip(
            rows, best.miss.tolist(), best.judged.shares[-1].tolist(), strict=True
        )
    )
    return Block(design.arrows, design.effects, design.stretches, levels, verdicts)


def _factor(row: Row, miss: float) -> float:
    """How many times more than expected a row's later amount is."""
    if row.scale is Scale.LOG:
        return math.exp(min(max(miss, -50.0), 50.0))
    if row.scale is Scale.LOGIT:
        odds = row.amount / (1.0 - row.amount) * math.exp(min(max(-miss, -50.0), 50.0))
        return row.amount * (1.0 + odds) / odds
    used = max(row.amount, 1.0)
    return used / max(used + miss, 1e-3 * used)


class _Settling:
    """Expectation-maximisation of one block at one walking speed; ``turn`` is one round.

    Its groups of coefficients: those of a prior that stays, each arrow's crops, and the walk.
    """

    def __init__(
        self,
        design: Design,
        prior_noise: Mapping[Arrow, float],
        groups: Groups,
        speed: float,
    ) -> None:
        self.design, self.groups, self.speed = design, groups, speed
        self.arrows = arrows = design.arrows
        self.prior = np.array([prior_noise[arrow] for arrow in arrows])
        self.size, self.dof = self.prior.copy(), np.full(len(arrows), NOISE_DOF)
        self.crop_spread = dict.fromkeys(arrows, 1.0)
        self.tails = TAIL_PRIOR
        self.stride = 1.0 if design.ceilings else STRIDE
        self.scatter = np.ones(len(design.cells))  # noise variance of each cell, relative
        self.y, self.reading = design.y.copy(), design.reading.copy()
        self.variance = self._noise() + self.reading

    def start_from(self, settled: "_Settling") -> None:
        """Start from what another speed settled on, but for the noise: that may be the walk."""
        self.tails = settled.tails
        self.crop_spread = dict(settled.crop_spread)
        self.y, self.reading = settled.y.copy(), settled.reading.copy()
        self.variance = self._noise() + self.reading

    def _noise(self) -> Array:
        """Usual noise variance of each row."""
        noise: Array = (self.design.shares2 @ self.size) * self.scatter[self.design.cell]
        return noise

    def _spread(self) -> list[float]:
        """Prior variance of each group's coefficients, but for the walk's."""
        return [1.0, *(self.crop_spread[arrow] for arrow in self.design.spreading)]

    def turns(self, rounds: int, judging_first: int = 0) -> None:
        """Rounds of ``turn``. Without rows one is enough: all sizes stay as believed."""
        for number in range(rounds if self.design.rows else 1):
            self.turn(judging=number < judging_first)

    def revised(self, revise: Callable[[Level], bool]) -> None:
        """Share out the noise anew and go on, until that moves little."""
        for _ in range(MOST_REVISIONS):
            moved = revise(self.level(1.0))
            self.turns(REVISED_ROUNDS)
            self.finish()
            if not moved:
                break

    def turn(self, *, judging: bool) -> None:
        """One round: forecast every row by the others, judge it, learn the sizes anew.

        Only the noise where it is ``judging`` first.
        """
        spread = self._spread()
        if self.speed:
            spread.append(self.speed**2)
        seen = self.groups.left_out(self.y, self.variance, np.array(spread))
        self.miss, doubt = seen.miss, seen.doubt
        noise = self._noise()
        self._place_ceilings(doubt, noise)
        slip, log_slipped = self.design.slip, self.design.log_slipped
        self.judged = judge(self.miss, doubt, noise, self.reading, slip, log_slipped, self.tails)
        self.variance = self.judged.variance
        self._learn_noise()
        if not judging:
            self.tails = tail_shares(self.judged.shares)
            self._learn_spread(seen.squares)

    def finish(self) -> None:
        """The posterior at the sizes that were settled on."""
        thinned, spread = self.design.thinned, np.array(self._spread())
        X, prior = thinned.X, np.repeat(spread, thinned.sizes)
        if self.speed:
            X = np.hstack([X, self.speed * self.design.walks])
            prior = np.append(prior, np.ones(self.design.walks.shape[1]))
        self.found = proper_posterior(X, self.y, self.variance, prior)
        self.mean, self.root = thinned.turned_back(self.found.mean, self.found.root, spread)

    def _place_ceilings(self, doubt: Array, noise: Array) -> None:
        """Rows known only as 'at most this': the target that says the same as a reading would.

        Moments of the truncated normal; the message of Minka (2001), expectation propagation.
        """
        for i in self.design.ceilings:
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

    def _learn_noise(self) -> None:
        """Sizes of the arrows' noise, and then of each cell's about them.

        One after the other (Meng and Rubin 1993, Biometrika 80): both at once would each take up
        the whole of a change, and overshoot.
        """
        design, judged = self.design, self.judged
        part = design.shares2 * self.size
        before = np.add.reduce(part, axis=1)
        part /= before[:, None]  # each arrow's part of a row's noise
        # In units of the present size; a row that an arrow has no part in says nothing of it.
        grown = design.arrow_rows + (judged.relative - 1.0) @ part
        size = (NOISE_DOF * self.prior + self.size * grown) / (NOISE_DOF + design.arrow_rows)
        self.size = self.size * (size / self.size) ** self.stride
        self.dof = NOISE_DOF + judged.known @ part**2
        cells, after = len(self.scatter), design.shares2 @ self.size
        seen = np.bincount(design.cell, weights=judged.relative * before / after, minlength=cells)
        scatter = (SCATTER_DOF + self.scatter * seen) / (SCATTER_DOF + design.cell_rows)
        self.scatter = self.scatter * (scatter / self.scatter) ** self.stride

    def _learn_spread(self, squares: Array) -> None:
        """Of each arrow's crops; what no row speaks of stays as believed."""
        for group, arrow in enumerate(self.design.spreading, start=1):
            count, unseen = len(self.design.crop[arrow]), self.design.thinned.unseen[group]
            total = float(squares[group]) + unseen * self.crop_spread[arrow]
            before = self.crop_spread[arrow]
            learned = before * ((SPREAD_DOF + total) / (SPREAD_DOF + count) / before) ** self.stride
            self.crop_spread[arrow] = min(max(learned, 1.0 / WIDEST), WIDEST)

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
            mean=self.mean,
            root=self.root,
            walked=self.speed * self.design.walk_now if self.speed else np.zeros(0),
            walkers=self.design.walkers,
            noise={
                arrow: Noise(float(v), float(d))
                for arrow, v, d in zip(self.arrows, self.size, self.dof, strict=True)
            },
            tails=self.tails,
            spread=dict(self.crop_spread),
            scatter=dict(zip(self.design.cells, map(float, self.scatter), strict=True)),
        )
