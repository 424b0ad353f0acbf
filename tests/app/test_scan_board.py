"""Both faces' scans become one board and its files; the scans themselves are stood in for."""

import json
import re
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from scanner.app.scanning import scan_board as errand
from scanner.app.scanning.scan_board import scan_board
from scanner.app.scanning.scan_request import TypedOptions, scan_request
from scanner.errors import BoardError
from scanner.files.board_file import read_board
from scanner.geometry.polygons import iou
from scanner.vision.photos.picture import FacePicture, FaceScan, SawMarks
from tests.board.two_faces import FACE, OTHER, as_turned, knot, reading

pytestmark = pytest.mark.slow

KNOT = knot(400.0, 60.0)
FIRST, SECOND = reading(FACE, (KNOT,)), as_turned(FACE, (KNOT,), "end_over_end")


def scan_of(read, name, card=None, **more):
    _, _, length, width = read.outline.bounds
    shape = (round(width / 2) + 20, round(length / 2) + 20)
    pixels = np.full((*shape, 3), (190, 160, 120), np.uint8)
    picture = FacePicture(pixels, 2.0, (-20.0, -20.0), 0.001, 0.5, np.ones(shape, bool))
    return FaceScan(picture, read, "strip", (name,), 0.001, "good", card=card, **more)


@pytest.fixture
def scan(tmp_path, monkeypatch):
    """Return the errand on two photos, whose scans are as given by the photos' names."""

    def run(scans, *, is_named=False, pool=None):
        def stand_in(photos, setup, progress=None, raking=None):
            if progress is not None:
                progress("looking", 0.5)
            return scans[photos[0].name]

        monkeypatch.setattr(errand, "scan_photos", stand_in)
        front, *back = (Path(name) for name in scans)
        options = TypedOptions(species="white ash")
        request = scan_request("B01", front, *(back or (None,)), options)
        request = replace(request, is_named=is_named)
        steps = []
        result = scan_board(
            request, tmp_path / "B01", lambda step, share: steps.append((step, share)), pool
        )
        assert steps[-1] == ("done", 1.0)
        return result, steps

    return run


def both(**cards):
    return {
        "front.jpg": scan_of(FIRST, "front.jpg", cards.get("front")),
        "back.jpg": scan_of(SECOND, "back.jpg", cards.get("back")),
    }


def test_two_faces_are_one_board_as_its_file_says(scan, tmp_path):
    result, steps = scan(both())
    board = result.board
    assert board.turned == "end_over_end" and board.quality == "good"
    assert [flaw.is_through for flaw in board.flaws] == [True]
    assert iou(board.faces[2].outline, board.faces[1].outline) > 0.99
    assert read_board(tmp_path / "B01" / "board.json") == board
    # Faces without a line on them tell nothing of rings, and their file can be read again.
    assert board.looks is None
    assert ("face 2: looking", 0.675) in steps
    made = {path.name for path in (tmp_path / "B01").iterdir()}
    assert {"B01-face2.jpg", "B01-face2-found.png"} <= made
    with Image.open(tmp_path / "B01" / board.faces[2].picture) as picture:
        assert abs(picture.width * board.faces[2].mm_per_px - 1812) < 150


def test_a_bend_that_no_photo_shows_and_nobody_typed_is_null_and_not_flat(scan, tmp_path):
    scan(both())
    warp = json.loads((tmp_path / "B01" / "board.json").read_text(encoding="utf-8"))["warp"]
    assert (warp["bow"], warp["cup"], warp["twist"]) == (None, None, None)
    assert warp["crook"] >= 0.0  # every outline shows it


def test_faces_scanned_side_by_side_are_the_same_board(scan):
    alone = scan(both())[0].board
    with ThreadPoolExecutor(2) as pool:
        result, steps = scan(both(), pool=pool)
    assert result.board == alone
    assert ("face 2 scanned", 0.9) in steps


def test_cards_set_faces_and_name_right(scan):
    result, _ = scan(both(front=(7, 2), back=(7, 1)))
    assert result.board.id == "B07"
    assert result.board.faces[1].photos == ("back.jpg",)


def test_a_name_that_was_given_counts_more_than_the_card(scan):
    assert scan(both(front=(7, 1)), is_named=True)[0].board.id == "B01"


def test_a_face_that_nobody_photographed_is_taken_as_the_other_and_said(scan, tmp_path):
    result, _ = scan({"front.jpg": scan_of(FIRST, "front.jpg", doubts=("the light is flat",))})
    assert "face 2 was not photographed: nothing is known of it" in result.advice
    assert "face 1: the light is flat" in result.advice
    assert result.board.faces[2].picture is None
    assert not (tmp_path / "B01" / "B01-face2.jpg").exists()


def test_faces_of_two_boards_write_nothing(scan, tmp_path):
    scans = both()
    scans["back.jpg"] = scan_of(reading(OTHER.buffer(60)), "back.jpg")
    with pytest.raises(BoardError):
        scan(scans)
    assert not (tmp_path / "B01").exists()


def test_saw_marks_are_told_from_end_a_on_both_faces(scan):
    marks = SawMarks(True, 8.0, 0.0, ((100.0, 200.0),))
    board = scan({name: replace(one, saw_marks=marks) for name, one in both().items()})[0].board
    told = [note for note in board.notes if "saw marks" in note]
    places = [tuple(map(int, re.search(r"(\d+)-(\d+) mm", note).groups())) for note in told]
    assert places[0] == (100, 200)
    # The second face was turned end over end: its left end is end B.
    length_mm = board.length.value_mm
    assert places[1] == pytest.approx((length_mm - 200, length_mm - 100), abs=15)
    assert told[1].startswith("face 2")
