import cv2
import numpy as np
import pytest
from shapely import affinity
from shapely.geometry import LineString

from scanner.board.flaw import FlawKind, FlawState
from scanner.geometry.polygons import iou
from scanner.vision.flaws import find_flaws
from scanner.vision.photos.picture import FacePicture
from tests.vision.faces import BROWN, PALE, PaintedFace

# Seconds each: pictures are drawn and searched.
pytestmark = pytest.mark.slow

WOODS = {"light": PALE, "dark": BROWN}


def kinds(flaws):
    return [flaw.kind for flaw in flaws]


def line(face, points, wide_mm, light):
    """Paint a line through points (mm of the board)."""
    path = LineString([(x + face.margin_mm, y + face.margin_mm) for x, y in points])
    face.darken(face.mask(path.buffer(wide_mm / 2, cap_style="flat")), light)
    return path


def crack(face, x0, x1, y, wide_mm=1.2):
    xs = np.linspace(x0, x1, 12)
    return line(face, [(x, y + 1.2 * np.sin(x / 13)) for x in xs], wide_mm, 0.15)


@pytest.mark.parametrize(("wood", "seed"), [("light", 0), ("dark", 3)])
def test_a_clean_board_has_no_flaw(wood, seed):
    face = PaintedFace(wood=WOODS[wood], seed=seed)
    assert find_flaws(face.picture(), face.outline) == ()


@pytest.mark.parametrize("wood", WOODS)
def test_a_knot_of_20_mm_is_found(wood):
    face = PaintedFace(wood=WOODS[wood])
    true = face.knot(300, 70, 20)
    knots = [f for f in find_flaws(face.picture(), face.outline) if f.kind is FlawKind.KNOT]
    assert len(knots) == 1
    assert iou(knots[0].outlines[1], true) > 0.6


@pytest.mark.parametrize("wood", WOODS)
def test_a_crack_from_the_end_is_found_with_its_reach(wood):
    face = PaintedFace(wood=WOODS[wood])
    crack(face, 0, 110, 60)
    found = [
        f for f in find_flaws(face.picture(), face.outline)
        if f.kind in (FlawKind.CHECK, FlawKind.SPLIT)
    ]  # fmt: skip
    assert len(found) == 1
    # Its outline is smeared past the tip, by more here than is usual.
    assert found[0].reach_mm == pytest.approx(110, abs=15)


def test_a_crack_in_the_middle_has_no_reach():
    face = PaintedFace()
    crack(face, 250, 380, 90)
    (found,) = find_flaws(face.picture(), face.outline)
    assert found.kind is FlawKind.CHECK
    assert found.reach_mm is None


def look_alike(face, name):
    if name == "pencil line across":
        line(face, [(300, 5), (302, 145)], 0.8, 0.55)
    elif name == "shadow edge":
        face.darken(face.x + 0.4 * face.y > 420, 0.55)
    elif name == "stain":
        blot = np.hypot((face.x - 360) / 90, (face.y - 130) / 30)
        face.darken(np.ones_like(face.x, bool), (1 - 0.25 * np.exp(-(blot**2)))[..., None])
    elif name == "flecks of shade":
        for x, y, size in ((200, 90, 22), (330, 130, 30), (480, 100, 16), (600, 140, 40)):
            away = np.hypot((face.x - x) / 1.3, face.y - y)
            shade = 1 / (1 + np.exp((away - size) / 2.5))
            # Lit by the sky alone: darker, and bluer.
            face.pixels = face.pixels * (1 - shade[..., None] * [0.525, 0.5, 0.46])
    elif name == "wet patch":
        away = np.hypot((face.x - 350) / 70, (face.y - 130) / 32)
        ragged = away + 0.06 * np.sin(5 * np.arctan2(face.y - 130, face.x - 350))
        wet = 1 / (1 + np.exp((ragged - 1) * 25))
        face.pixels = face.pixels * (1 - wet[..., None] * [0.26, 0.30, 0.36])
    elif name == "saw marks":
        marks = 1 - 0.12 * (np.sin(2 * np.pi * (face.x + 0.05 * face.y) / 5.5) > 0.6)
        face.darken(face.mask(), cv2.blur(marks, (3, 3))[..., None])


@pytest.mark.slow
@pytest.mark.parametrize(
    "name",
    ["pencil line across", "shadow edge", "flecks of shade", "wet patch", "stain", "saw marks"],
)
@pytest.mark.parametrize("wood", WOODS)
def test_look_alikes_are_no_knots_and_no_cracks(name, wood):
    face = PaintedFace(wood=WOODS[wood])
    look_alike(face, name)
    assert not set(kinds(find_flaws(face.picture(), face.outline))) & {
        FlawKind.KNOT,
        FlawKind.CHECK,
        FlawKind.SPLIT,
    }


def test_candidates_come_possible_numbered_along_the_board_and_with_a_reason():
    face = PaintedFace()
    face.knot(500, 60, 20)
    face.knot(200, 90, 16)
    flaws = find_flaws(face.picture(), face.outline)
    assert [f.id for f in flaws] == [f"F{n}" for n in range(1, len(flaws) + 1)]
    assert all(f.state is FlawState.POSSIBLE and f.reason and 0 < f.score <= 1 for f in flaws)
    starts = [f.outlines[1].bounds[0] for f in flaws]
    assert starts == sorted(starts)


def test_wild_grain_lies_round_its_knot_and_is_larger():
    face = PaintedFace()
    face.knot(300, 70, 24)
    flaws = find_flaws(face.picture(), face.outline)
    (knot,) = [f.outlines[1] for f in flaws if f.kind is FlawKind.KNOT]
    wild = [f.outlines[1] for f in flaws if f.kind is FlawKind.WILD_GRAIN]
    assert wild
    assert all(w.area > 1.5 * knot.area and w.intersects(knot) for w in wild)


@pytest.mark.slow
def test_turning_the_picture_turns_the_flaws():
    face = PaintedFace(wood=BROWN)
    face.knot(300, 70, 20)
    crack(face, 450, 560, 100)
    picture = face.picture()
    h, w = picture.pixels.shape[:2]
    middle = ((w - 1) * picture.mm_per_px / 2, (h - 1) * picture.mm_per_px / 2)
    turned = FacePicture(
        np.ascontiguousarray(picture.pixels[::-1, ::-1]),
        picture.mm_per_px,
        (0.0, 0.0),
        picture.u_scale,
        picture.u_point_mm,
        picture.seen,
    )
    first = find_flaws(picture, face.outline)
    second = find_flaws(turned, affinity.rotate(face.outline, 180, origin=middle))
    assert sorted(kinds(first)) == sorted(kinds(second))
    for flaw in first:
        if flaw.kind in (FlawKind.KNOT, FlawKind.CHECK):
            same = [f.outlines[1] for f in second if f.kind is flaw.kind]
            back = [affinity.rotate(shape, 180, origin=middle) for shape in same]
            assert max(iou(shape, flaw.outlines[1]) for shape in back) > 0.6


@pytest.mark.slow
def test_scale_of_the_picture_hardly_matters():
    fine, coarse = PaintedFace(mm_per_px=0.4), PaintedFace(mm_per_px=0.8)
    for face in (fine, coarse):
        true = face.knot(300, 70, 20)
        knots = [f for f in find_flaws(face.picture(), face.outline) if f.kind is FlawKind.KNOT]
        assert len(knots) == 1 and iou(knots[0].outlines[1], true) > 0.5
