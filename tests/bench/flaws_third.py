"""Flaws found on flat faces of the third renderer: a bench to develop and to choose by.

``python -m tests.bench.flaws_third [--seeds 5000-5023] [--jobs 2]`` gives the shipped finder the
true outline, up to 0.7 mm off. A line is found where 40 % of its length is covered, to 2.5 mm; a
spot where what was found overlaps it by 0.3 (IoU). Cracked knots are not asked whether they are
sound: two in five are marked loose by chance. What cannot be seen in the photograph (faint)
is not asked for, and not false where it is found. The figures are no measure of the program: its
network may have learned from this renderer, and choices are made by these very seeds.
"""

import argparse
from collections import defaultdict
from dataclasses import dataclass, field

import cv2
import numpy as np
from shapely import affinity
from shapely.geometry import Point, Polygon
from shapely.ops import unary_union

from scanner.board.flaw import CRACKS, Flaw, FlawKind
from scanner.geometry.polygons import iou, polygon_of
from scanner.vision.flaws import find_flaws
from scanner.vision.photos.picture import FacePicture
from tests.bench.many import in_order
from tests.render_three import FINAL_MM
from tests.render_three.face import draw_face

_KNOT_MM, _CRACK_MM, _OPENS_MM, _HOLE_MM, _WORM_MM = 6.0, 20.0, 0.3, 3.0, 3.5
_NEAR_MM, _COVERED, _OVERLAP, _OFF_MM = 2.5, 0.4, 0.3, 0.7
_SPOTS = ("knot", "hole", "bark_pocket")
_CRACK_KINDS = tuple(kind.value for kind in CRACKS)


@dataclass(frozen=True)
class TrueFlaw:
    """A flaw of the truth, face mm."""

    kind: str
    look: str
    shape: Polygon
    opening_mm: float
    faint: bool
    sound: bool | None = None

    @property
    def long_mm(self) -> float:
        x0, y0, x1, y1 = self.shape.bounds
        return float(np.hypot(x1 - x0, y1 - y0))

    @property
    def size_mm(self) -> float:
        return float(2 * np.sqrt(self.shape.area / np.pi))


@dataclass
class Score:
    """Found and asked for, by claim; false ones by kind and by face."""

    hits: dict[str, list[int]] = field(default_factory=lambda: defaultdict(lambda: [0, 0]))
    kinds: dict[str, int] = field(default_factory=lambda: defaultdict(int))
    false: list[int] = field(default_factory=list)
    overlaps: list[float] = field(default_factory=list)

    def mark(self, claim: str, hit: bool) -> None:
        self.hits[claim][0] += hit
        self.hits[claim][1] += 1

    def add(self, truths: list[TrueFlaw], found: tuple[Flaw, ...]) -> None:
        """Count one face."""
        lines = [f.outlines[1] for f in found if f.kind in CRACKS]
        spots = [f for f in found if f.kind.value in _SPOTS]
        for true in truths:
            if true.faint:
                continue
            if true.kind in _CRACK_KINDS and true.look != "in_knot":
                self._add_line(true, lines)
            elif true.kind in _SPOTS:
                self._add_spot(true, spots)
        # Where the grain is wild the truth does not say.
        told = [flaw for flaw in found if flaw.kind is not FlawKind.WILD_GRAIN]
        wrong = [flaw for flaw in told if not _is_right(flaw, truths)]
        for flaw in wrong:
            self.kinds[flaw.kind.value] += 1
        self.false.append(len(wrong))

    def _add_line(self, true: TrueFlaw, lines: list[Polygon]) -> None:
        if true.long_mm < _CRACK_MM or true.opening_mm < _OPENS_MM:
            return
        hit = covered(true.shape, lines) >= _COVERED
        claim = "shakes" if true.kind == "shake" else "checks and splits"
        self.mark(f"{claim} over 20 mm that open 0.3 mm", hit)
        self.mark(f"  of them {true.look}", hit)
        width = (
            "under 0.5" if true.opening_mm < 0.5 else "0.5-1" if true.opening_mm < 1 else "over 1"
        )
        self.mark(f"  of them {width} mm", hit)

    def _add_spot(self, true: TrueFlaw, spots: list[Flaw]) -> None:
        best = max(spots, key=lambda f: iou(true.shape, f.outlines[1]), default=None)
        overlap = iou(true.shape, best.outlines[1]) if best else 0.0
        hit = overlap >= _OVERLAP
        if true.kind == "knot" and true.size_mm > _KNOT_MM:
            self.mark("knots over 6 mm", hit)
        elif true.kind == "hole" and true.size_mm > _HOLE_MM:
            self.mark("holes over 3 mm", hit)
        elif true.kind == "bark_pocket":
            self.mark("bark pockets", hit)
        if best and true.kind == "hole" and true.size_mm <= _WORM_MM and overlap > 0:
            self.overlaps.append(overlap)
        if hit and best and true.kind == "knot" and true.look != "cracked":
            which = "sound" if true.sound else "loose or hollow"
            self.mark(f"  {which} knots called loose:", best.sound is False)

    def text(self) -> str:
        """Return the figures, a line each."""
        rows = [
            f"{c}{'' if c.endswith(':') else ' found:'} {a} of {b} ({100 * a / b:.0f} %)"
            for c, (a, b) in self.hits.items()
        ]
        rows.sort(key=lambda row: row.startswith(" "))
        if self.overlaps:
            middle = f"{np.median(self.overlaps):.2f} of {len(self.overlaps)}"
            rows.append(f"holes up to {_WORM_MM} mm, median overlap (IoU): {middle}")
        told = f"mean {np.mean(self.false):.2f}, most {max(self.false)}, {dict(self.kinds)}"
        return "\n".join([*rows, f"false candidates a face ({len(self.false)} faces): {told}"])


