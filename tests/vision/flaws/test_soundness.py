import numpy as np
import pytest

from scanner.vision.flaws.learned_maps import CHANNELS, ShareMaps
from scanner.vision.flaws.learned_regions import Region
from scanner.vision.flaws.soundness import (
    KNOT_MEASURES,
    knot_measures,
    loose_odds,
    sound_on_flat,
    sound_on_photo,
)

CLEAR = np.array([0.78, 0.64, 0.48], np.float32)
SHAPE = (100, 140)


def knot(middle, torn=0.0, seed=0):
    """Return a board's pixels with a knot of radius 18 px of a colour, torn by so much."""
    y, x = np.mgrid[: SHAPE[0], : SHAPE[1]]
    inside = np.hypot(x - 70, y - 50) < 18
    pixels = np.tile(CLEAR, (*SHAPE, 1))
    pixels[inside] = middle
    noise = np.random.default_rng(seed).standard_normal(SHAPE)
    pixels *= np.exp(np.where(inside, torn, 0.01) * noise)[..., None]
    rgb = np.clip(pixels * 255, 0, 255).astype(np.uint8)
    return rgb, Region(32, 52, inside[32:69, 52:89])


def measured(rgb, region, loose=0.5):
    values = np.zeros((len(CHANNELS), *SHAPE), np.float32)
    values[CHANNELS.index("loose")] = loose
    return np.array(knot_measures(rgb, CLEAR, region, ShareMaps(values)))


def of(measures, name):
    return measures[KNOT_MEASURES.index(name)]


def test_a_torn_black_knot_is_more_likely_loose_than_a_whole_brown_one():
    whole = measured(*knot((0.52, 0.36, 0.22)))
    torn = measured(*knot((0.20, 0.15, 0.11), torn=0.35))
    sound, loose = loose_odds(np.stack([whole, torn]))
    assert sound < 0.3 < 0.7 < loose


def test_the_networks_word_counts():
    rgb, region = knot((0.4, 0.28, 0.18), torn=0.1)
    odds = loose_odds(np.stack([measured(rgb, region, share) for share in (0.02, 0.5, 0.98)]))
    assert (np.diff(odds) > 0.1).all()


def test_a_scan_says_loose_or_nothing():
    whole = measured(*knot((0.52, 0.36, 0.22)), loose=0.02).tolist()
    torn = measured(*knot((0.20, 0.15, 0.11), torn=0.35), loose=0.95).tolist()
    assert (sound_on_flat(whole), sound_on_flat(torn)) == (True, False)
    assert (sound_on_photo(whole), sound_on_photo(torn)) == (None, False)


def test_figure_in_a_whole_knot_makes_it_loose_on_no_photo():
    figured = measured(*knot((0.52, 0.36, 0.22), torn=0.3), loose=0.01).tolist()
    assert sound_on_flat(figured) is False
    assert sound_on_photo(figured) is None


def test_a_black_knot_is_called_loose_where_the_network_is_in_doubt():
    doubt = [measured(*knot(colour), loose=0.5) for colour in ((0.03, 0.03, 0.03), (0.5, 0.4, 0.3))]
    assert [sound_on_photo(values.tolist()) for values in doubt] == [False, None]


def test_size_and_colour_are_told_against_the_clear_wood():
    whole = measured(*knot((0.52, 0.36, 0.22)))
    assert of(whole, "log_area") == pytest.approx(np.log(np.pi * 18**2), abs=0.02)
    assert of(whole, "browner_middle") > 0.5 > abs(of(whole, "browner_rim"))
    assert abs(of(whole, "light_around")) < 0.05


def test_a_knot_at_the_pictures_rim_is_measured():
    rgb, _ = knot((0.52, 0.36, 0.22))
    measures = measured(rgb, Region(0, 0, np.ones((6, 9), bool)))
    assert np.isfinite(measures).all()
