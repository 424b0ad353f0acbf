"""How good layouts are: shares of the bound on generated cutting jobs, on one core.

    python -m tests.bench.place                        medium jobs, 2 and 10 s, seeds 0-9
    python -m tests.bench.place --size large --seconds 10,60 --seeds 0
    python -m tests.bench.place growth                 1 to 1000 boards: first layout, gap, memory
    python -m tests.bench.place again                  a lot placed again after five events
    python -m tests.bench.place published              all published plates
    python -m tests.bench.place facts                  what rough mills report of the same changes
    python -m tests.bench.place packing                a general packing library in the same run
    python -m tests.bench.place settled -o FOLDER      own bounds, sought until they settle

Seeds of 100 and more were used for tuning; nothing below. Every layout goes through the project's
validator and through the jobs' own. Time is CPU time, so that a busy machine counts the same as an
idle one. Bounds and greedy values of seeds 0-4 are those of ``results.jsonl`` beside the jobs;
others are read from ``--bounds`` (a folder of ``SIZE-REGIME-SEED.json``, each with ``bound``
or ``best``, as the jobs' own programs print them), or left out. A bound that had a minute need not
be settled: with ``--settled`` (a folder that ``settled`` wrote) a second row holds the layouts
against the closer one of that bound and the outside one.
"""

from __future__ import annotations

import argparse
import json
import os
import sys
import time
from dataclasses import dataclass
from functools import partial
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from scanner.placement.solve import solve
from scanner.placement.stop import Work
from scanner.placement.validator.judge import validate_layout
from tests.bench.cutting_jobs import cutting_folder, cutting_job, outside_objections
from tests.bench.figures import Bench, Figure, keep, mean_text
from tests.bench.many import in_order

MORE = ("growth", "again", "published", "facts", "packing", "settled")

# What the exact three-stage class is asked for: size, wood, against what, after how many seconds.
BARS: dict[tuple[str, str, str, float], float] = {
    ("medium", "scarce", "bound", 2): 0.95,
    ("medium", "scarce", "bound", 10): 0.975,
    ("large", "scarce", "bound", 10): 0.945,
    ("large", "scarce", "bound", 60): 0.965,
    ("large", "scarce", "greedy", 60): 1.12,
    ("huge", "scarce", "greedy", 60): 1.09,
    ("medium", "ample", "greedy", 10): 0.85,
    ("large", "ample", "greedy", 10): 0.92,
    ("large", "ample", "greedy", 60): 0.88,
}

AGAINST = {
    "bound": "share of the outside bound",
    "settled": "share of the closer of it and the settled own bound",
    "greedy": "against the best greedy",
}

if TYPE_CHECKING:
    from scanner.placement.layout import Layout
    from scanner.placement.shop import CutClass


class CpuSeconds:
    """Stop after so much CPU time of this process."""

    def __init__(self, seconds: float) -> None:
        self.seconds = seconds
        self._begin = time.process_time()

    def start(self) -> None:
        self._begin = time.process_time()

    def is_over(self, steps: int) -> bool:
        return self.seconds_left(steps) <= 0

    def share(self, steps: int) -> float:
        return 1.0 - self.seconds_left(steps) / self.seconds

    def seconds_left(self, steps: int) -> float:
        return self._begin + self.seconds - time.process_time()


@dataclass(frozen=True, slots=True)
class Run:
    """What one job had reached after so many seconds; ``own_gap`` and judges: the last only."""

    seed: int
    seconds: float
    value: float
    first_s: float
    share: float | None
    settled_share: float | None
    against_greedy: float | None
    own_gap: float | None
    objections: int


def known(size: str, regime: str, seed: int, folder: Path | None) -> tuple[float, float]:
    """Return bound and best greedy value of a job in mm2; not-a-number where unknown."""
    bound = greedy = float("nan")
    name = f"{size}-{regime}-{seed}"
    for line in (cutting_folder() / "results.jsonl").read_text().splitlines():
        row = json.loads(line)
        if row["job"] == name:
            bound = row.get("bound", {}).get("bound", bound)
            greedy = row.get("greedy", {}).get("best", greedy)
    # Of seed 6, not of 60; ``-greedy`` and the like may follow.
    for path in folder.glob(f"{name}[!0-9]*json") if folder else ():
        # The last line is the answer; one that is still being worked out has none.
        lines = path.read_text().splitlines()
        if not lines or not lines[-1].startswith("{"):
            continue
        row = json.loads(lines[-1])
        bound, greedy = row.get("bound", bound), row.get("best", greedy)
    return bound, greedy


