"""The judge on sets, staves, slices, sizes that give and turned parts, at their borders."""

from __future__ import annotations

from dataclasses import replace

import pytest
from shapely.geometry import box

from scanner.board.form import Warp
from scanner.board.measured import Measured
from scanner.placement.layout import Placement
from scanner.placement.parts import Part
from scanner.placement.shop import Shop
from scanner.placement.validator.sets import set_objections
from scanner.placement.validator.sizes import finished_size_mm, size_objections, size_ranges_mm
from scanner.placement.validator.slices import one_of_each_blank, slice_objections
from scanner.placement.validator.staves import glued_up, joint_loss_mm, stave_objections
from scanner.placement.validator.turn import ground_of, shape_of, turn_objections, upright
from tests.instances.tiny import SHOP, board, part

BOARDS = {id: board(id, 2000, 300) for id in ("B1", "B2", "B3")}
DOORS = (replace(part("door", 3, 200, 60), match="doors"),)
FRONTS = (replace(part("front", 3, 200, 60), match="fronts:in_order"),)


def door(copy: int, x: float, y: float, name: str = "door", board: str = "B1", **more) -> Placement:
    return replace(Placement(name, copy, board, x, y, 200.0, 60.0), **more)


def of_sets(*placed: Placement, parts=DOORS, boards=BOARDS) -> str:
    return "; ".join(map(str, set_objections(placed, boards, parts, 4.0)))


BESIDE = (door(1, 0, 0), door(2, 0, 64), door(3, 204, 30))


def test_members_that_hang_together_meet_no_objection():
    assert of_sets(*BESIDE) == ""
    assert of_sets() == ""
    assert of_sets(*BESIDE, parts=(replace(DOORS[0], match=None),)) == ""


def test_a_set_is_placed_whole_or_not_at_all():
    assert of_sets(*BESIDE[:2]) == "set doors: 2 of 3 door placed, not all or none"
    # Begun: what is cut stays, whatever became of the rest.
    for changed in ({"state": "cut"}, {"state": "done"}, {"locked": True}):
        assert of_sets(replace(BESIDE[0], **changed), BESIDE[1]) == ""
    assert "not all or none" in of_sets(replace(BESIDE[0], state="laid_out"), BESIDE[1])


def test_one_alone_is_no_set():
    one = (replace(DOORS[0], quantity=1, spares=1),)
    assert of_sets(door(1, 0, 0), door(2, 1000, 0), parts=one) == ""
    two = (replace(DOORS[0], quantity=2),)
    far = of_sets(door(1, 0, 0), door(2, 300, 0), door(3, 600, 0), parts=two)
    assert far == ""  # two groups are allowed, the third is a spare


def test_a_set_lies_on_one_board_or_on_two_alike():
    pair = (door(1, 0, 0), door(2, 0, 64), door(3, 0, 0, board="B2"))
    assert of_sets(*pair) == ""
    three = (door(1, 0, 0), door(2, 0, 0, board="B3"), door(3, 0, 0, board="B2"))
    assert "set doors lies on 3 boards" in of_sets(*three)
    for thick, is_bad in ((30.2, False), (30.3, True), (23.8, False), (23.7, True)):
        boards = {**BOARDS, "B2": replace(BOARDS["B2"], thickness=Measured(thick, 0.0))}
        found = of_sets(*pair, boards=boards)
        assert (found == "set doors lies on B1 and B2, which are not alike") is is_bad, thick
        assert bool(found) is is_bad
    walnut = {**BOARDS, "B2": replace(BOARDS["B2"], species="walnut")}
    assert "not alike" in of_sets(*pair, boards=walnut)
    same = {**BOARDS, "B2": replace(BOARDS["B2"], species="White Ash")}
    assert of_sets(*pair, boards=same) == ""


