"""The same jobs given to the general packing library packingsolver, in the same run and time.

    python -m tests.bench.place packing --size medium --regime scarce --seeds 45 --seconds 2,10,60

Needs Python 3.12 and packingsolver from PyPI, which the project itself does not use. The library
knows one kind of rectangular defects, no faces and no outlines, so each job is first brought down
to what it can say, and both solve that: a board is the box round its outline, its edges (8 steps a
side) and every flaw's box are wood that no part may take. Three stages, exact, first cut across the
board, no rotation, whole tenths of a millimetre; the kerf is folded into the library's sizes, as
its own cut thickness fails together with defects. Each layout of either goes through the jobs'
validator. Both run on one core (the process is bound to it) and by the clock on the wall.
"""

from __future__ import annotations

import argparse
import math
import os
import time
from importlib import import_module
from typing import Any

from scanner.placement.layout import Layout
from scanner.placement.proof.proof_time import with_time_to_prove
from scanner.placement.solve import solve, warm_up
from scanner.placement.stop import Seconds
from scanner.placement.validator.judge import validate_layout
from scanner.placement.validator.objection import Rule
from tests.bench.cutting_jobs import CuttingJob, job_of, module, outside_objections
from tests.bench.place import objective

EDGE_STEPS = 8
Box = tuple[int, int, int, int]


