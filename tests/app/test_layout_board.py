"""What the layout page draws and answers while a part is carried."""

import json
from dataclasses import asdict, replace

import pytest
from shapely.geometry import Polygon

from scanner.app.lot.open_lot import fill_from_results, open_lot
from scanner.app.placing.layout_state import layout_view
from scanner.app.showing.layout_board import laid_boards, may_it_lie
from scanner.app.showing.page_state import part_view
from scanner.app.take_outbox import take_outbox
from scanner.placement.layout import Placement
from scanner.sheets.words import blank_title
from tests.common import ash_board, bench_parts
from tests.ui.made_results import write_results


@pytest.fixture
def lot(tmp_path):
    lot = open_lot(tmp_path / "bench.lot")
    fill_from_results(lot, write_results(tmp_path / "out"))
    yield lot
    lot.close()


def _part(lot, name, copy=1):
    parts = [part for board in laid_boards(lot) for part in board.parts]
    return next(part for part in parts if (part.part, part.copy) == (name, copy))


def _tick(lot, part, at, to):
    op = {"id": f"tick-{part}-{to}", "client": "window-1", "base": lot.revision, "verb": "tick",
          "part": part, "copy": 1, "board": "B01", "ring": [at, at], "to": to}  # fmt: skip
    return take_outbox(lot, {"ops": [op]}, {})[0]


def test_each_part_says_what_it_asks_and_whether_it_stays(lot):
    rail = _part(lot, "rail")
    assert (rail.asks, rail.stays) == ("clear on both faces", "")
    assert rail.size == "635 × 82 mm rough, 610 × 70 mm finished"
    assert _tick(lot, "rail", [150, 8], "lock").status == "done"
    assert _part(lot, "rail").stays == "held"
    _tick(lot, "cleat", [1885, 14], "cut")
    assert _part(lot, "cleat").stays == "cut"


def test_boards_with_parts_come_first_and_what_is_sent_is_plain(lot):
    boards = laid_boards(lot)
    assert [bool(board.parts) for board in boards] == sorted(
        (bool(board.parts) for board in boards), reverse=True
    )
    assert json.loads(json.dumps([asdict(board) for board in boards]))


def test_each_end_says_what_it_may_still_lose(lot):
    first = next(board for board in laid_boards(lot) if board.id == "B01")
    assert first.ends[0].startswith("End A may lose ")
    assert first.ends[0].endswith(" more before rail 2 is lost.")


def test_a_carried_part_is_told_where_it_would_land_and_what_makes_way(lot):
    seen = ("B01", (1885.0, 14.0))
    free = may_it_lie(lot, ("cleat", 1), seen, ("B01", (1920.0, 20.0)), 10.0)
    assert free is not None and free.may and free.said == ""
    over = may_it_lie(lot, ("cleat", 1), seen, ("B01", (1000.0, 20.0)), 5.0)
    assert over is not None and over.may and over.said == "stretcher makes way."
    edge = may_it_lie(lot, ("cleat", 1), seen, ("B01", (1920.0, -60.0)), 10.0)
    assert edge is not None and not edge.may
    assert edge.said.startswith("In the way: the board's edge")
    walnut = may_it_lie(lot, ("cleat", 1), seen, ("B02", (500.0, 20.0)), 10.0)
    assert walnut is not None and walnut.said == "B02 is walnut, not white ash."


def test_a_part_that_lies_elsewhere_now_has_no_answer(lot):
    seen = ("B01", (10.0, 14.0))
    assert may_it_lie(lot, ("cleat", 1), seen, ("B01", (1920.0, 20.0)), 10.0) is None


def test_waste_and_left_overs_are_said(lot):
    assert layout_view(lot).totals.startswith("Waste 57 %; 1 left-over worth keeping, ")


def test_curved_parts_are_drawn_as_their_own_curves():
    board, rail = ash_board(), bench_parts()[0]
    wedge = replace(
        rail, name="wedge", length_mm=400.0, width_mm=100.0,
        outline_mm=((0.0, 0.0), (400.0, 0.0), (0.0, 100.0)),
    )  # fmt: skip
    one = Placement("wedge", 1, "B01", 150.0, 8.0, 400.0, 100.0, nest=1)
    nest = (one, replace(one, copy=2, x_mm=170.0, half_turn=True))
    views = [part_view(board, p, nest, {"wedge": wedge}) for p in nest]
    for face in (1, 2):
        first, second = (Polygon(view.rings[face]) for view in views)
        assert first.distance(second) > 4
        assert first.buffer(0.1).covers(Polygon(views[0].rooms[face]))
    alone = part_view(board, replace(one, nest=None), nest, {"wedge": wedge})
    assert alone.rings == views[0].rings
    straight = {"wedge": replace(wedge, outline_mm=None)}
    square = part_view(board, replace(one, nest=None), nest, straight)
    assert (len(square.rings[1]), square.rooms) == (4, {})


def test_slices_over_each_other_are_both_named_on_the_upper_one():
    board, door = ash_board(), bench_parts()[0]
    rows = {
        "door": replace(door, name="door", quantity=3),
        "back": replace(door, name="back", quantity=1),
    }
    slices = tuple(
        Placement(part, copy, "B01", 150.0, 8.0, 400.0, 100.0, show_face=1, layer=layer)
        for part, copy, layer in (("door", 1, 1), ("door", 3, 2))
    )
    beside = Placement("back", 1, "B01", 600.0, 8.0, 400.0, 100.0, show_face=1)
    views = [part_view(board, p, (*slices, beside), rows) for p in (*slices, beside)]
    assert [view.written for view in views] == [(), ("door 1", "door 3 (resaw)"), ("back",)]
    assert [view.label for view in views] == ["door 1", "door 3", "back"]
    # The one drawn last bears the names, in the order in which they lie in the wood.
    assert part_view(board, slices[0], slices[::-1], rows).written == ("door 1", "door 3 (resaw)")
    assert blank_title(slices[0], slices[::-1], rows) == "door 1 + door 3 (resaw)"
    assert [view.show_face for view in views] == [None, None, 1]
    left = replace(slices[1], state="spoiled")
    assert part_view(board, slices[0], (slices[0], left), rows).written == ("door 1 (resaw)",)