@pytest.mark.parametrize(("gap", "is_near"), [(4.0, True), (5.0, True), (5.1, True), (5.2, False)])
def test_members_stand_a_kerf_and_a_millimetre_apart_at_most(gap, is_near):
    for second, third in (
        (door(2, 0, 60 + gap), door(3, 0, 2 * (60 + gap))),
        (door(2, 200 + gap, 0), door(3, 2 * (200 + gap), 0)),
        (door(2, 200 + gap, 59), door(3, 2 * (200 + gap), 118)),
    ):
        found = of_sets(door(1, 0, 0), second, third)
        assert (found == "") is is_near, (second, found)
        if not is_near:
            assert "set doors: its members do not lie beside each other" in found


def test_members_that_only_meet_in_a_corner_are_no_neighbours():
    corner = (door(1, 0, 0), door(2, 204, 64), door(3, 408, 128))
    assert "do not lie beside each other" in of_sets(*corner)
    # Side by side they share a stretch of their sides, however short.
    assert of_sets(door(1, 0, 0), door(2, 199, 64), door(3, 398, 128)) == ""


def test_spares_may_lie_further_off():
    spare = (replace(DOORS[0], quantity=2, spares=2),)
    far = (door(1, 0, 0), door(2, 0, 64), door(3, 700, 0), door(4, 1400, 0))
    assert of_sets(*far, parts=spare) == ""
    asked = (replace(DOORS[0], quantity=4),)
    assert "do not lie beside" in of_sets(*far, parts=asked)


def test_no_other_part_lies_between_the_members():
    others = (*DOORS, part("peg", 1, 100, 20))
    two_groups = (door(1, 0, 0), door(2, 0, 64), door(3, 404, 0))
    peg = Placement("peg", 1, "B1", 250, 20, 100, 20)
    # Members of one group on two opposite sides: left and right, or above and below.
    ring = (door(1, 0, 100), door(2, 0, 164), door(3, 204, 164))
    assert of_sets(*two_groups, peg, parts=others) == ""
    above_and_below = (door(1, 0, 0), door(2, 204, 30), door(3, 0, 80))
    between = replace(peg, x_mm=50, y_mm=61, width_mm=18)
    assert "peg 1 lies between its members on B1" in of_sets(
        *above_and_below, between, parts=others
    )
    beside = replace(peg, x_mm=50, y_mm=161)
    assert of_sets(*above_and_below, beside, parts=others) == ""
    assert of_sets(*ring, replace(between, board="B2"), parts=others) == ""
    left_and_right = (door(1, 0, 0), door(2, 150, 64), door(3, 310, 0))
    peg_in = replace(peg, x_mm=205, y_mm=10)
    assert "lies between" in of_sets(*left_and_right, peg_in, parts=others)
    assert of_sets(*left_and_right, replace(peg_in, y_mm=125, x_mm=205), parts=others) == ""


def test_a_set_in_order_runs_along_the_grain():
    row = [door(n, 204.0 * (n - 1), 0, "front") for n in (1, 2, 3)]
    assert of_sets(*row, parts=FRONTS) == ""
    swapped = [row[0], replace(row[1], copy=3), replace(row[2], copy=2)]
    assert "its members on B1 are not in order along the grain" in of_sets(*swapped, parts=FRONTS)
    stacked = [row[0], replace(row[1], x_mm=0.0, y_mm=64.0), replace(row[2], x_mm=204.0)]
    assert "two of its members on B1 do not lie one after another" in of_sets(
        *stacked, parts=FRONTS
    )
    # Beginning just where the other ends is one after another.
    touching = [row[0], replace(row[1], x_mm=200.0), replace(row[2], x_mm=400.0)]
    assert "one after another" not in of_sets(*touching, parts=FRONTS)
    listed = (
        replace(part("front", 1, 200, 60), match="f:in_order"),
        replace(part("last", 2, 200, 60), match="f:in_order"),
    )
    first = [door(1, 0, 0, "front"), door(1, 204, 0, "last"), door(2, 408, 0, "last")]
    assert of_sets(*first, parts=listed) == ""
    assert "not in order" in of_sets(*first, parts=listed[::-1])
    # Sets without an order may lie anyhow.
    assert of_sets(door(2, 0, 0), door(1, 204, 0), door(3, 0, 64)) == ""


