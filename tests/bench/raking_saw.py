"""Saw marks under a low lamp: straight or bowed, and where they stand out, against the truth.

``python -m tests.bench.raking_saw --seeds 8000-8008``: flat faces through their true cameras, the
second photo laid over as a scan does. No pitch is measured: the renderer's marks are noise in a
band about it, and have no even one.
"""

import argparse
from dataclasses import dataclass

import cv2
import numpy as np

from scanner.errors import PhotoError
from scanner.vision.low_lamp.raking import lay_over
from scanner.vision.low_lamp.raking_saw import find_saw_marks
from scanner.vision.photos.picture import SawMarks
from tests.bench.faces import FlatFace, flat_face, raked_face
from tests.bench.flaws import off_outline
from tests.bench.raking import in_flat
from tests.bench.seeing import recipe
from tests.render.shape import Shape
from tests.render.surface import FACE_1, FACE_2, Surfaces

_WINDOW_MM, _STEP_MM, _END_MM = 25.0, 0.5, 12.0


@dataclass(frozen=True)
class TrueMarks:
    """Lean and bow of the stripes as `SawMarks` has them, and how rough each 25 mm is."""

    is_bowed: bool
    lean: float
    bow_mm: float
    roughness: np.ndarray


def true_marks(seed: int, number: int, face: FlatFace) -> TrueMarks:
    """Return the marks that the renderer cut, as the flat picture shows them."""
    board, _ = recipe(seed, number)
    saw = Surfaces(Shape(board))._saws[FACE_1 if number == 1 else FACE_2]
    outline = off_outline(face)
    x0, y0, x1, y1 = outline.bounds
    ring = np.asarray(face.truth.board.outline[str(face.truth.photo.face)])
    low, high = ring.min(axis=0) + 15, ring.max(axis=0) - 15
    x, y = np.meshgrid(np.linspace(low[0], high[0], 30), np.linspace(low[1], high[1], 7))
    places = np.column_stack([x.ravel(), y.ravel()])
    shown = in_flat(face, places)
    back = np.linalg.lstsq(np.column_stack([shown, np.ones(len(shown))]), places, rcond=None)[0]

    def on_board(at_x: np.ndarray, at_y: np.ndarray) -> np.ndarray:
        mm = np.column_stack([at_x.ravel(), at_y.ravel(), np.ones(at_x.size)]) @ back
        # The renderer counts across from the middle.
        return mm - [0, board.width_mm / 2]

    off = np.arange(-(y1 - y0) / 2 + 9, (y1 - y0) / 2 - 9, 6.0)
    middle = np.full(len(off), (x0 + x1) / 2)
    board_mm = on_board(middle, off + (y0 + y1) / 2)
    run = saw._lean * board_mm[:, 1]
    if board.saw == "circular":
        run = run + np.sqrt(np.maximum(saw._radius**2 - (board_mm[:, 1] - saw._centre) ** 2, 1))
    stripe = -(run + board_mm[:, 0]) * np.sign(back[0, 0])
    stripe = stripe - stripe[len(off) // 2]
    bend, lean, _ = np.polyfit(off, stripe, 2)
    along = np.arange(x0 + _END_MM, x1 - _END_MM, _STEP_MM)
    across = np.repeat((off + (y0 + y1) / 2)[:, None], len(along), axis=1)
    at = on_board(along[None, :] + stripe[:, None], across).astype(np.float32)
    height = saw.at(at[:, 0], at[:, 1])[0].reshape(across.shape).mean(axis=0)
    window = round(_WINDOW_MM / _STEP_MM)
    count = len(height) // window
    rough = height[: count * window].reshape(count, window).std(axis=1)
    bow = float(bend) * (y1 - y0) ** 2 / 4
    return TrueMarks(board.saw == "circular", float(lean), bow, rough / np.median(rough))


def over_the_middle(found: SawMarks, truth: TrueMarks) -> list[float]:
    """Return how many times the middle roughness of the face each strong place truly has."""
    out = []
    for low, high in found.strong_mm:
        first, last = (round((x - _END_MM) / _WINDOW_MM) for x in (low, high))
        out.append(float(np.sqrt((truth.roughness[first:last] ** 2).mean())))
    return out


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seeds", default="8000-8008", help="first-last")
    first, last = (int(v) for v in parser.parse_args().seeds.split("-"))
    cv2.setNumThreads(1)
    faces, told, ways, right, leans, ratios = 0, 0, 0, 0, [], []
    for seed in range(first, last + 1):
        for number in (1, 2):
            faces += 1
            one, low = flat_face(seed, number), raked_face(seed, number)
            outline = off_outline(one)
            try:
                laid = lay_over(one.picture, outline, low.picture, off_outline(low), "low lamp")
            except PhotoError:
                continue
            found = find_saw_marks(one.picture, laid.picture, outline)
            truth = true_marks(seed, number, one)
            said = "nothing told"
            if found is not None:
                told += 1
                ways += found.is_bowed is not None
                right += found.is_bowed is truth.is_bowed
                leans.append(abs(found.lean - truth.lean))
                strong = over_the_middle(found, truth)
                ratios += strong
                said = f"bowed {found.is_bowed}, bow {found.bow_mm:.1f}, lean {found.lean:.3f};"
                said += f" strong {found.strong_mm}: {np.round(strong, 1)} times the middle"
            true = f"bowed {truth.is_bowed}, bow {truth.bow_mm:.1f}, lean {truth.lean:.3f}"
            print(f"{seed}-{number}: truth {true} | {said}", flush=True)
    print(f"told on {told} of {faces} faces; straight or bowed told on {ways}, right on {right}")
    if told:
        print(f"lean off by {max(leans):.3f} at most; {len(ratios)} places told")
        for times in (1.5, 2.0):
            count = sum(ratio > times for ratio in ratios)
            print(f"truly rougher there than {times} times the middle of the face: {count}")


if __name__ == "__main__":
    main()
