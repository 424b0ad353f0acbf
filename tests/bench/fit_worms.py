"""Fit how sure a dark round speck is a worm hole; print the rows of ``learned_odds``.

``python -m tests.bench.fit_worms --seeds 5300-5389`` reads rendered faces that the network was not
trained on. What the rows say of a board is judged by rows fitted without it.
"""

import argparse

import cv2
import numpy as np
from shapely.geometry import Point

from scanner.vision.flaws.learned import shares_of
from scanner.vision.flaws.learned_odds import WORM_MEASURES
from scanner.vision.flaws.surface import prepare
from scanner.vision.flaws.worm_holes import specks
from scanner.vision.training.logistic import fit_logistic, standardised
from tests.bench.faces import FlatFace, flat_face
from tests.bench.flaws import off_outline, to_their_rims
from tests.bench.many import workers

_LEAST_SPREAD, _MOST, _PENALTY = 0.25, 4.0, 1.0
# A speck so near to a hole is it; so near to another flaw it teaches nothing.
_ON_HOLE_MM, _BESIDE_MM = 0.6, 2.0


def _job(job: tuple[int, int]) -> list[tuple[str, list[float], bool]]:
    cv2.setNumThreads(1)
    face = to_their_rims(flat_face(*job))
    return [(face.name.split("-")[0], *speck) for speck in face_specks(face)]


def face_specks(face: FlatFace) -> list[tuple[list[float], bool]]:
    """Return measures of a face's specks, and whether each is a hole."""
    surface = prepare(face.picture, off_outline(face))
    middles, measures = specks(surface, shares_of(surface.lab, surface.wood).of("spot"))
    holes = [shape.buffer(_ON_HOLE_MM) for kind, _, shape in face.flaws if kind == "hole"]
    others = [shape for kind, _, shape in face.flaws if kind not in ("hole", "wild_grain")]
    found = []
    for middle, row in zip(map(Point, middles), measures, strict=True):
        right = any(hole.contains(middle) for hole in holes)
        if right or not any(shape.distance(middle) < _BESIDE_MM for shape in others):
            found.append((list(row), right))
    return found


def fit(values: np.ndarray, right: np.ndarray) -> tuple[float, np.ndarray]:
    """Return the offset, and rows of middle, half-spread and weight."""
    standard, middle, spread = standardised(values, _LEAST_SPREAD, _MOST)
    theta = fit_logistic(standard, right, _PENALTY)
    return float(theta[0]), np.column_stack([middle, spread, theta[1:]])


def odds(values: np.ndarray, offset: float, rows: np.ndarray) -> np.ndarray:
    """Return how sure rows are of measures."""
    standard = np.clip((values - rows[:, 0]) / rows[:, 1], -_MOST, _MOST)
    return 1 / (1 + np.exp(-(offset + standard @ rows[:, 2])))


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seeds", default="5300-5389", help="first-last")
    parser.add_argument("--jobs", type=int, default=1)
    chosen = parser.parse_args()
    first, last = (int(v) for v in chosen.seeds.split("-"))
    jobs = [(seed, face) for seed in range(first, last + 1) for face in (1, 2)]
    with workers(chosen.jobs) as pool:
        found = [row for part in pool.map(_job, jobs) for row in part]
    boards = np.array([row[0] for row in found])
    values = np.array([row[1] for row in found], float)
    right = np.array([row[2] for row in found], float)
    offset, rows = fit(values, right)
    print(f"{len(found)} specks, {int(right.sum())} holes, {len(jobs)} faces\n{offset:.3f}")
    for name, row in zip(WORM_MEASURES, rows, strict=True):
        print('    ("{}", {:.4g}, {:.4g}, {:.3f}),'.format(name, *row))
    said = np.zeros(len(found))
    for board in set(boards):
        out = boards == board
        said[out] = odds(values[out], *fit(values[~out], right[~out]))
    for least in (0.3, 0.4, 0.5, 0.6, 0.7, 0.9):
        told = said >= least
        print(f"score {least}: {int(right[told].sum())} holes, {int((1 - right)[told].sum())} not")


if __name__ == "__main__":
    main()
