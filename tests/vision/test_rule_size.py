"""Which rule lies there: drawn rules seen square on, told rightly and wrongly."""

from dataclasses import replace
from functools import cache

import cv2
import numpy as np
import pytest

from scanner.board.measured import Measured
from scanner.errors import PhotoError
from scanner.vision.rule.find import _against, _seen, find_rules
from scanner.vision.rule.follow_band import follow_band, straight_band
from scanner.vision.rule.read import LEAST_HALVING, PLAIN_HALVING
from scanner.vision.rule.search import read_bar
from scanner.vision.rule.size import judge, usual_rules
from scanner.vision.rule.step_map import StepMap
from scanner.vision.rule.tick_signal import GROUPS
from scanner.vision.rule.tick_spectrum import divided_on
from scanner.vision.rule.ticks import BELIEVED, _divided_as_graduated, read_ticks
from scanner.vision.setup import RuleSize, Setup
from tests.vision.drawn import rule_sheet

INCH = 25.4
YARD, METRE = 36 * INCH, 1000.0
# A usual photo shows a millimetre of the floor by 1.3 px.
SCALE = 1.3


def _flat(length_mm, step_mm, width_mm=28.0, cover=None):
    """Return a drawn rule on a speckled floor, and the ends of its middle line, px."""
    sheet, _ = rule_sheet(length_mm, width_mm, step_mm)
    size = (round(length_mm * SCALE), round(width_mm * SCALE))
    small = cv2.resize(cv2.GaussianBlur(sheet, (0, 0), 1.2), size, interpolation=cv2.INTER_AREA)
    random = np.random.default_rng(5)
    floor = cv2.GaussianBlur(random.normal(0, 40, (260, size[0] + 240)), (0, 0), 2) + 110
    floor[110 : 110 + size[1], 120 : 120 + size[0]] = small
    if cover is not None:
        low, high = (120 + round(share * size[0]) for share in cover)
        floor[:, low:high] = random.normal(70, 12, (260, high - low))
    picture = np.clip(floor + random.normal(0, 2.5, floor.shape), 0, 255).astype(np.uint8)
    middle = 110 + size[1] / 2 - 0.5
    return picture, (np.array([119.5, middle]), np.array([119.5 + size[0], middle]))


def _read(picture, ends):
    band = next(follow_band(picture, *ends, 28.0 * SCALE))
    ticks = read_ticks(picture, band)
    return band, ticks


@cache
def _read_as_drawn(length_mm, step_mm):
    """Return band and ticks of a rule that nothing covers."""
    return _read(*_flat(length_mm, step_mm))


def _find(picture, length_mm):
    setup = Setup(thickness=Measured(25.0, 1.0), rule=RuleSize(length_mm))
    return find_rules("drawn.jpg", picture, setup)


@pytest.mark.parametrize(("length", "step", "count"), [(YARD, INCH, 36), (METRE, 10.0, 100)])
def test_the_longest_lines_are_counted_and_not_halves_or_pairs_of_them(length, step, count):
    _, ticks = _read_as_drawn(length, step)
    assert ticks.repeats.evidence > BELIEVED
    assert ticks.repeats.count == pytest.approx(count, abs=0.4)
    # Every line where it was drawn, to a part of a pixel (blur and resizing are the rest).
    drawn = 119.5 + ticks.numbers * step * SCALE
    assert np.abs(ticks.pixels[:, 0] - drawn).max() < 0.5
    assert ticks.span == (1, count - 1)


def test_inches_are_told_from_centimetres_of_a_rule_told_in_the_other():
    band, ticks = _read_as_drawn(YARD, INCH)
    for told in (YARD, METRE):
        verdict = judge(ticks, band, RuleSize(told))
        assert verdict.reading.step_mm == INCH
        assert verdict.is_decisive
    assert not verdict.is_whole


def test_a_reading_twice_off_loses_by_far():
    band, ticks = _read_as_drawn(YARD, INCH)
    verdict = judge(ticks, band, RuleSize(YARD), focal_px=1270.0)
    assert verdict.reading.step_mm == INCH
    assert verdict.is_whole
    assert verdict.margin > 10.0