TOP = replace(part("top", 1, 800, 400), staves="4")


def stave(n: int | None, width: float = 106.0, **more) -> Placement:
    x = 804.0 * ((n or 1) - 1)
    return replace(Placement("top", 1, "B1", x, 0.0, 800.0, width, stave=n), **more)


PANEL = tuple(stave(n) for n in (1, 2, 3, 4))


def of_staves(*placed: Placement, asked: Part = TOP, shop: Shop = SHOP, boards=BOARDS) -> str:
    return "; ".join(map(str, stave_objections(placed, boards, (asked,), shop)))


def test_staves_make_up_the_panel_when_they_are_jointed():
    assert joint_loss_mm(SHOP) == 6.0
    assert joint_loss_mm(Shop.inch()) == 6.35  # 1/4 in
    assert of_staves(*PANEL) == ""
    # 4 x (106 - 6) = 400; a tenth either way is nothing.
    for change, is_bad in ((0.09, False), (-0.09, False), (0.12, True), (-0.12, True)):
        found = of_staves(*PANEL[:3], stave(4, 106 + change))
        assert ("its staves make" in found) is is_bad, change
    assert "make 398.0 mm when jointed, 400.0 are needed" in of_staves(*PANEL[:3], stave(4, 104))
    allowed = replace(SHOP, width_allowance_mm=8.0)
    assert "408.0 are needed" in of_staves(*PANEL, shop=allowed)
    own = replace(TOP, width_allowance_mm=0.0)
    assert of_staves(*PANEL, asked=own, shop=allowed) == ""
    gives = replace(TOP, width_min_mm=390.0, width_max_mm=410.0)
    for width, is_bad in ((96.0, False), (95.8, True), (116.0, False), (116.2, True)):
        found = of_staves(*PANEL[:3], stave(4, width), asked=gives)
        assert bool(found) is is_bad, width


def test_staves_are_numbered_from_one_and_as_many_as_asked():
    assert "its staves are numbered [1, 2, 3, 5]" in of_staves(*PANEL[:3], stave(5))
    five = [stave(n, 86.0) for n in (1, 2, 3, 4, 5)]
    assert of_staves(*five) == "top 1 is to have 4 staves, not 5"
    assert of_staves(*five, asked=replace(TOP, staves="auto")) == ""
    begun = [stave(1, state="cut"), stave(3), stave(4)]
    assert of_staves(*begun) == ""
    assert of_staves(stave(1, locked=True), stave(3)) == ""


def test_a_panel_is_whole_or_glued_up_as_asked():
    whole = stave(None, 400.0)
    assert of_staves(whole) == "top 1 is to be glued up from 4 staves and is whole"
    for staves in ("", "1", "auto"):
        assert of_staves(whole, asked=replace(TOP, staves=staves)) == ""
    filler = replace(TOP, filler=True)
    curved = replace(TOP, outline_mm=((0, 0), (800, 0), (800, 400)))
    for asked in (filler, curved):
        assert of_staves(whole, asked=asked) == ""
        assert "which was not asked for" in of_staves(*PANEL, asked=asked)
    for staves in ("", "1"):
        found = of_staves(*PANEL, asked=replace(TOP, staves=staves))
        assert "top 1 is glued up, which was not asked for" in found
    assert "is whole and glued up at once" in of_staves(*PANEL[:3], replace(PANEL[3], stave=None))


