import json
import os
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import cv2
import numpy as np
import pytest

from scanner.board.measured import Measured
from scanner.errors import PhotoError
from scanner.vision import scale
from scanner.vision.fit.least_squares import solve
from scanner.vision.photos.photo import read_photo
from scanner.vision.rule import search
from scanner.vision.rule.find import find_rules
from scanner.vision.scale import fit_scale, fit_seen
from scanner.vision.setup import RuleSize, Setup
from scanner.vision.trial import try_out
from tests.vision.drawn import camera, photo_of, rule_sheet, shoot

# Seconds each: pictures are drawn and searched.
pytestmark = pytest.mark.slow

REAL = Path(os.environ.get("BOTHFACES_REAL", Path(__file__).parents[2] / ".." / "shared"))
RULES = REAL / "photos" / "rules"
real = pytest.mark.skipif(not RULES.is_dir(), reason=f"no real pictures in {RULES}")
TWO_FEET = RuleSize(609.6, 28.0, 0.0)
FLAT = Measured(0.0, 0.2)


@pytest.fixture(scope="module")
def view():
    return camera(tilt_deg=15.0, distance=800.0, aim=(300.0, 60.0), turn=0.15)


@pytest.fixture(scope="module")
def photo(view):
    return photo_of(shoot(view, *rule_sheet(), shade=False))


def test_a_steel_rule_is_found_and_its_ends_seen(view, photo):
    fit = fit_scale((photo,), Setup(thickness=FLAT, rule=TWO_FEET))
    assert fit.kind == "plain"
    corners = np.array([[0, -14, 0], [0, 14, 0], [609.6, 14, 0], [609.6, -14, 0]])
    assert np.abs(np.array(fit.corners) - view.project(corners)).max() < 3.0
    ends = view.project(np.array([[30.0, 80.0, 0.0], [560.0, 80.0, 0.0]]))
    there = fit.face_from_photo(0, ends)
    error = np.linalg.norm(there[1] - there[0]) - 530.0
    assert abs(error) <= fit.u_between(there[0], there[1])


def test_a_glance_finds_a_plain_rule_and_none_where_none_lies(view, photo):
    setup = Setup(thickness=FLAT, rule=TWO_FEET)
    fit = fit_scale((photo,), setup, at_a_glance=True)
    ends = view.project(np.array([[30.0, 80.0, 0.0], [560.0, 80.0, 0.0]]))
    there = fit.face_from_photo(0, ends)
    error = np.linalg.norm(there[1] - there[0]) - 530.0
    assert abs(error) <= fit.u_between(there[0], there[1])
    bar = np.full((112, 2438), 205, np.uint8)
    bare = photo_of(shoot(view, bar, (0.0, 14.0), shade=False))
    with pytest.raises(PhotoError, match="No reference rule found in drawn"):
        fit_scale((bare,), setup, at_a_glance=True)


def test_a_plain_rule_shows_a_trial_in_a_small_picture_alone(photo, monkeypatch):
    monkeypatch.setattr(search, "_bars_seen", lambda *told: iter(()))
    trial = try_out(photo, Setup(thickness=FLAT, rule=TWO_FEET))
    assert trial.rule is not None and trial.rule.length_mm == 609.6
    with pytest.raises(PhotoError, match="No reference rule found in drawn"):
        fit_scale((photo,), Setup(thickness=FLAT, rule=TWO_FEET))


def test_an_outline_that_was_read_is_not_read_again(monkeypatch):
    looked = []
    monkeypatch.setattr(search, "judged", lambda grey, band, *told: looked.append(band))
    known = SimpleNamespace(
        band=object(), is_settled=True, is_as_told=True, verdict=SimpleNamespace()
    )
    bands = [known.band, object()]
    assert search.read_bar(None, bands, TWO_FEET, None, known) is known
    assert looked == []


