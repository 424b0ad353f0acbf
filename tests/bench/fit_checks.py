"""Fit how sure a check on a scanned face is; print the rows of ``learned_odds`` and what they give.

``python -m tests.bench.fit_checks --fit 3000-3020 --try 3100-3115`` reads rendered faces that the
network was not trained on. A candidate is right where two fifths of it lie on a crack; a crack over
20 mm is found where candidates cover two fifths of it.
"""

import argparse

import cv2
import numpy as np
from shapely.geometry import Polygon

from scanner.vision.flaws.learned import as_shown
from scanner.vision.flaws.learned_lines import measure_lines, scan_lines, wood_x_mm
from scanner.vision.flaws.learned_maps import PHOTO_WEIGHTS, share_maps
from scanner.vision.flaws.learned_odds import LINE_MEASURES, line_odds
from scanner.vision.flaws.learned_regions import outline_mm
from scanner.vision.flaws.surface import prepare
from scanner.vision.training.logistic import fit_logistic, standardised
from tests.bench.faces import FlatFace, flat_faces
from tests.bench.flaws import off_outline
from tests.bench.seeing import CRACKS, SPOTS, covered

_COVERED = 0.4
_LEAST_SPREAD = 0.05
_PENALTY = 2.0
_IN_KNOT_SHARE = 0.5
_KNOT_RIM_MM = 3.0


def candidates(face: FlatFace) -> tuple[list[tuple[list[float], Polygon, bool]], list[Polygon]]:
    """Return (measures, outline, is right) of a face's candidates, and its cracks over 20 mm."""
    surface = prepare(face.picture, off_outline(face))
    maps = share_maps(as_shown(surface), surface.wood, PHOTO_WEIGHTS)
    x_mm = wood_x_mm(surface.wood, surface.origin_mm)
    shapes = [(kind, shape.intersection(face.outline)) for kind, _, shape in face.flaws]
    cracks = [shape for kind, shape in shapes if kind in CRACKS and not shape.is_empty]
    knots = [shape.buffer(_KNOT_RIM_MM) for kind, shape in shapes if kind in SPOTS]
    seen = []
    for region in scan_lines(maps):
        outline = outline_mm(region, surface.origin_mm)
        share = max((outline.intersection(k).area for k in knots), default=0.0)
        if not outline.is_empty and share <= _IN_KNOT_SHARE * outline.area:
            seen.append((region, outline))
    rows = measure_lines(seen, maps, x_mm)
    found = [
        (list(row), outline, covered(outline, cracks) >= _COVERED)
        for row, (_, outline) in zip(rows, seen, strict=True)
    ]
    return found, [c for c in cracks if c.bounds[2] - c.bounds[0] > 20]


def fit(measures: np.ndarray, right: np.ndarray) -> tuple[float, np.ndarray]:
    """Return the offset, and rows of middle, half-spread and weight."""
    standard, middle, spread = standardised(measures, _LEAST_SPREAD, 4.0)
    theta = fit_logistic(standard, right, _PENALTY)
    return float(theta[0]), np.column_stack([middle, spread, theta[1:]])


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--fit", default="3000-3020", help="first-last")
    parser.add_argument("--try", dest="tried", default="3100-3115", help="first-last")
    chosen = parser.parse_args()
    cv2.setNumThreads(1)
    sets = []
    for text in (chosen.fit, chosen.tried):
        first, last = (int(v) for v in text.split("-"))
        sets.append([candidates(face) for face in flat_faces(range(first, last + 1))])
    rows = [c for found, _ in sets[0] for c in found]
    offset, fitted = fit(np.array([c[0] for c in rows]), np.array([c[2] for c in rows], float))
    print(f"{len(rows)} candidates on {len(sets[0])} faces\n{offset:.3f}")
    for name, row in zip(LINE_MEASURES, fitted, strict=True):
        print('    ("{}", {:.4g}, {:.4g}, {:.3f}),'.format(name, *row))
    print("with the rows as they stand, on the faces tried:")
    for least in (0.2, 0.25, 0.3, 0.35, 0.4, 0.5):
        hits = total = false = 0
        for found, cracks in sets[1]:
            scores = line_odds(np.array([c[0] for c in found])) if found else []
            kept = [c for c, score in zip(found, scores, strict=True) if score >= least]
            false += sum(not c[2] for c in kept)
            hits += sum(covered(crack, [c[1] for c in kept]) >= _COVERED for crack in cracks)
            total += len(cracks)
        print(f"score {least}: {hits} of {total} found, {false / len(sets[1]):.2f} false a face")


if __name__ == "__main__":
    main()
