"""The judge's own view of the ground, at its borders: wood, margins, trims, flaws, thickness."""

from __future__ import annotations

from dataclasses import replace

import pytest
from shapely.geometry import Polygon, box

from scanner.board.board import Board, End
from scanner.board.flaw import FlawKind, FlawState
from scanner.board.form import Warp
from scanner.board.measured import Measured
from scanner.board.seen_piece import SeenPiece
from scanner.placement.layout import Placement
from scanner.placement.parts import Part
from scanner.placement.shop import Shop
from scanner.placement.validator.ground import ground_objections, thickness_left_mm
from scanner.units import mm_from_inches
from tests.instances.tiny import SHOP, board, flaw, part
from tests.placement.flaw_table import TABLE

SPOT = box(100, 20, 130, 40)


def said(one: Board, asked: Part, x: float = 0.0, y: float = 0.0, shop: Shop = SHOP, **more) -> str:
    placed = Placement(asked.name, 1, one.id, x, y, asked.length_mm, asked.width_mm, **more)
    return "; ".join(one.words for one in ground_objections(placed, asked, one, shop))


def spotted(kind: FlawKind, shape: Polygon = SPOT, width: float = 60, **more) -> Board:
    return board("B1", 500, width, flaw("F1", kind, shape, **more))


def test_a_part_may_reach_the_edge_but_not_over_it():
    wanted = part("a", 1, 200, 30)
    for x, y in ((0, 0), (300, 0), (0, 30), (300, 30), (-0.05, 0), (300.05, 30), (9, -0.05)):
        assert said(board("B1", 500, 60), wanted, x, y) == ""
    for x, y in ((-0.07, 0), (300.07, 0), (0, -0.07), (0, 30.07)):
        assert said(board("B1", 500, 60), wanted, x, y).count("is not all within the wood") == 2


def test_both_faces_are_asked_each_for_itself():
    one = board("B1", 500, 60)
    less = {1: one.faces[1], 2: replace(one.faces[2], outline=box(0, 0, 400, 60))}
    found = said(replace(one, faces=less), part("a", 1, 200, 30), 250)
    assert found == "is not all within the wood of face 2"


def test_the_margin_is_u_and_the_sawing_tolerance_together():
    """sqrt(U^2 + (u_scale x)^2) + sawing tolerance; here 2 + 1.5."""
    one = replace(board("B1", 500, 60), outline_u_mm=2.0)
    shop = replace(SHOP, sawing_tolerance_mm=1.5)
    wanted = part("a", 1, 200, 30)
    assert said(one, wanted, 100, 3.45, shop) == ""
    assert said(one, wanted, 100, 3.43, shop).count("than the margin") == 2
    assert said(one, wanted, 100, 26.55, shop) == ""
    assert said(one, wanted, 100, 26.57, shop).count("than the margin") == 2


@pytest.mark.parametrize(("x", "near", "far"), [(100, 1.8, 2.4), (600, 3.8, 4.4), (1000, 5.4, 6.0)])
def test_the_margin_along_the_board_grows_with_the_distance_from_end_a(x, near, far):
    """0.004 x + 1.5 mm: 1.9 to 2.3 beside x = 100 to 200, 5.5 to 5.9 beside 1000 to 1100."""
    one = board("B1", 1400, 100)
    scaled = {n: replace(face, u_scale=0.004) for n, face in one.faces.items()}
    one, shop = replace(one, faces=scaled), replace(SHOP, sawing_tolerance_mm=1.5)
    wanted = part("a", 1, 100, 30)
    for at in (x - near, x + 100 + near):
        beside = replace(one, flaws=(flaw("F1", FlawKind.ROT, box(at - 0.01, 40, at, 50)),))
        assert "rot F1" in said(beside, wanted, x, 30, shop), at
    for at in (x - far, x + 100 + far):
        beside = replace(one, flaws=(flaw("F1", FlawKind.ROT, box(at, 40, at + 0.01, 50)),))
        assert said(beside, wanted, x, 30, shop) == "", at


