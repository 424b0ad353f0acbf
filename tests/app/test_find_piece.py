"""What a piece looked at again changes on its board."""

from dataclasses import replace
from functools import partial
from pathlib import Path

import pytest
from shapely.geometry import Point, box

from scanner.app.later.find_piece import _record_in_lot, find_piece
from scanner.app.later.piece_on_board import on_board, with_piece
from scanner.app.lot.open_lot import new_stamp
from scanner.app.scanning.scan_request import ScanRequest
from scanner.board.board import Board, Face, Station
from scanner.board.flaw import Flaw, FlawKind, FlawState
from scanner.board.measured import Measured
from scanner.errors import BoardError, SettingsError
from scanner.files.board_file import board_json
from scanner.storage.lots import open_lot
from scanner.vision.second_look.find_again import PiecePlace

NOW = Measured(24.0, 1.0)
REQUEST = ScanRequest("piece", (Path("piece.jpg"),), (), NOW)


def knot(name, x, y, state=FlawState.POSSIBLE, faces=(1,)):
    spot = Point(x, y).buffer(6)
    return Flaw(name, FlawKind.KNOT, dict.fromkeys(faces, spot), state=state)


def board(*flaws):
    return Board(
        id="B01",
        species="white ash",
        thickness=Measured(27.0, 2.0),
        length=Measured(1000.0, 1.0),
        widths=(),
        faces={n: Face(outline=box(0, 0, 1000, 150)) for n in (1, 2)},
        flaws=flaws,
    )


def typed_board():
    stations = tuple(Station(x, Measured(150.0, 1.0)) for x in (40, 270, 500, 730, 960))
    return replace(board(), widths=stations)


def place(face=1, *, turned=False):
    return PiecePlace("B01", face, 300.0, 10.0, 400.0, 130.0, turned, 0.3)


@pytest.mark.parametrize(
    ("face", "turned", "there"),
    [
        (1, False, (320.0, 40.0)),
        (1, True, (680.0, 110.0)),
        (2, False, (320.0, 110.0)),
        (2, True, (680.0, 40.0)),
    ],
)
def test_a_spot_on_the_piece_lies_where_it_lay_on_the_board(face, turned, there):
    spot = on_board(Point(20, 30).buffer(2), place(face, turned=turned))
    assert (spot.centroid.x, spot.centroid.y) == pytest.approx(there, abs=0.01)


def test_guesses_where_the_piece_lay_give_way_to_what_the_planer_shows():
    after = with_piece(board(knot("F1", 400, 60)), place(), [knot("F1", 50, 50)], NOW)
    assert [flaw.id for flaw in after.flaws] == ["P1"]
    centre = after.flaws[0].outlines[1].centroid
    assert (centre.x, centre.y) == pytest.approx((350.0, 60.0), abs=0.01)


def test_what_a_person_said_of_a_flaw_stays():
    said = knot("F1", 400, 60, FlawState.CONFIRMED)
    assert said in with_piece(board(said), place(), [], NOW).flaws


def test_flaws_elsewhere_on_the_board_stay():
    other = knot("F1", 900, 60)
    assert with_piece(board(other), place(), [], NOW).flaws == (other,)


def test_the_face_that_was_not_looked_at_again_keeps_its_flaw():
    after = with_piece(board(knot("F1", 400, 60, faces=(1, 2))), place(), [], NOW)
    assert [set(flaw.outlines) for flaw in after.flaws] == [{2}]


def test_where_the_grain_does_not_tell_where_along_a_flaw_takes_all_wood_it_may_lie_on():
    vague = replace(place(), along_u_mm=16.0)
    sure = with_piece(board(), place(), [knot("F1", 50, 50)], NOW).flaws[0].outlines[1].bounds
    after = with_piece(board(knot("F2", 305, 60)), vague, [knot("F1", 50, 50)], NOW)
    guess, seen = sorted(after.flaws, key=lambda flaw: flaw.id)
    assert guess.id == "F2"  # it may lie beside the piece
    x0, y0, x1, y1 = seen.outlines[1].bounds
    assert (x0, y0, x1, y1) == pytest.approx((sure[0] - 10, sure[1], sure[2] + 10, sure[3]))
    assert (after.pieces[0].x_mm, after.pieces[0].length_mm) == (310, 380)
    assert "± 16 mm along" in after.notes[-1]


def test_the_board_remembers_that_the_piece_was_looked_at():
    after = with_piece(board(), place(), [], NOW, (70.0, 5.0, 20.0))
    assert "24.0 mm thick then, colour: lightness 70 of 100, red 5, yellow 20" in after.notes[-1]
    (seen,) = after.pieces
    assert (seen.x_mm, seen.length_mm, seen.thickness, seen.lab) == (300, 400, NOW, (70, 5, 20))


def test_a_lot_takes_the_piece_as_one_action_that_undo_takes_back(tmp_path):
    path = tmp_path / "ash.lot"
    lot = open_lot(path)
    known = replace(typed_board(), flaws=(knot("F1", 400, 60),))
    lot.save_board(known, new_stamp(lot, "test"))
    lot.close()
    change = partial(with_piece, place=place(), flaws=[knot("F1", 50, 50)], thickness=NOW)
    _record_in_lot(path, place(), change)
    lot = open_lot(path)
    changed = [flaw.id for flaw in lot.board("B01").flaws]
    lot.undo(new_stamp(lot, "test"))
    assert (changed, [flaw.id for flaw in lot.board("B01").flaws]) == (["P1"], ["F1"])
    lot.close()


def test_a_lot_and_boards_beside_it_are_refused(tmp_path):
    with pytest.raises(SettingsError, match="brings its own"):
        find_piece(REQUEST, (tmp_path / "board.json",), tmp_path, lot=tmp_path / "ash.lot")


def test_a_board_without_a_picture_cannot_be_searched(tmp_path):
    (tmp_path / "board.json").write_text(board_json(typed_board()))
    with pytest.raises(BoardError, match="flat picture"):
        find_piece(REQUEST, (tmp_path / "board.json",), tmp_path / "out")
