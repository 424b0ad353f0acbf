"""Where a rule's lines go on past the told length another rule lies there."""

from dataclasses import replace

import numpy as np
import pytest

from scanner.board.measured import Measured
from scanner.errors import PhotoError
from scanner.vision.rule import find
from scanner.vision.rule.beyond import are_drawn, goes_on, run_past_edge, within_ground
from scanner.vision.rule.follow_band import straight_band
from scanner.vision.rule.read import Read
from scanner.vision.rule.size import Reading, Verdict
from scanner.vision.rule.step_map import StepMap
from scanner.vision.rule.tick_signal import GROUPS
from scanner.vision.rule.tick_spectrum import NO_REPEATS
from scanner.vision.rule.ticks import Ticks, is_every_second_longer
from scanner.vision.setup import RuleSize, Setup

# A step is 20 px; the rule begins at x = 40 px, its middle line is at y = 60 px.
STEP_PX, ZERO_PX, MIDDLE_PX, WIDE_PX = 20, 40, 60, 30


def _picture(lines, ground=180, beyond_from=None):
    """Return a bar with lines from its upper edge, floor from a number on."""
    picture = np.full((120, 900), ground, np.uint8)
    if beyond_from is not None:
        picture[:, ZERO_PX + STEP_PX * beyond_from + 4 :] = 70
    for number in range(lines):
        x = ZERO_PX + STEP_PX * number
        picture[MIDDLE_PX - WIDE_PX // 2 : MIDDLE_PX, x - 1 : x + 2] //= 3
    return picture


def _ticks(lines, top=MIDDLE_PX - WIDE_PX // 2):
    """Return the band over so many steps, and its lines as read near the upper edge."""
    low, high = ZERO_PX, ZERO_PX + STEP_PX * lines
    bottom = MIDDLE_PX + WIDE_PX // 2
    band = straight_band(np.array([[low, bottom], [low, top], [high, top], [high, bottom]], float))
    numbers = np.arange(1, lines)
    shares = numbers / lines
    pixels = np.column_stack([low + shares * (high - low), np.full(len(shares), top + 5.0)])
    steps = StepMap(1.0, (float(lines), 0.0))
    heights = np.full(len(numbers), 0.3)
    return band, Ticks(
        NO_REPEATS, numbers, heights, shares, pixels, steps, 5.0, 0.0, 0.0, is_light=False
    )


@pytest.mark.parametrize(
    ("drawn", "is_longer"), [(15, False), (16, False), (17, False), (36, True)]
)
def test_three_lines_past_the_told_end_make_a_longer_rule_and_one_or_two_do_not(drawn, is_longer):
    band, ticks = _ticks(15)
    assert goes_on(_picture(drawn), band, ticks, 0, 15) == is_longer


def test_lines_of_the_floor_past_a_rules_end_are_not_its_own():
    band, ticks = _ticks(15)
    picture = _picture(36, beyond_from=15)
    assert not goes_on(picture, band, ticks, 0, 15)


def test_a_bar_that_stops_before_the_told_end_tells_nothing_of_it():
    band, ticks = _ticks(15)
    assert not goes_on(_picture(36), band, ticks, 0, 36)


def test_lines_that_go_on_before_the_first_one_count_as_well():
    band, ticks = _ticks(15)
    start, stop = (end + np.array([200.0, 0.0]) for end in (band.start, band.stop))
    moved = replace(band, start=start, stop=stop)
    assert goes_on(_picture(26), moved, ticks, 0, 15)


def test_where_the_told_rules_other_end_is_not_in_view_nothing_says_that_it_is_longer():
    band, ticks = _ticks(15)
    start, stop = (end + np.array([200.0, 0.0]) for end in (band.start, band.stop))
    moved = replace(band, start=start, stop=stop)
    assert not goes_on(_picture(26), moved, ticks, 0, 36)


def test_lines_missing_at_the_other_end_tell_of_an_outline_too_far_along_not_of_a_longer_rule():
    band, ticks = _ticks(15)
    start, stop = (end + np.array([200.0, 0.0]) for end in (band.start, band.stop))
    moved = replace(band, start=start, stop=stop)
    # The bar was begun at line 10: 16 lines are drawn, and none where the last ten are told.
    assert not goes_on(_picture(16), moved, ticks, 0, 15)


def _groups(tall):
    """Return signal groups in which line n of 24 is as tall as told, at every depth."""
    groups = np.random.default_rng(4).normal(0, 0.2, (2 * GROUPS, 24 * STEP_PX))
    for number in range(1, 24):
        groups[:, STEP_PX * number - 1 : STEP_PX * number + 2] += tall(number)
    return groups


@pytest.mark.parametrize(
    ("tall", "is_half"),
    [
        (lambda number: 3.0 if number % 2 == 0 else 1.8, True),
        (lambda number: 1.8 if number % 2 == 0 else 3.0, True),
        (lambda number: 3.0, False),
        # Every tenth and every twelfth line of a real rule is longer than the others.
        (lambda number: 3.0 if number % 10 == 0 else 1.8, False),
        (lambda number: 3.0 if number % 12 == 0 else 1.8, False),
    ],
)
def test_lines_of_which_every_second_one_is_longer_are_halves(tall, is_half):
    _, ticks = _ticks(24)
    assert is_every_second_longer(_groups(tall), ticks) == is_half


def test_steps_twice_as_large_are_counted_at_the_same_places():
    steps = StepMap(1.2, (24.0, 0.5))
    places = np.linspace(0, 1, 7)
    assert steps.halved().numbers(places) == pytest.approx(steps.numbers(places) / 2)


@pytest.mark.parametrize(("drawn", "is_longer"), [(16, False), (36, True)])
def test_a_rule_told_shorter_than_its_lines_go_is_refused(monkeypatch, drawn, is_longer):
    band, ticks = _ticks(15)
    repeats = replace(NO_REPEATS, count=15.0, evidence=800.0, tenths=2.0)
    reading, other = Reading(10.0, 10.0, 1.0, 0.0), Reading(25.4, 25.4, 0.5, -9.0)
    ends = ((band.start, band.stop),)
    told = Read(band, replace(ticks, repeats=repeats), Verdict(reading, other, 9.0), ends, 15.0)
    assert told.passes and told.is_settled
    monkeypatch.setattr(find, "read_bars", lambda *what, **how: [told])
    setup = Setup(thickness=Measured(25.0, 1.0), rule=RuleSize(150.0))
    if is_longer:
        with pytest.raises(PhotoError, match="go on beyond the told 150 mm"):
            find.find_rules("drawn.jpg", _picture(drawn), setup)
    else:
        ((seen,),) = find.find_rules("drawn.jpg", _picture(drawn), setup)
        assert seen.points_mm[:, 0].max() == pytest.approx(150.0, abs=5.0)


@pytest.mark.parametrize(("drawn", "are_lines"), [(22, True), (15, False)])
def test_lines_read_past_an_outline_count_where_they_are_drawn(drawn, are_lines):
    band, ticks = _ticks(22)
    random = np.random.default_rng(3)
    picture = _picture(drawn).astype(float) + random.normal(0, 12, (120, 900))
    assert are_drawn(picture.clip(0, 255).astype(np.uint8), band, ticks, (1, 14)) == are_lines


@pytest.mark.parametrize(("top_px", "goes_past"), [(45, False), (53, True)])
def test_lines_that_run_past_a_bars_edge_show_that_it_lies_within_a_rule(top_px, goes_past):
    # Drawn from the true edge at 45 px to 60; the other bar begins where shorter lines would end.
    band, ticks = _ticks(15, top=top_px)
    assert run_past_edge(_picture(15), band, ticks) == goes_past


@pytest.mark.parametrize("specks", [0, 3])
def test_specks_on_a_jaw_over_a_rules_end_are_none_of_its_lines(specks):
    picture = _picture(16)
    picture[:, ZERO_PX + STEP_PX * 15 + 10 :] = 20
    for number in range(16, 16 + specks):
        x = ZERO_PX + STEP_PX * number
        picture[MIDDLE_PX - 12 : MIDDLE_PX, x - 1 : x + 2] = 0
    band, ticks = _ticks(20)
    ticks = ticks.between(0, 15 + specks)
    assert within_ground(picture, band, ticks).span == (1, 15)


def test_all_lines_on_a_rules_own_ground_stay_in_light_and_half_shade():
    picture = _picture(21)
    picture[:, ZERO_PX + STEP_PX * 12 + 10 :] = picture[:, ZERO_PX + STEP_PX * 12 + 10 :] * 0.8
    band, ticks = _ticks(20)
    assert within_ground(picture, band, ticks).span == (1, 19)
