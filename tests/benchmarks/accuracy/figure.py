"""The main scores of a run as one picture: a row of panels for each world."""

from collections.abc import Mapping
from pathlib import Path

import numpy as np

from accuracy.replay import OUTCOMES, Trial
from accuracy.tables import Scores, figure

_READY = 0  # the question drawn: from the ready weight
_WORST_SHOWN = 3.5  # of CRPS; beyond it the lines of the others would lie on one another


def _width(peer: str) -> float:
    return 2.2 if peer == "jarcast" else 1.0


def draw(runs: Mapping[str, tuple[Trial, Scores]], path: Path) -> None:
    """CRPS and coverage at 80 % against own batches, for jars and brine; bars are 2 errors."""
    from matplotlib.figure import Figure

    panels = [(which, outcome) for which in ("crps", "80") for outcome in range(len(OUTCOMES))]
    page = Figure(figsize=(4.2 * len(panels), 3.4 * len(runs)), layout="constrained")
    axes = page.subplots(len(runs), len(panels), squeeze=False)
    for row, (world, (trial, scores)) in zip(axes, runs.items(), strict=True):
        places = np.arange(len(trial.sizes))
        for axis, (which, outcome) in zip(row, panels, strict=True):
            for peer in trial.peers:
                cells = [figure(scores, peer, _READY, outcome, which, int(i)) for i in places]
                values = np.array([cell.value for cell in cells])
                errors = np.array([2 * cell.error for cell in cells])
                axis.errorbar(places, values, errors, label=peer, marker="o", ms=3, lw=_width(peer))
            axis.set_xticks(places, [str(size) for size in trial.sizes])
            axis.set_xlabel("own batches")
            if which == "crps":
                axis.set_title(f"{world}: {OUTCOMES[outcome]}, CRPS (oracle = 1)")
                axis.set_ylim(0.95, _WORST_SHOWN)
            else:
                axis.set_title(f"{world}: {OUTCOMES[outcome]}, 80 % range holds (%)")
                axis.axhspan(78, 83, color="0.9", zorder=0)
                axis.set_ylim(50, 100)
    handles, labels = axes[0, 0].get_legend_handles_labels()
    page.legend(handles, labels, loc="outside lower center", ncols=len(labels), fontsize="small")
    page.savefig(path, dpi=110)
