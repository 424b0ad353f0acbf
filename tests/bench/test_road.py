"""The careful person of the road bench: what is kept, reshaped, struck and drawn."""

from dataclasses import replace
from types import SimpleNamespace

import pytest
from shapely.geometry import Polygon, box

from scanner.board.board import Board, Face
from scanner.board.flaw import Flaw, FlawKind, FlawState
from scanner.board.measured import Measured
from scanner.placement.layout import Piece, Placement
from tests.bench.by_the_map import as_pictured, marked
from tests.bench.careful import nodded
from tests.bench.road import RIM_MM, Outcome, pooled, true_board, yield_figure
from tests.bench.road_all import all_figures
from tests.bench.road_losses import WAYS, Case


def _board(*flaws: Flaw) -> Board:
    face = Face(box(0.0, 0.0, 1000.0, 150.0))
    return Board(
        "B1", "any", Measured(25.0, 1.0), Measured(1000.0, 1.0), (), {1: face, 2: face}, flaws
    )


def _flaw(kind: FlawKind, outlines: dict[int, Polygon], reach_mm: float | None = None) -> Flaw:
    return Flaw("F1", kind, outlines, sound=False, reach_mm=reach_mm)


def test_a_mark_that_fits_stays_as_it_is():
    knot = _flaw(FlawKind.KNOT, {1: box(100, 50, 130, 80)})
    mark = _flaw(FlawKind.HOLE, {1: box(99, 49, 130, 80)})
    (seen,) = nodded(_board(mark), _board(knot)).flaws
    assert seen.state is FlawState.CONFIRMED
    assert seen.kind is FlawKind.KNOT
    assert seen.outlines == mark.outlines


def test_a_mark_that_shows_a_part_only_is_reshaped_and_leaves_nothing_behind():
    knot = _flaw(FlawKind.KNOT, {1: box(100, 50, 130, 80)})
    # Covers three quarters of the knot, and wood beside it.
    mark = _flaw(FlawKind.KNOT, {1: box(94, 50, 122.5, 80)})
    scanned = replace(_board(replace(mark, u_mm=3.0)), outline_u_mm=1.2)
    (seen,) = nodded(scanned, _board(knot), hand_mm=1.5).flaws
    assert seen.state is FlawState.CONFIRMED
    assert seen.u_mm == 1.2
    assert seen.outlines[1].equals(knot.outlines[1].buffer(1.5))


def test_a_mark_of_nothing_is_struck_and_a_flaw_without_one_is_drawn():
    knot = _flaw(FlawKind.KNOT, {1: box(100, 50, 130, 80)})
    mark = _flaw(FlawKind.KNOT, {1: box(600, 50, 630, 80)})
    struck, drawn = nodded(_board(mark), _board(knot)).flaws
    assert struck.state is FlawState.STRUCK
    assert drawn.state is FlawState.ADDED
    assert drawn.outlines[1].covers(knot.outlines[1])


def test_a_mark_with_a_face_that_shows_nothing_is_struck_and_the_flaw_drawn():
    knot = _flaw(FlawKind.KNOT, {1: box(100, 50, 130, 80)})
    mark = _flaw(FlawKind.KNOT, {1: box(100, 50, 130, 80), 2: box(300, 50, 330, 80)})
    struck, drawn = nodded(_board(mark), _board(knot)).flaws
    assert struck.state is FlawState.STRUCK
    assert set(drawn.outlines) == {1}


def test_a_crack_drawn_on_both_faces_counts_as_far_as_it_runs_on_either():
    crack = _flaw(FlawKind.SPLIT, {1: box(0, 50, 40, 52), 2: box(0, 60, 120, 62)}, reach_mm=120.0)
    drawn = nodded(_board(), _board(crack)).flaws
    assert [set(flaw.outlines) for flaw in drawn] == [{1}, {2}]
    assert {flaw.reach_mm for flaw in drawn} == {120.0}


def test_a_crack_whose_tip_sticks_out_of_its_mark_is_reshaped():
    crack = _flaw(FlawKind.CHECK, {1: box(0, 50, 52, 52)})
    for end, is_kept in ((50.0, True), (47.5, False)):
        mark = _flaw(FlawKind.CHECK, {1: box(0, 50, end, 52)})
        (seen,) = nodded(_board(mark), _board(crack)).flaws
        assert (seen.outlines == mark.outlines) == is_kept, end


@pytest.mark.parametrize(("rim_mm", "is_seen"), [(RIM_MM, True), ({}, False)])
def test_a_hole_is_as_wide_as_it_is_and_not_as_its_label_is_drawn(rim_mm, is_seen):
    plain = _board()
    ring = [[100.0, 50.0], [101.85, 50.0], [101.85, 51.85], [100.0, 51.85]]
    worm = SimpleNamespace(
        kind="hole", outlines={"1": [ring]}, sound=None, through=False, reach=None
    )
    face = [[0.0, 0.0], [1000.0, 0.0], [1000.0, 150.0], [0.0, 150.0]]
    truth = SimpleNamespace(
        flaws=[worm], outline={"1": face, "2": face}, species="any", thickness=25.0,
        length=1000.0, widths=(),
    )  # fmt: skip
    drawn = nodded(plain, true_board(truth, plain, rim_mm)).flaws
    assert bool(drawn) == is_seen


