"""The judge on copies, neighbours, offcuts and sums, on a layout made by hand."""

from __future__ import annotations

from dataclasses import replace

import pytest
from shapely.geometry import box

from scanner.board.board import Station
from scanner.board.flaw import FlawKind, FlawState
from scanner.board.form import Warp
from scanner.board.measured import Measured
from scanner.placement.layout import (
    Bound,
    Cut,
    Layout,
    Offcut,
    Piece,
    Placement,
    Summary,
    Unplaced,
)
from scanner.placement.parts import Faces
from scanner.placement.validator.judge import validate_layout
from scanner.units import mm_from_inches
from tests.instances.tiny import SHOP as TINY
from tests.instances.tiny import board, flaw, part

SHOP = replace(TINY, shortest_piece_mm=100.0)
ONE, TWO = board("B1", 500, 60), board("B2", 500, 60)
WANTED = (part("a", 2, 200, 60), part("b", 1, 80, 60))

#      0        200 204      404 408     500
#    0 +----------+ +----------+ +---------+
#      |    a 1   | |   a 2    | | (clear) |      b finds no place: 92 are left, but it is
#   60 +----------+ +----------+ +---------+      said to be unplaced to have both kinds.
GOOD = Layout(
    "three_stage_trimmed",
    4.0,
    1,
    0,
    (
        Placement("a", 1, "B1", 0.0, 0.0, 200.0, 60.0),
        Placement("a", 2, "B1", 204.0, 0.0, 200.0, 60.0),
    ),
    (Piece("B1", "B1-1", 0.0, 200.0, (0,)), Piece("B1", "B1-2", 204.0, 404.0, (1,))),
    (
        Cut("B1", 1, "crosscut", (202.0, 0.0), (202.0, 60.0)),
        Cut("B1", 2, "crosscut", (406.0, 0.0), (406.0, 60.0)),
    ),
    (Unplaced("b", 1, "no room", ""),),
    (Offcut("B1", 408.0, 0.0, 92.0, 60.0),),
    Summary(2, 3, 1, 30_000.0, 0.0, 24_000 / 30_000),
    Bound("value", "three_stage_trimmed", 30_000.0, 0.2),
)


def judged(layout: Layout, boards=(ONE, TWO), parts=WANTED, shop=SHOP) -> str:
    return "; ".join(map(str, validate_layout(layout, boards, parts, shop)))


def test_the_margin_that_a_part_is_said_to_keep_is_a_length():
    for margin, is_bad in ((0.0, False), (2.1, False), (-0.1, True), (float("nan"), True)):
        first = replace(GOOD.placements[0], margin_mm=margin)
        found = judged(replace(GOOD, placements=(first, GOOD.placements[1])))
        expected = f"B1: a 1 at (0.0, 0.0) is said to keep a margin of {margin:g} mm"
        assert found == (expected if is_bad else "")


def feet(layout: Layout, board_feet: float) -> Layout:
    return replace(layout, summary=replace(layout.summary, board_feet=board_feet))


def moved(n: int, **changes: object) -> Layout:
    placements = list(GOOD.placements)
    placements[n] = replace(placements[n], **changes)
    return replace(GOOD, placements=tuple(placements))


def summed(**changes: object) -> Layout:
    return replace(GOOD, summary=replace(GOOD.summary, **changes))


def test_the_layout_made_by_hand_meets_no_objection():
    assert judged(GOOD) == ""


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"placed": 3}, "summary says placed 3, it is 2"),
        ({"asked": 2}, "summary says asked 2, it is 3"),
        ({"boards_opened": 2}, "summary says boards opened 2, it is 1"),
        ({"area_opened_mm2": 30_001.0}, "summary says area opened 30001.0, it is 30000.0"),
        ({"area_opened_mm2": 29_999.0}, "summary says area opened 29999.0"),
        ({"board_feet": 0.01}, "summary says board feet 0.01"),
        ({"yield_share": 0.80001}, "summary says yield 0.80001"),
        ({"yield_share": 0.79999}, "summary says yield 0.79999"),
    ],
)
def test_a_sum_that_is_wrong_is_named(change, words):
    assert judged(summed(**change)).startswith(words)


def test_rounding_of_a_millionth_is_no_objection():
    assert judged(summed(area_opened_mm2=30_000.02, yield_share=0.8000005)) == ""


