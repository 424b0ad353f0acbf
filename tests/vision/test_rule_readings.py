"""Readings of one rule that disagree with each other."""

from dataclasses import replace

import numpy as np
import pytest

from scanner.vision.rule.find import _undisputed
from scanner.vision.rule.follow_band import straight_band
from scanner.vision.rule.read import Read
from scanner.vision.rule.size import Reading, Verdict
from scanner.vision.rule.step_map import StepMap
from scanner.vision.rule.tick_spectrum import NO_REPEATS
from scanner.vision.rule.ticks import Ticks


def _read(y_px, steps, step_mm, evidence, start_px=100.0, long_px=800.0):
    """Return a bar across the picture with even lines, whole and decisive."""
    stop_px = start_px + long_px
    band = straight_band(
        np.array(
            [
                [start_px, y_px + 15],
                [start_px, y_px - 15],
                [stop_px, y_px - 15],
                [stop_px, y_px + 15],
            ]
        )
    )
    numbers = np.arange(steps + 1)
    shares = numbers / steps
    repeats = replace(NO_REPEATS, count=float(steps), evidence=evidence, halving=2.0)
    pixels = np.column_stack([start_px + shares * long_px, np.full(len(shares), y_px)])
    ticks = Ticks(
        repeats,
        numbers,
        np.zeros(len(shares)),
        shares,
        pixels,
        StepMap(1.0, (float(steps), 0.0)),
        5.0,
        0.0,
        0.0,
        is_light=False,
    )
    reading = Reading(step_mm, step_mm, 1.0, 0.0)
    verdict = Verdict(reading, Reading(step_mm / 2, step_mm, 0.5, -9.0), 9.0)
    return Read(band, ticks, verdict, ((band.start, band.stop),), float(steps))


# A rule of 20 cm seen 800 px long; its other edge carries a drawing scale of 8 long steps that
# pass for inches of which eight make 8 in, though they fill 133 mm alone.
CENTIMETRES = _read(200.0, 20, 10.0, 800.0)
SCALE = _read(320.0, 8, 25.4, 600.0, long_px=533.0)


def test_a_reading_is_dropped_where_a_clearer_one_of_the_same_thing_gives_another_scale():
    assert SCALE.passes and CENTIMETRES.passes
    assert _undisputed([SCALE, CENTIMETRES]) == [CENTIMETRES]


def test_inches_and_centimetres_of_one_rule_agree():
    inches = _read(320.0, 8, 25.4, 600.0, long_px=8 * 25.4 * 4)
    assert not inches.disagrees_with(CENTIMETRES)
    assert _undisputed([inches, CENTIMETRES]) == [inches, CENTIMETRES]


@pytest.mark.parametrize("away_px", [900.0, -600.0])
def test_another_thing_further_off_contradicts_nothing(away_px):
    other = _read(200.0 + away_px, 8, 25.4, 600.0, long_px=533.0)
    assert _undisputed([other, CENTIMETRES]) == [other, CENTIMETRES]


def test_a_weaker_reading_contradicts_nothing():
    weak = replace(CENTIMETRES, ticks=replace(CENTIMETRES.ticks, repeats=SCALE.ticks.repeats))
    strong = replace(SCALE, ticks=replace(SCALE.ticks, repeats=CENTIMETRES.ticks.repeats))
    assert strong in _undisputed([strong, weak])


def test_steps_divided_in_ten_are_no_inches_however_well_their_number_fits():
    inches, centimetres = _read(200.0, 12, 25.4, 800.0), _read(200.0, 12, 10.0, 800.0)
    in_ten = replace(inches.ticks.repeats, halving=-0.4, tenths=1.95)
    ticks = replace(inches.ticks, repeats=in_ten)
    assert inches.passes
    assert not replace(inches, ticks=ticks).passes
    assert replace(centimetres, ticks=ticks).passes