@pytest.mark.parametrize("x", [100, 1000])
def test_the_margin_across_the_board_grows_with_y_and_not_with_x(x):
    """0.01 y + 1.5 mm: 1.5 at the edge y = 0, 3.5 at y = 200; 2.1 and 2.3 beside y = 60 and 80."""
    one = board("B1", 1400, 200)
    scaled = {n: replace(face, u_scale=0.01) for n, face in one.faces.items()}
    one, shop = replace(one, faces=scaled), replace(SHOP, sawing_tolerance_mm=1.5)
    wanted = part("a", 1, 100, 30)
    for y, is_near in ((1.4, True), (1.5, False), (166.6, True), (166.5, False)):
        assert ("margin" in said(one, wanted, x, y, shop)) == is_near, y
    # What lies near is met wherever along the part it lies.
    for along in (0, 50, 99):
        spot = flaw("F1", FlawKind.ROT, box(x + along, 60, x + along + 1, 80))
        for y, is_near in ((28.0, True), (27.8, False), (82.2, True), (82.4, False)):
            knotty = replace(one, flaws=(spot,))
            assert ("rot F1" in said(knotty, wanted, x, y, shop)) == is_near, (along, y)


def test_each_end_loses_its_own_trim():
    one, shop = board("B1", 500, 60), replace(SHOP, end_trim_seen_mm=12, end_trim_unseen_mm=50)
    wanted = part("a", 1, 200, 60)
    for name, end, trim in (
        ("A", End(True), 12), ("A", End(False), 50), ("A", End(False, 33.0), 33),
        ("B", End(True), 12), ("B", End(False), 50), ("B", End(True, 33.0), 33),
    ):  # fmt: skip
        other = {"A": "B", "B": "A"}[name]
        ended = replace(one, ends={name: end, other: End(True, 0.0)})
        # A wavy end may be a millimetre deeper beside the part.
        for off, is_bad in ((trim - 0.9, False), (trim - 1.1, True)):
            found = said(ended, wanted, off if name == "A" else 300 - off, 0, shop)
            expected = f"takes the {trim} mm that end {name} loses on face"
            assert (expected in found) is is_bad, (name, trim, off)
            assert (found == "") is not is_bad


@pytest.mark.parametrize(("kind", "sound", "is_mild"), TABLE)
def test_each_kind_of_flaw_is_judged_as_the_table_says(kind, sound, is_mild):
    one = spotted(kind, sound=sound)
    through = spotted(kind, sound=sound, is_through=True)
    struck = spotted(kind, sound=sound, state=FlawState.STRUCK)
    possible = spotted(kind, sound=True, state=FlawState.POSSIBLE)
    for faces in ("both", "show", "sound", "hidden"):
        wanted = part("a", 1, 480, 60, faces)
        assert (said(one, wanted, show_face=2) == "") is (is_mild and faces != "both"), faces
        assert said(struck, wanted, show_face=1) == ""
        named = f"{kind.value.replace('_', ' ')} F1 (face 1) for {faces}"
        assert named in said(possible, wanted, show_face=2)
    show = part("a", 1, 480, 60, "show")
    assert "F1" in said(one, show, show_face=1)
    assert "F1" in said(through, show, show_face=2)


def test_a_flaw_stops_a_part_that_reaches_it_and_no_other():
    one = spotted(FlawKind.ROT)
    wanted = part("a", 1, 50, 30)
    for x, y, is_bad in (
        (50, 0, False), (50.05, 0, False), (50.1, 5, True), (130, 5, False), (129.9, 5, True),
        (100, 40, False), (100, -9.95, False), (140, 30, False),
    ):  # fmt: skip
        found = [s for s in said(one, wanted, x, y).split("; ") if "rot" in s]
        assert bool(found) is is_bad, (x, y)


def test_wild_grain_is_kept_25_mm_from_both_arrises():
    sound = part("a", 1, 500, 120, "sound")
    for low, high, is_bad in (
        (25.1, 94.9, False), (24.9, 90, True), (30, 95.1, True), (30, 94.9, False),
    ):  # fmt: skip
        wild = spotted(FlawKind.WILD_GRAIN, box(100, low, 130, high), width=120)
        assert bool(said(wild, sound)) is is_bad, (low, high)
    core = spotted(FlawKind.WILD_GRAIN, box(100, 50, 130, 70), width=120)
    assert said(core, replace(sound, straight_grain="1 in 15"))
    assert said(core, replace(sound, straight_grain="follow")) == ""
    for face in (1, 2):
        assert said(core, part("a", 1, 500, 120, "show"), show_face=face)
    # A curved part has no straight arris: only what lies inside it counts.
    curved = replace(sound, outline_mm=((0, 0), (500, 0), (500, 120), (0, 120)))
    rim = spotted(FlawKind.WILD_GRAIN, box(100, 5, 130, 20), width=120)
    assert said(rim, curved)


