"""The judge's own sawing, on a layout made by hand: every way in which a cut can be wrong."""

from __future__ import annotations

from dataclasses import replace

import pytest
from shapely.geometry import box

from scanner.board.board import End
from scanner.board.form import Warp
from scanner.board.measured import Measured
from scanner.placement.layout import Bound, Cut, Layout, Piece, Placement, Summary
from scanner.placement.shop import Shop
from scanner.placement.validator.cuts import cut_objections, stage_objections
from scanner.placement.validator.dropped import dropped_objections
from tests.instances.tiny import SHOP as TINY
from tests.instances.tiny import board, part

SHOP = replace(TINY, shortest_piece_mm=100.0)
ONE = board("B1", 500, 60)

#      0        200 204      404 408     500
#    0 +----------+ +----------+ +---------+
#      |    a 1   | |   a 2    | |         |
#   40 |          | +----------+ |         |
#   60 +----------+ +----------+ +---------+
LAID = Layout(
    "three_stage_trimmed",
    4.0,
    1,
    0,
    (
        Placement("a", 1, "B1", 0.0, 0.0, 200.0, 60.0),
        Placement("a", 2, "B1", 204.0, 0.0, 200.0, 40.0),
    ),
    (Piece("B1", "B1-1", 0.0, 200.0, (0,)), Piece("B1", "B1-2", 204.0, 404.0, (1,))),
    (
        Cut("B1", 1, "crosscut", (202.0, 0.0), (202.0, 60.0)),
        Cut("B1", 2, "crosscut", (406.0, 60.0), (406.0, 0.0)),
        Cut("B1", 3, "rip", (204.0, 42.0), (404.0, 42.0)),
    ),
    (),
    (),
    Summary(2, 2, 1, 30000.0, 0.0, 0.0),
    Bound("value", "three_stage_trimmed", 1.0, 0.0),
)


def said(layout: Layout, shop: Shop = SHOP, one=ONE) -> str:
    placements = [p for p in layout.placements if p.state != "spoiled"]
    laid = {"B1": placements} if placements else {}
    return "; ".join(map(str, cut_objections(layout, {"B1": one}, laid, shop)))


def with_cut(n: int, **changes: object) -> Layout:
    cuts = list(LAID.cuts)
    cuts[n] = replace(cuts[n], **changes)
    return replace(LAID, cuts=tuple(cuts))


def across(n: int, x: float, low: float = 0.0, high: float = 60.0) -> Layout:
    return with_cut(n, from_mm=(x, low), to_mm=(x, high))


def along(y: float, left: float = 204.0, right: float = 404.0) -> Layout:
    return with_cut(2, from_mm=(left, y), to_mm=(right, y))


def with_piece(n: int, **changes: object) -> Layout:
    pieces = list(LAID.pieces)
    pieces[n] = replace(pieces[n], **changes)
    return replace(LAID, pieces=tuple(pieces))


def moved(n: int, **changes: object) -> Layout:
    placements = list(LAID.placements)
    placements[n] = replace(placements[n], **changes)
    return replace(LAID, placements=tuple(placements))


