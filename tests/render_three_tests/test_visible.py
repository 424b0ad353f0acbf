"""What of a crack is said to show in a photograph."""

import numpy as np

from tests.render_three.visible import patch_stands_out, stands_out


def _wood(rng: np.random.Generator) -> np.ndarray:
    grey = 150 + rng.normal(0, 3, (80, 200))
    return np.repeat(grey[..., None], 3, axis=2).clip(0, 255).astype(np.uint8)


def _share_seen(pixels: np.ndarray, row: float) -> float:
    along = np.arange(20, 180, dtype=float)
    return float(stands_out(pixels, along, np.full(len(along), row)).mean())


def test_a_dark_line_shows_and_bare_wood_does_not():
    pixels = _wood(np.random.default_rng(1))
    pixels[40] = pixels[40] // 2
    assert _share_seen(pixels, 40) == 1
    assert _share_seen(pixels, 20) < 0.05


def test_a_line_no_darker_than_the_rings_beside_it_does_not_show():
    pixels = _wood(np.random.default_rng(2))
    pixels[::4] = pixels[::4] // 2
    assert _share_seen(pixels, 40) < 0.05


def test_another_crack_nearby_hides_no_crack():
    pixels = _wood(np.random.default_rng(3))
    pixels[40], pixels[50] = pixels[40] // 2, pixels[50] // 3
    assert _share_seen(pixels, 40) == 1
    assert _share_seen(pixels, 50) == 1


def test_a_stain_shows_where_it_differs_from_the_wood_round_it():
    pixels = _wood(np.random.default_rng(4))
    ring = np.array([[60.0, 30], [120, 30], [120, 50], [60, 50]])
    assert not patch_stands_out(pixels, ring)
    pixels[30:51, 60:121] = pixels[30:51, 60:121] // 10 * 9
    assert patch_stands_out(pixels, ring)
