"""Flaws found on real sawn boards (softwood, a line camera) against their labels.

``python -m tests.bench.wood --split val`` reads the folder ``wood`` in ``BOTHFACES_REAL``; pictures
of the sets section and board, each through the errand of the command ``look``. Figures by the
strict rules of ``wood_score``, with 95 % intervals over boards.
"""

import argparse
import json
import os
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np
from shapely.geometry import Polygon

from scanner.app.scanning.look_at import look_at
from scanner.geometry.polygons import iou, largest_polygon, polygon_of
from scanner.vision.flaws.learned import find_on_flat
from scanner.vision.photos.picture import FacePicture
from tests.bench.classical import find_classical
from tests.bench.wood_score import (
    KNOTS,
    Candidate,
    Counts,
    Label,
    intervals,
    score_knots,
    score_lines,
)

__all__ = ["KNOTS", "pictures"]

FOLDER = Path(os.environ.get("BOTHFACES_REAL", "../shared")) / "wood"
# The conveyor is darker than any wood on it (grey value).
_CONVEYOR = 45
# The same spot of both ways is told once.
_SAME_IOU = 0.2


@dataclass(frozen=True)
class Face:
    """One annotated picture; labels in mm of the picture as it lies, zero at its first pixel."""

    name: str
    board: str
    mm_per_px: float
    size_mm: tuple[float, float]
    labels: list[Label]


def faces(split: str, folder: Path = FOLDER) -> Iterator[Face]:
    """Yield the annotated pictures of a split; close frames show the same wood and are left out."""
    for line in (folder / "annotations.jsonl").read_text(encoding="utf-8").splitlines():
        note = json.loads(line)
        if note["split"] != split or note["set"] == "frame":
            continue
        mm = note["mm_per_px"]
        labels = []
        for flaw in note["flaws"]:
            ring, is_box = flaw.get("polygon"), False
            if ring is None or len(ring) < 3:
                x0, y0, x1, y1 = flaw["box"]
                ring, is_box = [[x0, y0], [x1, y0], [x1, y1], [x0, y1]], True
            shape = polygon_of(np.asarray(ring, dtype=float) * mm)
            labels.append(Label(flaw["kind"], shape, is_box))
        size = (note["width"] * mm, note["height"] * mm)
        yield Face(note["image"], note["board"], mm, size, labels)


def turned(shape: Polygon, width_mm: float) -> Polygon:
    """Return a shape of a picture with the board down it, the board laid along x."""
    if shape.is_empty:
        return shape
    x, y = np.asarray(shape.exterior.coords).T
    return polygon_of(np.column_stack([y, width_mm - x]))


def both_ways(face: FacePicture, outline: Polygon):
    """Return the learned candidates and those of the other finders that are new."""
    learned = find_on_flat(face, outline)
    shapes = [flaw.outlines[1] for flaw in learned]
    more = [
        flaw
        for flaw in find_classical(face, outline)
        if not any(iou(flaw.outlines[1], shape) > _SAME_IOU for shape in shapes)
    ]
    return (*learned, *more)


WAYS = {"learned": find_on_flat, "classical": find_classical, "both": both_ways}


def score_face(face: Face, way: str, folder: Path = FOLDER) -> tuple[Counts, int]:
    """Return the counts of one picture and how many candidates it had."""
    looked = look_at(folder / face.name, face.mm_per_px, finder=WAYS[way])
    wide = face.size_mm[0]
    found = [
        Candidate(
            flaw.kind,
            turned(polygon_of(np.asarray(flaw.outline) * face.mm_per_px), wide),
            flaw.sound,
            flaw.score or 0.0,
        )
        for flaw in looked.flaws
    ]
    labels = [Label(x.kind, turned(x.shape, wide), x.is_box) for x in face.labels]
    knots = score_knots(found, labels)
    return knots + score_lines(found, labels, face.size_mm[::-1]), len(found)


def pictures(split: str):
    """Yield (name, face, outline, [(kind, polygon)]) with the board laid along x, mm."""
    for face in faces(split):
        pixels = cv2.imread(str(FOLDER / face.name))[..., ::-1]
        pixels = np.ascontiguousarray(np.rot90(pixels))
        mm, width = face.mm_per_px, face.size_mm[0]
        flaws = [(x.kind, turned(x.shape, width - mm)) for x in face.labels]
        seen = np.ones(pixels.shape[:2], bool)
        flat = FacePicture(pixels, mm, (0.0, 0.0), 0.001, 0.5, seen)
        yield face.name, flat, board_outline(pixels, mm), flaws


def board_outline(pixels, mm: float) -> Polygon:
    """Return the bright rows' outline, block by block along the board."""
    grey, step = pixels.mean(axis=2), 50
    upper, lower = [], []
    whole = np.flatnonzero(np.median(grey, axis=1) > _CONVEYOR)
    for x in range(0, pixels.shape[1], step):
        bright = np.flatnonzero(np.median(grey[:, x : x + step], axis=1) > _CONVEYOR)
        bright = bright if len(bright) >= 20 else whole
        at = min(x + step / 2, pixels.shape[1] - 1) if x else 0
        upper.append((at, bright[0] + 1))
        lower.append((at, bright[-1] - 1))
    upper[-1], lower[-1] = ((pixels.shape[1] - 1, p[1]) for p in (upper[-1], lower[-1]))
    return largest_polygon(Polygon(np.array(upper + lower[::-1]) * mm).buffer(0))


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--split", choices=("train", "val"), default="val")
    parser.add_argument("--way", choices=sorted(WAYS), default="learned")
    parser.add_argument("--first", type=int, default=10**6, help="only so many pictures")
    chosen = parser.parse_args()
    cv2.setNumThreads(1)
    boards: dict[str, tuple[Counts, float]] = {}
    seconds, total = time.process_time(), 0.0
    for number, face in enumerate(faces(chosen.split)):
        if number >= chosen.first:
            break
        counts, found = score_face(face, chosen.way)
        metres = max(face.size_mm) / 1000
        before = boards.get(face.board, (Counts(), 0.0))
        boards[face.board] = (before[0] + counts, before[1] + metres)
        total += metres
        print(
            f"{face.name}: {found} found, knots {counts.get('labels'):.0f} labelled,"
            f" {counts.get('hit 0.3'):.0f} hit, {counts.get('false 0.3'):.0f} false",
            flush=True,
        )
    print(f"{chosen.way}, {chosen.split}: {len(boards)} boards, {total:.1f} m")
    print(f"processor seconds a metre: {(time.process_time() - seconds) / total:.2f}")
    for name, (value, low, high) in intervals(boards).items():
        digits = 0 if "mm/m" in name else 3
        print(f"{name}: {value:.{digits}f} ({low:.{digits}f} to {high:.{digits}f})")


if __name__ == "__main__":
    main()