def covered(line: Polygon, found: list[Polygon]) -> float:
    """Return the share of a line's length that lies near one of the found lines."""
    near = unary_union(found).buffer(_NEAR_MM) if found else Polygon()
    x0, y0, x1, y1 = line.bounds
    upright = y1 - y0 > x1 - x0
    ring = np.asarray(line.exterior.coords)
    along = ring[:, 1] if upright else ring[:, 0]
    # A line's outline runs there and back: its points lie evenly along both lips.
    inside = [near.covers(Point(p)) for p in ring]
    weight = np.abs(np.gradient(along))
    return float(np.sum(weight * inside) / max(weight.sum(), 1e-9))


def _is_right(flaw: Flaw, truths: list[TrueFlaw]) -> bool:
    """Return whether something true lies where a flaw was found, of its sort."""
    shape = flaw.outlines[1]
    if flaw.kind in CRACKS:
        lines = [t.shape for t in truths if t.kind in _CRACK_KINDS]
        return covered(shape, lines) >= _COVERED
    sort = _SPOTS if flaw.kind.value in _SPOTS else (flaw.kind.value,)
    same = [t.shape for t in truths if t.kind in sort]
    return any(shape.intersection(s).area >= 0.2 * min(shape.area, s.area) for s in same)


def seen_face(seed: int) -> tuple[int, list[TrueFlaw], tuple[Flaw, ...]]:
    """Return a seed's true flaws and those found."""
    cv2.setNumThreads(1)
    face = draw_face(seed)
    everywhere = np.ones(face.pixels.shape[:2], bool)
    picture = FacePicture(face.pixels, FINAL_MM, (0.0, 0.0), 0.0006, 0.5, everywhere)

    def shape(ring: list[list[float]]) -> Polygon:
        return polygon_of(np.asarray(ring) * FINAL_MM)

    truths = [
        TrueFlaw(
            flaw["kind"],
            flaw.get("look", ""),
            shape(flaw["polygon"]),
            flaw.get("opening_mm", 0.0),
            flaw.get("faint", False),
            flaw.get("sound"),
        )
        for flaw in face.flaws
    ]
    off = np.random.default_rng((seed, 5)).uniform(-_OFF_MM, _OFF_MM, 2)
    outline = affinity.translate(shape(face.outline), *off)
    return seed, truths, find_flaws(picture, outline)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seeds", default="5000-5023", help="first-last")
    parser.add_argument("--jobs", type=int, default=1, help="faces side by side")
    chosen = parser.parse_args()
    first, last = (int(v) for v in chosen.seeds.split("-"))
    score = Score()
    for seed, truths, found in in_order(seen_face, range(first, last + 1), chosen.jobs):
        score.add(truths, found)
        print(f"{seed}: {len(found)} found, {score.false[-1]} of them false", flush=True)
    print(score.text())


if __name__ == "__main__":
    main()
