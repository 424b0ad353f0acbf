"""The layout changed by hand: what may be done is kept, what may not is refused in words."""

from dataclasses import replace

import pytest

from scanner.app.lot.asked_parts import asked_parts
from scanner.app.lot.open_lot import open_lot, parts_of, set_parts
from scanner.app.placing.landing import bench_of, land
from scanner.app.placing.place_again import plan_lot
from scanner.app.showing.page_state import lot_view
from scanner.app.showing.road_state import road
from scanner.app.take_outbox import take_outbox
from scanner.board.flaw import Flaw, FlawKind, FlawState
from scanner.placement.layout import Bound, Layout, Placement, Summary
from scanner.placement.stop import Work
from scanner.placement.validator.ground import ground_objections
from scanner.placement.validator.judge import validate_layout
from scanner.placement.wanted.turned import turned_shape
from scanner.storage.journal import Stamp
from scanner.storage.lots import Action
from tests import common

_PARTS = """name,quantity,length,width,thickness,faces
rail,2,575,48,15,both
slat,2,375,68,15,show
"""


@pytest.fixture
def lot(tmp_path):
    """Two plain boards, 2000 x 200 mm; rails side by side and a slat beyond them on P01."""
    lot = open_lot(tmp_path / "bench.lot")
    set_parts(lot, _PARTS, "parts.csv")
    for id in ("P01", "P02"):
        board = common.plain_board(id, length_mm=2000.0, width_mm=200.0)
        lot.save_board(board, Stamp(f"board-{id}-one", lot.revision, "test"))
    lot.save_layout(_layout(), lot.revision)
    yield lot
    lot.close()


def _layout():
    placements = (
        Placement("rail", 1, "P01", 20, 10, 600, 60),
        Placement("rail", 2, "P01", 20, 80, 600, 60),
        Placement("slat", 1, "P01", 700, 10, 400, 80, show_face=1),
    )
    summary = Summary(3, 4, 1, 4e5, 4.0, 0.5)
    return Layout(
        "three_stage_trimmed", 3.2, 1, 0, placements, (), (), (), (), summary,
        Bound("value", "any", 1.0, 0.0),
    )  # fmt: skip


# Where the window saw the part: a ring has two corners or more.
_RAIL, _SLAT = [[20, 10], [20, 10]], [[700, 10], [700, 10]]
_count = iter(range(10**6))


def _say(lot, verb, **about):
    name = f"operation-{next(_count)}"
    op = {"id": name, "client": "window-1", "base": lot.revision, "verb": verb, **about}
    return take_outbox(lot, {"ops": [op]}, {})[0]


def _move(lot, part, copy, to, board="P01", onto=None, reach=10.0, **more):
    placed = _where(lot, part, copy)
    return _say(
        lot, "move", part=part, copy=copy, board=placed.board, other=onto or board,
        ring=[[placed.x_mm, placed.y_mm], list(to)], reach=reach, **more,
    )  # fmt: skip


def _where(lot, part, copy):
    placements = lot.layout().layout.placements
    return next(p for p in placements if (p.part, p.copy) == (part, copy))


def _at(lot, part, copy):
    placed = _where(lot, part, copy)
    return placed.board, round(placed.x_mm), round(placed.y_mm), placed.locked


def test_a_moved_part_lies_where_it_was_put_and_stays_there(lot):
    assert _move(lot, "slat", 1, (1300, 50)).status == "done"
    assert _at(lot, "slat", 1) == ("P01", 1300, 50, True)
    plan_lot(lot, Work(40))
    assert _at(lot, "slat", 1) == ("P01", 1300, 50, True)
    assert lot.layout().revision == lot.revision


def test_a_part_put_down_near_a_limit_snaps_to_it(lot):
    # 2.5 mm margin to the edge; the finger let go 6 mm outside.
    assert _move(lot, "slat", 1, (1300, -4)).status == "done"
    placed = _where(lot, "slat", 1)
    assert placed.y_mm == pytest.approx(2.5, abs=0.2) and placed.x_mm == pytest.approx(1300)


def test_a_part_is_laid_on_the_line_of_its_neighbour(lot):
    _move(lot, "slat", 1, (850, 13))
    assert _where(lot, "slat", 1).y_mm == 10.0


def test_a_part_may_be_carried_to_another_board_and_back_by_undo(lot):
    answer = _move(lot, "rail", 2, (100, 20), onto="P02")
    assert answer.status == "done" and lot.next_undo() == "rail 2: moved to P02"
    assert _at(lot, "rail", 2) == ("P02", 100, 20, True)
    lot.undo(Stamp("undo-one-move", lot.revision, "window-1"))
    assert _at(lot, "rail", 2) == ("P01", 20, 80, False)
    assert lot.layout().revision == lot.revision
    lot.redo(Stamp("redo-one-move", lot.revision, "window-1"))
    assert _at(lot, "rail", 2) == ("P02", 100, 20, True)


