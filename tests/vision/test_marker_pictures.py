"""Corners of printed markers on other people's pictures: how near they lie to one flat sheet."""

import json
import os
from pathlib import Path

import cv2
import numpy as np
import pytest
from scipy.optimize import least_squares

from scanner.vision.cv import grey_of
from scanner.vision.photos.photo import read_photo
from scanner.vision.rule.marker_corners import refine_corners

REAL = Path(os.environ.get("BOTHFACES_REAL", Path(__file__).parents[2] / ".." / "shared"))
MARKERS = REAL / "photos" / "markers"
SIGNS = np.array([[-1.0, -1.0], [1.0, -1.0], [1.0, 1.0], [-1.0, 1.0]])


def sheet():
    """Return corners (4, 2) by id of the board in the pictures, in widths of a marker."""
    words = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_6X6_250)
    board = cv2.aruco.CharucoBoard((5, 7), 2.0, 1.0, words)
    board.setLegacyPattern(True)
    both = zip(board.getIds().ravel(), board.getObjPoints(), strict=True)
    return {int(number): np.array(points)[:, :2] for number, points in both}


def off_the_sheet(picture, corners, places):
    """Return how far corners (N, 4, 2) px lie off a flat sheet with even bleed: rms, px."""
    matrix, terms = (np.array(picture["camera"][key]) for key in ("camera_matrix", "dist"))
    seen = cv2.undistortPoints(corners.reshape(-1, 1, 2), matrix, terms, P=matrix)[:, 0]
    signs = np.tile(SIGNS, (len(places), 1))
    flat = np.concatenate(places)
    start, _ = cv2.findHomography(flat, seen)

    def off(unknowns):
        there = np.column_stack([flat + signs * unknowns[8:], np.ones(len(flat))])
        there = there @ np.append(unknowns[:8], 1.0).reshape(3, 3).T
        return (there[:, :2] / there[:, 2:] - seen).ravel()

    begin = np.append((start / start[2, 2]).ravel()[:8], [0.0, 0.0])
    return float(np.sqrt(np.mean(least_squares(off, begin, x_scale="jac").fun ** 2)))


@pytest.mark.real
@pytest.mark.skipif(not MARKERS.is_dir(), reason=f"no real pictures in {MARKERS}")
def test_line_fitted_corners_of_real_markers_lie_on_one_flat_sheet():
    places = sheet()
    rough, fine = [], []
    for picture in json.loads((MARKERS / "truth.json").read_text(encoding="utf-8"))["pictures"]:
        if not picture["file"].startswith("charuco"):
            continue
        told = picture["reference"]["markers"]
        corners = np.array(list(told.values()), dtype=np.float64)
        refined, _, _ = refine_corners(
            grey_of(read_photo(MARKERS / picture["file"]).pixels), corners
        )
        of_ids = [places[int(number)] for number in told]
        rough.append(off_the_sheet(picture, corners, of_ids))
        fine.append(off_the_sheet(picture, refined, of_ids))
    # Small markers (27 px) in 0.3 megapixels. The third picture's corners stray by 0.35 to 0.4 px
    # whichever way they are found, so its sheet or its rows are not flat to this measure.
    assert sum(one < 0.3 for one in fine) >= 3
    assert max(fine) < 0.45
    assert np.median(fine) < 0.7 * np.median(rough)
