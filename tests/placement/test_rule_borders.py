"""The placement rules at their borders: reach, limits, margins, edges."""

from __future__ import annotations

from dataclasses import replace

import pytest
from shapely.geometry import LineString, Point, Polygon, box
from shapely.ops import unary_union

from scanner.board.board import End, Face
from scanner.board.flaw import FlawKind, FlawState
from scanner.board.form import Warp
from scanner.board.measured import Measured
from scanner.board.seen_piece import SeenPiece
from scanner.placement.parts import Faces
from scanner.placement.rules import (
    end_trim,
    flaws,
    follow,
    only_boards,
    refusal_of,
    sapwood,
    straight_grain,
    thickness,
    wood,
    zones_of,
)
from scanner.placement.rules.ground import Where, Zone, frame_of, grown, margin_mm, on_one_edge
from scanner.placement.shop import Shop
from tests.instances.tiny import SHOP as EXACT
from tests.instances.tiny import board, flaw, part

SHOP = Shop()
A = part("a", 1, 9, 9)


def ground(zones: tuple[Zone, ...]):
    return unary_union([zone.ground for zone in zones])


def of_flaws(one, asked=A, shop=EXACT, show=None):
    return flaws.zones(one, asked, shop, show)


def test_the_margin_before_end_a_is_that_at_end_a():
    assert margin_mm(2.0, 0.004, -500.0, SHOP) == pytest.approx(3.5)
    assert margin_mm(3.0, 0.004, 1000.0, EXACT) == pytest.approx(5.0)


def test_a_margin_in_steps_never_falls_short_and_never_by_much_too_far():
    stairs = Polygon([(0, 0), (3000, 0), (3000, 10), (0, 3010)])
    around = grown(stairs, 1.0, 0.004, SHOP)
    for x in range(5, 3000, 5):
        y = 3010 - x
        margin = margin_mm(1.0, 0.004, x, SHOP)
        assert around.covers(Point(x + margin, y)), x
        # At 45 degrees, with the margin across that at the shape's largest y: a little further.
        assert around.covers(Point(x, y + margin_mm(1.0, 0.004, y, SHOP))), x
    assert around.geom_type == "Polygon"
    for x in (5, 500, 1000, 2000, 2900):
        post = grown(box(x, 0, x + 1, 10), 1.0, 0.004, SHOP)
        assert post.bounds[2] == pytest.approx(x + 1 + margin_mm(1.0, 0.004, x + 1, SHOP), abs=0.01)
        assert post.bounds[3] == pytest.approx(10 + margin_mm(1.0, 0.004, 10, SHOP))
    wall = grown(box(0, 0, 3000, 10), 1.0, 0.004, SHOP)
    assert wall.bounds[0] == pytest.approx(-2.5, abs=0.2)
    # Corners are mitred: as far out both ways at once.
    flat = grown(box(100, 0, 200, 10), 2.0, 0.0, SHOP)
    assert flat.bounds == pytest.approx((96.5, -3.5, 203.5, 13.5))
    assert flat.area == pytest.approx(107 * 17)
    strip = box(0, 0, 3000, 10)
    assert grown(strip, 0.0, 0.0, EXACT) == strip
    assert grown(Polygon(), 2.0, 0.004, SHOP).is_empty
    # A needle is not drawn out to a spear.
    needle = grown(Polygon([(0, 0), (100, 0.5), (100, -0.5)]), 2.0, 0.0, SHOP)
    assert needle.bounds[0] > -8
    # What lies beyond the board's far edge makes no margin larger.
    beyond = grown(box(0, 100, 50, 900), 0.0, 0.01, EXACT, 100.0)
    assert beyond.bounds[1] == pytest.approx(99.0)


def test_a_small_growth_of_the_margin_is_one_step_at_its_largest():
    # 0.004 x 40 mm is 0.16: the whole strip takes the margin of its far end.
    around = grown(box(1000, 0, 1040, 10), 0.0, 0.004, EXACT)
    assert around.bounds == pytest.approx((1000 - 4.16, -0.04, 1044.16, 10.04))