def test_inches_whose_halves_are_nearly_as_clear_are_no_half_inches_of_a_rule_half_as_long():
    # So a rule seen aslant was read that was told at half its length.
    band, ticks = _read_as_drawn(YARD, INCH)
    repeats = replace(ticks.repeats, evidence_twice=0.85 * ticks.repeats.evidence)
    verdict = judge(replace(ticks, repeats=repeats), band, RuleSize(YARD / 2))
    assert verdict.reading.step_mm == INCH
    assert verdict.disproves_told


@pytest.mark.slow
def test_a_told_width_that_says_otherwise_counts_against_a_reading():
    band, ticks = _read_as_drawn(YARD, INCH)
    right, wrong = (judge(ticks, band, RuleSize(YARD, width)) for width in (28.0, 70.0))
    assert right.reading.odds > wrong.reading.odds + 5.0


@pytest.mark.parametrize(
    ("there", "step", "told"), [(METRE, 10.0, YARD), (YARD, INCH, METRE), (24 * INCH, INCH, YARD)]
)
@pytest.mark.slow
def test_graduations_disprove_a_rule_told_wrongly(there, step, told):
    picture, _ = _flat(there, step)
    with pytest.raises(PhotoError, match=rf"fit {there:.0f} mm .*, not the told {told:.0f} mm"):
        _find(picture, told)


@pytest.mark.slow
def test_a_rule_half_told_is_never_read_at_half_its_steps():
    picture, _ = _flat(YARD, INCH)
    for told in (YARD / 2, YARD * 2):
        with pytest.raises(PhotoError, match=rf"(not|do not fit) the told {told:.0f} mm"):
            _find(picture, told)


@pytest.mark.slow
@pytest.mark.parametrize("cover", [(0.0, 0.2), (0.86, 1.0), (0.4, 0.55)])
def test_a_rule_partly_covered_keeps_its_scale(cover):
    picture, _ = _flat(YARD, INCH, cover=cover)
    ((seen,),) = _find(picture, YARD)
    steps = np.ptp(seen.pixels[:, 0]) / np.ptp(seen.points_mm[:, 0])
    assert steps == pytest.approx(SCALE, rel=0.004)


@pytest.mark.slow
def test_a_rule_of_which_much_is_hidden_says_that_its_length_is_not_confirmed():
    picture, _ = _flat(YARD, INCH, cover=(0.0, 0.3))
    ((seen,),) = _find(picture, YARD)
    assert any("does not confirm its length" in doubt for doubt in seen.doubts)


@pytest.mark.slow
@pytest.mark.parametrize("pitch_mm", [5.0, 12.7, 25.4])
def test_even_slats_and_teeth_are_no_rule(pitch_mm):
    picture, _ = _flat(YARD, INCH)
    low, high = 110, 110 + round(28 * SCALE)
    columns = np.arange(picture.shape[1])
    bright = 150 + 60 * np.sign(np.sin(2 * np.pi * columns / (pitch_mm * SCALE * 1.07)))
    picture[low:high, 120:-120] = bright[120:-120].astype(np.uint8)
    with pytest.raises(PhotoError):
        _find(picture, YARD)


@pytest.mark.slow
def test_light_lines_on_a_dark_rule_are_read():
    picture, ends = _flat(METRE, 10.0)
    low, high = 110, 110 + round(28 * SCALE)
    picture[low:high, 120:-120] = 255 - picture[low:high, 120:-120]
    _, ticks = _read(picture, ends)
    assert ticks.is_light
    assert ticks.are_longest
    steps = np.ptp(ticks.pixels[:, 0]) / np.ptp(ticks.numbers)
    assert steps == pytest.approx(10.0 * SCALE, rel=0.002)


@pytest.mark.slow
def test_zero_lies_at_the_rules_end_also_where_its_outline_ends_two_steps_before():
    picture, (start, stop) = _flat(YARD, INCH)
    cut = start + np.array([2 * INCH * SCALE, 0.0])
    bands = list(follow_band(picture, cut, stop, 28.0 * SCALE, fixed_ends=True))
    one = read_bar(picture, bands, RuleSize(YARD), None)
    marks = _seen(one, RuleSize(YARD))
    off = marks.pixels[:, 0] - (119.5 + SCALE * marks.points_mm[:, 0])
    assert np.abs(off).max() < 2.0


def test_usual_rules_are_named_by_their_steps():
    assert usual_rules(36.1, INCH) == [pytest.approx(YARD)]
    assert usual_rules(100.0, 10.0) == [1000.0]
    assert usual_rules(33.0, INCH) == []


