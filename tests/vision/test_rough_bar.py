"""Bars as they are first seen: which of them are worth following, and which show nothing."""

import numpy as np
import pytest

from scanner.vision.rule import search
from scanner.vision.rule.rough_bar import rough_repeats, shows_nothing
from scanner.vision.rule.tick_signal import GROUPS
from scanner.vision.rule.tick_spectrum import NO_REPEATS, find_repeats
from scanner.vision.setup import RuleSize

SIZE = (240, 1000)
WIDE = 40
TOP = 100


def _bar(lines=(), seed=3):
    """Return a bright bar over all the picture's width, with lines 2 px thick at its edges."""
    random = np.random.default_rng(seed)
    grey = np.full(SIZE, 110.0)
    grey[TOP : TOP + WIDE] = 200.0
    for x, tall in lines:
        for rows in (slice(TOP, TOP + tall), slice(TOP + WIDE - tall, TOP + WIDE)):
            grey[rows, round(x) : round(x) + 2] = 70.0
    return np.clip(grey + random.normal(0, 4, SIZE), 0, 255).astype(np.uint8)


def _ends(low, high, off=0.0):
    middle = TOP + (WIDE - 1) / 2 + off
    return np.array([[low, middle], [high, middle]])


def _inches():
    return [(x, 14 if number % 4 == 0 else 8) for number, x in enumerate(np.arange(5.0, 990.0, 9))]


def test_graduations_show_along_half_a_rule_whose_edges_are_known_but_roughly():
    grey = _bar(_inches())
    for off, share in ((0.0, 1.0), (2.0, 0.95), (-2.0, 1.1)):
        assert not shows_nothing(grey, _ends(250.0, 700.0, off), share * WIDE)
        assert not shows_nothing(grey, _ends(250.0, 700.0, off)[::-1], share * WIDE)


def test_half_a_rule_shows_twice_what_bare_bars_and_lines_that_stand_anyhow_ever_do():
    random = np.random.default_rng(0)
    other = []
    for seed in range(3):
        anyhow = [(x, 12) for x in random.uniform(0, 990, 110)]
        other += [rough_repeats(_bar(of, seed), _ends(0.0, 999.0), WIDE) for of in ((), anyhow)]
    assert rough_repeats(_bar(_inches()), _ends(250.0, 700.0), WIDE) > 2 * max(other)
    assert shows_nothing(np.full(SIZE, 110, np.uint8), _ends(0.0, 999.0), WIDE)


def test_a_bar_too_short_for_graduations_shows_nothing():
    assert rough_repeats(_bar(_inches()), _ends(300.0, 318.0), 5.0) == 0.0


@pytest.mark.parametrize(("at_a_glance", "most"), [(False, 12), (True, 0)])
def test_of_bars_along_which_nothing_repeats_a_search_follows_a_dozen_and_a_glance_none(
    monkeypatch, at_a_glance, most
):
    grey = np.full((900, 900), 110, np.uint8)
    bars = [(np.array([20.0, y]), np.array([880.0, y]), 20.0) for y in np.arange(30.0, 870, 30)]
    followed = []
    monkeypatch.setattr(search, "bars_in", lambda *_: iter([[] if at_a_glance else bars]))
    monkeypatch.setattr(search, "clearest_bars", lambda *_: bars)
    monkeypatch.setattr(search, "follow_band", lambda *bar: followed.append(bar) or iter(()))
    size = RuleSize(914.4, 28.0)
    assert search.read_bars(grey, size, 1, None, at_a_glance=at_a_glance) == []
    assert len(followed) == most


def test_what_one_edge_tells_is_the_same_whether_the_other_is_left_out_or_bare():
    random = np.random.default_rng(2)
    groups = random.normal(0, 0.3, (2 * GROUPS, 700))
    groups[:GROUPS, 20::38] += 4.0
    # Too little to be anything, but no zeros.
    groups[GROUPS:] = np.tile(np.linspace(0, 1e-6, 700), (GROUPS, 1))
    bare = find_repeats(groups, 350.0)
    groups[GROUPS:] = 0.0
    alone = find_repeats(groups, 350.0)
    assert bare != NO_REPEATS
    assert (alone.count, alone.foreshortening) == (bare.count, bare.foreshortening)
    assert alone.evidence == pytest.approx(bare.evidence, rel=0.01)
    assert find_repeats(np.zeros((2 * GROUPS, 700)), 350.0) == NO_REPEATS
