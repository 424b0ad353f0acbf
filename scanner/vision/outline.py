"""The board from its background: arrises, ends and wane, traced in a flat picture."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray
from shapely.geometry import LineString, Polygon

from scanner.errors import PhotoError
from scanner.geometry.polygons import largest_polygon, polygon_of
from scanner.vision.edges import (
    EVIDENCE,
    Doubles,
    Floats,
    Palette,
    Side,
    evidence,
    looks_of,
    palette_of,
    sharpen,
    smooth_path,
)
from scanner.vision.picture import FacePicture

# Finer pictures are brought to this scale first: the tracer's bands are a millimetre and more.
_WORK_MM_PER_PX = 0.5
_ALONG_STEP_MM = 2.0
_MARGIN_MM = 60.0
# How far the arris may lie from where the rough place puts it, inwards and outwards.
_INWARD_MM = 55.0

# Weights of the evidence (see `edges.EVIDENCE`); set by hand so far.
_SIDE_WEIGHTS = (0.6, 0.5, 0.4, -0.5, -0.2, 0.4, 0.0, 0.1, 0.2, -0.4)
_END_WEIGHTS = _SIDE_WEIGHTS


@dataclass(frozen=True, slots=True, eq=False)
class TracedOutline:
    """What was traced of one face, face mm as in its picture.

    Attributes
    ----------
    outline
        The flat face to the arris; where there is wane, to the wane's inner line.
    wane
        Wane areas outside the outline.
    upper, lower
        (N, 2) points on the two long sides, x rising.
    left, right
        (2, 2) the ends' lines, y rising.
    upper_u_mm, lower_u_mm
        (N,) U of each point, mm.
    left_slant_rad, right_slant_rad
        Turn of each end from square to the line through the mid-widths of both ends; positive
        where the end's lower corner lies further right.
    doubts
        What the user should look at.
    """

    outline: Polygon
    wane: tuple[Polygon, ...]
    upper: Doubles
    lower: Doubles
    left: Doubles
    right: Doubles
    upper_u_mm: Doubles
    lower_u_mm: Doubles
    left_slant_rad: float
    right_slant_rad: float
    doubts: tuple[str, ...] = ()


def trace_outline(face: FacePicture, name: str) -> TracedOutline:
    """Return the outline of a board that lies along x with some 60 mm of floor all round.

    Parameters
    ----------
    face
        The flat picture, 0.3 to 1.5 mm per pixel.
    name
        File name, for messages.

    Raises
    ------
    PhotoError
        The picture shows no board whose sides can be followed.
    """
    ground = _Ground(face)
    upper, upper_u = ground.long_side("upper")
    lower, lower_u = ground.long_side("lower")
    gap = lower[:, 1] - upper[:, 1]
    if np.median(gap) < 25.0:
        raise PhotoError(
            f"The board's two long edges cannot be told apart in {name}",
            "lay the board on a floor of another colour and take the photo again",
        )
    left = ground.end("left", upper, lower)
    right = ground.end("right", upper, lower)
    return _joined(ground, upper, lower, left, right, upper_u, lower_u)


class _Ground:
    """The picture at the tracer's scale with what is typical of wood and of floor."""

    def __init__(self, face: FacePicture) -> None:
        ratio = _WORK_MM_PER_PX / face.mm_per_px
        pixels, seen = face.pixels, face.seen
        self.mm = face.mm_per_px
        self.origin = face.origin_mm
        if ratio > 1.3:
            size = (round(pixels.shape[1] / ratio), round(pixels.shape[0] / ratio))
            pixels = np.asarray(cv2.resize(pixels, size, interpolation=cv2.INTER_AREA), np.uint8)
            seen = cv2.resize(seen.astype(np.uint8), size, interpolation=cv2.INTER_AREA) > 0
            self.mm = face.mm_per_px * ratio
            shift = 0.5 * (ratio - 1) * face.mm_per_px
            self.origin = (face.origin_mm[0] + shift, face.origin_mm[1] + shift)
        self.looks = looks_of(pixels, self.mm)
        self.seen = seen
        self.rows, self.columns = self.looks.shape[:2]
        margin = min(round(_MARGIN_MM / self.mm), self.rows // 4)
        self.margin = margin
        core = self.looks[
            margin + (self.rows - 2 * margin) // 4 : self.rows
            - margin
            - (self.rows - 2 * margin) // 4,
            2 * margin : self.columns - 2 * margin,
        ]
        self.wood = palette_of(core[::3, ::3], kinds=6)
        self.rim = round(20.0 / self.mm)

    def floor(self, strip: Floats, seen: NDArray[np.bool_]) -> Palette:
        """Return the floor's palette from the outermost rows of a strip."""
        outer = strip[-self.rim :][seen[-self.rim :]]
        if len(outer) < 200:
            outer = strip[-self.rim :].reshape(-1, 4)
        return palette_of(outer[::3], kinds=5)

    def strip(self, side: str, first: int = 0, last: int | None = None) -> Side:
        """Return one side laid with rows outwards; columns from first to last along it."""
        looks = self.looks
        if side in ("left", "right"):
            looks = looks.transpose(1, 0, 2)
        if side in ("upper", "left"):
            looks = looks[::-1]
        rows = looks.shape[0]
        inner = rows - self.margin - round(_INWARD_MM / self.mm)
        inner = max(inner, rows // 2)
        looks = looks[inner:, first:last]
        step = max(1, round(_ALONG_STEP_MM / self.mm))
        count = looks.shape[1] // step
        blocks = looks[:, : count * step].reshape(looks.shape[0], count, step, 4).mean(axis=2)
        t = (np.arange(looks.shape[0]) + inner) * self.mm
        s = (first + (np.arange(count) + 0.5) * step - 0.5) * self.mm
        guess = (rows - self.margin) * self.mm
        return Side(np.ascontiguousarray(blocks), t, s, guess)

    def scored(self, side: Side, weights: tuple[float, ...]) -> Floats:
        floor = self.floor(side.looks, np.ones(side.looks.shape[:2], dtype=bool))
        facts = evidence(side, self.wood, floor)
        return np.asarray(facts @ np.asarray(weights, dtype=np.float32), dtype=np.float32)

    def long_side(self, name: str) -> tuple[Doubles, Doubles]:
        """Return points (N, 2) in face mm along one long side, x rising, and their U."""
        side = self.strip(name)
        score = self.scored(side, _SIDE_WEIGHTS)
        score = cv2.blur(score, (5, 1))
        path = smooth_path(score, bend=0.6)
        t = np.interp(sharpen(score, path), np.arange(len(side.t_mm)), side.t_mm)
        y = t if name == "lower" else (self.rows - 1) * self.mm - t
        points = np.column_stack([side.s_mm, y]) + np.asarray(self.origin)
        return points, np.full(len(points), 1.0)

    def end(self, name: str, upper: Doubles, lower: Doubles) -> Doubles:
        """Return the line of one end as two points (x, y), y rising, face mm."""
        at = (upper[:, 0] > 0) if name == "left" else slice(None)
        del at
        reach = 30
        pick = slice(30, 30 + reach) if name == "left" else slice(-30 - reach, -30)
        y0 = float(np.median(upper[pick, 1])) - self.origin[1]
        y1 = float(np.median(lower[pick, 1])) - self.origin[1]
        first = max(0, round((y0 + 4) / self.mm))
        last = min(self.rows, round((y1 - 4) / self.mm))
        side = self.strip(name, first, last)
        score = self.scored(side, _END_WEIGHTS)
        path = smooth_path(score, bend=1.0)
        t = np.interp(sharpen(score, path), np.arange(len(side.t_mm)), side.t_mm)
        slope, middle = _robust_line(side.s_mm, t)
        ends_s = np.array([y0, y1])
        ends_t = middle + slope * ends_s
        x = ends_t if name == "right" else (self.columns - 1) * self.mm - ends_t
        return np.column_stack([x, ends_s]) + np.asarray(self.origin)


def _robust_line(s: Doubles, t: Doubles) -> tuple[float, float]:
    """Return slope and offset of t over s, single wild points left out (Theil and Sen's way)."""
    take = np.linspace(0, len(s) - 1, min(len(s), 120)).astype(int)
    a, b = s[take], t[take]
    i, j = np.triu_indices(len(take), k=max(1, len(take) // 6))
    slope = float(np.median((b[j] - b[i]) / (a[j] - a[i]))) if len(i) else 0.0
    return slope, float(np.median(t - slope * s))


def _joined(
    ground: _Ground,
    upper: Doubles,
    lower: Doubles,
    left: Doubles,
    right: Doubles,
    upper_u: Doubles,
    lower_u: Doubles,
) -> TracedOutline:
    """Return the outline cut from the two long sides by the two ends."""
    band = polygon_of(np.vstack([upper, lower[::-1]]))
    cut = _between(left, right)
    outline = largest_polygon(band.intersection(cut))
    axis = _axis_rad(outline)
    return TracedOutline(
        outline=outline,
        wane=(),
        upper=upper,
        lower=lower,
        left=left,
        right=right,
        upper_u_mm=upper_u,
        lower_u_mm=lower_u,
        left_slant_rad=_slant(left, axis),
        right_slant_rad=_slant(right, axis),
    )


def _between(left: Doubles, right: Doubles) -> Polygon:
    """Return the region between the two ends' lines, drawn far past the sides."""

    def prolonged(line: Doubles) -> Doubles:
        along = line[1] - line[0]
        return np.array([line[0] - 2 * along, line[1] + 2 * along])

    near, far = prolonged(left), prolonged(right)
    return polygon_of(np.vstack([near, far[::-1]]))


def _axis_rad(outline: Polygon) -> float:
    """Return the direction of the board through the middles of its two ends."""
    x0, y0, x1, y1 = outline.bounds
    inset = min(30.0, 0.1 * (x1 - x0))
    middles = []
    for x in (x0 + inset, x1 - inset):
        span = outline.intersection(LineString([(x, y0 - 1), (x, y1 + 1)])).bounds
        middles.append((x, (span[1] + span[3]) / 2))
    return float(np.arctan2(middles[1][1] - middles[0][1], middles[1][0] - middles[0][0]))


def _slant(line: Doubles, axis_rad: float) -> float:
    along = line[1] - line[0]
    return float(np.pi / 2 - np.arctan2(along[1], along[0]) + axis_rad)


__all__ = ["EVIDENCE", "TracedOutline", "trace_outline"]
