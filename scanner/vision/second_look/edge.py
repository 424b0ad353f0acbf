"""Thickness and grain slope off a flat picture of an edge."""

import cv2
import numpy as np
from numpy.typing import NDArray

from scanner.board.edge_facts import EdgeFacts, ThicknessStation
from scanner.board.measured import Measured
from scanner.board.reading import STATION_SHARES
from scanner.vision.grain import without_saw_marks
from scanner.vision.second_look.plane import FlatSide

# Tapped corners lie so near to the arrises; the arris is the strongest step there.
MARGIN_MM = 8.0
_STATION_MM = 40.0
_SMOOTH_MM = 0.5
# Saws leave an arris rough by this (1 sd), and where paint ends or a chip is gone it is not seen.
_ROUGH_MM = 0.25
_LEAST_STEP = 0.15
# A dark ring line close within the arris may be a stronger step than the arris on ground as bright
# as the wood: the outermost step this strong counts. Edges 8000-8008, 8600-8611 and the even ones
# of 8612-8650: worst of 205 places 1.05 mm off, 2.57 with the strongest step; 0.35 and 0.5 alike.
_OUTER_SHARE = 0.45
# A person taps an arris to this, 1 sd.
_TAPPED_MM = 1.5
_DISPLAY_POWER = 2.2
_INNER_MM = 3.0
_BROAD_MM = 4.0
_MOST_DEG = 15.0
_STEP_DEG = 0.25
# The slope is formed over stretches of the edge; their scatter gives its U.
_BLOCK_MM = 100.0
# Level rows must stand out so much more than any others.
_LEAST_CLEAR = 1.8


def edge_facts(side: FlatSide) -> EdgeFacts:
    """Return what an edge shows; ``side`` is it with ``MARGIN_MM`` of what lies beyond its arrises.

    The edge is seen from outside with face 1 up, its length along x.
    """
    found = [_station(side, share) for share in STATION_SHARES]
    stations = tuple(one for one in found if one is not None)
    slope = _slope(side)
    doubts = []
    if len(stations) < len(STATION_SHARES):
        doubts.append(
            f"at {len(STATION_SHARES) - len(stations)} of {len(STATION_SHARES)} places an arris is"
            " not seen: measure there with a caliper"
        )
    if slope is None:
        doubts.append("no grain lines are seen on the edge: plane a stretch of it")
    return EdgeFacts(
        length_mm=side.size_mm[0],
        stations=stations,
        slope_deg=None if slope is None else slope[0],
        slope_u_deg=None if slope is None else slope[1],
        doubts=tuple(doubts),
    )


def _station(side: FlatSide, share: float) -> ThicknessStation | None:
    """Return the thickness between both arrises at a share of the length."""
    scale, margin = side.mm_per_px, side.margin_mm
    middle = (margin + share * side.size_mm[0]) / scale
    half = _STATION_MM / 2 / scale
    left, right = max(0, round(middle - half)), round(middle + half)
    # In light and not in display values: there a bright edge would bloom over dark ground.
    shown = side.pixels[:, left:right].astype(np.float32) / np.float32(255)
    light = np.asarray(shown**_DISPLAY_POWER, dtype=np.float32)
    # Rows are smoothed along the edge by the median: a chip or a pore is no arris.
    profile = np.median(light, axis=1)
    sigma = _SMOOTH_MM / scale
    smooth = cv2.GaussianBlur(profile, (1, 2 * round(3 * sigma) + 1), 0.1, sigmaY=sigma)
    step = np.linalg.norm(np.gradient(smooth, axis=0), axis=1)
    places = []
    for tapped in (margin / scale, (margin + side.size_mm[1]) / scale):
        low, high = round(tapped - 0.8 * margin / scale), round(tapped + 0.8 * margin / scale)
        low, high = max(low, 1), min(high, len(step) - 2)
        # A border of sapwood further in may be a stronger step than the arris that was tapped.
        far = (np.arange(low, high) - tapped) * scale / _TAPPED_MM
        likely = step[low:high] * np.exp(-0.5 * far * far)
        outer = likely if tapped < len(step) / 2 else likely[::-1]
        at = _outermost(outer)
        at = low + at if outer is likely else high - 1 - at
        contrast = float(np.linalg.norm(
            smooth[min(at + round(1.5 / scale), len(smooth) - 1)]
            - smooth[max(at - round(1.5 / scale), 0)]
        ))  # fmt: skip
        if contrast < _LEAST_STEP * float(np.linalg.norm(smooth, axis=1).mean()):
            return None
        places.append(at + _peak(step, at))
    thickness = side.distance_mm((middle, places[0]), (middle, places[1]))
    u = 2 * float(np.hypot(_ROUGH_MM * 1.4, scale)) + side.u_scale * thickness
    return ThicknessStation(round(share * side.size_mm[0], 1), Measured(float(thickness), u))


