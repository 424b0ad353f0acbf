"""The user's own marks: a loop or an X means "not this wood", a line across means "cut here"."""

from __future__ import annotations

from itertools import product
from typing import TYPE_CHECKING, TypeAlias
from weakref import WeakKeyDictionary

import cv2
import numpy as np
from shapely import affinity
from shapely.geometry import MultiPoint, Polygon, box

from scanner.board.flaw import Flaw, FlawKind
from scanner.geometry.polygons import iou, largest_polygon
from scanner.vision.flaws.chalk import stroke_pixels
from scanner.vision.flaws.dabs import holds_wood, is_ring
from scanner.vision.flaws.surface import WORK_MM_PER_PX, Surface

if TYPE_CHECKING:
    from scanner.vision.flaws.chalk import Stroke
    from scanner.vision.flaws.chalk_colour import Bools
    from scanner.vision.flaws.judge import JudgedSpot

# A hand's loop or X is at least so large; smaller ones are letters.
_LEAST_SIZE_MM = 28.0
# The black ring of a loose knot is a loop too: dark ones must be larger and thinner.
# Fainter strokes are as often torn grain as chalk.
_LEAST_CONTRAST = 5.0
_LEAST_DARK_MM = 45.0
_DARK_SLENDER = 7.0
# What a loop holds, of the area that its outer line bounds.
_HELD_SHARE = 0.25
_LEAST_ARM, _LEAST_DABS_ARM = 0.25, 0.35
# Dabs must be plainer: their colour further off. Nobody draws so flat an X or loop, and a letter's
# or a tally's single stroke is no X.
_DABS_CONTRAST, _FLAT = 6.1, 0.36
# How far the ends of a loop may gape and it still be one, of its size.
_GAPE = 0.3
# A line across covers so much of the width, and keeps within so much of its length of straight.
_ACROSS_SHARE = 0.6
_STRAIGHT = 0.12
# Nearer an end than this a line across says what is cut off there.
_TRIM_MM = 350.0
_TRIM_SHARE = 0.25
# An X's strokes: their directions to the grain, rising then falling, and what lies on them.
_TURNS = np.radians(np.concatenate([np.arange(15, 81, 8), np.arange(100, 166, 8)]))
_ON_ARMS = 0.8
# Dabs of a stroke look thinner than it, and a hand wavers: how wide its arms, and what is on them.
_DABS_ARMS = (1.4, 0.8)
_SAME_MARK = 0.8
# A mark told by its course over one told otherwise is that one.
_SAME_PLACE = 0.4
# Of a flaw that is nothing but drawn; a stroke this many times as high as wide runs across.
_ON_STROKE_SHARE = 0.6
_UPRIGHT = 2.0
# A spot seen as surely as this stays where dabs lie on it: on 17 marked faces (tests.bench.chalk
# 3000-3009, seven of tests.bench.flaws 5266-5280) five such were knots (0.87 and more) and one was
# chalk; both below it were chalk.
_SURE_SPOT = 0.8
# A hand goes round a knot and leaves wood between: a loop that is the knot's own outline is its
# black ring. Of 138 loops drawn round knots (tests.bench.chalk 4000-4077) none overlaps its knot
# by more than 0.23 (IoU).
_OWN_RIM_IOU = 0.6
_LOOP = "loop"
_SPOTS = (FlawKind.KNOT, FlawKind.HOLE, FlawKind.BARK_POCKET)

Said: TypeAlias = "tuple[tuple[Stroke, Polygon, str], ...]"
# Read once a face, and kept no longer than it: its maps are large.
_SAID: WeakKeyDictionary[Surface, Said] = WeakKeyDictionary()


def find_marks(surface: Surface, spots: tuple[JudgedSpot, ...]) -> tuple[Flaw, ...]:
    """Return the marks that speak: loops, X's and lines across; other strokes say nothing here."""
    flaws: list[Flaw] = []
    for stroke, shape, reason in _said(surface):
        if any(_is_told(shape, stroke, flaw.outlines[1]) for flaw in flaws):
            continue
        flaws.append(
            Flaw(
                id="",
                kind=FlawKind.MARKED,
                outlines={1: shape},
                score=_score(stroke),
                reason=reason,
                u_mm=max(2.0, surface.u_mm),
            )
        )
    return tuple(flaws)


def _is_told(shape: Polygon, stroke: Stroke, told: Polygon) -> bool:
    """Return whether a mark lies in one that is told already; of dabs, whether it holds it."""
    if stroke.says is not None and iou(shape, told) > _SAME_PLACE:
        return True
    least = min(shape.area, told.area) if stroke.is_in_dabs else shape.area
    return bool(shape.intersection(told).area > _SAME_MARK * least)


