"""Lines drawn on boards and photographed: which mistakes the whole road finds, from a phone's JPEG.

``python -m tests.bench.marks_photo --seeds 8100-8129 --jobs 16``. The lines of `tests.bench.marks`
are laid on the wood of rendered boards and photographed beside the strip with floor, light, lens
and development; the photograph goes through scan, laying over the known board and verdict as
``bothfaces marks`` does it. Nothing may be tuned on the seeds that are reported.
"""

import argparse
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from types import SimpleNamespace
from unittest.mock import patch

import cv2
import numpy as np
from shapely.geometry import Polygon

from scanner.app.cutting.hold_marks import judge_face, lay_marked
from scanner.app.scanning.scan_board import scan_photos
from scanner.board.measured import Measured
from scanner.errors import ScannerError
from scanner.vision.setup import Setup
from tests.bench.figures import Bench, Figure, keep, share_text
from tests.bench.many import in_order
from tests.bench.marks import (
    INKS,
    drawn_ends,
    judged_mistakes,
    mark_figures,
    mistakes_in,
    parts_on,
    pen_lines,
    shaky,
)
from tests.bench.road import true_board
from tests.render import photo as photos
from tests.render.draw_boards import draw_board
from tests.render.draw_photos import draw_photo, draw_rule
from tests.render.marks import Mark
from tests.render.shape import Shape
from tests.render.specs import BoardSpec, PhotoSpec
from tests.render.stage import Stage
from tests.render.surface import FACE_1
from tests.render.truth import BoardTruth, board_truth

OUT = Path("out/bench/marks_photo")
_PX = 1.0
_NARROWEST_MM = 70.0


class DrawnLines(Mark):
    """Lines of one tool on face 1, model frame: they skip and cling as the renderer's marks do."""

    def __init__(self, strokes: list[np.ndarray], tool: str, wide_mm: list[float], seed: int):
        self.spec = SimpleNamespace(seed=seed, tool=tool)  # type: ignore[assignment]
        self.strokes = strokes
        points = np.vstack(strokes)
        self._low, self._high = points.min(axis=0) - 12, points.max(axis=0) + 12
        size = np.ceil((self._high - self._low) / _PX).astype(int) + 1
        picture = np.zeros((int(size[1]), int(size[0])), dtype=np.float32)
        for path, wide in zip(strokes, wide_mm, strict=True):
            at = np.round((path - self._low) / _PX * 16).astype(np.int32)
            cv2.polylines(picture, [at], False, 1.0, max(1, round(wide / _PX)), cv2.LINE_AA, 4)
        self._picture = cv2.GaussianBlur(picture, (0, 0), 0.8 / _PX)


class MarkedSurfaces:
    """A board's surfaces with lines drawn on face 1."""

    def __init__(self, surfaces, lines: DrawnLines) -> None:
        self._surfaces, self._lines = surfaces, lines

    def __getattr__(self, name: str):
        return getattr(self._surfaces, name)

    def shade(self, x, y, z, side, footprint):
        """Return albedo, slope along x and slope across, the lines laid on."""
        albedo, hx, hy = self._surfaces.shade(x, y, z, side, footprint)
        if side == FACE_1:
            relief, _ = self._surfaces._saws[side].at(x, y)
            self._lines.paint(albedo, x, y, relief)
        return albedo, hx, hy


def marked_stage(board: BoardSpec, photo: PhotoSpec, *, lines: DrawnLines) -> Stage:
    """Return the scene with the lines drawn on the board."""
    stage = Stage(board, photo)
    stage.surfaces = MarkedSurfaces(stage.surfaces, lines)  # type: ignore[assignment]
    return stage


@dataclass(frozen=True)
class Judged:
    """One photograph: what was told of its mistakes, or why it was refused."""

    seed: int
    parts: int
    hits: list
    extra: int
    refusal: str = ""


def room_on(truth: BoardTruth) -> tuple[float, float, float, float]:
    """Return the rectangle (x0, y0, x1, y1) along the board that lies on face 1, board mm."""
    ring = Polygon(truth.outline["1"])
    x0, _, x1, _ = ring.buffer(-12).bounds
    upper, lower = [], []
    for x in np.linspace(x0, x1, 40):
        across = ring.intersection(Polygon([(x, -500), (x + 1, -500), (x + 1, 2000), (x, 2000)]))
        upper.append(across.bounds[1])
        lower.append(across.bounds[3])
    return x0, max(upper), x1, min(lower)


