from dataclasses import replace

import numpy as np
from shapely.geometry import box

from scanner.vision.flaws.dark_lines import dark_courses, find_lines
from scanner.vision.flaws.doubted_lines import doubted_checks
from tests.vision.flaws.surfaces import Wood


def with_rings():
    """Return a face with a few faint ring lines, as any board has."""
    wood = Wood()
    for y in (8, 17, 41, 52):
        wood.pore_line(y, share=0.12)
    return wood


def share_at(wood, y, share):
    """Return a network's map (H, W) that claims a check along a whole row with this share."""
    return np.where(np.abs(wood.y - y) < 1.5, np.float32(share), np.float32(0.0))


def test_a_dark_tapering_line_that_the_network_doubts_is_told():
    wood = with_rings()
    wood.crack(30, reach=110, wide=1.0)
    (outline,) = doubted_checks(wood.surface(), share_at(wood, 30, 0.8), [])
    x0, y0, x1, y1 = outline.bounds
    assert y0 < 30 < y1 and y1 - y0 < 6
    assert x0 < 2 and 60 < x1 < 125


def test_a_plain_dark_line_of_which_the_network_is_little_sure_is_not_told():
    wood = with_rings()
    wood.crack(30, reach=110, wide=1.0)
    assert doubted_checks(wood.surface(), share_at(wood, 30, 0.7), []) == []


def test_a_line_that_is_told_already_is_not_told_again():
    wood = with_rings()
    wood.crack(30, reach=110, wide=1.0)
    share = share_at(wood, 30, 0.8)
    assert doubted_checks(wood.surface(), share, [box(0, 29, 110, 31)]) == []
    assert len(doubted_checks(wood.surface(), share, [box(0, 9, 110, 11)])) == 1


def test_of_many_ring_lines_alike_none_is_told_on_the_networks_doubt():
    wood = Wood()
    for y in range(8, 56, 10):
        wood.pore_line(y, share=0.3)
    assert len(find_lines(wood.surface())) == 5
    assert doubted_checks(wood.surface(), np.full(wood.shape, 0.8, np.float32), []) == []


def test_lines_that_are_not_asked_for_still_say_what_stands_out():
    wood = with_rings()
    wood.crack(30, reach=110, wide=1.0)
    every = find_lines(wood.surface())
    at_crack = [line for line in every if abs(line.points[0, 1] / 2 - 30) < 2]
    asked = find_lines(wood.surface(), lambda points: abs(points[0, 1] / 2 - 30) < 2)
    assert 0 < len(asked) < len(every)
    for one, other in zip(asked, at_crack, strict=True):
        assert np.array_equal(one.measures, other.measures)


def test_lines_whose_courses_were_formed_before_measure_the_same():
    wood = with_rings()
    wood.crack(30, reach=110, wide=1.0)
    surface = wood.surface()
    dark = dark_courses(surface)
    pairs = list(zip(find_lines(surface), find_lines(surface, dark=dark), strict=True))
    assert pairs
    assert all(np.array_equal(one.measures, other.measures) for one, other in pairs)


def seen_in_places(wood):
    share = share_at(wood, 30, 0.95)
    share[:, wood.x[0] % 16.0 > 8.0] = 0.1
    return share


def test_a_plain_line_that_the_network_sees_in_places_only_is_not_told():
    wood = with_rings()
    wood.crack(30, reach=110, wide=1.0)
    surface = wood.surface()
    assert len(doubted_checks(surface, share_at(wood, 30, 0.95), [])) == 1
    assert doubted_checks(surface, seen_in_places(wood), []) == []


def test_a_faint_line_may_be_seen_in_places_only():
    wood = with_rings()
    wood.crack(30, reach=110, wide=0.3)
    surface = replace(wood.surface(), light_spread=4.0)
    assert len(doubted_checks(surface, seen_in_places(wood), [])) == 1


def test_a_faint_line_that_the_network_sees_nowhere_is_not_told():
    wood = with_rings()
    wood.crack(30, reach=110, wide=0.3)
    surface = replace(wood.surface(), light_spread=4.0)
    assert len(doubted_checks(surface, share_at(wood, 30, 0.5), [])) == 1
    assert doubted_checks(surface, share_at(wood, 30, 0.3), []) == []
