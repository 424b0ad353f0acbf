"""Cross-dating of boards: which of a lot come out of one log, by the very widths of their rings.

Trees of one place, and all the more the radii of one tree, share the sequence of wide and narrow
rings; that is how wood is dated (M. G. L. Baillie and J. R. Pilcher 1973, "A simple crossdating
program for tree-ring research"). The program does not use it: this bench says what it would add to
`tests.bench.likeness`, on the same lots.

``python -m tests.bench.ring_series --seeds 3000-3007``, quicker where `tests.bench.likeness` has
run on the same seeds and left its rows. The rings of a face are followed along the
board from its middle, which gives one mean crosscut; laid over the radius by `ring_fit` it is a
series for each side of the pith. Two series are held against each other by a local alignment that
may stretch them a little (T. F. Smith and M. S. Waterman 1981). Weights were chosen on lots
3000-3007. In the renderer all boards of a log have the very rings of the log, warped slowly from
place to place; round a real log they vary more, so real boards would be found less often.
"""

from __future__ import annotations

import argparse
import itertools
import pickle

import cv2
import numba
import numpy as np
from scipy.ndimage import gaussian_filter1d

from scanner.board.looks import unlikeness
from scanner.vision.likeness import FaceWood
from scanner.vision.ring_spectrum import _crosscuts
from scanner.vision.second_look.grain_print import painted
from tests.bench.figures import Bench, Figure, keep, share_text
from tests.bench.likeness import OUT, Row, found_share, row_of
from tests.bench.log_boards import MM_PER_PX, FlatFace, flat_face, lot_of

_STEP_MM = 0.25
# Rings are followed in windows of this sd, the template renewed by this share a slice.
_WINDOW_MM, _RENEWED = 3.5, 0.12
# Nearer to the pith than this share of its depth rings lie along the face: no crosscut shows them.
_STEEP = 0.3
# How alike two series of one log are, and how many of their steps tell something of their own.
_RHO, _OWN_SHARE = 0.8, 0.3
# What a change of stretch costs, and being off 1.
_CHANGE, _OFF = 0.4, 0.05
# A series' likelihood beside unlikeness; less than _LEAST over a board's usual one says nothing.
_WEIGHT, _LEAST, _LOOKS = 0.4, 3.0, 3.0