def _of_lines(lines, halving, width_px):
    """Return a bar of so many lines, 24 px apart, so wide, and its lines divided so."""
    band, ticks = _read_as_drawn(YARD, INCH)
    stop = band.start + np.array([lines * 24.0, 0.0])
    half = np.array([0.0, width_px / 2])
    long = straight_band(np.array([band.start + half, band.start - half, stop - half, stop + half]))
    repeats = replace(ticks.repeats, halving=halving, tenths=0.0)
    numbers, steps = np.arange(lines), StepMap(1.0, (float(lines), 0.0))
    return long, replace(ticks, repeats=repeats, numbers=numbers, steps=steps)


@pytest.mark.parametrize(
    ("halving", "width_px", "may_be"), [(-2.5, 21.0, True), (1.9, 60.0, True), (4.0, 27.0, False)]
)
def test_the_told_length_alone_makes_no_inches_of_a_usual_rule_of_centimetres(
    halving, width_px, may_be
):
    # Sixty centimetres told as 1.5 m, which are 59 inches, passed for them.
    band, ticks = _of_lines(59, halving, width_px)
    verdict = judge(ticks, band, RuleSize(1500.0))
    assert verdict.reading.step_mm == INCH and verdict.is_whole
    assert verdict.may_be_other_unit == may_be


def test_lines_that_are_enough_for_a_told_rule_are_enough_for_a_usual_one_of_the_other_unit():
    # Thirty centimetres of which three lines were missed passed for the told thirty inches.
    band, ticks = _of_lines(27, -0.8, 60.0)
    verdict = judge(ticks, band, RuleSize(30 * INCH))
    assert verdict.reading.step_mm == INCH and verdict.is_whole
    assert verdict.may_be_other_unit
    assert not judge(*_of_lines(26, -0.8, 60.0)[::-1], RuleSize(26 * INCH)).may_be_other_unit


def _graduated(lower, upper):
    """Return 30 lines at the lower edge and those of them at the upper, and both edges' signal.

    ``lower`` and ``upper``: lines a step that each edge carries.
    """
    band, ticks = _of_lines(30, 0.0, 60.0)
    place = np.linspace(0.0, 30.0, 3001)
    edges = [np.abs((place * lines + 0.5) % 1 - 0.5) < 0.04 * lines for lines in (upper, lower)]
    rows = np.repeat(np.array(edges, dtype=float), GROUPS, axis=0)
    noise = np.random.default_rng(3).normal(0, 0.3, rows.shape)
    at_both = np.arange(30) if upper == lower else np.arange(4)
    numbers = np.concatenate([np.arange(30), at_both])
    heights = np.repeat([-0.4, 0.4], [30, len(at_both)])
    repeats = replace(ticks.repeats, count=30.0, foreshortening=1.0, halving=9.0)
    return band, replace(ticks, numbers=numbers, heights=heights, repeats=repeats), rows + noise


def test_another_units_lines_at_the_other_edge_do_not_divide_a_rules_steps():
    band, ticks, groups = _graduated(1, 8)
    both = divided_on(groups, band.length, ticks.repeats)
    own = _divided_as_graduated(ticks, groups, band).repeats
    assert both.halving > PLAIN_HALVING
    assert own.halving < LEAST_HALVING
    # Where both edges carry its lines either may say how they are divided.
    band, ticks, groups = _graduated(8, 8)
    assert _divided_as_graduated(ticks, groups, band) is ticks


def test_a_rule_that_seems_twice_as_long_as_told_may_have_been_counted_by_half_steps():
    what, mend = _against([12 * INCH], RuleSize(6 * INCH))
    assert what == "fit 305 mm (12.0 in), but only as half steps the told 152 mm (6.0 in)"
    assert "go nearer" in mend
    what, mend = _against([6 * INCH], RuleSize(12 * INCH))
    assert what == "fit 152 mm (6.0 in), not the told 305 mm (12.0 in)"
    assert mend == "give the true length of the rule"


def test_of_a_yard_no_usual_rule_of_centimetres_has_as_many_lines():
    band, ticks = _read_as_drawn(YARD, INCH)
    assert judge(ticks, band, RuleSize(YARD)).over_other_unit > 10.0
