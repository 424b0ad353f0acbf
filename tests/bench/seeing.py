"""How well the wood is seen: outlines and flaws of rendered photographs against their truth.

The true camera flattens the pictures, so that nothing but seeing is measured:
``python -m tests.bench.seeing --seeds 2000-2011``.
"""

import argparse
import time
from dataclasses import dataclass, field
from pathlib import Path

import cv2
import numpy as np
from shapely import affinity
from shapely.geometry import Point, Polygon

from scanner.board.flaw import Flaw
from scanner.errors import ScannerError
from scanner.geometry.polygons import iou, polygon_of, union_of
from scanner.vision.flaws import find_flaws
from scanner.vision.ground.locate import locate_board
from scanner.vision.outline.trace import TracedOutline, trace_outline
from scanner.vision.photos.picture import FacePicture
from tests.render.cache import cached_photo
from tests.render.scene import draw_board, draw_photo
from tests.render.truth import Truth

_MARGIN_MM = 60.0
# A truth and a candidate are the same where they overlap by this, or one's centre is in the other.
_SAME_IOU = 0.3
# A crack is found where found lines cover so much of it; a line is right where cracks do.
COVERED = 0.4


@dataclass(frozen=True)
class View:
    """A rectangle of the ground (mm, x along the rule, y down), its x turned by an angle."""

    x: float
    y: float
    angle: float
    width: float
    height: float

    def to_ground(self, points):
        c, s = np.cos(self.angle), np.sin(self.angle)
        return np.asarray(points) @ np.array([[c, s], [-s, c]]) + [self.x, self.y]

    def from_ground(self, points):
        c, s = np.cos(self.angle), np.sin(self.angle)
        return (np.asarray(points) - [self.x, self.y]) @ np.array([[c, -s], [s, c]])

    def polygon(self, shape):
        return polygon_of(self.from_ground(np.asarray(shape.exterior.coords)))


def view_around(outline: Polygon, angle: float, end_margin_mm: float = _MARGIN_MM) -> View:
    upright = affinity.rotate(outline, -angle, origin=(0, 0), use_radians=True)
    x0, y0, x1, y1 = upright.bounds
    x0, x1 = x0 - end_margin_mm, x1 + end_margin_mm
    y0, y1 = y0 - _MARGIN_MM, y1 + _MARGIN_MM
    corner = View(0, 0, angle, 1, 1).to_ground([[x0, y0]])[0]
    return View(float(corner[0]), float(corner[1]), angle, x1 - x0, y1 - y0)


def flattened(
    pixels, truth: Truth, view: View, mm: float, rule: Polygon | None = None
) -> FacePicture:
    """Return the view at the height of the board's face through the true camera.

    ``rule``: where the rule or its batten lies on the ground; as in a scan it counts as unseen, but
    the outline's network looks at it.
    """
    columns, rows = round(view.width / mm), round(view.height / mm)
    gx, gy = np.meshgrid(np.arange(columns) * mm, np.arange(rows) * mm)
    ground = view.to_ground(np.column_stack([gx.ravel(), gy.ravel()]))
    space = np.column_stack(
        [ground[:, 0], -ground[:, 1], np.full(gx.size, truth.photo.face_height)]
    )
    px = truth.photo.project(space).reshape(rows, columns, 2).astype(np.float32)
    h, w = pixels.shape[:2]
    seen = (px[..., 0] >= 0) & (px[..., 0] <= w - 1) & (px[..., 1] >= 0) & (px[..., 1] <= h - 1)
    seen &= _before_the_fold(truth, space).reshape(rows, columns)
    flat = cv2.remap(pixels, px[..., 0], px[..., 1], cv2.INTER_LINEAR)
    on_rule = None
    if rule is not None:
        canvas = np.zeros((rows, columns), np.uint8)
        ring = view.from_ground(np.asarray(rule.buffer(6.0).exterior.coords)) / mm
        cv2.fillPoly(canvas, [np.round(ring).astype(np.int32)], 1)
        on_rule = seen & (canvas > 0)
        seen &= canvas == 0
    eye = truth.photo.eye
    foot = view.from_ground([[eye[0], -eye[1]]])[0]
    share = truth.photo.face_height / eye[2]
    return FacePicture(
        flat,
        mm,
        (0.0, 0.0),
        0.0006,
        0.5,
        seen,
        (float(foot[0]), float(foot[1])),
        share,
        rule=on_rule,
    )


def _before_the_fold(truth: Truth, space):
    """Return which points the lens's polynomial still moves outwards: beyond, it folds back."""
    seen = space @ np.array(truth.photo.R).T + np.array(truth.photo.t)
    radius = np.hypot(seen[:, 0], seen[:, 1]) / np.where(seen[:, 2] > 1, seen[:, 2], np.nan)
    r = np.linspace(0, 4, 4000)
    k1, k2, k3 = truth.photo.lens[:3]
    falls = np.diff(r * (1 + k1 * r**2 + k2 * r**4 + k3 * r**6)) <= 0
    limit = r[int(np.argmax(falls))] if falls.any() else np.inf
    return radius < limit


