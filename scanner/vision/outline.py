"""The board from its background: arrises, ends and wane, traced in a flat picture."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray
from shapely import contains_xy
from shapely.geometry import LineString, Polygon

from scanner.errors import PhotoError
from scanner.geometry.polygons import largest_polygon, polygon_of
from scanner.vision.edge_model import END, LONG_SIDE, Table, arris_score
from scanner.vision.edges import (
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
from scanner.vision.wane import wane_beside

# Finer pictures are brought to this scale first: the tracer's bands are a millimetre and more.
_WORK_MM_PER_PX = 0.5
_ALONG_STEP_MM = 2.0
_MARGIN_MM = 60.0
# How far the arris may lie from where the rough place puts it, inwards and outwards.
_INWARD_MM = 55.0
# Ends are followed between the arrises less this, where corners are worn.
_CORNER_MM = 4.0

# Cost of a row's climb per column, against scores that are logs of odds: an arris is smooth.
_BEND = 0.6
_LEAST_SCORE = -12.0
# Half a working pixel of blur and sampling in every traced point, one standard deviation.
_POINT_MM = 0.25

# Fewer blocks of seen floor than this tell nothing of it.
_FEWEST_FLOOR = 60


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
        self.foot, self.side_share = face.foot_mm, face.side_share
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

    def floor(self, strip: Floats, hidden: NDArray[np.bool_]) -> Palette:
        """Return the floor's palette from the outermost rows of a strip that show floor."""
        samples = strip[-self.rim :][~hidden[-self.rim :]]
        if len(samples) < _FEWEST_FLOOR:
            samples = strip[-self.rim :].reshape(-1, 4)
        return palette_of(samples[::3], kinds=5)

    def strip(self, side: str, first: int = 0, last: int | None = None) -> Side:
        """Return one side laid with rows outwards; columns from first to last along it."""
        blocks, inner, step = self._laid(self.looks, side, first, last)
        t = (np.arange(blocks.shape[0], dtype=np.float64) + inner) * self.mm
        s = (first + (np.arange(blocks.shape[1], dtype=np.float64) + 0.5) * step - 0.5) * self.mm
        guess = (blocks.shape[0] + inner - self.margin) * self.mm
        return Side(np.ascontiguousarray(blocks), t, s, guess, self._foot(side), self.side_share)

    def _foot(self, side: str) -> float | None:
        """Return how far out from a side the point below the camera lies, in the side's t."""
        if self.foot is None:
            return None
        x, y = self.foot[0] - self.origin[0], self.foot[1] - self.origin[1]
        width, height = (self.columns - 1) * self.mm, (self.rows - 1) * self.mm
        return float({"upper": height - y, "lower": y, "left": width - x, "right": x}[side])

    def hidden(self, side: str, first: int = 0, last: int | None = None) -> NDArray[np.bool_]:
        """Return where a side as `strip` lays it shows no floor or wood: unseen, or the rule."""
        seen = self.seen.astype(np.float32)[..., None]
        return np.asarray(self._laid(seen, side, first, last)[0][..., 0] < 0.5)

    def _laid(
        self, picture: Floats, side: str, first: int, last: int | None
    ) -> tuple[Floats, int, int]:
        """Return a side's block means, its first row, and the columns to a block."""
        if side in ("left", "right"):
            picture = picture.transpose(1, 0, 2)
        if side in ("upper", "left"):
            picture = picture[::-1]
        rows = picture.shape[0]
        inner = rows - self.margin - round(_INWARD_MM / self.mm)
        inner = max(inner, rows // 2)
        picture = picture[inner:, first:last]
        step = max(1, round(_ALONG_STEP_MM / self.mm))
        count = picture.shape[1] // step
        kinds = picture.shape[2]
        blocks = picture[:, : count * step].reshape(picture.shape[0], count, step, kinds)
        return blocks.mean(axis=2), inner, step

    def traced(
        self, side: Side, table: Table, hidden: NDArray[np.bool_]
    ) -> tuple[Doubles, Doubles]:
        """Return how far out the side's arris lies at each column, and its U, mm."""
        floor = self.floor(side.looks, hidden)
        score = arris_score(evidence(side, self.wood, floor), table)
        # No arris lies under the rule or outside the photo.
        score = np.where(hidden, _LEAST_SCORE + score.max(axis=0), score)
        score = np.maximum(score - score.max(axis=0), _LEAST_SCORE).astype(np.float32)
        path = smooth_path(score, _BEND)
        rows = sharpen(score, path)
        t = np.interp(rows, np.arange(len(side.t_mm)), side.t_mm)
        # Spread of the odds within reach of the path: a faint arris is an unsure one.
        away = side.t_mm[:, None] - t[None, :]
        odds = np.exp(score.astype(np.float64)) * (np.abs(away) < 10.0)
        spread = np.sqrt((odds * away**2).sum(axis=0) / np.maximum(odds.sum(axis=0), 1e-9))
        return t, np.asarray(1.96 * np.hypot(spread, _POINT_MM), dtype=np.float64)

    def long_side(self, name: str) -> tuple[Doubles, Doubles]:
        """Return points (N, 2) in face mm along one long side, x rising, and their U."""
        side = self.strip(name)
        t, u = self.traced(side, LONG_SIDE, self.hidden(name))
        y = t if name == "lower" else (self.rows - 1) * self.mm - t
        return np.column_stack([side.s_mm, y]) + np.asarray(self.origin), u

    def end(self, name: str, upper: Doubles, lower: Doubles) -> Doubles:
        """Return the line of one end as two points (x, y), y rising, face mm."""
        # The long sides are followed past the ends too: take them 20 to 80 mm inside the place.
        inset = (upper[:, 0] - upper[0, 0]) if name == "left" else (upper[-1, 0] - upper[:, 0])
        near = (inset > _MARGIN_MM + 20) & (inset < _MARGIN_MM + 80)
        if not near.any():
            near = np.ones(len(upper), dtype=bool)
        y0 = float(np.median(upper[near, 1])) - self.origin[1]
        y1 = float(np.median(lower[near, 1])) - self.origin[1]
        first = max(0, round((y0 + _CORNER_MM) / self.mm))
        last = min(self.rows, round((y1 - _CORNER_MM) / self.mm))
        side = self.strip(name, first, last)
        t, _ = self.traced(side, END, self.hidden(name, first, last))
        slope, middle = _robust_line(side.s_mm, t)
        ends_s = np.array([y0, y1])
        ends_t = middle + slope * ends_s
        x = ends_t if name == "right" else (self.columns - 1) * self.mm - ends_t
        return np.asarray(np.column_stack([x, ends_s]) + np.asarray(self.origin))


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
    wane = (*wane_beside(_inside(upper, cut), -1), *wane_beside(_inside(lower, cut), +1))
    return TracedOutline(
        outline=outline,
        wane=tuple(_clipped(shape, cut) for shape in wane),
        upper=upper,
        lower=lower,
        left=left,
        right=right,
        upper_u_mm=upper_u,
        lower_u_mm=lower_u,
        left_slant_rad=_slant(left, axis),
        right_slant_rad=_slant(right, axis),
    )


def _inside(edge: Doubles, region: Polygon) -> Doubles:
    """Return the points of a long side that lie between the two ends."""
    return np.asarray(edge[contains_xy(region, edge[:, 0], edge[:, 1])])


def _clipped(shape: Polygon, region: Polygon) -> Polygon:
    return largest_polygon(shape.intersection(region))


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