def reduced(raw: dict[str, Any]) -> dict[str, Any]:
    """Return a job in which every board is a box with boxes that no part may take."""
    boards = []
    for board in raw["boards"]:
        points = board["outline"]
        low, high = points[: len(points) // 2], points[: len(points) // 2 - 1 : -1]
        x0 = math.ceil(max(low[0][0], high[0][0]))
        x1 = math.floor(min(low[-1][0], high[-1][0]))
        y0 = math.floor(min(y for _, y in low))
        y1 = math.ceil(max(y for _, y in high))
        lost = []
        for n in range(EDGE_STEPS):
            first, last = (round(k * (len(low) - 1) / EDGE_STEPS) for k in (n, n + 1))
            a, b = max(x0, math.floor(low[first][0])), min(x1, math.ceil(low[last][0]))
            under = max(y for _, y in low[first : last + 1])
            over = min(y for _, y in high[first : last + 1])
            lost += [(a, y0, b, under), (a, over, b, y1)]
        for flaw in board["flaws"]:
            xs, ys = [x for x, _ in flaw["outline"]], [y for _, y in flaw["outline"]]
            lost.append((max(x0, min(xs)), max(y0, min(ys)), min(x1, max(xs)), min(y1, max(ys))))
        boards.append(
            {
                **board,
                "outline": [[x0, y0], [x1, y0], [x1, y1], [x0, y1]],
                "flaws": [
                    {"kind": "hole", "face": "through", "outline": [[a, c], [b, c], [b, d], [a, d]]}
                    for a, c, b, d in (
                        (math.floor(a), math.floor(c), math.ceil(b), math.ceil(d))
                        for a, c, b, d in lost
                    )
                    if b > a and d > c
                ],
            }
        )
    parts = [{**part, "faces": "both"} for part in raw["parts"]]
    return {**raw, "boards": boards, "parts": parts}


def shrunk(x: float, far: float, kerf: int) -> tuple[int, int]:
    """Return begin and length, tenths, of what a size with the kerf folded in may not touch."""
    begin, end = round(x * 10) + kerf, round(far * 10)
    return (begin, end - begin) if end > begin else (begin, 1)


def library_run(job: dict[str, Any], seconds: float) -> list[tuple[float, list[dict[str, Any]]]]:
    """Return every better layout of the library with the seconds after which it came."""
    library: Any = import_module("packingsolver.rectangleguillotine")
    kerf = math.ceil(job["kerf"] * 10)
    is_ample = job["objective"] == "min_board_area"
    builder = library.InstanceBuilder()
    which = library.Objective
    builder.set_objective(which.VariableSizedBinPacking if is_ample else which.Knapsack)
    builder.set_number_of_stages(3)
    builder.set_cut_type(library.CutType.Exact)
    builder.set_first_stage_orientation(library.CutOrientation.Vertical)
    builder.set_cut_through_defects(True)
    corners = []
    for board in job["boards"]:
        (x0, y0), (x1, _), (_, y1) = board["outline"][:3]
        corners.append((x0, y0))
        bin_type = builder.add_bin_type(
            (x1 - x0) * 10 + kerf, (y1 - y0) * 10 + kerf, cost=(x1 - x0) * (y1 - y0), copies=1
        )
        for flaw in board["flaws"]:
            (a, c), (b, _), (_, d) = flaw["outline"][:3]
            x, w = shrunk(a - x0, b - x0, kerf)
            y, h = shrunk(c - y0, d - y0, kerf)
            builder.add_defect(bin_type, x, y, w, h)
    for part in job["parts"]:
        builder.add_item_type(
            round(part["length"] * 10) + kerf,
            round(part["width"] * 10) + kerf,
            oriented=True,
            profit=part["value"] * part["length"] * part["width"],
            copies=part["quantity"],
        )
    found: list[tuple[float, list[dict[str, Any]]]] = []
    begin = time.monotonic()

    def tell(output: Any) -> None:
        found.append((time.monotonic() - begin, placements(output.solution, job, corners)))

    parameters = library.OptimizeParameters()
    parameters.time_limit = seconds
    parameters.messages_to_stdout = False
    parameters.new_solution_callback = tell
    tell(library.optimize(builder.build(), parameters))
    return found


def placements(
    solution: Any, job: dict[str, Any], corners: list[tuple[int, int]]
) -> list[dict[str, Any]]:
    """Return the library's answer as the jobs' validator reads it."""
    found = []
    for position in range(solution.number_of_different_bins()):
        filled = solution.bin(position)
        board, (x0, y0) = job["boards"][filled.bin_type_id], corners[filled.bin_type_id]
        for node in filled.nodes:
            if node.item_type_id < 0 or node.children:
                continue
            part = job["parts"][node.item_type_id]
            found.append(
                {
                    "board": board["id"],
                    "part": part["name"],
                    "x": x0 + node.l / 10,
                    "y": y0 + node.b / 10,
                    "length": part["length"],
                    "width": part["width"],
                    "show_face": None,
                }
            )
    return found


def worth(job: dict[str, Any], laid: list[dict[str, Any]]) -> float:
    """Return value or area of the boards opened (infinite where parts are missing), mm2."""
    values = {part["name"]: part["value"] for part in job["parts"]}
    if job["objective"] != "min_board_area":
        return float(sum(values[p["part"]] * p["length"] * p["width"] for p in laid))
    if len(laid) < sum(part["quantity"] for part in job["parts"]):
        return math.inf
    opened = {p["board"] for p in laid}
    area = module("jobs").polygon_area
    return float(sum(area(b["outline"]) for b in job["boards"] if b["id"] in opened))


def own_run(job: CuttingJob, seconds: float) -> tuple[list[tuple[float, Layout]], Layout]:
    """Return every better layout of this project with its seconds, and the last."""
    shown: list[tuple[float, Layout]] = []
    begin = time.monotonic()

    def tell(better: Layout) -> None:
        shown.append((time.monotonic() - begin, better))

    last = solve(job.boards, job.parts, job.shop, Seconds(seconds), on_better=tell, in_full=False)
    return shown, last


def told(size: str, regime: str, seed: int, marks: list[float]) -> list[str]:
    """Solve one job both ways and return one line for each of the seconds."""
    raw = reduced(module("jobs").job(size, regime, seed))
    job = job_of(raw, regime, "three_stage")
    priorities = {part.name: part.priority for part in job.parts}
    shown, last = own_run(job, marks[-1])
    theirs = library_run(raw, marks[-1])
    # The layout while one watches does not list what it left out, so that is not held against it.
    said = [
        str(objection)
        for objection in validate_layout(last, job.boards, job.parts, job.shop)
        if objection.rule is not Rule.UNPLACED
    ]
    if regime == "scarce" or not last.unplaced:
        said += outside_objections(job, last)
    checked = {**raw, "objective": "max_value"}
    said_of_theirs = module("validate").check(checked, {"placements": theirs[-1][1]}, "three-stage")
    lines = []
    better = min if regime == "ample" else max
    nothing = math.inf if regime == "ample" else 0.0
    for seconds in marks:
        own = better([nothing, *(objective(x, regime, priorities) for t, x in shown
                                 if t <= seconds)])  # fmt: skip
        other = better([nothing, *(worth(raw, laid) for t, laid in theirs if t <= seconds + 0.5)])
        lines.append(
            f"{size} {regime} seed {seed}, {seconds:g} s: own {own / 1e6:.3f}, packingsolver "
            f"{other / 1e6:.3f}, {'beaten' if better(own, other) == own != other else 'NOT beaten'}"
            f"; objections {len(said)} and {len(said_of_theirs)}"
        )
    return lines


def main(argv: list[str]) -> None:
    """Print the lines of each job."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument("--size", default="medium")
    parser.add_argument("--regime", default="scarce")
    parser.add_argument("--seeds", default="100")
    parser.add_argument("--seconds", default="2,10")
    parser.add_argument("--core", type=int)
    asked = parser.parse_args(argv)
    if asked.core is not None:
        os.sched_setaffinity(0, {asked.core})
    warm_up()
    # What the bound needs is loaded by a search that has time for one; no clock counts it.
    first = job_of(reduced(module("jobs").job("medium", "ample", 1)), "ample", "three_stage")
    with_time_to_prove(Seconds(60), first.boards, first.parts, first.shop)
    marks = sorted(float(seconds) for seconds in asked.seconds.split(","))
    for seed in (int(seed) for seed in asked.seeds.split(",")):
        for line in told(asked.size, asked.regime, seed, marks):
            print(line, flush=True)
