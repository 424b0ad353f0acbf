"""The commands on later photos, their looks at the photo stood in for: words, files, a nod."""

import json
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
from PIL import Image
from shapely.geometry import box

from scanner.app.lot.scan_folder import FolderScan
from scanner.board.board import End
from scanner.board.edge_facts import EdgeFacts, ThicknessStation
from scanner.board.flaw import Flaw, FlawKind
from scanner.board.measured import Measured
from scanner.board.rings_by_hand import rings_by_hand
from scanner.files.board_file import board_json, read_board
from scanner.vision.photos.picture import WoodColour
from scanner.vision.second_look.find_again import FoundAgain, PiecePlace
from tests.command import run
from tests.common import flat_picture, plain_board

CORNERS = ("--corners", "0,0 300,0 300,52 0,52")
SIDE = SimpleNamespace(
    pixels=np.full((52, 300, 3), 150, np.uint8), mm_per_px=0.5, size_mm=(150.0, 26.0)
)
# Tapped on a ring whose pith lies below face 2: face 2 is the heart side.
RINGS = rings_by_hand((150.0, 26.0), "A", ((20.0, 20.8), (60.0, 11.0), (105.0, 24.1)))
UPRIGHT = rings_by_hand((150.0, 26.0), "B", ((70.0, 2.0), (70.1, 13.0), (70.0, 24.0)))
EDGE = EdgeFacts(
    1500.0,
    tuple(ThicknessStation(x, Measured(t, 1.0)) for x, t in ((100.0, 26.5), (900.0, 25.1))),
    1.0,
    0.5,
    doubts=("the light is flat",),
)


@pytest.fixture
def command(tmp_path, monkeypatch, capsys):
    """Return a command in a folder with a board and its flat picture of face 1."""
    monkeypatch.chdir(tmp_path)
    board = plain_board()
    (tmp_path / "P01").mkdir()
    flat_picture(board, 1).save(tmp_path / "P01" / "P01-face1.jpg")
    face = replace(
        board.faces[1], picture="P01-face1.jpg", mm_per_px=1.0, picture_origin=(0.0, 0.0)
    )
    seen = replace(board, faces={**board.faces, 1: face})
    (tmp_path / "P01" / "board.json").write_text(board_json(seen))
    Image.new("RGB", (64, 64)).save(tmp_path / "photo.jpg")
    monkeypatch.setattr("scanner.app.later.read_end.typed_side", lambda *given: SIDE)
    monkeypatch.setattr("scanner.app.later.read_edge.typed_side", lambda *given: SIDE)
    return lambda *words: run(capsys, monkeypatch, *words)


def reads(monkeypatch, facts):
    read = None if facts is None else (facts, None)
    monkeypatch.setattr("scanner.vision.second_look.ends.ring_facts", lambda side, end: read)


def test_an_end_is_told_and_noted_once_it_is_agreed_with(command, monkeypatch):
    reads(monkeypatch, RINGS)
    asked = ("end-grain", "photo.jpg", "--at", "a", *CORNERS, "--board", "P01/board.json")
    ran = command(*asked, "--leg", "45mm", "-o", "look")
    assert ran.status == 0, ran.err
    assert "heart side is face 2: in drying face 1 goes hollow" in ran.out
    assert "hide face" in ran.out and "45 mm" in ran.out and "add --confirm" in ran.out
    assert json.loads(Path("look/end-A.json").read_text())["confirmed"] is False
    ran = command(*asked, "--confirm", "-o", "agreed")
    assert "--confirm" not in ran.out
    notes = read_board_of("agreed").notes
    assert notes[-1] == "end A: heart side is face 2, face 1 goes hollow in drying"


def test_a_fresh_end_is_ticked_with_its_photo_where_it_is_said_to_be_clean(command, monkeypatch):
    reads(monkeypatch, RINGS)
    asked = ("end-grain", "photo.jpg", "--at", "B", *CORNERS, "--board", "P01/board.json")
    ran = command(*asked, "--confirm", "--trimmed", "35mm", "-o", "agreed")
    assert ran.status == 0 and "P01: end B trimmed by 35 mm and looked at" in ran.out
    assert read_board_of("agreed").ends["B"] == End(looked_over=True, trim_mm=35.0)
    ran = command(*asked, "--trimmed", "35mm", "-o", "none")
    assert ran.status == 2 and "without --board and --confirm" in ran.err
    ran = command(*asked, "--confirm", "--trimmed", "2m", "-o", "none")
    assert ran.status == 2 and "more than half of P01" in ran.err
    assert not Path("none").exists()


def read_board_of(folder):
    return read_board(Path(folder) / "P01" / "board.json")


def test_an_upright_end_tells_no_heart_side_and_no_rings_are_refused(command, monkeypatch):
    reads(monkeypatch, UPRIGHT)
    ran = command("end-grain", "photo.jpg", "--at", "B", *CORNERS, "--leg", "45mm")
    assert "heart side is not told by this end" in ran.out
    assert "no stretch of 45 mm has its rings corner to corner" in ran.out
    reads(monkeypatch, replace(RINGS, pith_mm=(60.0, 10.0)))
    ran = command("end-grain", "photo.jpg", "--at", "A", *CORNERS)
    assert "the pith lies in this end" in ran.out
    reads(monkeypatch, None)
    ran = command("end-grain", "photo.jpg", "--at", "A", *CORNERS, "-o", "none")
    assert ran.status == 2 and "No rings that go together are seen in photo.jpg" in ran.err


