"""Chalk beside a wanted line is found, with its distance and side."""

from dataclasses import replace

import cv2
import numpy as np
import pytest
from PIL import Image
from shapely.geometry import box

from scanner.board.lay_again import LaidAgain
from scanner.lot.drawn_marks import JudgedLine, MarksVerdict, WantedLine
from scanner.sheets.marks_picture import draw_marks
from scanner.vision.flaws.chalk_colour import line_pixels
from scanner.vision.second_look.drawn import DrawnFace, drawn_on, line_offsets
from scanner.vision.second_look.unmarked import wiped
from tests.vision.faces import BROWN, PALE, PaintedFace

INKS = {"white": (235, 234, 228), "blue": (45, 70, 150), "red": (170, 40, 35)}


def seen(painted):
    """The picture with the board's corner at (0, 0)."""
    margin = painted.margin_mm
    return replace(painted.picture(), origin_mm=(-margin, -margin))


def drawn_face(wood, ink):
    """A face of 700 x 150 mm with a line across at 400 and one along at 90, face mm."""
    painted = PaintedFace(wood=wood)
    pixels = painted.pixels
    px, margin = painted.mm_per_px, painted.margin_mm
    rng = np.random.default_rng(3)
    for at, is_across in ((400, True), (90, False)):
        low, high = round((margin + at - 3) / px), round((margin + at + 3) / px)
        band = (slice(round((margin + 12) / px), round((margin + 138) / px)), slice(low, high))
        if not is_across:
            band = (slice(low, high), slice(round((margin + 50) / px), round((margin + 390) / px)))
        # Chalk skips over a fifth of the wood.
        on = rng.random(pixels[band].shape[:2]) > 0.2
        pixels[band][on] = INKS[ink]
    return seen(painted)


@pytest.mark.parametrize(
    ("wood", "ink"),
    [
        (PALE, "white"),
        (BROWN, "red"),
        pytest.param(PALE, "red", marks=pytest.mark.slow),
        pytest.param(PALE, "blue", marks=pytest.mark.slow),
        pytest.param(BROWN, "white", marks=pytest.mark.slow),
        pytest.param(BROWN, "blue", marks=pytest.mark.slow),
    ],
)
def test_a_line_is_found_at_its_distance(wood, ink):
    face = drawn_face(wood, ink)
    drawn = drawn_on(face, box(0, 0, 700, 150))
    (off, *_) = line_offsets(drawn, (390.0, 10.0), (390.0, 140.0), 40.0)
    assert off == pytest.approx(10.0, abs=1.5)
    (off, *_) = line_offsets(drawn, (60.0, 100.0), (380.0, 100.0), 40.0)
    # 10 mm nearer the upper edge: left of a line along +x.
    assert off == pytest.approx(10.0, abs=1.5)


@pytest.mark.slow
@pytest.mark.parametrize("ink", INKS)
def test_a_line_along_the_arris_is_found(ink):
    """Parts lie 3 mm from a board's edge, and the line there was taken for the wood."""
    painted = PaintedFace(wood=BROWN)
    px, margin = painted.mm_per_px, painted.margin_mm
    band = np.s_[
        round((margin + 143) / px) : round((margin + 149) / px),
        round((margin + 50) / px) : round((margin + 390) / px),
    ]
    painted.pixels[band] = INKS[ink]
    drawn = drawn_on(seen(painted), box(0, 0, 700, 150).buffer(-2.0))
    (off, *_) = line_offsets(drawn, (60.0, 146.0), (380.0, 146.0), 40.0)
    assert off == pytest.approx(0.0, abs=2.5)
    # Where nobody drew along it, nothing is seen.
    assert line_offsets(drawn, (420.0, 146.0), (680.0, 146.0), 40.0) == ()


@pytest.mark.slow
def test_a_wiped_face_has_the_wood_beside_the_line_over_it_and_its_own_wood_elsewhere():
    face = drawn_face(BROWN, "red")
    bare = seen(PaintedFace(wood=BROWN))
    clean = wiped(face, box(0, 0, 700, 150))
    px, (x0, y0) = face.mm_per_px, face.origin_mm
    line = np.s_[round((30 - y0) / px) : round((120 - y0) / px), round((399 - x0) / px)]

    def off(picture):
        return np.abs(picture.pixels[line].astype(int) - bare.pixels[line]).mean()

    assert off(face) > 25
    assert off(clean) < 12
    away = np.s_[:, round((500 - x0) / px) :]
    assert (clean.pixels[away] == face.pixels[away]).mean() > 0.97


@pytest.mark.slow
def test_bare_wood_holds_no_line():
    drawn = drawn_on(seen(PaintedFace()), box(0, 0, 700, 150))
    for x in range(60, 660, 60):
        assert line_offsets(drawn, (x, 10.0), (x, 140.0), 40.0) == ()


@pytest.mark.slow
def test_the_picture_tells_right_off_and_missing_apart():
    face = drawn_face(PALE, "blue")
    lines = (
        JudgedLine(WantedLine("a", "B", (400, 10), (400, 140)), 0.5),
        JudgedLine(WantedLine("a", "A", (100, 10), (100, 140)), None),
        JudgedLine(WantedLine("a", "upper", (100, 70), (400, 70)), 20.0),
    )
    laid = LaidAgain(1, (1.0, 0.0, 0.0, 1.0, 0.0, 0.0), True)
    picture = draw_marks("B01", laid, MarksVerdict(lines, "planned"), face)
    assert isinstance(picture, Image.Image) and picture.width == 2000
    colours = {tuple(c) for c in np.asarray(picture).reshape(-1, 3)[::7]}
    assert (38, 98, 168) in colours and (186, 60, 20) in colours


def test_a_line_beside_other_strokes_is_not_taken_for_their_middle():
    """Drawn all the way from 3 mm left of the wanted line to 40 mm right of it."""
    drawn = np.zeros((100, 200), np.float32)
    drawn[47:91] = 1.0
    (off,) = line_offsets(DrawnFace(drawn, (0.0, 0.0), 1.0), (0.0, 50.0), (199.0, 50.0), 60.0)
    assert off == pytest.approx(-3.0, abs=2.0)


@pytest.mark.parametrize("ink", ["blue", "red"])
def test_long_thin_lines_on_board_and_floor_are_told_from_all_else(ink):
    rgb = np.full((150, 300, 3), PALE, np.uint8)
    rgb[100:] = (90, 92, 95)
    rgb[60:63, 20:260] = INKS[ink]
    rgb[20:45, 100:130] = INKS[ink]
    lab = cv2.cvtColor(rgb.astype(np.float32) / 255, cv2.COLOR_RGB2LAB)
    drawn, beneath = line_pixels(lab, 2.0)
    assert drawn[61, 25:255].all() and not drawn[:56].any() and not drawn[68:].any()
    assert np.abs(beneath[61, 100] - lab[80, 100]).max() < 1.0
