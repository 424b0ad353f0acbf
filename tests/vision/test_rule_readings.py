"""Readings of one rule that disagree with each other."""

from dataclasses import replace

import numpy as np
import pytest

from scanner.board.measured import Measured
from scanner.errors import PhotoError
from scanner.vision.rule import find, search, ticks
from scanner.vision.rule.find import _undisputed
from scanner.vision.rule.follow_band import straight_band
from scanner.vision.rule.read import Read, is_outshone
from scanner.vision.rule.size import Reading, Verdict, _seen_share
from scanner.vision.rule.step_map import StepMap
from scanner.vision.rule.tick_signal import TickSignal
from scanner.vision.rule.tick_spectrum import NO_REPEATS, _longest_lines
from scanner.vision.rule.ticks import Ticks
from scanner.vision.setup import RuleSize, Setup


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


def test_fewer_lines_that_are_plainly_halved_contradict_many_that_are_only_even():
    # One edge's centimetres made sixty inches, while the whole rule showed its two feet.
    two_feet = _read(200.0, 24, 25.4, 800.0)
    sixty = _read(205.0, 60, 25.4, 600.0)
    assert sixty.passes
    assert _undisputed([sixty, two_feet]) == [two_feet]
    assert sixty in _undisputed([sixty, _divided(two_feet, 0.8, 0.0)])
    # What only a part of the width shows contradicts nothing that the whole of it does.
    narrow = replace(two_feet.band, upper=two_feet.band.upper / 2, lower=two_feet.band.lower / 2)
    assert sixty in _undisputed([sixty, replace(two_feet, band=narrow)])


def test_double_centimetres_between_eight_lines_are_not_the_inches_of_twenty_centimetres():
    # Eight steps end nearer to eight than to the 7.87 inches of 20 cm.
    seen = _divided(replace(_read(200.0, 8, 25.4, 900.0), steps=200 / 25.4), 2.4, -0.6)
    lines = replace(seen.ticks, numbers=seen.ticks.numbers[1:-1])
    eight = replace(seen, ticks=lines)
    assert not eight.is_as_told and not eight.passes
    cut = eight.band.centre(200 / 25.4 / 8)
    assert replace(eight, ends=((eight.band.start, cut),)).is_as_told


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
    assert inches.passes
    # Twelve centimetres, and a drawing scale of which every second line is longer too.
    for halving, tenths in ((-0.4, 1.95), (1.29, 2.86)):
        in_ten = replace(inches.ticks.repeats, halving=halving, tenths=tenths)
        ticks = replace(inches.ticks, repeats=in_ten)
        assert not replace(inches, ticks=ticks).passes
        assert replace(centimetres, ticks=ticks).passes
    halved = replace(inches.ticks.repeats, halving=3.0, tenths=1.6)
    assert replace(inches, ticks=replace(inches.ticks, repeats=halved)).passes


def _divided(one, halving, tenths):
    repeats = replace(one.ticks.repeats, halving=halving, tenths=tenths)
    return replace(one, ticks=replace(one.ticks, repeats=repeats))


def test_inches_are_told_by_halving_and_centimetres_by_ten_where_tenths_can_be_parted():
    inches, centimetres = _read(200.0, 12, 25.4, 800.0), _read(200.0, 12, 10.0, 800.0)
    assert _divided(inches, 1.4, 0.6).is_divided
    # Fifteen inches of a yard passed for fifteen centimetres.
    assert not _divided(centimetres, 1.4, 0.6).is_divided
    assert _divided(centimetres, 1.4, 1.6).is_divided
    # From so far off that tenths cannot be parted they are measured as 0.
    assert _divided(centimetres, 1.4, 0.0).is_divided


@pytest.mark.parametrize(
    ("told_steps", "evidence", "halving", "passes"),
    [
        (36.0, 1200.0, 1.0, True),
        # A metre is no number of inches, and few faint dots may be anything.
        (39.37, 1200.0, 1.3, False),
        (36.0, 380.0, 1.0, False),
        (39.37, 1200.0, 2.5, True),
        (36.0, 380.0, 2.5, True),
    ],
)
def test_what_is_hidden_of_a_rule_is_supposed_only_where_its_steps_make_it_up(
    told_steps, evidence, halving, passes
):
    seen = _divided(_read(200.0, 24, 25.4, evidence), halving, 0.0)
    reading = replace(seen.verdict.reading, seen=0.67)
    hidden = replace(seen, verdict=replace(seen.verdict, reading=reading), steps=told_steps)
    assert not hidden.is_as_told
    assert hidden.passes == passes


