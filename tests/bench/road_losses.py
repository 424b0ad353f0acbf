"""Where the road loses yield against a planner who knows all: one cause at a time.

``python -m tests.bench.road_losses --seeds 7224-7242`` takes the boards of `tests.bench.road`, each
alone with the whole parts list (so that the search itself loses next to nothing, which the first
rows show), and swaps what the careful person's plan knows for the truth, or the other way round:
outlines, flaws, the hand's care, each U. Told are the area of the parts planned, and of those that
come out sound, of the true boards, as shares of what the all-knowing plan places.
"""

from __future__ import annotations

import argparse
import pickle
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

from scanner.board.board import Board
from scanner.placement.shop import Shop
from scanner.placement.solve import solve
from scanner.placement.stop import Work
from tests.bench.many import in_order
from tests.bench.road import PARTS, boards_of_floor, judge, nodded

_STEPS = 60
_LONGER = 240


@dataclass(frozen=True)
class Case:
    """One board: as it was scanned, and as it is."""

    scanned: Board
    true: Board


def without_u(board: Board, outline: bool = True, flaws: bool = True, scale: bool = True) -> Board:
    """Return the board with the U of its outline, of its flaws or of its scale taken away."""
    if outline:
        board = replace(board, outline_u_mm=0.0)
    if flaws:
        board = replace(board, flaws=tuple(replace(flaw, u_mm=0.0) for flaw in board.flaws))
    if scale:
        board = replace(
            board, faces={n: replace(face, u_scale=0.0) for n, face in board.faces.items()}
        )
    return board


def with_u_of(board: Board, other: Board) -> Board:
    """Return a true board with the U that another was scanned to."""
    return replace(
        board,
        outline_u_mm=other.outline_u_mm,
        flaws=tuple(replace(flaw, u_mm=other.outline_u_mm) for flaw in board.flaws),
        faces={n: replace(f, u_scale=other.faces[n].u_scale) for n, f in board.faces.items()},
    )


def _with_outlines_of(board: Board, other: Board) -> Board:
    faces = {n: replace(f, outline=other.faces[n].outline) for n, f in board.faces.items()}
    return replace(board, faces=faces)


def _looked(case: Case) -> Board:
    return nodded(case.scanned, case.true)


def _margined(case: Case) -> Board:
    return with_u_of(case.true, case.scanned)


WAYS: dict[str, Callable[[Case], Board]] = {
    "all-knowing": lambda c: c.true,
    "truth, U of outline": lambda c: without_u(_margined(c), outline=False),
    "truth, U of flaws": lambda c: without_u(_margined(c), flaws=False),
    "truth, U of scale": lambda c: without_u(_margined(c), scale=False),
    "truth, all U": _margined,
    "scanned outline, true flaws, no U": lambda c: _with_outlines_of(c.true, c.scanned),
    "true outline, nodded flaws, no U": lambda c: _with_outlines_of(without_u(_looked(c)), c.true),
    "the same, no hand's care": lambda c: _with_outlines_of(
        without_u(nodded(c.scanned, c.true, 0.0)), c.true
    ),
    "scanned outline, nodded flaws, no U": lambda c: without_u(_looked(c)),
    "all, but no U of outline": lambda c: without_u(_looked(c), flaws=False, scale=False),
    "all, but no U of flaws": lambda c: without_u(_looked(c), outline=False, scale=False),
    "all, but no U of scale": lambda c: without_u(_looked(c), outline=False, flaws=False),
    "all, but no hand's care": lambda c: nodded(c.scanned, c.true, 0.0),
    "all (the road)": _looked,
}


def measured(case: Case) -> dict[str, tuple[float, float]]:
    """Return the area planned and the area that is sound, mm2, of each way."""
    found = {}
    searches = [(way, board_of, _STEPS, 1) for way, board_of in WAYS.items()]
    searches += [
        ("all-knowing, another seed", WAYS["all-knowing"], _STEPS, 2),
        ("all-knowing, four times as long", WAYS["all-knowing"], _LONGER, 1),
    ]
    area = {part.name: part.length_mm * part.width_mm for part in PARTS}
    gross = case.true.faces[1].outline.area
    for way, board_of, steps, seed in searches:
        layout = solve((board_of(case),), PARTS, Shop(), Work(steps), seed=seed, in_full=False)
        outcome = judge(way, layout, {case.true.id: case.true})
        planned = sum(area[p.part] for p in layout.placements)
        found[way] = (planned, outcome.yield_sound * gross)
    return found


def _cases(arguments: argparse.Namespace) -> list[Case]:
    if arguments.kept:
        # Only what `tests.bench.road_two` wrote is read here.
        return [Case(*pair) for pair in pickle.loads(Path(arguments.kept).read_bytes())]
    low, high = (int(s) for s in arguments.seeds.split("-"))
    scanned, truths = boards_of_floor(range(low, high + 1))
    return [Case(board, truths[board.id]) for board in scanned]


def main() -> None:
    """Measure and print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seeds", default="7224-7242", help="first-last, of the floor bench")
    parser.add_argument("--kept", help="boards that `tests.bench.road_two --kept` wrote instead")
    parser.add_argument("--jobs", type=int, default=1, help="boards side by side")
    chosen = parser.parse_args()
    cases = _cases(chosen)
    rows = list(in_order(measured, cases, chosen.jobs))
    best = sum(row["all-knowing"][0] for row in rows)
    print(f"{len(cases)} boards, each alone")
    for way in rows[0] if rows else ():
        planned, sound = (sum(row[way][i] for row in rows) for i in (0, 1))
        print(f"{way:40} planned {planned / best:6.1%}, sound {sound / best:6.1%}")
    for case, row in zip(cases, rows, strict=True):
        known, road = row["all-knowing"][0], row["all (the road)"]
        print(
            f"  {case.scanned.id}: {known:8.0f} known, {road[0]:8.0f} planned, {road[1]:8.0f} sound"
        )


if __name__ == "__main__":
    main()