def _outermost(steps: NDArray[np.floating]) -> int:
    """Return the first of the steps that are strong for their stretch, from the ground inwards."""
    strong = steps[1:-1] >= _OUTER_SHARE * steps.max()
    peaks = strong & (steps[1:-1] >= steps[:-2]) & (steps[1:-1] >= steps[2:])
    return 1 + int(peaks.argmax()) if peaks.any() else int(steps.argmax())


def _peak(line: NDArray[np.floating], at: int) -> float:
    a, b, c = (float(v) for v in line[at - 1 : at + 2])
    bend = a - 2 * b + c
    return float(np.clip(0.5 * (a - c) / bend, -0.5, 0.5)) if bend < 0 else 0.0


def _slope(side: FlatSide) -> tuple[float, float] | None:
    """Return the mean slope of the ring lines on the edge and its U, degrees; None: none show.

    Pores are dashes that need not point along the row they stand in: the slope of a stretch is the
    shear that makes its rows level, so that the mean row by row differs most.
    """
    scale, margin = side.mm_per_px, side.margin_mm
    rim = round((margin + _INNER_MM) / scale)
    columns = slice(round(margin / scale), -max(1, round(margin / scale)))
    inner = np.ascontiguousarray(side.pixels[rim:-rim, columns])
    block = round(_BLOCK_MM / scale)
    if inner.shape[0] < 8 or inner.shape[1] < 2 * block:
        return None
    light = cv2.cvtColor(inner, cv2.COLOR_RGB2GRAY).astype(np.float32)
    light = np.log(np.maximum(light, 4.0)).astype(np.float32)
    found = [
        one
        for start in range(0, light.shape[1] - block + 1, block // 2)
        if (one := _level_shear(light[:, start : start + block], scale)) is not None
    ]
    if len(found) < 3:
        return None
    slopes, clearness = np.array(found).T
    weight = clearness / clearness.sum()
    mean = float((weight * slopes).sum())
    # Stretches overlap by half: two count as one.
    spread = float(np.sqrt((weight * (slopes - mean) ** 2).sum()))
    many = 0.5 / float((weight**2).sum())
    # Edges tapped by hand run off by a tenth of a degree or two.
    return mean, 2 * float(np.hypot(max(spread, 0.3) / np.sqrt(max(many, 1.0)), 0.15))


def _level_shear(light: NDArray[np.float32], mm_per_px: float) -> tuple[float, float] | None:
    """Return the slope (degrees) of a stretch's rows, and how clearly it shows."""
    rows, columns = light.shape
    sigma = _BROAD_MM / mm_per_px
    weight = np.ones_like(light)
    calm = without_saw_marks(light, weight, mm_per_px)
    flat = calm - cv2.GaussianBlur(calm, (0, 0), 4 * sigma, sigmaY=sigma)
    spread = float(flat.std())
    flat = np.clip(flat, -2.5 * spread, 2.5 * spread)
    degrees = np.arange(-_MOST_DEG, _MOST_DEG + 1e-6, _STEP_DEG)
    power = []
    for slope in degrees:
        rise = np.tan(np.radians(slope))
        shear = np.array([[1, 0, 0], [rise, 1, -rise * columns / 2]], dtype=np.float64)
        level = cv2.warpAffine(
            flat, shear, (columns, rows), flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP,
            borderMode=cv2.BORDER_CONSTANT, borderValue=0.0,
        )  # fmt: skip
        power.append(float((np.asarray(level).mean(axis=1) ** 2).mean()))
    line = np.array(power)
    at = int(line.argmax())
    typical = float(np.median(line))
    if not 0 < at < len(line) - 1 or line[at] < _LEAST_CLEAR * typical:
        return None
    return float(degrees[at] + _peak(line, at) * _STEP_DEG), float(line[at] / typical - 1)