def ground_view(truth: Truth) -> View:
    """Return the floor round the rule, half a metre to every side."""
    long = truth.photo.strip_true_mm or 914.4
    board = on_ground(truth, truth.board.outline[str(truth.photo.face)])
    x0, _, x1, _ = board.bounds
    x0, x1 = min(x0, 0.0) - 400, max(x1, long) + 400
    return View(x0, -600.0, 0.0, x1 - x0, 1200.0)


def on_ground(truth: Truth, ring) -> Polygon:
    """Return a ring of the face as the flat picture shows it."""
    return polygon_of(seen_on_ground(truth, ring))


def seen_on_ground(truth: Truth, points) -> np.ndarray:
    """Return where the flat picture shows points of the face: a bowed face lies off its plane."""
    there = truth.photo.reference_from_board(np.asarray(points))
    eye = np.array(truth.photo.eye)
    share = (truth.photo.face_height - eye[2]) / (there[:, 2] - eye[2])
    return (eye[:2] + (there[:, :2] - eye[:2]) * share[:, None]) * [1, -1]


@dataclass
class Seen:
    """What was seen of one face, and its truth, in the flat picture's frame."""

    name: str
    traced: TracedOutline | None = None
    flaws: tuple[Flaw, ...] = ()
    outline: Polygon = field(default_factory=Polygon)
    true_flaws: list = field(default_factory=list)
    seconds: tuple[float, float, float] = (0, 0, 0)
    refused: str = ""
    picture: FacePicture | None = None


def see(pixels, truth: Truth, name: str) -> Seen:
    """Locate, trace twice (as the scan does) and find flaws."""
    view = ground_view(truth)
    long = truth.photo.strip_true_mm or 914.4
    half = 34.0 if truth.photo.rule_kind == "strip" else 15.0
    rule = Polygon([(-5, -half), (long + 5, -half), (long + 5, half), (-5, half)])
    beside = affinity.translate(rule, -view.x, -view.y)
    clock = [time.perf_counter()]
    try:
        ground = flattened(pixels, truth, view, 2.0)
        place = locate_board(ground, beside, name)
        clock.append(time.perf_counter())
        rough = polygon_of(view.to_ground(np.asarray(place.outline.exterior.coords)))
        near = view_around(rough, place.angle_rad)
        first = trace_outline(flattened(pixels, truth, near, 0.5, rule), name)
        outline = polygon_of(near.to_ground(np.asarray(first.outline.exterior.coords)))
        turn = np.arctan2(
            *(np.subtract(first.lower[-1] + first.upper[-1], first.lower[0] + first.upper[0])[::-1])
        )
        near = view_around(outline, near.angle + float(turn))
        picture = flattened(pixels, truth, near, 0.5, rule)
        traced = trace_outline(picture, name)
        clock.append(time.perf_counter())
        flaws = find_flaws(picture, traced.outline, traced.wane)
        clock.append(time.perf_counter())
    except ScannerError as error:
        return Seen(name, refused=str(error))
    face = str(truth.photo.face)
    true_flaws = [
        (flaw.kind, flaw, near.polygon(on_ground(truth, ring)))
        for flaw in truth.board.flaws
        for ring in flaw.outlines.get(face, [])
        if len(ring) >= 3
    ]
    return Seen(
        name,
        traced,
        flaws,
        near.polygon(on_ground(truth, truth.board.outline[face])),
        true_flaws,
        tuple(np.diff(clock)),
        picture=picture,
    )


def recipe(seed: int, face: int):
    """Return the board and the photograph that a seed stands for."""
    board = draw_board(seed)
    return board, draw_photo(seed, board, rule="strip" if seed % 3 else "plain", face=face)


def photos_of(seeds: range, folder: Path | None):
    """Yield (name, pixels, truth) of both faces; rendered ones are kept for the next time."""
    for seed in seeds:
        for face in (1, 2):
            name = f"{seed}-{face}"
            if folder is not None:
                path = folder / f"{name}.jpg"
                truth = Truth.from_json((folder / f"{name}.json").read_text(encoding="utf-8"))
            else:
                path, truth = cached_photo(*recipe(seed, face))
            yield name, read_upright(path, folder is None), truth


def read_upright(path: Path, by_exif: bool):
    """Return RGB pixels, turned by the EXIF tag where there is one."""
    flag = cv2.IMREAD_COLOR if by_exif else cv2.IMREAD_COLOR | cv2.IMREAD_IGNORE_ORIENTATION
    return np.ascontiguousarray(cv2.imread(str(path), flag)[..., ::-1])


def is_same(found: Polygon, true: Polygon) -> bool:
    return (
        iou(found, true) >= _SAME_IOU
        or true.contains(found.centroid)
        or found.contains(true.centroid)
    )