def test_a_bar_that_is_a_whole_rule_of_20_cm_is_no_part_of_a_yard():
    # A real one of 20 cm, small and blurred, made 20 inches of the told 36.
    seen = _divided(_read(200.0, 20, 25.4, 760.0), 0.8, -1.0)
    lines = replace(seen.ticks, numbers=seen.ticks.numbers[1:-1])
    reading = replace(seen.verdict.reading, seen=0.6)
    verdict = replace(seen.verdict, reading=reading)
    yard = replace(seen, ticks=lines, verdict=verdict, steps=36.0)
    assert not yard.passes
    # 21 of anything are no usual rule.
    cut = replace(yard, ends=((yard.band.start, yard.band.centre(1.05)),))
    assert cut.passes


def test_few_inches_are_no_centimetres_but_where_they_are_plainly_halved():
    # Eight steps of a drawing scale made the told 20 cm, which are 7.87 inches.
    seen = replace(_divided(_read(200.0, 8, 25.4, 690.0), 1.35, 0.85), steps=200 / 25.4)
    assert seen.is_counted and not seen.passes
    assert _divided(seen, 3.8, -0.4).passes
    assert replace(seen, steps=8.0).passes


def test_steps_that_one_outline_shows_in_ten_are_no_inches_by_another_outline():
    inches, same = _read(200.0, 20, 25.4, 550.0), _read(215.0, 20, 25.4, 500.0)
    in_ten = _divided(same, -0.5, 5.7)
    assert _undisputed([inches, same]) == [inches, same]
    assert _undisputed([inches, in_ten]) == []
    elsewhere = _divided(_read(900.0, 20, 25.4, 500.0), -0.5, 5.7)
    assert _undisputed([inches, elsewhere]) == [inches]


def _undivided(one):
    even = replace(one.ticks.repeats, halving=0.0, tenths=0.0)
    return replace(one, ticks=replace(one.ticks, repeats=even))


def test_even_marks_that_no_eye_could_part_any_finer_are_no_rule():
    # A crack of 39 specks, 3 mm a pixel, that came out at the told metre.
    far = _read(200.0, 39, 25.4, 228.0, long_px=361.0)
    assert far.passes and not _undivided(far).passes
    assert _undivided(_read(200.0, 39, 25.4, 228.0, long_px=722.0)).passes


def test_a_search_goes_on_past_faint_even_lines():
    faint, clear = (_undivided(_read(200.0, 90, 10.0, evidence)) for evidence in (300.0, 450.0))
    assert faint.passes and not faint.is_settled
    assert clear.is_settled


YARD = RuleSize(914.4, 28.0, 1.0)


@pytest.fixture
def outlines(monkeypatch):
    """Return a function that says what reading each outline of a bar shall give."""

    def give(*reads):
        of = {id(one.band): one for one in reads}
        monkeypatch.setattr(search, "judged", lambda grey, band, *told: of[id(band)])
        return [one.band for one in reads]

    return give


def test_lines_that_end_with_the_told_rule_are_not_taken_from_an_outline_that_runs_on(outlines):
    as_far_as_seen = replace(_read(200.0, 35, 25.4, 700.0), steps=36.0)
    over_the_floor = replace(_read(200.0, 47, 25.4, 700.0, long_px=1075.0), steps=36.0)
    assert as_far_as_seen.passes and over_the_floor.is_too_long
    bands = outlines(as_far_as_seen, over_the_floor)
    assert search.read_bar(np.zeros((9, 9), np.uint8), bands, YARD, None) is as_far_as_seen
    bands = outlines(over_the_floor, as_far_as_seen)
    assert search.read_bar(np.zeros((9, 9), np.uint8), bands, YARD, None) is as_far_as_seen


def test_an_outline_as_long_as_told_is_taken_before_a_shorter_one_with_more_lines(outlines):
    told = _read(200.0, 36, 25.4, 400.0)
    short = replace(_read(200.0, 30, 25.4, 500.0, long_px=670.0), steps=36.0)
    twice = np.tile(short.ticks.numbers, 2)
    partly = replace(short.verdict, reading=replace(short.verdict.reading, seen=0.8))
    short = replace(short, ticks=replace(short.ticks, numbers=twice), verdict=partly)
    bands = outlines(short, told)
    assert search.read_bar(np.zeros((9, 9), np.uint8), bands, YARD, None) is told


