"""Pieces found again, rings on ends, thickness and slope on edges: on small painted pictures."""

from dataclasses import replace
from functools import cache

import cv2
import numpy as np
import pytest
from shapely.geometry import box

from scanner.board.board import Board, Face
from scanner.board.measured import Measured
from scanner.errors import PhotoError
from scanner.vision.photos.picture import Photo
from scanner.vision.second_look import ends
from scanner.vision.second_look.edge import MARGIN_MM, edge_facts
from scanner.vision.second_look.end_grain import fit_end_rings
from scanner.vision.second_look.ends import ring_facts
from scanner.vision.second_look.find_again import FacePrint, PlannedPiece, find_again
from scanner.vision.second_look.grain_print import grain_print
from scanner.vision.second_look.plane import FlatSide, flat_side

RNG = np.random.default_rng(4)
STREAKS_GREY = 30.0


def painted_end(pith, width=150.0, thickness=27.0, mm=0.2, ring=3.0):
    """Return an end (H, W, 3) with dark rings round a pith (mm in the picture)."""
    v, u = np.mgrid[0 : round(thickness / mm), 0 : round(width / mm)] * mm
    away = np.hypot(u - pith[0], v - pith[1])
    part = (away / ring) % 1.0
    grey = 170 - 80 * np.exp(-(((part - 0.9) / 0.1) ** 2)) + RNG.normal(0, 5, u.shape)
    return np.repeat(np.clip(grey, 0, 255).astype(np.uint8)[..., None], 3, axis=2)


def side_of(pixels, mm, size, margin=0.0):
    still = np.diag([1.0, 1.0, 1.0])
    return FlatSide(pixels, mm, size, 0.003, "card", still, still, margin)


def direction_off_deg(fit, pith, at):
    true = np.array(pith) - at
    said = fit.growth_at(tuple(at))[0]
    sine = abs(true[0] * said[1] - true[1] * said[0]) / np.hypot(*true)
    return float(np.degrees(np.arcsin(min(sine, 1.0))))


@pytest.mark.parametrize(
    "pith",
    [
        (60.0, 90.0),
        pytest.param((20.0, -60.0), marks=pytest.mark.slow),
        pytest.param((75.0, 220.0), marks=pytest.mark.slow),
    ],
)
def test_rings_point_at_their_pith(pith):
    pixels = painted_end(pith)
    fit = fit_end_rings(pixels, np.ones(pixels.shape[:2], bool), 0.2)
    off = [direction_off_deg(fit, pith, np.array([x, 13.5])) for x in (15, 45, 75, 105, 135)]
    assert max(off) < 3.0


@pytest.mark.slow
def test_a_saws_streaks_do_not_bend_the_rings_they_cross():
    rng = np.random.default_rng(7)
    pith = (20.0, 90.0)
    streaks = cv2.GaussianBlur(rng.normal(0, 1, (1, 750)), (0, 0), 2.0)
    streaks = np.clip(STREAKS_GREY * streaks / streaks.std(), -60, 20)
    pixels = np.clip(painted_end(pith).astype(float) + streaks[..., None], 0, 255).astype(np.uint8)
    facts = ring_facts(side_of(pixels, 0.2, (150.0, 27.0)), "A")[0]
    true = [np.degrees(np.arctan2(abs(s.y_mm - pith[0]), pith[1] - 13.5)) for s in facts.stations]
    off = np.abs([s.angle_deg for s in facts.stations] - np.array(true))
    assert max(off) < 5.0, off
    assert all(off <= [s.u_deg for s in facts.stations]), off


@pytest.mark.slow
def test_an_end_that_hardly_agrees_with_one_pith_tells_no_direction(monkeypatch):
    side = side_of(painted_end((60.0, 90.0)), 0.2, (150.0, 27.0))
    facts, fit = ring_facts(side, "A")
    assert all(s.is_sure for s in facts.stations)
    monkeypatch.setattr(ends, "fit_end_rings", lambda *_: replace(fit, agreeing=0.45))
    facts = ring_facts(side, "A")[0]
    assert not any(s.is_sure for s in facts.stations)
    assert facts.heart_face is None
    assert any("5 of 5 places" in doubt for doubt in facts.doubts)


def test_an_end_without_rings_is_not_read():
    noise = RNG.integers(90, 160, (135, 750, 1), dtype=np.uint8).repeat(3, axis=2)
    fit = fit_end_rings(noise, np.ones(noise.shape[:2], bool), 0.2)
    assert fit is None or fit.agreeing < 0.6


@cache
@cache
def facts_of_end(pith, end):
    return ring_facts(side_of(painted_end(pith), 0.2, (150.0, 27.0)), end)[0]


