"""The program's own bound of made cutting jobs, sought until the proof ends of itself.

    python -m tests.bench.place settled --size medium --regimes scarce --seeds 60,61 -o FOLDER
    python -m tests.bench.place --seeds 60,61 --settled FOLDER

Within a minute's search the proof is often cut short, and an outside bound that had a minute is
not settled either; what a layout lacks to them says more of the bound than of the layout. Here the
search ends where it would, and then the clock stands still: the proof ends where it has nothing
left to try. One file a job, ``SIZE-REGIME-SEED.json``, which holds the bound of the class named in
it (of value, or of the boards opened where wood is ample), what the layout reached, and the CPU
seconds of both together. How long that takes: one to some minutes a medium job.
"""

from __future__ import annotations

import argparse
import json
import os
import time
from functools import partial
from pathlib import Path

from scanner.placement.shop import CutClass
from scanner.placement.solve import solve
from tests.bench.cutting_jobs import cutting_job
from tests.bench.many import in_order
from tests.bench.place import CpuSeconds, objective, settled_file, warm

# At so many seconds left the clock stands still: later than the search ends, which leaves more to
# the proof, and long before a proof grows hasty.
_STANDS_AT_S = 8.0
# A shorter search keeps no time for a proof of its class.
_LEAST_S = 25.0


class Standing(CpuSeconds):
    """CPU time that stands still as soon as the proof is under way."""

    def is_over(self, steps: int) -> bool:
        return False

    def seconds_left(self, steps: int) -> float:
        return max(super().seconds_left(steps), _STANDS_AT_S)


def settle(
    size: str, regime: str, seed: int, cut_class: CutClass, seconds: float, folder: Path
) -> str:
    """Find the settled bound of one job, write its file and return it in a line."""
    job = cutting_job(size, regime, seed, cut_class)
    begin = time.process_time()
    layout = solve(job.boards, job.parts, job.shop, Standing(seconds))
    name = f"{size}-{regime}-{seed}"
    # Where all parts of a scarce job lie, or an ample one lacks some, the bound is of the other.
    of = "value" if regime == "scarce" else "area"
    if (layout.bound.cut_class, layout.bound.of) != (cut_class, of):
        return f"{name}: no bound of the {of} in its cut class"
    row = {
        "job": name,
        "class": cut_class,
        "bound": layout.bound.value,
        "reached": objective(layout, regime, {part.name: part.priority for part in job.parts}),
        "gap": layout.bound.gap,
        "cpu_seconds": round(time.process_time() - begin, 1),
    }
    settled_file(folder, size, regime, seed).write_text(json.dumps(row) + "\n")
    return f"{name}: " + ", ".join(f"{key} {row[key]:.6g}" for key in list(row)[2:])


def main(argv: list[str]) -> None:
    """Write one file a job."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument("--size", default="medium")
    parser.add_argument("--regimes", default="scarce")
    parser.add_argument("--seeds", required=True)
    parser.add_argument("--class", dest="cut_class", default="three_stage")
    parser.add_argument("--seconds", type=float, default=60, help="of which the search has its own")
    parser.add_argument("--jobs", type=int, default=1, help="seeds side by side, one core each")
    parser.add_argument("-o", "--output", type=Path, required=True)
    asked = parser.parse_args(argv)
    if asked.seconds < _LEAST_S:
        raise SystemExit(f"at least {_LEAST_S:g} seconds, so that a proof of the class is tried")
    os.environ.setdefault("OMP_NUM_THREADS", "1")
    asked.output.mkdir(parents=True, exist_ok=True)
    seeds = [int(seed) for seed in asked.seeds.split(",")]
    for regime in asked.regimes.split(","):
        settled = partial(
            settle, asked.size, regime, cut_class=asked.cut_class, seconds=asked.seconds,
            folder=asked.output,
        )  # fmt: skip
        for line in in_order(settled, seeds, asked.jobs, warm):
            print(line, flush=True)
