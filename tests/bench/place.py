"""How good layouts are: shares of the bound on generated cutting jobs, on one core.

    python -m tests.bench.place                        medium jobs, 2 and 10 s, seeds 0-9
    python -m tests.bench.place --size large --seconds 10 --seeds 0

Seeds of 100 and more were used for tuning; nothing below. Every layout goes through the project's
validator and through the jobs' own. Time is CPU time, so that a busy machine counts the same as an
idle one. Bounds and greedy values of seeds 0-4 are those of ``results.jsonl`` beside the jobs;
others are read from ``--bounds`` (a folder of ``SIZE-REGIME-SEED.json``, each with ``bound``
or ``best``, as the jobs' own programs print them), or left out.
"""

from __future__ import annotations

import argparse
import json
import os
import time
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from scanner.placement.solve import solve
from scanner.placement.stop import Work
from scanner.placement.validator.judge import validate_layout
from tests.bench.cutting_jobs import cutting_folder, cutting_job, outside_objections

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
    """One job solved once."""

    seed: int
    seconds: float
    value: float
    first_s: float
    share: float | None
    against_greedy: float | None
    own_gap: float
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
    for path in (folder.glob(f"{name}*.json")) if folder else ():
        lines = path.read_text().splitlines()
        if not lines:
            continue
        row = json.loads(lines[-1])
        bound, greedy = row.get("bound", bound), row.get("best", greedy)
    return bound, greedy


def objective(layout: Layout, regime: str, priorities: dict[str, float]) -> float:
    if regime == "ample":
        if layout.summary.placed < layout.summary.asked:
            return float("inf")
        return layout.summary.area_opened_mm2
    return sum(priorities[p.part] * p.length_mm * p.width_mm for p in layout.placements)


def run(
    size: str, regime: str, seed: int, seconds: float, cut_class: CutClass, bounds: Path | None
) -> Run:
    """Solve one job and judge the layout."""
    job = cutting_job(size, regime, seed, cut_class)
    stop = CpuSeconds(seconds)
    first: list[float] = []
    layout = solve(
        job.boards,
        job.parts,
        job.shop,
        stop,
        on_better=lambda _: first.append(seconds - stop.seconds_left(0)),
    )
    said = [*validate_layout(layout, job.boards, job.parts, job.shop)]
    said += outside_objections(job, layout)
    value = objective(layout, regime, {part.name: part.priority for part in job.parts})
    bound, greedy = known(size, regime, seed, bounds)
    share = value / bound if regime == "scarce" else bound / value
    return Run(
        seed,
        seconds,
        value,
        first[0] if first else float("inf"),
        None if share != share else share,
        None if greedy != greedy else value / greedy,
        layout.bound.gap,
        len(said),
    )


def mean(values: list[float | None]) -> str:
    known_values = [value for value in values if value is not None]
    if not known_values:
        return "-"
    return f"{sum(known_values) / len(known_values):.4f} (n={len(known_values)})"


def main() -> None:
    """Print one line a job and the means."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument("--size", default="medium")
    parser.add_argument("--regimes", default="scarce,ample")
    parser.add_argument("--seconds", default="2,10")
    parser.add_argument("--seeds", default="0,1,2,3,4,5,6,7,8,9")
    parser.add_argument("--classes", default="three_stage,three_stage_trimmed")
    parser.add_argument("--bounds", type=Path)
    asked = parser.parse_args()
    if not cutting_folder().is_dir():
        raise SystemExit(f"no cutting jobs at {cutting_folder()}: set BOTHFACES_REAL")
    os.environ.setdefault("OMP_NUM_THREADS", "1")
    warm = cutting_job("medium", "scarce", 999, "three_stage_trimmed")
    solve(warm.boards, warm.parts, warm.shop, Work(3))
    seeds = [int(seed) for seed in asked.seeds.split(",")]
    for regime in asked.regimes.split(","):
        for cut_class in asked.classes.split(","):
            for seconds in (float(s) for s in asked.seconds.split(",")):
                runs = [
                    run(asked.size, regime, seed, seconds, cut_class, asked.bounds)
                    for seed in seeds
                ]
                head = f"{asked.size} {regime} {cut_class} {seconds:g} s"
                for r in runs:
                    share = "-" if r.share is None else f"{r.share:.4f}"
                    greedy = "-" if r.against_greedy is None else f"{r.against_greedy:.3f}"
                    print(
                        f"  {head} seed {r.seed}: value {r.value / 1e6:.4f}, share of bound "
                        f"{share}, over greedy {greedy}, first layout {r.first_s:.2f} s, "
                        f"own gap {r.own_gap:.3f}, objections {r.objections}",
                        flush=True,
                    )
                print(
                    f"{head}: share of bound {mean([r.share for r in runs])}, over greedy "
                    f"{mean([r.against_greedy for r in runs])}, objections "
                    f"{sum(r.objections for r in runs)}",
                    flush=True,
                )


if __name__ == "__main__":
    main()
