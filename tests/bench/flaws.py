"""Flaws found on flat faces against their truth: by kind and size, false ones, how sure they were.

``python -m tests.bench.flaws --seeds 3000-3014``; the outline is the true one, moved out or in by
up to 1 mm as a tracer's would be, so that nothing but the finders is measured; wane is traced
beside it and counted only. Every bar is a row with exactly its limits, then without them.
"""

import argparse
import pickle
from collections import defaultdict
from dataclasses import dataclass, field, replace
from itertools import pairwise
from pathlib import Path

import cv2
import numpy as np
from shapely.geometry import Polygon

from scanner.errors import ScannerError
from scanner.geometry.polygons import iou, largest_polygon, union_of
from scanner.vision.flaws import find_flaws
from scanner.vision.outline.trace import trace_outline
from tests.bench.faces import FlatFace, flat_face
from tests.bench.figures import Bench, keep
from tests.bench.many import in_order
from tests.bench.seeing import COVERED, CRACKS, SPOTS, covered, is_same
from tests.bench.wood_bars import Bars

_PATCHES = ("stain", "pitch")
# The truth's outlines run through the outermost points inside, on a grid of twice this
# (`flaw_truth`): so much of each flaw lies outside of them. Held by `test_flaw_ruler`.
LABEL_RIM_MM = {"knot": 0.25, "hole": 0.125, "bark_pocket": 0.5, "stain": 0.5, "pitch": 0.5}
_STEPS = (0.0, 0.4, 0.6, 0.75, 0.9, 1.0)


def off_outline(face: FlatFace) -> Polygon:
    """Return the outline as a tracer might give it: up to 1 mm out or in, the same every time."""
    rng = np.random.default_rng(sum(face.name.encode()))
    return largest_polygon(face.outline.buffer(float(rng.uniform(-1, 1)), join_style="mitre"))


def to_their_rims(face: FlatFace) -> FlatFace:
    """Return a face whose true flaws reach to their rims."""
    flaws = tuple(
        (k, flaw, shape.buffer(LABEL_RIM_MM.get(k, 0.0))) for k, flaw, shape in face.flaws
    )
    return replace(face, flaws=flaws)


def wane_of(face: FlatFace) -> tuple[Polygon, ...]:
    return tuple(shape for kind, _, shape in face.flaws if kind == "wane")


def size_class(kind: str, shape: Polygon) -> str:
    if kind in CRACKS:
        return "over 20 mm" if shape.bounds[2] - shape.bounds[0] > 20 else "short"
    size = 2 * np.sqrt(shape.area / np.pi)
    if kind == "hole":
        return "over 3 mm" if size > 3 else "small"
    return next((f"over {s} mm" for s in (30, 20, 10, 6) if size > s), "small")


@dataclass
class Tally:
    """Counts over faces."""

    found: dict = field(default_factory=lambda: defaultdict(lambda: [0, 0]))
    false: dict = field(default_factory=lambda: defaultdict(int))
    per_face: dict = field(default_factory=dict)
    scores: list = field(default_factory=list)
    ious: dict = field(default_factory=lambda: defaultdict(list))
    reaches_mm: list = field(default_factory=list)
    sound: dict = field(default_factory=lambda: defaultdict(int))

    def add(self, face: FlatFace, flaws) -> None:
        truths = [
            (k, flaw, whole)
            for k, flaw, p in face.flaws
            if k != "wane" and not (whole := p.intersection(face.outline)).is_empty
        ]
        for kind, flaw, shape in truths:
            if kind != "wild_grain" and shape.area > 1:
                self._count_found(kind, flaw, shape, flaws)
        self.per_face[face.name] = 0
        for flaw in flaws:
            kind, right = flaw.kind.value, is_right(flaw, truths)
            if kind != "wild_grain":
                self.scores.append((flaw.score, right))
            if not right:
                self.false[kind] += 1
                self.per_face[face.name] += 1

    def _count_found(self, kind, truth, shape, flaws) -> None:
        tally = self.found[kind, size_class(kind, shape)]
        tally[1] += 1
        group = next((g for g in (SPOTS, CRACKS, _PATCHES) if kind in g), (kind,))
        near = [f for f in flaws if f.kind.value in group]
        if kind in CRACKS:
            tally[0] += covered(shape, [f.outlines[1] for f in near]) >= COVERED
            own = [f for f in near if f.reach_mm and f.outlines[1].buffer(2).intersects(shape)]
            if truth.look == "end" and own:
                true = shape.bounds[2] - shape.bounds[0]
                self.reaches_mm.append(max(f.reach_mm for f in own) - true)
            return
        hits = [f for f in near if is_same(f.outlines[1], shape)]
        tally[0] += bool(hits)
        if hits:
            self.ious[kind].append(max(iou(f.outlines[1], shape) for f in hits))
            self.ious[kind + " named right"].append(any(f.kind.value == kind for f in hits))
            if kind == "knot":
                self.sound[truth.look, hits[0].sound] += 1

    def text(self) -> str:
        lines = []
        for (kind, size), (hits, total) in sorted(self.found.items()):
            lines.append(f"{kind} {size}: {hits} of {total} ({hits / total:.2f})")
        over = [
            v for (k, s), v in self.found.items() if k == "knot" and s > "over" and "6" not in s
        ]
        hits, total = np.sum(over, axis=0) if over else (0, 0)
        lines.append(f"knots over 10 mm: {hits} of {total}")
        lines += [
            f"{k}: median {np.median(v):.2f}, mean {np.mean(v):.2f}" for k, v in self.ious.items()
        ]
        if self.reaches_mm:
            off = np.abs(self.reaches_mm)
            lines.append(
                f"reach off: median {np.median(off):.0f}, p90 {np.percentile(off, 90):.0f} mm"
            )
        lines.append(f"sound or not, true and said: {dict(self.sound)}")
        faces = max(len(self.per_face), 1)
        worst = sorted(self.per_face.items(), key=lambda item: -item[1])[:4]
        total = sum(self.false.values())
        lines.append(f"false a face: {total / faces:.2f} {dict(self.false)}, most: {worst}")
        scores = np.array(self.scores, dtype=float).reshape(-1, 2)
        for low, high in pairwise(_STEPS):
            part = scores[(scores[:, 0] >= low) & (scores[:, 0] < high + (high == 1))]
            if len(part):
                said, right = part.mean(axis=0)
                lines.append(
                    f"scored {low}-{high}: {len(part)}, mean {said:.2f}, right {right:.2f}"
                )
        return "\n".join(lines)


