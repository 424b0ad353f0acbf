"""The user's own chalk and crayon: every mark read, and none told as a check or a stain.

``python -m tests.bench.chalk --seeds 3000-3031 --jobs 16``: quick photographs of boards with a loop
and an X or a line on each face, in inks that show on their wood; flattened by the true camera.
"""

import argparse
from collections import Counter, defaultdict
from dataclasses import replace

import cv2
import numpy as np
from shapely.geometry import Polygon

from scanner.geometry.polygons import iou
from scanner.vision.flaws import find_flaws
from tests.bench.faces import FlatFace, _made, _opened
from tests.bench.figures import Bench, Figure, keep, share_text
from tests.bench.flaws import off_outline, wane_of
from tests.bench.many import in_order
from tests.bench.seeing import CRACKS, is_same, recipe
from tests.render.draw_extras import draw_mark

_ON_MARK_SHARE = 0.5
_STROKE_MM = 10.0
_BAR = 0.95
_PLURAL = {"loop": "loops", "line": "lines", "cross": "crosses"}


def marked_face(seed: int, side: int) -> FlatFace:
    """Return a face of the seed's board with a loop and an X or a line across on it."""
    board, photo = recipe(seed, side)
    other = "cross" if (seed + side) % 2 else "line"
    marks = tuple(
        draw_mark(10 * seed + side + 1000 * n, board, kind=kind, face=side)
        for n, kind in enumerate(("loop", other))
    )
    # Two marks over each other are no mark that anyone would draw.
    if abs(marks[0].x - marks[1].x) < marks[0].size[0] + marks[1].size[0] + 20:
        marks = marks[1:]
    board = replace(board, marks=marks)
    return _opened(*_made(f"{seed}-{side}", board, photo, strewn=False))


def _seen(job: tuple[int, int]):
    cv2.setNumThreads(1)
    face = marked_face(*job)
    flaws = find_flaws(face.picture, off_outline(face), wane_of(face))
    return face, _inks(job), flaws


def _inks(job: tuple[int, int]) -> str:
    return recipe(*job)[0].species


def is_read(flaws, kind: str, shape: Polygon) -> bool:
    """Return whether a mark came out as one: a line by its place, the others by their outline."""
    near = [f for f in flaws if f.kind.value == "marked" and f.outlines[1].intersects(shape)]
    if kind == "line":
        return any("line across" in (f.reason or "") for f in near)
    return any(is_same(f.outlines[1], shape) for f in near)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seeds", default="3000-3007", help="first-last")
    parser.add_argument("--jobs", type=int, default=1)
    chosen = parser.parse_args()
    first, last = (int(v) for v in chosen.seeds.split("-"))
    jobs = [(seed, side) for seed in range(first, last + 1) for side in (1, 2)]
    read: dict = defaultdict(lambda: [0, 0])
    ious, taken, false = [], Counter(), 0
    for face, species, flaws in in_order(_seen, jobs, chosen.jobs):
        marks = [(truth.look, shape) for kind, truth, shape in face.flaws if kind == "marked"]
        missed = []
        for look, shape in marks:
            hit = is_read(flaws, look, shape)
            for claim in ("all marks", _PLURAL[look], f"marks on {species}"):
                read[claim][0] += hit
                read[claim][1] += 1
            if hit and look != "line":
                ious.append(max(iou(f.outlines[1], shape) for f in flaws))
            elif not hit:
                missed.append(f"{look} at {shape.centroid.x:.0f}")
        real = [shape for kind, _, shape in face.flaws if kind in (*CRACKS, "stain", "pitch")]
        for flaw in flaws:
            own = flaw.outlines[1]
            if flaw.kind.value == "marked":
                false += not any(own.intersects(shape) for _, shape in marks)
            elif flaw.kind.value in (*CRACKS, "stain", "pitch") and not any(
                own.intersects(shape.buffer(2)) for shape in real
            ):
                # On the drawn stroke, not on the wood that a loop goes round.
                strokes = [shape.exterior.buffer(_STROKE_MM) for _, shape in marks]
                if any(own.intersection(s).area > _ON_MARK_SHARE * own.area for s in strokes):
                    taken[flaw.kind.value] += 1
        print(f"{face.name} {species}: {len(marks)} marks, missed {missed}", flush=True)
    rows = []
    for claim, (hits, total) in sorted(read.items()):
        is_all = claim == "all marks"
        met = hits >= _BAR * total if is_all else None
        rows.append(Figure(f"{claim} read", share_text(hits, total), str(_BAR), met))
    if ious:
        rows.append(Figure("loops and X's, median overlap (IoU)", f"{np.median(ious):.2f}"))
    told = f"{sum(taken.values())} {dict(taken)}"
    rows.append(Figure("strokes told as a check, split or stain", told, "0", not taken))
    rows.append(Figure("marks told where none is", f"{false} on {len(jobs)} faces"))
    for row in rows:
        print(f"{row.claim}: {row.figure} (bar {row.bar}, met {row.met})")
    keep(
        Bench(
            "chalk",
            "Chalk and crayon on rough wood",
            f"rendered boards {chosen.seeds}, {len(jobs)} faces with drawn marks",
            f"python -m tests.bench.chalk --seeds {chosen.seeds}",
            tuple(rows),
        )
    )


if __name__ == "__main__":
    main()