def mean_crosscut(slices: np.ndarray, is_full: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return the rings across a face (H,) where its middle is, followed along it, and their counts.

    Parameters
    ----------
    slices, is_full
        (H, C) crosscuts and where they are clear wood; see `ring_spectrum`.
    """
    rows = np.arange(len(slices), dtype=np.float32)
    strength = np.sqrt((slices**2).sum(0) / np.maximum(is_full.sum(0), 1))
    calm = np.clip(slices / np.maximum(strength, 1e-6), -3, 3)
    good = np.flatnonzero(is_full.mean(0) > 0.4 * is_full.mean(0).max())
    middle = int(good[len(good) // 2])
    total, count = np.zeros(len(rows)), np.zeros(len(rows))
    start = calm[:, max(middle - 2, 0) : middle + 3].mean(1)
    for columns in (range(middle, calm.shape[1]), range(middle - 1, -1, -1)):
        like, place, drift = start.copy(), rows.copy(), np.zeros(len(rows))
        for c in columns:
            if is_full[:, c].mean() <= 0.15:
                continue
            step = _step(like, calm[:, c], place + drift)
            place = np.maximum.accumulate(place + drift + step)
            drift = np.clip(0.85 * drift + 0.175 * step, -2, 2)
            seen = np.interp(place, rows, calm[:, c], left=0, right=0)
            weight = np.interp(place, rows, is_full[:, c].astype(float), left=0, right=0)
            total += seen * weight
            count += weight
            like = np.where(weight > 0.5, (1 - _RENEWED) * like + _RENEWED * seen, like)
    return np.where(count > 8, total / np.maximum(count, 1), 0), count


def _step(like: np.ndarray, column: np.ndarray, place: np.ndarray) -> np.ndarray:
    """Return how many rows the rings lie further in the next slice, row by row."""
    rows = np.arange(len(like))
    steps = np.arange(-2, 2.01, 0.5)
    sd = _WINDOW_MM / MM_PER_PX
    fits = np.array(
        [
            gaussian_filter1d(
                like * np.interp(place + s, rows, column, left=0, right=0), sd, mode="constant"
            )
            for s in steps
        ]
    )
    fits -= 0.02 * steps[:, None] ** 2 * np.maximum(fits.max(0), 0.05)
    best = np.clip(fits.argmax(0), 1, len(steps) - 2)
    below, here, above = fits[best - 1, rows], fits[best, rows], fits[best + 1, rows]
    bend = below - 2 * here + above
    between = np.where(np.abs(bend) > 1e-9, 0.5 * (below - above) / np.where(bend, bend, 1), 0)
    found = steps[best] + 0.5 * np.clip(between, -0.5, 0.5)
    sure = np.clip(fits.max(0), 0, None) + 1e-4
    return gaussian_filter1d(found * sure, sd) / gaussian_filter1d(sure, sd)


def board_series(row: Row, faces: dict[int, FlatFace], thickness_mm: float) -> list[np.ndarray]:
    """Return the series of a board: of each face, on each side of the pith, from the pith out."""
    found: list[np.ndarray] = []
    if row.fit is None:
        return found
    for number, face in faces.items():
        depth = row.fit.depth_mm + (0.0 if number == row.fit.heart_face else thickness_mm)
        wood = FaceWood(face.pixels, MM_PER_PX, face.origin_mm, face.outline, face.flaws)
        profile, count = mean_crosscut(*_crosscuts(face.pixels, _clear(wood), MM_PER_PX))
        y = face.origin_mm[1] + np.arange(len(profile)) * MM_PER_PX
        _, low, _, high = face.outline.bounds
        for side in (-1, 1):
            across = (y - (low + high) / 2 - row.fit.pith_mm) * side
            use = (count > 8) & (across > max(_STEEP * depth, 3.0))
            if use.sum() >= 36:
                found.append(_radial(np.hypot(across[use], depth), profile[use]))
    return [series for series in found if len(series) >= 64]


def _clear(face: FaceWood) -> np.ndarray:
    """Return where a face is clear wood, as `likeness` sees it."""
    rim = face.outline.buffer(-3.0)
    inner = tuple(p for p in getattr(rim, "geoms", (rim,)) if not p.is_empty)
    wood = painted(inner, face.origin_mm, face.mm_per_px, face.pixels.shape)
    around = tuple(flaw.buffer(10.0) for flaw in face.flaws if not flaw.is_empty)
    return np.asarray(wood & ~painted(around, face.origin_mm, face.mm_per_px, face.pixels.shape))


def _radial(radius: np.ndarray, profile: np.ndarray) -> np.ndarray:
    """Return a profile by even steps of radius, its slow changes and its strength evened out."""
    order = np.argsort(radius)
    steps = np.arange(radius.min(), radius.max(), _STEP_MM)
    even = np.interp(steps, radius[order], profile[order])
    even = gaussian_filter1d(even - gaussian_filter1d(even, 8 / _STEP_MM, mode="nearest"), 1.2)
    local = np.sqrt(gaussian_filter1d(even * even, 12 / _STEP_MM, mode="nearest"))
    return np.clip(even / np.maximum(local, 0.3 * even.std() + 1e-6), -2.5, 2.5)


@numba.njit(cache=True, fastmath=True)
def alignment(a: np.ndarray, b: np.ndarray) -> float:
    """Return the likelihood (logarithm) of the best common stretch of two series, 0 without one.

    Both go on by 2 mm of ``a`` at a time, and by 1.25 to 3 mm of ``b``.
    """
    alone = -0.5 * np.log(1 - _RHO * _RHO)
    spread = 1 / (2 * (1 - _RHO * _RHO))
    best = 0.0
    before = np.full((len(b) + 1, 8), -1e9)
    now = np.full((len(b) + 1, 8), -1e9)
    for node in range(len(a) // 8):
        now[:] = -1e9
        for j in range(len(b) - 1):
            for k in range(8):
                long = 5 + k
                if j + long >= len(b):
                    continue
                gain = 0.0
                for t in range(8):
                    place = j + t * long / 8.0
                    at = int(place)
                    v = b[at] + (b[at + 1] - b[at]) * (place - at)
                    u = a[node * 8 + t]
                    gain += alone - spread * (_RHO * _RHO * (u * u + v * v) - 2 * _RHO * u * v)
                so_far = 0.0
                for other in range(8):
                    off = abs(k - other)
                    so_far = max(so_far, before[j, other] - _CHANGE * off * (1 + off) / 2)
                so_far += gain * _OWN_SHARE - _OFF * (k - 3) ** 2
                now[j + long, k] = max(now[j + long, k], so_far)
                best = max(best, so_far)
        before, now = now, before
    return best


def found_with_series(rows: list[Row], apart: np.ndarray, *, alone: bool) -> tuple[int, int]:
    """Return of how many boards of one lot the likest other one is of the same log, of how many.

    ``apart`` (N, N) are the alignments; ``alone``: by the series only.
    """
    usual = np.median(apart, axis=1)
    more = apart - (usual[:, None] + usual[None, :]) / 2
    hits = 0
    for n, row in enumerate(rows):
        scores = {}
        for m, other in enumerate(rows):
            if m != n:
                unlike = unlikeness(row.looks, other.looks) or 9.0
                series = _WEIGHT * max(0.0, more[n, m] - _LEAST)
                scores[m] = float(more[n, m]) if alone else series - _LOOKS * unlike**2
        hits += rows[max(scores, key=lambda m: scores[m])].log == row.log
    return hits, len(rows)


def main() -> None:
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--seeds", default="3000-3007")
    asked.add_argument("--keep", action="store_true", help="put the figures among those kept")
    options = asked.parse_args()
    cv2.setNumThreads(1)
    first, last = (int(v) for v in options.seeds.split("-"))
    kept = OUT / f"rows-{options.seeds}.pickle"
    known = pickle.loads(kept.read_bytes()) if kept.exists() else None
    totals = np.zeros((3, 2), dtype=int)
    for lot in range(first, last + 1):
        boards = lot_of(lot)
        rows = (
            [row for row in known if row.lot == lot]
            if known
            else [row_of((lot, n)) for n in range(len(boards))]
        )
        series = []
        for row, board in zip(rows, boards, strict=True):
            faces = {face: flat_face(board, face) for face in (1, 2)}
            series.append(board_series(row, faces, board.thickness_mm))
        apart = np.zeros((len(rows), len(rows)))
        for i, j in itertools.combinations(range(len(rows)), 2):
            best = max((alignment(a, b) for a in series[i] for b in series[j]), default=0.0)
            apart[i, j] = apart[j, i] = best
        totals += [
            found_share(rows),
            found_with_series(rows, apart, alone=True),
            found_with_series(rows, apart, alone=False),
        ]
        print(f"{lot} {rows[0].species}: {totals[:, 0].tolist()} of {totals[0, 1]}", flush=True)
    names = ("looks, as the program sorts", "ring series alone", "looks and ring series")
    claim = "the likest other board of the lot is of the same log"
    figures = tuple(
        Figure(f"{claim}: {name}", share_text(int(hits), int(of)))
        for name, (hits, of) in zip(names, totals, strict=True)
    )
    for figure in figures:
        print(f"{figure.claim}: {figure.figure}")
    if options.keep:
        keep(
            Bench(
                "ring-series",
                "Boards of one log by the widths of their rings (not in the program)",
                f"rendered logs, lots {options.seeds}: five logs of one species, four boards each",
                f"python -m tests.bench.ring_series --seeds {options.seeds} --keep",
                figures,
            )
        )


if __name__ == "__main__":
    # By its full name, so that rows can be read back by others.
    from tests.bench.ring_series import main as run

    run()
