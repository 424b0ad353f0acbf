"""Rings that a person tapped: three points on one ring of an end give its circle, and so the pith.

Where no rings go together by themselves (dirt, paint, saw marks), an eye still follows one.
"""

import math

import numpy as np

from scanner.board.ring_facts import EndName, RingFacts, RingStation, angle_to_face_deg

Point = tuple[float, float]

# Where rings are told, as shares of the width: five places, as widths are taken along a board, kept
# off the rims.
ACROSS_END_SHARES = (0.1, 0.3, 0.5, 0.7, 0.9)
# A finger on a picture magnified eight times: own choice, no source.
_TAP_MM = 0.5
# Points nearer to each other say nothing of a curve.
_LEAST_APART_MM = 8.0
# A circle this large is as good as straight rings: where its middle lies nobody can tell.
_LARGEST_MM = 1500.0
_SIGNIFICANT = 1.96


def rings_by_hand(
    size_mm: tuple[float, float], end: EndName, taps: tuple[Point, Point, Point]
) -> RingFacts:
    """Return what three points on one ring say of an end.

    Parameters
    ----------
    size_mm
        Width and thickness of the end.
    taps
        Points (right, down) from the upper left corner of the end as photographed, face 1 up.

    Raises
    ------
    ValueError
        Two of the points lie too near to each other.
    """
    width, thickness = size_mm
    points = np.array(taps, dtype=np.float64)
    apart = min(math.dist(taps[a], taps[b]) for a, b in ((0, 1), (1, 2), (0, 2)))
    if apart < _LEAST_APART_MM:
        raise ValueError(f"points are {apart:.0f} mm apart, {_LEAST_APART_MM:.0f} are needed")
    sign = 1.0 if end == "A" else -1.0
    middle, shaken = _middle(points), [_middle(p) for p in _shaken(points)]
    stations = []
    for share in ACROSS_END_SHARES:
        y = share * width
        at = np.array([y if end == "A" else width - y, thickness / 2])
        across, deep = _growth(at, middle)
        angle = angle_to_face_deg(across, deep)
        # Each tap is off on its own, so what they do to the angle adds up in squares.
        off = [angle_to_face_deg(*_growth(at, other)) - angle for other in shaken]
        u_deg = min(_SIGNIFICANT * float(np.sqrt(np.square(off).sum() / 2)), 90.0)
        turn = sign * across * deep
        leans = "" if abs(turn) < 0.03 else ("+" if turn > 0 else "-")
        stations.append(RingStation(round(y, 1), angle, u_deg, leans))
    radius = float(np.hypot(*(points.mean(axis=0) - middle)))
    heart = {_heart(one, thickness) for one in (middle, *shaken)}
    pith = None
    if radius < _LARGEST_MM and len(heart) == 1:
        u = float(middle[0])
        pith = (round(u if end == "A" else width - u, 1), round(float(middle[1]), 1))
    doubts = (
        ()
        if len(heart) == 1
        else ("the heart side is not sure from these points: choose a longer stretch of a ring",)
    )
    return RingFacts(
        end=end,
        width_mm=width,
        thickness_mm=thickness,
        stations=tuple(stations),
        pith_mm=pith,
        heart_face=_heart(middle, thickness) if len(heart) == 1 else None,
        doubts=doubts,
    )


def _shaken(points: np.ndarray) -> list[np.ndarray]:
    """Return the points with each coordinate off by a tap's error, both ways."""
    found = []
    for place in np.ndindex(points.shape):
        for by in (-_TAP_MM, _TAP_MM):
            other = points.copy()
            other[place] += by
            found.append(other)
    return found


def _middle(points: np.ndarray) -> np.ndarray:
    """Return the middle of the circle through three points, far off where they are in line."""
    (ax, ay), b, c = points[0], points[1] - points[0], points[2] - points[0]
    twice = 2.0 * (b[0] * c[1] - b[1] * c[0])
    # In line: the middle lies a long way square to the line.
    twice = math.copysign(max(abs(twice), 1e-6), twice)
    bb, cc = float(b @ b), float(c @ c)
    return np.array([ax + (c[1] * bb - b[1] * cc) / twice, ay + (b[0] * cc - c[0] * bb) / twice])


def _growth(at: np.ndarray, middle: np.ndarray) -> tuple[float, float]:
    away = at - middle
    across, deep = away / max(float(np.hypot(*away)), 1e-9)
    return float(across), float(deep)


def _heart(middle: np.ndarray, thickness: float) -> int | None:
    if -2.0 <= middle[1] <= thickness + 2.0:
        return None
    return 2 if middle[1] > thickness else 1
