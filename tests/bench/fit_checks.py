"""Fit how sure a check on a scanned face is; print the rows of ``learned_odds`` and what they give.

``python -m tests.bench.fit_checks --seeds 8000-8059 --jobs 16`` reads rendered faces that the
network was not trained on. A candidate is right where two fifths of it lie on a crack; a crack over
20 mm is found where candidates cover two fifths of it. What is printed of a board comes from rows
that were fitted without it. ``--ways`` compares several ways to form candidates.
"""

import argparse
import pickle
from dataclasses import dataclass
from functools import partial
from pathlib import Path

import cv2
import numpy as np
from shapely.geometry import Polygon

from scanner.vision.flaws.learned import as_shown
from scanner.vision.flaws.learned_lines import SCAN_LIMITS, measure_lines, scan_lines, wood_x_mm
from scanner.vision.flaws.learned_maps import PHOTO_WEIGHTS, ShareMaps, share_maps
from scanner.vision.flaws.learned_odds import LINE_MEASURES
from scanner.vision.flaws.learned_regions import LineLimits, outline_mm
from scanner.vision.flaws.surface import Surface, prepare
from scanner.vision.training.logistic import fit_logistic, standardised
from tests.bench.faces import FlatFace, flat_face
from tests.bench.flaws import off_outline
from tests.bench.many import workers
from tests.bench.seeing import COVERED, CRACKS, SPOTS, covered

_LEAST_SPREAD = 0.05
_PENALTY = 2.0
_MOST = 4.0
_IN_KNOT_SHARE = 0.5
_KNOT_RIM_MM = 3.0
_CRACK_MM = 20.0
WAYS = {
    "as it stands": (SCAN_LIMITS, True),
    "plain 0.85 0.5": (LineLimits(0.85, 0.5, 30, 0.0), False),
    "plain 0.6 0.35": (LineLimits(0.6, 0.35, 30, 0.0), False),
    "gathered 0.85 0.5": (LineLimits(0.85, 0.5, 30, 0.0), True),
    "gathered 0.6 0.35": (LineLimits(0.6, 0.35, 30, 0.0), True),
    "gathered 0.45 0.25": (LineLimits(0.45, 0.25, 30, 0.0), True),
    "gathered 0.3 0.18": (LineLimits(0.3, 0.18, 30, 0.0), True),
}


@dataclass(frozen=True)
class FaceLines:
    """Candidates of a face (measures, outline, is it right) and its cracks over 20 mm."""

    board: str
    found: list
    cracks: list[Polygon]


def lines_in(face: FlatFace, surface: Surface, maps: ShareMaps, way: str) -> FaceLines:
    """Return the candidates that a way forms out of the network's shares over a face."""
    shapes = [(kind, shape.intersection(face.outline)) for kind, _, shape in face.flaws]
    cracks = [shape for kind, shape in shapes if kind in CRACKS and not shape.is_empty]
    knots = [shape.buffer(_KNOT_RIM_MM) for kind, shape in shapes if kind in SPOTS]
    limits, gather = WAYS[way]
    seen = []
    for region in scan_lines(maps, limits, gather=gather):
        outline = outline_mm(region, surface.origin_mm)
        share = max((outline.intersection(k).area for k in knots), default=0.0)
        if not outline.is_empty and share <= _IN_KNOT_SHARE * outline.area:
            seen.append((region, outline))
    rows = measure_lines(seen, maps, wood_x_mm(surface.wood, surface.origin_mm))
    found = [
        (list(row), outline, covered(outline, cracks) >= COVERED)
        for row, (_, outline) in zip(rows, seen, strict=True)
    ]
    long = [c for c in cracks if c.bounds[2] - c.bounds[0] > _CRACK_MM]
    return FaceLines(face.name.split("-")[0], found, long)


def lines_of_face(face: FlatFace, weights: Path, ways: list[str]) -> dict[str, FaceLines]:
    """Return a face's candidates by way."""
    surface = prepare(face.picture, off_outline(face))
    maps = share_maps(as_shown(surface), surface.wood, weights)
    return {way: lines_in(face, surface, maps, way) for way in ways}


