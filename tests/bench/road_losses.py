"""Where the road loses yield against a planner who knows all: one cause at a time.

``python -m tests.bench.road_losses --seeds 7224-7242`` takes the boards of `tests.bench.road`, each
alone with the whole parts list (so that the search itself loses next to nothing, which the first
rows show), and swaps what the careful person's plan knows for the truth, or the other way round:
outlines, flaws by kind, the hand's care, each U. Told are the area of the parts planned, and of
those that come out sound, of the true boards, as shares of what the all-knowing plan places; and
for each board what its loss goes with. A board takes whole parts, so that single boards say little
and the causes do not add up.
"""

from __future__ import annotations

import argparse
import math
import pickle
from collections.abc import Callable
from contextlib import ExitStack
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from unittest import mock

from shapely.geometry import box
from shapely.geometry.base import BaseGeometry
from shapely.ops import unary_union

from scanner.board.board import Board
from scanner.board.flaw import CRACKS, FlawKind
from scanner.placement.rules import flaws, sapwood, straight_grain, wood
from scanner.placement.rules.ground import MARGIN_STEP_MM, margin_mm
from scanner.placement.shop import Shop
from scanner.placement.solve import solve
from scanner.placement.stop import Work
from tests.bench.careful import nodded
from tests.bench.many import in_order
from tests.bench.road import PARTS, boards_of_floor, judge

_STEPS = 60
_LONGER = 240


@dataclass(frozen=True)
class Case:
    """One board: as it was scanned, and as it is."""

    scanned: Board
    true: Board


@dataclass(frozen=True)
class Found:
    """Parts planned and those that are sound: their finished areas, mm2, and how many."""

    planned_mm2: float
    sound_mm2: float
    planned: int
    sound: int


def without_u(board: Board, outline: bool = True, flaw: bool = True, scale: bool = True) -> Board:
    """Return the board with the U of its outline, of its flaws or of its scale taken away."""
    if outline:
        board = replace(board, outline_u_mm=0.0)
    if flaw:
        board = replace(board, flaws=tuple(replace(one, u_mm=0.0) for one in board.flaws))
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


_GROUPS: dict[str, frozenset[FlawKind]] = {
    "cracks": frozenset(CRACKS),
    "knots, holes, bark pockets": frozenset({FlawKind.KNOT, FlawKind.HOLE, FlawKind.BARK_POCKET}),
    "wild grain": frozenset({FlawKind.WILD_GRAIN}),
    "stain and pitch": frozenset({FlawKind.STAIN, FlawKind.PITCH}),
    "wane": frozenset({FlawKind.WANE}),
}


def _as_they_are(kinds: frozenset[FlawKind], case: Case) -> Board:
    """Return the board of the careful person with flaws of some kinds drawn as they are."""
    board = _looked(case)
    own = (flaw for flaw in board.flaws if flaw.kind not in kinds)
    true = (
        replace(flaw, u_mm=board.outline_u_mm) for flaw in case.true.flaws if flaw.kind in kinds
    )
    return replace(board, flaws=(*own, *true))


WAYS: dict[str, Callable[[Case], Board]] = {
    "all-knowing": lambda c: c.true,
    "truth, U of outline": lambda c: without_u(_margined(c), outline=False),
    "truth, U of flaws": lambda c: without_u(_margined(c), flaw=False),
    "truth, U of scale": lambda c: without_u(_margined(c), scale=False),
    "truth, all U": _margined,
    "scanned outline, true flaws, no U": lambda c: _with_outlines_of(c.true, c.scanned),
    "true outline, nodded flaws, no U": lambda c: _with_outlines_of(without_u(_looked(c)), c.true),
    "the same, no hand's care": lambda c: _with_outlines_of(
        without_u(nodded(c.scanned, c.true, 0.0)), c.true
    ),
    "scanned outline, nodded flaws, no U": lambda c: without_u(_looked(c)),
    "all, but no U of outline": lambda c: without_u(_looked(c), flaw=False, scale=False),
    "all, but no U of flaws": lambda c: without_u(_looked(c), outline=False, scale=False),
    "all, but no U of scale": lambda c: without_u(_looked(c), outline=False, flaw=False),
    "all, but no hand's care": lambda c: nodded(c.scanned, c.true, 0.0),
    "all, but true outline": lambda c: _with_outlines_of(_looked(c), c.true),
    **{f"all, but true {name}": partial(_as_they_are, kinds) for name, kinds in _GROUPS.items()},
    "all (the road)": _looked,
}


