"""The numbers of rips and cuts to length can be read where lines lie close."""

from itertools import combinations

from shapely.geometry import LineString, Point, box

from scanner.placement.layout import Cut
from scanner.sheets.cut_discs import cut_discs
from scanner.sheets.face_view import FaceView

VIEW = FaceView(1, 0.0, 0.0, 0.3, (0.0, 0.0, 2400.0, 200.0))


def crowded_cuts():
    """Eight strips 18 mm wide, each cut to length at both ends of every 120 mm."""
    cuts = [Cut("B01", 1, "crosscut", (100.0, 0.0), (100.0, 200.0))]
    for strip in range(9):
        y = 10.0 + 21.0 * strip
        cuts.append(Cut("B01", len(cuts) + 1, "rip", (100.0, y), (900.0, y)))
    for strip in range(8):
        y = 10.0 + 21.0 * strip
        for end in range(3):
            x = 130.0 + 260.0 * end
            cuts.append(Cut("B01", len(cuts) + 1, "final", (x, y), (x, y + 21.0)))
    return cuts


def test_no_number_lies_over_another_or_off_the_face_where_lines_lie_close():
    discs = cut_discs(crowded_cuts(), VIEW, [])
    assert len(discs) == 9 + 24
    assert not any(a.spot.intersects(b.spot) for a, b in combinations(discs, 2))
    face = box(0.0, 0.0, VIEW.width, VIEW.height)
    assert all(face.covers(disc.spot.centroid) for disc in discs)


def test_a_number_stands_on_its_line_or_points_to_it():
    cuts = {str(cut.order): cut for cut in crowded_cuts()}
    discs = cut_discs(crowded_cuts(), VIEW, [])
    assert any(disc.foot is not None for disc in discs)
    for disc in discs:
        cut = cuts[disc.text]
        line = LineString([VIEW.point(*cut.from_mm), VIEW.point(*cut.to_mm)])
        at = disc.spot.centroid if disc.foot is None else Point(disc.foot)
        assert line.distance(at) < 1e-6


def test_numbers_keep_off_flaws_where_they_can():
    line = Cut("B01", 1, "rip", (100.0, 50.0), (900.0, 50.0))
    knot = box(25.0, 5.0, 60.0, 25.0)
    (clear,), (aside,) = cut_discs([line], VIEW, []), cut_discs([line], VIEW, [knot])
    assert clear.spot.intersects(knot) and not aside.spot.intersects(knot)
