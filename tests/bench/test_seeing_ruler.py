"""What the benches of seeing show the program, held against what a scan shows it."""

from types import SimpleNamespace

import numpy as np
from shapely.geometry import box

from tests.bench.seeing import View, flattened


def straight_down(height_mm: float) -> SimpleNamespace:
    """Return the truth of a photo of 1 mm a pixel, taken straight down from far above."""
    photo = SimpleNamespace(
        R=np.eye(3),
        t=[0.0, 0.0, 1e6],
        lens=(0.0, 0.0, 0.0, 0.0, 0.0),
        eye=(0.0, 0.0, 1e6),
        face_height=height_mm,
        project=lambda space: space[:, :2] * [1.0, -1.0],
    )
    return SimpleNamespace(photo=photo)


def test_the_rule_counts_as_unseen_and_is_looked_at_all_the_same():
    pixels = np.full((200, 300, 3), 120, np.uint8)
    view = View(-50.0, 0.0, 0.0, 300.0, 200.0)
    flat = flattened(pixels, straight_down(25.0), view, 1.0, box(100, 56, 200, 94))
    # Its margin of 6 mm is no wood or floor either; what no photo shows is neither.
    assert not flat.seen[55:95, 150:250].any()
    assert flat.rule[55:95, 150:250].all()
    assert not (flat.seen & flat.rule).any()
    assert not (flat.seen | flat.rule)[:, :49].any()
    assert flat.seen[:40, 51:].all()


def test_without_a_rule_nothing_is_said_of_one():
    pixels = np.full((200, 300, 3), 120, np.uint8)
    view = View(0.0, 0.0, 0.0, 300.0, 200.0)
    assert flattened(pixels, straight_down(25.0), view, 1.0).rule is None