def test_an_edge_is_told_and_gives_its_board_a_thickness_once_agreed(command, monkeypatch):
    monkeypatch.setattr("scanner.vision.second_look.edge.edge_facts", lambda side: EDGE)
    asked = ("edge", "photo.jpg", *CORNERS, "--board", "P01/board.json")
    ran = command(*asked, "-o", "look")
    assert "thickness at 900 mm from the left: 25.1 ± 1.0 mm" in ran.out
    assert "note: the light is flat" in ran.out and "hold a caliper" in ran.out
    command(*asked, "--confirm", "-o", "agreed")
    assert read_board_of("agreed").thickness.value_mm == 25.1


@pytest.mark.parametrize(
    ("facts", "said"),
    [
        (replace(EDGE, stations=(), slope_deg=None), "Neither arrises nor grain are seen"),
        (replace(EDGE, stations=()), "no thickness was read off photo.jpg"),
    ],
)
def test_an_edge_that_shows_too_little_writes_nothing(command, monkeypatch, tmp_path, facts, said):
    monkeypatch.setattr("scanner.vision.second_look.edge.edge_facts", lambda side: facts)
    ran = command(
        "edge", "photo.jpg", *CORNERS, "--board", "P01/board.json", "--confirm", "-o", "out"
    )
    assert ran.status == 2 and said in ran.err
    assert not (tmp_path / "out").exists()


def found(*places, sure=True):
    return FoundAgain(tuple(places), 2.0, sure)


def lay(x=100.0, *, turned=False, piece=""):
    return PiecePlace("P01", 1, x, 20.0, 400.0, 60.0, turned, 0.3, piece)


@pytest.fixture
def piece(command, monkeypatch):
    """Return the command on a photo of a piece 400 x 60 mm with a stain."""
    stain = Flaw("F1", FlawKind.STAIN, {1: box(10, 10, 40, 30)}, reason="a dark patch")
    picture = SimpleNamespace(
        pixels=np.full((80, 420, 3), 150, np.uint8), mm_per_px=1.0, origin_mm=(-10.0, -10.0)
    )
    scan = SimpleNamespace(
        picture=picture,
        reading=SimpleNamespace(outline=box(0, 0, 400, 60), flaws=(stain,)),
        colour=WoodColour((70.0, 5.0, 20.0), 2.0),
    )
    monkeypatch.setattr("scanner.app.later.piece_search.scan_photos", lambda *given: scan)

    def ask(answer, *words):
        monkeypatch.setattr("scanner.app.later.piece_search.find_again", lambda *given: answer)
        return command("piece", "photo.jpg", "P01/board.json", *words)

    return ask


@pytest.mark.slow
def test_a_piece_is_found_shown_and_after_a_nod_on_its_board(piece):
    ran = piece(found(lay(turned=True, piece="P01-1")), "-o", "look")
    assert ran.out.startswith("found:\n  1. P01, piece P01-1, face 1, from 100 mm of end A, turned")
    assert "run it again with --confirm" in ran.out
    ran = piece(found(lay()), "--thickness", "22mm", "--confirm", "-o", "agreed")
    assert "board written anew" in ran.out
    (flaw,) = read_board_of("agreed").flaws
    assert flaw.outlines[1].bounds == pytest.approx((110, 30, 140, 50), abs=0.1)
    assert "22.0 mm thick then, colour: lightness 70" in read_board_of("agreed").notes[-1]
    (seen,) = read_board_of("agreed").pieces
    assert (seen.thickness, seen.lab) == (Measured(22.0, 1.0), (70.0, 5.0, 20.0))


@pytest.mark.slow
def test_where_two_places_fit_alike_a_person_says_which(piece):
    two = found(lay(), lay(900.0), sure=False)
    assert piece(two, "-o", "ask").out.startswith("which of these is it?")
    assert "found as you say:" in piece(two, "--take", "2", "-o", "said").out
    ran = piece(two, "--take", "3", "-o", "none")
    assert ran.status == 2 and "--take 3: 2 places are listed" in ran.err
    assert "fits nowhere on these boards" in piece(found(sure=False), "-o", "nowhere").out


def test_a_folder_s_boards_are_told_and_what_was_left_out_ends_with_status_2(command, monkeypatch):
    scanned = SimpleNamespace(board=plain_board(), advice=("the light is flat",))
    for left, status in (((), 0), (("x.jpg: no rule found",), 2)):
        answer = FolderScan((scanned,), left)
        monkeypatch.setattr("scanner.app.lot.scan_folder.scan_folder", lambda *a, r=answer, **k: r)
        ran = command("scan", "--all", "P01", "-o", "boards", "--order", "faces-1-first")
        assert ran.status == status
        assert "  note: the light is flat" in ran.out and "written: 1 board" in ran.out
        assert ran.sentence == "".join(left) or not left