def test_a_trial_finds_a_rule_that_shows_to_no_quick_look(photo, monkeypatch):
    monkeypatch.setattr(search, "quick_evidence", lambda *told: 0.0)
    trial = try_out(photo, Setup(thickness=FLAT, rule=TWO_FEET))
    assert trial.rule is not None and trial.rule.length_mm == 609.6


def test_a_glance_whose_reading_no_camera_can_have_seen_is_followed_by_a_careful_look(
    photo, monkeypatch
):
    looks = []

    def fitted(*told, **how):
        if looks[-1]:
            raise PhotoError("no camera saw it so", "look again")
        return fit_seen(*told, **how)

    def found(*told, at_a_glance):
        looks.append(at_a_glance)
        return find_rules(*told, at_a_glance=at_a_glance)

    monkeypatch.setattr(scale, "find_rules", found)
    monkeypatch.setattr(scale, "fit_seen", fitted)
    trial = try_out(photo, Setup(thickness=FLAT, rule=TWO_FEET))
    assert trial.rule is not None and looks == [True, False]


def test_one_photo_of_a_rule_is_fitted_once(photo, monkeypatch):
    fits = []
    monkeypatch.setattr(scale, "solve", lambda *told: fits.append(1) or solve(*told))
    fit = fit_scale((photo,), Setup(thickness=FLAT, rule=TWO_FEET))
    assert (len(fits), fit.kind, fit.names) == (1, "plain", (photo.name,))


def test_four_tapped_corners_do_as_well(view, photo):
    corners = np.array([[0, 14, 0], [609.6, 14, 0], [609.6, -14, 0], [0, -14, 0]])
    rough = view.project(corners) + np.array([[2, -2], [-3, 1], [2, 2], [-2, 1]])
    tapped = tuple((float(x), float(y)) for x, y in rough)
    fit = fit_scale((photo,), Setup(thickness=FLAT, rule=TWO_FEET, corners=tapped))
    assert fit.kind == "tapped"
    there = fit.face_from_photo(0, view.project(np.array([[50.0, 30, 0], [550.0, 30, 0]])))
    assert np.linalg.norm(there[1] - there[0]) == pytest.approx(500.0, abs=3.0)


@pytest.mark.parametrize("is_bare", [False, True])
def test_taps_beside_the_corners_are_moved_onto_them(view, photo, is_bare):
    shown = photo
    if is_bare:
        sheet, corner = rule_sheet()
        shown = photo_of(shoot(view, np.full_like(sheet, 205), corner, shade=False))
    true = view.project(np.array([[0, 14, 0], [609.6, 14, 0], [609.6, -14, 0], [0, -14, 0.0]]))
    rough = true + np.array([[12.0, -8], [-9, 11], [7, 13], [-14, 4]])
    tapped = tuple((float(x), float(y)) for x, y in rough)
    fit = fit_scale((shown,), Setup(thickness=FLAT, rule=TWO_FEET, corners=tapped))
    # The zero end comes first.
    off = np.linalg.norm(np.array(fit.corners) - np.roll(true, 1, axis=0), axis=1)
    assert off.max() < 1.0
    ends = view.project(np.array([[30.0, 80.0, 0.0], [560.0, 80.0, 0.0]]))
    there = fit.face_from_photo(0, ends)
    assert abs(np.linalg.norm(there[1] - there[0]) - 530.0) <= fit.u_between(there[0], there[1])


def test_taps_where_no_rule_lies_are_refused(view):
    empty = photo_of(shoot(view, np.full((4, 4), 110, np.uint8), (0.0, 0.0), shade=False))
    corners = np.array([[0, 14, 0], [609.6, 14, 0], [609.6, -14, 0], [0, -14, 0.0]])
    tapped = tuple((float(x), float(y)) for x, y in view.project(corners))
    with pytest.raises(PhotoError, match="No rule edges are seen between the tapped corners"):
        fit_scale((empty,), Setup(thickness=FLAT, rule=TWO_FEET, corners=tapped))


