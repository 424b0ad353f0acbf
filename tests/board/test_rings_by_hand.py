"""Three points on one ring tell its circle: angles, pith, heart side, each with an honest U."""

import math

import numpy as np
import pytest

from scanner.board.rings_by_hand import ACROSS_END_SHARES, rings_by_hand

SIZE = (150.0, 26.0)


def ring(pith, radius, us):
    """Return points of a ring above its pith, at these places from the left."""
    return tuple((u, pith[1] - math.sqrt(radius**2 - (u - pith[0]) ** 2)) for u in us)


def true_angles(pith, end="A"):
    width, thickness = SIZE
    found = []
    for share in ACROSS_END_SHARES:
        u = share * width if end == "A" else width - share * width
        across, deep = u - pith[0], thickness / 2 - pith[1]
        found.append(math.degrees(math.atan2(abs(across), abs(deep))))
    return found


@pytest.mark.parametrize("end", ["A", "B"])
def test_a_tapped_ring_gives_angles_pith_and_heart_side(end):
    pith = (60.0, 95.0)
    facts = rings_by_hand(SIZE, end, ring(pith, 84.0, (20.0, 60.0, 105.0)))
    angles = [station.angle_deg for station in facts.stations]
    assert angles == pytest.approx(true_angles(pith, end), abs=1e-6)
    # Board frame: at end B y runs to the left.
    assert facts.pith_mm == pytest.approx((60.0 if end == "A" else 90.0, 95.0), abs=0.1)
    assert (facts.heart_face, facts.hollow_face) == (2, 1)
    assert [s.y_mm for s in facts.stations] == [15.0, 45.0, 75.0, 105.0, 135.0]


def test_an_upright_ring_is_quartersawn_and_tells_no_heart_side():
    facts = rings_by_hand(SIZE, "A", ((70.0, 2.0), (70.1, 13.0), (70.0, 24.0)))
    assert facts.stations[2].cut == "quartersawn"
    assert facts.heart_face is None


def test_points_in_line_are_straight_rings():
    facts = rings_by_hand(SIZE, "A", ((10.0, 5.0), (70.0, 11.0), (130.0, 17.0)))
    slope = math.degrees(math.atan2(6.0, 60.0))
    assert [s.angle_deg for s in facts.stations] == pytest.approx([slope] * 5, abs=0.5)
    assert facts.pith_mm is None and facts.heart_face is None and facts.doubts


def test_points_at_one_place_are_refused():
    with pytest.raises(ValueError, match="are needed"):
        rings_by_hand(SIZE, "A", ((10.0, 5.0), (12.0, 5.0), (130.0, 9.0)))


def test_the_u_of_a_tapped_ring_holds_for_taps_half_a_millimetre_off():
    pith, rng = (60.0, 95.0), np.random.default_rng(4)
    points = np.array(ring(pith, 84.0, (20.0, 60.0, 105.0)))
    inside = []
    for _ in range(60):
        taps = points + rng.normal(0, 0.5, points.shape)
        facts = rings_by_hand(SIZE, "A", tuple(map(tuple, taps)))
        inside += [
            abs(s.angle_deg - true) <= s.u_deg
            for s, true in zip(facts.stations, true_angles(pith), strict=True)
        ]
    # Bound on both sides: an U that always holds is none.
    assert 0.86 <= np.mean(inside) <= 0.995