def _job(job: tuple[int, int], weights: Path, ways: list[str]) -> dict[str, FaceLines]:
    cv2.setNumThreads(1)
    return lines_of_face(flat_face(*job), weights, ways)


def fit(measures: np.ndarray, right: np.ndarray) -> tuple[float, np.ndarray]:
    """Return the offset, and rows of middle, half-spread and weight."""
    standard, middle, spread = standardised(measures, _LEAST_SPREAD, _MOST)
    theta = fit_logistic(standard, right, _PENALTY)
    return float(theta[0]), np.column_stack([middle, spread, theta[1:]])


def odds(measures: np.ndarray, offset: float, rows: np.ndarray) -> np.ndarray:
    """Return how sure rows are of measures."""
    standard = np.clip((measures - rows[:, 0]) / rows[:, 1], -_MOST, _MOST)
    return 1 / (1 + np.exp(-(offset + standard @ rows[:, 2])))


def report(faces: list[FaceLines]) -> None:
    """Print the rows fitted on all faces, and what rows fitted without a board say of it."""
    every = [(f, c) for f in faces for c in f.found]
    boards = np.array([f.board for f, _ in every])
    values = np.array([c[0] for _, c in every], float)
    right = np.array([c[2] for _, c in every], float)
    offset, rows = fit(values, right)
    print(f"{len(every)} candidates, {int(right.sum())} right, on {len(faces)} faces\n{offset:.3f}")
    for name, row in zip(LINE_MEASURES, rows, strict=True):
        print('    ("{}", {:.4g}, {:.4g}, {:.3f}),'.format(name, *row))
    said = np.zeros(len(every))
    for board in set(boards):
        out = boards == board
        said[out] = odds(values[out], *fit(values[~out], right[~out]))
    print("right of those scored", end="")
    for low, high in ((0, 0.2), (0.2, 0.4), (0.4, 0.6), (0.6, 0.8), (0.8, 1.01)):
        part = (said >= low) & (said < high)
        if part.any():
            print(f", {low}-{min(high, 1):g}: {right[part].mean():.2f} of {part.sum()}", end="")
    print()
    for least in (0.1, 0.15, 0.2, 0.25, 0.3, 0.35, 0.4, 0.5, 0.6):
        hits = total = false = at = 0
        for face in faces:
            scores = said[at : at + len(face.found)]
            at += len(face.found)
            kept = [c for c, score in zip(face.found, scores, strict=True) if score >= least]
            false += sum(not c[2] for c in kept)
            hits += sum(covered(crack, [c[1] for c in kept]) >= COVERED for crack in face.cracks)
            total += len(face.cracks)
        share = hits / max(total, 1)
        told = f"{hits} of {total} found ({share:.2f}), {false / len(faces):.2f} false a face"
        print(f"score {least}: {told}")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seeds", default="3100-3115", help="first-last")
    parser.add_argument("--weights", type=Path, default=PHOTO_WEIGHTS)
    parser.add_argument("--ways", action="store_true", help="compare ways to form candidates")
    parser.add_argument("--jobs", type=int, default=1)
    parser.add_argument("--keep", type=Path, help="write what was measured, to fit again")
    chosen = parser.parse_args()
    first, last = (int(v) for v in chosen.seeds.split("-"))
    ways = list(WAYS)[1:] if chosen.ways else list(WAYS)[:1]
    jobs = [(seed, face) for seed in range(first, last + 1) for face in (1, 2)]
    work = partial(_job, weights=chosen.weights, ways=ways)
    with workers(chosen.jobs) as pool:
        made = list(pool.map(work, jobs))
    if chosen.keep:
        chosen.keep.write_bytes(pickle.dumps(made))
    for way in ways:
        print(f"== {way}")
        report([face[way] for face in made])


if __name__ == "__main__":
    main()
