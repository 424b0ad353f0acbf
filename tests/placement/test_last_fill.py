"""What the rows of the search pass over is laid in the end, where saws and judge allow it."""

from dataclasses import replace

import pytest
from shapely.geometry import box

from scanner.board.flaw import FlawKind
from scanner.board.measured import Measured
from scanner.board.seen_piece import SeenPiece
from scanner.placement.finish.last_fill import with_last_fill
from scanner.placement.ground.rooms import Rooms
from scanner.placement.layout import Placement
from scanner.placement.solve import solve
from scanner.placement.stop import Work
from scanner.placement.validator.judge import validate_layout
from tests.instances.tiny import SHOP, board, flaw, part


def lies(x, y, length, width, name="lies", copy=1):
    return Placement(name, copy, "B1", x, y, length, width)


def filled(one, parts, placed=(), kept=(), cut_class="three_stage_trimmed"):
    shop = replace(SHOP, cut_class=cut_class)
    found = with_last_fill((one,), parts, placed, kept, None, shop)
    assert found[: len(placed)] == list(placed)
    return found[len(placed) :]


def test_parts_that_fill_a_board_to_the_tenth_are_both_laid():
    # 80.3 + a kerf of 4.0 + 82.3: on rows of a millimetre one of them would seem too wide.
    one, parts = board("B1", 400, 166.6), (part("a", 1, 400, 80.3), part("b", 1, 400, 82.3))
    layout = solve((one,), parts, SHOP, Work(20))
    assert layout.summary.placed == 2
    assert validate_layout(layout, (one,), parts, SHOP) == ()


@pytest.mark.parametrize(("wide", "laid"), [(60.3, 0), (52.3, 1)])
def test_a_hidden_part_that_fills_a_board_is_laid_with_wane_on_one_edge_only(wide, laid):
    waney = [flaw(f"F{n}", FlawKind.WANE, box(0, y, 400, y + 8)) for n, y in enumerate((0.0, 52.3))]
    one, parts = board("B1", 400, 60.3, *waney), (part("a", 1, 400, wide, "hidden"),)
    assert len(filled(one, parts)) == laid
    layout = solve((one,), parts, SHOP, Work(20))
    assert layout.summary.placed == laid
    assert validate_layout(layout, (one,), parts, SHOP) == ()


@pytest.mark.parametrize(("wide", "laid"), [(60, 0), (52, 2)])
def test_hidden_parts_of_a_set_carry_wane_on_one_edge_only(wide, laid):
    waney = [flaw(f"F{n}", FlawKind.WANE, box(0, y, 404, y + 8)) for n, y in enumerate((0, 54))]
    pair = replace(part("a", 2, 200, wide, "hidden"), match="pair")
    layout = solve((board("B1", 404, 62, *waney),), (pair,), SHOP, Work(20), in_full=False)
    assert layout.summary.placed == laid


@pytest.mark.parametrize(("wide", "laid"), [(82.3, 1), (82.4, 0)])
def test_a_tenth_too_wide_is_not_laid(wide, laid):
    one, parts = board("B1", 400, 166.6), (part("lies", 1, 400, 80.3), part("b", 1, 400, wide))
    found = filled(one, parts, [lies(0, 0, 400, 80.3)])
    assert [(p.x_mm, p.y_mm) for p in found] == [(0.0, 84.3)] * laid


def test_as_many_copies_are_laid_as_are_missing_the_dearest_part_first():
    one = board("B1", 1000, 100)
    parts = (part("cheap", 5, 300, 100), replace(part("dear", 1, 300, 100), priority=2.0))
    names = [(p.part, p.copy) for p in filled(one, parts)]
    assert names == [("dear", 1), ("cheap", 1), ("cheap", 2)]


@pytest.mark.parametrize(("cut_class", "laid"), [("three_stage", 0), ("three_stage_trimmed", 1)])
def test_no_part_is_laid_that_the_shop_cannot_saw_free(cut_class, laid):
    # Two neighbours on different lines; the third part would lie along both of them.
    one = board("B1", 604, 144)
    placed = [lies(0, 0, 300, 50), lies(304, 30, 300, 50, copy=2)]
    parts = (part("lies", 2, 300, 50), part("long", 1, 450, 60))
    assert len(filled(one, parts, placed, cut_class=cut_class)) == laid


def test_the_stretch_beside_a_part_that_is_cut_is_not_to_be_had():
    one, parts = board("B1", 700, 200), (part("lies", 1, 400, 80), part("b", 1, 300, 80))
    cut = replace(lies(0, 0, 400, 80), state="cut")
    assert filled(one, parts, [cut], (cut,)) == []
    assert len(filled(board("B1", 704, 200), parts, [cut], (cut,))) == 1


def test_the_clear_face_is_shown():
    knot = flaw("F1", FlawKind.KNOT, box(100, 40, 130, 60), faces=(1,), sound=True)
    (found,) = filled(board("B1", 400, 100, knot), (part("top", 1, 400, 100, "show"),))
    assert found.show_face == 2


def test_sets_fillers_and_spares_are_left_to_those_who_know_them():
    one = board("B1", 1000, 100)
    plain = part("a", 1, 200, 100)
    for other in (replace(plain, match="pair"), replace(plain, filler=True)):
        assert filled(one, (other,)) == []
    assert len(filled(one, (replace(plain, spares=2),))) == 1


def test_the_stretches_hold_every_place_with_no_room_to_spare():
    # Wherever on its rows a part begins, and to the tenth: 82.3 mm between two that lie.
    for low in (0.0, 0.1, 10.05, 33.99):
        one = board("B1", 400.0, low + 200.0)
        lying = {"B1": [lies(0, low, 400, 20), lies(0, low + 20 + 82.3 + 8, 400, 20)]}
        rooms, new = Rooms(SHOP, lying), part("b", 1, 400, 82.3)
        at = low + 24
        assert any(
            x0 <= 0 <= x1 and y0 <= at <= y1 for x0, y0, x1, y1 in rooms.corners_mm(one, new, None)
        )


def test_a_thick_part_and_a_thin_one_each_have_their_own_ground():
    # What was milled to 17 mm is too thin for the first part in the list, not for the second.
    thin = SeenPiece(1, 0.0, 0.0, 400.0, 100.0, Measured(17.0, 0.0), (70.0, 5.0, 20.0))
    one = replace(board("B1", 800, 100), pieces=(thin,))
    thick = part("thick", 1, 380, 100)
    parts = (thick, replace(thick, name="thin", thickness_mm=12.0))
    for rows in (parts, parts[::-1]):
        layout = solve((one,), rows, SHOP, Work(20))
        assert {p.part: p.x_mm > 390 for p in layout.placements} == {"thick": True, "thin": False}
        assert validate_layout(layout, (one,), rows, SHOP) == ()
