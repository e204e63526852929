"""Score first forecasts, from no history, against what real cooks say they got.

    python -m tests.benchmarks real_cooks
    python -m tests.benchmarks real_cooks --beside tests/benchmarks/results/before/real_cooks.json

The reports are ``models/sources/real-yields.csv``, each with its page. One whose weight was told
is scored; where only a range, a part or a count was told, apart from these; an upper bound never.
Beliefs are made anew without the source of the row that is scored (its site, and the tested recipe
it is a copy of). Figures are means over rows, ± two standard errors over sources, each source with
the sum of its rows. 'log score' is the log density of the log of the jars reported (higher is
better), by a normal kernel over the draws and by a normal fitted to them; 'log miss' the log of
reported over forecast jars; 'span' the high over the low end of the 90 % range. A weight of no told
stage is half as bought, half trimmed. It takes half a minute.
"""

import argparse
import csv
import json
import math
import re
import sys
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from urllib.parse import urlsplit

import numpy as np
from numpy.typing import NDArray

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT / "models"))  # the scripts there import one another

import build_beliefs  # noqa: E402

from jarcast import Habits, habits_from  # noqa: E402
from jarcast.learning.model.beliefs import beliefs_from  # noqa: E402

REPORTS = ROOT / "models" / "sources" / "real-yields.csv"
DRAWS = 8192
LEVELS = (50, 80, 90)
TOLD, APART = "told", ("range", "partial", "count")
STAGES = {"as_bought": ("as_bought_g",), "trimmed": ("trimmed_g",)}
EITHER = ("as_bought_g", "trimmed_g")

Array = NDArray[np.float64]
Row = Mapping[str, str]


@dataclass(frozen=True)
class Scored:
    """One report against its forecast; logs are of jars."""

    id: str
    site: str
    kind: str  # how the weight is known
    reported: str
    crop: str
    jars: float
    median: float
    held: Mapping[int, bool]
    span: float
    kernel: float
    normal: float

    @property
    def miss(self) -> float:
        """Log of reported over forecast jars: above 0 where people got more."""
        return math.log(self.jars / self.median)


def reports() -> list[Row]:
    """The reports that can be scored."""
    with REPORTS.open(encoding="utf-8", newline="") as lines:
        return [row for row in csv.DictReader(lines) if kind_of(row) != "bound"]


def kind_of(row: Row) -> str:
    """How its weight is known: 'told', 'range', 'partial', 'count' or 'bound'."""
    return re.findall(r"\[W:(\w+)", row["note"])[0]


def site_of(row: Row) -> str:
    """The source it comes from: the host of its page."""
    return urlsplit(row["link"]).netloc.removeprefix("www.")


def not_known(row: Row, rows: Iterable[Row]) -> frozenset[str]:
    """Ids of what its forecast may not have read: its site's reports and the recipe it copies."""
    same = {other["id"] for other in rows if site_of(other) == site_of(row)}
    copied = re.findall(r"\bR\d+\b", row["note"]) if row["reported_kind"] == "copy" else []
    return frozenset(same.union(copied))


@cache
def beginner(without: frozenset[str]) -> Habits:
    """Nobody's habits: beliefs made without these sources, and no batch."""
    return habits_from([], beliefs_from(build_beliefs.build(without), "some left out"))


def draws_of(row: Row, habits: Habits) -> Array:
    """Draws of the jars that a forecast gives for the weight reported."""
    headspace = re.search(r"\[hs=([\d.]+)\]", row["note"])
    found = [
        habits.forecast(
            produce=row["produce"],
            cut=row["cut"],
            pack=row["pack"],
            jar=row["jar"],
            cure_hours=float(row["cured_hours"]) if row["cured_hours"] else None,
            headspace_in=float(headspace[1]) if headspace else None,
            draws=DRAWS,
            **{stage: float(row["weight_g"])},
        ).jars.draws
        for stage in STAGES.get(row["basis"], EITHER)
    ]
    return np.asarray(np.concatenate(found), dtype=np.float64)