def covered(true: Polygon, found) -> float:
    """Return the share of a crack's length that found cracks cover, 2 mm off at most."""
    near = union_of([shape.buffer(2.0) for shape in found])
    return true.intersection(near).area / true.area if true.area else 0.0


SPOTS = ("knot", "hole", "bark_pocket")
CRACKS = ("check", "split", "shake")


@dataclass
class Tally:
    """Counts over faces."""

    faces: int = 0
    refused: list = field(default_factory=list)
    ious: list = field(default_factory=list)
    off_mm: list = field(default_factory=list)
    found: dict = field(default_factory=dict)
    false: dict = field(default_factory=dict)
    slants: list = field(default_factory=list)
    seconds: list = field(default_factory=list)

    def add(self, seen: Seen) -> str:
        self.faces += 1
        if seen.refused:
            self.refused.append(seen.refused)
            self.ious.append(0.0)
            return f"{seen.name}: refused: {seen.refused}"
        assert seen.traced is not None
        overlap = iou(seen.traced.outline, seen.outline)
        ring = seen.outline.exterior
        off = [ring.distance(Point(p)) for p in seen.traced.outline.segmentize(5).exterior.coords]
        self.ious.append(overlap)
        self.off_mm.extend(off)
        self.seconds.append(seen.seconds)
        shapes = {
            k: [f.outlines[1] for f in seen.flaws if f.kind.value in k] for k in (SPOTS, CRACKS)
        }
        before = dict(self.false)
        for kind, _, true in seen.true_flaws:
            true = true.intersection(seen.outline) if kind != "wane" else true
            size = 2 * np.sqrt(true.area / np.pi)
            if kind in SPOTS and (kind != "knot" or size > 10):
                self._mark(kind, any(is_same(s, true) for s in shapes[SPOTS]))
            elif kind in ("check", "split") and true.bounds[2] - true.bounds[0] > 20:
                self._mark(kind, covered(true, shapes[CRACKS]) >= COVERED)
            elif kind == "wane" and true.area > 100:
                got = union_of(seen.traced.wane)
                self._mark(kind, bool(got.intersection(true).area > 0.3 * true.area))
        self._count_false(seen)
        news = {k: v - before.get(k, 0) for k, v in self.false.items() if v != before.get(k, 0)}
        return f"{seen.name}: IoU {overlap:.4f}, p95 {np.percentile(off, 95):.2f} mm, false {news}"

    def _mark(self, kind: str, hit: bool) -> None:
        hits, total = self.found.get(kind, (0, 0))
        self.found[kind] = (hits + hit, total + 1)

    def _count_false(self, seen: Seen) -> None:
        true_spots = [p for k, _, p in seen.true_flaws if k in (*SPOTS, "stain")]
        true_cracks = [p for k, _, p in seen.true_flaws if k in CRACKS]
        wild = [p for k, _, p in seen.true_flaws if k in ("wild_grain", "knot")]
        for flaw in seen.flaws:
            shape, kind = flaw.outlines[1], flaw.kind.value
            if kind in SPOTS:
                right = any(is_same(shape, true) for true in true_spots)
            elif kind in CRACKS:
                right = covered(shape, true_cracks) >= COVERED
            else:
                right = any(shape.intersects(true) for true in wild)
            if not right:
                self.false[kind] = self.false.get(kind, 0) + 1

    def text(self) -> str:
        lines = [f"faces {self.faces}, refused {len(self.refused)}"]
        lines.append(
            f"outline IoU: mean {np.mean(self.ious):.4f}, worst {np.min(self.ious):.4f};"
            f" under 0.97: {sum(v < 0.97 for v in self.ious)}"
        )
        if self.off_mm:
            lines.append(
                "outline points off, mm: median {:.2f}, p95 {:.2f}, worst {:.1f}".format(
                    *np.percentile(self.off_mm, [50, 95, 100])
                )
            )
            shares = np.mean(self.seconds, axis=0)
            lines.append("seconds: locate {:.1f}, trace twice {:.1f}, flaws {:.1f}".format(*shares))
        for kind, (hits, total) in sorted(self.found.items()):
            lines.append(f"{kind}: found {hits} of {total} ({hits / total:.3f})")
        total = sum(self.false.values())
        lines.append(f"false candidates a face: {total / max(self.faces, 1):.2f} {self.false}")
        return "\n".join(lines)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seeds", default="2000-2011", help="first-last")
    parser.add_argument("--folder", type=Path, help="pictures NAME.jpg with NAME.json, kept there")
    chosen = parser.parse_args()
    first, last = (int(v) for v in chosen.seeds.split("-"))
    cv2.setNumThreads(1)
    tally = Tally()
    for name, pixels, truth in photos_of(range(first, last + 1), chosen.folder):
        print(tally.add(see(pixels, truth, name)), flush=True)
    print(tally.text())


if __name__ == "__main__":
    main()
