"""The board as the learned map shows it, where neither looks nor lines part it from its floor.

The map is taught on views with a board about their middle, so it is shown such a view of a rough
guess, the view is laid round what the map calls face, and so on until both agree.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import cv2
import numpy as np
from numpy.typing import NDArray

from scanner.geometry.polygons import polygon_of
from scanner.vision.face_view import own_views
from scanner.vision.ground.bars import NARROWEST_MM, SHORTEST_MM
from scanner.vision.outline.face_map import FaceMap, face_map
from scanner.vision.place import place_around

if TYPE_CHECKING:
    from shapely.geometry import Polygon

    from scanner.vision.fit.scale_fit import ScaleFit
    from scanner.vision.photos.picture import Photo
    from scanner.vision.rectify import FacePlace

Bools = NDArray[np.bool_]

# A guess may cover half a board, and each look sees so much further.
_LOOKS = 5
_END_MM, _SIDE_MM = 110.0, 100.0
# The arrises are taken to lie within so much of the rectangle; past that there is no face. Past
# the side's own foot (boards up to 70 mm thick at the steepest views) there is floor.
_ARRIS_MM, _FOOT_MM = 12.0, 35.0
# Shares of face within and of board on the floor beside that a board may have; seen on rendered
# photos: 0.99 and more, 0.00.
_FACE, _NO_BOARD = 0.95, 0.05
# So much of the floor must be shown right past each side (the rule, hardly further off than 20 mm,
# hides most of one) and each end.
_SIDE_SHOWN, _END_SHOWN = 0.15, 0.8
# What the map joins by a bridge as narrow as this is not one board.
_BRIDGE_PX = 25


def board_on_map(
    photos: tuple[Photo, ...], fit: ScaleFit, rough: Polygon, angle_rad: float
) -> tuple[Polygon, float] | None:
    """Return the rectangle and direction of a board near a rough guess, or None.

    Parameters
    ----------
    rough
        Guess that lies on the board at least in part, rule frame, mm.
    angle_rad
        Its length's direction, from x towards y.

    Returns
    -------
    tuple
        A rectangle (rule frame, mm) that the map calls face all over, with floor on all four sides
        of it, and its direction.
    """
    outline, angle = rough, angle_rad
    for _ in range(_LOOKS):
        place = place_around(outline, angle, _END_MM, _SIDE_MM)
        told = _Told.of(photos, fit, place)
        if told.confirms(place):
            return outline, angle
        found = told.face_rectangle()
        if found is None:
            return None
        corners, turn = found
        outline, angle = polygon_of(place.rule_from_place(corners)), place.angle_rad + turn
    return None


@dataclass(frozen=True, slots=True, eq=False)
class _Told:
    """What the maps of all photos say together: face, board (H, W), and what any photo shows."""

    face: Bools
    board: Bools
    seen: Bools
    map: FaceMap

    @staticmethod
    def of(photos: tuple[Photo, ...], fit: ScaleFit, place: FacePlace) -> _Told:
        maps = [face_map(view) for view in own_views(photos, fit, place)]
        face, body = (
            sum(getattr(one, layer) * one.seen for one in maps) for layer in ("face", "body")
        )
        seen = np.any([one.seen for one in maps], axis=0)
        return _Told((face > 0) & seen, (body > 0) & seen, seen, maps[0])

    def confirms(self, place: FacePlace) -> bool:
        """Return whether the view's middle, inside its margins, is a board and ends there."""
        x, y = (
            self.map.first_mm[axis] + np.arange(count) * self.map.step_mm[axis]
            for axis, count in ((0, self.seen.shape[1]), (1, self.seen.shape[0]))
        )
        length, width = place.size_mm
        # How far outside the rectangle: below 0 within.
        past = [_END_MM - x, x - (length - _END_MM), _SIDE_MM - y, y - (width - _SIDE_MM)]
        along, across = (np.maximum(past[k], past[k + 1]) for k in (0, 2))
        within = np.ix_(across < -_ARRIS_MM, along < -_ARRIS_MM)
        if _share(self.face[within], self.seen[within]) < _FACE:
            return False
        for number, beyond in enumerate(past):
            for layer, begin in ((self.face, _ARRIS_MM), (self.board, _FOOT_MM)):
                strip = (beyond > begin) & (beyond < begin + _FOOT_MM)
                there = np.ix_(across < 0, strip) if number < 2 else np.ix_(strip, along < 0)
                least = _END_SHOWN if number < 2 else _SIDE_SHOWN
                if layer is self.face and self.seen[there].mean() < least:
                    return False
                if _share(layer[there], self.seen[there]) > _NO_BOARD:
                    return False
        return True

    def face_rectangle(self) -> tuple[NDArray[np.float64], float] | None:
        """Return corners (4, 2), mm from the view's first corner, and direction of the face."""
        whole = cv2.morphologyEx(
            self.face.astype(np.uint8), cv2.MORPH_OPEN, np.ones((_BRIDGE_PX, _BRIDGE_PX), np.uint8)
        )
        count, labels, facts, _ = cv2.connectedComponentsWithStats(whole)
        if count < 2:
            return None
        largest = 1 + int(facts[1:, cv2.CC_STAT_AREA].argmax())
        points = cv2.findNonZero((labels == largest).astype(np.uint8))
        corners = np.asarray(cv2.boxPoints(cv2.minAreaRect(points)), dtype=np.float64)
        corners = corners * self.map.step_mm + self.map.first_mm
        sides = [corners[1] - corners[0], corners[2] - corners[1]]
        width, length = sorted(float(np.linalg.norm(side)) for side in sides)
        if length < SHORTEST_MM or width < NARROWEST_MM:
            return None
        step = max(sides, key=lambda side: float(np.linalg.norm(side)))
        return corners, math.atan(step[1] / step[0]) if step[0] else math.pi / 2


def _share(flags: Bools, seen: Bools) -> float:
    return float(flags.sum()) / max(1.0, float(seen.sum()))