@pytest.mark.parametrize(
    ("evidence", "steps", "believed"), [(203, 36, 0), (290, 36, 1), (290, 35, 0)]
)
def test_a_bar_for_which_nothing_quick_speaks_needs_clear_lines_and_its_own_ends(
    outlines, evidence, steps, believed
):
    one = replace(_read(200.0, steps, 25.4, float(evidence)), steps=36.0)
    bands = outlines(one)
    assert len(search._read_shaped(np.zeros((9, 9), np.uint8), [bands], YARD, None)) == believed


def test_an_outline_whose_edges_cross_past_a_gap_is_no_rule():
    upright = np.array([[0.0, 40.0], [0.0, 0.0], [600.0, 0.0], [600.0, 40.0]])
    bar = straight_band(upright)
    assert search.is_slender(bar)
    assert not search.is_slender(replace(bar, upper=bar.lower, lower=bar.upper))
    assert not search.is_slender(straight_band(upright * (0.15, 1.0)))


def test_all_lines_of_the_told_rule_are_not_given_up_for_more_that_cannot_be_it(outlines):
    told = replace(_read(200.0, 35, 25.4, 500.0), steps=36.0)
    small = replace(_read(200.0, 68, 10.0, 400.0), steps=91.4)
    even = replace(small.ticks.repeats, halving=0.0)
    partly = replace(small.verdict, reading=replace(small.verdict.reading, seen=0.75))
    small = replace(small, ticks=replace(small.ticks, repeats=even), verdict=partly)
    assert told.is_settled and not told.is_as_told and not small.passes
    for bands in (outlines(told, small), outlines(small, told)):
        assert search.read_bar(np.zeros((9, 9), np.uint8), bands, YARD, None) is told


def _outline(start_px, stop_px):
    """Return an outline of a bar across the picture, 20 px a step."""
    return _read(200.0, round((stop_px - start_px) / 20), 25.4, 500.0, start_px, stop_px - start_px)


@pytest.mark.parametrize(("stop_px", "is_found"), [(820.0, True), (700.0, False)])
def test_a_rule_begins_with_one_outline_and_ends_with_another_where_its_steps_say_so(
    monkeypatch, stop_px, is_found
):
    # The one runs on over the floor before the rule's start, the other stops amid the rule.
    runs_on, short = _outline(60.0, stop_px), _outline(100.0, 500.0)
    more = replace(runs_on.verdict, reading=replace(runs_on.verdict.reading, seen=1.03))
    fewer = replace(short.verdict, reading=replace(short.verdict.reading, seen=0.6))
    known = {
        760.0: replace(runs_on, steps=36.0, verdict=more),
        400.0: replace(short, steps=36.0, verdict=fewer),
    }
    whole = _outline(100.0, 820.0)

    def judged(grey, band, *told):
        length = round(band.length)
        return known.get(length, whole if length == 720 else known[400.0])

    monkeypatch.setattr(search, "judged", judged)
    known[round(runs_on.band.length)] = known[760.0]
    bands = [short.band, runs_on.band]
    read = search.read_bar(np.zeros((9, 9), np.uint8), bands, YARD, None)
    assert (read is whole) == is_found


def test_a_reading_that_ran_on_over_the_floor_hides_no_bar_along_it():
    read = _read(200.0, 36, 25.4, 500.0)
    ends = np.array([[300.0, 200.0], [700.0, 200.0]])
    assert search._is_read(ends, [read])
    assert not search._is_read(ends, [replace(read, steps=24.0)])


def test_a_bar_that_shows_at_half_size_is_looked_at_once(monkeypatch):
    ends = np.array([100.0, 200.0]), np.array([900.0, 200.0])
    monkeypatch.setattr(search, "bars_in", lambda *told: iter([[(*ends, 30.0)], [(*ends, 30.0)]]))
    monkeypatch.setattr(search, "follow_band", lambda *told: iter([_outline(100.0, 900.0).band]))
    monkeypatch.setattr(search, "quick_evidence", lambda *told: 0.0)
    grey = np.zeros((300, 1000), np.uint8)
    assert len(list(search._bars_seen(grey, YARD, [], []))) == 1


