import weakref
from dataclasses import replace

import numpy as np
import pytest
from shapely.geometry import Polygon, box

from scanner.board.flaw import Flaw, FlawKind
from scanner.geometry.polygons import iou
from scanner.vision.flaws import find_flaws
from scanner.vision.flaws.marked import find_marks, without_own_rims, without_strokes
from scanner.vision.flaws.surface import prepare
from tests.vision.chalk import CHALK, CRAYON, across, cross, draw_stroke, loop
from tests.vision.faces import BROWN, PALE, PaintedFace
from tests.vision.flaws.surfaces import Wood

# Seconds each: pictures are drawn and searched.
pytestmark = pytest.mark.slow

# Chalk of about the wood's own colour is nobody's choice on that wood.
ON_WOOD = [
    *[(PALE, colour) for colour in (CHALK["blue"], CHALK["red"], CRAYON["black"], CRAYON["red"])],
    *[(BROWN, colour) for colour in (CHALK["white"], CHALK["yellow"], CHALK["blue"])],
]


def drawn(face, strokes, colour, width_mm=7.0):
    """Return the face's picture with strokes (mm of the board) drawn on it."""
    picture = face.picture()
    pixels = picture.pixels
    for seed, stroke in enumerate(strokes):
        at = np.asarray(stroke) + face.margin_mm
        pixels = draw_stroke(
            pixels, at, picture.mm_per_px, colour=colour, width_mm=width_mm, seed=seed
        )
    return replace(picture, pixels=pixels)


def marks(face, picture):
    return find_marks(prepare(picture, face.outline), ())


@pytest.mark.parametrize(("wood", "colour"), ON_WOOD)
def test_a_loop_is_a_mark_with_its_outline(wood, colour):
    face = PaintedFace(wood=wood)
    line = loop(350, 75, 110, 70)
    (mark,) = marks(face, drawn(face, [line], colour))
    assert mark.kind is FlawKind.MARKED and "loop" in mark.reason
    assert iou(mark.outlines[1], Polygon(line + face.margin_mm).convex_hull) > 0.7


@pytest.mark.parametrize(("wood", "colour"), ON_WOOD)
def test_an_x_is_a_mark(wood, colour):
    face = PaintedFace(wood=wood)
    (mark,) = marks(face, drawn(face, cross(350, 75, 100, 70), colour))
    assert "X" in mark.reason
    assert iou(mark.outlines[1], box(360, 100, 460, 170)) > 0.6


def test_an_x_with_one_faint_arm_is_a_mark():
    colour = CRAYON["black"]
    face = PaintedFace(wood=PALE)
    picture = face.picture()
    pixels = picture.pixels
    for seed, (arm, cover) in enumerate(zip(cross(350, 75, 100, 70), (0.75, 0.12), strict=True)):
        at = arm + face.margin_mm
        pixels = draw_stroke(pixels, at, picture.mm_per_px, colour=colour, cover=cover, seed=seed)
    (mark,) = marks(face, replace(picture, pixels=pixels))
    assert "X" in mark.reason
    assert iou(mark.outlines[1], box(360, 100, 460, 170)) > 0.5


def test_a_line_that_runs_into_a_coloured_rim_is_a_mark():
    face = PaintedFace(wood=PALE)
    rim = box(face.margin_mm + 50, face.margin_mm, face.margin_mm + 650, face.margin_mm + 7)
    face.darken(face.mask(rim), 0.8, (1.25, 0.85, 0.8))
    (mark,) = marks(face, drawn(face, [across(60, 0, 146)], CRAYON["red"]))
    assert "end is cut off" in mark.reason


@pytest.mark.parametrize(("wood", "colour"), [(PALE, CHALK["blue"]), (BROWN, CHALK["white"])])
def test_a_line_across_gives_up_the_wood_to_that_end(wood, colour):
    face = PaintedFace(wood=wood)
    (mark,) = marks(face, drawn(face, [across(60, 4, 146)], colour))
    assert "end is cut off" in mark.reason
    x0, y0, x1, y1 = mark.outlines[1].bounds
    assert x0 < face.margin_mm + 2
    assert face.margin_mm + 55 < x1 < face.margin_mm + 80
    assert y1 - y0 > 140