def test_a_part_put_on_a_knot_is_refused_and_the_knot_is_named(lot):
    knot = Flaw("F7", FlawKind.KNOT, {1: common.ellipse(1500, 100, 40, 60)}, None, False, None,
                FlawState.CONFIRMED, 0.9, "", 1.0)  # fmt: skip
    stamp = Stamp("one-knot-more", lot.revision, "test")
    lot.record(Action(stamp, "P01", "knot", lambda board: board.with_flaws((knot,))))
    answer = _move(lot, "rail", 1, (1200, 70))
    assert answer.status == "refused"
    assert answer.said.startswith("rail 1 may not lie there: in the way: knot F7")
    assert _at(lot, "rail", 1) == ("P01", 20, 10, False)


def test_what_is_only_planned_makes_way_and_what_stays_does_not(lot):
    bench = bench_of(lot)
    mover = _where(lot, "slat", 1)
    landing = land(bench, mover, "P01", (20, 10), 5.0)
    assert landing.placement is not None
    assert {(p.part, p.copy) for p in landing.makes_way} == {("rail", 1), ("rail", 2)}
    _say(lot, "tick", part="rail", copy=1, board="P01", ring=_RAIL, to="lock")
    landing = land(bench_of(lot), mover, "P01", (20, 10), 5.0)
    assert landing.placement is None
    assert landing.why == "In the way: rail 1 (it stays there)."
    # Asked for once, it has no number: neither on the wood nor here.
    set_parts(lot, _PARTS.replace("rail,2", "rail,1"), "parts.csv")
    assert land(bench_of(lot), mover, "P01", (20, 10), 5.0).why == (
        "In the way: rail (it stays there)."
    )


def test_what_was_pushed_away_gets_another_place(lot):
    assert _move(lot, "slat", 1, (150, 10)).status == "done"
    plan_lot(lot, Work(60))
    layout = lot.layout().layout
    assert validate_layout(layout, lot.boards(), asked_parts(lot), lot.shop()) == ()
    assert layout.summary.placed == 4
    assert _at(lot, "slat", 1)[:3] == ("P01", 150, 10)


def test_what_lies_beside_a_part_that_stays_keeps_its_place(lot):
    _say(lot, "tick", part="rail", copy=1, board="P01", ring=_RAIL, to="lock")
    plan_lot(lot, Work(40))
    assert _at(lot, "rail", 2) == ("P01", 20, 80, False)


def test_a_cut_part_cannot_be_moved(lot):
    _say(lot, "tick", part="slat", copy=1, board="P01", ring=_SLAT, to="cut")
    answer = _move(lot, "slat", 1, (1300, 50))
    assert answer.status == "refused" and "is cut already" in answer.said


def test_turning_a_part_over_shows_its_other_face(lot):
    answer = _say(lot, "turn", part="slat", copy=1, board="P01", ring=_SLAT)
    assert answer.status == "done"
    assert _where(lot, "slat", 1).show_face == 2 and _where(lot, "slat", 1).locked
    stain = Flaw("F2", FlawKind.STAIN, {1: common.ellipse(800, 50, 20, 20)}, None, False, None,
                 FlawState.CONFIRMED, 0.9, "", 1.0)  # fmt: skip
    stamp = Stamp("one-stain-more", lot.revision, "test")
    lot.record(Action(stamp, "P01", "stain", lambda board: board.with_flaws((stain,))))
    answer = _say(lot, "turn", part="slat", copy=1, board="P01", ring=_SLAT)
    assert answer.status == "refused" and "stain F2" in answer.said


def test_a_part_that_asks_for_no_show_face_is_not_turned(lot):
    answer = _say(lot, "turn", part="rail", copy=1, board="P01", ring=_RAIL)
    assert answer.status == "refused"


def test_swapped_parts_lie_where_the_other_lay(lot):
    answer = _say(
        lot, "swap", part="rail", copy=1, board="P01", ring=[[20, 10], [700, 10]],
        other="slat", other_copy=1, other_board="P01",
    )  # fmt: skip
    assert answer.status == "done", answer.said
    assert lot.next_undo() == "rail 1 swapped with slat 1"
    rail, slat = _where(lot, "rail", 1), _where(lot, "slat", 1)
    assert (rail.x_mm, rail.y_mm) == pytest.approx((700, 10), abs=30)
    assert (slat.x_mm, slat.y_mm) == pytest.approx((20, 10), abs=30)
    plan_lot(lot, Work(60))
    layout = lot.layout().layout
    assert validate_layout(layout, lot.boards(), asked_parts(lot), lot.shop()) == ()


