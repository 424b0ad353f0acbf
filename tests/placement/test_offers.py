"""Offers: what would let an unplaced part fit is said openly, is true, never done unasked."""

from __future__ import annotations

from dataclasses import replace

import pytest
from shapely.geometry import box

from scanner.board.flaw import FlawKind
from scanner.placement.ground.rooms import Rooms
from scanner.placement.layout import Placement
from scanner.placement.said.reasons import unplaced_of
from scanner.placement.shop import Shop
from scanner.placement.solve import solve
from scanner.placement.stop import Work
from scanner.placement.validator.judge import validate_layout
from tests.instances.tiny import SHOP, board, flaw, part

WITH_ALLOWANCES = replace(SHOP, length_allowance_mm=25.0, width_allowance_mm=12.0)


def nearest(boards, parts, shop: Shop = WITH_ALLOWANCES) -> str:
    layout = solve(boards, parts, shop, Work(20))
    assert validate_layout(layout, boards, parts, shop) == ()
    (unplaced,) = layout.unplaced
    return unplaced.nearest


def all_fit(boards, parts, shop: Shop = WITH_ALLOWANCES) -> bool:
    return solve(boards, parts, shop, Work(20)).unplaced == ()


def test_part_of_the_length_allowance_is_offered_and_enough():
    """1000 mm of board for 985 and 25: 15 of the 25 are left."""
    boards, rail = (board("B1", 1000, 100),), part("rail", 1, 985, 60)
    assert "fits B1 with 15 mm of its 25 mm length allowance" in nearest(boards, (rail,))
    assert all_fit(boards, (replace(rail, length_allowance_mm=15.0),))
    assert not all_fit(boards, (replace(rail, length_allowance_mm=16.0),))


def test_part_of_the_width_allowance_is_offered_and_enough():
    boards, rail = (board("B1", 1000, 70),), part("rail", 1, 900, 60)
    assert "fits B1 with 10 mm of its 12 mm width allowance" in nearest(boards, (rail,))
    assert all_fit(boards, (replace(rail, width_allowance_mm=10.0),))


def test_what_is_left_beside_other_parts_counts():
    """1000 less two parts of 335 and two kerfs of 4 leaves 322: 12 more than the finished 310."""
    boards, rails = (board("B1", 1000, 70),), part("rail", 3, 310, 58)
    said = nearest(boards, (rails,))
    assert "fits B1 beside what lies there with 12 mm of its 25 mm length allowance" in said
    last = replace(rails, name="last", quantity=1, length_allowance_mm=12.0)
    assert all_fit(boards, (replace(rails, quantity=2), last))


def test_a_flaw_that_the_faces_would_have_to_accept_is_named():
    knot = flaw("F1", FlawKind.KNOT, box(500, 30, 510, 40), sound=True)
    boards, rail = (board("B1", 1000, 70, knot),), part("rail", 1, 910, 58)
    assert "fits B1 if knot F1 (face 1) may be in it (faces: show)" in nearest(boards, (rail,))
    assert all_fit(boards, (replace(rail, faces="show"),))


@pytest.mark.parametrize(
    ("faces", "asks"),
    [
        ("both", "free of flaws on both faces"),
        ("show", "free of flaws on one face and of knots larger than 20 mm"),
        ("sound", "sound and free of knots larger than 20 mm"),
        ("hidden", "sound and free of knots larger than 20 mm"),
    ],
)
def test_the_largest_knot_a_part_allows_is_told_with_what_it_asks_of_its_faces(faces, asks):
    knotty = board("B1", 400, 60, flaw("F1", FlawKind.KNOT, box(180, 20, 215, 40), sound=True))
    rail = part("rail", 1, 400, 60, faces)
    entry = unplaced_of(replace(rail, max_knot_mm=20.0), 1, (knotty,), SHOP, False)
    assert entry.reason == f"no board is {asks} over 400 x 60 mm"
    assert "between knot F1 and the board's edge" in entry.nearest
    if faces != "both":
        assert unplaced_of(rail, 1, (knotty,), SHOP, False).reason.startswith("more parts than")


def test_how_much_shorter_where_no_allowance_is_enough():
    """1020 and 25 on 1000: 45 mm."""
    boards, rail = (board("B1", 1000, 70),), part("rail", 1, 1020, 58)
    assert "fits B1 if 45 mm shorter" in nearest(boards, (rail,))
    assert all_fit(boards, (replace(rail, length_mm=975.0),))


def test_nothing_is_offered_that_leaves_no_allowance_to_work_with():
    """Two millimetres over are less than a kerf: no end could be squared."""
    said = nearest((board("B1", 1000, 100),), (part("rail", 1, 998, 60),))
    assert "allowance" not in said
    assert "fits B1 if 23 mm shorter" in said


@pytest.mark.parametrize(("length", "said"), [(985.0, "9/16"), (980.0, "3/4")])
def test_inches_are_offered_in_sixteenths_rounded_down(length, said):
    """15 mm are 9/16 in (14.3) and not 5/8 (15.9); 20 mm are 3/4 (19.05)."""
    shop = replace(WITH_ALLOWANCES, units="inch")
    text = nearest((board("B1", 1000, 100),), (part("rail", 1, length, 60),), shop)
    assert f"fits B1 with {said} in of its 1 in length allowance" in text