def test_straight_grain_keeps_clear_of_sound_knots():
    knotty = spotted(FlawKind.KNOT, sound=True)
    sound = part("a", 1, 480, 60, "sound")
    assert said(knotty, sound) == ""
    assert said(knotty, replace(sound, straight_grain="follow")) == ""
    assert "knot F1" in said(knotty, replace(sound, straight_grain="1 in 15"))
    assert said(spotted(FlawKind.STAIN), replace(sound, straight_grain="1 in 15")) == ""


def test_a_knot_may_be_as_large_as_the_part_allows_by_its_longer_side():
    knotty = spotted(FlawKind.KNOT, sound=True)
    for limit, is_bad in ((29.9, True), (30.0, False), (31.0, False)):
        asked = replace(part("a", 1, 480, 60, "sound"), max_knot_mm=limit)
        assert bool(said(knotty, asked)) is is_bad
        assert said(spotted(FlawKind.STAIN), asked) == ""
    assert said(spotted(FlawKind.KNOT, sound=False), replace(asked, max_knot_mm=99.0))
    # Turned by 45 degrees: 30 mm along, 10 across, 28 x 28 upright.
    slant = Polygon([(100, 20), (121, 41), (114, 48), (93, 27)])
    asked = replace(part("a", 1, 480, 60, "sound"), max_knot_mm=29.5)
    assert said(spotted(FlawKind.KNOT, slant, sound=True), asked)


def test_a_knot_on_the_back_of_a_part_is_no_larger_than_the_part_allows():
    knotty = spotted(FlawKind.KNOT, sound=True)
    for limit, is_bad in ((29.9, True), (30.0, False), (None, False)):
        asked = replace(part("a", 1, 480, 60, "show"), max_knot_mm=limit)
        assert bool(said(knotty, asked, show_face=2)) is is_bad, limit
        assert said(knotty, asked, show_face=1)
        assert said(spotted(FlawKind.STAIN), asked, show_face=2) == ""


def test_a_flaw_is_named_in_the_trade_s_words():
    pocket = said(spotted(FlawKind.BARK_POCKET), part("a", 1, 200, 50))
    assert pocket == "is too near to bark pocket F1 (face 1) for both"


def test_a_pin_hole_is_under_two_millimetres():
    sound = part("a", 1, 480, 60, "sound")
    assert said(spotted(FlawKind.HOLE, box(100, 20, 101.9, 21)), sound) == ""
    assert said(spotted(FlawKind.HOLE, box(100, 20, 102, 21)), sound)


def test_a_hidden_part_carries_wane_on_either_edge_but_not_a_possible_one():
    hidden = part("a", 1, 500, 60, "hidden")
    for shape, is_bad in (
        (box(0, 0, 500, 9.9), False), (box(0, 0, 500, 10.1), True),
        (box(0, 50.1, 500, 60), False), (box(0, 49.9, 500, 60), True),
    ):  # fmt: skip
        assert bool(said(spotted(FlawKind.WANE, shape), hidden)) is is_bad, shape.bounds
        assert said(spotted(FlawKind.WANE, shape, state=FlawState.POSSIBLE), hidden)
        assert said(spotted(FlawKind.ROT, shape), hidden)
        assert said(spotted(FlawKind.WANE, shape), part("a", 1, 500, 60, "sound"))
    curved = replace(hidden, outline_mm=((0, 0), (500, 0), (500, 60), (0, 60)))
    assert said(spotted(FlawKind.WANE, box(0, 0, 500, 5)), curved)


LOW_WANE, HIGH_WANE = box(0, 0, 500, 8), box(0, 52, 500, 60)


@pytest.mark.parametrize("face", [1, 2])
def test_a_hidden_part_carries_wane_on_one_long_edge_and_not_on_both(face):
    hidden, narrow = part("a", 1, 500, 60, "hidden"), part("b", 1, 500, 50, "hidden")
    low, high = flaw("F1", FlawKind.WANE, LOW_WANE), flaw("F2", FlawKind.WANE, HIGH_WANE, (face,))
    one = board("B1", 500, 60, low, high)
    assert said(one, hidden) == "carries wane on both long edges, where one may have some"
    # A part that leaves either edge alone carries but one; so does one beside a struck wane.
    assert said(one, narrow) == said(one, narrow, 0, 10) == ""
    assert said(replace(one, flaws=(low, replace(high, state=FlawState.STRUCK))), hidden) == ""
    # Two that lie on the same edge, one behind the other or on both faces, are no more than one.
    behind = flaw("F3", FlawKind.WANE, box(300, 0, 500, 5), (face,))
    assert said(replace(one, flaws=(low, behind)), hidden) == ""
    # One that comes too far in is named by itself.
    deep = flaw("F4", FlawKind.WANE, box(0, 49, 500, 60), (face,))
    found = said(replace(one, flaws=(low, deep)), hidden)
    assert found == f"is too near to wane F4 (face {face}) for hidden"


