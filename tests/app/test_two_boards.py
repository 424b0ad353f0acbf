"""The picture of why two faces are refused as one board's."""

import io
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from scanner.app.scanning.save_board import save_board
from scanner.app.scanning.scan_request import TypedOptions, scan_request
from scanner.app.scanning.two_boards import keep_why
from scanner.errors import BoardError
from scanner.sheets.face_view import FLAW
from tests.app.test_scan_board import scan_of
from tests.board.two_faces import FACE, OTHER, as_turned, knot, reading

pytestmark = pytest.mark.slow


def refused(first, second, folder):
    request = scan_request("B01", Path("a.jpg"), Path("b.jpg"), TypedOptions(species="white ash"))
    scans = {1: scan_of(first, "a.jpg"), 2: scan_of(second, "b.jpg")}
    with pytest.raises(BoardError) as problem:
        save_board(request, scans, folder)
    return problem.value


def marked_places(picture, *, low, high):
    """Return which share of the columns between two heights carries the mark's own colour."""
    with Image.open(io.BytesIO(picture)) as opened:
        pixels = np.asarray(opened.convert("RGB"), np.int16)
    rows = pixels[int(low * len(pixels)) : int(high * len(pixels))]
    return (np.abs(rows - FLAW).sum(axis=2) < 60).any(axis=0).mean()


def test_knots_without_partners_are_ringed_on_both_faces(tmp_path):
    knots = tuple(knot(x, 90) for x in (300, 700, 1100, 1500))
    others = tuple(knot(x, 60) for x in (200, 500, 900, 1300))
    folder = tmp_path / "B01"
    problem = refused(reading(FACE, knots), as_turned(FACE, others, "sideways"), folder)
    assert not folder.exists()
    for low, high in ((0.1, 0.5), (0.5, 0.9)):
        assert 0.05 < marked_places(problem.picture, low=low, high=high) < 0.5
    told = keep_why(problem, folder, "B01")
    (kept,) = folder.iterdir()
    assert kept.read_bytes() == problem.picture
    assert str(kept) in str(told) and told.what == problem.what


def test_wood_that_only_one_face_has_is_painted_there(tmp_path):
    problem = refused(reading(FACE), reading(OTHER.buffer(60)), tmp_path)
    with Image.open(io.BytesIO(problem.picture)) as opened:
        pixels = np.asarray(opened.convert("RGB"), np.int16)
    purple = (pixels[..., 0] - pixels[..., 1] > 60) & (pixels[..., 2] > pixels[..., 1] + 15)
    half = len(pixels) // 2
    assert purple[half:].mean() > 0.02 > purple[:half].mean()