def grown_all_round(
    shape: BaseGeometry, u_mm: float, u_scale: float, shop: Shop, most_y_mm: float = math.inf
) -> BaseGeometry:
    """Return what `grown` would if a scale's U were kept by x on all sides, across the board too.

    So the contract's words have it; tells what that costs.
    """
    if shape.is_empty:
        return shape
    left, low, right, high = shape.bounds
    most, least = (margin_mm(u_mm, u_scale, x, shop) for x in (right, left))
    steps = max(1, math.ceil((most - least) / MARGIN_STEP_MM))
    step, slices = (right - left) / steps, []
    for n in range(steps):
        x0, x1 = left + n * step - 0.01, left + (n + 1) * step + 0.01
        piece = shape.intersection(box(x0, low - 1, x1, high + 1))
        margin = margin_mm(u_mm, u_scale, x1, shop)
        slices.append(piece.buffer(margin, join_style="mitre", mitre_limit=2.0))
    return unary_union(slices)


def measured(case: Case) -> dict[str, Found]:
    """Return what each way gives on one board."""
    found = {}
    for way, board_of in WAYS.items():
        found[way] = _areas(way, case, board_of)
    for way in ("truth, all U", "all (the road)"):
        with ExitStack() as stack:
            for rule in (flaws, sapwood, straight_grain, wood):
                stack.enter_context(mock.patch.object(rule, "grown", grown_all_round))
            found[f"{way}, scale by x all round"] = _areas(way, case, WAYS[way])
    known = WAYS["all-knowing"]
    found["all-knowing, another seed"] = _areas("known", case, known, seed=2)
    found["all-knowing, four times as long"] = _areas("known", case, known, steps=_LONGER)
    return found


def _areas(
    way: str, case: Case, board_of: Callable[[Case], Board], steps: int = _STEPS, seed: int = 1
) -> Found:
    area = {part.name: part.length_mm * part.width_mm for part in PARTS}
    gross = case.true.faces[1].outline.area
    layout = solve((board_of(case),), PARTS, Shop(), Work(steps), seed=seed, in_full=False)
    outcome = judge(way, layout, {case.true.id: case.true})
    planned = sum(area[p.part] for p in layout.placements)
    return Found(planned, outcome.yield_sound * gross, outcome.placed, outcome.sound)


def _cases(arguments: argparse.Namespace) -> list[Case]:
    if arguments.kept:
        # Only what the benches of the road wrote is read here.
        return [Case(*pair) for pair in pickle.loads(Path(arguments.kept).read_bytes())]
    low, high = (int(s) for s in arguments.seeds.split("-"))
    scanned, truths = boards_of_floor(range(low, high + 1), arguments.way)
    return [Case(board, truths[board.id]) for board in scanned]


def main() -> None:
    """Measure and print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seeds", default="7224-7242", help="first-last, of the floor bench")
    parser.add_argument("--way", default="strip", choices=("strip", "two", "both"))
    parser.add_argument("--kept", help="boards that a bench of the road wrote instead")
    parser.add_argument("--jobs", type=int, default=1, help="boards side by side")
    chosen = parser.parse_args()
    cases = _cases(chosen)
    rows = list(in_order(measured, cases, chosen.jobs))
    best = sum(row["all-knowing"].planned_mm2 for row in rows)
    print(f"{len(cases)} boards, each alone")
    for way in rows[0] if rows else ():
        found = [row[way] for row in rows]
        planned, sound = sum(f.planned_mm2 for f in found), sum(f.sound_mm2 for f in found)
        print(
            f"{way:40} planned {planned / best:6.1%}, sound {sound / best:6.1%}"
            f" ({sum(f.sound for f in found)} of {sum(f.planned for f in found)} parts)"
        )
    for case, row in zip(cases, rows, strict=True):
        known, road = row["all-knowing"], row["all (the road)"]
        gains = {
            way.removeprefix("all, but "): (found.planned_mm2 - road.planned_mm2) / 1000
            for way, found in row.items()
            if way.startswith("all, but ")
        }
        told = ", ".join(f"{way} {gain:+.0f}" for way, gain in gains.items() if abs(gain) >= 1)
        print(
            f"  {case.scanned.id}: {known.planned_mm2 / 1000:4.0f} thousand mm2 known,"
            f" {road.planned_mm2 / 1000:4.0f} planned, {road.sound_mm2 / 1000:4.0f} sound; {told}"
        )


if __name__ == "__main__":
    main()