# Half inches of a rule seen aslant that explain 0.85 of what its inches explain; a tenth of lines
# that drown, where their own half does not lead.
@pytest.mark.parametrize(
    ("peaks", "longest"),
    [
        ({36.0: 492.0, 72.0: 420.0}, 36.0),
        ({10.0: 393.0, 27.5: 328.0, 55.0: 340.0}, 55.0),
        ({18.0: 495.0, 36.0: 500.0, 72.0: 300.0}, 36.0),
    ],
)
def test_the_longest_lines_are_the_most_that_explain_what_is_seen(peaks, longest):
    counts = np.arange(5.0, 100.0, 1 / 16)
    of_count = np.zeros(len(counts))
    for count, evidence in peaks.items():
        of_count[counts == count] = evidence
    assert counts[_longest_lines(counts, of_count)] == longest


def test_half_a_count_of_small_steps_yields_to_clear_graduations_of_another_length(monkeypatch):
    clear = replace(_read(200.0, 39, 25.4, 885.0), steps=24.0)
    told_fewer = replace(clear.verdict.reading, seen=1.6, odds=-50.0)
    more = replace(clear.verdict, reading=told_fewer)
    clear = replace(clear, verdict=more)
    half = replace(_read(700.0, 33, 10.0, 337.0), steps=61.0)
    partly = replace(half.verdict, reading=replace(half.verdict.reading, seen=0.55))
    half = replace(half, verdict=partly)
    even = _undivided(replace(half, verdict=CENTIMETRES.verdict))
    assert half.passes and not half.is_confirmed and clear.ticks.is_filled
    assert even.passes and even.is_confirmed
    setup = Setup(Measured(25.0, 1.0), RuleSize(609.6))
    picture = np.zeros((9, 9), np.uint8)
    for read in ([half, clear], [clear, half], [even, clear]):
        monkeypatch.setattr(find, "read_bars", lambda *told, read=read, **how: read)
        with pytest.raises(PhotoError, match=r"do not fit the told 610 mm"):
            find.find_rules("photo.jpg", picture, setup)


def _few(first, last, low, high, told):
    """Return a bar from number ``low`` to ``high``, all its lines from ``first`` to ``last`` read.

    Whether they are all that the told rule has says their number, as `judge` counts it.
    """
    one = _read(200.0, 20, 25.4, 601.0)
    numbers = np.arange(first, last + 1)
    steps = StepMap(1.0, (high - low, low))
    ticks = replace(one.ticks, numbers=numbers, shares=(numbers - low) / (high - low), steps=steps)
    seen = _seen_share(len(numbers), told)
    verdict = replace(one.verdict, reading=replace(one.verdict.reading, seen=seen))
    return replace(one, ticks=ticks, verdict=verdict, steps=told)


# A drawing scale of 14 steps along a real rule's edge made the told twelve inches: 13 lines.
@pytest.mark.parametrize(
    ("first", "last", "low", "high", "is_counted"),
    [
        (1, 13, 0.06, 13.96, False),
        (1, 11, 0.0, 12.0, True),
        (1, 10, 0.0, 11.0, False),
        (0, 12, -0.3, 12.4, True),
        (0, 12, -0.9, 12.3, False),
        (0, 12, -0.3, 13.1, False),
    ],
)
def test_few_lines_make_the_told_rule_only_where_its_ends_bear_them_out(
    first, last, low, high, is_counted
):
    one = _few(first, last, low, high, 12.0)
    assert one.verdict.is_whole and one.is_divided
    assert (one.passes, one.is_confirmed) == (is_counted, is_counted)


def test_of_many_steps_the_number_of_lines_is_enough():
    one = _few(1, 34, -0.5, 36.9, 36.0)
    assert not one.is_as_told and one.is_counted and one.passes


