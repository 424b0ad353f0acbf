"""What can be measured on a thin dark line: how dark, wide and even it is, and how it ends."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray
from shapely.geometry import LineString, Polygon

from scanner.geometry.frames import face_from_picture
from scanner.geometry.polygons import largest_polygon
from scanner.vision.flaws.surface import WORK_MM_PER_PX, Surface

Singles = NDArray[np.float32]
Doubles = NDArray[np.float64]

# Nearer to an end than this a crack starts there.
_AT_END_MM = 12.0
LINE_FEATURES = (
    "log_length",
    "contrast",
    "contrast_peak",
    "drop",
    "drop_peak",
    "width",
    "at_end",
    "darkness",
    "crowd",
    "waviness",
    "depth",
    "fades",
    "two_sided",
    "browner",
    "unbroken",
    "aslant",
    "stands_out",
)


@dataclass(frozen=True, slots=True, eq=False)
class Line:
    """A thin dark line: points along it in working px, and its measures by `LINE_FEATURES`."""

    points: Doubles
    measures: Doubles
    length_mm: float
    width_mm: float
    from_end_mm: float
    end: str

    @property
    def starts_at_end(self) -> bool:
        """Whether the line runs out of an end of the board."""
        return self.from_end_mm < _AT_END_MM


def measured(
    surface: Surface,
    strength: Singles,
    crowd: Singles,
    usual: float,
    brown: Singles,
    points: Doubles,
) -> Line | None:
    """Return a line with its measures, but for `stands_out`; None where its tips are off the wood.

    Parameters
    ----------
    strength, crowd, brown
        (H, W) of the face: how strongly a thin dark line runs there, the share of such pixels
        around, and log(red / blue).
    usual
        Lightness of the face's wood, L.
    points
        (N, 2) along the line, working px, one a column.
    """
    ends_mm = _from_ends_mm(surface.wood, points)
    if ends_mm is None:
        return None
    from_end = min(ends_mm)
    rows, columns = _pixels_of(points, len(strength))
    light = surface.lab[..., 0]
    length = float(np.ptp(points[:, 0])) * WORK_MM_PER_PX
    own = light[rows, columns]
    depth = depth_along(light, points)
    drops = depth / np.maximum(own + depth, 5.0)
    width = _width_mm(light, points)
    strengths = strength[rows, columns]
    smooth = np.convolve(np.pad(points[:, 1], 10, mode="edge"), np.ones(21) / 21, mode="valid")
    measures = np.array(
        [
            np.log(length),
            float(np.percentile(strengths, 50)),
            float(np.percentile(strengths, 90)),
            float(np.median(drops)),
            float(np.percentile(drops, 90)),
            min(width, 6.0),
            float(from_end < _AT_END_MM),
            float(1.0 - np.percentile(own, 20) / max(usual, 5.0)),
            float(crowd[rows, columns].mean()),
            float(np.abs(points[:, 1] - smooth).mean()),
            float(np.median(depth) / surface.light_spread),
            float((np.median(depth) - _depth_beyond(light, points)) / surface.light_spread),
            *_shape_measures(surface, brown, points, depth),
            0.0,
        ],
        dtype=np.float64,
    )
    return Line(
        points=points,
        measures=measures,
        length_mm=length,
        width_mm=width,
        from_end_mm=from_end,
        end="left" if ends_mm[0] <= ends_mm[1] else "right",
    )


def _pixels_of(points: Doubles, height: int) -> tuple[NDArray[np.int_], NDArray[np.int_]]:
    """Return rows and columns (N,) of points (N, 2) in a map so high, px."""
    return np.clip(np.round(points[:, 1]).astype(int), 0, height - 1), points[:, 0].astype(int)


def depth_along(light: Singles, points: Doubles) -> Doubles:
    """Return for each point how much darker the line is than the wood 3 mm beside it, L."""
    rows, columns = _pixels_of(points, len(light))
    off = round(3.0 / WORK_MM_PER_PX)
    above = light[np.clip(rows - off, 0, light.shape[0] - 1), columns]
    below = light[np.clip(rows + off, 0, light.shape[0] - 1), columns]
    return np.asarray(0.5 * (above + below) - light[rows, columns], dtype=np.float64)


def _depth_beyond(light: Singles, points: Doubles) -> float:
    """Return how dark the line still is 4 to 16 mm past its tips, the darker tip counts, L.

    A crack closes; a ring line, a pencil line or a scratch mostly runs on.
    """
    reach = np.arange(4.0, 16.0, WORK_MM_PER_PX) / WORK_MM_PER_PX
    most = 0.0
    for tip, inner, sign in (
        (points[0], points[min(len(points) - 1, 30)], -1),
        (points[-1], points[max(0, len(points) - 31)], 1),
    ):
        slope = (inner[1] - tip[1]) / (inner[0] - tip[0]) if inner[0] != tip[0] else 0.0
        columns = np.round(tip[0] + sign * reach)
        there = (columns >= 0) & (columns < light.shape[1])
        if there.sum() < 6:
            continue
        rows = tip[1] + np.clip(slope, -0.2, 0.2) * (columns - tip[0])
        depths = [
            depth_along(light, np.column_stack([columns[there], rows[there] + step]))
            for step in (-2, -1, 0, 1, 2)
        ]
        most = max(most, float(np.max(depths, axis=0).mean()))
    return most


def _width_mm(light: Singles, points: Doubles) -> float:
    """Return how wide a line is: the light missing across it over its depth at the middle."""
    rows, columns = _pixels_of(points, len(light))
    reach = round(4.0 / WORK_MM_PER_PX)
    profile = np.stack(
        [
            light[np.clip(rows + step, 0, light.shape[0] - 1), columns]
            for step in range(-reach, reach + 1)
        ]
    ).mean(axis=1)
    edge = 0.5 * (profile[:2].mean() + profile[-2:].mean())
    missing = np.clip(edge - profile, 0, None)
    return float(missing.sum() * WORK_MM_PER_PX / max(float(missing.max()), 1e-3))


def _from_ends_mm(wood: NDArray[np.bool_], points: Doubles) -> tuple[float, float] | None:
    """Return how far a line's tips lie from the board's left and right end; None off the wood."""
    tips = points[0, 0], points[-1, 0]
    ends = []
    for at in (points[:5, 1], points[-5:, 1]):
        there = np.flatnonzero(wood[int(np.clip(np.median(at), 0, len(wood) - 1))])
        if not len(there):
            return None
        ends.append(there[[0, -1]])
    to_left = (tips[0] - ends[0][0]) * WORK_MM_PER_PX
    to_right = (ends[1][1] - tips[1]) * WORK_MM_PER_PX
    return float(to_left), float(to_right)


def _shape_measures(
    surface: Surface, brown: Singles, points: Doubles, depth: Doubles
) -> tuple[float, float, float, float]:
    """Return `two_sided`, `browner`, `unbroken` and `aslant` of a line."""
    light = surface.lab[..., 0]
    rows, columns = _pixels_of(points, len(light))
    off = round(3.0 / WORK_MM_PER_PX)
    above = np.clip(rows - off, 0, light.shape[0] - 1)
    below = np.clip(rows + off, 0, light.shape[0] - 1)
    # The border of sapwood or of a shadow is darker than one side only.
    lesser = np.minimum(light[above, columns], light[below, columns]) - light[rows, columns]
    beside = 0.5 * (brown[above, columns] + brown[below, columns])
    steady = cv2.blur(depth.reshape(1, -1).astype(np.float32), (9, 1)).ravel()
    unbroken = float((steady > 0.5 * max(float(np.median(depth)), 0.5)).mean())
    # A crack follows the grain; what runs at an angle to it is a scratch or a saw's mark.
    slope = np.arctan2(np.ptp(points[[0, -1], 1]), max(float(np.ptp(points[:, 0])), 1.0))
    slope *= np.sign(points[-1, 1] - points[0, 1])
    course = surface.grain.angle_rad[rows, columns].astype(np.float64)
    weight = surface.grain.coherence[rows, columns].astype(np.float64) + 1e-6
    doubled = 2 * (course - slope)
    turn = 0.5 * np.arctan2((weight * np.sin(doubled)).sum(), (weight * np.cos(doubled)).sum())
    return (
        float(np.median(lesser) / surface.light_spread),
        float((brown[rows, columns] - beside).mean()),
        unbroken,
        float(abs(turn)),
    )


def outline_of(line: Line, surface: Surface) -> Polygon:
    """Return a thin polygon round a line, face mm, prolonged to the end where it starts there."""
    points = line.points[:: max(1, len(line.points) // 60)]
    points = np.vstack([points, line.points[-1:]])
    mm = face_from_picture(points, surface.origin_mm, WORK_MM_PER_PX)
    if line.starts_at_end:
        columns = np.flatnonzero(surface.wood.any(axis=0))
        first, last = surface.origin_mm[0] + columns[[0, -1]] * WORK_MM_PER_PX
        if line.end == "left":
            mm = np.vstack([[first, mm[0, 1]], mm])
        else:
            mm = np.vstack([mm, [last, mm[-1, 1]]])
    # Half a working pixel of safety on either side: a crack's own rim is loose fibre.
    half = max(0.5 * line.width_mm, 0.5)
    return largest_polygon(LineString(mm).buffer(half, cap_style="flat").simplify(0.1))


def are_one(a: Line, b: Line) -> bool:
    """Return whether two lines share a stretch: parts of one chain."""
    first = max(a.points[0, 0], b.points[0, 0])
    last = min(a.points[-1, 0], b.points[-1, 0])
    if last <= first:
        return False
    middle = 0.5 * (first + last)
    y_a, y_b = (np.interp(middle, line.points[:, 0], line.points[:, 1]) for line in (a, b))
    return bool(abs(y_a - y_b) * WORK_MM_PER_PX < 2.0)