GOOD = {
    "as it is": LAID,
    "a hair to the left": across(0, 201.95),
    "a hair to the right": across(0, 202.05),
    "a hair short": across(0, 202, 0.05, 59.95),
    "longer than the board": across(0, 202, -30, 90),
    "a rip a hair off": along(41.95),
    "a rip that is wider than its part": along(50.0),
    "a rip longer than its piece": along(42.0, 203.95, 404.05),
    "a piece a hair short": with_piece(0, x1_mm=199.95),
    "pieces a hair near": with_piece(0, x1_mm=200.05),
    "a blade half over end B": replace(
        LAID, cuts=(*LAID.cuts, Cut("B1", 4, "crosscut", (501.0, 0.0), (501.0, 60.0))),
    ),
    "a blade half in the last kerf": replace(
        LAID, cuts=(*LAID.cuts, Cut("B1", 4, "crosscut", (407.0, 0.0), (407.0, 60.0))),
    ),
    "a blade half over the far edge": replace(
        LAID, cuts=(*LAID.cuts, Cut("B1", 4, "rip", (408.0, -1.0), (500.0, -1.0))),
    ),
    "a blade half over the near edge": replace(
        LAID, cuts=(*LAID.cuts, Cut("B1", 4, "rip", (408.0, 61.0), (500.0, 61.0))),
    ),
    "an edge skimmed before the piece is cut off": replace(
        LAID,
        placements=(LAID.placements[0], replace(LAID.placements[1], y_mm=10.0)),
        cuts=(
            LAID.cuts[0],
            Cut("B1", 2, "rip", (204.0, -1.0), (500.0, -1.0)),
            Cut("B1", 3, "crosscut", (406.0, 0.0), (406.0, 60.0)),
            Cut("B1", 4, "rip", (204.0, 52.0), (404.0, 52.0)),
        ),
    ),
}  # fmt: skip
BAD = {
    "into the part before": (across(0, 201.9), "B1: cut 1 goes through a 1"),
    "into the part after": (across(0, 202.2), "B1: cut 1 goes through a 2"),
    "a part left too long": (across(1, 406.2), "B1: a 2 is not cut to length"),
    "a part left a little too long": (across(1, 406.15), "B1: a 2 is not cut to length"),
    "a part that is in no piece any more": (across(0, 201.9), "B1: a 1 is cut through"),
    "not over the far edge": (across(0, 202, 0, 59.9), "cut 1 does not run right through"),
    "not over the near edge": (across(0, 202, 0.1, 60), "cut 1 does not run right through"),
    "beside the board": (across(1, 520), "cut 2 does not run right through a piece"),
    "before the board": (across(1, -20), "cut 2 does not run right through a piece"),
    "a rip that begins too late": (along(42.0, 204.1), "cut 3 does not run right through"),
    "a rip that ends too soon": (along(42.0, 204, 403.9), "cut 3 does not run right through"),
    "a rip below the board": (along(70.0), "cut 3 does not run right through"),
    "a rip above the board": (along(-10.0), "cut 3 does not run right through"),
    "a rip through a part": (along(41.9), "B1: cut 3 goes through a 2"),
    "numbered twice": (with_cut(1, order=1), "B1: the cuts are not numbered from 1 on"),
    "numbered from 2": (with_cut(0, order=4), "not numbered from 1 on"),
    "of no kind": (with_cut(0, kind="saw"), "B1: cut 1 is of no known kind"),
    "called a rip": (with_cut(0, kind="rip"), "B1: cut 1 is called rip, but runs otherwise"),
    "called a crosscut": (with_cut(2, kind="crosscut"), "cut 3 is called crosscut, but runs"),
    "called final": (with_cut(2, kind="final"), "cut 3 is called final, but runs otherwise"),
    "slanted": (with_cut(0, to_mm=(203.0, 60.0)), "B1: cut 1 is neither along nor across"),
    "no first cut": (
        replace(LAID, cuts=(replace(LAID.cuts[1], order=1),)),
        "the cuts do not part a 1 from its neighbour",
    ),
    "another class": (replace(LAID, cut_class="any"), "the layout is any, the shop asks for"),
    "another kerf": (replace(LAID, kerf_mm=3.9), "the layout's kerf is 3.9, the shop's is 4.0"),
    "a board without parts": (
        replace(LAID, placements=()), "B1 is cut, but no part lies on it",
    ),
    "a piece named twice": (with_piece(1, placements=(1, 0)), "B1-2 names placement 0 wrongly"),
    "a placement that is not": (with_piece(1, placements=(1, 2)), "B1-2 names placement 2"),
    "a placement before the first": (with_piece(1, placements=(1, -1)), "names placement -1"),
    "a piece of another board": (with_piece(0, board="B2"), "piece B1-1 does not hold a 1"),
    "a piece that begins too late": (with_piece(1, x0_mm=204.1), "B1-2 does not hold a 2"),
    "a piece that ends too soon": (with_piece(1, x1_mm=403.9), "B1-2 does not hold a 2"),
    "pieces without a kerf": (with_piece(0, x1_mm=200.1), "pieces B1-1 and B1-2 leave no kerf"),
    "a piece longer than its cuts leave it": (
        with_piece(1, x1_mm=404.1), "piece B1-2 is said to end at 404.1, where no cut is",
    ),
    "a piece off the board": (
        with_piece(0, x0_mm=-0.1), "piece B1-1 is said to end at -0.1, where no cut is",
    ),
    "a part in no piece": (
        replace(LAID, pieces=LAID.pieces[:1]), "1 placements lie in no piece",
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", GOOD)
def test_cuts_that_free_every_part_meet_no_objection(name):
    assert said(GOOD[name]) == ""


@pytest.mark.parametrize("name", BAD)
def test_a_wrong_cut_or_piece_is_condemned_for_what_it_is(name):
    layout, words = BAD[name]
    assert words in said(layout)


def test_a_slanted_cut_is_no_cut_of_any_kind():
    found = said(BAD["slanted"][0])
    assert "cut 1 is called" not in found and "cut 1 does not run" not in found


def test_a_final_cut_may_be_called_so_and_a_crosscut_too():
    assert said(with_cut(1, kind="final")) == ""


def test_what_is_spoiled_needs_no_piece():
    spoiled = replace(moved(1, state="spoiled"), pieces=LAID.pieces[:1], cuts=LAID.cuts[:1])
    assert said(spoiled) == ""


def test_the_exact_class_rips_every_part_to_its_width():
    shop = replace(SHOP, cut_class="three_stage")
    exact = replace(LAID, cut_class="three_stage")
    assert said(exact, shop) == ""
    assert "a 2 is not ripped to width" in said(replace(exact, cuts=LAID.cuts[:2]), shop)
    for y, is_bad in ((42.1, False), (42.2, True)):
        found = said(replace(along(y), cut_class="three_stage"), shop)
        assert ("not ripped to width" in found) is is_bad
    # Every strip is as wide as its part, wherever across the board it lies.
    strips = replace(
        exact,
        placements=(*LAID.placements, Placement("b", 1, "B1", 204.0, 44.0, 200.0, 16.0)),
        pieces=(LAID.pieces[0], replace(LAID.pieces[1], placements=(1, 2))),
    )
    assert said(strips, shop) == ""
    # The default class leaves that to the milling.
    assert said(replace(LAID, cuts=LAID.cuts[:2])) == ""


def test_where_any_cut_is_allowed_stages_are_not_asked():
    """A pinwheel: a blade cannot free it, but nobody asked for three stages."""
    free = replace(SHOP, cut_class="any")
    wheel = [
        Placement("a", 1, "B1", 0, 0, 30, 20), Placement("b", 1, "B1", 34, 0, 20, 30),
        Placement("a", 2, "B1", 24, 34, 30, 20), Placement("b", 2, "B1", 0, 24, 20, 30),
    ]  # fmt: skip
    layout = replace(LAID, cut_class="any", placements=tuple(wheel), cuts=(), pieces=())
    assert "crosscut, rip, crosscut" not in said(layout, free)
    three = replace(layout, cut_class="three_stage_trimmed")
    assert "B1: crosscut, rip, crosscut cannot free" in said(three)


def test_a_strip_is_shared_by_parts_of_one_width_in_the_exact_class():
    wide = Placement("a", 1, "B1", 0, 0, 100, 40)
    for width, y, is_bad in ((40, 0, False), (39.95, 0, False), (39.9, 0, True), (40, 0.1, True)):
        pair = (wide, Placement("a", 2, "B1", 104, y, 100, width))
        below = Placement("b", 1, "B1", 0, 44.2, 204, 10)
        found = list(stage_objections("B1", (*pair, below), SHOP, True))
        assert bool(found) is is_bad, (width, y)
        assert not list(stage_objections("B1", (*pair, below), SHOP, False))
    narrow = replace(wide, copy=2, x_mm=104, width_mm=30)
    (found,) = stage_objections("B1", (wide, narrow, below), SHOP, True)
    assert str(found) == "B1: a 2, a 1 share a strip, but not its width"


def test_parts_less_than_a_kerf_apart_cannot_be_freed():
    first = Placement("a", 1, "B1", 0, 0, 100, 40)
    for gap, is_bad in ((4.0, False), (3.95, False), (3.9, True)):
        for second in (
            replace(first, copy=2, x_mm=100 + gap),
            replace(first, copy=2, y_mm=40 + gap),
        ):
            found = list(stage_objections("B1", (first, second), SHOP, False))
            assert bool(found) is is_bad, (gap, second)
    # A short part beside a long one does not end the long one's reach.
    three = (
        Placement("a", 1, "B1", 0, 0, 300, 20), Placement("b", 1, "B1", 0, 24, 100, 20),
        Placement("c", 1, "B1", 200, 24, 200, 20),
    )  # fmt: skip
    assert not list(stage_objections("B1", three, SHOP, False))


@pytest.mark.parametrize(
    ("length", "shortest", "is_bad"),
    [
        (200, 250, True),
        (200, 200, False),
        (200, 200.05, False),
        (200, 200.1, True),
        (200, 600, False),
    ],
)
def test_a_piece_may_be_short_only_where_there_is_no_room(length, shortest, is_bad):
    single = replace(
        LAID, placements=LAID.placements[:1], pieces=LAID.pieces[:1], cuts=LAID.cuts[:1]
    )
    found = said(single, replace(SHOP, shortest_piece_mm=shortest))
    assert ("piece B1-1 is 200 mm long, the machines take" in found) is is_bad


def test_room_for_a_longer_piece_ends_at_trims_and_at_its_neighbours():
    # The first piece could reach to the second: 0 to 200; the second from 204 to 500: 296.
    assert said(LAID, replace(SHOP, shortest_piece_mm=200.0)) == ""
    only_second = said(LAID, replace(SHOP, shortest_piece_mm=295.9))
    assert "piece B1-2 is" in only_second and "piece B1-1 is" not in only_second
    assert said(LAID, replace(SHOP, shortest_piece_mm=296.0)) == ""
    # A kerf is lost between the two.
    assert "piece B1-1 is" not in said(LAID, replace(SHOP, shortest_piece_mm=202.0))
    # A trim of end B takes of that room, whether set, seen or unseen.
    for end, shop in (
        (End(True, 10.0), SHOP),
        (End(True), replace(SHOP, end_trim_seen_mm=10.0)),
        (End(False), replace(SHOP, end_trim_unseen_mm=10.0)),
    ):
        ended = replace(ONE, ends={"A": End(True, 0.0), "B": end})
        for shortest, is_bad in ((285.9, True), (286.0, False)):
            found = said(LAID, replace(shop, shortest_piece_mm=shortest), ended)
            assert ("piece B1-2 is" in found) is is_bad, (end, shortest)
    # And one of end A of the first piece's, where it is alone.
    single = replace(
        LAID, placements=LAID.placements[:1], pieces=LAID.pieces[:1], cuts=LAID.cuts[:1]
    )
    ended = replace(ONE, ends={"A": End(True, 30.0), "B": End(True, 20.0)})
    for shortest, is_bad in ((449.9, True), (450.0, False)):
        assert ("piece" in said(single, replace(SHOP, shortest_piece_mm=shortest), ended)) is is_bad


def test_a_piece_too_short_to_mill_is_not_hidden_by_a_length_that_no_cut_leaves():
    shop = replace(SHOP, shortest_piece_mm=295.9)
    assert "piece B1-2 is 200 mm long" in said(LAID, shop)
    none = said(with_piece(1, x1_mm=499.9), shop)
    assert none.startswith("piece B1-2 is said to end at 499.9, where no cut is; ")


def test_a_piece_is_not_drawn_on_over_a_crosscut_to_the_board_s_end():
    """204 to 500 with a blade from 404 to 408: the machines would get 200 mm of it."""
    over = with_piece(1, x1_mm=500.0)
    assert said(over) == "piece B1-2 is cut in two by cut 2, a crosscut"
    assert said(over, replace(SHOP, shortest_piece_mm=295.9)) == said(over)
    # One that is made after milling parts the sections of a piece.
    milled = replace(over, cuts=with_cut(1, kind="final").cuts)
    assert said(milled) == ""
    # A hair into the blade is none.
    for x1, is_bad in ((404.05, False), (404.1, True)):
        assert ("cut in two" in said(with_piece(1, x1_mm=x1))) is is_bad
    for x0, is_bad in ((200.0, True), (203.9, True), (203.95, False)):
        assert ("cut in two" in said(with_piece(1, x0_mm=x0))) is is_bad


def test_a_piece_that_is_begun_stays_as_short_as_it_is():
    shop = replace(SHOP, shortest_piece_mm=295.9)
    assert "piece B1-2" in said(moved(1, state="laid_out"), shop)
    for state in ("cut", "milled", "resting", "done"):
        assert said(moved(1, state=state), shop) == ""
    # One part of a piece is enough.
    both = replace(moved(1, state="cut"), pieces=with_piece(1, placements=(0, 1)).pieces)
    assert "piece B1-2 is" not in said(both, shop)


def test_a_part_set_down_keeps_a_kerf_and_can_be_sawn_free():
    wanted = part("b", 1, 92, 60)
    staying = list(LAID.placements)

    def dropped(x: float, y: float = 0.0, shop: Shop = SHOP, **more: float) -> str:
        placed = replace(Placement("b", 1, "B1", x, y, 92, 60), **more)
        return "; ".join(
            one.words for one in dropped_objections(placed, staying, wanted, ONE, shop)
        )

    assert dropped(408) == ""
    assert dropped(407.95) == ""
    assert dropped(407.9) == (
        "overlaps a 2 or leaves less than a kerf to it; "
        "cannot be sawn free by crosscut, rip, crosscut beside what stays there"
    )
    assert "not all within the wood" in dropped(409)
    any_way = replace(SHOP, cut_class="any")
    assert dropped(407.9, shop=any_way) == "overlaps a 2 or leaves less than a kerf to it"
    # Across: 40 of part a 2, a kerf, and 16 more.
    narrow = {"width_mm": 16.0, "length_mm": 200.0}
    assert dropped(204, 44, **narrow) == ""
    assert "overlaps a 2" in dropped(204, 43.9, **narrow)
    # And with what stays on its other side.
    staying[:] = [Placement("c", 1, "B1", 0, 44, 500, 16), Placement("c", 2, "B1", 300, 0, 90, 40)]
    for long, wide, words in (
        (286.0, 38.0, ""), (286.2, 38.0, "overlaps c 2"), (286.0, 38.2, "overlaps c 1"),
    ):  # fmt: skip
        assert words in (found := dropped(10, 4, length_mm=long, width_mm=wide - 2))
        assert bool(found) is bool(words)
    staying[:] = LAID.placements
    exact = replace(SHOP, cut_class="three_stage")
    assert dropped(204, 44, shop=exact, **narrow) == ""
    assert "sawn free" in dropped(190, 43, **narrow)


def test_a_part_set_down_asks_for_its_thickness_in_the_piece_it_is_milled_in():
    """Bow 4 mm over 500: the machines' 100 long loses 0.16, 250 long 1.0."""
    bowed = replace(ONE, warp=Warp(bow_mm=4.0), thickness=Measured(20.5, 0.0))
    wanted, placed = part("b", 1, 92, 60), Placement("b", 1, "B1", 0, 0, 92, 60)
    assert not list(dropped_objections(placed, (), wanted, bowed, SHOP))
    for shop, thick in (
        (replace(SHOP, shortest_piece_mm=250.0), 19.5), (replace(SHOP, cleanup_mm=1.0), 19.34),
    ):  # fmt: skip
        (found,) = dropped_objections(placed, (), wanted, bowed, shop)
        assert found.words.endswith(f": {thick:.2f} mm are left when flat, 20.00 are needed")


def test_the_exact_class_asks_a_part_set_down_for_its_strip_s_width():
    wanted = part("b", 1, 92, 50)
    staying = [Placement("a", 1, "B1", 0, 0, 200, 40), Placement("c", 1, "B1", 0, 54, 296, 6)]
    placed = Placement("b", 1, "B1", 204, 0, 92, 50)
    assert not list(dropped_objections(placed, staying, wanted, ONE, SHOP))
    exact = replace(SHOP, cut_class="three_stage")
    (found,) = dropped_objections(placed, staying, wanted, ONE, exact)
    assert found.words == "cannot be sawn free by crosscut, rip, crosscut beside what stays there"


def test_the_blade_begins_at_the_wood_of_either_face():
    """Face 2 reaches further at every side: cuts have to go over its edges, too."""
    larger = {1: ONE.faces[1], 2: replace(ONE.faces[2], outline=box(-10, -5, 520, 66))}
    wider = replace(ONE, faces=larger)
    assert said(LAID, one=wider).count("does not run right through") >= 2
    over = replace(
        LAID,
        cuts=(
            Cut("B1", 1, "crosscut", (-2.0, -5.0), (-2.0, 66.0)),
            Cut("B1", 2, "crosscut", (202.0, -5.0), (202.0, 66.0)),
            Cut("B1", 3, "crosscut", (406.0, -5.0), (406.0, 66.0)),
            Cut("B1", 4, "rip", (204.0, 42.0), (404.0, 42.0)),
        ),
    )
    assert said(over, one=wider) == ""
    for x, low, high, is_through in (
        (-8.0, -5.0, 66.0, True), (-2.0, 0.0, 66.0, False), (-2.0, -5.0, 60.0, False),
        (515.0, -5.0, 66.0, True),
    ):  # fmt: skip
        order = 1 if x < 0 else 5
        one_cut = Cut("B1", order, "crosscut", (x, low), (x, high))
        cuts = (*(cut for cut in over.cuts if cut.order != order), one_cut)
        found = said(replace(over, cuts=cuts), one=wider)
        assert (f"cut {order} does not run right through" not in found) is is_through, x
    # The room for a longer piece is that of the wood of both faces: from -10 to 520, 530 mm.
    single = replace(
        over, placements=LAID.placements[:1], pieces=LAID.pieces[:1], cuts=over.cuts[:2]
    )
    for shortest, is_bad in ((530.0, True), (530.1, False)):
        found = said(single, replace(SHOP, shortest_piece_mm=shortest - 0.1), wider)
        assert ("piece B1-1 is" in found) is is_bad, shortest


def test_a_rip_leaves_a_part_s_width_to_a_tenth_in_the_exact_class():
    shop = replace(SHOP, cut_class="three_stage")
    for y, is_bad in ((42.11, False), (42.14, True)):
        found = said(replace(along(y), cut_class="three_stage"), shop)
        assert ("a 2 is not ripped to width" in found) is is_bad, y
