"""Thin dark lines along the grain, and how they stand out from the other lines of their face."""

from collections.abc import Callable
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from scanner.vision.cv import pieces_in
from scanner.vision.flaws.line_measures import LINE_FEATURES, Line, depth_along, measured
from scanner.vision.flaws.surface import WORK_MM_PER_PX, Surface

Singles = NDArray[np.float32]
Doubles = NDArray[np.float64]

_TURNS_DEG = (-16.0, -10.0, -5.0, 0.0, 5.0, 10.0, 16.0)
_LINE_MM = 7.0
_SHORTEST_MM = 15.0
# Pieces of one crack: the gap along it and the offset across it that are bridged.
_GAP_MM = 22.0
_OFFSET_MM = 2.5


@dataclass(frozen=True, slots=True, eq=False)
class DarkCourses:
    """Where thin dark lines run: (H, W) of `line_strength`, and points (N, 2) px along each."""

    strength: Singles
    courses: tuple[Doubles, ...]


def line_strength(surface: Surface) -> Singles:
    """Return how strongly a thin dark line runs through each pixel.

    Strength is in units of what the board's own lines around show, so that ring lines and pores of
    a strongly marked board do not count.
    """
    light = cv2.GaussianBlur(surface.lab[..., 0], (0, 0), 0.6)
    best = np.full(light.shape, -np.inf, dtype=np.float32)
    for degrees in _TURNS_DEG:
        for across_mm in (0.5, 1.1):
            kernel = _line_kernel(degrees, across_mm)
            answer = cv2.filter2D(light, cv2.CV_32F, kernel, borderType=cv2.BORDER_REFLECT)
            np.maximum(best, answer, out=best)
    inner = cv2.erode(surface.wood.astype(np.uint8), np.ones((5, 5), np.uint8)) > 0
    best = np.where(inner, np.maximum(best, 0), 0).astype(np.float32)
    weight = inner.astype(np.float32)
    rows, columns = surface.wood.shape
    small = (max(1, columns // 8), max(1, rows // 4))
    squares = cv2.resize(np.minimum(best, 8.0) ** 2 * weight, small, interpolation=cv2.INTER_AREA)
    have = cv2.resize(weight, small, interpolation=cv2.INTER_AREA)
    power = cv2.GaussianBlur(squares, (0, 0), 10, sigmaY=5)
    usual = np.sqrt(power / np.maximum(cv2.GaussianBlur(have, (0, 0), 10, sigmaY=5), 1e-3))
    usual = cv2.resize(usual, (columns, rows), interpolation=cv2.INTER_LINEAR)
    return np.asarray(best / np.maximum(usual, 0.35), dtype=np.float32)


def _line_kernel(degrees: float, across_mm: float) -> Singles:
    """Return a kernel that answers a dark line: its sides' lightness less its own."""
    along, across = (mm / WORK_MM_PER_PX for mm in (_LINE_MM / 2, across_mm))
    half = int(np.ceil(2.2 * along))
    y, x = np.mgrid[-half : half + 1, -half : half + 1].astype(np.float64)
    c, s = np.cos(np.radians(degrees)), np.sin(np.radians(degrees))
    u, v = c * x + s * y, -s * x + c * y
    bell = np.exp(-0.5 * (u / along) ** 2) * np.exp(-0.5 * (v / across) ** 2)
    hat = bell * (v * v / across**2 - 1)
    # No answer to even wood: the clipped tails are made up for.
    hat -= bell * (hat.sum() / bell.sum())
    return np.asarray(2 * hat / np.abs(hat).sum(), dtype=np.float32)


def dark_courses(surface: Surface) -> DarkCourses:
    """Return where thin dark lines longer than `_SHORTEST_MM` run over a face."""
    strength, light = line_strength(surface), surface.lab[..., 0]
    courses = tuple(
        points
        for chain in _linked(_pieces(strength))
        for points in (chain, *_stretches(light, chain))
        if float(np.ptp(points[:, 0])) * WORK_MM_PER_PX >= _SHORTEST_MM
    )
    return DarkCourses(strength, courses)


def find_lines(
    surface: Surface,
    wanted: Callable[[Doubles], bool] | None = None,
    dark: DarkCourses | None = None,
) -> list[Line]:
    """Return the thin dark lines of a face that are longer than `_SHORTEST_MM`.

    Parameters
    ----------
    surface
        The face.
    wanted
        Says of points along a line (N, 2), working px, whether to measure it; all others only
        count as what the face's lines are like. None measures every line.
    dark
        Of `dark_courses`, where they were formed before.
    """
    dark = dark or dark_courses(surface)
    strength, light = dark.strength, surface.lab[..., 0]
    chosen = [points for points in dark.courses if wanted is None or wanted(points)]
    if not chosen:
        return []
    crowd = np.asarray(cv2.blur((strength > 2.5).astype(np.float32), (121, 61)), np.float32)
    usual = float(np.median(light[surface.wood])) if surface.wood.any() else 50.0
    brown = _brown(surface.lab)
    lines = [measured(surface, strength, crowd, usual, brown, points) for points in chosen]
    weights = np.log([_weight(surface, points) for points in dark.courses])
    return _against_all([line for line in lines if line is not None], weights)


def _pieces(strength: Singles) -> list[Doubles]:
    """Return the connected dark lines of a face: points (N, 2) along each, one a column."""
    weak = strength > 1.8
    labels, boxes = pieces_in(weak.view(np.uint8), connectivity=8)
    strongest = np.zeros(len(boxes), dtype=np.float32)
    np.maximum.at(strongest, labels[weak], strength[weak])
    pieces: list[Doubles] = []
    for index in np.flatnonzero((boxes[:, 2] * WORK_MM_PER_PX >= 6.0) & (strongest >= 3.0)):
        x, y, w, h = (int(v) for v in boxes[index, :4])
        window = (slice(y, y + h), slice(x, x + w))
        inside = np.where(labels[window] == index, strength[window], 0.0)
        # The middle of the line's strength in each column.
        total = inside.sum(axis=0)
        rows = (inside * np.arange(h)[:, None]).sum(axis=0) / np.maximum(total, 1e-6) + y
        pieces.append(np.column_stack([np.arange(w) + x, rows]))
    return pieces


def _weight(surface: Surface, points: Doubles) -> float:
    """Return the light that is missing over a line's length, in the board's own units."""
    length_mm = float(np.ptp(points[:, 0])) * WORK_MM_PER_PX
    depth = float(np.median(depth_along(surface.lab[..., 0], points))) / surface.light_spread
    return max(length_mm * depth, 1.0)


def _brown(lab: Singles) -> Singles:
    """Return log(red / blue): a crack darkens all colours alike, a ring line browns the wood."""
    rgb = np.log(np.maximum(cv2.cvtColor(lab, cv2.COLOR_LAB2RGB), 0.01))
    return np.asarray(cv2.GaussianBlur(rgb[..., 0] - rgb[..., 2], (0, 0), 0.8), dtype=np.float32)


def _against_all(lines: list[Line], weights: Doubles) -> list[Line]:
    """Return the lines with `stands_out` filled in: how far beyond the face's other lines.

    On a strongly marked board hundreds of ring lines are long and dark; a crack is neither one of
    many. Light missing over the line's length, as a logarithm (``weights`` holds that of every
    line), less what nine in ten have.
    """
    usual, high = np.percentile(weights, [50, 90])
    for line in lines:
        own = max(line.length_mm * line.measures[LINE_FEATURES.index("depth")], 1.0)
        line.measures[-1] = (np.log(own) - high) / max(float(high - usual), 0.3)
    return lines


def _linked(pieces: list[Doubles]) -> list[Doubles]:
    """Return the pieces with those of one crack joined."""
    waiting = sorted(pieces, key=lambda p: float(p[0, 0]))
    joined: list[Doubles] = []
    for piece in waiting:
        for index, other in enumerate(joined):
            gap = (piece[0, 0] - other[-1, 0]) * WORK_MM_PER_PX
            if not -2.0 < gap < _GAP_MM:
                continue
            tail = other[-min(40, len(other)) :]
            slope = (tail[-1, 1] - tail[0, 1]) / max(tail[-1, 0] - tail[0, 0], 1.0)
            meets = other[-1, 1] + np.clip(slope, -0.3, 0.3) * (piece[0, 0] - other[-1, 0])
            if abs(meets - piece[0, 1]) * WORK_MM_PER_PX < _OFFSET_MM:
                keep = other[other[:, 0] < piece[0, 0]]
                joined[index] = np.vstack([keep if len(keep) else other[:1], piece])
                break
        else:
            joined.append(piece)
    return joined


def _stretches(light: Singles, points: Doubles) -> list[Doubles]:
    """Return the stretches of a chain that are much darker than the rest: a crack on a ring line.

    Ring lines run on where a crack ends, at a fraction of its darkness.
    """
    depth = depth_along(light, points)
    window = round(8.0 / WORK_MM_PER_PX) | 1
    steady = cv2.blur(depth.reshape(1, -1).astype(np.float32), (window, 1)).ravel()
    shortest = _SHORTEST_MM / WORK_MM_PER_PX
    found = []
    for share in (0.35, 0.6):
        dark = steady > share * steady.max()
        steps = np.flatnonzero(np.diff(np.concatenate([[False], dark, [False]]).astype(np.int8)))
        for first, last in zip(steps[::2], steps[1::2], strict=True):
            long = points[last - 1, 0] - points[first, 0]
            if shortest < long < 0.85 * np.ptp(points[:, 0]):
                found.append(points[first:last])
    return found
