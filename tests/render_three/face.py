"""One flat face with its truth: `draw_face` is the table of contents of this renderer."""

from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
from shapely.geometry import Polygon

from scanner.geometry.polygons import polygon_of
from tests.render_three import BASE_MM, FINAL_MM
from tests.render_three.crack_paint import paint_crack
from tests.render_three.cracks import Crack
from tests.render_three.grain import Grain, draw_grain
from tests.render_three.ground import draw_outline, lay_on_ground
from tests.render_three.knots import Knot, draw_knots, paint_knot
from tests.render_three.light import lit
from tests.render_three.photo import Camera, draw_camera, photographed
from tests.render_three.plan_cracks import Room, draw_cracks
from tests.render_three.species import draw_species
from tests.render_three.spots import (
    paint_bark,
    paint_hole,
    paint_stain,
    paint_streak,
    streak_course,
)
from tests.render_three.surface import paint_surface
from tests.render_three.twins import paint_in_wood, paint_on_wood
from tests.render_three.visible import patch_stands_out, stands_out
from tests.render_three.wood import paint_wood

Ring = list[list[float]]

RATIO = BASE_MM / FINAL_MM

# Thinner than this share of the photograph's pixel a crack is not seen.
_FAINT_SHARE = 0.25
_FOLLOWED_PX = 61
_LEAST_MM2 = 0.3


@dataclass(frozen=True, eq=False)
class Face:
    """A flat photograph of one face with its truth.

    ``pixels`` (H, W, 3) uint8 RGB, `FINAL_MM` a pixel, the board along x; ``outline``
    [[x, y] px]; ``flaws``: dicts with kind, sound (of a knot), look, polygon [[x, y] px] and, of a
    crack, opening_mm; ``faint``: there, but not to be seen in this photograph; ``camera`` how it
    was taken.
    """

    pixels: np.ndarray
    outline: Ring
    flaws: list[dict[str, Any]]
    species: str
    camera: Camera


def draw_face(seed: int, size_mm: tuple[float, float] | None = None) -> Face:
    """Return the face of a seed; ``size_mm`` (length, width) instead of the drawn 500-900 x 90-260.

    Each stage has its own stream of chance, so that a change in one leaves the others alone.
    """

    def stage(number: int) -> np.random.Generator:
        return np.random.default_rng((seed, 303, number))

    rng = stage(0)
    drawn = float(rng.uniform(500, 900)), float(rng.uniform(90, 260))
    long, wide = size_mm or drawn
    # The same number of pixels at both scales: whole pixels of 0.5 mm.
    margins = np.round(rng.uniform(15, 40, 4))
    shape = (
        2 * int(np.ceil((wide + margins[1] + margins[3]) / FINAL_MM)),
        2 * int(np.ceil((long + margins[0] + margins[2]) / FINAL_MM)),
    )
    box = (margins[0], margins[1], margins[0] + long, margins[1] + wide)
    species, camera = draw_species(stage(1)), draw_camera(stage(2))
    knots = draw_knots(stage(3), box)
    swells = tuple(knot.swell for knot in knots)
    grain, ring_mm = draw_grain(stage(4), shape, swells)
    outline = draw_outline(stage(5), (long, wide), (margins[0], margins[1]))
    canvas = paint_wood(stage(6), grain, species, ring_mm)
    paint_in_wood(stage(7), canvas, grain, box)
    spots, pith = _paint_spots(stage(8), canvas, grain, box, species.is_softwood)
    rng = stage(9)
    for knot in knots:
        paint_knot(rng, canvas, knot)
    paint_surface(stage(10), canvas, species)
    spots += _paint_holes(stage(13), canvas, box)
    cracks = draw_cracks(stage(11), Room(grain, box), knots, pith)
    rng = stage(12)
    for crack in cracks:
        paint_crack(rng, canvas, crack)
    paint_on_wood(stage(14), canvas, grain, box)
    lay_on_ground(stage(15), canvas, outline)
    lit(stage(16), canvas)
    pixels = photographed(stage(17), canvas, camera)
    face = polygon_of(outline)
    flaws = [
        *_knots_true(knots, face),
        *(
            note
            for kind, ring in spots
            for note in _noted(kind, ring, face, faint=not patch_stands_out(pixels, ring * RATIO))
        ),
        *(note for crack in cracks for note in _crack_true(crack, face, camera, pixels)),
    ]
    return Face(pixels, _ring(face), flaws, species.name, camera)