def test_staves_come_from_one_board_or_once_begun_from_two_alike():
    two = (*PANEL[:3], replace(PANEL[3], board="B2"))
    assert of_staves(*two) == "top 1: its staves come from B1, B2"
    begun = (replace(two[0], state="milled"), *two[1:])
    assert of_staves(*begun) == ""
    for thick, is_bad in ((30.2, False), (30.3, True)):
        boards = {**BOARDS, "B2": replace(BOARDS["B2"], thickness=Measured(thick, 0.0))}
        assert bool(of_staves(*begun, boards=boards)) is is_bad
    walnut = {**BOARDS, "B2": replace(BOARDS["B2"], species="walnut")}
    assert of_staves(*begun, boards=walnut)
    three = (begun[0], begun[1], replace(begun[2], board="B3"), begun[3])
    assert of_staves(*three) == "top 1: its staves come from B1, B2, B3"


def test_a_panel_counts_as_one_part_once_its_staves_are_there():
    (glued,) = glued_up(PANEL, (TOP,), SHOP)
    assert (glued.width_mm, glued.stave) == (400.0, None)
    assert glued_up(PANEL[:3], (TOP,), SHOP) == []
    # A millimetre short is still a panel, a missing stave is not.
    for width, is_there in ((105.1, True), (105.0, False), (104.9, False)):
        assert bool(glued_up((*PANEL[:3], stave(4, width)), (TOP,), SHOP)) is is_there, width
    other = Placement("leg", 1, "B1", 0, 200, 100, 30)
    assert glued_up((other, *PANEL), (TOP, part("leg", 1, 100, 30)), SHOP) == [other, glued]


SLICED = (replace(part("door", 2, 590, 60), thickness_mm=8.0, match="doors:bookmatch"),)


def slice_(copy: int, layer: int | None, **more) -> Placement:
    return replace(Placement("door", copy, "B1", 0.0, 0.0, 590.0, 60.0, layer=layer), **more)


def of_slices(*placed: Placement, parts=SLICED, shop: Shop = SHOP, boards=BOARDS) -> str:
    return "; ".join(map(str, slice_objections(placed, boards, parts, shop)))


def test_slices_and_their_saw_fit_into_the_board_s_thickness():
    """Two of 8, 3.2 each for their faces, a kerf of 4: 26.4 of 27 mm."""
    pair = (slice_(1, 1), slice_(2, 2))
    assert of_slices(*pair) == ""
    for thick, is_bad in ((26.4, False), (26.39, True)):
        boards = {"B1": replace(BOARDS["B1"], thickness=Measured(thick, 0.0))}
        assert bool(of_slices(*pair, boards=boards)) is is_bad
    tight = of_slices(*pair, parts=(replace(SLICED[0], thickness_mm=9.0),))
    assert tight == "set doors:bookmatch: 2 slices need 28.4 mm, B1 has 27.0 mm when flat"
    # Clean-up is in the slices' own faces.
    assert of_slices(*pair, shop=replace(SHOP, cleanup_mm=3.0)) == ""
    three = (*pair, slice_(3, 3))
    assert "3 slices need 41.6 mm" in of_slices(*three)


def test_slices_are_numbered_and_all_members_are_slices():
    assert "its slices on B1 are not numbered from 1 on" in of_slices(slice_(1, 1), slice_(2, 3))
    assert "some of its members are slices and some are not" in of_slices(
        slice_(1, 1), slice_(2, None, x_mm=700.0)
    )
    assert of_slices(slice_(1, None), slice_(2, None, x_mm=700.0)) == ""
    plain = (replace(SLICED[0], match="doors"),)
    assert of_slices(slice_(1, 1), slice_(2, 2), parts=plain) == (
        "B1: door 1 is a slice, which it does not ask for; "
        "B1: door 2 is a slice, which it does not ask for"
    )
    # Two blanks, each numbered by itself.
    two = (slice_(1, 1), slice_(2, 2), slice_(3, 1, x_mm=700.0), slice_(4, 2, x_mm=700.0))
    assert of_slices(*two) == ""


