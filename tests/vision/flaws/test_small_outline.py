import numpy as np
import pytest
from shapely.geometry import Point

from scanner.board.flaw import Flaw, FlawKind
from scanner.geometry.polygons import iou
from scanner.vision.flaws.small_outline import redrawn
from tests.vision.flaws.surfaces import Wood


def hole(across_mm, x=100.0, y=30.0):
    reason = f"looks like a hole, {across_mm:.0f} x {across_mm:.0f} mm"
    return Flaw("", FlawKind.HOLE, {1: Point(x, y).buffer(across_mm / 2)}, score=0.7, reason=reason)


def across_mm(flaw):
    return float(2 * np.sqrt(flaw.outlines[1].area / np.pi))


@pytest.mark.parametrize("true_mm", [1.6, 2.4, 3.2])
@pytest.mark.parametrize("off_mm", [-0.4, 1.0])
def test_a_worm_hole_is_drawn_as_large_as_its_dark_core_however_large_it_was_seen(true_mm, off_mm):
    wood = Wood(200)
    wood.speck(100.2, 30.1, true_mm)
    found = redrawn(hole(true_mm + off_mm), wood.surface())
    assert across_mm(found) == pytest.approx(true_mm, abs=0.35)
    assert iou(found.outlines[1], Point(100.2, 30.1).buffer(true_mm / 2)) > 0.7


def test_what_is_told_of_a_small_hole_is_its_drawn_size():
    wood = Wood(200)
    wood.speck(100, 30, 2.0)
    found = redrawn(hole(3.6), wood.surface())
    assert found.reason == "looks like a hole, 2 x 2 mm"
    assert (found.kind, found.score) == (FlawKind.HOLE, 0.7)


def test_a_large_hole_stays_as_the_network_drew_it():
    wood = Wood(200)
    wood.speck(100, 30, 6.0)
    seen = hole(8.0)
    assert redrawn(seen, wood.surface()) is seen


def test_a_spot_beside_a_darker_one_is_not_drawn_over_it():
    wood = Wood(200)
    wood.speck(100, 30, 2.0, share=0.6)
    wood.speck(104, 30, 3.0, share=0.9)
    found = redrawn(hole(3.0), wood.surface()).outlines[1]
    assert found.bounds[2] < 102.5


def test_a_spot_without_wood_round_it_stays_as_it_was_seen():
    wood = Wood(200)
    surface = wood.surface()
    surface.wood[:] = False
    seen = hole(3.0)
    assert redrawn(seen, surface) is seen


@pytest.mark.parametrize("share", [0.0, -0.5], ids=["as bright as the wood", "brighter"])
def test_a_spot_without_a_dark_core_stays_as_it_was_seen(share):
    wood = Wood(200)
    wood.speck(100, 30, 3.0, share=share)
    seen = hole(3.0)
    assert redrawn(seen, wood.surface()) is seen