def settled_file(folder: Path, size: str, regime: str, seed: int) -> Path:
    """Return where ``settled`` keeps the bound of a job."""
    return folder / f"{size}-{regime}-{seed}.json"


def settled_bound(
    size: str, regime: str, seed: int, cut_class: CutClass, folder: Path | None, outside: float
) -> float:
    """Return the closer one of a job's settled bound and the outside one, mm2.

    Not-a-number where the job's own bound of this cut class is not kept in the folder.
    """
    path = settled_file(folder, size, regime, seed) if folder else None
    row = json.loads(path.read_text()) if path and path.is_file() else {}
    if row.get("class") != cut_class:
        return float("nan")
    own = float(row["bound"])
    # The outside bound knows only parts as wide as their strip.
    if cut_class != "three_stage" or outside != outside:
        return own
    return min(own, outside) if regime == "scarce" else max(own, outside)


def objective(layout: Layout, regime: str, priorities: dict[str, float]) -> float:
    if regime == "ample":
        if layout.summary.placed < layout.summary.asked:
            return float("inf")
        return layout.summary.area_opened_mm2
    return sum(priorities[p.part] * p.length_mm * p.width_mm for p in layout.placements)


def run(
    size: str,
    regime: str,
    seed: int,
    marks: list[float],
    cut_class: CutClass,
    bounds: Path | None,
    settled: Path | None = None,
) -> list[Run]:
    """Solve one job once and return what it had reached after each of the seconds.

    The search does not look ahead to its end, so that what it shows after 2 s of 10 is what it
    gives where it is stopped at 2 s. Every layout that counts is judged.
    """
    job = cutting_job(size, regime, seed, cut_class)
    stop = CpuSeconds(marks[-1])
    shown: list[tuple[float, Layout]] = []
    layout = solve(
        job.boards,
        job.parts,
        job.shop,
        stop,
        on_better=lambda better: shown.append((marks[-1] - stop.seconds_left(0), better)),
    )
    bound, greedy = known(size, regime, seed, bounds)
    closer = settled_bound(size, regime, seed, cut_class, settled, bound)
    found = []
    for seconds in marks:
        is_last = seconds == marks[-1]
        seen = [better for at, better in shown if at <= seconds]
        reached = layout if is_last else seen[-1]
        said = (
            [*map(str, validate_layout(layout, job.boards, job.parts, job.shop))] if is_last else []
        )
        said += outside_objections(job, reached)
        value = objective(reached, regime, {part.name: part.priority for part in job.parts})
        share, of_closer = (
            value / most if regime == "scarce" else most / value for most in (bound, closer)
        )
        found.append(
            Run(
                seed,
                seconds,
                value,
                shown[0][0],
                None if share != share else share,
                None if of_closer != of_closer else of_closer,
                None if greedy != greedy else value / greedy,
                layout.bound.gap if is_last else None,
                len(said),
            )
        )
    return found


def mean(values: list[float | None]) -> str:
    known_values = [value for value in values if value is not None]
    if not known_values:
        return "-"
    return f"{sum(known_values) / len(known_values):.4f} (n={len(known_values)})"


def warm() -> None:
    """Load what the search needs, which is not to count as its time."""
    job = cutting_job("medium", "scarce", 999, "three_stage_trimmed")
    solve(job.boards, job.parts, job.shop, Work(3))