def test_the_frame_holds_the_wood_of_both_faces():
    one = board("B1", 500, 60, flaw("F1", FlawKind.WANE, box(0, 60, 500, 70), (2,)))
    faces = {1: replace(one.faces[1], outline=box(3, 4, 490, 60)), 2: one.faces[2]}
    assert frame_of(replace(one, faces=faces)) == pytest.approx((0, 0, 500, 70), abs=0.02)
    faces = {1: one.faces[1], 2: replace(one.faces[2], outline=box(-5, 6, 510, 50))}
    assert frame_of(replace(one, flaws=(), faces=faces)) == pytest.approx((-5, 0, 510, 60))


def test_ground_outside_reaches_far_enough_to_stop_any_part():
    one = replace(board("B1", 500, 60), outline_u_mm=1.0)
    outside = ground(wood.zones(one, A, SHOP, None))
    assert outside.covers(box(-50, -50, 0, 110)) and outside.covers(box(500, -50, 550, 110))
    assert not outside.intersects(box(2.51, 2.51, 497.49, 57.49))
    assert outside.contains(Point(250, 2.49)) and outside.contains(Point(250, 57.51))
    hidden = replace(A, faces=Faces.HIDDEN)
    waney = board("B1", 500, 60, flaw("F1", FlawKind.WANE, box(0, -10, 500, 0), (1, 2)))
    assert ground(wood.zones(waney, A, EXACT, None)).contains(Point(250, -5))
    assert not ground(wood.zones(waney, hidden, EXACT, None)).contains(Point(250, -5))
    names = {zone.name for zone in wood.zones(one, A, SHOP, None)}
    assert names == {"the board's edge"}


def test_each_end_loses_its_trim_and_nothing_beyond():
    one = replace(board("B1", 500, 60), ends={"A": End(True), "B": End(False)})
    lost = ground(end_trim.zones(one, A, SHOP, None))
    assert lost.covers(box(0, 0, 11.99, 60)) and not lost.intersects(box(12.01, 0.1, 449.99, 59.9))
    assert lost.covers(box(450.01, 0, 500, 60))
    names = [zone.name for zone in end_trim.zones(one, A, SHOP, None)]
    assert names == [f"the end trim of end {end}" for end in "AABB"]
    none = replace(one, ends={"A": End(False, 0.0), "B": End(True, -1.0)})
    assert end_trim.zones(none, A, SHOP, None) == ()
    # An end 140 mm out of square is followed all across.
    slant = Polygon([(0, 0), (500, 0), (500, 60), (140, 60)])
    lost = ground(end_trim.zones(board("B1", 500, 60, outline=slant), A, SHOP, None))
    for y in (1, 30, 59):
        assert lost.contains(Point(140 * y / 60 + 11, y)), y
        assert not lost.contains(Point(140 * y / 60 + 13, y)), y
    # A wavy edge far from both ends loses nothing.
    wavy = Polygon([(0, 0), (200, 0), (210, 5), (220, 0), (700, 0), (700, 60), (0, 60)])
    lost = ground(end_trim.zones(board("B1", 700, 60, outline=wavy), A, SHOP, None))
    assert not lost.intersects(box(165, 0.1, 535, 59.9))


def test_both_faces_lose_their_ends():
    one = board("B1", 500, 60)
    faces = {1: one.faces[1], 2: replace(one.faces[2], outline=box(20, 0, 500, 60))}
    lost = ground(end_trim.zones(replace(one, faces=faces), A, SHOP, None))
    assert lost.contains(Point(31, 30)) and not lost.contains(Point(33, 30))


def test_the_longer_side_of_a_turned_shape():
    assert flaws.across_mm(box(0, 0, 30, 20)) == pytest.approx(30)
    slant = Polygon([(0, 0), (30, 40), (22, 46), (-8, 6)])
    assert flaws.across_mm(slant) == pytest.approx(50)
    assert flaws.across_mm(Polygon()) == 0.0


def test_holes_are_pins_below_two_millimetres_by_their_larger_face():
    sound = part("a", 1, 9, 9, "sound")
    for large, where in ((1.99, None), (2.0, Where.ALL)):
        shapes = {1: box(0, 0, 1, 1), 2: box(0, 0, large, 1)}
        hole = replace(flaw("F1", FlawKind.HOLE, box(0, 0, 1, 1)), outlines=shapes)
        assert flaws.forbidden_where(hole, sound, None) is where
    for large, where in ((30.0, None), (30.1, Where.ALL)):
        shapes = {1: box(0, 0, 10, 10), 2: box(0, 0, large, 10)}
        knot = replace(flaw("F1", FlawKind.KNOT, box(0, 0, 1, 1), sound=True), outlines=shapes)
        limited = replace(sound, max_knot_mm=30.0)
        assert flaws.forbidden_where(knot, limited, None) is where
    loose = replace(knot, sound=False, outlines={1: box(0, 0, 5, 5)})
    assert flaws.forbidden_where(loose, limited, None) is Where.ALL