def test_a_part_kept_off_a_board_is_placed_elsewhere_until_it_is_let_on_again(lot):
    _say(lot, "tick", part="rail", copy=1, board="P01", ring=_RAIL, to="lock")
    assert _say(lot, "forbid", part="rail", board="P01").status == "done"
    plan_lot(lot, Work(60))
    placements = lot.layout().layout.placements
    assert {p.board for p in placements if p.part == "rail"} == {"P02"}
    landing = land(bench_of(lot), _where(lot, "rail", 1), "P01", (20, 10), 50.0)
    assert landing.why == "P01 is ruled out for this part."
    _say(lot, "allow", part="rail", board="P01")
    assert lot.hand_rules().forbidden == ()


def test_a_reserved_spare_is_placed_too_and_can_be_given_back(lot):
    assert _say(lot, "spare", part="slat", to="more").status == "done"
    plan_lot(lot, Work(60))
    placements = lot.layout().layout.placements
    assert sum(p.part == "slat" for p in placements) == 3
    assert lot.layout().layout.summary.asked == 5
    # Counted as the layout counts it: what is wanted, and the spare beside it.
    wanted = sum(part.quantity for part in parts_of(lot))
    assert road(lot, lot_view(lot))[0].note == f"{wanted} + 1 spare"
    _say(lot, "spare", part="slat", to="less")
    assert road(lot, lot_view(lot))[0].note == f"{wanted} wanted"
    assert lot.hand_rules().spares == {}
    assert _say(lot, "spare", part="slat", to="less").status == "nothing"


def test_a_part_that_stays_where_it_may_not_is_said_and_nothing_is_placed(lot):
    _say(lot, "tick", part="slat", copy=1, board="P01", ring=_SLAT, to="lock")
    board = lot.board("P01")
    hole = Flaw("F9", FlawKind.HOLE, {1: common.ellipse(800, 50, 9, 9)}, None, True, None,
                FlawState.CONFIRMED, 0.9, "", 1.0)  # fmt: skip
    lot.save_board(board.with_flaws((hole,)), Stamp("one-hole-more", lot.revision, "test"))
    with pytest.raises(Exception, match=r"slat 1 is to stay .* too near to hole F9"):
        plan_lot(lot, Work(20))


def test_a_move_seen_from_an_old_layout_is_refused(lot):
    placed = replace(_where(lot, "slat", 1), x_mm=400.0)
    answer = _say(
        lot, "move", part="slat", copy=1, board="P01", other="P01",
        ring=[[placed.x_mm, placed.y_mm], [1300, 10]], reach=10.0,
    )  # fmt: skip
    assert answer.status == "refused" and "does not lie there" in answer.said


@pytest.mark.parametrize("verb", ["move", "swap", "turn", "forbid", "spare"])
def test_nonsense_from_a_window_changes_nothing(lot, verb):
    before = lot.revision
    for about in ({}, {"part": "nobody", "board": "P01", "copy": 1, "ring": [[0, 0], [1, 1]]}):
        assert _say(lot, verb, **about).status == "refused"
    assert lot.revision == before


@pytest.fixture
def leaning(lot):
    """The lot with its slat turned by 4 degrees."""
    layout = lot.layout().layout
    leans = replace(layout.placements[2], angle_deg=4.0)
    set_parts(lot, _FOLLOWS, "parts.csv")
    lot.save_layout(replace(layout, placements=(*layout.placements[:2], leans)), lot.revision)
    return lot


_FOLLOWS = """name,quantity,length,width,thickness,faces,straight_grain
rail,2,575,48,15,both,
slat,2,375,68,15,show,follow
"""


def test_others_keep_clear_of_a_part_turned_with_the_grain(leaning):
    # Its far corner stands 400 x sin 4 deg lower than a straight part's: 10 + 80 + 28 mm.
    landing = land(bench_of(leaning), _where(leaning, "rail", 1), "P01", (900, 100), 40.0)
    assert landing.placement is not None and landing.makes_way == ()
    assert landing.placement.y_mm > 10 + 80 + 27


def test_a_part_turned_with_the_grain_is_carried_as_it_is_turned(leaning):
    assert _move(leaning, "slat", 1, (1300, 50)).status == "done"
    moved = _where(leaning, "slat", 1)
    assert (round(moved.x_mm), round(moved.y_mm), moved.angle_deg) == (1300, 50, 4.0)
    part = bench_of(leaning).parts["slat"]
    assert moved.locked
    assert list(ground_objections(moved, part, leaning.board("P01"), leaning.shop())) == []


