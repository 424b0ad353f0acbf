"""The coded strip as a picture: markers, graduations, joint lines."""

import cv2
import numpy as np

from scanner.geometry.marker_codes import marker_modules
from scanner.geometry.strip_layout import (
    GRADUATION_BAND_MM,
    MODULE_MM,
    PIECE_MM,
    STRIP_WIDTH_MM,
    centre_mm,
    id_of,
    pieces_for,
)

MM_PER_PX = 0.4


def strip_picture(length_mm):
    """Return the strip's reflectance (rows, columns), first row at +y, and its true length."""
    pieces = pieces_for(length_mm)
    long = pieces * PIECE_MM
    fine = MM_PER_PX / 4
    picture = np.full((round(STRIP_WIDTH_MM / fine), round(long / fine)), 219, np.uint8)
    half = STRIP_WIDTH_MM / 2
    for number in range(round(long / 50)):
        modules = marker_modules(id_of("A", number))
        left = centre_mm(number) - 3 * MODULE_MM
        for row, cells in enumerate(modules):
            for column, white in enumerate(cells):
                if not white:
                    x, y = left + column * MODULE_MM, 3 * MODULE_MM - row * MODULE_MM
                    _box(picture, x, half - y, MODULE_MM, MODULE_MM, fine, 13)
    for cm in range(int(long / 10) + 1):
        tall = 5.0 if cm % 5 == 0 else 3.0
        _box(picture, cm * 10 - 0.15, 0, 0.3, tall, fine, 13)
    for quarter in range(int(long / 25.4 * 4) + 1):
        tall = (5.0, 2.0, 3.0, 2.0)[quarter % 4]
        x = quarter * 25.4 / 4
        _box(picture, x - 0.15, STRIP_WIDTH_MM - tall, 0.3, tall, fine, 13)
        if quarter % 4 == 0:
            _number(picture, quarter // 4, x + 0.8, STRIP_WIDTH_MM - 1.2, fine)
    for joint in range(1, pieces):
        _box(picture, joint * PIECE_MM - 0.1, 0, 0.2, STRIP_WIDTH_MM, fine, 115)
    size = (picture.shape[1] // 4, picture.shape[0] // 4)
    small = cv2.resize(picture, size, interpolation=cv2.INTER_AREA)
    return small.astype(np.float32) / 255, long


def _box(picture, x, down, wide, tall, mm, grey):
    rows = slice(max(round(down / mm), 0), round((down + tall) / mm))
    picture[rows, max(round(x / mm), 0) : round((x + wide) / mm)] = grey


def _number(picture, value, x, down, mm):
    at = (round(x / mm), round(down / mm))
    scale = 0.45 * GRADUATION_BAND_MM / mm / 22
    cv2.putText(picture, str(value), at, cv2.FONT_HERSHEY_SIMPLEX, scale, 13, 2, cv2.LINE_AA)
