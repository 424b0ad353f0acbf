"""Checks, pitch and pith from the network's shares: which of its lines are worth telling."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from shapely.geometry import LineString, Polygon

from scanner.board.crack_run import PAST_TIP_MM
from scanner.board.flaw import Flaw, FlawKind
from scanner.geometry.frames import face_from_picture
from scanner.geometry.polygons import largest_polygon, union_of
from scanner.vision.flaws.blade_lines import is_blade
from scanner.vision.flaws.crack_reach import line_maps, reach_of, run_words
from scanner.vision.flaws.crack_width import narrowed
from scanner.vision.flaws.dark_lines import DarkCourses, dark_courses
from scanner.vision.flaws.doubted_lines import DOUBTED_SCORE, doubted_checks
from scanner.vision.flaws.learned_maps import ShareMaps
from scanner.vision.flaws.learned_odds import LINE_MEASURES, line_odds
from scanner.vision.flaws.learned_regions import (
    LineLimits,
    Region,
    line_regions,
    lines_of,
    outline_mm,
    parts_of,
)
from scanner.vision.flaws.line_course import course_of, gathered
from scanner.vision.flaws.surface import WORK_MM_PER_PX, Singles, Surface, paint

Bools = NDArray[np.bool_]

LINE_KINDS = {"check": FlawKind.CHECK, "resin": FlawKind.PITCH, "pith": FlawKind.PITH}
# Two lines of different kinds on the same wood: the surer one is told. A check that is mostly a
# part of a knot is not told either.
_SAME_LINE_SHARE = 0.5
_KNOT_RIM_MM = 3.0
# Nearer to an end than this a check starts there.
_AT_END_MM = 12.0
# On phone photographs of hardwood ring lines look like checks, so each candidate is judged by
# `line_odds`. On the 80 rendered faces that its rows were fitted on 130 of 159 cracks over 20 mm
# score 0.4 and more, for 0.20 false ones a face, and none more score 0.3, for 0.25; on 40 of the
# third renderer (seeds 5000-5039) 53 of 109 for 0.23, and 62 for 0.35.
SCAN_LIMITS = LineLimits(0.6, 0.35, 30, 0.0)
_LEAST_CHECK_SCORE = 0.38
_MOST_ODDS = 7.0
# What was joined with a check and runs beside it is one of its own where its mean share is as high:
# on 19 rendered faces (seeds 5204-5288) a split had 0.91, three dark lines beside checks 0.48-0.61.
_OWN_SHARE = 0.75
# A check is drawn at least so far to either side of its course.
_COURSE_PX = 1.0
# Lines whose mean log odds are nearly as high look as much like a check.
_ALIKE_ODDS = 0.7
# A followed check is drawn so wide where it is thinner than a pixel; pieces so near are its own.
_TIP_WIDTH_MM = 1.0
_SAME_LINE_MM = 1.5
_LIKE_A_CHECK = "thin dark line like a check, starts at an end"


@dataclass(frozen=True, slots=True, eq=False)
class SeenDark:
    """What a face's picture says of dark lines without the network: `line_maps`, and courses."""

    across: tuple[Singles, float]
    lines: DarkCourses


def see_dark(surface: Surface) -> SeenDark:
    """Return what the picture alone says of a face's dark lines."""
    return SeenDark(line_maps(surface), dark_courses(surface))


def lines_on_flat(
    maps: ShareMaps, wood: Bools, origin_mm: tuple[float, float], u_mm: float
) -> list[Flaw]:
    """Return the possible checks, pitch streaks and pith on a flat picture."""
    ends = wood_x_mm(wood, origin_mm)
    flaws: list[Flaw] = []
    for name, kind in LINE_KINDS.items():
        for region in line_regions(maps, name):
            outline = outline_mm(region, origin_mm)
            if not outline.is_empty:
                flaws.append(_flaw(kind, outline, region.mean(maps.of(name)), ends, u_mm))
    flaws.sort(key=lambda flaw: -(flaw.score or 0.0))
    kept: list[Flaw] = []
    for flaw in flaws:
        if not any(_is_within(flaw.outlines[1], other.outlines[1], both=True) for other in kept):
            kept.append(flaw)
    return kept


