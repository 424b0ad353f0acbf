"""Knots found on real sawn boards (softwood, a line camera) against their labels.

``python -m tests.bench.wood --split val`` reads the folder ``wood`` in ``BOTHFACES_REAL``; pictures
of the sets section and board; a knot is found where IoU >= 0.3 or its centre lies in a candidate.
"""

import argparse
import json
import os
from pathlib import Path

import cv2
import numpy as np
from shapely.geometry import Polygon

from scanner.geometry.polygons import largest_polygon, polygon_of
from scanner.vision.flaws import find_flaws
from scanner.vision.picture import FacePicture
from tests.bench.seeing import SPOTS, is_same

KNOTS = ("knot_sound", "knot_loose", "hole")
_FOLDER = Path(os.environ.get("BOTHFACES_REAL", "../shared")) / "wood"
# The conveyor is darker than any wood on it (grey value).
_CONVEYOR = 45


def pictures(split: str):
    """Yield (name, face, outline, [(kind, polygon)]) with the board laid along x, mm."""
    for line in (_FOLDER / "annotations.jsonl").read_text(encoding="utf-8").splitlines():
        note = json.loads(line)
        if note["split"] != split or note["set"] == "frame":
            continue
        mm, width = note["mm_per_px"], note["width"]
        pixels = cv2.imread(str(_FOLDER / note["image"]))[..., ::-1]
        pixels = np.ascontiguousarray(np.rot90(pixels))
        flaws = []
        for flaw in note["flaws"]:
            ring = flaw.get("polygon")
            if ring is None or len(ring) < 3:
                x0, y0, x1, y1 = flaw["box"]
                ring = [[x0, y0], [x1, y0], [x1, y1], [x0, y1]]
            ring = np.asarray(ring, dtype=float)
            flaws.append(
                (
                    flaw["kind"],
                    polygon_of(np.column_stack([ring[:, 1], width - 1 - ring[:, 0]]) * mm),
                )
            )
        seen = np.ones(pixels.shape[:2], bool)
        face = FacePicture(pixels, mm, (0.0, 0.0), 0.001, 0.5, seen)
        yield note["image"], face, board_outline(pixels, mm), flaws


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
    split = parser.parse_args().split
    cv2.setNumThreads(1)
    right = false = found = total = found_10 = total_10 = 0
    metres = 0.0
    for name, face, outline, labels in pictures(split):
        knots = [shape for kind, shape in labels if kind in KNOTS]
        unscored = [shape for kind, shape in labels if kind == "other"]
        spots = [f.outlines[1] for f in find_flaws(face, outline) if f.kind.value in SPOTS]
        for spot in spots:
            if any(is_same(spot, knot) for knot in knots):
                right += 1
            elif not any(spot.intersection(u).area > 0.3 * spot.area for u in unscored):
                false += 1
        for knot in knots:
            hit = any(is_same(spot, knot) for spot in spots)
            large = 2 * np.sqrt(knot.area / np.pi) > 10
            found, total = found + hit, total + 1
            found_10, total_10 = found_10 + (hit and large), total_10 + large
        metres += face.pixels.shape[1] * face.mm_per_px / 1000
        print(f"{name}: {len(spots)} spots, {len(knots)} labelled", flush=True)
    precision, recall = right / max(right + false, 1), found / max(total, 1)
    print(
        f"precision {precision:.3f}, recall {recall:.3f},"
        f" F1 {2 * precision * recall / max(precision + recall, 1e-9):.3f};"
        f" knots over 10 mm {found_10} of {total_10} ({found_10 / max(total_10, 1):.3f});"
        f" false a metre {false / metres:.2f}"
    )


if __name__ == "__main__":
    main()
