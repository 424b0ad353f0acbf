"""How well the wood is seen: outlines and flaws of rendered photographs against their truth.

The true camera flattens the pictures, so that nothing but seeing is measured:
``python -m tests.bench.seeing --seeds 2000-2011``.
"""

import argparse
import time
from dataclasses import dataclass, field

import cv2
import numpy as np
from shapely import affinity
from shapely.geometry import Point, Polygon

from scanner.board.flaw import Flaw
from scanner.errors import ScannerError
from scanner.geometry.polygons import iou, polygon_of, union_of
from scanner.vision.flaws import find_flaws
from scanner.vision.locate import locate_board
from scanner.vision.outline import TracedOutline, trace_outline
from scanner.vision.picture import FacePicture
from tests.render.truth import Truth

_MARGIN_MM = 60.0
# A truth and a candidate are the same where they overlap by this, or one's centre is in the other.
_SAME_IOU = 0.3


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


def view_around(outline: Polygon, angle: float) -> View:
    upright = affinity.rotate(outline, -angle, origin=(0, 0), use_radians=True)
    x0, y0, x1, y1 = upright.bounds
    x0, y0, x1, y1 = x0 - _MARGIN_MM, y0 - _MARGIN_MM, x1 + _MARGIN_MM, y1 + _MARGIN_MM
    corner = View(0, 0, angle, 1, 1).to_ground([[x0, y0]])[0]
    return View(float(corner[0]), float(corner[1]), angle, x1 - x0, y1 - y0)


def flattened(pixels, truth: Truth, view: View, mm: float) -> FacePicture:
    """Return the view at the height of the board's face through the true camera."""
    columns, rows = round(view.width / mm), round(view.height / mm)
    gx, gy = np.meshgrid(np.arange(columns) * mm, np.arange(rows) * mm)
    ground = view.to_ground(np.column_stack([gx.ravel(), gy.ravel()]))
    space = np.column_stack(
        [ground[:, 0], -ground[:, 1], np.full(gx.size, truth.photo.face_height)]
    )
    px = truth.photo.project(space).reshape(rows, columns, 2).astype(np.float32)
    h, w = pixels.shape[:2]
    seen = (px[..., 0] >= 0) & (px[..., 0] <= w - 1) & (px[..., 1] >= 0) & (px[..., 1] <= h - 1)
    flat = cv2.remap(pixels, px[..., 0], px[..., 1], cv2.INTER_LINEAR)
    return FacePicture(flat, mm, (0.0, 0.0), 0.0006, 0.5, seen)


def ground_view(truth: Truth) -> View:
    """Return the floor round the rule, half a metre to every side."""
    long = truth.photo.strip_true_mm or 914.4
    board = on_ground(truth, truth.board.outline[str(truth.photo.face)])
    x0, _, x1, _ = board.bounds
    x0, x1 = min(x0, 0.0) - 400, max(x1, long) + 400
    return View(x0, -600.0, 0.0, x1 - x0, 1200.0)


def on_ground(truth: Truth, ring) -> Polygon:
    return polygon_of(truth.photo.reference_from_board(np.asarray(ring))[:, :2] * [1, -1])


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
    rule = affinity.translate(rule, -view.x, -view.y)
    clock = [time.perf_counter()]
    try:
        ground = flattened(pixels, truth, view, 2.0)
        place = locate_board(ground, rule, name)
        clock.append(time.perf_counter())
        rough = polygon_of(view.to_ground(np.asarray(place.outline.exterior.coords)))
        near = view_around(rough, place.angle_rad)
        first = trace_outline(flattened(pixels, truth, near, 0.5), name)
        outline = polygon_of(near.to_ground(np.asarray(first.outline.exterior.coords)))
        turn = np.arctan2(
            *(np.subtract(first.lower[-1] + first.upper[-1], first.lower[0] + first.upper[0])[::-1])
        )
        near = view_around(outline, near.angle + float(turn))
        picture = flattened(pixels, truth, near, 0.5)
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