@pytest.mark.slow
def test_pith_below_the_board_makes_face_2_the_heart_side():
    facts = facts_of_end((60.0, 90.0), "A")
    assert (facts.heart_face, facts.hollow_face) == (2, 1)


def test_pith_is_found_where_it_lies():
    facts = facts_of_end((60.0, 90.0), "A")
    assert facts.pith_mm == pytest.approx((60.0, 90.0), abs=8.0)


@pytest.mark.slow
def test_end_b_is_seen_the_other_way_round():
    facts = facts_of_end((60.0, 90.0), "B")
    assert facts.pith_mm == pytest.approx((90.0, 90.0), abs=8.0)


@pytest.mark.slow
def test_rings_lean_towards_face_1_away_from_a_pith_below():
    # Left of the pith the rings climb to the right, right of it they fall.
    facts = facts_of_end((75.0, 70.0), "A")
    assert (facts.stations[0].leans, facts.stations[-1].leans) == ("+", "-")


def painted_edge(thickness=25.0, slope_deg=2.0, length=500.0, mm=0.25):
    """Return an edge with a dark ground above and below, its ring lines sloping."""
    margin = MARGIN_MM
    rows, columns = round((thickness + 2 * margin) / mm), round((length + 2 * margin) / mm)
    v, u = np.mgrid[0:rows, 0:columns] * mm
    line = v - np.tan(np.radians(slope_deg)) * u
    grey = 180 - 50 * np.exp(-((((line / 4.0) % 1.0 - 0.5) / 0.12) ** 2))
    inside = (v >= margin) & (v < margin + thickness)
    grey = np.where(inside, grey, 60.0) + RNG.normal(0, 4, u.shape)
    pixels = np.repeat(np.clip(grey, 0, 255).astype(np.uint8)[..., None], 3, axis=2)
    return side_of(pixels, mm, (length, thickness), margin)


@cache
def facts_of_edge(slope_deg):
    """What is read off an edge 25 mm thick."""
    return edge_facts(painted_edge(25.0, slope_deg))


def test_thickness_is_read_at_five_places_of_an_edge():
    found = [s.thickness.value_mm for s in facts_of_edge(2.0).stations]
    assert found == pytest.approx([25.0] * 5, abs=0.3)


@pytest.mark.slow
def test_a_dark_ring_line_within_the_arris_is_not_taken_for_it():
    side = painted_edge(25.0)
    row = round((MARGIN_MM + 2.0) / 0.25)
    pixels = np.where(side.pixels < 90, 140, side.pixels).astype(np.uint8)
    pixels[row : row + 4] = 30
    found = edge_facts(side_of(pixels, 0.25, side.size_mm, MARGIN_MM)).stations
    assert [s.thickness.value_mm for s in found] == pytest.approx([25.0] * 5, abs=0.6)


@pytest.mark.parametrize("slope", [-4.0, pytest.param(0.0, marks=pytest.mark.slow), 2.0])
def test_the_slope_of_ring_lines_is_read_off_an_edge(slope):
    assert facts_of_edge(slope).slope_deg == pytest.approx(slope, abs=0.3)


def test_an_edge_without_lines_has_no_slope():
    side = painted_edge()
    blank = side.pixels.copy()
    blank[:] = 150
    assert edge_facts(side_of(blank, 0.25, side.size_mm, MARGIN_MM)).slope_deg is None


def photo_with_card(with_card=True):
    scene = np.full((900, 1400, 3), 90, np.uint8)
    scene[200:340, 300:1050] = 170
    if with_card:
        codes = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_5X5_1000)
        scene[500:760, 300:560] = 235
        scene[525:735, 325:535] = cv2.aruco.generateImageMarker(codes, 14, 210)[..., None]
    return Photo("end.jpg", scene, "", None, "", is_original=True)


CORNERS = ((299.5, 199.5), (1049.5, 199.5), (1049.5, 339.5), (299.5, 339.5))


def test_a_card_in_its_plane_gives_an_end_its_size():
    # The marker is 42 mm of 210 px: 0.2 mm a pixel.
    side = flat_side(photo_with_card(), CORNERS)
    assert side.size_mm == pytest.approx((150.0, 28.0), rel=side.u_scale + 0.005)


def test_a_photo_without_anything_of_known_size_is_refused():
    with pytest.raises(PhotoError, match="known size"):
        flat_side(photo_with_card(with_card=False), CORNERS)


def test_corners_that_make_no_rectangle_are_refused():
    with pytest.raises(PhotoError, match="sides of"):
        flat_side(photo_with_card(), (CORNERS[0], CORNERS[1], (1049.5, 420.0), CORNERS[3]))


