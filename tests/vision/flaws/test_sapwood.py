import numpy as np
import pytest
from shapely.geometry import box

from scanner.geometry.polygons import iou
from scanner.vision.flaws.sapwood import find_sapwood
from scanner.vision.flaws.surface import prepare
from tests.vision.faces import BROWN, PALE, PaintedFace

# Seconds each: pictures are drawn and searched.
pytestmark = pytest.mark.slow


def sapwood(face):
    return find_sapwood(prepare(face.picture(), face.outline))


def painted(wood=BROWN, band_mm=45.0):
    """Return a face whose lower edge is sapwood (paler, less brown), and where that lies."""
    face = PaintedFace(wood=wood)
    border = face.margin_mm + face.width_mm - band_mm
    pale = np.asarray(face.y > border + 4 * np.sin(face.x / 90), float)
    face.darken(face.mask() & (pale > 0), 1.45, tint=(1.0, 1.1, 1.3))
    m = face.margin_mm
    return face, box(m, border, m + face.length_mm, m + face.width_mm)


@pytest.mark.parametrize("band_mm", [25.0, 60.0])
def test_sapwood_along_an_edge_has_its_outline(band_mm):
    face, true = painted(band_mm=band_mm)
    (found,) = sapwood(face)
    assert iou(found, true) > 0.8


@pytest.mark.parametrize("wood", [BROWN, PALE])
def test_wood_of_one_kind_shows_no_sapwood(wood):
    assert sapwood(PaintedFace(wood=wood)) == ()


def test_shade_along_an_edge_is_no_sapwood():
    face = PaintedFace(wood=BROWN)
    shaded = face.mask() & (face.y > face.margin_mm + 95)
    # Shade is lit by the sky: darker, and bluer.
    face.darken(shaded, 0.5, tint=(0.9, 1.0, 1.15))
    assert sapwood(face) == ()


def test_shade_across_sapwood_leaves_it_whole():
    face, true = painted()
    face.darken(face.mask() & (face.x > 300) & (face.x < 460), 0.6, tint=(0.97, 1.0, 1.04))
    found = sapwood(face)
    assert found and iou(max(found, key=lambda shape: shape.area), true) > 0.7
