import numpy as np
import pytest
from shapely.geometry import Polygon

from scanner.errors import PhotoError
from scanner.geometry.polygons import iou
from scanner.vision.flat_face import read_flat
from tests.vision.faces import BROWN, PALE, PaintedFace

DARK, WHITE = (18, 18, 20), (245, 245, 245)


def flat_board(ground, wood=PALE, **more):
    return PaintedFace(length_mm=400, width_mm=120, margin_mm=15, wood=wood, floor=ground, **more)


@pytest.mark.parametrize("wood", [PALE, BROWN], ids=["light", "dark"])
@pytest.mark.parametrize("ground", [DARK, WHITE], ids=["on black", "on white"])
def test_the_outline_is_the_boards(ground, wood):
    face = flat_board(ground, wood)
    flat = read_flat(face.picture().pixels, face.mm_per_px)
    assert flat.along == "x"
    assert iou(flat.outline, face.outline) > 0.985


def test_a_slanting_end_is_followed():
    face = flat_board(DARK, slant_mm=8.0)
    flat = read_flat(face.picture().pixels, face.mm_per_px)
    assert iou(flat.outline, face.outline) > 0.98


def test_a_board_that_fills_the_picture_is_all_wood():
    face = flat_board(DARK)
    inside = round(20 / face.mm_per_px)
    pixels = np.ascontiguousarray(face.picture().pixels[inside:-inside, inside:-inside])
    height, width = pixels.shape[:2]
    flat = read_flat(pixels, face.mm_per_px)
    whole = Polygon([(0, 0), (width, 0), (width, height), (0, height)])
    assert flat.outline.area > 0.97 * whole.area * face.mm_per_px**2


def test_a_board_that_stands_is_laid_along_x_and_given_back_in_the_pictures_own_pixels():
    face = flat_board(DARK)
    laid = face.picture().pixels
    standing = np.ascontiguousarray(np.rot90(laid, -1))
    flat = read_flat(standing, face.mm_per_px)
    assert flat.along == "y"
    assert np.array_equal(flat.picture.pixels, laid)
    corner = flat.picture_px(np.array([[0.0, 0.0]]))[0]
    assert tuple(corner) == (standing.shape[1] - 1, 0)


def test_a_lath_of_a_few_millimetres_is_no_board():
    pixels = np.full((300, 800, 3), 20, np.uint8)
    pixels[110:190] = 200
    with pytest.raises(PhotoError, match="no board"):
        read_flat(pixels, 0.1)
