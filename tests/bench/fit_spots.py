"""Fit how sure a spot of a scanned face is a knot, hole or pocket; print rows of ``learned_odds``.

``python -m tests.bench.fit_spots --seeds 8000-8059 --jobs 16`` reads rendered faces that the
network was not trained on. `scanner.vision.training.fit_odds` does the same for real boards and the
other network. What is printed of a board comes from rows that were fitted without it.
"""

import argparse
from functools import partial
from pathlib import Path

import cv2
import numpy as np

from scanner.vision.flaws.learned import as_shown, measure_spot
from scanner.vision.flaws.learned_maps import PHOTO_WEIGHTS, share_maps
from scanner.vision.flaws.learned_odds import SPOT_MEASURES, spot_odds
from scanner.vision.flaws.learned_regions import outline_mm, spot_regions
from scanner.vision.flaws.surface import prepare
from tests.bench.faces import flat_face
from tests.bench.fit_checks import fit, odds
from tests.bench.flaws import off_outline
from tests.bench.many import workers
from tests.bench.seeing import CRACKS, SPOTS, is_same

_OTHERS = ("stain", "pitch", "marked", "wane", *CRACKS)
_SMALL_MM = 9.0


def spots_of(job: tuple[int, int], weights: Path) -> list[tuple[str, list[float], bool, float]]:
    """Return (board, measures, is it right, size mm) of a face's regions, but for other flaws."""
    cv2.setNumThreads(1)
    face = flat_face(*job)
    surface = prepare(face.picture, off_outline(face))
    maps = share_maps(as_shown(surface), surface.wood, weights)
    found = []
    for region in spot_regions(maps):
        outline = outline_mm(region, surface.origin_mm)
        if outline.is_empty:
            continue
        right = any(is_same(outline, shape) for kind, _, shape in face.flaws if kind in SPOTS)
        near = any(outline.distance(shape) < 1 for kind, _, shape in face.flaws if kind in _OTHERS)
        if right or not near:
            size = float(2 * np.sqrt(outline.area / np.pi))
            found.append((face.name.split("-")[0], measure_spot(region, maps), right, size))
    return found


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seeds", default="8000-8059", help="first-last")
    parser.add_argument("--weights", type=Path, default=PHOTO_WEIGHTS)
    parser.add_argument("--jobs", type=int, default=1)
    chosen = parser.parse_args()
    first, last = (int(v) for v in chosen.seeds.split("-"))
    jobs = [(seed, face) for seed in range(first, last + 1) for face in (1, 2)]
    with workers(chosen.jobs) as pool:
        rows = [
            r for part in pool.map(partial(spots_of, weights=chosen.weights), jobs) for r in part
        ]
    boards = np.array([row[0] for row in rows])
    values = np.array([row[1] for row in rows], float)
    right = np.array([row[2] for row in rows], float)
    large = np.array([row[3] >= _SMALL_MM for row in rows])
    offset, fitted = fit(values, right)
    print(f"{len(rows)} regions, {int(right.sum())} right, on {len(jobs)} faces\n{offset:.3f}")
    for name, row in zip(SPOT_MEASURES, fitted, strict=True):
        print('    ("{}", {:.4g}, {:.4g}, {:.3f}),'.format(name, *row))
    said = np.zeros(len(rows))
    for board in set(boards):
        out = boards == board
        said[out] = odds(values[out], *fit(values[~out], right[~out]))
    now = spot_odds(values)
    for name, scores in (("rows as they stand", now), ("rows fitted without the board", said)):
        print(name)
        for least in (0.2, 0.3, 0.35, 0.4, 0.5, 0.6, 0.7):
            told = (scores >= least) & large
            print(
                f"  score {least}: {int(right[told].sum())} true, {int((1 - right)[told].sum())}"
                f" false of 9 mm and more"
            )
        for low, high in ((0, 0.2), (0.2, 0.4), (0.4, 0.6), (0.6, 0.8), (0.8, 1.01)):
            part = (scores >= low) & (scores < high)
            if part.any():
                print(f"  scored {low}-{min(high, 1):g}: {right[part].mean():.2f} of {part.sum()}")


if __name__ == "__main__":
    main()
