"""Several views of one face: each arris from the one that looks over it."""

from dataclasses import replace

import numpy as np
import pytest

from scanner.errors import PhotoError
from scanner.vision.outline import trace
from scanner.vision.outline.several import SeenSides
from scanner.vision.outline.trace import trace_seen
from tests.vision.faces import BROWN, PLYWOOD, PaintedFace

# Seconds each: pictures are drawn and mapped.
pytestmark = pytest.mark.slow

SIDE_MM = 14.0
SHARE = 0.02
# The second view came out this much too low: its fit erred.
LOW_MM = 3.0


def lower_mm(views, witness=None):
    seen = SeenSides(views)
    traced = trace_seen(seen if witness is None else seen.through(witness), "ash.jpg")
    between = (traced.lower[:, 0] > 80) & (traced.lower[:, 0] < 280)
    return np.median(traced.lower[between, 1]), np.median(traced.upper[between, 1])


@pytest.fixture(scope="module")
def views():
    """Return a view over the lower arris, and one from below in which its side looks like face."""
    painted = {"length_mm": 240.0, "width_mm": 120.0, "wood": PLYWOOD, "floor": BROWN}
    over, below = PaintedFace(**painted), PaintedFace(**painted, side_mm=SIDE_MM, side_light=1.0)
    arris = over.margin_mm + over.width_mm
    return (
        replace(over.picture(), foot_mm=(180.0, -600.0), side_share=SHARE),
        replace(below.picture(), foot_mm=(180.0, arris + SIDE_MM / SHARE), side_share=SHARE),
    )


def test_a_side_that_looks_like_the_face_is_told_by_the_photo_that_hides_it(views):
    lower, _ = lower_mm(views)
    assert lower == pytest.approx(180.0, abs=1.0)
    # Whichever photo came first.
    assert lower_mm(views[::-1])[0] == pytest.approx(lower, abs=0.1)
    # Alone the other takes a little of the side for face.
    assert lower_mm(views[1:])[0] > lower + 0.8


def test_where_nothing_is_known_of_the_camera_a_side_that_shows_is_no_face_in_a_shadow():
    board = {"length_mm": 400.0, "width_mm": 120.0, "wood": PLYWOOD, "floor": BROWN}
    dim = PaintedFace(**board, side_mm=SIDE_MM, side_light=0.6).picture()
    assert dim.foot_mm is None
    assert lower_mm((dim,))[0] == pytest.approx(180.0, abs=1.0)


def test_a_photo_that_hides_the_floor_beyond_an_arris_tells_little_of_it(views):
    over, _ = views
    seen = over.seen.copy()
    seen[round(182.0 / over.mm_per_px) :] = False
    blind = replace(over, seen=seen)
    clear = replace(over, pixels=np.roll(over.pixels, round(LOW_MM / over.mm_per_px), axis=0))
    assert lower_mm((blind, clear))[0] == pytest.approx(180.0 + LOW_MM, abs=0.7)


def test_a_witness_speaks_of_the_arris_that_it_sees_well(views):
    over, below = views
    low = replace(below, pixels=np.roll(below.pixels, round(LOW_MM / below.mm_per_px), axis=0))
    lower, upper = lower_mm((over, low), witness=1)
    assert lower == pytest.approx(180.0, abs=1.0)
    assert upper == pytest.approx(60.0 + LOW_MM, abs=1.0)


def test_edges_that_meet_at_an_end_are_refused_in_a_sentence(views, monkeypatch):
    def meeting(ground, name):
        x = ground.seen.lay(name).s_mm
        half = (0.5 if name == "lower" else -0.5) * np.clip(x - 100.0, 0.0, 120.0)
        return np.column_stack([x, 120.0 + half]) + ground.origin, np.ones(len(x))

    monkeypatch.setattr(trace._Ground, "long_side", meeting)
    with pytest.raises(PhotoError, match=r"cannot be told apart in ash\.jpg"):
        lower_mm(views[:1])
