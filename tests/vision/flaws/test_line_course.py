import numpy as np

from scanner.vision.flaws.learned_regions import Region
from scanner.vision.flaws.line_course import course_of, gathered


def leaning(share=0.4):
    """Return shares of a faint line that falls by 20 rows over 200 columns, one pixel high."""
    values = np.zeros((60, 300), np.float32)
    values[(20 + 0.1 * np.arange(200)).round().astype(int), 50 + np.arange(200)] = share
    return values


def test_a_line_seen_faintly_along_all_its_length_gathers_and_a_speck_does_not():
    values = leaning()
    values[50, 100:105] = 0.4
    found = gathered(values)
    assert found[30, 150] > 0.35
    assert found[50, 102] < 0.1


def test_a_lines_course_follows_its_surest_pixels():
    values = leaning(0.9)
    region = Region(10, 50, np.ones((40, 200), bool))
    x, y = course_of(region, values)
    assert x[0] == 50
    assert np.abs(y - (20 + 0.1 * (x - 50))).max() < 1.0