def without_strokes(flaws: tuple[Flaw, ...], surface: Surface) -> tuple[Flaw, ...]:
    """Return the flaws less those that are nothing but a stroke of a mark.

    A knot that a loop goes round stays, since most of it is wood. So does one that is plainly seen
    where a mark is told by dabs: it may have been taken for one of them, and who strikes the mark
    must still find it.
    """
    drawn = [stroke for stroke, _, _ in _said(surface)]
    drawn += [s for s in surface.strokes if s not in drawn and _runs_across(s)]
    if not drawn:
        return flaws
    whole = tuple(stroke for stroke in drawn if not stroke.is_in_dabs)
    either, solid = (stroke_pixels(some, surface.wood.shape) for some in (tuple(drawn), whole))
    return tuple(
        flaw
        for flaw in flaws
        if not _is_drawn(flaw, solid if _is_sure_spot(flaw) else either, surface)
    )


def without_own_rims(flaws: tuple[Flaw, ...]) -> tuple[Flaw, ...]:
    """Return the flaws less the loops that are nothing but the rim of a knot that is plainly seen.

    The black ring of a loose knot is greyer than the wood and so bluer, as blue chalk is.
    """
    spots = [flaw.outlines[1] for flaw in flaws if _is_sure_spot(flaw)]
    return tuple(
        flaw
        for flaw in flaws
        if flaw.kind is not FlawKind.MARKED
        or not (flaw.reason or "").endswith(_LOOP)
        or all(iou(flaw.outlines[1], spot) < _OWN_RIM_IOU for spot in spots)
    )


def _is_sure_spot(flaw: Flaw) -> bool:
    return flaw.kind in _SPOTS and (flaw.score or 0.0) >= _SURE_SPOT


def _is_drawn(flaw: Flaw, pixels: Bools, surface: Surface) -> bool:
    if flaw.kind is FlawKind.MARKED or not pixels.any():
        return False
    own = surface.pixels_of(flaw.outlines[1])
    return bool(own.any() and pixels[own].mean() > _ON_STROKE_SHARE)


def _runs_across(stroke: Stroke) -> bool:
    """Return whether a stroke is long, thin and across the grain, as no flaw of wood is."""
    height, width = stroke.region.shape
    return (
        not stroke.is_followed and stroke.contrast >= _LEAST_CONTRAST and height > _UPRIGHT * width
    )


def _said(surface: Surface) -> Said:
    """Return the strokes that speak, each with the wood it gives up and the words for it."""
    if surface not in _SAID:
        _SAID[surface] = _read(surface)
    return _SAID[surface]


def _read(surface: Surface) -> Said:
    said: list[tuple[Stroke, Polygon, str]] = []
    for stroke in surface.strokes:
        if stroke.says is not None:
            said.append((stroke, *_by_course(surface, stroke)))
            continue
        if stroke.contrast < (_DABS_CONTRAST if stroke.is_in_dabs else _LEAST_CONTRAST):
            continue
        line = _trimmed_off(surface, stroke) if _is_line_across(surface, stroke) else None
        if line is not None:
            said.append((stroke, *line))
        elif stroke.is_in_dabs:
            if (drawn := _in_dabs(surface, stroke)) is not None:
                said.append((stroke, *drawn))
        elif (loop := _loop(surface, stroke)) is not None:
            said.append((stroke, loop, f"your {_chalk(stroke)} {_LOOP}"))
        elif (cross := _cross(surface, stroke)) is not None:
            said.append((stroke, cross, f"your {_chalk(stroke)} X"))
    return tuple(said)