def checks_of_scan(
    maps: ShareMaps,
    wood: Bools,
    origin_mm: tuple[float, float],
    u_mm: float,
    spots: list[Polygon],
    surface: Surface | None = None,
    dark: SeenDark | None = None,
) -> list[Flaw]:
    """Return the possible checks on a scanned face, outside of its knots (``spots``, face mm).

    With the ``surface`` those that start at an end are followed to their tips; ``dark`` is its
    `see_dark`, where that was formed while the network was at work.
    """
    ends = wood_x_mm(wood, origin_mm)
    rims = [spot.buffer(_KNOT_RIM_MM) for spot in spots]
    share = maps.of("check")
    seen = [
        (region, outline_mm(along_course(region, share), origin_mm)) for region in scan_lines(maps)
    ]
    seen = [
        (region, outline)
        for region, outline in seen
        if not outline.is_empty and not any(_is_within(outline, rim) for rim in rims)
    ]
    scores = line_odds(measure_lines(seen, maps, ends))
    lines = [
        (line, narrowed(outline), float(score))
        for (region, whole), score in zip(seen, scores, strict=True)
        if score >= _LEAST_CHECK_SCORE
        for line, outline in ((region, whole), *_beside(region, share, origin_mm))
        if not any(_is_within(outline, rim) for rim in rims)
    ]
    if surface is None:
        told = [_flaw(FlawKind.CHECK, outline, score, ends, u_mm) for _, outline, score in lines]
        return _without_pieces(told)
    dark = dark or see_dark(surface)

    def may_be(outline: Polygon) -> bool:
        x0, _, x1, _ = outline.bounds
        return _at_end(x0, x1, ends) != "" or not is_blade(surface, outline)

    def tell(region: Region, outline: Polygon, score: float) -> Flaw:
        flaw = _flaw(FlawKind.CHECK, outline, score, ends, u_mm)
        return (
            flaw if flaw.reach_mm is None else _followed(flaw, region, surface, dark.across, maps)
        )

    flaws = [tell(*line) for line in lines if may_be(line[1])]
    flaws += [
        tell(_painted(outline, wood, origin_mm), outline, DOUBTED_SCORE)
        for outline in doubted_checks(
            surface, share, [flaw.outlines[1] for flaw in flaws], dark.lines
        )
        if not any(_is_within(outline, rim) for rim in rims) and may_be(outline)
    ]
    return _without_pieces(flaws)


def _painted(outline: Polygon, wood: Bools, origin_mm: tuple[float, float]) -> Region:
    """Return the region that an outline (face mm) takes."""
    pixels = paint(outline, origin_mm, wood.shape)
    rows, columns = np.flatnonzero(pixels.any(axis=1)), np.flatnonzero(pixels.any(axis=0))
    top, left = int(rows[0]), int(columns[0])
    return Region(top, left, pixels[top : rows[-1] + 1, left : columns[-1] + 1])


def _without_pieces(flaws: list[Flaw]) -> list[Flaw]:
    """Return the checks without those that are a part of one that was followed from an end."""
    kept: list[Flaw] = []
    for flaw in sorted(flaws, key=lambda flaw: -(flaw.reach_mm or 0.0)):
        followed = (other.outlines[1] for other in kept if other.reach_mm is not None)
        if not any(_is_within(flaw.outlines[1], one.buffer(_SAME_LINE_MM)) for one in followed):
            kept.append(flaw)
    return kept


def scan_lines(
    maps: ShareMaps, limits: LineLimits = SCAN_LIMITS, *, gather: bool = True
) -> list[Region]:
    """Return the regions of a scanned face that may be checks.

    With ``gather`` the shares are gathered along each line first.
    """
    share = maps.of("check")
    return lines_of(np.maximum(share, gathered(share, limits.likely)) if gather else share, limits)


def along_course(region: Region, share: Singles) -> Region:
    """Return a region without what was only gathered into it: its course, and what is likely."""
    x, y = course_of(region, share)
    h, w = region.pixels.shape
    rows = np.arange(region.row, region.row + h)[:, None]
    near = np.abs(rows - y[None, x - region.column]) <= _COURSE_PX
    cut = share[region.row : region.row + h, region.column : region.column + w]
    return Region(region.row, region.column, region.pixels & (near | (cut > SCAN_LIMITS.likely)))


def _beside(
    region: Region, share: Singles, origin_mm: tuple[float, float]
) -> list[tuple[Region, Polygon]]:
    """Return the lines that were joined with a region's longest one and run beside it.

    Two checks a few millimetres apart are one region here and there; an outline is of one alone.
    """
    pieces = parts_of(along_course(region, share))
    pieces.sort(key=lambda piece: -outline_mm(piece, origin_mm).area)
    return [
        (piece, outline_mm(piece, origin_mm))
        for piece in pieces[1:]
        if piece.pixels.shape[1] >= SCAN_LIMITS.shortest_px and piece.mean(share) > _OWN_SHARE
    ]