def test_the_bound_and_its_gap():
    value = replace(GOOD.bound, value=24_000.0, gap=0.0)
    assert judged(replace(GOOD, bound=value)) == ""
    less = replace(value, value=23_999.0, gap=1 - 24_000 / 23_999)
    assert "value 24000 is more than its bound 23999" in judged(replace(GOOD, bound=less))
    assert "the gap to the bound is 0.200000, not 0.200002" in judged(
        replace(GOOD, bound=replace(GOOD.bound, gap=0.200002))
    )
    assert "not 0.199998" in judged(replace(GOOD, bound=replace(GOOD.bound, gap=0.199998)))
    area = Bound("area", "three_stage_trimmed", 30_000.0, 0.0)
    assert judged(replace(GOOD, bound=area)) == ""
    assert judged(replace(GOOD, bound=replace(area, value=15_000.0, gap=0.5))) == ""
    more = replace(area, value=30_001.0, gap=1 - 30_001 / 30_000)
    assert "boards opened have 30000 mm2, less than the bound 30001" in judged(
        replace(GOOD, bound=more)
    )
    # A part counts with its priority, at the size that was wanted.
    double = (replace(WANTED[0], priority=2.0), WANTED[1])
    assert "value 48000 is more than its bound 30000" in judged(GOOD, parts=double)


def test_an_empty_layout_sums_to_nothing():
    nothing = replace(
        GOOD, placements=(), pieces=(), cuts=(), offcuts=(),
        unplaced=(Unplaced("a", 2, "no room", ""), Unplaced("b", 1, "no room", "")),
        summary=Summary(0, 3, 0, 0.0, 0.0, 0.0),
    )  # fmt: skip
    for bound in (Bound("value", "any", 0.0, 0.0), Bound("value", "any", 5.0, 1.0),
                  Bound("area", "any", 0.0, 0.0)):  # fmt: skip
        assert judged(replace(nothing, bound=bound)) == ""


def test_board_feet_are_tallied_over_the_lot_in_its_order():
    """NHLA: inches of width x whole feet of length / 12, halves alternately up and down.

    7 1/2 in x 12 ft is 7 1/2 ft2: the first such board of a lot is given 7 or 8, the second the
    other, whichever of the two is opened.
    """
    length, width = mm_from_inches(144), mm_from_inches(7.5)
    lot = (board("B1", length, width), board("B2", length, width))
    totals = []
    for id in ("B1", "B2"):
        layout = replace(
            GOOD,
            placements=tuple(replace(p, board=id) for p in GOOD.placements),
            pieces=tuple(replace(p, board=id) for p in GOOD.pieces),
            cuts=(), offcuts=(),
        )  # fmt: skip
        said = [
            str(s) for s in validate_layout(layout, lot, WANTED, SHOP) if "board feet" in str(s)
        ]
        totals.append(float(said[0].rsplit(" ", 1)[1]))
    assert sorted(totals) == [7.0, 8.0]
    # Stations tell the width where there are any: 10 in x 12 ft = 10 ft2 of 4/4.
    wide = replace(lot[0], widths=tuple(Station(x, Measured(254.0, 1.0)) for x in (1.0, 2.0)))
    assert "board feet 7.0, it is 10.0" in judged(feet(GOOD, 7.0), (wide,))
    # Without them the face does, wherever it lies.
    low = board("B1", 12 * 304.8, 354.0, outline=box(0, 100, 12 * 304.8, 354))
    assert "it is 10.0" in judged(feet(GOOD, 7.0), (low,))
    thick = replace(wide, thickness=Measured(mm_from_inches(2) + 1.6, 2.0))
    assert "board feet 7.0, it is 20.0" in judged(feet(GOOD, 7.0), (thick,))


def test_wane_of_face_1_is_wood_that_was_paid_for():
    wane = flaw("F1", FlawKind.WANE, box(0, 60, 500, 70))
    waney = replace(ONE, flaws=(wane,))
    assert "area opened 30000.0, it is 3500" in judged(GOOD, (waney,))
    apart = replace(wane, outlines={1: box(0, 70, 500, 80)})
    assert "area opened" not in judged(GOOD, (replace(ONE, flaws=(apart,)),))
    for other in (
        replace(wane, state=FlawState.STRUCK),
        replace(wane, outlines={2: box(0, 60, 500, 70)}),
        replace(wane, kind=FlawKind.STAIN),
    ):
        assert "area opened" not in judged(GOOD, (replace(ONE, flaws=(other,)),))


def test_who_was_not_looked_over_is_said():
    unseen = replace(ONE, faces={1: ONE.faces[1], 2: replace(ONE.faces[2], looked_over=False)})
    assert judged(GOOD, (unseen,)) == "not looked over are ['B1'], said are []"
    assert judged(replace(GOOD, not_looked_over=("B1",)), (unseen,)) == ""
    # A board that is not opened needs no word.
    aside = replace(TWO, faces={n: replace(f, looked_over=False) for n, f in TWO.faces.items()})
    assert judged(GOOD, (ONE, aside)) == ""


