"""Which saw for which cut, and what stands beside it."""

from dataclasses import replace

import pytest
from shapely.geometry import box

from scanner.board.flaw import Flaw, FlawKind, FlawState
from scanner.board.form import Warp
from scanner.lot.saws import MEANS, Danger, Mind, cut_cares, dangers_said, mind_text, saws_said
from scanner.placement.layout import Bound, Cut, Layout, Piece, Placement, Summary
from scanner.placement.shop import Shop
from tests.common import plain_board

CUTS = (
    Cut("P01", 1, "crosscut", (50.0, 0.0), (50.0, 203.2)),
    Cut("P01", 2, "crosscut", (1251.6, 0.0), (1251.6, 203.2)),
    Cut("P01", 3, "rip", (51.6, 62.0), (1250.0, 62.0)),
    Cut("P01", 4, "rip", (51.6, 124.0), (1250.0, 124.0)),
    Cut("P01", 5, "final", (651.6, 0.0), (651.6, 62.0)),
)
LAYOUT = Layout(
    "three_stage_trimmed", 3.2, 1, 0, (), (Piece("P01", "P01-1", 51.6, 1250.0, ()),), CUTS, (), (),
    Summary(0, 0, 1, 0.0, 0.0, 0.0), Bound("value", "any", 0.0, 0.0),
)  # fmt: skip
SHOP = Shop()


def dangers(board, order):
    care = next(c for c in cut_cares(LAYOUT, board, SHOP) if c.order == order)
    return {mind.danger for mind in care.minds}


def with_flaw(kind, shape, **more):
    flaw = Flaw("F1", kind, {1: shape}, state=FlawState.CONFIRMED, **more)
    return plain_board().with_flaws((flaw,))


def warped(**more):
    return replace(plain_board(), warp=Warp(**more))


def test_rough_wood_is_ripped_on_no_table_saw():
    saws = {care.order: care.saw for care in cut_cares(LAYOUT, plain_board(), SHOP)}
    assert saws[3] == saws[4] == "band saw; no table saw yet"
    assert "table saw" not in saws[1]


def test_only_the_first_rip_of_a_piece_has_no_straight_edge():
    assert Danger.NO_EDGE in dangers(plain_board(), 3)
    assert Danger.NO_EDGE not in dangers(plain_board(), 4)


def test_a_flat_clear_board_has_no_other_danger():
    assert dangers(plain_board(), 1) == set()
    assert dangers(plain_board(), 4) == set()


def test_a_twisted_board_is_crosscut_by_hand_and_rocks():
    board = warped(twist_mm=9.0)
    assert Danger.TWIST in dangers(board, 1)
    care = cut_cares(LAYOUT, board, SHOP)[0]
    assert care.saw == "jig saw or hand saw, on trestles"


def test_twist_counts_by_the_piece_that_is_on_the_saw():
    # 4 mm over 2438 mm of board is 2 mm over a piece of half its length.
    board = warped(twist_mm=4.0)
    assert Danger.TWIST in dangers(board, 1)
    assert Danger.TWIST not in dangers(board, 3)


@pytest.mark.parametrize(("cup", "face"), [(3.0, "1"), (-3.0, "2")])
def test_the_hollow_face_is_named(cup, face):
    care = cut_cares(LAYOUT, warped(cup_mm=cup), SHOP)[2]
    assert [m.at for m in care.minds if m.danger is Danger.HOLLOW] == [face]


def test_of_a_cup_without_sign_no_face_is_named():
    care = cut_cares(LAYOUT, warped(cup_mm=3.0, sign_known=False), SHOP)[2]
    assert [m.at for m in care.minds if m.danger is Danger.HOLLOW] == [""]


def test_a_bowed_board_closes_the_kerf_of_a_crosscut():
    assert Danger.CLOSING in dangers(warped(bow_mm=8.0), 1)
    assert Danger.CLOSING not in dangers(warped(bow_mm=8.0), 4)


def test_a_knot_at_the_line_may_jump_unless_it_is_sound():
    at_rip = box(600, 50, 620, 70)
    assert Danger.LOOSE_KNOT in dangers(with_flaw(FlawKind.KNOT, at_rip), 3)
    assert Danger.LOOSE_KNOT not in dangers(with_flaw(FlawKind.KNOT, at_rip), 4)
    assert Danger.LOOSE_KNOT not in dangers(with_flaw(FlawKind.KNOT, at_rip, sound=True), 3)


def test_a_struck_knot_is_no_danger():
    board = with_flaw(FlawKind.KNOT, box(600, 50, 620, 70))
    struck = replace(board.flaws[0], state=FlawState.STRUCK)
    assert Danger.LOOSE_KNOT not in dangers(board.with_flaws((struck,)), 3)