def test_a_turned_part_lands_with_all_of_its_corners_on_the_wood(leaning):
    # Wished so low that its far corner would stand out: 200 mm of board, 80 + 28 mm of part.
    landing = land(bench_of(leaning), _where(leaning, "slat", 1), "P01", (1300, 110), 60.0)
    placed = landing.placement
    assert placed is not None and placed.angle_deg == 4.0
    _, low, _, high = turned_shape(placed).bounds
    assert low > 0 and 195 < high < 200
    beyond = land(bench_of(leaning), _where(leaning, "slat", 1), "P01", (1300, 190), 20.0)
    assert beyond.placement is None and "the board's edge" in beyond.why


def test_a_turned_part_keeps_clear_of_a_knot_as_it_is_turned(leaning):
    def with_knot(board):
        knot = common.ellipse(1650, 165, 10, 10)
        return board.with_flaws((Flaw("F1", FlawKind.KNOT, {1: knot, 2: knot}, None, True, None,
                                      FlawState.CONFIRMED, 0.9, "dark", 1.0),))  # fmt: skip

    leaning.record(Action(Stamp("knot-1", leaning.revision, "test"), "P01", "a knot", with_knot))
    slat = _where(leaning, "slat", 1)
    # Straight it would pass above the knot; turned, its far end comes down on it.
    straight = land(bench_of(leaning), replace(slat, angle_deg=0.0), "P01", (1300, 60), 5.0)
    turned = land(bench_of(leaning), slat, "P01", (1300, 60), 5.0)
    assert straight.placement is not None
    assert turned.placement is None and "knot" in turned.why


def test_a_part_that_follows_the_grain_takes_the_other_boards_course(leaning):
    # P02 has no picture: nothing tells of its grain, and the part lies along the board.
    assert _move(leaning, "slat", 1, (700, 50), board="P01", onto="P02").status == "done"
    assert _where(leaning, "slat", 1).angle_deg == 0.0


@pytest.fixture
def sliced(tmp_path):
    """A pair of doors, two slices of one blank, on the first of two thick boards."""
    lot = open_lot(tmp_path / "doors.lot")
    row = "door,2,400,120,12,show,doors:bookmatch"
    set_parts(lot, f"name,quantity,length,width,thickness,faces,match\n{row}\n", "parts.csv")
    for id in ("P01", "P02"):
        board = common.plain_board(id, 900.0, 190.0, 52.0)
        lot.save_board(board, Stamp(f"board-{id}-one", lot.revision, "test"))
    doors = tuple(
        Placement("door", n, "P01", 60.0, 5.0, 425.0, 132.0, show_face=1, layer=n) for n in (1, 2)
    )
    lot.save_layout(replace(_layout(), placements=doors), lot.revision)
    yield lot
    lot.close()


@pytest.mark.slow
@pytest.mark.parametrize("copy", [1, 2])
def test_a_slice_takes_the_others_of_its_blank_along_and_the_parts_are_placed_with_that(
    sliced, copy
):
    assert _move(sliced, "door", copy, (300, 20), onto="P02").status == "done"
    plan_lot(sliced, Work(10))
    assert [_at(sliced, "door", n) for n in (1, 2)] == [("P02", 300, 20, True)] * 2
    assert [_where(sliced, "door", n).layer for n in (1, 2)] == [1, 2]


def test_a_slice_may_be_put_where_the_blank_that_it_leaves_lies_now(sliced):
    assert _move(sliced, "door", 2, (110, 10)).status == "done"
    assert [_at(sliced, "door", n) for n in (1, 2)] == [("P01", 110, 10, True)] * 2


def test_a_slice_of_a_blank_that_is_cut_stays(sliced):
    door = {"part": "door", "copy": 1, "board": "P01", "ring": [[60, 5], [60, 5]]}
    assert _say(sliced, "tick", to="cut", **door).status == "done"
    answer = _move(sliced, "door", 2, (300, 20), onto="P02")
    assert answer.status == "refused" and "door 1, resawn from the same blank" in answer.said


def test_a_slice_is_not_swapped_away_from_its_blank(sliced):
    answer = _say(
        sliced, "swap", part="door", copy=1, board="P01", ring=[[60, 5], [60, 5]],
        other="door", other_copy=2, other_board="P01",
    )  # fmt: skip
    assert answer.status == "refused" and "is resawn from a blank with others" in answer.said
