"""Beside a traced arris: the board's own side, told by its foot, or something that lies over it."""

import numpy as np
import pytest
from shapely.geometry import box

from scanner.vision.outline.side import Side, arris_over_foot
from scanner.vision.outline.trace import _Ground

ARRIS_MM, DEEP_MM, COLUMNS = 90.0, 5.0, 50


def side(share: float, foot_of_arris_mm: float) -> Side:
    """Lay out a side whose board ends where a square side of an arris there would."""
    t = np.arange(0.0, 151.0)
    reach = share * (1000.0 - t)
    foot = foot_of_arris_mm + share * (1000.0 - foot_of_arris_mm)
    body = np.where(t[:-1, None] < foot, 5.0, -5.0) * np.ones(COLUMNS)
    odds = np.where(t[:-1, None] < ARRIS_MM, 5.0, -5.0) * np.ones(COLUMNS)
    odds, body, seen, none = (
        one.astype(np.float32) for one in (odds, body, np.ones_like(body), np.zeros_like(body))
    )
    return Side(odds, body, seen, t, 4.0 * np.arange(COLUMNS), reach, none, none)


class Seen:
    """What a tracer is told, reduced to one side of one view."""

    size_mm = (4.0 * COLUMNS, 200.0)

    def __init__(self, told: Side, face_share: float = 0.5) -> None:
        self.told = told
        self.share = face_share

    def face_share(self, shape: object) -> float:
        return self.share

    def arris_by_foot(self, name: str) -> np.ndarray | None:
        return arris_over_foot(self.told)


def ground(told: Side, face_share: float = 0.5) -> _Ground:
    bare = object.__new__(_Ground)
    bare.seen, bare.origin = Seen(told, face_share), np.zeros(2)
    return bare


@pytest.mark.parametrize("name", ["upper", "lower"])
@pytest.mark.parametrize(("foot_of", "is_side"), [(ARRIS_MM, True), (ARRIS_MM + DEEP_MM, False)])
def test_the_foot_tells_a_side_from_what_lies_over_the_arris(name, foot_of, is_side):
    y = ARRIS_MM if name == "lower" else 200.0 - ARRIS_MM
    edge = np.column_stack([4.0 * np.arange(COLUMNS), np.full(COLUMNS, y)])
    low = y if name == "lower" else y - DEEP_MM
    beside = box(20.0, low, 160.0, low + DEEP_MM)
    assert ground(side(0.012, foot_of)).shows_side(name, edge, beside) is is_side


def test_a_side_turned_away_tells_nothing():
    assert arris_over_foot(side(0.001, ARRIS_MM)) is None


@pytest.mark.parametrize(("face_share", "lies_under"), [(0.3, True), (0.03, False)])
def test_a_face_that_is_surely_none_lies_under_nothing(face_share, lies_under):
    edge = np.column_stack([4.0 * np.arange(COLUMNS), np.full(COLUMNS, ARRIS_MM)])
    turned_away = side(0.001, ARRIS_MM)
    beside = box(20.0, ARRIS_MM, 160.0, ARRIS_MM + DEEP_MM)
    assert ground(turned_away, face_share).lies_under("lower", edge, beside) is lies_under