def test_wild_grain_only_near_the_arris_or_everywhere_on_what_shows():
    wild = flaw("F1", FlawKind.WILD_GRAIN, box(0, 0, 9, 9))
    for faces, where in (
        ("both", Where.ALL), ("show", Where.ALL), ("sound", Where.RIM), ("hidden", Where.RIM),
    ):  # fmt: skip
        assert flaws.forbidden_where(wild, part("a", 1, 9, 9, faces), 2) is where
    assert not flaws.weakens(wild)


def test_the_ground_of_a_flaw_has_its_own_face_s_margin_and_its_name():
    one = board("B1", 500, 60, flaw("F7", FlawKind.BARK_POCKET, box(100, 20, 130, 40), (1, 2)))
    spot = replace(one.flaws[0], u_mm=2.0)
    faces = {1: one.faces[1], 2: replace(one.faces[2], u_scale=0.1)}
    first, second = of_flaws(replace(one, flaws=(spot,), faces=faces), shop=SHOP)
    assert first.name == second.name == "bark pocket F7"
    assert first.ground.bounds == pytest.approx((96.5, 16.5, 133.5, 43.5))
    assert second.ground.bounds[2] == pytest.approx(130 + 1.5 + (2**2 + 13**2) ** 0.5, abs=0.02)
    assert second.ground.bounds[3] == pytest.approx(40 + 1.5 + (2**2 + 4**2) ** 0.5, abs=0.02)
    struck = replace(spot, state=FlawState.STRUCK)
    assert of_flaws(replace(one, flaws=(struck, spot))) != ()
    assert of_flaws(replace(one, flaws=(struck,))) == ()


def test_wane_leaves_a_hidden_part_the_edge_it_lies_on():
    hidden = replace(A, faces=Faces.HIDDEN)
    for shape, where in (
        (box(0, 0, 500, 20), Where.NOT_LOW_EDGE), (box(0, 40, 500, 60), Where.NOT_HIGH_EDGE),
        (box(0, 0, 500, 59), Where.NOT_LOW_EDGE), (box(0, 1, 500, 60), Where.NOT_HIGH_EDGE),
    ):  # fmt: skip
        wane = flaw("F1", FlawKind.WANE, shape)
        (zone,) = of_flaws(board("B1", 500, 60, wane), hidden)
        assert zone.where is where, shape.bounds
        (zone,) = of_flaws(board("B1", 500, 60, replace(wane, state=FlawState.POSSIBLE)), hidden)
        assert zone.where is Where.ALL
        (zone,) = of_flaws(board("B1", 500, 60, wane), replace(A, faces=Faces.SOUND))
        assert zone.where is Where.ALL
        (zone,) = of_flaws(board("B1", 500, 60, replace(wane, kind=FlawKind.ROT)), hidden)
        assert zone.where is Where.ALL


def test_wane_on_both_edges_of_a_board_is_carried_on_one_edge_of_a_part():
    low, high = (
        flaw("F1", FlawKind.WANE, box(0, 0, 500, 8)),
        flaw("F2", FlawKind.WANE, box(0, 52, 500, 60)),
    )
    rot = flaw("F3", FlawKind.ROT, box(200, 20, 230, 40))
    hidden = replace(A, faces=Faces.HIDDEN)
    zones = of_flaws(board("B1", 500, 60, low, rot, high), hidden)
    wheres = [[zone.where for zone in way] for way in on_one_edge(zones)]
    assert wheres == [
        [Where.NOT_LOW_EDGE, Where.ALL, Where.ALL], [Where.ALL, Where.ALL, Where.NOT_HIGH_EDGE],
    ]  # fmt: skip
    for flaws_ in ((low, rot), (rot, high), (rot,)):
        alone = of_flaws(board("B1", 500, 60, *flaws_), hidden)
        assert on_one_edge(alone) == (alone,)


