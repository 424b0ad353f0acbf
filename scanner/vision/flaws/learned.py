"""Possible flaws as the learned network sees them: knots, holes, checks, pitch, pith.

It was trained on real sawn softwood and on rendered hardwood (``scanner/vision/weights/flaws.md``
says on what, and what it cannot do). Its candidates have the same form as the other finders'.
"""

import cv2
import numpy as np
from numpy.typing import NDArray
from shapely.geometry import Polygon

from scanner.board.flaw import Flaw, FlawKind
from scanner.geometry.frames import face_from_picture
from scanner.geometry.polygons import polygon_of
from scanner.vision.flaws.judge import JudgedSpot
from scanner.vision.flaws.learned_maps import ShareMaps, clear_wood, share_maps
from scanner.vision.flaws.learned_odds import SPOT_MEASURES, spot_odds
from scanner.vision.flaws.learned_regions import Region, line_regions, spot_regions
from scanner.vision.flaws.soundness import knot_measures, loose_odds
from scanner.vision.flaws.surface import WORK_MM_PER_PX, Surface, paint
from scanner.vision.picture import FacePicture

Bools = NDArray[np.bool_]

# By cross-validation over the training boards (flaws.md): F1 is flat from 0.25 to 0.5.
_LEAST_SPOT_SCORE = 0.35
_KIND_SHARE = 0.5
_LINE_KINDS = {"check": FlawKind.CHECK, "resin": FlawKind.PITCH, "pith": FlawKind.PITH}
_SOFTWOOD_KINDS = (FlawKind.PITCH, FlawKind.PITH)
# What the network is shown round the board: any even ground will do, it was trained on all.
_GROUND = 20
# Two lines of different kinds on the same wood: the surer one is told.
_SAME_LINE_SHARE = 0.5
# Nearer to an end than this a check starts there.
_AT_END_MM = 12.0


def find_learned(surface: Surface, spots: tuple[JudgedSpot, ...]) -> tuple[Flaw, ...]:
    """Return the possible knots, holes, bark pockets and checks of a face (for ``FINDERS``).

    Pitch and pith are left out: they were learned on softwood, and on rendered hardwood dark ring
    lines are taken for them.
    """
    rgb = cv2.cvtColor(surface.lab, cv2.COLOR_LAB2RGB)
    pixels = np.clip(np.asarray(rgb) * 255.0 + 0.5, 0, 255).astype(np.uint8)
    pixels[~surface.wood] = _GROUND
    found = _flaws(pixels, surface.wood, surface.origin_mm, surface.u_mm)
    return tuple(flaw for flaw in found if flaw.kind not in _SOFTWOOD_KINDS)


def find_on_flat(face: FacePicture, outline: Polygon) -> tuple[Flaw, ...]:
    """Return the possible flaws on a flat picture, in order along it (without ids).

    Parameters
    ----------
    face
        The flat picture, the board along x.
    outline
        The face to the arris, face mm.
    """
    ratio = face.mm_per_px / WORK_MM_PER_PX
    rows, columns = face.pixels.shape[:2]
    size = (max(16, round(columns * ratio)), max(16, round(rows * ratio)))
    how = cv2.INTER_AREA if ratio < 1 else cv2.INTER_CUBIC
    pixels = np.asarray(cv2.resize(face.pixels, size, interpolation=how), dtype=np.uint8)
    # Resizing keeps the picture's rim, not its first pixel's centre, in place.
    shift = 0.5 * (WORK_MM_PER_PX - face.mm_per_px)
    origin = (face.origin_mm[0] + shift, face.origin_mm[1] + shift)
    wood = paint(outline, origin, pixels.shape)
    return _flaws(pixels, wood, origin, max(0.5, face.u_point_mm))


def _flaws(
    rgb: NDArray[np.uint8], wood: Bools, origin_mm: tuple[float, float], u_mm: float
) -> tuple[Flaw, ...]:
    maps = share_maps(rgb, wood)
    spots = _spots(rgb, clear_wood(rgb, wood), maps, origin_mm, u_mm)
    found = [*spots, *_lines(maps, wood, origin_mm, u_mm)]
    return tuple(sorted(found, key=lambda flaw: flaw.outlines[1].bounds[:2]))


def measure_spot(region: Region, maps: ShareMaps) -> list[float]:
    """Return what the score of a spot is formed from, in the order of `SPOT_MEASURES`."""
    share = region.mean(maps.of("spot"))
    values = {
        "share": float(np.log(share / (1.001 - share))),
        "core": region.most(maps.of("core")),
        "log_area": float(np.log(region.area_px)),
        "line": max(region.mean(maps.of(name)) for name in _LINE_KINDS),
        "loose": region.mean(maps.of("loose")),
        "fill": region.area_px / region.pixels.size,
    }
    return [values[name] for name in SPOT_MEASURES]


