"""Fit how sure a small dark spot is a hole or a knot; print the rows of ``learned_odds``.

``python -m tests.bench.fit_small --seeds 3100-3110`` reads rendered faces that the network was not
trained on. What the rows say of a board is judged by rows fitted without it.
"""

import argparse

import cv2
import numpy as np

from scanner.vision.flaws.judge import judge_spots
from scanner.vision.flaws.learned_odds import SMALL_MEASURES
from scanner.vision.flaws.own_texture import own_texture
from scanner.vision.flaws.surface import prepare
from scanner.vision.flaws.together import candidates, is_small, measure_small
from scanner.vision.training.logistic import fit_logistic, standardised
from tests.bench.faces import FlatFace, flat_face
from tests.bench.flaws import off_outline, wane_of
from tests.bench.many import workers
from tests.bench.seeing import CRACKS, SPOTS, is_same

_LEAST_SPREAD, _MOST, _PENALTY = 0.05, 4.0, 1.0
_OTHERS = ("stain", "pitch", "marked", "wane", *CRACKS)


def _job(job: tuple[int, int]) -> list[tuple[str, list[float], bool]]:
    cv2.setNumThreads(1)
    face = flat_face(*job)
    return [(face.name.split("-")[0], *spot) for spot in small_spots(face)]


def small_spots(face: FlatFace) -> list[tuple[list[float], bool]]:
    """Return measures of a face's small spots and whether each is a hole or a knot.

    What lies on another flaw teaches nothing and is left out.
    """
    surface = prepare(face.picture, off_outline(face))
    spots = judge_spots(surface, wane_of(face))
    texture = own_texture(surface)
    found = []
    for flaw, network in candidates(surface, spots):
        outline = flaw.outlines[1]
        if flaw.kind.value in CRACKS or not is_small(flaw):
            continue
        right = any(is_same(outline, shape) for kind, _, shape in face.flaws if kind in SPOTS)
        near = any(outline.distance(shape) < 1 for kind, _, shape in face.flaws if kind in _OTHERS)
        if right or not near:
            found.append((measure_small(flaw, network, spots, texture), right))
    return found


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seeds", default="3100-3110", help="first-last")
    parser.add_argument("--jobs", type=int, default=1)
    chosen = parser.parse_args()
    first, last = (int(v) for v in chosen.seeds.split("-"))
    jobs = [(seed, face) for seed in range(first, last + 1) for face in (1, 2)]
    with workers(chosen.jobs) as pool:
        rows = [row for part in pool.map(_job, jobs) for row in part]
    boards = np.array([row[0] for row in rows])
    values = np.array([row[1] for row in rows], float)
    right = np.array([row[2] for row in rows], float)
    standard, middle, spread = standardised(values, _LEAST_SPREAD, _MOST)
    theta = fit_logistic(standard, right, _PENALTY)
    print(f"{len(rows)} small spots, {int(right.sum())} true\n{theta[0]:.3f}")
    for row in zip(SMALL_MEASURES, middle, spread, theta[1:], strict=True):
        print('    ("{}", {:.4g}, {:.4g}, {:.3f}),'.format(*row))
    said = np.zeros(len(rows))
    for board in set(boards):
        out = boards == board
        standard, middle, spread = standardised(values[~out], _LEAST_SPREAD, _MOST)
        weights = fit_logistic(standard, right[~out], _PENALTY)
        z = np.clip((values[out] - middle) / spread, -_MOST, _MOST)
        said[out] = 1 / (1 + np.exp(-(weights[0] + z @ weights[1:])))
    for least in (0.2, 0.3, 0.4, 0.5, 0.7):
        told = said >= least
        print(f"score {least}: {int(right[told].sum())} true, {int((1 - right)[told].sum())} false")


if __name__ == "__main__":
    main()
