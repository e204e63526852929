"""Figures with their bands: over households as clusters, kept as JSON, printed old beside new."""

import argparse
import json
import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
from accuracy.command import options, seed_of
from accuracy.scores import Figure, crps, ratio

from jarcast import Forecast

QUICK_HOUSEHOLDS, QUICK_DRAWS = 40, 1024
_EACH = 100_000  # households' CRPS are kept as whole numbers of such parts

# What one forecast is scored by, for jars and for brine. CRPS is over the printed total, which
# everybody knows beforehand; the width over the truth.
CRPS, IN80, SHORT, WIDTH, PIT = range(5)
SCORES = ("CRPS", "80 % holds, %", "5 % short, %", "width", "PIT")
KINDS = ("jars", "brine")


def scores_of(
    found: Forecast, truths: tuple[float, float], printed: tuple[float, float], luck: float
) -> np.ndarray:
    """Scores of one forecast, shape (KINDS, SCORES); ``luck``, even in 0 to 1, is for the PIT.

    The PIT is randomised where draws equal the truth, as counts do: even if the forecast is right
    (Czado, Gneiting and Held 2009, Biometrics 65, section 2.1).
    """
    table = np.empty((len(KINDS), len(SCORES)))
    for o, (outcome, truth) in enumerate(zip((found.jars, found.brine_ml), truths, strict=True)):
        low, high = outcome.interval(0.8)
        same = np.isclose(outcome.draws, truth, rtol=1e-9, atol=1e-9)
        below = float(np.mean((outcome.draws < truth) & ~same))
        table[o] = (
            crps(outcome.draws, truth) / printed[o],
            low <= truth <= high,
            truth > outcome.quantile(0.95),
            (high - low) / truth,
            below + luck * float(np.mean(same)),
        )
    return table


def pooled(values: np.ndarray) -> Figure:
    """Mean of all that is known, shape (households, ...); the error counts households.

    A ratio of totals by household, linearised (Cochran 1977, Sampling Techniques, 3rd ed.,
    section 2.11); a household's own values may go together as they like.
    """
    flat = values.reshape(len(values), -1)
    known = np.isfinite(flat)
    total, count = np.where(known, flat, 0.0).sum(axis=1), known.sum(axis=1)
    if (count > 0).sum() < 2:
        return Figure(np.nan, np.nan)
    found = total.sum() / count.sum()
    off = total - found * count
    several = (count > 0).sum()
    error = np.sqrt((off**2).sum() * several / (several - 1)) / count.sum()
    return Figure(float(found), float(error))


def off_flat(pit: np.ndarray) -> Figure:
    """How far PIT values, shape (households, ...), are from flat: Kolmogorov's distance.

    The 'error' is half the distance that even values stay within 19 times in 20, 1.36 / sqrt(n)
    (Smirnov 1948, Annals of Mathematical Statistics 19), n being households, as if each counted
    once: flat is what is below twice the error.
    """
    values = np.sort(pit[np.isfinite(pit)])
    households = int(np.isfinite(pit.reshape(len(pit), -1)).any(axis=1).sum())
    if households < 2:
        return Figure(np.nan, np.nan)
    steps = np.arange(len(values) + 1) / len(values)
    distance = float(max((values - steps[:-1]).max(), (steps[1:] - values).max()))
    return Figure(distance, 0.68 / np.sqrt(households))


def figures(scores: np.ndarray, names: Sequence[str] = SCORES) -> dict[str, Figure]:
    """A figure for each score, of an array (households, ..., scores)."""
    found = {name: pooled(scores[..., i]) for i, name in enumerate(names) if name != "PIT"}
    if "PIT" in names:
        found["PIT off flat"] = off_flat(scores[..., names.index("PIT")])
    return found


