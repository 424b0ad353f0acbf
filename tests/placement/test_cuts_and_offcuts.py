"""Pieces, cuts, left-overs, bound and reasons, on boards a person can follow."""

from __future__ import annotations

import itertools
from dataclasses import replace

import numpy as np
import pytest
from shapely.geometry import box

from scanner.placement.giving.sizes import givings_of, sized
from scanner.placement.ground.offcuts import offcuts_of
from scanner.placement.laid.cuts import pieces_and_cuts
from scanner.placement.layout import Placement
from scanner.placement.proof.bound import bound_of
from scanner.placement.said.not_yet import not_yet_honoured
from scanner.placement.said.reasons import unplaced_of
from scanner.placement.shop import Shop
from scanner.placement.solve import solve
from scanner.placement.stop import AnyOf, Seconds, WhenSaid, Work
from scanner.placement.validator.judge import validate_layout
from scanner.placement.wanted.machines import machines_said, snipe_said
from tests.instances.tiny import SHOP, TINY, FlawKind, board, flaw, part
from tests.instances.tiny import SHOP as EXACT


def at(name: str, copy: int, x: float, y: float, length: float, width: float) -> Placement:
    return Placement(name, copy, "B1", x, y, length, width)


def test_short_blocks_stay_together_until_after_milling() -> None:
    blocks = [(n, at("block", n + 1, 154.0 * n, 0.0, 150.0, 60.0)) for n in range(4)]
    pieces, cuts = pieces_and_cuts(board("B1", 700, 64), blocks, SHOP)
    assert len(pieces) == 1, "4 x 150 mm make one piece of about 600 mm"
    assert pieces[0].x1_mm - pieces[0].x0_mm >= SHOP.shortest_piece_mm
    kinds = [cut.kind for cut in cuts]
    assert kinds.count("crosscut") == 1
    assert kinds.count("rip") == 1, "one rip along the whole piece"
    assert kinds.count("final") == 3


def test_long_parts_are_pieces_of_their_own_and_cuts_come_in_order() -> None:
    parts = [
        (0, at("a", 1, 20.0, 5.0, 700.0, 50.0)),
        (1, at("b", 1, 724.0, 5.0, 600.0, 50.0)),
    ]
    pieces, cuts = pieces_and_cuts(board("B1", 1500, 60), parts, SHOP)
    assert [piece.placements for piece in pieces] == [(0,), (1,)]
    crosscuts = [cut.from_mm[0] for cut in cuts if cut.kind == "crosscut"]
    assert crosscuts == [18.0, 722.0, 1326.0], "running measurements, half a kerf off each part"
    assert [cut.order for cut in cuts] == list(range(1, len(cuts) + 1))
    first_rip = next(n for n, cut in enumerate(cuts) if cut.kind == "rip")
    assert all(cut.kind == "crosscut" for cut in cuts[:first_rip])


def test_a_long_stretch_of_waste_is_cut_away_before_milling() -> None:
    parts = [(0, at("a", 1, 0.0, 0.0, 700.0, 60.0)), (1, at("b", 1, 900.0, 0.0, 600.0, 60.0))]
    pieces, _ = pieces_and_cuts(board("B1", 1500, 60), parts, SHOP)
    assert pieces[1].x0_mm == 900.0


def test_the_longest_clear_left_over_is_listed_with_its_size() -> None:
    knotty = board("B1", 2000, 100, flaw("F1", FlawKind.KNOT, box(1490, 0, 1500, 100)))
    found = offcuts_of(knotty, [at("a", 1, 0.0, 0.0, 800.0, 100.0)], SHOP)
    assert (found[0].x_mm, found[0].length_mm) == (804.0, 686.0)
    assert found[0].width_mm == pytest.approx(100.0)
    assert found[1].x_mm == 1500.0
    assert found[1].length_mm == 500.0


def test_scraps_are_not_listed() -> None:
    assert offcuts_of(board("B1", 1100, 100), [at("a", 1, 0.0, 0.0, 800.0, 100.0)], SHOP) == ()


