"""Published plates: three-stage values reached, and what any number of stages would give.

    python -m tests.bench.place published --steps 120

Plates, values and sources as in ``tests/placement/test_published.py``; kerf 0, no rotation. Each
plate is searched for so many steps, those that missed their value ten times as long.
"""

from __future__ import annotations

import argparse
import time
from typing import Any

from scanner.placement.solve import solve
from scanner.placement.stop import Work
from tests.bench.cutting_jobs import exact_shop
from tests.bench.plates import plate, rows


def reached(row: dict[str, Any], steps: int) -> tuple[float, float]:
    """Return the value of a plate's layout and the CPU seconds it took."""
    board, parts, values = plate(row)
    begin = time.process_time()
    layout = solve((board,), parts, exact_shop(0.0, "three_stage"), Work(steps))
    return sum(values[p.part] for p in layout.placements), time.process_time() - begin


def table(name: str, steps: int, longer: int) -> None:
    """Print the plates of one file that fall short, and the counts."""
    plates, hit, any_stage, longest = 0, 0, [], 0.0
    for row in rows(name):
        target = row["three_stage_optimum"] if "defects" in row else row["three_stage"]["value"]
        value, took = reached(row, steps)
        if value < target - 1e-6:
            value, took = reached(row, longer)
        plates, longest = plates + 1, max(longest, took)
        if value >= target - 1e-6:
            hit += 1
        else:
            print(
                f"  {row['name']}: {value:.0f} of {target:.0f} ({value / target:.4f})", flush=True
            )
        if row.get("optimum"):
            any_stage.append(value / row["optimum"])
    print(
        f"{name}: {hit} of {plates} three-stage values reached, longest {longest:.1f} s; "
        f"{100 * sum(any_stage) / len(any_stage):.1f} % of the any-stage optimum on average "
        f"({sum(share >= 1 - 1e-9 for share in any_stage)} of {len(any_stage)} equal it)",
        flush=True,
    )


def main(argv: list[str]) -> None:
    """Print both tables."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument("--steps", type=int, default=120)
    parser.add_argument("--longer", type=int, default=1200)
    asked = parser.parse_args(argv)
    for name in ("defects.jsonl", "guillotine.jsonl"):
        table(name, asked.steps, asked.longer)
