"""Boards of rendered logs with both flat faces, drawn without a camera, kept on disk."""

from __future__ import annotations

import argparse
import os
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import cv2
import numpy as np
from shapely.geometry import Polygon

from scanner.geometry.polygons import polygon_of
from tests.bench.many import workers
from tests.render.flat import render_face_truth
from tests.render.logs.draw import draw_lot
from tests.render.logs.log import LogBoard
from tests.render.logs.wood import face_of
from tests.render.shape import Shape
from tests.render.specs import spec_hash
from tests.render.truth import board_truth

FOLDER = Path(__file__).resolve().parents[2] / ".cache" / "logs"
MM_PER_PX = 0.5


@dataclass(frozen=True, eq=False)
class FlatFace:
    """A face in the board frame (face 2 seen through the board), as a board's files hold it."""

    pixels: np.ndarray
    origin_mm: tuple[float, float]
    outline: Polygon
    flaws: tuple[Polygon, ...]


@lru_cache(maxsize=16)
def lot_of(seed: int) -> tuple[LogBoard, ...]:
    return draw_lot(seed)


def face_path(board: LogBoard, face: int) -> Path:
    return FOLDER / f"{spec_hash(board)[:20]}-{face}.jpg"


def make_face(job: tuple[LogBoard, int]) -> Path:
    """Draw one face unless it was drawn before."""
    board, face = job
    path = face_path(board, face)
    if not path.exists():
        FOLDER.mkdir(parents=True, exist_ok=True)
        pixels, _ = face_of(board, face, MM_PER_PX)
        draft = path.with_suffix(f".{os.getpid()}.jpg")
        cv2.imwrite(str(draft), pixels[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, 93])
        draft.replace(path)
    return path


def flat_face(board: LogBoard, face: int) -> FlatFace:
    """Return a face with its true outline and its true flaws."""
    bgr = cv2.imread(str(make_face((board, face))), cv2.IMREAD_COLOR)
    assert bgr is not None
    pixels = np.ascontiguousarray(bgr[..., ::-1])
    frame = render_face_truth(board, face, MM_PER_PX)
    x, y = frame.origin_mm
    if face == 2:
        pixels = np.ascontiguousarray(pixels[::-1])
        y = frame.extent_y - (y + (len(pixels) - 1) * MM_PER_PX)
    truth = board_truth(Shape(board))
    side = str(face)
    rings = [ring for flaw in truth.flaws for ring in flaw.outlines.get(side, [])]
    flaws = tuple(polygon_of(ring) for ring in rings if len(ring) > 2)
    return FlatFace(pixels, (x, y), polygon_of(truth.outline[side]), flaws)


def main() -> None:
    """Draw the faces of lots beforehand."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--seeds", default="3000-3007")
    asked.add_argument("--jobs", type=int, default=1)
    options = asked.parse_args()
    first, last = (int(v) for v in options.seeds.split("-"))
    jobs = [(b, f) for s in range(first, last + 1) for b in lot_of(s) for f in (1, 2)]
    cv2.setNumThreads(1)
    if options.jobs == 1:
        for job in jobs:
            make_face(job)
        return
    with workers(options.jobs) as pool:
        list(pool.map(make_face, jobs, chunksize=4))


if __name__ == "__main__":
    main()
