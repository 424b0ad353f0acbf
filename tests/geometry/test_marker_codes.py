import cv2
import numpy as np
import pytest

from scanner.geometry.marker_codes import CODES, marker_modules


def test_the_table_is_opencvs_own_dictionary():
    codes = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_250)
    assert len(CODES) == len(codes.bytesList) == 250
    for marker in range(250):
        drawn = cv2.aruco.generateImageMarker(codes, marker, 6)
        assert np.array_equal(marker_modules(marker), drawn > 127)


def test_a_marker_that_does_not_exist_is_refused():
    with pytest.raises(ValueError, match="249"):
        marker_modules(250)
