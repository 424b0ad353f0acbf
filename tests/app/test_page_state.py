"""The page shows each face the way a person sees it, with its state in words."""

from dataclasses import replace

import numpy as np
import pytest
from shapely.geometry import Polygon

from scanner.app.lot.open_lot import fill_from_results, new_stamp, open_lot
from scanner.app.lot.parts_table import set_units
from scanner.app.nodding.review_flaws import look_over, strike
from scanner.app.placing.layout_state import layout_view
from scanner.app.showing.list_boards import board_lines
from scanner.app.showing.page_state import board_view, lot_view
from scanner.app.take_outbox import take_outbox
from scanner.storage.journal import Stamp
from scanner.storage.lots import Action
from tests import common
from tests.ui.made_results import write_results


@pytest.fixture
def lot(tmp_path):
    lot = open_lot(tmp_path / "bench.lot")
    fill_from_results(lot, write_results(tmp_path / "out"))
    yield lot
    lot.close()


@pytest.mark.parametrize(
    ("quality", "words"),
    [
        ("good", "Safe for rough layout."),
        ("rough", "Rough sizes only: tape it."),
    ],
)
def test_what_the_sizes_are_good_for_is_said_in_words(lot, quality, words):
    lot.save_board(replace(lot.board("B01"), quality=quality), new_stamp(lot))
    assert board_view(lot, "B01").trust == words
    assert next(line.trust for line in board_lines(lot) if line.id == "B01") == words


def test_a_flaw_off_the_board_is_told_beside_the_boards_notes(lot):
    assert not any("off the board" in note for note in board_view(lot, "B01").notes)
    board = lot.board("B01")
    away = replace(board.flaws[2], outlines={2: Polygon([(900, 900), (940, 900), (920, 930)])})
    lot.save_board(replace(board, flaws=(*board.flaws[:2], away)), new_stamp(lot))
    assert board_view(lot, "B01").notes[-1].startswith("F3 of B01 lies wholly off the board")


def _centre(ring):
    return sum(x for x, _ in ring) / len(ring), sum(y for _, y in ring) / len(ring)


def test_face_2_turned_sideways_is_mirrored_across_the_width(lot):
    board = common.ash_board()
    width = board.faces[1].outline.bounds[3]
    knot = next(f for f in board_view(lot, "B01").flaws if f.id == "F3")
    at = board.flaws[2].outlines[2].centroid
    assert _centre(knot.rings[2]) == pytest.approx((at.x, width - at.y), abs=0.1)


def test_a_traced_arris_is_drawn_where_it_was_traced_with_few_corners(lot):
    board = lot.board("B01")
    _, _, length, width = board.faces[1].outline.bounds
    # A crook of 3 mm, a corner every 4 mm, each a hundredth of a mm off its line.
    along = np.arange(0, length, 4.0)
    bend = 3 * (1 - (2 * along / length - 1) ** 2) + 0.01 * (-1) ** np.arange(len(along))
    sides = [*zip(along, bend, strict=True), *zip(along[::-1], width + bend[::-1], strict=True)]
    traced = Polygon(sides)
    face = replace(board.faces[1], outline=traced)
    lot.save_board(replace(board, faces={**board.faces, 1: face}), new_stamp(lot))
    drawn = board_view(lot, "B01").faces[0].outline
    assert len(drawn) < len(sides) / 5
    assert Polygon(drawn).exterior.hausdorff_distance(traced.exterior) < 0.06


def test_face_2_turned_end_over_end_is_mirrored_along_the_length(lot):
    board = common.walnut_board()
    length = board.faces[1].outline.bounds[2]
    mark = next(f for f in board_view(lot, "B02").flaws if f.id == "F4")
    at = board.flaws[3].outlines[2].centroid
    assert _centre(mark.rings[2]) == pytest.approx((length - at.x, at.y), abs=0.1)
    assert board_view(lot, "B02").faces[1].mirror == "x"


def test_face_1_is_shown_as_it_lies(lot):
    knot = next(f for f in board_view(lot, "B01").flaws if f.id == "F1")
    assert _centre(knot.rings[1]) == pytest.approx((820, 110), abs=0.1)


def test_the_picture_lies_where_its_first_pixel_says(lot):
    face = board_view(lot, "B01").faces[0]
    assert face.place is not None
    # 1 mm per px, first pixel's centre at (-20, -20): its corner half a pixel before.
    assert face.place[:2] == (-20.5, -20.5)
    assert face.place[2:] == (2502.0, 227.0)