def drawn_on(seed: int, board: BoardSpec):
    """Return parts on a board, the lines drawn for them and what is wrong with these."""
    rng = np.random.default_rng((seed, 913))
    truth = board_truth(Shape(board))
    x0, y0, x1, y1 = room_on(truth)
    if y1 - y0 < _NARROWEST_MM:
        return None
    placements = tuple(
        replace(p, x_mm=p.x_mm + x0, y_mm=p.y_mm + y0) for p in parts_on(rng, x1 - x0, y1 - y0)
    )
    ring = np.array(truth.outline["1"])
    size = tuple(float(v) for v in ring.max(axis=0) - ring.min(axis=0))
    lines = pen_lines(placements)
    wrong, mirror = mistakes_in(rng, placements, lines, size)
    c, s = np.cos(truth.model_turn), np.sin(truth.model_turn)
    model_from_board = np.array([[c, s], [-s, c]]).T
    strokes = []
    for line in lines:
        if line["at"] is not None:
            p, q = drawn_ends(line, mirror, size)
            strokes.append((shaky(rng, p, q) - truth.model_shift) @ model_from_board)
    tool = str(rng.choice(list(INKS)))
    wide = [float(v) for v in rng.uniform(4, 8, len(strokes))]
    return placements, wrong, DrawnLines(strokes, tool, wide, seed), truth


def judge_one(seed: int) -> Judged | None:
    """Render, scan and judge one board; None where it is too narrow to draw on."""
    cv2.setNumThreads(1)
    board = replace(draw_board(seed), marks=())
    made = drawn_on(seed, board)
    if made is None:
        return None
    placements, wrong, lines, truth = made
    ruler = draw_rule(seed, board, "strip")
    photo = draw_photo(seed, board, rule="strip", face=1, strip=ruler)
    OUT.mkdir(parents=True, exist_ok=True)
    path = OUT / f"{seed}.jpg"
    with patch.object(photos, "Stage", partial(marked_stage, lines=lines)):
        photos.save_photo(photos.render_photo(board, photo), path)
    setup = Setup(
        thickness=Measured(round(board.thickness_mm), 1.0),
        batten_mm=ruler.batten_mm,
        strip_taped=Measured(ruler.taped_mm, 2.0) if ruler.taped_mm else None,
    )
    like = SimpleNamespace(id="B01", turned="sideways")
    known = true_board(truth, like)  # type: ignore[arg-type]
    try:
        scan = scan_photos((path,), setup, is_marked=True)
        laid = lay_marked(known, scan, None)
        verdict = judge_face(known, placements, scan, laid)
    except ScannerError as problem:
        return Judged(seed, len(placements), [], 0, str(problem))
    hits, extra = judged_mistakes(verdict, wrong)
    if laid.face != 1:
        print(f"{seed}: taken for face {laid.face}, clear {laid.is_clear}")
    return Judged(seed, len(placements), hits, extra)


def main() -> None:
    """Judge every seed's photograph and keep the figures."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--seeds", default="8100-8129", help="first-last")
    asked.add_argument("--jobs", type=int, default=1)
    options = asked.parse_args()
    first, last = (int(v) for v in options.seeds.split("-"))
    rows = []
    for row in in_order(judge_one, range(first, last + 1), options.jobs):
        if row is None:
            continue
        rows.append(row)
        told = row.refusal or f"{row.hits} {row.extra} made up"
        print(f"{row.seed}: {row.parts} parts, {told}", flush=True)
    judged = [(row.hits, row.extra) for row in rows if not row.refusal]
    figures = (
        Figure("photographs judged, not refused", share_text(len(judged), len(rows))),
        *mark_figures(judged),
    )
    for figure in figures:
        print(f"{figure.claim}: {figure.figure} (bar {figure.bar})")
    keep(
        Bench(
            "marks-photo", "Marks held against the layout, photographed",
            f"rendered boards {options.seeds}, whole photographs beside the strip, lines drawn on"
            " the wood; the board known truly",
            f"python -m tests.bench.marks_photo --seeds {options.seeds}", figures,
        )
    )  # fmt: skip


if __name__ == "__main__":
    # By its full name, so that other processes know its rows.
    from tests.bench.marks_photo import main as run

    run()