def test_tapped_graduations_disprove_a_wrong_length(view, photo):
    corners = np.array([[0, 14, 0], [609.6, 14, 0], [609.6, -14, 0], [0, -14, 0.0]])
    tapped = tuple((float(x), float(y)) for x, y in view.project(corners))
    with pytest.raises(PhotoError, match=r"fit .*, not the told 914 mm"):
        fit_scale((photo,), Setup(thickness=FLAT, rule=RuleSize(914.4), corners=tapped))


def test_graduations_disprove_a_wrong_length(photo):
    with pytest.raises(PhotoError, match=r"fit .*, not the told 914 mm"):
        fit_scale((photo,), Setup(thickness=FLAT, rule=RuleSize(914.4, 28.0, 0.0)))


def test_a_straight_shadow_along_the_rule_stays_within_the_uncertainty(view):
    pixels = shoot(view, *rule_sheet(), shade=False).copy()
    # The board's straight shadow over one long edge of the rule and the floor beside it.
    dark = np.array([[-150.0, 3.0, 0], [760.0, -6.0, 0], [760.0, -70.0, 0], [-150.0, -70.0, 0]])
    mask = cv2.fillPoly(np.zeros(pixels.shape[:2], np.uint8), [view.project(dark).astype(int)], 1)
    pixels[mask > 0] //= 2
    shaded = photo_of(pixels)
    fit = fit_scale((shaded,), Setup(thickness=FLAT, rule=TWO_FEET))
    ends = view.project(np.array([[30.0, 80.0, 0.0], [560.0, 80.0, 0.0]]))
    there = fit.face_from_photo(0, ends)
    assert abs(np.linalg.norm(there[1] - there[0]) - 530.0) <= fit.u_between(there[0], there[1])


def test_worn_graduations_at_one_end_are_no_doubt_where_both_ends_of_the_rule_are_seen(view):
    sheet, corner = rule_sheet()
    sheet[:, -560:-2] = 205
    fit = fit_scale(
        (photo_of(shoot(view, sheet, corner, shade=False)),),
        Setup(thickness=FLAT, rule=TWO_FEET),
    )
    assert not [doubt for doubt in fit.doubts if "graduations" in doubt]
    there = fit.face_from_photo(0, view.project(np.array([[30.0, 80.0, 0], [560.0, 80.0, 0]])))
    assert abs(np.linalg.norm(there[1] - there[0]) - 530.0) <= fit.u_between(there[0], there[1])


def test_a_bare_bar_is_no_rule(view):
    bar = np.full((112, 2438), 205, np.uint8)
    bare = photo_of(shoot(view, bar, (0.0, 14.0), shade=False))
    with pytest.raises(PhotoError, match="No reference rule found in drawn"):
        fit_scale((bare,), Setup(thickness=FLAT, rule=TWO_FEET))


@real
@pytest.mark.real
@pytest.mark.slow
def test_centimetres_of_a_real_steel_rule_on_a_floor_are_centimetres():
    name = "steel_rule_500mm_on_oak_floor.jpg"
    photo = read_photo(RULES / name)
    size = RuleSize(500.0, 30.0, 1.0)
    fit = fit_scale((photo,), Setup(thickness=Measured(1.0, 0.2), rule=size))
    pictures = json.loads((RULES / "truth.json").read_text())["pictures"]
    lines = next(one for one in pictures if one["file"] == name)["graduations_px"]
    for column in lines.values():
        marks = sorted(column, key=int)
        seen = fit.face_from_photo(0, np.array([column[mark] for mark in marks]))
        for first, second in ((1, 2), (2, 4), (1, 6)):
            true = 10.0 * (int(marks[second]) - int(marks[first]))
            error = np.linalg.norm(seen[second] - seen[first]) - true
            u = fit.u_between(seen[first], seen[second], sd_p_px=0.4, sd_q_px=0.4)
            assert abs(error) <= u
            # A crop of 1.5 px/mm, its lens unknown; the lines were read to 0.4 px.
            assert abs(error) < 0.01 * true


