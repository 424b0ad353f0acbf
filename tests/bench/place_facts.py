"""What changes the yield of simulated lots, beside what rough mills report of the same change.

    python -m tests.bench.place facts --boards 60

Boards as ``scanner/lot/yard`` draws them. Of every part there are more copies than the wood holds,
so each board is laid out for itself; a board's yield is the area of its parts over its own. Lengths
15, 21, 29 and 38 in, clear on both faces, 2 in wide, No. 1 Common, crosscut first, unless said.

Sources: wide parts: E. M. Wengert, "Improving yield" (extension notes). Long boards: Forest Service
Treesearch 15259 (abstract). Crosscut first: Clement and others, white birch, simulated (abstract).
Sound knots: J. Wiedenbeck, C. Gatchell and E. Walker, Forest Products Journal 45(3) (1995): 89 % of
the flaw area of red oak is unsound, so little is to be had.
"""

from __future__ import annotations

import argparse
from dataclasses import dataclass

import numpy as np

from scanner.board.board import Board
from scanner.lot.yard import draw_board
from scanner.placement.choosing.patterns import best_pattern
from scanner.placement.choosing.problem import Problem, problem_of
from scanner.placement.kernels import board as kernels_board
from scanner.placement.kernels.strips import (
    MOST_IN_A_STRIP,
    all_ends,
    bands_of,
    best_stack,
    strip_ends,
)
from scanner.placement.parts import Faces, Part
from scanner.placement.wanted.items import Floats, Ints
from scanner.units import MM_PER_INCH
from tests.bench.cutting_jobs import exact_shop

LENGTHS_IN = (15, 21, 29, 38)
COPIES = 40


@dataclass(frozen=True, slots=True)
class Mill:
    """What is cut and how."""

    width_in: float = 2
    faces: Faces = Faces.BOTH
    rip_first: bool = False
    halved: bool = False


def lot(boards: int, seed: int, least_ft: float = 0, most_ft: float = 99) -> list[Board]:
    """Draw boards of No. 1 Common until so many are within these lengths."""
    rng = np.random.default_rng(seed)
    found: list[Board] = []
    while len(found) < boards:
        board = draw_board("1C", "red oak", 4, rng, f"B{len(found)}")
        if least_ft <= board.length.value_mm / MM_PER_INCH / 12 <= most_ft:
            found.append(board)
    return found


def parts_of(mill: Mill) -> list[Part]:
    """Return the parts, as large as they are cut."""
    width = mill.width_in * MM_PER_INCH
    return [
        Part(f"{length} in", COPIES, length * MM_PER_INCH, width, 15.0, mill.faces)
        for length in LENGTHS_IN
    ]


def yields(boards: list[Board], mill: Mill) -> Floats:
    """Return the yield of each board, (B,)."""
    parts = parts_of(mill)
    shop = exact_shop(3.2, "three_stage")
    # A board cut in halves: nothing lies across its middle.
    middle = {b.id: ((b.length.value_mm / 2 - 0.1, b.length.value_mm / 2 + 0.1),) for b in boards}
    taken = middle if mill.halved else None
    problem = problem_of(boards, parts, [COPIES] * len(parts), shop, taken)
    size = problem.types.value
    found = []
    for b in range(len(boards)):
        if mill.rip_first:
            counts = _ripped(problem, b)
        else:
            counts = best_pattern(
                problem, b, size, problem.types.wanted, np.random.default_rng(0)
            ).counts
        found.append(float(counts @ size) / problem.area[b])
    return np.array(found)


def _ripped(problem: Problem, board: int) -> Ints:
    """Return the copies of the best strips that run through the whole board."""
    types, ground = problem.types, problem.grounds[board]
    rows, count = ground.pointer.shape[1] - 1, len(types)
    active = np.arange(count)
    ends = np.empty((count, MOST_IN_A_STRIP, rows), np.int32)
    deepest = np.zeros(count, np.int64)
    all_ends(
        ground.pointer, ground.runs, ground.length, bands_of(ground.pointer, ground.runs), active,
        types.wanted, ground.x0, ground.x1, types.kerf, ends, deepest,
    )  # fmt: skip
    top = rows + int(ground.pitch.max()) + 1
    strips = np.zeros((top, 3), np.int32)
    price = types.value.astype(np.float32)
    # No mixed strips: the tables of their levels are empty.
    none = np.zeros((0, 0, rows), np.int64)
    many, _, _ = best_stack(
        ends, deepest, price, none.astype(np.float32), none[..., None].astype(np.int16), none,
        ground.pitch, active, types.wanted, ground.x1, rows,
        np.zeros(top), np.zeros(top, np.int64), np.zeros(top, np.int64), strips,
    )  # fmt: skip
    places = []
    for s in range(many):
        t, row, copies = (int(n) for n in strips[s])
        strip_ends(
            ground.pointer, ground.runs, ground.length, t, row, ground.x0, copies, ground.x1,
            types.kerf, ends[t],
        )  # fmt: skip
        for c in range(copies):
            x = int(ends[t, c, row]) - int(ground.length[t])
            places.append((t, x, row, 0, s, ground.x0, ground.x1))
    laid = np.array(places, np.int32).reshape(-1, 7)
    filled = kernels_board.filled(
        ground.pointer, ground.runs, ground.length, ground.width, ground.deep, ground.fills, price,
        types.wanted, types.kerf, True, laid,
    )  # fmt: skip
    return np.bincount(filled[:, 0], minlength=count).astype(np.int32)


def main(argv: list[str]) -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument("--boards", type=int, default=60)
    parser.add_argument("--seed", type=int, default=6100)
    asked = parser.parse_args(argv)
    mixed = lot(asked.boards, asked.seed)
    base = yields(mixed, Mill())
    long = lot(asked.boards, asked.seed, 13)
    in_long = yields(long, Mill())
    in_short = yields(lot(asked.boards, asked.seed, 0, 8), Mill())
    in_halves = yields(long, Mill(halved=True))
    rows = [
        ("parts 4 in instead of 2 in wide", yields(mixed, Mill(4)), base, "about -15"),
        ("13 ft and more instead of 8 ft and less", in_long, in_short, "over +5 (15-16 ft)"),
        ("13 ft and more instead of its halves", in_long, in_halves, "up"),
        ("sound knots allowed", yields(mixed, Mill(faces=Faces.SOUND)), base, "up, little"),
        ("crosscut first instead of rip first", base, yields(mixed, Mill(rip_first=True)), "+4"),
    ]
    print("| change | yield | instead of | points | reported |\n|---|---|---|---|---|")
    for name, new, old, reported in rows:
        are_same_boards = old is not in_short
        spread = (new - old).std() if are_same_boards else np.hypot(new.std(), old.std())
        error = spread / np.sqrt(len(new))
        print(
            f"| {name} | {100 * new.mean():.1f} % | {100 * old.mean():.1f} % | "
            f"{100 * (new.mean() - old.mean()):+.1f} (standard error {100 * error:.1f}) | "
            f"{reported} |",
            flush=True,
        )