@pytest.mark.parametrize(
    ("gap", "is_bad"), [(4.0, False), (3.96, False), (3.94, True), (-1.0, True)]
)
def test_neighbours_keep_a_kerf_along_and_across(gap, is_bad):
    words = "overlap or leave less than a kerf"
    assert (words in judged(moved(1, x_mm=200 + gap))) is is_bad
    halves = (part("a", 2, 200, 28),)
    for low in (0, 1):
        # Whichever of the two lies nearer to the low edge.
        ys = {low: 0.0, 1 - low: 28 + gap}
        stacked = replace(
            GOOD,
            placements=tuple(
                replace(p, x_mm=10.0 * n, y_mm=ys[n], width_mm=28.0)
                for n, p in enumerate(GOOD.placements)
            ),
        )
        assert (words in judged(stacked, parts=halves)) is is_bad


def test_every_pair_is_looked_at_not_only_the_next_one():
    parts = (part("a", 1, 400, 20), part("b", 1, 50, 20), part("c", 1, 50, 20))
    rows = (
        Placement("a", 1, "B1", 0, 0, 400, 20), Placement("b", 1, "B1", 10, 30, 50, 20),
        Placement("c", 1, "B1", 100, 10, 50, 20),
    )  # fmt: skip
    said = judged(replace(GOOD, placements=rows), parts=parts)
    assert "B1: a 1 at (0.0, 0.0) and c 1 overlap" in said
    assert "and b 1 overlap" not in said


def test_copies_add_up_and_none_is_there_twice():
    assert "a 1 is placed 2 times" in judged(moved(1, copy=1))
    short = replace(GOOD, unplaced=())
    assert "b: 0 placed and 0 unplaced do not make 1" in judged(short)
    too_many = replace(GOOD, unplaced=(Unplaced("b", 2, "no room", ""),))
    assert "b: 0 placed and 2 unplaced do not make 1" in judged(too_many)
    twice = (Unplaced("b", 1, "no room", ""), Unplaced("b", 1, "no room", ""))
    assert "b: 0 placed and 2 unplaced" in judged(replace(GOOD, unplaced=twice))
    for entry in (Unplaced("b", 1, " ", ""), Unplaced("b", 0, "no room", "")):
        said = judged(replace(GOOD, unplaced=(entry,)))
        assert "unplaced: b needs a number of copies and a reason" in said
    strange = (*GOOD.unplaced, Unplaced("door", 1, "no room", ""))
    assert judged(replace(GOOD, unplaced=strange)) == "unplaced: no part 'door'"


def test_what_is_missing_is_told_with_the_spares_or_without_them():
    spare = (replace(WANTED[0], quantity=3, spares=1), WANTED[1])
    both = (*GOOD.unplaced, Unplaced("a", 1, "no room", ""))
    told = replace(GOOD, unplaced=both, summary=replace(GOOD.summary, asked=5))
    assert judged(told, parts=spare) == ""
    counted = (replace(WANTED[0], quantity=2, spares=1), WANTED[1])
    told = replace(told, summary=replace(GOOD.summary, asked=4))
    assert judged(told, parts=counted) == ""


def test_the_judge_asks_for_staves_sets_slices_nests_and_equal_sizes_too():
    a, b = WANTED
    for layout, parts, words in (
        (moved(0, stave=1), WANTED, "a 1 is glued up, which was not asked for"),
        (GOOD, (replace(a, quantity=3, match="rails"), b), "2 of 3 a placed, not all or none"),
        (moved(0, nest=1), WANTED, "a 1 is nested or turned end for end, but not curved"),
        (moved(0, layer=1), WANTED, "a 1 is a slice, which it does not ask for"),
        (
            moved(0, length_mm=199.0),
            (replace(a, length_min_mm=190.0), b),
            "its parts are not of one length, 199.0 to 200.0",
        ),
    ):
        assert words in judged(layout, parts=parts), words


def test_a_stave_is_as_long_as_its_panel_and_as_wide_as_it_comes():
    staves = replace(
        GOOD,
        placements=tuple(
            replace(p, copy=1, stave=n, length_mm=190.0, width_mm=31.0)
            for n, p in enumerate(GOOD.placements, 1)
        ),
    )
    said = judged(staves, parts=(replace(WANTED[0], quantity=1, staves="2"), WANTED[1]))
    assert said.count("is 190.0 mm long when finished") == 2
    assert "wide when finished" not in said


