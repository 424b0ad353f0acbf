"""Fit the weights of the flaw finders and of how sure they are; print them as module rows.

``python -m tests.bench.fit_flaws --seeds 1000-1012 3000-3010`` reads flat faces of those seeds
(never the ones that are measured on) and every third training board of the real wood in
``BOTHFACES_REAL``. Rows go by hand into ``spot_model`` and ``line_model``. What a model
says of boards is always judged by one fitted without them (five-fold, by board), and so are the two
numbers that turn its odds into a score.
"""

import argparse
from collections import defaultdict
from dataclasses import dataclass

import cv2
import numpy as np
from scipy.optimize import minimize
from shapely.geometry import LineString

from scanner.geometry.frames import face_from_picture
from scanner.geometry.polygons import iou
from scanner.vision.flaws.dark_lines import find_lines
from scanner.vision.flaws.judge import outline_of_spot
from scanner.vision.flaws.line_measures import LINE_FEATURES
from scanner.vision.flaws.spot_measures import FEATURES
from scanner.vision.flaws.spots import find_spots
from scanner.vision.flaws.surface import WORK_MM_PER_PX, prepare
from tests.bench.faces import flat_faces
from tests.bench.fit import Logistic, logistic
from tests.bench.flaws import off_outline
from tests.bench.seeing import COVERED, CRACKS, SPOTS, covered, is_same
from tests.bench.wood import KNOTS, pictures

_FOLDS = 5
# A rendered face counts for as much as three pictures of softwood: hardwood is what users have.
_WEIGHT = {False: 3.0, True: 1.0}
_LEAST_SPOT, _LEAST_LINE = 0.1, 0.1


@dataclass(frozen=True)
class Measured:
    """What the finders measured on one face, each thing with what it truly is.

    ``spots`` holds (measures, best IoU, kind, look, outline), ``lines`` (measures, share on a
    crack, share on a spot, path), ``truths`` (kind, polygon).
    """

    board: str
    is_real: bool
    spots: list
    lines: list
    truths: list


def measured(board, face, outline, flaws, is_real=False) -> Measured:
    """Return the measures of a face; ``flaws`` holds (kind, look, polygon)."""
    surface = prepare(face, outline)
    flaws = [f for f in flaws if f[0] not in ("wane", "wild_grain")]
    spots = []
    for spot in find_spots(surface):
        shape = outline_of_spot(surface, spot)
        overlaps = [iou(shape, f[2]) if shape.intersects(f[2]) else 0.0 for f in flaws] or [0.0]
        best = int(np.argmax(overlaps))
        kind, look = flaws[best][:2] if overlaps[best] > 0 else ("", "")
        spots.append((spot.measures, overlaps[best], kind, look, shape))
    cracks = [p.buffer(2.0) for kind, _, p in flaws if kind in CRACKS]
    near = [p.buffer(3.0) for kind, _, p in flaws if kind in SPOTS]
    lines = []
    for line in [] if is_real else find_lines(surface):
        path = LineString(face_from_picture(line.points, surface.origin_mm, WORK_MM_PER_PX))
        shares = (
            max((path.intersection(p).length / path.length for p in shapes), default=0.0)
            for shapes in (cracks, near)
        )
        lines.append((line.measures, *shares, path))
    return Measured(board, is_real, spots, lines, [(kind, p) for kind, _, p in flaws])


def spot_rows(faces, wanted_model: str):
    """Return measures, truth and weight of the spots that one of the four models learns from."""
    rows = []
    for face in faces:
        weight, wanted = _WEIGHT[face.is_real], KNOTS if face.is_real else SPOTS
        for measures, overlap, kind, look, _ in face.spots:
            if face.is_real and kind == "other" and overlap > 0.15:
                continue
            good = kind in wanted
            if wanted_model == "FLAW":
                if not (good and 0.15 < overlap < 0.4):
                    rows.append((measures, good and overlap >= 0.4, weight))
                continue
            knot = kind == "knot" or kind in KNOTS[:2]
            if not good or overlap < 0.35 or (face.is_real and not knot):
                continue
            if wanted_model == "NOT_SOUND":
                unsound = kind == "knot_loose" if face.is_real else look != "sound"
                if knot:
                    rows.append((measures, unsound, weight))
            else:
                rows.append((measures, kind == wanted_model.lower(), weight / 3))
    return [np.array(column, dtype=float) for column in zip(*rows, strict=True)]


def line_rows(faces):
    """Return measures, truth and weight of the lines that are clearly a crack or clearly none."""
    rows = [
        (measures, on_crack >= 0.6, 1.0)
        for face in faces
        for measures, on_crack, on_spot, _ in face.lines
        if on_spot <= 0.5 and not 0.3 < on_crack < 0.6
    ]
    return [np.array(column, dtype=float) for column in zip(*rows, strict=True)]


def odds(model: Logistic, values) -> np.ndarray:
    """Return the evidence (log odds) of rows of measures."""
    z = np.clip((np.asarray(values) - model.middle) / model.spread, -3, 3)
    return model.offset + z @ model.linear + (z**2 - 1) @ model.square


def left_out(faces, fit, values_of):
    """Yield (face, log odds of its things by a model fitted without its board)."""
    boards = sorted({face.board for face in faces})
    np.random.default_rng(0).shuffle(boards)
    for fold in range(_FOLDS):
        out = set(boards[fold::_FOLDS])
        model = fit([face for face in faces if face.board not in out])
        for face in faces:
            if face.board in out:
                values = values_of(face)
                yield face, odds(model, values) if len(values) else np.array([])


