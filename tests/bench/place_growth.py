"""How placing grows with the lot: time to the first layout, gap and memory for 1 to 1000 boards.

    python -m tests.bench.place growth --seconds 10

Scarce jobs of the folder BOTHFACES_REAL names, their sizes set here. All times are CPU time of one
process; memory is the most that it held up to then, the smaller lots' included.
"""

from __future__ import annotations

import argparse
import resource
import time

from scanner.placement.solve import solve, warm_up
from tests.bench.cutting_jobs import cutting_job, module
from tests.bench.place import CpuSeconds, objective

# Boards in a lot, and how many pieces of furniture its parts are for.
LOTS = {1: 1, 8: 3, 40: 9, 200: 18, 1000: 18}


def row(boards: int, seconds: float, seed: int) -> str:
    """Solve one lot and return its row of the table."""
    size = f"{boards} boards"
    jobs = module("jobs")
    jobs.BOARDS[size], jobs.FURNITURE[size] = boards, LOTS[boards]
    job = cutting_job(size, "scarce", seed, "three_stage_trimmed")
    priorities = {part.name: part.priority for part in job.parts}
    wood = sum(board.wood(1).area for board in job.boards)
    shown: list[tuple[float, float, int]] = []
    begin = time.process_time()
    layout = solve(
        job.boards,
        job.parts,
        job.shop,
        CpuSeconds(seconds),
        on_better=lambda better: shown.append(
            (
                time.process_time() - begin,
                objective(better, "scarce", priorities),
                better.summary.boards_opened,
            )
        ),
    )
    end = time.process_time() - begin
    value = objective(layout, "scarce", priorities)
    first_s, first, opened = shown[0]
    whole_s, whole, _ = next((s for s in shown if s[2] >= 0.9 * boards), shown[-1])
    memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    return (
        f"| {boards} | {sum(part.quantity for part in job.parts)} of {len(job.parts)} | "
        f"{first_s:.2f} s, {opened} boards, {first / value:.2f} | {whole_s:.2f} s, "
        f"{whole / value:.2f} | {value / wood:.3f} | {100 * layout.bound.gap:.0f} % | "
        f"{end - seconds:.1f} s | {memory:.0f} MB |"
    )


def main(argv: list[str]) -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument("--boards", default="1,8,40,200,1000")
    parser.add_argument("--seconds", type=float, default=10)
    parser.add_argument("--seed", type=int, default=300)
    asked = parser.parse_args(argv)
    warm_up()
    print(
        "| boards | copies of types | first layout shown, share of the last value | first over "
        "nine boards in ten, share | value a mm2 of wood | gap | after the search | memory |\n"
        "|---|---|---|---|---|---|---|---|"
    )
    for boards in (int(n) for n in asked.boards.split(",")):
        print(row(boards, asked.seconds, asked.seed), flush=True)
