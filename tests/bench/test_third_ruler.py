"""How faces of the third renderer are scored: what counts as found, and what as false."""

import sys

import pytest
from shapely.geometry import Polygon, box

from scanner.board.flaw import Flaw, FlawKind
from scanner.vision.training.faces import LINE_FILE
from tests.bench import learn_third
from tests.bench.flaws_third import Score, TrueFlaw, covered


def _crack(x0: float, x1: float, y: float, opening: float = 0.5) -> Polygon:
    steps = [x0 + (x1 - x0) * n / 20 for n in range(21)]
    return Polygon([(x, y) for x in steps] + [(x, y + opening) for x in reversed(steps)])


def _true(shape: Polygon, kind: str = "check", opening: float = 0.5, faint: bool = False):
    return TrueFlaw(kind, "surface", shape, opening, faint)


def _found(shape: Polygon, kind: FlawKind = FlawKind.CHECK) -> Flaw:
    return Flaw("F1", kind, {1: shape})


def test_a_crack_is_covered_as_far_as_a_found_line_runs_along_it():
    true = _crack(0, 100, 50)
    assert covered(true, [_crack(-5, 105, 51)]) > 0.99
    assert abs(covered(true, [_crack(0, 50, 50)]) - 0.5) < 0.06
    assert covered(true, [_crack(0, 100, 56)]) == 0
    assert covered(true, []) == 0


def test_short_thin_and_unseen_cracks_are_not_asked_for():
    score = Score()
    asked = [
        _true(_crack(0, 15, 10)),
        _true(_crack(0, 60, 20), opening=0.2),
        _true(_crack(0, 60, 30), faint=True),
    ]
    score.add(asked, ())
    assert not score.hits
    score.add([_true(_crack(0, 60, 40))], ())
    assert score.hits["checks and splits over 20 mm that open 0.3 mm"] == [0, 1]


def test_a_line_beside_every_crack_is_false_and_one_on_an_unseen_crack_is_not():
    score = Score()
    truths = [_true(_crack(0, 60, 30), faint=True)]
    score.add(truths, (_found(_crack(0, 60, 30)), _found(_crack(0, 60, 45))))
    assert score.false == [1]
    assert score.kinds == {"check": 1}


def test_a_knot_is_found_where_a_spot_overlaps_it_enough():
    score = Score()
    knot = box(0, 0, 10, 10)
    score.add([_true(knot, "knot")], (_found(box(2, 0, 12, 10), FlawKind.KNOT),))
    score.add([_true(knot, "knot")], (_found(box(8, 0, 18, 10), FlawKind.KNOT),))
    assert score.hits["knots over 6 mm"] == [1, 2]


def test_a_knot_counts_as_called_loose_where_the_surest_overlap_says_so():
    score = Score()
    knot = box(0, 0, 10, 10)
    for sound, said in ((True, None), (True, False), (False, False)):
        true = TrueFlaw("knot", "grown_in" if sound else "loose", knot, 0.0, False, sound)
        score.add([true], (Flaw("F1", FlawKind.KNOT, {1: knot}, sound=said),))
    score.add([TrueFlaw("knot", "cracked", knot, 0.0, False, False)], ())
    assert score.hits["  sound knots called loose:"] == [1, 2]
    assert score.hits["  loose or hollow knots called loose:"] == [1, 1]


def test_a_worm_hole_is_scored_by_how_much_of_it_is_drawn():
    score = Score()
    hole = box(0, 0, 2, 2)
    score.add([_true(hole, "hole")], (_found(box(0, 0, 2, 4), FlawKind.KNOT),))
    score.add([_true(hole, "hole")], ())
    assert score.overlaps == [0.5]


def test_wild_grain_is_neither_right_nor_false():
    score = Score()
    score.add([], (_found(box(0, 0, 40, 40), FlawKind.WILD_GRAIN),))
    assert score.false == [0]


def test_faces_to_learn_from_are_not_written_beside_those_of_an_earlier_run(
    tmp_path, monkeypatch, capsys
):
    earlier = tmp_path / LINE_FILE
    earlier.write_text('{"image": "third-1.jpg"}\n', encoding="utf-8")
    monkeypatch.setattr(sys, "argv", ["learn_third", str(tmp_path), "--seeds", "1-2"])
    with pytest.raises(SystemExit):
        learn_third.main()
    assert "give another folder" in capsys.readouterr().err
    assert [path.name for path in tmp_path.iterdir()] == [LINE_FILE]
    assert earlier.read_text(encoding="utf-8").count("\n") == 1