def kept(shapes, evidence, least: float):
    """Return the indices that a finder would keep: surest first, none over another."""
    chosen: list[int] = []
    for index in np.argsort(-evidence, kind="stable"):
        if evidence[index] < np.log(least / (1 - least)):
            break
        shape = shapes[index]
        overlaps = (
            shape.intersection(shapes[i]).area > 0.25 * min(shape.area, shapes[i].area)
            for i in chosen
            if shape.intersects(shapes[i])
        )
        if not any(overlaps):
            chosen.append(int(index))
    return chosen


def calibrated(evidence, right) -> tuple[float, float]:
    """Return scale and shift of the log odds that best say how often such candidates are right.

    Platt 1999, "Probabilistic outputs for support vector machines".
    """
    evidence, right = np.asarray(evidence), np.asarray(right, dtype=float)

    def loss(theta):
        z = theta[0] * evidence + theta[1]
        return float((np.logaddexp(0, z) - right * z).sum())

    scale, shift = minimize(loss, np.array([1.0, 0.0]), method="Nelder-Mead").x
    return float(scale), float(shift)


def report(name, evidence, right) -> None:
    """Print the two calibration numbers and how well they hold, by steps of the score."""
    scale, shift = calibrated(evidence, right)
    print(f"{name}_SCORE = ({scale:.3f}, {shift:.3f})")
    score = 1 / (1 + np.exp(-(scale * np.asarray(evidence) + shift)))
    right = np.asarray(right)
    for low, high in ((0, 0.2), (0.2, 0.4), (0.4, 0.6), (0.6, 0.8), (0.8, 0.9), (0.9, 1.01)):
        part = (score >= low) & (score < high)
        if part.any():
            print(f"  {low}-{high}: {part.sum()}, said {score[part].mean():.2f}, "
                  f"right {right[part].mean():.2f}")  # fmt: skip


def fit_spots(faces) -> None:
    """Print the four models of `spot_model` and what boards left out say of the first."""
    for name in ("FLAW", "HOLE", "BARK_POCKET", "NOT_SOUND"):
        print(name)
        logistic(*spot_rows(faces, name), 3.0 if name == "FLAW" else 10.0).print(FEATURES)
    evidence, right = [], []
    found = defaultdict(lambda: [0, 0])
    for face, said in left_out(
        faces,
        lambda some: logistic(*spot_rows(some, "FLAW"), 3.0),
        lambda face: [spot[0] for spot in face.spots],
    ):
        shapes = [spot[4] for spot in face.spots]
        chosen = kept(shapes, said, _LEAST_SPOT)
        wanted = KNOTS if face.is_real else SPOTS
        others = (*wanted, "stain", "pitch", "other")
        for index in chosen:
            is_right = any(k in others and is_same(shapes[index], p) for k, p in face.truths)
            # Softwood of a line camera must not decide how sure a score on a photo is.
            if not face.is_real:
                evidence.append(said[index])
                right.append(is_right)
        for kind, true in face.truths:
            if kind in wanted and 2 * np.sqrt(true.area / np.pi) > 10:
                tally = found["real" if face.is_real else kind]
                tally[1] += 1
                tally[0] += any(is_same(shapes[i], true) for i in chosen)
    print("over 10 mm, boards left out:", dict(found))
    report("_SPOT", evidence, right)


def fit_lines(faces) -> None:
    """Print `line_model` and what boards left out say of it."""
    faces = [face for face in faces if not face.is_real]
    print("LINES")
    logistic(*line_rows(faces)).print(LINE_FEATURES)
    evidence, right = [], []
    found = [0, 0]
    for face, said in left_out(
        faces,
        lambda some: logistic(*line_rows(some)),
        lambda face: [line[0] for line in face.lines],
    ):
        shapes = [line[3].buffer(0.8, cap_style="flat") for line in face.lines]
        on_spot = np.array([line[2] for line in face.lines])
        chosen = [i for i in kept(shapes, said, _LEAST_LINE) if on_spot[i] <= 0.5]
        cracks = [p for kind, p in face.truths if kind in CRACKS]
        evidence += [said[i] for i in chosen]
        right += [covered(shapes[i], cracks) >= COVERED for i in chosen]
        for true in cracks:
            if not true.is_empty and true.bounds[2] - true.bounds[0] > 20:
                found[1] += 1
                found[0] += covered(true, [shapes[i] for i in chosen]) >= COVERED
    print("cracks over 20 mm, boards left out:", found)
    report("_LINE", evidence, right)


def collected(seeds, with_real: bool):
    """Yield the measures of the rendered faces, and of the real boards if they are wanted."""
    for text in seeds:
        first, last = (int(v) for v in text.split("-"))
        for face in flat_faces(range(first, last + 1)):
            flaws = [(k, f.look, p.intersection(face.outline)) for k, f, p in face.flaws]
            board = face.name.split("-")[0]
            yield measured(board, face.picture, off_outline(face), flaws)
    for number, (name, face, outline, flaws) in enumerate(pictures("train") if with_real else ()):
        if number % 3 == 0:
            yield measured(name, face, outline, [(k, "", p) for k, p in flaws], is_real=True)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seeds", nargs="+", required=True, help="first-last, several")
    parser.add_argument("--no-real", action="store_true", help="leave the real wood out")
    chosen = parser.parse_args()
    cv2.setNumThreads(1)
    faces = list(collected(chosen.seeds, not chosen.no_real))
    fit_spots(faces)
    fit_lines(faces)


if __name__ == "__main__":
    main()