def main() -> None:
    """Print one line a job and the means."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument("--size", default="medium")
    parser.add_argument("--regimes", default="scarce,ample")
    parser.add_argument("--seconds", default="2,10")
    parser.add_argument("--seeds", default="0,1,2,3,4,5,6,7,8,9")
    parser.add_argument("--classes", default="three_stage,three_stage_trimmed")
    parser.add_argument("--bounds", type=Path)
    parser.add_argument("--settled", type=Path)
    parser.add_argument("--jobs", type=int, default=1, help="seeds side by side, one core each")
    asked = parser.parse_args()
    if not cutting_folder().is_dir():
        raise SystemExit(f"no cutting jobs at {cutting_folder()}: set BOTHFACES_REAL")
    os.environ.setdefault("OMP_NUM_THREADS", "1")
    seeds = [int(seed) for seed in asked.seeds.split(",")]
    marks = sorted(float(seconds) for seconds in asked.seconds.split(","))
    for regime in asked.regimes.split(","):
        for cut_class in asked.classes.split(","):
            head = f"{asked.size} {regime} {cut_class}"
            runs = []
            solved = partial(
                run, asked.size, regime, marks=marks, cut_class=cut_class, bounds=asked.bounds,
                settled=asked.settled,
            )  # fmt: skip
            for of_seed in in_order(solved, seeds, asked.jobs, warm):
                for r in of_seed:
                    print(f"  {head} {told(r)}", flush=True)
                    runs.append(r)
            keep(kept_bench(asked.size, regime, cut_class, asked.seeds, asked.seconds, runs))
            for seconds in marks:
                own = [r for r in runs if r.seconds == seconds]
                print(
                    f"{head} {seconds:g} s: share of bound {mean([r.share for r in own])}, of "
                    f"the settled one {mean([r.settled_share for r in own])}, over greedy "
                    f"{mean([r.against_greedy for r in own])}, own gap "
                    f"{mean([r.own_gap for r in own])}, objections "
                    f"{sum(r.objections for r in own)}",
                    flush=True,
                )


def kept_bench(
    size: str, regime: str, cut_class: str, seeds: str, seconds: str, runs: list[Run]
) -> Bench:
    """Return the figures of one kind of job, each against its bar where it has one."""
    found = []
    for at in sorted({r.seconds for r in runs}):
        own = [r for r in runs if r.seconds == at]
        for against, values in (
            ("bound", [r.share for r in own if r.share is not None]),
            ("settled", [r.settled_share for r in own if r.settled_share is not None]),
            ("greedy", [r.against_greedy for r in own if r.against_greedy is not None]),
        ):
            if not values:
                continue
            # A settled bound is held to the bar of the outside one.
            against_which = "bound" if against == "settled" else against
            bar = BARS.get((size, regime, against_which, at))
            bar = bar if cut_class == "three_stage" else None
            # Of an ample lot the boards that are opened count: less is better.
            is_less = regime == "ample" and against == "greedy"
            mean_value = float(np.mean(values))
            met = None if bar is None else (mean_value <= bar if is_less else mean_value >= bar)
            told_bar = "" if bar is None else f"{'at most' if is_less else 'at least'} {bar:g}"
            found.append(
                Figure(f"{AGAINST[against]}, {at:g} s", mean_text(values, 3), told_bar, met)
            )
        gaps = [r.own_gap for r in own if r.own_gap is not None]
        if gaps:
            has_bar = size == "medium" and at == 60
            found.append(
                Figure(
                    f"gap between layout and its own bound, {at:g} s",
                    f"{mean_text(gaps, 3)}, largest {max(gaps):.3f}",
                    "0.02" if has_bar else "",
                    max(gaps) <= 0.02 if has_bar else None,
                )
            )
    objections = sum(r.objections for r in runs)
    found.append(Figure("objections of two judges", str(objections), "0", objections == 0))
    name = f"place-{size}-{regime}" + ("-trimmed" if cut_class.endswith("trimmed") else "")
    return Bench(
        name=name,
        title=f"Layouts: {size} lots, {regime} wood"
        + (", parts narrower than their strip" if cut_class.endswith("trimmed") else ""),
        data=f"made jobs {seeds}, one core each",
        command=f"python -m tests.bench.place --size {size} --regimes {regime} "
        f"--seconds {seconds} --seeds {seeds} --classes {cut_class} --bounds FOLDER"
        + (" --settled FOLDER" if any(r.settled_share is not None for r in runs) else ""),
        figures=tuple(found),
    )


def told(r: Run) -> str:
    """Return one run in a line."""
    share = "-" if r.share is None else f"{r.share:.4f}"
    settled = "-" if r.settled_share is None else f"{r.settled_share:.4f}"
    greedy = "-" if r.against_greedy is None else f"{r.against_greedy:.3f}"
    own = "-" if r.own_gap is None else f"{r.own_gap:.3f}"
    return (
        f"{r.seconds:g} s seed {r.seed}: value {r.value / 1e6:.4f}, share of bound {share}, of "
        f"the settled one {settled}, over greedy {greedy}, first layout {r.first_s:.2f} s, "
        f"own gap {own}, objections {r.objections}"
    )


if __name__ == "__main__":
    if sys.argv[1:2] and sys.argv[1] in MORE:
        import_module(f"tests.bench.place_{sys.argv[1]}").main(sys.argv[2:])
    else:
        main()