@pytest.mark.parametrize(
    ("slope", "asked", "is_bad"),
    [
        (12.0, "1 in 15", True), (15.0, "1 in 15", False), (20.0, "1 in 15", False),
        (None, "1 in 15", False), (12.0, "follow", False), (12.0, None, False),
    ],
)  # fmt: skip
def test_a_board_of_steep_grain_gives_no_part_that_asks_for_straight(slope, asked, is_bad):
    one = replace(ONE, slope_one_in=slope)
    said = judged(GOOD, (one,), (replace(WANTED[0], straight_grain=asked), WANTED[1]))
    assert said.count(f"asks for {asked}, the board's grain may slope more") == 2 * is_bad


def test_spares_and_fillers_may_be_there_or_not():
    one = (replace(WANTED[0], quantity=1, spares=1), WANTED[1])
    assert judged(GOOD, parts=one) == ""
    none = (replace(WANTED[0], quantity=1), WANTED[1])
    assert "a: 2 placed, 1 asked for" in judged(GOOD, parts=none)
    three = (replace(WANTED[0], quantity=2, spares=2), WANTED[1])
    assert judged(summed(asked=5), parts=three) == ""
    filler = (WANTED[0], replace(WANTED[1], filler=True))
    assert judged(replace(GOOD, unplaced=()), parts=filler) == ""
    miscounted = replace(GOOD, unplaced=(replace(GOOD.unplaced[0], part="b", copies=7),))
    assert "b: " in judged(miscounted, parts=filler)


def test_what_is_spoiled_is_asked_for_again():
    spoiled = moved(1, state="spoiled")
    again = replace(
        spoiled,
        pieces=GOOD.pieces[:1], cuts=GOOD.cuts[:1],
        unplaced=(*GOOD.unplaced, Unplaced("a", 1, "no room", "")),
        summary=replace(GOOD.summary, placed=1, yield_share=12_000 / 30_000),
        bound=replace(GOOD.bound, gap=0.6),
    )  # fmt: skip
    assert judged(again) == ""


def test_a_placement_of_nothing_known_is_named_and_the_rest_judged():
    assert "placement 1: no part 'door' or no board 'B1'" in judged(moved(1, part="door"))
    assert "placement 1: no part 'a' or no board 'B9'" in judged(moved(1, board="B9"))


@pytest.mark.parametrize(
    ("length", "width", "words"),
    [
        (200.04, 60.0, ""), (199.96, 60.0, ""), (200.0, 59.96, ""),
        (200.06, 60.0, "is 200.1 mm long when finished, not 200.0"),
        (199.94, 60.0, "is 199.9 mm long when finished, not 200.0"),
        (200.0, 59.94, "is 59.9 mm wide when finished, not 60.0"),
    ],
)  # fmt: skip
def test_a_part_is_of_its_size_to_a_twentieth_of_a_millimetre(length, width, words):
    said = [
        s for s in judged(moved(0, length_mm=length, width_mm=width)).split("; ") if "finished" in s
    ]
    assert len(said) == bool(words) and all(words in s for s in said)


def test_a_size_that_gives_says_its_range():
    gives = (replace(WANTED[0], length_min_mm=190.0, length_max_mm=205.0), WANTED[1])
    assert "is 206.0 mm long when finished, not 190.0 to 205.0" in judged(
        moved(0, length_mm=206.0), parts=gives
    )


def test_show_faces_are_named_where_they_are_needed_only():
    show = (replace(WANTED[0], faces=Faces.SHOW), WANTED[1])
    assert judged(GOOD, parts=show).count("does not say which face shows") == 2
    for face, is_bad in ((1, False), (2, False), (3, True), (0, True)):
        shown = replace(GOOD, placements=tuple(replace(p, show_face=face) for p in GOOD.placements))
        assert bool(judged(shown, parts=show)) is is_bad, face
    assert "names a show face, but needs none" in judged(moved(0, show_face=2))


def test_boards_and_parts_that_the_user_kept_apart():
    a, b = WANTED
    for parts, boards, words in (
        ((replace(a, species="Walnut"), b), (ONE,), "should be Walnut, the board is white ash"),
        ((replace(a, only_boards=("B2", "B3")), b), (ONE,), "may only come from B2, B3"),
        ((replace(a, not_boards=("B1",)), b), (ONE,), "must not come from this board"),
        ((a, b), (replace(ONE, keep_whole=True),), "the board is kept whole"),
        ((a, b), (replace(ONE, only_parts=("b",)),), "the board is kept for other parts"),
    ):
        assert judged(GOOD, boards, parts).count(words) == 2
        cut = replace(GOOD, placements=tuple(replace(p, state="cut") for p in GOOD.placements))
        assert judged(cut, boards, parts) == ""
    for parts, boards in (
        ((replace(a, species=" White Ash"), b), (ONE,)),
        ((replace(a, only_boards=("B1", "B3")), b), (ONE,)),
        ((replace(a, not_boards=("B2",)), b), (ONE,)),
        ((a, b), (replace(ONE, only_parts=("a",)),)),
    ):
        assert judged(GOOD, boards, parts) == ""


