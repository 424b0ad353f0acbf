"""Fit how likely a knot in a photograph is loose; print the rows of ``soundness`` and what they do.

``python -m tests.bench.fit_loose --seeds 8000-8039 --third 3000-3047 --choose 5000-5023`` reads
rendered faces and faces of the third renderer that the network was not trained on. Renderers weigh
alike, and sound and loose knots. Cracked knots of the third renderer are left out: two in five are
marked loose by chance, and nothing in the picture says which. What is printed of a board of the
first renderer comes from rows fitted without it, of ``--choose`` from all.
"""

import argparse
from dataclasses import dataclass

import cv2
import numpy as np
from shapely.geometry import Polygon

from scanner.geometry.polygons import iou, polygon_of
from scanner.vision.flaws.learned import as_shown, shares_of
from scanner.vision.flaws.learned_maps import clear_wood
from scanner.vision.flaws.learned_regions import outline_mm, spot_regions
from scanner.vision.flaws.soundness import KNOT_MEASURES, NOT_SOUND_ON_PHOTO, knot_measures
from scanner.vision.flaws.spot_model import Model
from scanner.vision.flaws.surface import prepare
from scanner.vision.photos.picture import FacePicture
from scanner.vision.training.logistic import fit_logistic, standardised
from tests.bench.faces import flat_face
from tests.bench.flaws import off_outline
from tests.bench.many import in_order
from tests.render_three import FINAL_MM
from tests.render_three.face import draw_face

_SAME_IOU = 0.3
_PENALTY, _LEAST_SPREAD, _MOST, _FOLDS = 10.0, 1e-3, 3.0, 5
_USED = tuple(row[0] for row in NOT_SOUND_ON_PHOTO.rows)
_LIMITS = (0.4, 0.45, 0.5, 0.55, 0.6)


@dataclass(frozen=True)
class Knot:
    """A knot that the network found: whose, its measures, and whether it is loose in truth."""

    board: str
    is_third: bool
    measures: tuple[float, ...]
    is_loose: bool


def knots_of(
    picture: FacePicture, outline: Polygon, truths
) -> list[tuple[tuple[float, ...], bool]]:
    """Return measures and truth of the found knots; ``truths`` holds (polygon, is it loose)."""
    surface = prepare(picture, outline)
    pixels, maps = as_shown(surface), shares_of(surface.lab, surface.wood)
    clear = clear_wood(pixels, surface.wood)
    found = []
    for region in spot_regions(maps):
        shape = outline_mm(region, surface.origin_mm)
        best = max(((iou(shape, true), loose) for true, loose in truths), default=(0.0, False))
        if best[0] >= _SAME_IOU:
            found.append((tuple(knot_measures(pixels, clear, region, maps)), best[1]))
    return found


def _of_first(job: tuple[int, int]) -> list[Knot]:
    cv2.setNumThreads(1)
    face = flat_face(*job)
    truths = [(shape, not flaw.sound) for kind, flaw, shape in face.flaws if kind == "knot"]
    found = knots_of(face.picture, off_outline(face), truths) if truths else []
    return [Knot(str(job[0]), False, *knot) for knot in found]


def _of_third(seed: int) -> list[Knot]:
    cv2.setNumThreads(1)
    face = draw_face(seed)
    everywhere = np.ones(face.pixels.shape[:2], bool)
    picture = FacePicture(face.pixels, FINAL_MM, (0.0, 0.0), 0.0006, 0.5, everywhere)
    truths = [
        (polygon_of(np.asarray(flaw["polygon"]) * FINAL_MM), not flaw["sound"])
        for flaw in face.flaws
        if flaw["kind"] == "knot" and flaw["look"] != "cracked"
    ]
    outline = polygon_of(np.asarray(face.outline) * FINAL_MM)
    found = knots_of(picture, outline, truths) if truths else []
    return [Knot(f"third-{seed}", True, *knot) for knot in found]


def fit(knots: list[Knot]) -> Model:
    """Return the model that tells loose knots by the measures in use."""
    values, loose = _values(knots), np.array([k.is_loose for k in knots], float)
    third = np.array([k.is_third for k in knots])
    weight = np.zeros(len(knots))
    for of_third in (False, True):
        for is_loose in (0, 1):
            group = (third == of_third) & (loose == is_loose)
            weight[group] = 1 / max(1, group.sum())
    standard, middle, spread = standardised(values, _LEAST_SPREAD, _MOST)
    theta = fit_logistic(standard, loose, _PENALTY, weight * len(knots) / weight.sum())
    columns = (c.tolist() for c in (middle, spread, theta[1:], np.zeros(len(middle))))
    return Model(float(theta[0]), tuple(zip(_USED, *columns, strict=True)))


def _values(knots: list[Knot]) -> np.ndarray:
    at = [KNOT_MEASURES.index(name) for name in _USED]
    return np.array([knot.measures for knot in knots])[:, at]


def report(name: str, knots: list[Knot], said: np.ndarray) -> None:
    """Print how many sound and loose knots would be called loose, by limit."""
    loose = np.array([knot.is_loose for knot in knots], bool)
    print(f"{name}: {(~loose).sum()} sound, {loose.sum()} loose")
    for limit in _LIMITS:
        told = said >= limit
        print(f"  from {limit}: sound {(told & ~loose).sum()}, loose {(told & loose).sum()}")


def odds(model: Model, knots: list[Knot]) -> np.ndarray:
    """Return how likely each knot is loose."""
    return model.odds(np.array([knot.measures for knot in knots]), KNOT_MEASURES)


def _seeds(text: str) -> range:
    first, last = (int(v) for v in text.split("-"))
    return range(first, last + 1)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seeds", default="8000-8039", help="first-last, first renderer")
    parser.add_argument("--third", default="3000-3047", help="third renderer, to fit on")
    parser.add_argument("--choose", default="5000-5023", help="third renderer, to choose by")
    parser.add_argument("--jobs", type=int, default=1)
    chosen = parser.parse_args()
    faces = [(seed, face) for seed in _seeds(chosen.seeds) for face in (1, 2)]
    first = [k for some in in_order(_of_first, faces, chosen.jobs) for k in some]
    third = [k for some in in_order(_of_third, _seeds(chosen.third), chosen.jobs) for k in some]
    choose = [k for some in in_order(_of_third, _seeds(chosen.choose), chosen.jobs) for k in some]
    model = fit([*first, *third])
    print(f"    {model.offset:.3f},")
    for name, *row in model.rows:
        print('        ("{}", {:.4g}, {:.4g}, {:.3f}, {:g}),'.format(name, *row))
    boards = sorted({knot.board for knot in first})
    said = np.zeros(len(first))
    for fold in range(_FOLDS):
        out = np.array([knot.board in boards[fold::_FOLDS] for knot in first])
        rest = [knot for knot, is_out in zip(first, out, strict=True) if not is_out]
        said[out] = odds(fit([*rest, *third]), first)[out]
    report("first renderer, boards left out", first, said)
    report("third renderer, to choose by", choose, odds(model, choose))


if __name__ == "__main__":
    main()