# Even specks that made the told ten inches at 1 mm a pixel, beside a rule of eight at 0.25.
@pytest.mark.parametrize(("clear_px", "is_refused"), [(800.0, True), (203.0, False)])
def test_faint_even_lines_yield_to_clear_graduations_at_another_scale(
    monkeypatch, clear_px, is_refused
):
    specks = replace(_undivided(_read(700.0, 25, 10.0, 221.0, long_px=250.0)), steps=25.4)
    rule = replace(_read(200.0, 8, 25.4, 636.0, long_px=clear_px), steps=10.0)
    assert specks.passes and specks.is_confirmed and not rule.passes
    setup = Setup(Measured(25.0, 1.0), RuleSize(254.0))
    monkeypatch.setattr(find, "read_bars", lambda *told, **how: [specks, rule])
    if is_refused:
        with pytest.raises(PhotoError, match="clearest graduations in photo"):
            find.find_rules("photo.jpg", np.zeros((9, 9), np.uint8), setup)
    else:
        assert len(find.find_rules("photo.jpg", np.zeros((9, 9), np.uint8), setup)) == 1


@pytest.mark.parametrize(("evidence", "steps", "stays"), [(244, 6, 0), (560, 6, 1), (244, 36, 1)])
def test_few_faint_lines_yield_to_clear_graduations_though_their_ends_bear_them_out(
    evidence, steps, stays
):
    faint = replace(_read(700.0, steps, 25.4, float(evidence), long_px=160.0), steps=float(steps))
    clear = replace(_read(200.0, 17, 10.0, 671.0), steps=15.0)
    assert faint.passes and faint.is_confirmed and faint.is_divided and not clear.passes
    assert is_outshone(faint, [faint, clear]) != stays


def _offered(monkeypatch, evidence, bar):
    """Let a bar be the first of forty that a search sees; return the numbers of those looked at."""
    looked = []

    def seen(*told):
        for number in range(40):
            looked.append(number)
            yield (evidence, bar) if number == 0 else (0.0, None)

    monkeypatch.setattr(search, "_bars_seen", seen)
    monkeypatch.setattr(search, "full_evidence", lambda *told: 0.0)
    return looked


def test_bars_of_the_told_shape_are_read_before_very_many_others_are_looked_at(monkeypatch):
    told = replace(_read(200.0, 36, 25.4, 500.0), steps=36.0)
    looked = _offered(monkeypatch, 0.0, search._Bar(told.band, iter(())))
    monkeypatch.setattr(search, "judged", lambda *what: told)
    assert search.read_bars(np.zeros((9, 9), np.uint8), YARD, 1, None) == [told]
    assert len(looked) == 12


@pytest.mark.parametrize("at_a_glance", [True, False])
def test_a_glance_is_content_with_an_outline_that_settles_a_rule(monkeypatch, at_a_glance):
    first = replace(_read(200.0, 35, 25.4, 700.0), steps=36.0)
    careful = replace(_read(200.0, 36, 25.4, 700.0), steps=36.0)
    assert first.is_settled and not first.is_as_told
    looked = _offered(monkeypatch, 300.0, search._Bar(first.band, iter([careful.band])))
    monkeypatch.setattr(search, "judged", lambda *what: first)
    monkeypatch.setattr(search, "read_bar", lambda *what: careful)
    grey = np.zeros((9, 9), np.uint8)
    read = search.read_bars(grey, YARD, 1, None, at_a_glance=at_a_glance)
    assert read == [first if at_a_glance else careful]
    assert len(looked) == 1


def test_a_search_goes_on_past_a_settled_bar_that_clearer_lines_contradict():
    faint = replace(_read(700.0, 20, 10.0, 254.0, long_px=400.0), steps=20.0)
    clear = replace(_read(200.0, 11, 10.0, 656.0, long_px=400.0), steps=16.0)
    assert faint.is_settled and not clear.passes
    assert search._settled([faint]) == 1
    assert search._settled([faint, clear]) == 0
    ends = np.array([faint.band.start, faint.band.stop])
    assert search._is_read(ends, [faint])
    assert not search._is_read(ends, [faint, clear])


def test_half_inches_counted_for_being_longer_than_quarters_are_no_inches():
    # All twelve half inches of a rule of six made the told twelve inches, or eight of them.
    twelve = _divided(_read(200.0, 12, 25.4, 700.0), 1.0, -0.1)
    repeats = replace(twelve.ticks.repeats, is_of_every_second=True)
    halves = replace(twelve, ticks=replace(twelve.ticks, repeats=repeats))
    reading = replace(twelve.verdict.reading, seen=0.73)
    hidden = replace(twelve.verdict, reading=reading)
    assert twelve.passes and replace(twelve, verdict=hidden).passes
    assert not halves.passes and not replace(halves, verdict=hidden).passes
    assert _divided(halves, 3.0, -0.1).passes


