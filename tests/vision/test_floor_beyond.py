"""Where the floor begins past an arris, in looks as they are."""

import numpy as np
import pytest

from scanner.vision.outline.floor_beyond import Beyond
from scanner.vision.outline.wane import Past

COLUMNS, SAWN_MM = 60, 15.0
FLOOR, BARK = (70.0, 5.0, 20.0), (12.0, 2.0, 3.0)


def looks(bark_mm, *, shows_mm=0.0) -> Beyond:
    """Return a plank floor 60 mm wide, with dark bark before it, wide as told by column."""
    rng = np.random.default_rng(3)
    at = np.arange(60) + 0.5
    lab = np.array(FLOOR) + rng.normal(0.0, 2.0, (COLUMNS, 60, 3))
    dark = at < np.broadcast_to(bark_mm, COLUMNS)[:, None] + shows_mm
    lab[dark] = np.array(BARK) + rng.normal(0.0, 2.0, (int(dark.sum()), 3))
    seen = np.ones((COLUMNS, 60), bool)
    return Beyond(lab.astype(np.float32), seen, np.full(COLUMNS, shows_mm))


def floor_mm(beyond: Beyond):
    return beyond.floor_mm(np.full(COLUMNS, SAWN_MM), np.ones(COLUMNS, bool))


@pytest.mark.parametrize("shows_mm", [0.0, 6.0])
def test_dark_bark_goes_as_far_as_the_floor_does_not(shows_mm):
    bark_mm = np.where(np.arange(COLUMNS) < 30, 9.0, 0.0)
    found = floor_mm(looks(bark_mm, shows_mm=shows_mm))
    assert found[:27] == pytest.approx(9.0, abs=0.6)
    assert found[33:] == pytest.approx(0.0, abs=0.6)


def test_floor_that_no_photo_shows_tells_nothing():
    hidden = looks(9.0)
    hidden.seen[:] = False
    assert floor_mm(hidden) == pytest.approx(0.0)


def test_wane_goes_on_to_the_floor_where_the_map_lost_it_and_never_past_the_saws_line():
    none = np.zeros(COLUMNS)
    lost = Past(none, none, none + 1.0, lambda: looks(9.0))
    assert lost.ends_mm(np.full(COLUMNS, SAWN_MM)) == pytest.approx(9.0, abs=0.6)
    assert lost.ends_mm(np.full(COLUMNS, 6.0)) == pytest.approx(6.0)
    half = lost.of(np.arange(COLUMNS) < 20)
    assert half.ends_mm(np.full(20, SAWN_MM)) == pytest.approx(9.0, abs=0.6)
    unknown = Past(none, none, none + 1.0)
    assert unknown.ends_mm(np.full(COLUMNS, SAWN_MM)).max() < 4.0
