from dataclasses import replace

import numpy as np
import pytest
from shapely.geometry import Point

from scanner.board.flaw import FlawKind
from scanner.vision.flaws.judge import JudgedSpot
from scanner.vision.flaws.wild_grain import find_wild_grain
from scanner.vision.grain import GrainField
from tests.vision.flaws.surfaces import Wood

KNOT = Point(300.0, 70.0).buffer(9.0)


def wild_round_a_knot(reach_mm, rad=0.6):
    """Return the wild grain told of a knot with grain turned so far round it, None for none."""
    wood = Wood(600.0, 140.0)
    away = np.hypot(wood.x - 300.0, wood.y - 70.0)
    angle = np.where(away < reach_mm, rad, 0.0).astype(np.float32)
    grain = GrainField(angle, np.full(wood.shape, 0.8, np.float32))
    spot = JudgedSpot(None, KNOT, FlawKind.KNOT, 0.9, 0.2)
    found = find_wild_grain(replace(wood.surface(), grain=grain), (spot,))
    return found[0].outlines[1] if found else None


def test_wild_grain_is_drawn_as_far_as_it_is_seen_round_a_knot():
    x0, y0, x1, y1 = wild_round_a_knot(13.0).bounds
    assert (x1 - x0) / 2 == pytest.approx(13.0, abs=1.5)
    assert (y1 - y0) / 2 == pytest.approx(13.0, abs=1.5)


def test_figure_beyond_what_a_knot_turns_is_no_wild_grain():
    # Two and a third of the knot's half length along, one and three quarters of its half width.
    x0, y0, x1, y1 = wild_round_a_knot(60.0).bounds
    assert (x1 - x0) / 2 == pytest.approx(20.7, abs=1.5)
    assert (y1 - y0) / 2 == pytest.approx(15.8, abs=1.5)


def test_grain_that_slopes_less_than_one_in_five_round_a_knot_is_not_wild():
    assert wild_round_a_knot(20.0, rad=0.15) is None
