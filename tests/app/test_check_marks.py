"""A marked board held against its layout, by the command and on the lot; the scan is stood in for.

The face is painted, its lines drawn into the picture: two of a part's four, one of them 10 mm off.
"""

import json
from dataclasses import dataclass, replace

import pytest
from PIL import Image
from shapely.geometry import box

from scanner.app.cutting.hold_marks import judge_picture
from scanner.app.cutting.marks_in_lot import kept_marks, look_again_as, look_at_marks
from scanner.app.lot.open_lot import new_stamp, set_parts
from scanner.board.lay_again import LaidAgain
from scanner.board.reading import FaceReading
from scanner.files.board_file import board_json
from scanner.files.layout_file import layout_json
from scanner.placement.layout import Placement
from scanner.storage.lots import Lot
from scanner.vision.photos.picture import FaceScan
from tests.command import run
from tests.common import plain_board, small_layout
from tests.vision.faces import BROWN, PALE, PaintedFace
from tests.vision.test_drawn import INKS, drawn_face, seen

pytestmark = pytest.mark.slow

BOARD = plain_board(length_mm=700.0, width_mm=150.0)
# Drawn are a line across at 400 and one along at 90: end B is right, the lower edge 10 mm too high.
PARTS = (Placement("rail", 1, "P01", 60.0, 10.0, 340.0, 90.0, show_face=1),)
LAYOUT = replace(small_layout(), placements=PARTS, pieces=(), cuts=(), offcuts=(), unplaced=())
RIGHT, OFF = "end toward B", "rail 1: the line for the lower edge is"


@dataclass(frozen=True)
class Photo:
    name: str
    content: bytes


@pytest.fixture
def photo(tmp_path, monkeypatch):
    """A photo on disk, whose scan is the painted face."""
    read = FaceReading(
        BOARD.faces[1].outline, (), BOARD.length, BOARD.widths, crook_mm=0.0, outline_u_mm=1.0
    )
    scan = FaceScan(drawn_face(PALE, "blue"), read, "strip", ("marked.jpg",), 0.001, "good")
    seen = []

    def stand_in(photos, setup, progress=None, *, is_marked=False):
        seen.append((setup.thickness, is_marked))
        return scan

    for errand in (
        "scanner.app.cutting.hold_marks.scan_photos",
        "scanner.app.scanning.scan_board.scan_photos",
    ):
        monkeypatch.setattr(errand, stand_in)
    path = tmp_path / "marked.jpg"
    Image.new("RGB", (64, 64)).save(path)
    yield path
    # Thickness comes from the board, and drawn lines are expected on it.
    assert seen and set(seen) == {(BOARD.thickness, True)}


def test_the_command_says_what_is_off_and_missing_and_draws_it(
    photo, tmp_path, capsys, monkeypatch
):
    (tmp_path / "board.json").write_text(board_json(BOARD))
    (tmp_path / "layout.json").write_text(layout_json(LAYOUT))
    ran = run(
        capsys, monkeypatch, "marks", photo, tmp_path / "board.json", tmp_path / "layout.json",
        "--face", 1, "-o", tmp_path / "marks",
    )  # fmt: skip
    assert ran.status == 0, ran.err
    # A part that the layout knows once has no number, as on the board map.
    assert OFF.replace(" 1", "") in ran.out and RIGHT not in ran.out
    assert "hold the board map beside the board before you saw" in " ".join(ran.out.split())
    lines = json.loads((tmp_path / "marks" / "marks.json").read_text())["lines"]
    told = {line["side"]: (line["off"] is not None, line["right"]) for line in lines}
    assert told == {
        "A": (False, False), "B": (True, True), "upper": (False, False), "lower": (True, False)
    }  # fmt: skip
    assert lines[3]["off"] == pytest.approx(-10.0, abs=1.5)
    assert (tmp_path / "marks" / "marks.png").read_bytes().startswith(b"\x89PNG")


def test_a_bright_arris_is_a_line_for_what_belongs_there_and_for_nothing_further_in():
    painted = PaintedFace(wood=BROWN)
    px, margin = painted.mm_per_px, painted.margin_mm
    rows, columns = (
        slice(round((margin + low) / px), round((margin + high) / px))
        for low, high in ((143, 149), (20, 680))
    )
    painted.pixels[rows, columns] = INKS["white"]
    wood, laid = (
        box(0, 0, 700, 150).buffer(-2.0),
        LaidAgain(1, (1.0, 0.0, 0.0, 1.0, 0.0, 0.0), True),
    )
    told = {}
    for width in (110.0, 136.0):
        part = replace(PARTS[0], width_mm=width)
        verdict = judge_picture(BOARD, (part,), seen(painted), wood, laid)
        told[width] = {one.line.side: one.off_mm for one in verdict.lines}
    assert told[110.0]["lower"] is None
    assert told[136.0]["lower"] == pytest.approx(0.0, abs=2.5)


def test_on_the_page_a_part_asked_for_once_is_named_without_a_number(photo, tmp_path):
    lot = Lot(tmp_path / "marked.lot")
    lot.save_board(BOARD, new_stamp(lot))
    set_parts(lot, "name,quantity,length,width,thickness,faces\nrail,1,300,80,19,show\n", "p.csv")
    lot.save_layout(LAYOUT, lot.revision)
    look_at_marks(lot, "P01", Photo("marked.jpg", photo.read_bytes()), "", "", "", lambda *_: None)
    assert any(said.startswith(OFF.replace(" 1", "")) for said in kept_marks(lot, "P01").said)


def test_the_page_s_errand_notes_the_same_and_looks_again_as_the_face_that_is_said(photo, tmp_path):
    lot = Lot(tmp_path / "marked.lot")
    lot.save_board(BOARD, new_stamp(lot))
    lot.save_layout(LAYOUT, lot.revision)
    look_at_marks(lot, "P01", Photo("marked.jpg", photo.read_bytes()), "", "", "", lambda *_: None)
    look_again_as(lot, "P01", 1, lambda *_: None)
    kept = kept_marks(lot, "P01")
    assert kept.face == 1 and kept.is_clear
    # The layout knows it once: no number, without a parts list either.
    assert any(said.startswith(OFF.replace(" 1", "")) for said in kept.said)
    assert not any(RIGHT in said for said in kept.said)
    assert lot.picture(kept.picture).is_file()