def test_a_part_is_milled_in_a_piece_that_the_machines_take():
    """Bow 4 mm over 500: 200 long loses 0.64, 300 long 1.44."""
    bowed = replace(ONE, warp=Warp(bow_mm=4.0), thickness=Measured(22.0, 0.0))
    assert judged(GOOD, (bowed,)) == ""
    for thick, is_bad in ((20.65, False), (20.63, True)):
        thin = replace(bowed, thickness=Measured(thick, 0.0))
        assert ("are left when flat, 20.00 are needed" in judged(GOOD, (thin,))) is is_bad
    long = replace(SHOP, shortest_piece_mm=300.0)
    thin = replace(bowed, thickness=Measured(21.0, 0.0))
    assert "19.56 mm are left when flat" in judged(GOOD, (thin,), shop=long)
    flat = replace(ONE, thickness=Measured(23.0, 0.0))
    for cleanup, is_bad in ((3.0, False), (3.1, True)):
        assert (
            "left when flat" in judged(GOOD, (flat,), shop=replace(SHOP, cleanup_mm=cleanup))
        ) is (is_bad)


@pytest.mark.parametrize(
    ("offcut", "words"),
    [
        (Offcut("B9", 408, 0, 92, 60), "offcut on B9 has no board or no size"),
        (Offcut("B1", 408, 0, 0, 60), "offcut on B1 has no board or no size"),
        (Offcut("B1", 408, 0, 92, 0), "offcut on B1 has no board or no size"),
        (Offcut("B1", 408, 0, 92.1, 60), "offcut on B1 at 408.0 is not all wood"),
        (Offcut("B1", 408, 0, 92, 60.1), "is not all wood"),
        (Offcut("B1", 408, -0.1, 92, 60), "is not all wood"),
        (Offcut("B1", 400, 0, 92, 60), "lies on a 2"),
        (Offcut("B1", 407.8, 0, 92, 60), "lies on a 2"),
        (Offcut("B1", 405.9, 0, 92, 60), "is cut in two by cut 2"),
        (Offcut("B1", 407.95, 0, 92, 60), ""),
        (Offcut("B2", 10, 0, 400, 60), ""),
        (Offcut("B1", 450, 20, 1, 1), ""),
    ],
)
def test_an_offcut_is_clear_wood_that_nothing_else_takes(offcut, words):
    said = judged(replace(GOOD, offcuts=(offcut,)))
    assert (words in said) if words else said == ""


def test_an_offcut_is_clear_of_every_flaw_that_counts_on_either_face():
    spot = flaw("F1", FlawKind.STAIN, box(450, 20, 460, 30), faces=(2,))
    assert "at 408.0 is not clear of F1" in judged(GOOD, (replace(ONE, flaws=(spot,)),))
    struck = replace(spot, state=FlawState.STRUCK)
    assert judged(GOOD, (replace(ONE, flaws=(struck,)),)) == ""
    # One that lies elsewhere on the other face is not clear for that.
    both = replace(spot, outlines={1: box(405, 20, 406, 30), 2: box(450, 20, 460, 30)})
    assert "is not clear of F1" in judged(GOOD, (replace(ONE, flaws=(both,)),))
    narrow = {1: ONE.faces[1], 2: replace(ONE.faces[2], outline=box(0, 0, 480, 60))}
    assert "is not all wood" in judged(GOOD, (replace(ONE, faces=narrow),))


def test_slices_of_one_blank_take_its_ground_once():
    door = replace(part("door", 2, 200, 60), match="doors:bookmatch", thickness_mm=8.0)
    slices = tuple(Placement("door", n, "B1", 0.0, 0.0, 200.0, 60.0, layer=n) for n in (1, 2))
    layout = replace(
        GOOD,
        placements=slices,
        pieces=(Piece("B1", "B1-1", 0.0, 200.0, (0, 1)),),
        cuts=GOOD.cuts[:1],
        offcuts=(),
        unplaced=(),
        summary=Summary(2, 2, 1, 30_000.0, 0.0, 12_000 / 30_000),
        bound=replace(GOOD.bound, gap=0.2),
    )
    assert judged(layout, parts=(door,)) == ""