@real
@pytest.mark.real
@pytest.mark.parametrize("turns", [0, 2])
@pytest.mark.parametrize("tint", [(1.0, 1.0, 1.0), (0.8, 0.95, 1.2)])
def test_a_real_steel_rule_is_read_however_the_photo_is_turned_and_balanced(turns, tint):
    # Specks on a jaw over its end made more lines than told, and slow waves of light ten steps.
    name = "steel_rule_500mm_on_oak_floor.jpg"
    photo = read_photo(RULES / name)
    height, width = photo.pixels.shape[:2]
    pictures = json.loads((RULES / "truth.json").read_text())["pictures"]
    lines = next(one for one in pictures if one["file"] == name)["graduations_px"]
    marks = np.array([lines["left_column_long_ticks"][cm] for cm in ("1", "50")])
    if turns == 2:
        marks = np.array([width - 1, height - 1]) - marks
    tinted = np.clip(photo.pixels * np.array(tint), 0, 255).astype(np.uint8)
    turned = replace(photo, pixels=np.ascontiguousarray(np.rot90(tinted, turns)))
    setup = Setup(thickness=Measured(1.0, 0.2), rule=RuleSize(500.0))
    fit = fit_scale((turned,), setup, however_near=True)
    seen = fit.face_from_photo(0, marks)
    error = np.linalg.norm(seen[1] - seen[0]) - 490.0
    assert abs(error) <= fit.u_between(seen[0], seen[1], sd_p_px=0.4, sd_q_px=0.4)
    assert abs(error) < 0.01 * 490.0


@real
@pytest.mark.real
@pytest.mark.slow
@pytest.mark.parametrize("length", [200.0, 500.0, 914.4, 1000.0])
def test_saw_teeth_are_no_graduations(length):
    photo = read_photo(RULES / "no_rule_saw_and_tools.jpg")
    with pytest.raises(PhotoError, match="No reference rule found"):
        fit_scale((photo,), Setup(thickness=Measured(25.0, 1.0), rule=RuleSize(length, 28.0)))


# What was told of each picture: its true length first, then wrong ones. All these rules are seen
# from less than 0.4 m, cut by the picture, or without lines, so that a refusal is a right answer;
# a wrong scale is not.
TOLD = {
    "steel_rule_500mm_on_oak_floor.jpg": (300.0, 914.4),
    "printed_rule_20cm_8in_tilted_yellow.jpg": (200.0, 177.8, 300.0, 914.4),
    "printed_rule_19cm_green.jpg": (190.0, 914.4),
    "gsa_scale_card_on_gravel.jpg": (100.0, 914.4),
    "museum_rule_butterfly_0deg.jpg": (150.0, 914.4),
    "museum_rule_butterfly_90deg.jpg": (150.0,),
}


@real
@pytest.mark.real
@pytest.mark.slow
@pytest.mark.parametrize(
    ("name", "length"), [(name, length) for name, told in TOLD.items() for length in told]
)
def test_no_real_rule_is_read_at_a_wrong_scale_whatever_was_told(name, length):
    photo = read_photo(RULES / name)
    pictures = json.loads((RULES / "truth.json").read_text())["pictures"]
    lines = next(one for one in pictures if one["file"] == name)["graduations_px"]
    marks = next(iter(lines.values()))
    low, high = min(marks, key=int), max(marks, key=int)
    try:
        fit = fit_scale((photo,), Setup(thickness=FLAT, rule=RuleSize(length, None)))
    except PhotoError:
        return
    seen = fit.face_from_photo(0, np.array([marks[low], marks[high]]))
    error = np.linalg.norm(seen[1] - seen[0]) - 10.0 * (int(high) - int(low))
    assert abs(error) <= fit.u_between(seen[0], seen[1], sd_p_px=1.0, sd_q_px=1.0)