def wavy_face(seed, length=900, width=150):
    """Return a face (H, W, 3) of dark lines that wander, with two knots."""
    rng = np.random.default_rng(seed)
    v, u = np.mgrid[0:width, 0:length].astype(np.float32)
    noise = rng.standard_normal((width, length)).astype(np.float32)
    sway = cv2.GaussianBlur(noise, (0, 0), 60, sigmaY=30)
    fine = cv2.GaussianBlur(noise, (0, 0), 18, sigmaY=5)
    line = v + 6 * sway / sway.std() + 1.2 * fine / fine.std()
    for _ in range(2):
        x, y = rng.uniform(80, length - 80), rng.uniform(20, width - 20)
        line = line + 14 * np.exp(-(((u - x) / 30) ** 2) - ((v - y) / 12) ** 2)
    gaps = np.cumsum(rng.uniform(4, 11, 80))
    phase = np.interp(line + 60, gaps, np.arange(80))
    grey = 180 - 70 * np.exp(-((((phase % 1.0) - 0.5) / 0.15) ** 2))
    return np.repeat(np.clip(grey, 0, 255).astype(np.uint8)[..., None], 3, axis=2)


def face_print(name, pixels):
    rows, columns = pixels.shape[:2]
    outline = box(0, 0, columns, rows)
    board = Board(
        id=name,
        species="white ash",
        thickness=Measured(27.0, 1.0),
        length=Measured(float(columns), 1.0),
        widths=(),
        faces={n: Face(outline=outline) for n in (1, 2)},
    )
    print_ = grain_print(pixels, np.ones(pixels.shape[:2], bool), 1.0)
    return FacePrint(board, 1, print_, (0.0, 0.0))


FACES = [face_print(f"B0{n}", wavy_face(n)) for n in (1, 2)]
CUTS = (
    PlannedPiece("B01", "B01-1", 10.0, 410.0),
    PlannedPiece("B01", "B01-2", 413.0, 813.0),
    PlannedPiece("B02", "B02-1", 10.0, 410.0),
    PlannedPiece("B02", "B02-2", 413.0, 813.0),
)


def cut_piece(seed, x, *, turned=False):
    pixels = wavy_face(seed)[6:144, x : x + 385]
    noise = np.random.default_rng(9).normal(0, 12, pixels.shape[:2])[..., None]
    pixels = np.clip(pixels + noise, 0, 255).astype(np.uint8)
    pixels = np.ascontiguousarray(pixels[::-1, ::-1] if turned else pixels)
    return grain_print(pixels, np.ones(pixels.shape[:2], bool), 1.0), (385.0, 138.0)


@pytest.mark.parametrize("turned", [False, True])
def test_a_trimmed_piece_is_found_where_it_was_cut(turned):
    best = find_again(*cut_piece(2, 420, turned=turned), FACES, CUTS)
    place = best.places[0]
    assert best.is_sure
    assert (place.piece, place.is_turned) == ("B02-2", turned)
    assert (place.x_mm, place.y_mm) == pytest.approx((420.0, 6.0), abs=3.0)


def test_a_piece_of_another_lot_is_asked_about():
    assert not find_again(*cut_piece(7, 420), FACES, CUTS).is_sure


@pytest.mark.slow
def test_without_the_cuts_a_person_is_asked_though_the_best_place_is_right():
    found = find_again(*cut_piece(1, 200), FACES)
    assert not found.is_sure
    assert found.places[0].board == "B01"
    assert found.places[0].x_mm == pytest.approx(200.0, abs=5.0)


def test_a_piece_wider_than_the_board_fits_nowhere():
    piece, _ = cut_piece(1, 200)
    assert find_again(piece, (385.0, 170.0), FACES).places == ()


def with_knot(seed):
    """Return a face with one dark knot at 480, 75 mm: the wood round it is the seed's own."""
    pixels = wavy_face(seed)
    cv2.ellipse(pixels, (480, 75), (22, 15), 0, 0, 360, (35, 30, 25), -1)
    return pixels


@pytest.mark.slow
@pytest.mark.parametrize(("seed", "is_its_own"), [(2, True), (7, False)])
def test_one_knot_like_another_is_asked_about(seed, is_its_own):
    pixels = np.ascontiguousarray(with_knot(seed)[6:144, 420:805])
    piece = grain_print(pixels, np.ones(pixels.shape[:2], bool), 1.0)
    face = face_print("B02", with_knot(2))
    found = find_again(piece, (385.0, 138.0), [face], CUTS[2:])
    assert found.places[0].piece == "B02-2"
    assert found.gap > 2 and found.places[0].score > 0.15  # the knot alone would be believed
    assert found.is_sure == is_its_own