def test_a_part_marked_by_the_map_goes_with_the_far_edge_and_the_hooked_corner():
    planned, piece = _board(), Piece("B1", "B1-1", 100.0, 600.0, (0,))
    part = Placement("rail", 1, "B1", 300.0, 20.0, 200.0, 60.0)
    # The true board's edge lies 2 mm lower at A and 12 mm lower at B; end A is 3 mm further in.
    true = Polygon([(3, 2.03), (1000, 12), (1000, 162), (3, 152.03)])
    board = replace(planned, faces={n: Face(true) for n in (1, 2)})
    laid = marked(part, piece, planned, board)
    assert laid.x_mm == pytest.approx(303.0)
    assert laid.y_mm == pytest.approx(20.0 + 2.0 + 3.03, abs=0.02)
    assert laid.angle_deg == pytest.approx(0.573, abs=0.01)


def test_a_flaw_is_drawn_where_the_picture_has_it():
    knot = _flaw(FlawKind.KNOT, {1: box(500, 50, 530, 80)})
    true = _board(knot)
    # The scan is 5 mm too long, and its frame lies 3 mm off at A and 8 mm off at B.
    seen = Polygon([(0, 3), (1005, 8), (1005, 158), (0, 153)])
    scanned = replace(_board(), faces={n: Face(seen) for n in (1, 2)})
    (drawn,) = as_pictured(true, scanned).flaws
    assert drawn.outlines[1].centroid.x == pytest.approx(515 * 1.005)
    assert drawn.outlines[1].centroid.y == pytest.approx(65 + 3 + 5 * 0.515, abs=0.05)


def test_the_yield_is_told_with_the_scatter_over_boards():
    def outcome(boards):
        return Outcome("any", 0, 0, 0, 0.0, (), boards)

    whole = {"B1": (50.0, 100.0), "B2": (60.0, 100.0)}
    even = yield_figure(outcome({"B1": (45.0, 100.0), "B2": (54.0, 100.0)}), outcome(whole))
    assert even.figure == "90.0 % (90.0 to 90.0)"
    assert even.verdict == "**no**"
    # Yields, not areas: a board that one of both left unopened counts for the other alone.
    lost = yield_figure(outcome({"B1": (50.0, 100.0)}), outcome(whole))
    assert lost.figure.startswith("90.9 % (")
    assert lost.verdict == "within chance"
    # What lacks a hair of its bar does not read as meeting it.
    hair = yield_figure(outcome({"B1": (47.48, 100.0)}), outcome({"B1": (50.0, 100.0)}))
    assert hair.figure.startswith("94.96 % (")


def test_lots_are_pooled_by_their_wood_and_not_by_their_number():
    large = Outcome("nodded", 9, 8, 9, 0.8, ("one",), {"B1": (800.0, 1000.0)})
    small = Outcome("nodded", 1, 1, 1, 0.1, (), {"B2": (10.0, 100.0)})
    both = pooled([large, small])
    assert (both.placed, both.sound, both.whole) == (10, 9, 10)
    assert both.yield_sound == pytest.approx(810 / 1100)
    assert both.objections == ("one",)
    assert set(both.of_boards) == {"B1", "B2"}


def test_boards_of_both_renderers_count_together_and_how_many_of_each_is_said():
    def outcome(way, sound):
        return Outcome(way, 100, sound, 100, 0.5, (), {"B1": (50.0, 100.0), "B2": (50.0, 100.0)})

    ways = ("unseen", "nodded", "all-knowing", "marked")
    outcomes = [outcome(way, sound) for way, sound in zip(ways, (70, 98, 100, 99), strict=True)]
    boards, _, looked, by_map, share = all_figures({"first": 48, "second": 13}, outcomes)
    assert boards.figure == "61: first 48, second 13"
    assert boards.verdict == "yes"
    assert looked.verdict == "**no**"
    assert by_map.figure.startswith("99 of 100")
    assert share.figure.startswith("100.0 %")
    assert all_figures({"first": 48, "second": 11}, outcomes)[0].verdict == "**no**"


def test_a_kind_s_own_loss_is_told_with_all_other_marks_left_as_nodded():
    knot = _flaw(FlawKind.KNOT, {1: box(100, 50, 130, 80)})
    split = replace(_flaw(FlawKind.SPLIT, {1: box(0, 50, 40, 52)}), id="F2")
    mark = _flaw(FlawKind.KNOT, {1: box(99, 49, 130, 80)})
    scanned = replace(_board(mark), outline_u_mm=1.2)
    way = WAYS["all, but true cracks"]
    kept, true = way(Case(scanned, _board(knot, split))).flaws
    assert kept.outlines == mark.outlines
    assert (true.kind, true.outlines, true.u_mm) == (FlawKind.SPLIT, split.outlines, 1.2)