def test_wane_on_both_long_edges_counts_wherever_along_them_it_lies():
    hidden = part("a", 1, 500, 60, "hidden")
    low = flaw("F1", FlawKind.WANE, box(0, 0, 100, 8))
    high = flaw("F2", FlawKind.WANE, box(300, 52, 500, 60))
    one = board("B1", 500, 60, low, high)
    assert "both long edges" in said(one, hidden)
    assert (
        said(one, replace(hidden, length_mm=299))
        == said(one, replace(hidden, length_mm=399), 101)
        == ""
    )


def test_a_hidden_part_may_stand_on_the_wane_outside_the_flat_face():
    flat = box(0, 8, 500, 60)
    hidden, sound = part("a", 1, 500, 60, "hidden"), part("b", 1, 500, 60, "sound")
    wane = box(0, 0, 500, 8)
    for state, is_wood in ((FlawState.CONFIRMED, True), (FlawState.STRUCK, False)):
        waney = board(
            "B1", 500, 60, flaw("F1", FlawKind.WANE, wane, (1, 2), state=state), outline=flat
        )
        assert (said(waney, hidden) == "") is is_wood
        assert "not all within the wood of face 1" in said(waney, sound)
    # Wane of face 1 is no wood of face 2; another flaw is no wood at all.
    one_face = board("B1", 500, 60, flaw("F1", FlawKind.WANE, wane, (1,)), outline=flat)
    assert said(one_face, hidden) == "is not all within the wood of face 2"
    stain = board("B1", 500, 60, flaw("F1", FlawKind.STAIN, wane, (1, 2)), outline=flat)
    assert "not all within the wood of face 1" in said(stain, hidden)


@pytest.mark.parametrize("kind", [FlawKind.CHECK, FlawKind.SPLIT, FlawKind.SHAKE])
def test_a_crack_runs_as_far_as_on_its_longer_face(kind):
    wanted = part("a", 1, 100, 60)
    for shape, clear, hit in (
        (box(0, 20, 80, 22), 140, 139.9),
        (box(420, 20, 500, 22), 260, 260.1),
    ):
        crack = replace(flaw("F1", kind, shape), reach_mm=140.0)
        one = board("B1", 500, 60, crack)
        assert said(one, wanted, clear) == ""
        assert f"{kind.value} F1" in said(one, wanted, hit)
        # One that is drawn longer than it is said to reach counts as drawn.
        short = board("B1", 500, 60, replace(crack, reach_mm=10.0))
        assert f"{kind.value} F1" in said(short, wanted, 79.9 if clear == 140 else 320.1)
        assert said(short, wanted, 80 if clear == 140 else 320) == ""
    stain = replace(flaw("F1", FlawKind.ROT, box(0, 20, 80, 22)), reach_mm=140.0)
    assert said(board("B1", 500, 60, stain), wanted, 100) == ""


def test_sapwood_by_face_and_by_what_the_part_allows():
    one = replace(board("B1", 500, 60), sapwood={1: (box(0, 50, 500, 60),), 2: ()})
    show = part("a", 1, 480, 50.05, "show")
    assert said(one, replace(show, sapwood="no"), show_face=2) == ""
    wide = replace(show, width_mm=52)
    assert said(one, replace(wide, sapwood="any"), show_face=1) == ""
    assert said(one, replace(wide, sapwood="no"), show_face=2) == "has sapwood on face 1"
    assert said(one, replace(wide, sapwood="back"), show_face=1) == "has sapwood on face 1"
    assert said(one, replace(wide, sapwood="back"), show_face=2) == ""
    # Without a show face there is no back.
    assert said(one, replace(part("a", 1, 480, 52), sapwood="back")) == "has sapwood on face 1"
    hidden = replace(part("a", 1, 480, 52, "hidden"), sapwood="back")
    assert said(one, hidden, show_face=2) == "has sapwood on face 1"