def _paint_spots(rng, canvas, grain: Grain, box, is_softwood: bool):
    """Paint pith, stains, pitch and bark; return (kind, ring) of each, and where the pith lies."""
    x0, y0, x1, y1 = box
    spots, pith = [], None

    def place() -> tuple[float, float]:
        return float(rng.uniform(x0 + 5, x1 - 5)), float(rng.uniform(y0 + 3, y1 - 3))

    if rng.random() < 0.14:
        long = rng.uniform(80, 0.9 * (x1 - x0))
        x, y = rng.uniform(x0 + long / 2, x1 - long / 2), place()[1]
        course = streak_course(rng, grain, x, y, long, rng.uniform(1.5, 6))
        tint = np.array([0.5, 0.36, 0.24]) ** rng.uniform(0.5, 1.3)
        paint_streak(rng, canvas, course, tint, rng.uniform(0.2, 0.8))
        spots.append(("pith", course.polygon()))
        pith = (x, y, long)
    for _ in range(int(rng.integers(1, 4)) if rng.random() < 0.2 else 0):
        spots.append(("stain", paint_stain(rng, canvas, grain, *place())))
    for _ in range(int(rng.integers(1, 5)) if rng.random() < (0.4 if is_softwood else 0.08) else 0):
        course = streak_course(rng, grain, *place(), rng.uniform(8, 70), rng.uniform(1.0, 5))
        amber = np.array([0.62, 0.38, 0.14]) ** rng.uniform(0.5, 1.7)
        shine = rng.uniform(0.05, 0.5) if rng.random() < 0.4 else 0.0
        paint_streak(rng, canvas, course, amber, rng.uniform(0.15, 0.6), shine)
        spots.append(("pitch", course.polygon()))
    for _ in range(int(rng.integers(1, 3)) if rng.random() < 0.15 else 0):
        spots.append(("bark_pocket", paint_bark(rng, canvas, *place())))
    return spots, pith


def _paint_holes(rng, canvas, box):
    x0, y0, x1, y1 = box
    count = int(rng.integers(1, 7)) if rng.random() < 0.25 else 0
    return [
        ("hole", paint_hole(rng, canvas, rng.uniform(x0 + 8, x1 - 8), rng.uniform(y0 + 8, y1 - 8)))
        for _ in range(count)
    ]


def _ring(shape: Polygon) -> Ring:
    """Return a polygon's outline in pixels of the finished picture."""
    points = (np.asarray(shape.exterior.coords)[:-1] + 0.5) * RATIO - 0.5
    return [[round(float(v), 2) for v in point] for point in points]


def _noted(kind: str, ring: np.ndarray, face: Polygon, **more: Any) -> list[dict[str, Any]]:
    """Return what of a flaw lies on the face, one note a polygon."""
    within = polygon_of(ring).intersection(face)
    parts = getattr(within, "geoms", [within])
    return [
        {"kind": kind, "sound": None, **more, "polygon": _ring(part)}
        for part in parts
        if part.geom_type == "Polygon" and part.area * BASE_MM**2 >= _LEAST_MM2
    ]


def _knots_true(knots: list[Knot], face: Polygon) -> list[dict[str, Any]]:
    return [
        note
        for knot in knots
        for note in _noted("knot", knot.polygon, face, sound=knot.sound, look=knot.kind)
    ]


def _crack_true(
    crack: Crack, face: Polygon, camera: Camera, pixels: np.ndarray
) -> list[dict[str, Any]]:
    """Return a crack's truth: what shows, and what does not show in this photograph."""
    course = crack.whole
    pixel = camera.along_mm if course.upright else camera.across_mm
    is_seen = course.widths_mm >= _FAINT_SHARE * pixel
    along = (course.first + np.arange(len(course.upper)) + 0.5) * RATIO - 0.5
    across = ((course.upper + course.lower) / 2 + 0.5) * RATIO - 0.5
    picture = pixels.transpose(1, 0, 2) if course.upright else pixels
    every = max(round(1 / RATIO), 1)
    out = stands_out(picture, along[::every], across[::every])
    is_seen &= np.repeat(out, every)[: len(is_seen)]
    # An eye fills short gaps, and takes no note of short bits.
    is_seen = cv2.blur(is_seen.astype(np.float32)[None, :], (_FOLLOWED_PX, 1))[0] > 0.4
    notes = []
    for faint in (False, True):
        for part in course.divided(is_seen != faint):
            notes += _noted(
                crack.kind,
                part.polygon(least_mm=0.05),
                face,
                look=crack.look,
                opening_mm=round(float(np.percentile(part.widths_mm, 95)), 2),
                faint=faint,
            )
    return notes