@pytest.mark.parametrize("kind", [FlawKind.STAIN, FlawKind.PITCH, FlawKind.WILD_GRAIN])
def test_what_only_shows_weakens_until_somebody_looked_at_it(kind):
    one = flaw("F1", kind, box(0, 20, 80, 22))
    assert flaws.weakens(replace(one, state=FlawState.POSSIBLE))
    assert not flaws.weakens(replace(one, state=FlawState.CONFIRMED))


@pytest.mark.parametrize("kind", [FlawKind.CHECK, FlawKind.SPLIT, FlawKind.SHAKE])
def test_a_crack_is_drawn_out_from_the_end_where_it_begins(kind):
    for shape, reach, bounds in (
        (box(0, 20, 80, 22), 140.0, (0, 20, 140, 22)),
        (box(0, 20, 80, 22), 10.0, (0, 20, 80, 22)),
        (box(420, 20, 500, 22), 140.0, (360, 20, 500, 22)),
        (box(420, 20, 500, 22), 10.0, (420, 20, 500, 22)),
        (box(0, 20, 80, 22), None, (0, 20, 80, 22)),
    ):
        crack = replace(flaw("F1", kind, shape), reach_mm=reach)
        (zone,) = of_flaws(board("B1", 500, 60, crack))
        assert zone.ground.bounds == pytest.approx(bounds)
    shifted = board("B1", 500, 60, crack, outline=box(10, 0, 500, 60))
    shifted = replace(
        shifted, flaws=(replace(flaw("F1", kind, box(10, 20, 80, 22)), reach_mm=140.0),)
    )
    assert of_flaws(shifted)[0].ground.bounds == pytest.approx((10, 20, 150, 22))
    # Reach counts from face 1's ends (contract: x = 0 at its smallest x), on face 2 as well.
    sloping = replace(shifted, faces={**shifted.faces, 2: Face(box(-15, 0, 520, 60))})
    below = replace(
        flaw("F1", kind, box(-15, 20, 80, 22)), outlines={2: box(-15, 20, 80, 22)}, reach_mm=140.0
    )
    (zone,) = of_flaws(replace(sloping, flaws=(below,)))
    assert zone.ground.bounds == pytest.approx((-15, 20, 150, 22))
    stain = replace(flaw("F1", FlawKind.ROT, box(0, 20, 80, 22)), reach_mm=140.0)
    assert of_flaws(board("B1", 500, 60, stain))[0].ground.bounds == pytest.approx((0, 20, 80, 22))


def test_a_part_is_turned_by_what_the_grain_says_to_a_tenth():
    asked = replace(A, straight_grain="follow")

    def turn(grain, **more):
        return follow.turn_deg(
            replace(board("B1", 500, 60), grain_deg=grain), replace(asked, **more)
        )

    assert [turn(g) for g in (None, 0.0, 0.99, -0.99, 1.0, -1.0, 5.26, -12.34)] == [
        0.0, 0.0, 0.0, 0.0, 1.0, -1.0, 5.3, -12.3,
    ]  # fmt: skip
    for more in (
        {"straight_grain": None}, {"straight_grain": "1 in 15"}, {"match": "legs"},
        {"outline_mm": ((0, 0), (9, 0), (9, 9))},
    ):  # fmt: skip
        assert turn(9.0, **more) == 0.0
    for grain, is_refused in ((15.0, False), (-15.0, False), (15.1, True), (-16.0, True)):
        one = replace(board("B1", 500, 60), grain_deg=grain)
        assert bool(follow.refusal(one, asked, SHOP)) is is_refused
    assert follow.refusal(one, asked, SHOP) == "has grain that runs 16 degrees off, more than 15"