def test_thickness_left_by_hand():
    """Cases W-1 and W-5 of the check values (circle arcs; half of a twisted corner)."""
    long = board("B1", mm_from_inches(96), mm_from_inches(10))
    long = replace(
        long,
        thickness=Measured(mm_from_inches(1.0), 0.0),
        warp=Warp(-mm_from_inches(0.5), mm_from_inches(0.25), -mm_from_inches(0.5)),
    )
    clean = mm_from_inches(1 / 16)

    def left(length: float, width: float) -> float:
        return thickness_left_mm(long, mm_from_inches(length), mm_from_inches(width), clean)

    # 24 x 5 in: bow 1/32, cup 1/16, half of a quarter of half the twist 1/32: 0.8125 in are left.
    assert left(24, 5) == pytest.approx(mm_from_inches(0.8125), abs=0.02)
    whole = mm_from_inches(1 - 1 / 16 - 0.5 - 0.25 - 0.25)
    assert left(96, 10) == pytest.approx(whole)
    # A piece longer or wider than the board is the board.
    assert left(120, 12) == pytest.approx(whole)
    flat = replace(long, warp=None)
    assert thickness_left_mm(flat, 900, 90, 3.2) == pytest.approx(25.4 - 3.2)
    for warp, loss in ((Warp(bow_mm=4.0), 4.0), (Warp(cup_mm=4.0), 4.0), (Warp(twist_mm=4.0), 2.0)):
        bent = replace(board("B1", 1000, 200), warp=warp)
        assert thickness_left_mm(bent, 1000, 200, 0.0) == pytest.approx(27 - loss)
    # Half as long: a quarter of the bow, and half of the twist.
    bowed = replace(board("B1", 1000, 200), warp=Warp(bow_mm=4.0))
    assert thickness_left_mm(bowed, 500, 200, 0.0) == pytest.approx(26.0, abs=0.001)
    cupped = replace(board("B1", 1000, 200), warp=Warp(cup_mm=4.0))
    assert thickness_left_mm(cupped, 1000, 100, 0.0) == pytest.approx(26.0, abs=0.01)
    twisted = replace(board("B1", 1000, 200), warp=Warp(twist_mm=4.0))
    assert thickness_left_mm(twisted, 500, 200, 0.0) == pytest.approx(26.0)
    assert thickness_left_mm(twisted, 500, 50, 0.0) == pytest.approx(26.75)


def test_the_larger_side_of_both_faces_decides():
    sound = part("a", 1, 480, 60, "sound")
    both = {1: box(100, 20, 105, 25), 2: SPOT}
    knotty = board(
        "B1", 500, 60, replace(flaw("F1", FlawKind.KNOT, SPOT, sound=True), outlines=both)
    )
    for limit, is_bad in ((29.0, True), (30.0, False)):
        assert bool(said(knotty, replace(sound, max_knot_mm=limit))) is is_bad


def test_wood_of_a_piece_that_is_thinner_by_now_is_not_taken():
    """7 mm round a piece, or three tenths of its smaller side, may be its neighbour's."""
    wanted = part("a", 1, 80, 16)
    seen = SeenPiece(1, 100.0, 10.0, 200.0, 40.0, Measured(19.0, 0.5))
    small = SeenPiece(1, 100.0, 10.0, 20.0, 10.0, Measured(19.0, 0.5))
    for piece, x, y, is_bad in (
        (seen, 26.9, 20, False), (seen, 27.1, 20, True), (seen, 293.1, 20, False),
        (seen, 292.9, 20, True), (seen, 150, 0.9, False), (seen, 150, 1.1, True),
        (seen, 150, 43.1, False), (seen, 150, 42.9, True),
        (small, 22.9, 5, False), (small, 23.1, 5, True), (small, 117.1, 5, False),
        (small, 116.9, 5, True), (small, 90, 17.1, False), (small, 90, 16.9, True),
    ):  # fmt: skip
        found = said(replace(board("B1", 500, 60), pieces=(piece,)), wanted, x, y)
        assert found == ("takes wood that is 19.0 mm thick by now" if is_bad else ""), (x, y)
    for thick in (Measured(20.0, 0.5), None):
        known = replace(board("B1", 500, 60), pieces=(replace(seen, thickness=thick),))
        assert said(known, wanted, 150, 20) == ""


def test_warp_is_reckoned_over_the_width_of_the_face_wherever_it_lies():
    low = replace(board("B1", 500, 160, outline=box(0, 100, 500, 160)), warp=Warp(cup_mm=2.0))
    assert thickness_left_mm(low, 500, 60, 0.0) == pytest.approx(25.0)