def test_parts_are_drawn_on_both_faces_with_their_show_face(lot):
    parts = board_view(lot, "B01").parts
    assert [part.label for part in parts][:3] == ["rail 1", "rail 2", "seat slat 1"]
    assert all(set(part.rings) == {1, 2} for part in parts)
    assert parts[2].show_face == 1


def test_a_face_without_a_photo_has_no_picture(lot):
    board = lot.board("B01")
    bare = replace(board.faces[2], picture=None, mm_per_px=None, picture_origin=None)
    lot.save_board(
        replace(board, faces={**board.faces, 2: bare}), Stamp("bare-face-2", lot.revision, "test")
    )
    face = board_view(lot, "B01").faces[1]
    assert face.picture is None and face.place is None
    assert len(face.outline) >= 4


def test_the_row_of_boards_counts_what_is_open(lot):
    view = lot_view(lot)
    assert [(line.id, line.open_flaws, line.is_done) for line in view.lines] == [
        ("B01", 5, False),
        ("B02", 0, True),
    ]
    assert (view.boards_done, view.first_to_do()) == (1, "B01")


def test_the_layout_is_old_once_something_else_is_said(lot):
    assert layout_view(lot).standing == "current"
    stamp = Stamp("strike-one", lot.revision, "test")
    lot.record(Action(stamp, "B01", "struck", lambda board: strike(board, "F5")))
    assert layout_view(lot).standing == "old"


def test_a_board_not_looked_over_is_said_beside_the_layout(lot):
    assert any(line.startswith("Not looked over: B01") for line in layout_view(lot).lines)


def test_looking_over_both_faces_makes_the_board_done(lot):
    for face in (1, 2):
        stamp = Stamp(f"look-over-{face}", lot.revision, "test")
        lot.record(Action(stamp, "B01", "over", lambda board, face=face: look_over(board, face)))
    assert lot_view(lot).first_to_do() is None


def test_every_length_of_a_flaw_carries_its_u(lot):
    where = board_view(lot, "B01").flaws[0].where
    assert where == (
        "Faces 1 and 2, comes through, 806.0 ± 1.3 mm from end A; "
        "28.0 ± 1.6 mm long, 24.0 ± 1.6 mm wide."
    )


def test_what_a_finder_saw_is_said_in_the_lots_units(lot):
    reason = "small black spot, 4 x 3 mm; thin dark line, reaches 120 mm (give or take 25)"

    def seen(board):
        first, *others = board.flaws
        return replace(board, flaws=(replace(first, reason=reason), *others))

    lot.record(Action(Stamp("seen", lot.revision, "test"), "B01", "seen", seen))
    assert board_view(lot, "B01").flaws[0].reason == reason.replace("4 x 3", "4 × 3")
    set_units(lot, "inch")
    assert board_view(lot, "B01").flaws[0].reason == (
        "small black spot, 3/16 × 1/8 in; thin dark line, reaches 4 3/4 in (give or take 1 in)"
    )


def test_of_a_flaw_smaller_than_its_u_is_said_how_large_it_may_be(lot):
    def small(board):
        first, *others = board.flaws
        outlines = {number: shape.centroid.buffer(0.5) for number, shape in first.outlines.items()}
        return replace(board, flaws=(replace(first, outlines=outlines, u_mm=4.0), *others))

    lot.record(Action(Stamp("small", lot.revision, "test"), "B01", "small", small))
    assert board_view(lot, "B01").flaws[0].where.endswith("; up to 7 mm long, up to 7 mm wide.")


def test_the_most_doubtful_flaw_is_the_first_to_look_at(lot):
    flaws = board_view(lot, "B01").flaws
    # Scores 0.93, 0.71, 0.64, 0.80, 0.52: the nearest to an even bet comes first.
    assert [flaw.id for flaw in sorted(flaws, key=lambda flaw: flaw.rank)] == [
        "F5", "F3", "F2", "F4", "F1",
    ]  # fmt: skip


def test_an_end_that_was_looked_at_loses_less_and_is_said_to_be_seen(lot):
    op = {"id": "end-a-is-seen", "client": "window-1", "base": lot.revision, "verb": "end_seen",
          "board": "B01", "to": "A"}  # fmt: skip
    assert take_outbox(lot, {"ops": [op]}, {})[0].status == "done"
    assert board_view(lot, "B01").ends == (("A", True), ("B", False))
    assert lot.next_undo() == "B01: end A looked at"
    op |= {"id": "end-c-is-seen", "to": "C"}
    assert take_outbox(lot, {"ops": [op]}, {})[0].status == "refused"