def _by_course(surface: Surface, stroke: Stroke) -> tuple[Polygon, str]:
    """Return the wood that a mark told by its course gives up, and the words for it."""
    if stroke.says == "line":
        line = _trimmed_off(surface, stroke)
        if line is not None:
            return line
    points = _points_mm(surface, stroke)
    hull = MultiPoint(points[:: max(1, len(points) // 3000)]).convex_hull
    shape = hull.buffer(WORK_MM_PER_PX)
    assert isinstance(shape, Polygon)
    return shape, f"your {_chalk(stroke)} {stroke.says}"


def _chalk(stroke: Stroke) -> str:
    return "dark crayon" if stroke.colour == "dark" else f"{stroke.colour} chalk"


def _score(stroke: Stroke) -> float:
    """Return how sure a mark is: the further off the wood's own colours, the surer."""
    return round(float(np.clip(0.55 + 0.04 * (stroke.contrast - 4.0), 0.5, 0.98)), 3)


def _placed(surface: Surface, stroke: Stroke, region: Bools) -> Polygon:
    """Return the outline of pixels in the stroke's box, face mm."""
    local = surface.outline_of(region, smooth_mm=1.0)
    if local.is_empty:
        return local
    return affinity.translate(local, stroke.column * WORK_MM_PER_PX, stroke.row * WORK_MM_PER_PX)


def _points_mm(surface: Surface, stroke: Stroke) -> np.ndarray:
    rows, columns = np.nonzero(stroke.region)
    at = np.column_stack([columns + stroke.column, rows + stroke.row]) * WORK_MM_PER_PX
    return np.asarray(at + np.asarray(surface.origin_mm), dtype=np.float64)


def _is_line_across(surface: Surface, stroke: Stroke) -> bool:
    """Return whether the stroke is one straight line over most of the board's width."""
    points = _points_mm(surface, stroke)
    middle = points.mean(axis=0)
    _, _, axes = np.linalg.svd(points[:: max(1, len(points) // 2000)] - middle, full_matrices=False)
    along = (points - middle) @ axes[0]
    aside = (points - middle) @ axes[1]
    long = float(np.ptp(along))
    if abs(axes[0][1]) < np.sin(np.radians(55)):
        return False
    column = round((float(middle[0]) - surface.origin_mm[0]) / WORK_MM_PER_PX)
    column = int(np.clip(column, 0, surface.wood.shape[1] - 1))
    width = float(surface.wood[:, column].sum()) * WORK_MM_PER_PX
    straight = float(np.percentile(np.abs(aside), 95)) < _STRAIGHT * long
    return straight and long > _ACROSS_SHARE * width and stroke.length_mm < 1.6 * long


def _trimmed_off(surface: Surface, stroke: Stroke) -> tuple[Polygon, str] | None:
    """Return the wood that a line across gives up, and why; in mid-board only the line's own."""
    points = _points_mm(surface, stroke)
    columns = np.flatnonzero(surface.wood.any(axis=0))
    x0 = surface.origin_mm[0] + float(columns[0]) * WORK_MM_PER_PX
    x1 = surface.origin_mm[0] + float(columns[-1]) * WORK_MM_PER_PX
    reach = min(_TRIM_MM, _TRIM_SHARE * (x1 - x0))
    to_left, to_right = points[:, 0].max() - x0, x1 - points[:, 0].min()
    hull = MultiPoint([tuple(p) for p in points[:: max(1, len(points) // 500)]]).convex_hull
    if min(to_left, to_right) > reach or not isinstance(hull, Polygon):
        return (hull, f"your {_chalk(stroke)} line across") if isinstance(hull, Polygon) else None
    rows = np.flatnonzero(surface.wood.any(axis=1))
    y0 = surface.origin_mm[1] + float(rows[0]) * WORK_MM_PER_PX
    y1 = surface.origin_mm[1] + float(rows[-1]) * WORK_MM_PER_PX
    # The line is drawn on to both edges at its own slope.
    slope, at = np.polyfit(points[:, 1], points[:, 0], 1)
    upper, lower = slope * y0 + at, slope * y1 + at
    end, name = (x0, "left") if to_left < to_right else (x1, "right")
    shape = Polygon([(end, y0), (upper, y0), (lower, y1), (end, y1)]).union(hull)
    own = surface.outline_of(surface.wood)
    shape = largest_polygon(shape.intersection(own if not own.is_empty else box(x0, y0, x1, y1)))
    return shape, f"your {_chalk(stroke)} line across: the {name} end is cut off there"


def _in_dabs(surface: Surface, stroke: Stroke) -> tuple[Polygon, str] | None:
    """Return the wood that a loop or an X in dabs gives up, and the words; None where it is none.

    Dabs of a loop lie all round and none in its middle; those of an X on two straight lines.
    """
    points = _points_mm(surface, stroke)
    points = points[:: max(1, len(points) // 3000)]
    hull = MultiPoint(points).convex_hull
    if not isinstance(hull, Polygon) or np.sqrt(hull.area) < _LEAST_SIZE_MM:
        return None
    across, along = np.ptp(points[:, 1]), np.ptp(points[:, 0])
    if min(across, along) < _FLAT * max(across, along):
        return None
    if is_ring(points, stroke.width_mm):
        is_knot = stroke.colour == "dark" and not holds_wood(
            surface.lab[..., 0], surface.wood, surface.origin_mm, points, _LEAST_DARK_MM
        )
        return None if is_knot else (hull.buffer(WORK_MM_PER_PX), f"your {_chalk(stroke)} {_LOOP}")
    arms = _arms(stroke)
    if arms is None or min(arms) <= _LEAST_DABS_ARM * max(arms):
        return None
    if stroke.colour == "dark" and np.sqrt(hull.area) < _LEAST_DARK_MM:
        return None
    return hull.buffer(WORK_MM_PER_PX), f"your {_chalk(stroke)} X"


def _loop(surface: Surface, stroke: Stroke) -> Polygon | None:
    """Return what a loop bounds, or None where the stroke bounds little."""
    outer = _placed(surface, stroke, stroke.region)
    if outer.is_empty:
        return None
    size = float(np.sqrt(outer.convex_hull.area))
    if stroke.colour == "dark" and (
        size < _LEAST_DARK_MM or stroke.length_mm < _DARK_SLENDER * stroke.width_mm
    ):
        return None
    if size < _LEAST_SIZE_MM:
        return None
    gape = max(3, round(_GAPE * size / WORK_MM_PER_PX / 2))
    canvas = np.pad(stroke.region.astype(np.uint8), gape + 2)
    ellipse = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * (gape // 2) + 1,) * 2)
    closed = cv2.morphologyEx(canvas, cv2.MORPH_CLOSE, ellipse)
    flooded = closed.copy()
    cv2.floodFill(flooded, None, (0, 0), 1)
    held = flooded == 0
    whole = (held | (closed > 0))[gape + 2 : -gape - 2, gape + 2 : -gape - 2]
    if held.sum() < _HELD_SHARE * (held.sum() + stroke.region.sum()):
        return None
    shape = _placed(surface, stroke, whole)
    # A tag of the line that runs on past the meeting adds no wood.
    tidy = largest_polygon(shape.buffer(-stroke.width_mm).buffer(stroke.width_mm))
    return shape if tidy.is_empty else tidy


def _cross(surface: Surface, stroke: Stroke) -> Polygon | None:
    """Return the wood under an X: two straight strokes that cross near their middles."""
    outer = _placed(surface, stroke, stroke.region)
    if outer.is_empty:
        return None
    hull = outer.convex_hull
    size = float(np.sqrt(hull.area))
    if size < _LEAST_SIZE_MM or (stroke.colour == "dark" and size < _LEAST_DARK_MM):
        return None
    across, along = outer.bounds[3] - outer.bounds[1], outer.bounds[2] - outer.bounds[0]
    if min(across, along) < _FLAT * max(across, along):
        return None
    arms = _arms(stroke)
    return hull if arms is not None and min(arms) > _LEAST_ARM * max(arms) else None


def _arms(stroke: Stroke) -> tuple[float, ...] | None:
    """Return the lengths of an X's four arms, px from its crossing, or None where it is no X.

    Tried over crossings near the middle of the stroke's box and pairs of directions, one rising
    and one falling: the pair that covers most of the stroke.
    """
    rows, columns = np.nonzero(stroke.region)
    step = max(1, len(rows) // 600)
    points = np.column_stack([columns, rows])[::step].astype(np.float64)
    middle = 0.5 * (points.max(axis=0) + points.min(axis=0))
    spread = 0.5 * np.ptp(points, axis=0)
    wide, least = _DABS_ARMS if stroke.is_in_dabs else (0.9, _ON_ARMS)
    half = max(3.0, wide * stroke.width_mm / WORK_MM_PER_PX)
    best, arms = 0.0, None
    for share_x, share_y in product((-0.3, -0.15, 0.0, 0.15, 0.3), repeat=2):
        off = points - middle - spread * [share_x, share_y]
        aside = np.abs(off[:, 1:] * np.cos(_TURNS) - off[:, :1] * np.sin(_TURNS))
        on = aside < half
        for rising, falling in product(
            range(len(_TURNS) // 2), range(len(_TURNS) // 2, len(_TURNS))
        ):
            share = float((on[:, rising] | on[:, falling]).mean())
            if share > best:
                best = share
                arms = tuple(
                    float(
                        (sign * off[on[:, k]] @ [np.cos(_TURNS[k]), np.sin(_TURNS[k])]).max(
                            initial=0
                        )
                    )
                    for k in (rising, falling)
                    for sign in (1.0, -1.0)
                )
    return arms if best > least else None