def test_grain_that_turns_is_ground_for_what_asks_for_straight_grain():
    one = board(
        "B1", 500, 60,
        flaw("F1", FlawKind.WILD_GRAIN, box(10, 10, 20, 20), (1, 2)),
        flaw("F2", FlawKind.KNOT, box(50, 10, 60, 20), sound=True),
        flaw("F3", FlawKind.STAIN, box(90, 10, 99, 20)),
        flaw("F4", FlawKind.KNOT, box(150, 10, 160, 20), state=FlawState.STRUCK),
    )  # fmt: skip
    for asked, names in (
        (None, []), ("follow", ["wild grain F1"] * 2),
        ("1 in 15", ["wild grain F1"] * 2 + ["knot F2"]),
    ):  # fmt: skip
        zones = straight_grain.zones(one, replace(A, straight_grain=asked), SHOP, None)
        assert [zone.name for zone in zones] == names
    assert zones[-1].ground.bounds == pytest.approx((48.5, 8.5, 61.5, 21.5))
    assert all(zone.where is Where.ALL for zone in zones)


@pytest.mark.parametrize(
    ("slope", "asked", "is_refused"),
    [
        (12.0, "1 in 15", True), (15.0, "1 in 15", False), (20.0, "1 in 15", False),
        (None, "1 in 15", False), (12.0, "follow", False), (12.0, None, False),
    ],
)  # fmt: skip
def test_a_board_whose_edge_told_steep_grain_is_left_out(slope, asked, is_refused):
    one = replace(board("B1", 500, 60), slope_one_in=slope)
    said = straight_grain.refusal(one, replace(A, straight_grain=asked), SHOP)
    words = "has grain that may slope 1 in 12.0 through the board, not 1 in 15"
    assert said == (words if is_refused else None)


def test_wood_of_a_piece_that_was_measured_thinner_is_no_ground():
    seen = SeenPiece(1, 100.0, 10.0, 200.0, 40.0, Measured(19.0, 0.5))
    (zone,) = thickness.zones(replace(board("B1", 500, 60), pieces=(seen,)), A, SHOP, None)
    assert zone.name == "a piece that is 19.0 mm thick by now"
    assert zone.ground.bounds == pytest.approx((106, 16, 294, 44))
    for thick in (Measured(20.0, 0.5), None):
        known = replace(board("B1", 500, 60), pieces=(replace(seen, thickness=thick),))
        assert thickness.zones(known, A, SHOP, None) == ()


def test_sapwood_counts_with_the_outline_s_margin():
    sap = {1: (box(0, 0, 500, 10),), 2: (box(0, 50, 500, 60),)}
    one = replace(board("B1", 500, 60), sapwood=sap, outline_u_mm=2.0)
    no = replace(A, sapwood="no")
    first, second = sapwood.zones(one, no, SHOP, 1)
    assert first.ground.bounds[3] == pytest.approx(13.5) and first.name == "sapwood"
    back = replace(A, sapwood="back")
    assert len(sapwood.zones(one, back, SHOP, 1)) == 2  # nothing shows, so there is no back
    (only,) = sapwood.zones(one, replace(back, faces=Faces.SHOW), SHOP, 2)
    assert only == second
    assert sapwood.zones(replace(one, sapwood=None), no, SHOP, 1) == ()


def test_thickness_is_judged_on_the_piece_as_it_is_milled():
    asked = part("a", 1, 100, 50)
    thin = replace(board("B1", 500, 60), thickness=Measured(23.0, 0.0))
    shop = replace(EXACT, cleanup_mm=3.0, shortest_piece_mm=0.0)
    assert thickness.refusal(thin, asked, shop) is None
    said = thickness.refusal(thin, asked, replace(shop, cleanup_mm=3.1))
    assert said == "leaves 19.9 mm when flat, 20.0 mm are needed"
    # Bow 4 over 500: 100 long loses 0.16, 250 long 1.0; the machines take no shorter piece.
    bowed = replace(thin, warp=Warp(bow_mm=-4.0), thickness=Measured(23.5, 0.0))
    assert thickness.refusal(bowed, asked, shop) is None
    assert thickness.refusal(bowed, asked, replace(shop, shortest_piece_mm=250.0))
    assert thickness.refusal(bowed, asked, replace(shop, length_allowance_mm=150.0))
    own = replace(asked, length_allowance_mm=0.0)
    assert thickness.refusal(bowed, own, replace(shop, length_allowance_mm=150.0)) is None
    # Cup 2 over 60: 50 wide loses 1.39, 30 wide 0.5.
    cupped = replace(thin, warp=Warp(cup_mm=2.0), thickness=Measured(24.0, 0.0))
    assert thickness.refusal(cupped, asked, shop)
    narrow = replace(asked, width_mm=30.0)
    assert thickness.refusal(cupped, narrow, shop) is None
    assert thickness.refusal(cupped, narrow, replace(shop, width_allowance_mm=20.0))
    unmoved = replace(narrow, width_allowance_mm=0.0)
    assert thickness.refusal(cupped, unmoved, replace(shop, width_allowance_mm=20.0)) is None
    # Half the twist of a piece; a piece larger than the board is the board.
    twisted = replace(thin, warp=Warp(twist_mm=4.0))
    assert thickness.flattened_mm(twisted, (250.0, 60.0), EXACT) == pytest.approx(22.0)
    assert thickness.flattened_mm(twisted, (250.0, 30.0), EXACT) == pytest.approx(22.5)
    assert thickness.flattened_mm(twisted, (900.0, 90.0), EXACT) == pytest.approx(21.0)
    assert thickness.flattened_mm(bowed, (900.0, 60.0), EXACT) == pytest.approx(19.5)
    assert thickness.flattened_mm(cupped, (100.0, 90.0), EXACT) == pytest.approx(22.0)