def score(row: Row, draws: Array) -> Scored:
    """A report against the draws of its forecast."""
    jars, logs = float(row["jars"]), np.log(draws)
    ends = {
        level: np.quantile(draws, [0.5 - level / 200.0, 0.5 + level / 200.0]) for level in LEVELS
    }
    off = (math.log(jars) - logs) / (width := 1.06 * logs.std() * logs.size**-0.2)
    kernel = np.logaddexp.reduce(-0.5 * off**2) - math.log(logs.size * width)
    normal = -0.5 * ((math.log(jars) - logs.mean()) / logs.std()) ** 2 - math.log(logs.std())
    constant = 0.5 * math.log(2.0 * math.pi)
    return Scored(
        row["id"], site_of(row), kind_of(row), row["reported_kind"],
        "/".join((row["produce"], row["cut"], row["pack"])), jars, float(np.median(draws)),
        {level: bool(low <= jars <= high) for level, (low, high) in ends.items()},
        float(ends[90][1] / ends[90][0]), float(kernel) - constant, float(normal) - constant,
    )  # fmt: skip


def clustered(rows: Sequence[Scored], value: Callable[[Scored], float]) -> tuple[float, float]:
    """Mean over rows and its standard error over sources (the sums of rows' deviations)."""
    values = np.array([value(row) for row in rows])
    mean = float(values.mean())
    sums: dict[str, float] = {}
    for row, each in zip(rows, values, strict=True):
        sums[row.site] = sums.get(row.site, 0.0) + float(each) - mean
    few = len(sums) / max(len(sums) - 1, 1)
    return mean, math.sqrt(few * sum(each**2 for each in sums.values())) / len(rows)


def figures(rows: Sequence[Scored]) -> dict[str, tuple[float, float]]:
    """Each figure's mean and standard error."""
    found = {
        f"{level} % holds": clustered(rows, lambda row, at=level: float(row.held[at]))  # type: ignore[misc]
        for level in LEVELS
    }
    found["log score, kernel"] = clustered(rows, lambda row: row.kernel)
    found["log score, normal"] = clustered(rows, lambda row: row.normal)
    found["log miss"] = clustered(rows, lambda row: row.miss)
    found["rms log miss"] = (math.sqrt(sum(row.miss**2 for row in rows) / len(rows)), 0.0)
    found["median 90 % span"] = (float(np.median([row.span for row in rows])), 0.0)
    return found


def groups(rows: Sequence[Scored]) -> dict[str, list[Scored]]:
    """The rows by how their weight is known, and those told by what the report is."""
    told = [row for row in rows if row.kind == TOLD]
    found = {TOLD: told}
    for reported in ("actual", "printed", "copy"):
        found[f"told, {reported}"] = [row for row in told if row.reported == reported]
    return found | {kind: [row for row in rows if row.kind == kind] for kind in APART}


def all_scored(kinds: Sequence[str] = (TOLD, *APART)) -> list[Scored]:
    """Every report of these kinds scored, each by beliefs that have not read its source."""
    rows = reports()
    return [
        score(row, draws_of(row, beginner(not_known(row, rows))))
        for row in rows
        if kind_of(row) in kinds
    ]


def main(words: Sequence[str] | None = None) -> int:
    """Score, print, and save on request."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--save", type=Path, help="keep the figures, as JSON")
    parser.add_argument("--beside", type=Path, help="print the figures of this file beside the new")
    parser.add_argument("--rows", action="store_true", help="print each report, too")
    options = parser.parse_args(words)
    scored = all_scored()
    if options.rows:
        for row in sorted(scored, key=lambda row: row.miss):
            held = " ".join("in" if row.held[level] else "--" for level in LEVELS)
            print(
                f"{row.id} {row.kind:7} {row.crop:32} {row.jars:5.1f} by {row.median:5.1f} "
                f"miss {row.miss:+.2f} {held} span {row.span:.1f} score {row.kernel:+.2f}"
            )
    now = {name: figures(rows) for name, rows in groups(scored).items() if rows}
    before = json.loads(options.beside.read_text("utf-8")) if options.beside else {}
    for name, found in now.items():
        print(f"\n{name} ({len(groups(scored)[name])} reports)")
        for figure, (mean, error) in found.items():
            was = before.get(name, {}).get(figure)
            beside = "" if was is None else f"   was {was[0]:+.2f}"
            print(f"  {figure:18} {mean:+.2f} ± {2 * error:.2f}{beside}")
    if options.save:
        options.save.write_text(json.dumps(now, indent=1) + "\n", "utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())
