"""The strict scores of real wood, on faces small enough to count by hand."""

from shapely.geometry import Point, box

from tests.bench.wood_score import Candidate, Counts, Label, intervals, ratios
from tests.bench.wood_score import score_knots as knots
from tests.bench.wood_score import score_lines as lines

DISC = Point(50, 50).buffer(10)


def test_one_candidate_finds_one_knot_only():
    labels = [Label("knot_sound", DISC), Label("knot_loose", Point(50, 54).buffer(10))]
    counts = knots([Candidate("knot", Point(50, 52).buffer(10), True)], labels)
    assert counts.get("hit 0.3") == 1
    assert counts.get("false 0.3") == 0


def test_a_second_candidate_on_a_found_knot_is_false():
    twice = [Candidate("knot", DISC, True), Candidate("knot", Point(50, 51).buffer(10), True)]
    counts = knots(twice, [Label("knot_sound", DISC)])
    assert counts.get("hit 0.3") == 1
    assert counts.get("false 0.3") == 1


def test_a_centre_inside_is_not_enough():
    counts = knots([Candidate("knot", Point(50, 50).buffer(4))], [Label("knot_sound", DISC)])
    assert counts.get("hit 0.3") == 0


def test_what_lies_on_wood_left_out_is_not_false():
    counts = knots([Candidate("knot", DISC)], [Label("other", DISC.buffer(2))])
    assert counts.get("false 0.3") == 0


def test_a_label_known_by_its_box_is_compared_by_box():
    label = Label("knot_sound", box(40, 40, 60, 60), is_box=True)
    assert knots([Candidate("knot", DISC)], [label]).get("hit 0.5") == 1


def test_not_known_counts_as_not_sound():
    labels = [Label("knot_sound", DISC), Label("knot_loose", Point(150, 50).buffer(10))]
    found = [Candidate("knot", label.shape, None) for label in labels]
    assert ratios(knots(found, labels), 1.0)["sound against loose, balanced"] == 0.5


def test_lines_are_scored_by_length():
    label = Label("check", box(100, 50, 200, 51))
    found = [Candidate("check", box(150, 52, 250, 53))]
    counts = lines(found, [label], (400, 100))
    assert abs(counts.get("check covered") / counts.get("check labelled") - 0.53) < 0.02
    assert abs(counts.get("check false") - 47) < 1.5


def test_a_line_of_another_kind_counts_as_any_line_only():
    label = Label("resin", box(100, 50, 200, 51))
    figures = ratios(lines([Candidate("check", label.shape)], [label], (400, 100)), 1.0)
    assert figures["resin covered"] == 0
    assert figures["any covered"] == 1
    assert figures["any false mm/m"] == 0
    assert figures["check false mm/m"] > 95


def test_intervals_hold_the_figure_and_are_repeatable():
    boards = {
        name: (Counts({"labels": 10, "hit 0.3": hit, "false 0.3": 1}), 1.0)
        for name, hit in (("a", 9), ("b", 7), ("c", 10))
    }
    name = "any knot F1 at IoU 0.3"
    value, low, high = intervals(boards, draws=200)[name]
    assert low <= value <= high
    assert value == 2 * 26 / (26 + 3 + 30)
    assert intervals(boards, draws=200)[name] == (value, low, high)