@pytest.mark.parametrize(
    ("length", "width", "shortest", "is_kept"),
    [
        (380.0, 178.0, 305.0, True),  # 15 x 7 in
        (380.0, 100.0, 305.0, False),
        (310.0, 130.0, 305.0, False),  # less than 4 x 16 in
        (300.0, 178.0, 305.0, False),
        (300.0, 178.0, 200.0, True),
        (400.0, 50.0, 305.0, True),
    ],
)
def test_a_broad_left_over_may_be_as_short_as_the_machines_take(
    length: float, width: float, shortest: float, is_kept: bool
) -> None:
    wood, shop = board("B1", 804 + length, width), replace(SHOP, shortest_piece_mm=shortest)
    found = offcuts_of(wood, [at("a", 1, 0.0, 0.0, 800.0, width)], shop)
    assert [(o.length_mm, o.width_mm) for o in found] == [(length, width // 10 * 10)] * is_kept


@pytest.mark.parametrize("instance", TINY, ids=lambda instance: instance.name.replace(" ", "_"))
def test_no_hand_solved_optimum_beats_the_bound(instance) -> None:
    wanted = [p.quantity for p in instance.parts]
    gross = [b.faces[1].outline.area for b in instance.boards]
    # Sizes that may give count at their smallest: no choice of sizes beats the bound.
    parts = sized(instance.parts, {g: g.least_mm for g in givings_of(instance.parts)})
    bound = bound_of(instance.boards, parts, wanted, gross, instance.shop, (0.0, 1e12), False)
    assert bound.value >= instance.value * (1 - 1e-9)
    if sum(wanted) == instance.placed:
        least = bound_of(
            instance.boards, instance.parts, wanted, gross, instance.shop,
            (instance.value, sum(gross)), True,
        )  # fmt: skip
        assert 0 < least.value <= sum(sorted(gross)[-instance.boards_opened :])


def test_the_bound_is_tight_where_parts_fill_the_board() -> None:
    full = board("B1", 1000, 100)
    parts = (part("a", 3, 1000, 100),)
    bound = bound_of((full,), parts, [3], [1e5], EXACT, (1e5, 1e5), False)
    assert bound.value == pytest.approx(1e5, rel=0.02)
    assert bound.gap < 0.02


def test_the_reason_names_the_users_own_things() -> None:
    knotty = board("B03", 1400, 120, flaw("F4", FlawKind.KNOT, box(1322, 0, 1360, 120)))
    shop = replace(SHOP, end_trim_seen_mm=12.0)
    found = unplaced_of(part("top", 2, 1395, 102), 2, (knotty,), shop, False)
    assert found.copies == 2
    assert found.reason == "no board is free of flaws on both faces over 1395 x 102 mm"
    assert found.nearest == (
        "B03 has 1310 x 102 mm between the end trim of end A and knot F4; fits B03 if 85 mm shorter"
    )


def test_the_reason_says_when_other_parts_took_the_wood() -> None:
    found = unplaced_of(part("a", 5, 300, 50), 2, (board("B1", 1000, 60),), SHOP, True)
    assert "more copies than the wood has room for: B1 could give 300 x 50 mm" in found.reason


def test_the_reason_says_what_rules_every_board_out() -> None:
    boards = (board("B1", 1000, 60), replace(board("B2", 1000, 60), keep_whole=True))
    thick = replace(part("leg", 1, 300, 50), thickness_mm=45.0)
    found = unplaced_of(thick, 1, boards, SHOP, False)
    assert found.reason.startswith("no board may give it: ")
    assert "B1 leaves 27.0 mm when flat, 45.0 mm are needed" in found.reason
    assert "B2 is kept whole" in found.reason
    two = (boards[0], replace(boards[0], id="B3"))
    found = unplaced_of(thick, 1, two, SHOP, False)
    assert "B1 and B3 leave 27.0 mm when flat, 45.0 mm are needed" in found.reason
    steep = tuple(replace(one, slope_one_in=12.0) for one in two)
    straight = replace(part("rail", 1, 300, 50), straight_grain="1 in 15")
    found = unplaced_of(straight, 1, steep, SHOP, False)
    assert "B1 and B3 have grain that may slope 1 in 12.0" in found.reason


def test_a_part_wider_than_every_board_hears_of_the_widest_place() -> None:
    found = unplaced_of(part("top", 1, 500, 90), 1, (board("B1", 1000, 60),), SHOP, False)
    assert found.nearest.startswith("B1 has ")
    width = float(found.nearest.split(" x ")[1].split()[0])
    assert 56 <= width <= 60


def test_inches_are_spoken_where_the_shop_thinks_in_inches() -> None:
    found = unplaced_of(
        part("top", 1, 1270.0, 50.8), 1, (board("B1", 900, 60),), replace(SHOP, units="inch"), False
    )
    assert "50 in x 2 in" in found.reason


def test_columns_not_honoured_yet_are_named() -> None:
    assert not_yet_honoured((part("a", 1, 9, 9),)) == ()
    said = not_yet_honoured(
        (
            replace(part("a", 1, 9, 9), match="doors:bookmatch"),
            replace(part("b", 1, 9, 9), staves="auto", spares=1),
            replace(part("c", 1, 9, 9), shape="leg.svg", straight_grain="follow", match="legs"),
        )
    )
    for column in ("match", "spares", "shape", "straight_grain"):
        assert any(column in sentence for sentence in said), column


def test_stop_rules_count_steps_time_and_words() -> None:
    assert not Work(5).is_over(4)
    assert Work(5).is_over(5)
    assert Work(4).share(1) == 0.25
    assert Work(4).seconds_left(1) == float("inf")
    quick = Seconds(1e-9)
    quick.start()
    assert quick.is_over(0)
    both = AnyOf(Work(5), WhenSaid(lambda: False))
    both.start()
    assert both.is_over(5)
    assert not both.is_over(1)
    for bad in (lambda: Seconds(0), lambda: Work(0), lambda: AnyOf()):
        with pytest.raises(ValueError, match=r"must|needed"):
            bad()


@pytest.mark.slow
def test_a_trimmed_strip_may_hold_a_narrower_part() -> None:
    """Wide 60 and narrow 50 share a strip only where the shop rips to width after milling."""
    narrow = board("B1", 1004, 60)
    parts = (part("wide", 1, 500, 60), part("narrow", 1, 500, 50))
    for cut_class in ("three_stage", "three_stage_trimmed"):
        shop = replace(SHOP, cut_class=cut_class)
        assert solve((narrow,), parts, shop, Work(20)).summary.placed == 2
    # With a knot across the crosscut between them, one strip must run past it.
    tall = board("B1", 1004, 124)
    three = (part("long", 1, 1004, 60), part("wide", 1, 500, 60), part("narrow", 1, 500, 50))
    placed = {
        cut_class: solve((tall,), three, replace(SHOP, cut_class=cut_class), Work(20)).summary
        for cut_class in ("three_stage", "three_stage_trimmed")
    }
    assert placed["three_stage"].placed == 2
    assert placed["three_stage_trimmed"].placed == 3


def test_solver_geometry_is_the_same_without_the_compiler() -> None:
    """The kernels as plain Python give the same rows and runs (bounds errors would show here)."""
    from scanner.placement.kernels import ground as kernels_ground

    edges = np.array(
        [[0, 0, 100, 0], [100, 0, 100, 100], [100, 100, 0, 100], [0, 100, 0, 0]], np.float64
    )
    polygon = np.array([0, 4], np.int64)
    plain, plain_count = kernels_ground.blocked_rows.py_func(edges, polygon, 0, 10, 12, 4)
    rows, count = kernels_ground.blocked_rows(edges, polygon, 0, 10, 12, 4)
    assert np.array_equal(plain, rows)
    assert np.array_equal(plain_count, count)
    assert count.tolist() == [1] * 10 + [0, 0]
    kind = np.array([0, 1], np.int64)
    table, number = kernels_ground.blocked_windows(edges, polygon, kind, 0, 10, 12, 4)
    twin = np.zeros_like(table[0])
    twin_number = np.zeros_like(number[0])
    kernels_ground.doubled.py_func(rows, count, twin, twin_number)
    assert np.array_equal(number[0], twin_number)
    for level, row in np.argwhere(number[0] > 0):
        many = number[0, level, row]
        assert np.array_equal(table[0, level, row, :many], twin[level, row, :many])


def test_defaults_of_the_shop_are_enough() -> None:
    layout = solve((board("B1", 2438, 180),), (part("rail", 3, 600, 70),), Shop(), Work(20))
    assert layout.summary.placed == 3


def test_a_lone_short_part_stays_in_a_piece_that_the_machines_take() -> None:
    """200 mm of a 1000 mm board: the piece is 305 long, and cut to length after milling."""
    layout = solve((board("B1", 1000, 60),), (part("a", 1, 200, 60),), SHOP, Work(5))
    (piece,) = layout.pieces
    assert (piece.x0_mm, piece.x1_mm) == (0.0, 305.0)
    assert [(c.kind, c.from_mm[0]) for c in layout.cuts] == [("crosscut", 307.0), ("final", 202.0)]
    assert machines_said(layout, SHOP) == ()


def test_the_validator_condemns_a_piece_that_is_needlessly_short() -> None:
    boards, parts = (board("B1", 1000, 60),), (part("a", 1, 200, 60),)
    layout = solve(boards, parts, SHOP, Work(5))
    short = replace(layout, pieces=(replace(layout.pieces[0], x1_mm=200.0),))
    said = validate_layout(short, boards, parts, SHOP)
    assert any("the machines take 305 and there was room" in str(o) for o in said)


def test_a_board_too_short_for_the_machines_is_said() -> None:
    layout = solve((board("B1", 250, 60),), (part("a", 1, 200, 60),), SHOP, Work(5))
    (said,) = machines_said(layout, SHOP)
    assert said.startswith("Piece B1-1: shorter than your machines take (305 mm)")


def test_parts_wider_than_jointer_or_planer_are_said_with_what_to_do() -> None:
    boards = (board("B1", 1200, 320), board("B2", 1200, 200))
    parts = (part("top", 1, 900, 310), part("shelf", 1, 900, 160), part("leg", 1, 900, 40))
    said = machines_said(solve(boards, parts, SHOP, Work(20)), SHOP)
    assert said[0].startswith("top: wider than your planer (305 mm). Rip it first")
    assert said[1].startswith("shelf: wider than your jointer (150 mm). Rip it first")
    assert len(said) == 2


def test_snipe_is_said_of_the_parts_at_the_ends_of_a_piece_only() -> None:
    """Three parts in a row of one piece: the middle one lies far from both of its ends."""
    row = [at(name, 1, x, 0.0, 150.0, 60.0) for name, x in (("a", 0), ("b", 154), ("c", 308))]
    pieces, cuts = pieces_and_cuts(board("B1", 458, 64), list(enumerate(row)), SHOP)
    solved = solve((board("B1", 458, 64),), (part("a", 1, 150, 60),), SHOP, Work(1))
    layout = replace(solved, placements=tuple(row), pieces=tuple(pieces), cuts=tuple(cuts))
    parts = tuple(part(name, 1, 150, 60) for name in "abc")
    (said,) = snipe_said(layout, parts, replace(SHOP, snipe_mm=50.0))
    assert said.startswith("a and c: the planer may snipe")
    assert "(50 mm)" in said
    longer = replace(SHOP, snipe_mm=50.0, length_allowance_mm=100.0)
    assert snipe_said(layout, parts, longer) == ()
    assert snipe_said(layout, parts, SHOP) == ()


def test_no_cut_goes_through_a_left_over() -> None:
    """600 x 100 of 1000 x 200: crosscut and rip leave 600 x 96 (listed in tens), not 1000 x 96."""
    boards, parts = (board("B1", 1000, 200),), (part("a", 1, 600, 100),)
    layout = solve(boards, parts, SHOP, Work(5))
    assert validate_layout(layout, boards, parts, SHOP) == ()
    left = [(o.length_mm, o.width_mm) for o in layout.offcuts]
    assert left == [(396.0, 200.0), (600.0, 90.0)]
    (whole,) = offcuts_of(boards[0], layout.placements, SHOP)[:1]
    wrong = replace(layout, offcuts=(whole,))
    assert any(
        "is cut in two by cut" in str(o) for o in validate_layout(wrong, boards, parts, SHOP)
    )


@pytest.mark.parametrize("x", [-900, 3000])
def test_a_flaw_drawn_off_the_board_makes_no_left_over_out_there(x: float) -> None:
    lone = board("B1", 1500, 150, flaw("F1", FlawKind.WANE, box(x, 0, x + 50, 10)))
    (found,) = offcuts_of(lone, (), SHOP)
    assert found.x_mm >= 0
    assert found.x_mm + found.length_mm <= 1500


@pytest.mark.slow
def test_the_waste_of_a_short_piece_that_is_cut_is_gone() -> None:
    """The first part took 305 mm of the board: 695 less a kerf hold no second part of 750."""
    boards = (board("B1", 1000, 60),)
    first = solve(boards, (part("a", 1, 200, 60),), SHOP, Work(5))
    cut = replace(first, placements=(replace(first.placements[0], state="cut"),))
    for length, fits in ((691, True), (700, False)):
        parts = (part("a", 1, 200, 60), part("b", 1, length, 60))
        again = solve(boards, parts, SHOP, Work(10), keep=cut)
        assert (again.unplaced == ()) is fits


def test_a_rip_that_would_take_only_sawdust_is_left_out_and_every_part_comes_free() -> None:
    """Rows leave less than a millimetre between two strips besides the kerf."""
    boards = (board("B1", 1176.0266356510192, 158.22599113497978),)
    parts = (
        replace(part("rail", 2, 520.7614484531045, 58.947097575274576), match="rails:in_order"),
        replace(part("cleat", 2, 153.85843270688468, 59.392433279756254), match="cleats:in_order"),
    )
    layout = solve(boards, parts, SHOP, Work(12))
    rips = sorted(cut.from_mm[1] for cut in layout.cuts if cut.kind == "rip")
    assert all(b - a > SHOP.kerf_mm for a, b in itertools.pairwise(sorted(set(rips))))
    assert validate_layout(layout, boards, parts, SHOP) == ()
    parting = max((c for c in layout.cuts if c.kind == "final"), key=lambda c: -c.from_mm[0])
    rest = [cut for cut in layout.cuts if cut is not parting]
    fewer = tuple(replace(cut, order=n) for n, cut in enumerate(rest, 1))
    said = validate_layout(replace(layout, cuts=fewer), boards, parts, SHOP)
    assert any("do not part cleat 1 from its neighbour" in str(one) for one in said)


@pytest.mark.parametrize(
    ("apart", "cut_class", "rips"),
    [
        (4.1, "three_stage", 2),
        (4.1, "three_stage_trimmed", 2),
        (4.6, "three_stage", 3),
        (4.6, "three_stage_trimmed", 2),
        (7.9, "three_stage_trimmed", 2),
        (7.9, "three_stage", 3),
        (8.2, "three_stage_trimmed", 3),
    ],
)
def test_no_blade_is_asked_to_run_beside_its_own_kerf(apart: float, cut_class, rips: int) -> None:
    """Two strips so far apart, a kerf of 4 between: one rip does, where what stays on may stay.

    Rips: between the strips, and the last one at 60 + apart + 60 of 140.
    """
    shop = replace(SHOP, cut_class=cut_class)
    parts = [at("a", 1, 0.0, 0.0, 700.0, 60.0), at("a", 2, 0.0, 60.0 + apart, 700.0, 60.0)]
    _, cuts = pieces_and_cuts(board("B1", 700, 140), list(enumerate(parts)), shop)
    assert [cut.kind for cut in cuts] == ["rip"] * rips


def test_parts_a_tenth_farther_apart_than_a_kerf_are_parted_by_one_cut() -> None:
    parts = [at("a", n + 1, 100.1 * n + 4.0 * n, 0.0, 100.0, 60.0) for n in range(3)]
    _, cuts = pieces_and_cuts(board("B1", 700, 60), list(enumerate(parts)), SHOP)
    lines = sorted(cut.from_mm[0] for cut in cuts)
    assert len(lines) == 3
    assert all(b - a > 1.0 for a, b in itertools.pairwise(lines))


@pytest.mark.parametrize("cut_class", ["three_stage", "three_stage_trimmed"])
def test_sizes_of_an_inch_shop_give_no_two_cuts_side_by_side(cut_class) -> None:
    """Sixteenths and a kerf of 1/8 in are no whole tenths; the validator frees every part."""
    shop = replace(Shop.inch(), kerf_mm=3.175, cut_class=cut_class)
    boards = (board("B1", 2440, 203), board("B2", 1830, 152))
    parts = (
        part("rail", 6, 19.05 * 20.03, 38.1 + 1.5875, "sound"),
        part("stile", 4, 609.6 + 3.175, 57.15 + 0.79375, "sound"),
    )
    layout = solve(boards, parts, shop, Work(40))
    assert list(validate_layout(layout, boards, parts, shop)) == []
    for one, other in itertools.combinations(layout.cuts, 2):
        is_beside = (one.board, one.kind) == (other.board, other.kind)
        along = 1 if one.kind == "rip" else 0
        apart = abs(one.from_mm[along] - other.from_mm[along])
        across = 1 - along
        overlap = min(one.to_mm[across], other.to_mm[across]) - max(
            one.from_mm[across], other.from_mm[across]
        )
        if is_beside and overlap > 1.0 and apart > 1e-6:
            assert apart > 0.11


@pytest.mark.parametrize(
    ("length_in", "off_mm", "placed", "left_in"),
    [(96 + 3 / 8, 0.1, 4, None), (96 + 3 / 8, -0.1, 3, 24), (96, 0.0, 3, 23 + 5 / 8)],
)
def test_four_lengths_of_24_in_need_three_kerfs_more_than_96_in(
    length_in, off_mm, placed, left_in
) -> None:
    """A magazine's example of a 1/8 in kerf: 96 3/8 in are needed, else 23 5/8 in are left.

    The search counts in tenths of a millimetre, so a board a hair too short holds three.
    """
    shop = replace(SHOP, kerf_mm=25.4 / 8)
    boards, parts = (board("B1", length_in * 25.4 + off_mm, 60),), (part("a", 4, 24 * 25.4, 60),)
    layout = solve(boards, parts, shop, Work(5))
    assert list(validate_layout(layout, boards, parts, shop)) == []
    assert len(layout.placements) == placed
    lefts = [] if left_in is None else [left_in * 25.4]
    assert [one.length_mm for one in layout.offcuts] == pytest.approx(lefts, abs=0.25)