def measure_lines(
    lines: list[tuple[Region, Polygon]], maps: ShareMaps, wood_x_mm: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Return (N, len(LINE_MEASURES)) what the scores of a face's possible checks are formed from.

    ``lines`` holds each with its outline (face mm), outside of knots.
    """
    rows = np.zeros((len(lines), len(LINE_MEASURES)))
    for row, (region, outline) in zip(rows, lines, strict=True):
        share = np.clip(region.of(maps.of("check")), 1e-4, 1 - 1e-4)
        odds = np.clip(np.log(share / (1 - share)), -_MOST_ODDS, _MOST_ODDS)
        x0, _, x1, _ = outline.bounds
        row[:3] = odds.mean(), odds.max(), _at_end(x0, x1, wood_x_mm) != ""
    for row in rows:
        row[3] = np.log1p((rows[:, 0] >= row[0] - _ALIKE_ODDS).sum() - 1)
    return rows


def _followed(
    flaw: Flaw, region: Region, surface: Surface, dark: tuple[Singles, float], maps: ShareMaps
) -> Flaw:
    """Return a check that starts at an end with its reach, outline and words out to its tip."""
    outline = flaw.outlines[1]
    middle = float(np.flatnonzero(surface.wood.any(axis=0)).mean())
    at_end = "left" if region.column + 0.5 * region.pixels.shape[1] < middle else "right"
    reach = reach_of(region, surface, dark, maps.of("check"), at_end)
    path = LineString(face_from_picture(reach.path, surface.origin_mm, WORK_MM_PER_PX))
    whole = largest_polygon(union_of([outline, path.buffer(_TIP_WIDTH_MM / 2)]))
    x0, _, x1, _ = whole.bounds
    ends = wood_x_mm(surface.wood, surface.origin_mm)
    shown = float(x1 - ends[0] if at_end == "left" else ends[-1] - x0)
    told = max(reach.tip_mm, shown - PAST_TIP_MM)
    return replace(
        flaw, outlines={1: whole}, reach_mm=told, reason=f"{_LIKE_A_CHECK}{run_words(reach, told)}"
    )


def _flaw(
    kind: FlawKind, outline: Polygon, score: float, wood_x_mm: NDArray[np.float64], u_mm: float
) -> Flaw:
    x0, _, x1, _ = outline.bounds
    reach = _reach_mm(x0, x1, wood_x_mm) if kind is FlawKind.CHECK else None
    return Flaw(
        id="",
        kind=kind,
        outlines={1: outline},
        reach_mm=reach,
        score=round(score, 3),
        reason=_reason(kind, x1 - x0, reach),
        u_mm=u_mm,
    )


def wood_x_mm(wood: Bools, origin_mm: tuple[float, float]) -> NDArray[np.float64]:
    """Return the x of each column that holds wood, mm."""
    there = np.flatnonzero(wood.any(axis=0)).astype(np.float64)
    return np.asarray(there * WORK_MM_PER_PX + origin_mm[0], dtype=np.float64)


def _at_end(x0: float, x1: float, wood_x_mm: NDArray[np.float64]) -> str:
    """Return the end of the picture that a line starts at: left, right or none."""
    if x0 - wood_x_mm[0] < _AT_END_MM:
        return "left"
    return "right" if wood_x_mm[-1] - x1 < _AT_END_MM else ""


def _reach_mm(x0: float, x1: float, wood_x_mm: NDArray[np.float64]) -> float | None:
    """Return how far a check runs in from the end that it starts at, or None."""
    at_end = _at_end(x0, x1, wood_x_mm)
    if not at_end:
        return None
    return float(x1 - wood_x_mm[0] if at_end == "left" else wood_x_mm[-1] - x0)


def _reason(kind: FlawKind, length_mm: float, reach_mm: float | None) -> str:
    if kind is FlawKind.CHECK:
        from_end = ", starts at an end" if reach_mm is not None else ""
        return f"thin dark line like a check, {length_mm:.0f} mm{from_end}"
    if kind is FlawKind.PITCH:
        return f"looks like a pitch streak or pocket, {length_mm:.0f} mm"
    return f"looks like pith at the surface, {length_mm:.0f} mm"


def _is_within(a: Polygon, b: Polygon, *, both: bool = False) -> bool:
    """Return whether most of an outline lies in another; with ``both``, of the smaller one."""
    if not a.intersects(b):
        return False
    whole = min(a.area, b.area) if both else a.area
    return bool(a.intersection(b).area > _SAME_LINE_SHARE * whole)