def test_cup_is_reckoned_over_the_width_of_the_face_wherever_it_lies():
    low = replace(board("B1", 500, 160, outline=box(0, 100, 500, 160)), warp=Warp(cup_mm=2.0))
    assert thickness.flattened_mm(low, (500.0, 60.0), EXACT) == pytest.approx(25.0)


def test_boards_named_for_a_part_or_kept_from_it():
    one = board("B1", 500, 60)
    for changed, asked, words in (
        ({}, {}, None), ({"keep_whole": True}, {}, "is kept whole"),
        ({"only_parts": ("a",)}, {}, None), ({"only_parts": ()}, {}, "is kept for other parts"),
        ({}, {"only_boards": ("B1", "B2")}, None),
        ({}, {"only_boards": ("B2",)}, "is not among the boards named for this part"),
        ({}, {"not_boards": ("B2",)}, None),
        ({}, {"not_boards": ("B1",)}, "is ruled out for this part"),
    ):  # fmt: skip
        assert only_boards.refusal(replace(one, **changed), replace(A, **asked), SHOP) == words
        assert refusal_of(replace(one, **changed), replace(A, **asked), EXACT) == words


def test_a_curved_part_is_kept_whole_from_every_zone():
    wane = flaw("F1", FlawKind.WANE, box(0, 0, 500, 8))
    wild = flaw("F2", FlawKind.WILD_GRAIN, box(100, 20, 120, 30))
    one = board("B1", 500, 60, wane, wild)
    hidden = part("a", 1, 9, 9, "hidden")
    wheres = {zone.where for zone in zones_of(one, hidden, EXACT, None)}
    assert wheres == {Where.ALL, Where.NOT_LOW_EDGE, Where.RIM}
    curved = replace(hidden, outline_mm=((0, 0), (9, 0), (9, 9)))
    assert {zone.where for zone in zones_of(one, curved, EXACT, None)} == {Where.ALL}
    assert not LineString([(200, 30), (300, 30)]).intersects(
        ground(zones_of(one, curved, EXACT, None))
    )


def test_a_crack_near_the_middle_runs_from_the_nearer_end():
    for shape, bounds in (
        (box(180, 20, 240, 22), (180, 20, 300, 22)), (box(260, 20, 320, 22), (200, 20, 320, 22)),
    ):  # fmt: skip
        crack = replace(flaw("F1", FlawKind.CHECK, shape), reach_mm=300.0)
        (zone,) = of_flaws(board("B1", 500, 60, crack))
        assert zone.ground.bounds == pytest.approx(bounds)


def test_warp_costs_thickness_whichever_way_it_bends():
    for warp, left in ((Warp(bow_mm=-4.0), 23), (Warp(cup_mm=-2.0), 25), (Warp(twist_mm=-4.0), 25)):
        bent = replace(board("B1", 500, 60), warp=warp)
        assert thickness.flattened_mm(bent, (500.0, 60.0), EXACT) == pytest.approx(left)


def test_the_contract_s_limits_of_wane_and_wild_grain():
    """Wane within 10 mm of one long edge; wild grain within 25 mm of an arris."""
    assert (flaws.WANE_ALLOWED_MM, flaws.ARRIS_RIM_MM) == (10.0, 25.0)