@pytest.mark.parametrize("field", ["x_mm", "y_mm", "length_mm", "width_mm"])
def test_slices_of_one_blank_lie_one_below_the_other(field):
    for off, blanks in ((0.04, 1), (-0.04, 1), (0.06, 2), (-0.06, 2)):
        lower = slice_(2, 2)
        lower = replace(lower, **{field: getattr(lower, field) + off})
        assert len(one_of_each_blank((slice_(1, 1), lower))) == blanks, (field, off)
    assert len(one_of_each_blank((slice_(1, 1), slice_(2, 2, board="B2")))) == 2
    assert len(one_of_each_blank((slice_(1, None), slice_(2, None)))) == 2
    assert len(one_of_each_blank((slice_(1, None), slice_(2, 1)))) == 2


SLAT = part("slat", 2, 300, 60)


def sized(copy: int, length: float, width: float = 60.0, name: str = "slat") -> Placement:
    return Placement(name, copy, "B1", 0, 0, length, width)


def test_sizes_that_give_are_one_within_a_row_and_where_they_are_to_be_equal():
    gives = replace(SLAT, length_min_mm=280.0)
    for other, is_bad in ((290.0, False), (290.09, False), (290.11, True), (289.8, True)):
        found = list(size_objections((sized(1, 290), sized(2, other)), (gives,), SHOP))
        assert bool(found) is is_bad, other
    (found,) = size_objections((sized(1, 290), sized(2, 295)), (gives,), SHOP)
    assert str(found) == "row slat: its parts are not of one length, 290.0 to 295.0"
    # A size that does not give is judged elsewhere, copy by copy.
    assert not list(size_objections((sized(1, 290), sized(2, 295)), (SLAT,), SHOP))
    assert not list(size_objections((sized(1, 290, 50), sized(2, 290, 55)), (gives,), SHOP))
    wide = replace(SLAT, width_max_mm=70.0)
    (found,) = size_objections((sized(1, 300, 60), sized(2, 300, 65)), (wide,), SHOP)
    assert str(found) == "row slat: its parts are not of one width, 60.0 to 65.0"
    rows = (
        replace(gives, equal="slats"),
        replace(part("low", 1, 300, 60), length_min_mm=280.0, equal="slats"),
    )
    placed = (sized(1, 290), sized(1, 295, name="low"))
    (found,) = size_objections(placed, rows, SHOP)
    assert str(found).startswith("slats: its parts are not of one length")
    apart = tuple(replace(row, equal=None) for row in rows)
    assert not list(size_objections(placed, apart, SHOP))
    assert not list(size_objections((), rows, SHOP))


def test_a_finished_size_is_the_rough_one_without_its_allowances():
    shop = replace(SHOP, length_allowance_mm=25.0, width_allowance_mm=12.0)
    assert finished_size_mm(sized(1, 325, 72), SLAT, shop) == (300.0, 60.0)
    own = replace(SLAT, length_allowance_mm=0.0, width_allowance_mm=2.0)
    assert finished_size_mm(sized(1, 325, 72), own, shop) == (325.0, 70.0)
    assert size_ranges_mm(SLAT) == ((300, 60), (300, 60))
    gives = replace(SLAT, length_min_mm=1.0, length_max_mm=2.0, width_min_mm=3.0, width_max_mm=4.0)
    assert size_ranges_mm(gives) == ((1.0, 3.0), (2.0, 4.0))


LEG = replace(part("leg", 1, 500, 40), straight_grain="follow")


def turned(angle: float, asked: Part = LEG, grain: float | None = None, **more) -> str:
    p = replace(Placement("leg", 1, "B1", 100.0, 100.0, 500.0, 40.0, angle), **more)
    return "; ".join(
        one.words for one in turn_objections(p, asked, replace(BOARDS["B1"], grain_deg=grain))
    )