@dataclass
class Results:
    """Figures by cell and by score, as one run found them.

    ``each`` holds the mean CRPS of every household in some cells: what two runs over the same
    households differ by is known far better than either of the two.
    """

    bench: str
    households: int
    seed: int
    draws: int
    seconds: float = 0.0
    cells: dict[str, dict[str, Figure]] = field(default_factory=dict)
    each: dict[str, list[float]] = field(default_factory=dict)

    def paired(self, cell: str, scores: np.ndarray) -> None:
        """Keep the CRPS of each household in a cell, an array (households, ..., SCORES)."""
        flat = scores[..., CRPS].reshape(len(scores), -1)
        known = np.isfinite(flat)
        total, count = np.where(known, flat, 0.0).sum(axis=1), known.sum(axis=1)
        means = np.where(count > 0, total / np.maximum(count, 1), np.nan)
        self.each[cell] = [round(float(one), 5) for one in means]  # as it is kept

    def over(self, old: "Results", cell: str) -> Figure:
        """CRPS of a cell over that of an earlier run, over the households that both have."""
        if self.seed != old.seed or cell not in self.each or cell not in old.each:
            return Figure(np.nan, np.nan)
        several = min(self.households, old.households)
        return ratio(np.array(self.each[cell][:several]), np.array(old.each[cell][:several]))

    def saved(self, path: Path) -> None:
        """Write them as JSON, a line a cell: value and standard error of each score."""
        head = {name: getattr(self, name) for name in ("bench", "households", "seed", "draws")}
        lines = [f"{json.dumps('about')}: {json.dumps({**head, 'seconds': round(self.seconds)})}"]
        for cell, scores in self.cells.items():
            pairs = {name: [_plain(one.value), _plain(one.error)] for name, one in scores.items()}
            lines.append(f"{json.dumps(cell)}: {json.dumps(pairs)}")
        each = {
            cell: [None if np.isnan(one) else round(one * _EACH) for one in values]
            for cell, values in self.each.items()
        }
        lines += [f'"each": {json.dumps(each, separators=(",", ":"))}'] if each else []
        path.write_text("{\n" + ",\n".join(lines) + "\n}\n", encoding="utf-8")


def _plain(value: float) -> float | None:
    return None if not np.isfinite(value) else float(f"{value:.5g}")


def stored(path: Path) -> Results:
    """Read what ``saved`` wrote."""
    read = json.loads(path.read_text(encoding="utf-8"))
    results = Results(**read.pop("about"))
    for cell, values in read.pop("each", {}).items():
        results.each[cell] = [np.nan if one is None else one / _EACH for one in values]
    for cell, scores in read.items():
        results.cells[cell] = {
            name: Figure(*(np.nan if one is None else one for one in pair))
            for name, pair in scores.items()
        }
    return results


def lines(found: Results, old: Results | None) -> list[str]:
    """The cells as a markdown table; with ``old`` figures an arrow leads from them to the new."""
    titles = list(dict.fromkeys(name for scores in found.cells.values() for name in scores))
    shares = old is not None and bool(found.each) and bool(old.each)
    heads = ["", *titles, *(["CRPS, new / old"] if shares else [])]
    rows = ["| " + " | ".join(heads) + " |", "| --- " * len(heads) + "|"]
    for cell, scores in found.cells.items():
        before: Mapping[str, Figure] = old.cells.get(cell, {}) if old else {}
        shown = []
        for name in titles:
            text = shown_as(name, scores.get(name))
            if name in before and name in scores:
                text = f"{shown_as(name, before[name])} → {text}"
            shown.append(text)
        if old is not None and shares:
            shown.append(shown_as("CRPS, new / old", found.over(old, cell)))
        rows.append(f"| {cell} | " + " | ".join(shown) + " |")
    return rows


def shown_as(name: str, one: Figure | None) -> str:
    """A figure with a band of two standard errors; shares in per cent."""
    if one is None or not np.isfinite(one.value):
        return "-"
    times, places = (100, 1) if "%" in name else (1, 0 if name == "batches" else 3)
    band = f" ± {2 * times * one.error:.{places}f}" if one.error > 0 else ""
    return f"{times * one.value:.{places}f}{band}"


def counter_options(about: str | None, households: int) -> argparse.ArgumentParser:
    """The options of a benchmark of the counter."""
    parser = options(about, households)
    parser.add_argument("--quick", action="store_true",
                        help=f"{QUICK_HOUSEHOLDS} households, {QUICK_DRAWS} draws")  # fmt: skip
    parser.add_argument("--save", type=Path, help="JSON file to write the figures to")
    parser.add_argument("--beside", type=Path, help="JSON file of earlier figures, shown as old")
    return parser


def started(parser: argparse.ArgumentParser, bench: str) -> tuple[argparse.Namespace, Results]:
    """What was given, and results to fill."""
    asked = parser.parse_args()
    if asked.quick:
        asked.households, asked.draws = QUICK_HOUSEHOLDS, QUICK_DRAWS
    results = Results(bench, asked.households, seed_of(asked), asked.draws, -time.monotonic())
    return asked, results


def finished(asked: argparse.Namespace, results: Results) -> None:
    """Print the table, and keep the figures where that was given."""
    results.seconds += time.monotonic()
    old = stored(asked.beside) if asked.beside else None
    print(
        f"{results.households} households, seed {results.seed}, {results.draws} draws a forecast, "
        f"{results.seconds:.0f} s. ± is two standard errors over households.\n"
    )
    if old:
        print(f"Old: {old.households} households, seed {old.seed}, {old.draws} draws.\n")
    print("\n".join(lines(results, old)))
    if asked.save:
        results.saved(asked.save)
