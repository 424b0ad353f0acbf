"""Boards sorted by likeness, as a sheet for the eye."""

import numpy as np
from PIL import Image

from scanner.sheets.alike_sheet import Strip, alike_sheet

FACE = (Image.new("RGB", (600, 60), (180, 140, 90)), 1.0)
SHORT = "rather like; both straight"
LONG = " ".join(["rings 1.9 against 2.6 mm and their order runs alike"] * 5)


def ink_rows(sheet):
    """Return which rows hold dark letters."""
    return (np.asarray(sheet.convert("L")) < 60).any(axis=1)


def test_long_words_are_written_whole_over_several_lines():
    heading = "As B01"
    short, long = (alike_sheet(heading, (Strip("B02", w, (FACE,)),)) for w in (SHORT, LONG))
    added = long.height - short.height
    assert added > 0
    # Ink in each added line, none at the rims, and the face below the words as it was.
    lines = np.flatnonzero(np.diff(ink_rows(long).astype(int)) == 1).size
    assert lines - np.flatnonzero(np.diff(ink_rows(short).astype(int)) == 1).size >= 2
    assert np.asarray(long)[:, -20:].min() == 255
    assert np.array_equal(np.asarray(long)[-90:], np.asarray(short)[-90:])
