"""How far likeness could go: the share of boards whose likest is of their log, for a knowing eye.

Reads the rows that ``tests.bench.likeness`` left in ``out/bench/likeness`` and holds boards against
each other by colours without the photographs' error, and by the true rings between a board's
nearest and furthest from the pith, read with a stated error. Likelihoods are learned on every other
lot and tried on the rest, both ways round. Nothing here is in reach of a scan: it tells what the
logs hold, and so what reading loses.
"""

from __future__ import annotations

import argparse
import itertools
import math
import pickle
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from tests.bench.likeness import OUT, PHOTO_SD, Row
from tests.bench.log_boards import lot_of
from tests.render.logs.log import LogBoard, SharedLog
from tests.render.logs.wood import surfaces_of

# Spread of ring widths (logarithm) and of their tones in the rendered logs.
_WIDTH_SD, _TONE_SD = 0.31, 0.3
_LEAST_RINGS = 4
# By so much a ring may lie nearer to the pith on one board than on another of the log, sd.
_OFF_MM = 4.0
# Errors of a ring's width (share) and tone that are tried: first what the log's own waves do.
READ = ((0.15, 0.1), (0.3, 0.5), (0.5, 1.0))
# Shares of the photographs' error of the bench.
SHARES = (0.0, 0.35, 0.5, 0.7, 1.0)


@dataclass(frozen=True, eq=False)
class Known:
    """A board: its log, its measured colour and the photographs' error in it, its true rings."""

    log: int
    lab: np.ndarray
    error: np.ndarray
    radii_mm: np.ndarray
    widths: np.ndarray
    tones: np.ndarray


def known(row: Row, board: LogBoard) -> Known:
    below = board.pith_z > board.thickness_mm / 2
    near = board.pith_z - board.thickness_mm if below else -board.pith_z
    inner = math.hypot(max(abs(board.pith_y) - board.width_mm / 2, 0.0), near)
    outer = math.hypot(abs(board.pith_y) + board.width_mm / 2, near + board.thickness_mm)
    wood = surfaces_of(board).wood
    rise = SharedLog(board).taper * (board.along_mm + board.length_mm / 2)
    seen = np.flatnonzero((wood._radii > inner + rise) & (wood._radii < outer + rise))
    draws = [np.random.default_rng((board.seed, n, 811)).normal(0, PHOTO_SD) for n in (1, 2)]
    widths = np.log(np.maximum(np.diff(wood._radii[seen]), 0.05) / board.ring_mm)
    assert row.looks.lab is not None
    return Known(
        row.log,
        np.array(row.looks.lab),
        np.mean(draws, axis=0),
        wood._radii[seen][:-1],
        widths,
        wood._tone[seen][:-1].astype(float) - 1.0,
    )


def rings_say(one: Known, other: Known, read: tuple[float, float]) -> float:
    """Return the log-likelihood ratio of the best way to lay two runs of rings on each other."""
    best, n, m = 0.0, len(one.widths), len(other.widths)
    for lag in range(_LEAST_RINGS - m, n - _LEAST_RINGS + 1):
        a, b = slice(max(0, lag), min(n, lag + m)), slice(max(0, -lag), min(m, n - lag))
        off = float(np.mean(one.radii_mm[a] - other.radii_mm[b]))
        said = -0.5 * (off / _OFF_MM) ** 2
        if said < -8:
            continue
        for x, y, own, error in (
            (one.widths[a], other.widths[b], _WIDTH_SD, read[0]),
            (one.tones[a], other.tones[b], _TONE_SD, read[1]),
        ):
            total = own**2 + error**2
            rho = own**2 / total
            square, both = x * x + y * y, x * y
            per_ring = (rho**2 * square - 2 * rho * both) / (2 * total * (1 - rho**2))
            said -= float(np.sum(per_ring + 0.5 * math.log(1 - rho**2)))
        best = max(best, said)
    return best


def with_error(board: Known, read: tuple[float, float], rng: np.random.Generator) -> Known:
    count = len(board.widths)
    widths = board.widths + rng.normal(0, read[0], count)
    tones = board.tones + rng.normal(0, read[1], count)
    return Known(board.log, board.lab, board.error, board.radii_mm, widths, tones)


def colours_say(lots: list[list[Known]], share: float) -> list[np.ndarray]:
    """Return by lot the log-likelihood ratios of colours, learned on every other lot."""
    lab = [np.array([b.lab - (1 - share) * b.error for b in lot]) for lot in lots]
    found = []
    for number, own_lab in enumerate(lab):
        same, others = [], []
        for lot, seen in list(zip(lots, lab, strict=True))[1 - number % 2 :: 2]:
            for a, b in itertools.combinations(range(len(lot)), 2):
                (same if lot[a].log == lot[b].log else others).append(seen[a] - seen[b])
        within, between = (np.cov(np.array(v).T, bias=True) for v in (same, others))
        sharper = np.linalg.inv(within) - np.linalg.inv(between)
        first = 0.5 * math.log(np.linalg.det(between) / np.linalg.det(within))
        step = own_lab[:, None] - own_lab[None]
        squares = np.einsum("abi,ij,abj->ab", step, sharper, step)
        found.append(np.clip(first - 0.5 * squares, -4, 9))
    return found


def found(lots: list[list[Known]], said: list[np.ndarray]) -> str:
    """Return the share of boards whose likest is of their log."""
    hits = of = 0
    for lot, table in zip(lots, said, strict=True):
        for number, board in enumerate(lot):
            others = [n for n in range(len(lot)) if n != number]
            hits += lot[max(others, key=lambda n, own=table[number]: own[n])].log == board.log
            of += 1
    return f"{hits} of {of} ({100 * hits / of:.0f} %)"


def main() -> None:
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("rows", nargs="+", type=Path, help=f"rows-*.pickle, as in {OUT}")
    options = asked.parse_args()
    by_lot: dict[int, list[Row]] = {}
    for path in options.rows:
        for row in pickle.loads(path.read_bytes()):
            by_lot.setdefault(row.lot, []).append(row)
    lots = [
        [known(row, board) for row, board in zip(rows, lot_of(lot), strict=True)]
        for lot, rows in sorted(by_lot.items())
    ]
    colours = {share: colours_say(lots, share) for share in SHARES}
    for share, said in colours.items():
        print(f"colour, {share:.2f} of the photographs' error: {found(lots, said)}", flush=True)
    for read in READ:
        rng = np.random.default_rng(5)
        seen = [[with_error(board, read, rng) for board in lot] for lot in lots]
        rings = [np.array([[rings_say(a, b, read) for b in lot] for a in lot]) for lot in seen]
        name = f"rings read to {100 * read[0]:.0f} % of a width, {read[1]:.1f} of a tone"
        print(f"{name}: {found(lots, rings)}", flush=True)
        for share in (0.0, 1.0):
            both = [a + b for a, b in zip(rings, colours[share], strict=True)]
            print(f"{name}, and colour with {share:.0f} of its error: {found(lots, both)}")


if __name__ == "__main__":
    main()
