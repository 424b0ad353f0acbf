"""Fit how a knot's soundness is judged, on boards that the network has not seen; print its rows.

``python -m scanner.vision.training.fit_soundness FOLDER fold0.onnx fold1.onnx ...`` reads the
training faces in FOLDER and, beside each ONNX, the JSON that names the boards it was not trained
on. The rows go by hand into ``scanner.vision.flaws.soundness``. Prints also how well knots are
told apart by models fitted without their boards (five-fold).
"""

import argparse
import json
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from scanner.geometry.polygons import iou, polygon_of
from scanner.vision.flaws.learned_maps import clear_wood, share_maps
from scanner.vision.flaws.learned_regions import outline_mm, spot_regions
from scanner.vision.flaws.soundness import KNOT_MEASURES, knot_measures
from scanner.vision.flaws.spot_model import Model
from scanner.vision.flaws.surface import paint
from scanner.vision.training.faces import MM_PER_PX, TrainingFace, read_faces
from scanner.vision.training.fit_odds import shape_of
from scanner.vision.training.logistic import fit_logistic, standardised

Doubles = NDArray[np.float64]

_SAME_IOU = 0.3
_LEAST_SPREAD = 1e-3
_PENALTY = 5.0
_FOLDS = 5


def knots_of(face: TrainingFace, weights: Path) -> tuple[list[list[float]], list[bool]]:
    """Return the measures of the marked knots that the network finds, and which are loose."""
    wood = paint(polygon_of(face.outline * MM_PER_PX), (0.0, 0.0), face.pixels.shape)
    maps = share_maps(face.pixels, wood, weights)
    clear = clear_wood(face.pixels, wood)
    marks = [(shape_of(f), not f["sound"]) for f in face.flaws if f["kind"] == "knot"]
    measures, loose = [], []
    for region in spot_regions(maps):
        shape = outline_mm(region, (0.0, 0.0))
        best = max(((iou(shape, mark), is_loose) for mark, is_loose in marks), default=(0.0, False))
        if best[0] >= _SAME_IOU:
            measures.append(knot_measures(face.pixels, clear, region, maps))
            loose.append(best[1])
    return measures, loose


def fit(measures: Doubles, loose: Doubles) -> Model:
    """Return the model that tells loose knots, as if there were as many of each."""
    standard, middle, spread = standardised(measures, _LEAST_SPREAD, 3.0)
    share = loose.mean()
    weight = np.where(loose > 0, 0.5 / share, 0.5 / (1 - share))
    both = np.hstack([standard, standard**2 - 1.0])
    theta = fit_logistic(both, loose, _PENALTY, weight)
    linear, square = np.split(theta[1:], 2)
    columns = (middle, spread, linear, square)
    rows = zip(KNOT_MEASURES, *(c.tolist() for c in columns), strict=True)
    return Model(float(theta[0]), tuple(rows))


def left_out(measures: Doubles, loose: Doubles, boards: NDArray[np.str_]) -> Doubles:
    """Return how likely each knot is loose by a model fitted without its board."""
    names = np.unique(boards)
    np.random.default_rng(0).shuffle(names)
    said = np.zeros(len(loose))
    for fold in range(_FOLDS):
        out = np.isin(boards, names[fold::_FOLDS])
        said[out] = fit(measures[~out], loose[~out]).odds(measures[out], KNOT_MEASURES)
    return said


def main() -> None:
    """Fit and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", type=Path)
    parser.add_argument("weights", type=Path, nargs="+")
    chosen = parser.parse_args()
    cv2.setNumThreads(1)
    measures: list[list[float]] = []
    loose: list[bool] = []
    boards: list[str] = []
    for weights in chosen.weights:
        unseen = set(json.loads(weights.with_suffix(".json").read_text())["left_out"])
        for face in read_faces(chosen.folder):
            if face.board in unseen:
                more, are_loose = knots_of(face, weights)
                measures += more
                loose += are_loose
                boards += [face.board] * len(more)
    values, truth = np.array(measures), np.array(loose, dtype=np.float64)
    said = left_out(values, truth, np.array(boards)) > 0.5
    right = [(said[truth == kind] == kind).mean() for kind in (0, 1)]
    print(f"{len(truth)} knots; boards left out: sound {right[0]:.3f}, loose {right[1]:.3f} right")
    model = fit(values, truth)
    print(f"    {model.offset:.3f},")
    for name, *row in model.rows:
        print('        ("{}", {:.4g}, {:.4g}, {:.3f}, {:.3f}),'.format(name, *row))


if __name__ == "__main__":
    main()