def _spots(
    rgb: NDArray[np.uint8],
    clear: NDArray[np.float32],
    maps: ShareMaps,
    origin_mm: tuple[float, float],
    u_mm: float,
) -> list[Flaw]:
    regions = spot_regions(maps)
    if not regions:
        return []
    measures = np.array([measure_spot(region, maps) for region in regions])
    flaws = []
    for region, score in zip(regions, spot_odds(measures), strict=True):
        outline = outline_mm(region, origin_mm)
        if score < _LEAST_SPOT_SCORE or outline.is_empty:
            continue
        kind = FlawKind.KNOT
        hole, pocket = (region.mean(maps.of(name)) for name in ("hole", "bark_pocket"))
        if max(hole, pocket) > _KIND_SHARE:
            kind = FlawKind.HOLE if hole >= pocket else FlawKind.BARK_POCKET
        sound = None
        if kind is FlawKind.KNOT:
            looks = np.array([knot_measures(rgb, clear, region, maps)])
            sound = bool(loose_odds(looks)[0] < 0.5)
        flaws.append(
            Flaw(
                id="",
                kind=kind,
                outlines={1: outline},
                sound=sound,
                score=round(float(score), 3),
                reason=_spot_reason(kind, sound, outline),
                u_mm=u_mm,
            )
        )
    return flaws


def _spot_reason(kind: FlawKind, sound: bool | None, outline: Polygon) -> str:
    x0, y0, x1, y1 = outline.bounds
    size = f"{x1 - x0:.0f} x {y1 - y0:.0f} mm"
    if kind is FlawKind.HOLE:
        return f"looks like a hole, {size}"
    if kind is FlawKind.BARK_POCKET:
        return f"looks like bark grown in, {size}"
    if sound:
        return f"looks like a sound knot, {size}"
    return f"looks like a loose or cracked knot, {size}"


def _lines(maps: ShareMaps, wood: Bools, origin_mm: tuple[float, float], u_mm: float) -> list[Flaw]:
    there = np.flatnonzero(wood.any(axis=0)).astype(np.float64)
    ends = np.asarray(there * WORK_MM_PER_PX + origin_mm[0], dtype=np.float64)
    flaws: list[Flaw] = []
    for name, kind in _LINE_KINDS.items():
        for region in line_regions(maps, name):
            outline = outline_mm(region, origin_mm)
            if outline.is_empty:
                continue
            x0, _, x1, _ = outline.bounds
            reach = _reach_mm(x0, x1, ends) if kind is FlawKind.CHECK else None
            flaws.append(
                Flaw(
                    id="",
                    kind=kind,
                    outlines={1: outline},
                    reach_mm=reach,
                    score=round(region.mean(maps.of(name)), 3),
                    reason=_line_reason(kind, x1 - x0, reach),
                    u_mm=u_mm,
                )
            )
    flaws.sort(key=lambda flaw: -(flaw.score or 0.0))
    kept: list[Flaw] = []
    for flaw in flaws:
        if not any(_is_same_line(flaw.outlines[1], other.outlines[1]) for other in kept):
            kept.append(flaw)
    return kept


def _reach_mm(x0: float, x1: float, wood_x_mm: NDArray[np.float64]) -> float | None:
    """Return how far a check runs in from the end that it starts at, or None."""
    if x0 - wood_x_mm[0] < _AT_END_MM:
        return float(x1 - wood_x_mm[0])
    if wood_x_mm[-1] - x1 < _AT_END_MM:
        return float(wood_x_mm[-1] - x0)
    return None


def _line_reason(kind: FlawKind, length_mm: float, reach_mm: float | None) -> str:
    if kind is FlawKind.CHECK:
        from_end = ", starts at an end" if reach_mm is not None else ""
        return f"thin dark line like a check, {length_mm:.0f} mm{from_end}"
    if kind is FlawKind.PITCH:
        return f"looks like a pitch streak or pocket, {length_mm:.0f} mm"
    return f"looks like pith at the surface, {length_mm:.0f} mm"


def _is_same_line(a: Polygon, b: Polygon) -> bool:
    if not a.intersects(b):
        return False
    return bool(a.intersection(b).area > _SAME_LINE_SHARE * min(a.area, b.area))


def outline_mm(region: Region, origin_mm: tuple[float, float]) -> Polygon:
    """Return the outline of a region, face mm; its rim is rounded by half a pixel."""
    soft = cv2.GaussianBlur(np.pad(region.pixels.astype(np.float32), 3), (0, 0), 0.6)
    rings, _ = cv2.findContours(
        (soft > 0.5).astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE
    )
    if not rings:
        return Polygon()
    ring = max(rings, key=cv2.contourArea).reshape(-1, 2).astype(np.float64)
    if len(ring) < 3:
        return Polygon()
    ring += np.array([region.column, region.row]) - 3.0
    # Contours run through pixel centres: half a pixel of the region lies outside them.
    shape = polygon_of(face_from_picture(ring, origin_mm, WORK_MM_PER_PX))
    rounded = shape.buffer(0.5 * WORK_MM_PER_PX).simplify(0.12)
    return polygon_of(np.asarray(rounded.exterior.coords, dtype=np.float64))