def is_right(flaw, truths) -> bool:
    """Return whether a candidate shows what is there."""
    shape, kind = flaw.outlines[1], flaw.kind.value
    if kind in CRACKS:
        return covered(shape, [p for k, _, p in truths if k in CRACKS]) >= COVERED
    if kind in ("wild_grain", "marked"):
        wanted = ("wild_grain", "knot") if kind == "wild_grain" else ("marked",)
        return any(shape.intersects(p) for k, _, p in truths if k in wanted)
    wanted = SPOTS if kind in SPOTS else _PATCHES
    shapes = [p for k, _, p in truths if k in wanted]
    if kind in _PATCHES:
        return shape.intersection(union_of(shapes)).area > 0.3 * shape.area if shapes else False
    return any(is_same(shape, p) for p in shapes)


def wrong_ones(face: FlatFace, flaws) -> list:
    """Return a face's false candidates."""
    truths = [
        (k, flaw, whole)
        for k, flaw, p in face.flaws
        if k != "wane" and not (whole := p.intersection(face.outline)).is_empty
    ]
    return [flaw for flaw in flaws if not is_right(flaw, truths)]


def _seen(job: tuple[int, int]) -> tuple[FlatFace, tuple, tuple]:
    cv2.setNumThreads(1)
    face = to_their_rims(flat_face(*job))
    try:
        traced = trace_outline(face.picture, face.name).wane
    except ScannerError:
        traced = ()
    return face, find_flaws(face.picture, off_outline(face), wane_of(face)), traced


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seeds", default="3000-3014", help="first-last")
    parser.add_argument("--jobs", type=int, default=1)
    parser.add_argument("--keep", type=Path, help="what was found, pickled, to be counted anew")
    chosen = parser.parse_args()
    first, last = (int(v) for v in chosen.seeds.split("-"))
    tally, bars, kept = Tally(), Bars(), []
    jobs = [(seed, face) for seed in range(first, last + 1) for face in (1, 2)]
    for face, flaws, traced in in_order(_seen, jobs, chosen.jobs):
        tally.add(face, flaws)
        bars.add(face, flaws, wrong_ones(face, flaws), traced)
        print(f"{face.name}: {tally.per_face[face.name]} false", flush=True)
        if chosen.keep:
            kept.append((replace(face, picture=None), flaws, traced))
    print(tally.text())
    print("== each bar with its limits")
    for row in bars.figures():
        print(f"{row.claim}: {row.figure} (bar {row.bar}, met {row.met})")
    keep(
        Bench(
            "flaws",
            "Flaws on rendered faces, true outlines",
            f"rendered boards {chosen.seeds}, {len(jobs)} faces",
            f"python -m tests.bench.flaws --seeds {chosen.seeds}",
            bars.figures(),
        )
    )
    if chosen.keep:
        chosen.keep.write_bytes(pickle.dumps(kept))


if __name__ == "__main__":
    main()