def test_an_allowance_is_never_given_up_unasked():
    boards, rail = (board("B1", 1000, 100),), part("rail", 1, 985, 60)
    assert solve(boards, (rail,), WITH_ALLOWANCES, Work(20)).placements == ()


def test_a_set_hears_what_allowance_would_make_room_for_it():
    """Four fronts of 530 and 25, three kerfs of 4, on 2200 mm: (2200 - 12) / 4 - 530 = 17."""
    fronts = replace(part("front", 4, 530, 60), match="fronts:in_order")
    boards = (board("B1", 2200, 80),)
    said = nearest(boards, (fronts,))
    assert "B1 could hold all of it with 17 mm of the 25 mm length allowance" in said
    assert all_fit(boards, (replace(fronts, length_allowance_mm=17.0),))
    assert not all_fit(boards, (replace(fronts, length_allowance_mm=18.0),))


def test_a_panel_hears_what_allowance_would_make_room_for_its_staves():
    """Three staves of 800 and 25, two kerfs, on 2460 mm: (2460 - 8) / 3 - 800 = 17."""
    top = replace(part("top", 1, 800, 300), staves="3")
    boards = (board("B1", 2460, 112),)
    said = nearest(boards, (top,))
    assert "B1 could hold all of it with 17 mm of the 25 mm length allowance" in said
    assert all_fit(boards, (replace(top, length_allowance_mm=17.0),))


def test_what_ends_a_room_is_called_as_it_is_written_on_the_wood() -> None:
    """A left-over between the one rail, or the second of two, and the board's edge."""
    for count, name in ((1, "rail"), (2, "rail 2")):
        boards, rails = (board("B1", 300 * count + 200, 60),), part("rail", count, 280, 60)
        slat = replace(part("slat", 1, 250, 60), filler=True)
        (left,) = solve(boards, (rails, slat), SHOP, Work(20)).unplaced
        assert f" between {name} and the board's edge" in left.nearest, left.nearest


def test_a_missing_spare_says_which_left_over_came_nearest() -> None:
    boards = (board("B1", 900, 60), board("B2", 500, 60))
    rail = replace(part("rail", 1, 600, 60), spares=1)
    layout = solve(boards, (rail,), SHOP, Work(20))
    (spare,) = layout.unplaced
    # 900 less the rail and a kerf; B2 is not used, so it gives no spare.
    assert (spare.part, spare.copies) == ("rail", 1)
    assert (
        spare.reason
        == "spare: no left-over of the boards used is free of flaws on both faces over 600 x 60 mm"
    )
    assert spare.nearest.startswith("B1 has 296 x 60 mm")
    assert validate_layout(layout, boards, (rail,), SHOP) == ()


def test_what_would_fit_as_it_is_in_place_of_others_is_no_offer():
    rooms = Rooms(SHOP, {"B1": (Placement("b", 1, "B1", 0.0, 0.0, 950.0, 60.0),)})
    found = unplaced_of(part("a", 1, 900, 50), 1, (board("B1", 1000, 60),), SHOP, True, rooms)
    assert "counts for more" in found.reason and "allowance" not in found.nearest


def test_a_search_that_ended_too_soon_says_so():
    rooms = Rooms(SHOP, {"B1": ()})
    found = unplaced_of(part("a", 1, 900, 50), 1, (board("B1", 1000, 60),), SHOP, True, rooms)
    assert found.reason.startswith("the search passed over room for it: B1 holds it")


def missing_beside_a_cut_rail(board_width_mm):
    """Return what is said of a slat where a rail of 60 mm is cut out of the same stretch."""
    boards, rail = (board("B1", 1000, board_width_mm),), part("rail", 1, 950, 60)
    first = solve(boards, (rail,), SHOP, Work(5))
    cut = replace(first, placements=(replace(first.placements[0], state="cut"),))
    (missing,) = solve(boards, (rail, part("slat", 1, 900, 50)), SHOP, Work(5), keep=cut).unplaced
    return missing


def test_room_beside_a_cut_part_is_left_to_the_hand():
    """The search lays nothing in the stretch of a part that is cut, so it passed nothing over."""
    missing = missing_beside_a_cut_rail(130)
    assert (missing.part, missing.copies) == ("slat", 1)
    assert missing.reason.startswith("B1 has room for it only beside what is cut or locked there")
    assert missing.nearest == "lay it there by hand"


def test_no_room_beside_a_cut_part_is_none_for_the_hand_either():
    assert "what lies there counts for more" in missing_beside_a_cut_rail(110).reason


def test_in_inches_a_size_is_told_one_way():
    """25 x 3 1/4 in asked for, on a board that gives just that: once said as 24 15/16 too."""
    shop = replace(SHOP, units="inch")
    rail = replace(part("rail", 2, 635, 82.55))
    lying = Placement("b", 1, "B1", 0.0, 0.0, 635.0, 82.55)
    rooms = Rooms(shop, {"B1": (lying,)})
    found = unplaced_of(rail, 1, (board("B1", 635.4, 84.6),), shop, True, rooms)
    assert "B1 could give 25 in x 3 1/4 in" in found.reason
    assert found.nearest.startswith("B1 has 25 in x 3 1/4 in")
