"""Fit the score of a spot on boards that the network has not seen; print its rows.

``python -m scanner.vision.training.fit_odds FOLDER fold0.onnx fold1.onnx ...`` reads the training
faces in FOLDER and, beside each ONNX, the JSON that names the boards it was not trained on. The
rows go by hand into ``scanner.vision.flaws.learned_odds``.
"""

import argparse
import json
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray
from shapely.geometry import Polygon

from scanner.geometry.polygons import iou, polygon_of
from scanner.vision.flaws.learned import measure_spot
from scanner.vision.flaws.learned_maps import share_maps
from scanner.vision.flaws.learned_odds import SPOT_MEASURES
from scanner.vision.flaws.learned_regions import outline_mm, spot_regions
from scanner.vision.flaws.surface import paint
from scanner.vision.training.faces import MM_PER_PX, TrainingFace, read_faces
from scanner.vision.training.logistic import fit_logistic, standardised
from scanner.vision.training.targets import SPOTS

Doubles = NDArray[np.float64]

_SAME_IOU = 0.3
_LEAST_SPREAD = 0.05
_PENALTY = 2.0


def regions_of(face: TrainingFace, weights: Path) -> tuple[list[list[float]], list[bool]]:
    """Return the measures of a face's regions, and which of them are marked as a spot."""
    outline = polygon_of(face.outline * MM_PER_PX)
    wood = paint(outline, (0.0, 0.0), face.pixels.shape)
    maps = share_maps(face.pixels, wood, weights)
    marks = [shape_of(flaw) for flaw in face.flaws if flaw["kind"] in SPOTS]
    left_out = [shape_of(flaw) for flaw in face.flaws if flaw["kind"] == "other"]
    measures, right = [], []
    for region in spot_regions(maps):
        shape = outline_mm(region, (0.0, 0.0))
        is_spot = any(iou(shape, mark) >= _SAME_IOU for mark in marks)
        if is_spot or not any(shape.intersects(area) for area in left_out):
            measures.append(measure_spot(region, maps))
            right.append(is_spot)
    return measures, right


def shape_of(flaw: dict[str, object]) -> Polygon:
    """Return a mark's outline, or its box where that is all there is, mm."""
    if "polygon" in flaw:
        return polygon_of(np.asarray(flaw["polygon"], dtype=np.float64) * MM_PER_PX)
    x0, y0, x1, y1 = np.asarray(flaw["box"], dtype=np.float64) * MM_PER_PX
    return Polygon([(x0, y0), (x1, y0), (x1, y1), (x0, y1)])


def fit(measures: Doubles, right: Doubles) -> tuple[float, list[tuple[str, float, float, float]]]:
    """Return the offset and for each measure its name, middle, half-spread and weight."""
    standard, middle, spread = standardised(measures, _LEAST_SPREAD, 4.0)
    theta = fit_logistic(standard, right, _PENALTY)
    rows = zip(SPOT_MEASURES, middle.tolist(), spread.tolist(), theta[1:].tolist(), strict=True)
    return float(theta[0]), list(rows)


def main() -> None:
    """Fit and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", type=Path)
    parser.add_argument("weights", type=Path, nargs="+")
    chosen = parser.parse_args()
    cv2.setNumThreads(1)
    measures: list[list[float]] = []
    right: list[bool] = []
    for weights in chosen.weights:
        unseen = set(json.loads(weights.with_suffix(".json").read_text())["left_out"])
        for face in read_faces(chosen.folder):
            if face.board in unseen:
                more, are_right = regions_of(face, weights)
                measures += more
                right += are_right
    offset, rows = fit(np.array(measures), np.array(right, dtype=np.float64))
    print(f"{len(right)} regions, offset {offset:.3f}")
    for name, middle, spread, weight in rows:
        print(f'    ("{name}", {middle:.4g}, {spread:.4g}, {weight:.3f}),')


if __name__ == "__main__":
    main()
