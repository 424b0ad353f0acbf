"""A board goes on where the map doubts its middle, and its arrises are told there."""

from types import SimpleNamespace

import numpy as np
import pytest

from scanner.vision.outline import several, trace
from scanner.vision.outline.face_map import FaceMap
from scanner.vision.outline.side import Sides

ROWS, COLUMNS = 160, 600
FIRST, STOP, TOP, BOTTOM = 48, 552, 30, 130
# Along so much of the board, so far across its middle, the map doubts the face.
DOUBTED, DARK = slice(300, 400), slice(64, 98)


def mapped(across: slice | None) -> FaceMap:
    """Return a map (1 mm) of a board whose face it doubts along a stretch, so far across it."""
    face = np.full((ROWS, COLUMNS), -5.0, dtype=np.float32)
    face[TOP:BOTTOM, FIRST:STOP] = 5.0
    if across is not None:
        face[across, DOUBTED] = -5.0
    seen = np.ones(face.shape, dtype=bool)
    return FaceMap(face, np.full_like(face, -5.0), face, seen, (1.0, 1.0), (0.0, 0.0))


PICTURE = SimpleNamespace(
    foot_mm=None,
    side_share=0.0,
    origin_mm=(0.0, 0.0),
    pixels=np.full((ROWS, COLUMNS, 3), 128, dtype=np.uint8),
    seen=np.ones((ROWS, COLUMNS), dtype=bool),
    mm_per_px=1.0,
)


def reached(told: FaceMap) -> np.ndarray:
    return Sides(told, PICTURE).board_columns()


def test_a_board_has_no_gap_where_the_map_doubts_its_middle():
    whole = reached(mapped(None))
    assert np.array_equal(reached(mapped(DARK)), whole)
    assert len(whole) == (STOP - FIRST) / 4


def test_between_two_boards_end_to_end_there_is_no_board():
    assert len(reached(mapped(slice(TOP, BOTTOM)))) == (STOP - FIRST - 100) / 4


def test_where_no_face_shows_there_is_no_board():
    told = mapped(None)
    told.face[:] = -5.0
    assert len(reached(told)) == 0


@pytest.mark.slow
def test_an_arris_beside_wood_that_the_map_doubts_is_told_as_surely_as_elsewhere(monkeypatch):
    """Its U had been 17 mm there, as beyond the board's end where nothing is told."""
    monkeypatch.setattr(several, "face_map", lambda _view: mapped(DARK))
    traced = trace.trace_outline(PICTURE, "ash.jpg")
    beside = (traced.upper[:, 0] > DOUBTED.start) & (traced.upper[:, 0] < DOUBTED.stop)
    assert traced.upper_u_mm[beside].max() < 1.0
    assert traced.u_mm == pytest.approx(np.median(traced.upper_u_mm), abs=0.2)
