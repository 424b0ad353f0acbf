"""Later photos in a lot: limits, stored names, what waits for a nod and what a nod changes."""

from dataclasses import dataclass, replace
from types import SimpleNamespace

import numpy as np
import pytest
from shapely.geometry import box

from scanner.app.cutting.marks_in_lot import (
    KeptMarks,
    boards_with_parts,
    is_of_this_layout,
    kept_marks,
    mark_of_parts,
)
from scanner.app.cutting.tick_parts import tick
from scanner.app.later import edge_in_lot, end_in_lot, piece_in_lot
from scanner.app.lot.later_photo import keep_made, keep_photo, note
from scanner.app.lot.open_lot import new_stamp
from scanner.board.edge_facts import EdgeFacts, ThicknessStation
from scanner.board.flaw import Flaw, FlawKind
from scanner.board.measured import Measured
from scanner.errors import ScannerError
from scanner.lot.drawn_marks import JudgedLine, MarksVerdict, WantedLine, mistakes_by_part
from scanner.storage.values import to_document
from scanner.vision.second_look.find_again import FoundAgain, PiecePlace
from tests.bench.ends_edges import END_PX_MM, true_angles
from tests.common import flat_picture, plain_board
from tests.render.draw_boards import draw_board
from tests.render.second_look.ends import render_end
from tests.render.second_look.side_photo import side_photo


@pytest.fixture
def lot(placed_lot):
    return placed_lot


@dataclass(frozen=True)
class Photo:
    name: str
    content: bytes


def quiet(step, share):
    pass


def test_a_photo_is_kept_by_its_hash_and_nothing_or_too_much_is_refused(lot, monkeypatch):
    kept = keep_photo(lot, Photo("../../sly.jpg", b"\xff\xd8 no picture"))
    assert lot.picture(kept.file).parent == lot.folder
    assert kept.name == "sly.jpg"
    with pytest.raises(ScannerError, match="empty"):
        keep_photo(lot, Photo("a.jpg", b""))
    monkeypatch.setattr("scanner.app.lot.add_board.MOST_PHOTO_BYTES", 5)
    with pytest.raises(ScannerError, match="more than the page takes"):
        keep_photo(lot, Photo("a.jpg", b"123456"))


def test_a_part_of_which_nothing_is_drawn_is_said_once():
    sides = ("A", "B", "upper", "lower")

    def lines(part, *offs):
        return tuple(
            JudgedLine(WantedLine(part, side, (0, 0), (1, 0)), off)
            for side, off in zip(sides, offs, strict=True)
        )

    drawn, missing = lines("leg 1", 1.0, -2.0, 9.0, None), lines("leg 2", None, None, None, None)
    said = mistakes_by_part(MarksVerdict((*drawn, *missing), "planned"))
    assert len(said) == 3
    assert said[-1] == "leg 2: none of its lines is seen"
    assert "9 mm too near the lower edge" in said[0]
    assert "before the parts were drawn" in mistakes_by_part(MarksVerdict(missing, "planned"))[0]


def test_marks_are_of_the_layout_they_were_looked_at_for(lot):
    placed = mark_of_parts(lot, "P01")
    kept = KeptMarks("P01", 1, "a.jpg", "a.jpg", "b.jpg", (), 20, True, placed)
    note(lot, "marks-P01", to_document(kept), "looked at the marks")
    assert kept_marks(lot, "P01") == kept and kept_marks(lot, "P02") is None
    assert is_of_this_layout(lot, kept)
    layout = lot.layout().layout
    moved = (replace(layout.placements[0], x_mm=70.0), *layout.placements[1:])
    lot.save_layout(replace(layout, placements=moved), lot.revision)
    assert not is_of_this_layout(lot, kept)


def test_a_board_whose_parts_are_cut_has_no_marks_to_check(lot):
    assert boards_with_parts(lot) == ("P01",)
    for place in lot.layout().layout.placements:
        copy, at = (place.part, place.copy), (place.x_mm, place.y_mm)
        tick(lot, new_stamp(lot), copy, place.board, at, "cut")
    assert boards_with_parts(lot) == ()


def test_a_piece_changes_its_board_with_a_nod_and_undo_takes_that_back(lot):
    place = PiecePlace("P01", 1, 100.0, 20.0, 400.0, 80.0, False, 1.0)
    flaw = Flaw("F1", FlawKind.STAIN, {1: box(10, 10, 40, 30)})
    kept = piece_in_lot.KeptPiece(
        "a.jpg", "a.jpg", (piece_in_lot.FoundPlace("P01", "P01, face 1", "b.jpg"),), True
    )
    document = {
        "kept": to_document(kept),
        "places": [to_document(place)],
        "flaws": [to_document(flaw)],
        "thickness": 22.0,
    }
    note(lot, "piece", document, "looked for a piece")
    assert piece_in_lot.kept_piece(lot) == kept
    before = lot.board("P01")
    with pytest.raises(ScannerError, match="not asked about"):
        piece_in_lot.take_place(lot, 2)
    assert piece_in_lot.take_place(lot, 1) == "P01"
    stain = next(f for f in lot.board("P01").flaws if f.kind is FlawKind.STAIN)
    assert stain.outlines[1].bounds == pytest.approx((110, 30, 140, 50))
    assert piece_in_lot.kept_piece(lot) is None
    assert "22.0 mm thick" in piece_in_lot.pieces_seen(lot)[0]
    # Noted by an older program, as bare mm and without a colour.
    assert lot.board("P01").pieces[0].thickness.value_mm == 22.0
    lot.undo(new_stamp(lot))
    assert lot.board("P01").flaws == before.flaws
    assert piece_in_lot.pieces_seen(lot) == () == lot.board("P01").pieces
    new = document | {"thickness": to_document(Measured(21.5, 1.0)), "lab": [70.0, 5.0, 20.0]}
    note(lot, "piece", new, "looked for a piece")
    piece_in_lot.take_place(lot, 1)
    (seen,) = lot.board("P01").pieces
    assert (seen.thickness.value_mm, seen.lab) == (21.5, (70.0, 5.0, 20.0))