def test_only_what_follows_the_grain_is_turned_and_fifteen_degrees_at_most():
    assert turned(5.0) == turned(-15.0) == turned(15.0) == turned(0.0) == ""
    assert turned(15.1) == "is turned by 15.1 degrees, more than 15"
    assert turned(-15.1) == "is turned by -15.1 degrees, more than 15"
    for asked in (
        replace(LEG, straight_grain=None), replace(LEG, straight_grain="1 in 15"),
        replace(LEG, match="legs"), replace(LEG, staves="2"), replace(LEG, staves="auto"),
        replace(LEG, outline_mm=((0, 0), (500, 0), (500, 40))),
    ):  # fmt: skip
        assert turned(5.0, asked) == "is turned, which it does not ask for"
        assert turned(0.0, asked, grain=9.0) == ""
    # A filler is never glued up, so its staves keep nothing from being turned.
    assert turned(5.0, replace(LEG, staves="2", filler=True)) == ""
    assert turned(5.0, replace(LEG, staves="")) == ""


def test_a_part_lies_within_a_degree_of_the_grain_unless_it_is_held():
    for angle, is_bad in ((5.0, False), (6.0, False), (4.0, False), (6.1, True), (3.9, True)):
        assert bool(turned(angle, grain=5.0)) is is_bad, angle
    assert turned(6.5, grain=5.0) == "lies 1.5 degrees off the grain"
    assert turned(-5.0, grain=5.0) == "lies 10.0 degrees off the grain"
    assert turned(9.0, grain=5.0, locked=True) == ""
    for state in ("cut", "milled", "resting", "done"):
        assert turned(9.0, grain=5.0, state=state) == ""
    assert turned(9.0, grain=5.0, state="laid_out")


def test_the_ground_of_a_turned_part_and_the_rectangle_round_it():
    p = Placement("leg", 1, "B1", 100.0, 50.0, 500.0, 40.0, 90.0)
    # A quarter turn from x towards y about the corner of smallest x and y.
    assert shape_of(p).bounds == pytest.approx((60, 50, 100, 550))
    assert shape_of(p, 10, 15).bounds == pytest.approx((85, 50, 90, 550))
    assert shape_of(p, 30).bounds == pytest.approx((60, 50, 70, 550))
    blank = upright(p)
    assert (blank.x_mm, blank.y_mm) == pytest.approx((60, 50))
    assert (blank.length_mm, blank.width_mm, blank.angle_deg) == pytest.approx((40, 500, 0))
    small = replace(p, angle_deg=30.0)
    assert shape_of(small).area == pytest.approx(500 * 40)
    assert shape_of(small).bounds[2] == pytest.approx(100 + 500 * 3**0.5 / 2)


def test_a_curved_part_takes_its_own_shape_with_half_its_allowance_round_it():
    triangle = ((0.0, 0.0), (500.0, 0.0), (0.0, 40.0))
    curved = replace(part("leg", 1, 500, 40), outline_mm=triangle)
    p = Placement("leg", 1, "B1", 100.0, 50.0, 510.0, 46.0)
    drawn = ground_of(p, curved)
    # 10 more along and 6 across: the shape stands in the middle, 3 mm all round it.
    assert drawn.bounds == pytest.approx((102, 50, 608, 96), abs=0.5)
    assert drawn.covers(box(105, 53, 106, 54)) and not drawn.covers(box(590, 85, 591, 86))
    exact = ground_of(replace(p, length_mm=500.0, width_mm=40.0), curved)
    assert exact.area == pytest.approx(500 * 40 / 2)
    assert ground_of(p, part("leg", 1, 500, 40)).bounds == pytest.approx((100, 50, 610, 96))


def test_slices_are_cut_from_a_piece_that_the_machines_take():
    """Bow 4 mm over 2000: 590 long loses 0.35 mm, 1500 long 2.25."""
    pair = (slice_(1, 1), slice_(2, 2))
    boards = {"B1": replace(BOARDS["B1"], warp=Warp(bow_mm=4.0))}
    assert of_slices(*pair, boards=boards, shop=replace(SHOP, shortest_piece_mm=0.0)) == ""
    long = replace(SHOP, shortest_piece_mm=1500.0)
    assert "B1 has 24.8 mm when flat" in of_slices(*pair, boards=boards, shop=long)
