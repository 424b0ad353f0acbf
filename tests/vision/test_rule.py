import json
import os
from pathlib import Path

import numpy as np
import pytest

from scanner.board.measured import Measured
from scanner.errors import PhotoError
from scanner.vision.photo import read_photo
from scanner.vision.scale import fit_scale
from scanner.vision.setup import RuleSize, Setup
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


def test_four_tapped_corners_do_as_well(view, photo):
    corners = np.array([[0, 14, 0], [609.6, 14, 0], [609.6, -14, 0], [0, -14, 0]])
    rough = view.project(corners) + np.array([[2, -2], [-3, 1], [2, 2], [-2, 1]])
    tapped = tuple((float(x), float(y)) for x, y in rough)
    fit = fit_scale((photo,), Setup(thickness=FLAT, rule=TWO_FEET, corners=tapped))
    assert fit.kind == "tapped"
    there = fit.face_from_photo(0, view.project(np.array([[50.0, 30, 0], [550.0, 30, 0]])))
    assert np.linalg.norm(there[1] - there[0]) == pytest.approx(500.0, abs=3.0)


def test_graduations_disprove_a_wrong_length(photo):
    with pytest.raises(PhotoError, match=r"fit .*, not the told 914 mm"):
        fit_scale((photo,), Setup(thickness=FLAT, rule=RuleSize(914.4, 28.0, 0.0)))


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
@pytest.mark.slow
@pytest.mark.parametrize("length", [914.4, 1000.0, 500.0])
def test_saw_teeth_are_no_graduations(length):
    photo = read_photo(RULES / "no_rule_saw_and_tools.jpg")
    with pytest.raises(PhotoError, match="No reference rule found"):
        fit_scale((photo,), Setup(thickness=Measured(25.0, 1.0), rule=RuleSize(length, 28.0)))