def test_an_edge_gives_its_thinnest_place_once_agreed(lot):
    stations = tuple(
        ThicknessStation(x, Measured(t, 1.0)) for x, t in ((100.0, 26.5), (900.0, 25.1))
    )
    facts = EdgeFacts(1500.0, stations, 1.0, 0.5)
    kept = edge_in_lot.KeptEdge("P01", "a.jpg", "b.jpg", facts)
    assert "Thinnest place seen: 25.1 ± 1.0 mm." in edge_in_lot.edge_words(kept, "mm")
    edge_in_lot.nod_at_edge(lot, kept)
    assert lot.board("P01").thickness.value_mm == 25.1
    assert edge_in_lot.kept_edge(lot, "P01").facts.is_confirmed
    with pytest.raises(ScannerError, match="no thickness"):
        edge_in_lot.nod_at_edge(lot, replace(kept, facts=replace(facts, stations=())))


def look_at_piece(lot):
    lines = []
    photo = Photo("piece.jpg", b"as the phone made it")
    piece_in_lot.look_at_piece(
        lot, photo, "22 mm", "", "", "", lambda step, share: lines.append(step)
    )
    return lines


def test_no_piece_is_looked_for_in_a_lot_without_pictures_and_its_photo_is_not_kept(lot):
    with pytest.raises(ScannerError, match="no board of this lot has a picture"):
        look_at_piece(lot)
    assert not lot.folder.exists()


@pytest.mark.slow
def test_the_five_best_places_of_a_piece_wait_for_a_nod_each_with_its_picture(lot, monkeypatch):
    known = plain_board()
    made = keep_made(lot, flat_picture(known, 1), "face")
    face = replace(known.faces[1], picture=made, mm_per_px=1.0, picture_origin=(0.0, 0.0))
    lot.save_board(replace(known, faces={**known.faces, 1: face}), new_stamp(lot))
    stain = Flaw("F1", FlawKind.STAIN, {1: box(10, 10, 40, 30)})
    scan = SimpleNamespace(
        picture=SimpleNamespace(
            pixels=np.full((80, 420, 3), 150, np.uint8), mm_per_px=1.0, origin_mm=(-10.0, -10.0)
        ),
        reading=SimpleNamespace(outline=box(0, 0, 400, 60), flaws=(stain,)),
        colour=None,
    )
    fits = tuple(PiecePlace("P01", 1, 50.0 * n, 20.0, 400.0, 60.0, False, 0.3) for n in range(7))
    search = "scanner.app.later.piece_search"
    monkeypatch.setattr(f"{search}.scan_photos", lambda *given: scan)
    monkeypatch.setattr(f"{search}.find_again", lambda *given: FoundAgain(fits, 1.1, False))
    assert look_at_piece(lot) == ["looking for it on the boards", "done"]
    kept = piece_in_lot.kept_piece(lot)
    assert kept.photo_name == "piece.jpg" and not kept.is_sure
    assert len(kept.places) == 5
    assert kept.places[1].words == "P01, face 1, from 50 mm to 450 mm of end A"
    assert all(lot.picture(place.picture) is not None for place in kept.places)
    assert piece_in_lot.take_place(lot, 2) == "P01"
    (seen,) = lot.board("P01").pieces
    assert (seen.x_mm, seen.thickness.value_mm, seen.lab) == (50.0, 22.0, None)
    assert piece_in_lot.is_of_a_piece(lot.next_undo())


@pytest.mark.slow
def test_an_end_is_read_then_tapped_by_hand_and_agreed_with(lot, tmp_path):
    board, trim = draw_board(8004), 30.0
    light, wood = render_end(board, "A", trim, END_PX_MM, supersample=1)
    path = tmp_path / "end.jpg"
    corners = side_photo(light, wood, END_PX_MM, 16008, path)
    typed = " ".join(f"{x:.1f},{y:.1f}" for x, y in corners)
    photo = Photo("end.jpg", path.read_bytes())
    end_in_lot.look_at_end(lot, "P01", "A", photo, typed, ("", ""), "45 mm", quiet)
    kept = end_in_lot.kept_end(lot, "P01", "A")
    growth = true_angles(board, "A", trim, [s.y_mm for s in kept.facts.stations])
    true = np.degrees(np.arctan2(np.abs(growth[:, 0]), np.abs(growth[:, 1])))
    read = [s.angle_deg for s in kept.facts.stations]
    assert np.abs(np.array(read) - true).max() < 8.0
    words = " ".join(end_in_lot.end_words(kept, "mm"))
    assert "From the left in the picture" in words and "leg 45 mm wide" in words
    end_in_lot.tap_ring(lot, kept, ((100.0, 100.0), (800.0, 40.0), (1500.0, 100.0)))
    tapped = end_in_lot.kept_end(lot, "P01", "A")
    assert tapped.by_hand and tapped.picture != kept.picture
    end_in_lot.nod_at_end(lot, tapped)
    notes = lot.board("P01").notes
    assert any(said.startswith("rings on end A") for said in notes)
    end_in_lot.nod_at_end(lot, kept)
    assert sum(said.startswith("rings on end A") for said in lot.board("P01").notes) == 1