@pytest.mark.parametrize(("wood", "colour"), ON_WOOD)
def test_chalk_is_no_check_and_no_stain(wood, colour):
    face = PaintedFace(wood=wood)
    strokes = [loop(200, 75, 110, 60), *cross(420, 75, 100, 60), across(640, 4, 146)]
    found = {f.kind for f in find_flaws(drawn(face, strokes, colour), face.outline)}
    wrong = {FlawKind.CHECK, FlawKind.SPLIT, FlawKind.SHAKE, FlawKind.STAIN, FlawKind.PITCH}
    assert FlawKind.MARKED in found
    assert not found & wrong


@pytest.mark.parametrize("wood", [PALE, BROWN])
def test_a_stroke_that_is_no_sign_says_nothing(wood):
    face = PaintedFace(wood=wood)
    colour = CHALK["blue"] if wood == PALE else CHALK["white"]
    arrow = np.array([[300.0, 75.0], [400.0, 70.0]])
    assert marks(face, drawn(face, [arrow], colour)) == ()


@pytest.mark.parametrize("wood", [PALE, BROWN])
def test_a_loose_knot_is_no_crayon_loop(wood):
    face = PaintedFace(wood=wood)
    face.knot(300, 70, 34, light=0.7)
    assert marks(face, face.picture()) == ()


def test_a_pale_rim_along_the_arris_is_no_chalk_and_no_check():
    face = PaintedFace(wood=PALE)
    rim = box(face.margin_mm + 150, face.margin_mm, face.margin_mm + 600, face.margin_mm + 8)
    face.darken(face.mask(rim), 1.16, (1.0, 1.03, 1.1))
    surface = prepare(face.picture(), face.outline)
    assert surface.strokes == ()


def test_strokes_of_a_loop_are_no_knots_but_the_knot_in_it_is():
    face = PaintedFace(wood=PALE)
    knot = face.knot(350, 75, 22)
    line = loop(350, 75, 110, 70)
    surface = prepare(drawn(face, [line], CRAYON["black"]), face.outline)
    mark = Polygon(line + face.margin_mm)
    at = np.asarray(mark.exterior.coords[10])
    piece = box(*(at - 2), *(at + 2))
    flaws = tuple(
        Flaw(id=name, kind=FlawKind.KNOT, outlines={1: shape})
        for name, shape in (("knot", knot), ("stroke", piece))
    )
    assert [flaw.id for flaw in without_strokes(flaws, surface)] == ["knot"]


@pytest.mark.parametrize(("is_in_dabs", "kept"), [(True, ["sure"]), (False, [])])
def test_a_plainly_seen_knot_stays_under_dabs_but_not_under_a_whole_stroke(is_in_dabs, kept):
    face = PaintedFace(wood=PALE)
    line = loop(350, 75, 110, 70)
    surface = prepare(drawn(face, [line], CRAYON["black"]), face.outline)
    told = tuple(replace(one, is_in_dabs=is_in_dabs, says="loop") for one in surface.strokes)
    at = line[10] + face.margin_mm
    piece = box(*(at - 2), *(at + 2))
    flaws = tuple(
        Flaw(id=name, kind=FlawKind.KNOT, outlines={1: piece}, score=score)
        for name, score in (("sure", 0.95), ("unsure", 0.6))
    )
    left = without_strokes(flaws, replace(surface, strokes=told))
    assert [flaw.id for flaw in left] == kept


def test_a_loop_that_is_a_plain_knots_own_rim_is_no_mark_and_one_round_it_is():
    def told(kind, score, shape, reason=None):
        return Flaw("", kind, {1: shape}, score=score, reason=reason)

    spot = box(100, 50, 140, 80)
    rim = told(FlawKind.MARKED, 0.66, spot.buffer(2.0), "your blue chalk loop")
    drawn_round = told(FlawKind.MARKED, 0.66, spot.buffer(9.0), "your blue chalk loop")
    x_over = told(FlawKind.MARKED, 0.66, spot.buffer(2.0), "your blue chalk X")
    plain, doubtful = told(FlawKind.KNOT, 0.99, spot), told(FlawKind.KNOT, 0.5, spot)
    assert without_own_rims((rim, plain)) == (plain,)
    for kept in ((drawn_round, plain), (x_over, plain), (rim, doubtful), (rim,)):
        assert without_own_rims(kept) == kept


def test_a_face_that_was_looked_at_is_let_go_with_its_maps():
    surface = Wood().surface()
    assert find_marks(surface, ()) == ()
    left = weakref.ref(surface)
    del surface
    assert left() is None
