"""Learning the brine link, whose noise goes with the pot loss that is learned along with it."""

import math
from collections.abc import Mapping, Sequence

from jarcast.domain.batch import Batch
from jarcast.domain.stages import Link
from jarcast.learning.arrays import Array
from jarcast.learning.fit.design import Design
from jarcast.learning.fit.em import fit_block
from jarcast.learning.fit.sites import usual_variance
from jarcast.learning.model.beliefs import People
from jarcast.learning.model.brine_rows import brine_rows, noise_by_loss
from jarcast.learning.model.circumstances import Circumstances
from jarcast.learning.model.effects import POT_LOSS, Effect
from jarcast.learning.model.endings import Cases
from jarcast.learning.model.scales import Instruments
from jarcast.learning.posterior import Block, Component

_LOSS_CONVERGED = 0.25  # a pot loss that moves by no more, in logs, is not worth another fit


class BrineLink:
    """The brine link; its noise depends on the pot loss, which is learned along with it."""

    def __init__(
        self,
        batches: Sequence[Batch],
        cases: Sequence[Circumstances],
        people: People,
        endings: Cases,
        instruments: Instruments,
    ) -> None:
        """Lay out the rows; see ``brine_rows``."""
        self.people = people
        self.rows = brine_rows(batches, cases, people, endings, instruments)
        self.design = Design(self.rows, (Link.BRINE,), len(batches))

    def learn(self, log_chance: Array, *, first_look: bool = False) -> Block:
        """Learn with these log chances of the cases of each batch, (batches, CASES)."""
        people, design = self.people, self.design
        design.set_chances(log_chance)
        design.set_shares(noise_by_loss(self.rows, people.loss_ml, people)[:, None])
        assumed = people.loss_ml

        def revise(component: Component) -> bool:
            nonlocal assumed
            loss, _ = _loss(design.effects, component, people.loss_ml, people.loss_between_people)
            design.set_shares(noise_by_loss(self.rows, loss, people)[:, None])
            moved, assumed = abs(math.log(loss / assumed)), loss
            return moved > _LOSS_CONVERGED

        noise = {Link.BRINE: usual_variance(1.0)}
        return fit_block(design, noise, revise, first_look=first_look)


def loss_so_far(brine: Block, usual: float, between: float) -> tuple[float, float]:
    """Mean and sd in ml of this person's pot loss, the mean at least a tenth of the usual."""
    return _loss(brine.effects, brine.components[0], usual, between)


def _loss(
    effects: Mapping[Effect, int], component: Component, usual: float, between: float
) -> tuple[float, float]:
    index = effects.get(POT_LOSS)
    if index is None:
        return usual, usual * between
    mean = usual * (1.0 + between * float(component.mean[index]))
    sd = usual * between * math.sqrt(component.root[index] @ component.root[index])
    return max(mean, 0.1 * usual), sd