def test_clear_lines_of_the_same_rule_bear_out_a_fainter_reading_of_it():
    # Keys beside a real rule of 20 cm were clearer than one of its two readings.
    keys = _read(700.0, 11, 25.4, 900.0)
    faint = replace(CENTIMETRES, ticks=_evident(CENTIMETRES, 260.0))
    edge = _read(190.0, 20, 10.0, 870.0, start_px=110.0, long_px=790.0)
    assert is_outshone(faint, [faint, keys])
    assert not is_outshone(faint, [faint, keys, edge])
    other_scale = _read(190.0, 25, 10.0, 870.0)
    assert is_outshone(faint, [faint, keys, other_scale])
    shorter_lines = replace(edge, ticks=replace(edge.ticks, lead=0.0))
    assert is_outshone(faint, [faint, keys, shorter_lines])


def _evident(one, evidence):
    return replace(one.ticks, repeats=replace(one.ticks.repeats, evidence=evidence))


@pytest.mark.parametrize(("start_px", "told_mm"), [(100.0, 200.0), (0.0, 200.0), (0.0, 100.0)])
def test_a_rule_cut_by_the_pictures_border_is_not_said_to_be_shorter_than_told(start_px, told_mm):
    seen = _read(200.0, 15, 10.0, 900.0, start_px=start_px)
    seen = replace(seen, ticks=seen.ticks.between(1, 14))
    grey, told = np.zeros((400, 1000), np.uint8), RuleSize(told_mm)
    if start_px < 50 and told_mm > 150:
        find._refuse_other_size("cut.jpg", grey, [seen], told)
        return
    with pytest.raises(PhotoError, match="fit 150 mm"):
        find._refuse_other_size("cut.jpg", grey, [seen], told)


def test_a_glance_is_not_content_with_lines_that_go_on_past_an_edge_of_their_bar(monkeypatch):
    told = replace(_read(200.0, 36, 25.4, 500.0), steps=36.0)
    bar = (told.band.start, told.band.stop, 30.0)
    monkeypatch.setattr(search, "clearest_bars", lambda *what: [bar])
    monkeypatch.setattr(search, "shows_nothing", lambda *what: False)
    monkeypatch.setattr(search, "follow_band", lambda *what: iter([told.band]))
    monkeypatch.setattr(search, "quick_evidence", lambda *what: 200.0)
    monkeypatch.setattr(search, "judged", lambda *what: told)
    grey = np.zeros((300, 500), np.uint8)
    for goes_past, seen in ((False, told), (True, None)):
        monkeypatch.setattr(search, "run_past_edge", lambda *what, past=goes_past: past)
        assert search._plain_one(grey, YARD, None) is seen


@pytest.mark.parametrize(("slant", "looks"), [(0.0, 2), (3.0, 4)])
def test_a_bar_seen_straight_across_is_not_counted_twice(monkeypatch, slant, looks):
    counted = []
    signal = TickSignal(np.zeros((24, 800)), slant, 0.0)
    monkeypatch.setattr(ticks, "tick_signal", lambda *what, slanted: signal)
    monkeypatch.setattr(ticks, "_counted", lambda *what, is_light: counted.append(is_light))
    assert ticks.read_ticks(np.zeros((9, 9), np.uint8), CENTIMETRES.band) is None
    assert counted == [False, True] * (looks // 2)


@pytest.mark.parametrize(("last", "is_read"), [(3, False), (19, True)])
def test_smaller_steps_than_first_counted_are_believed_only_all_along_the_bar(
    monkeypatch, last, is_read
):
    # Half inches of a rule in grass, seen along a seventh of it, hid its inches.
    slow = replace(NO_REPEATS, count=5.0, evidence=300.0)
    finer = CENTIMETRES.ticks.between(1, last)
    monkeypatch.setattr(ticks, "find_repeats", lambda *what: slow)
    answers = iter([None, finer])
    monkeypatch.setattr(ticks, "_of_count", lambda *what, is_light: next(answers))
    monkeypatch.setattr(ticks, "_divided_as_graduated", lambda one, *what: one)
    signal = TickSignal(np.zeros((24, 800)), 0.0, 0.0)
    assert ticks._counted(signal, CENTIMETRES.band, is_light=False) is (finer if is_read else None)