def test_a_split_closes_the_kerf_along_and_falls_apart_across():
    board = with_flaw(FlawKind.SPLIT, box(0, 60, 400, 64))
    assert Danger.FALLS_APART in dangers(board, 1)
    assert Danger.CLOSING in dangers(board, 3)


def test_pith_beside_a_rip_is_named_and_its_slender_strip_springs():
    board = with_flaw(FlawKind.PITH, box(0, 80, 2000, 95))
    # The strip between both rips is 62 mm wide and 1198 mm long.
    assert {Danger.PITH} == dangers(board, 3) - {Danger.NO_EDGE}
    assert Danger.SPRINGING in dangers(board, 4)


def test_a_short_strip_of_a_crooked_board_does_not_spring():
    board = warped(crook_mm=6.0)
    assert Danger.SPRINGING in dangers(board, 4)
    short = tuple(replace(c, to_mm=(651.6, c.to_mm[1])) if c.kind == "rip" else c for c in CUTS)
    cares = cut_cares(replace(LAYOUT, cuts=short), board, SHOP)
    assert all(m.danger is not Danger.SPRINGING for care in cares for m in care.minds)


def test_each_danger_that_stands_beside_a_cut_is_explained_once():
    cares = cut_cares(LAYOUT, warped(twist_mm=9.0, cup_mm=3.0), SHOP)
    said = dangers_said(cares)
    assert len(said) == len({line.split(":")[0] for line in said}) == 3
    assert set(MEANS) == set(Danger)


def test_flaws_of_one_danger_stand_together_beside_the_cut():
    one = with_flaw(FlawKind.KNOT, box(600, 50, 620, 70))
    two = one.with_flaws((one.flaws[0], replace(one.flaws[0], id="F2")))
    care = cut_cares(LAYOUT, two, SHOP)[2]
    assert mind_text(care.minds) == "to a line; knot F1, F2"


def test_the_saws_of_a_board_are_said_in_one_line_by_the_cuts_numbers():
    said = saws_said(cut_cares(LAYOUT, plain_board(), SHOP))
    assert said == (
        "Saws for cuts 1, 2: hand-held circular saw, jig saw or hand saw. 3, 4: band saw; no table "
        "saw yet. 5: crosscut sled or mitre saw."
    )
    assert saws_said(()) == ""


def short_ones(*placed, piece=(51.6, 1250.0)):
    pegs = tuple(
        Placement("peg", n, "P01", x, y, length, 58.0) for n, (x, y, length) in enumerate(placed, 1)
    )
    pieces = (Piece("P01", "P01-1", *piece, tuple(range(len(pegs)))),)
    cuts = (
        Cut("P01", 1, "rip", (51.6, 62.0), (1250.0, 62.0)),
        Cut("P01", 2, "final", (203.2, 0.0), (203.2, 62.0)),
    )
    return replace(LAYOUT, placements=pegs, pieces=pieces, cuts=cuts)


def minded(layout, order=2):
    care = next(c for c in cut_cares(layout, plain_board(), SHOP) if c.order == order)
    return Danger.MILL_FIRST in {mind.danger for mind in care.minds}


def test_a_part_too_short_for_the_planer_is_milled_in_its_strip_before_it_is_cut_to_length():
    # 150 mm up to the kerf's middle at 203.2, or 150 mm that start behind it.
    assert minded(short_ones((51.6, 2.0, 150.0)))
    assert minded(short_ones((204.8, 2.0, 150.0)))
    assert "Mill its strip" in MEANS[Danger.MILL_FIRST]


def test_only_the_cut_to_length_of_the_short_part_waits_for_the_planer():
    # The rip, a part of 320 mm, a short one of another strip, one that ends elsewhere, and a
    # piece that is too short itself.
    assert not minded(short_ones((51.6, 2.0, 150.0)), order=1)
    assert not minded(short_ones((204.8, 2.0, 320.0)))
    assert not minded(short_ones((51.6, 70.0, 150.0)))
    assert not minded(short_ones((51.6, 2.0, 100.0)))
    assert not minded(short_ones((51.6, 2.0, 150.0), piece=(51.6, 300.0)))


def test_one_short_word_is_said_rather_than_counted():
    three = (Mind(Danger.TWIST), Mind(Danger.HOLLOW, "2"), Mind(Danger.CLOSING))
    assert mind_text(three, most=2) == "twist; hollow 2; closes"
    long = (Mind(Danger.PITH, "F10"), Mind(Danger.LOOSE_KNOT, "F9"), Mind(Danger.NO_EDGE))
    assert mind_text(long, most=2) == "pith F10; knot F9; 1 more"
    assert mind_text((*three, Mind(Danger.SPRINGING)), most=2).endswith("; 2 more")
