from shapely.geometry import Point

from scanner.board.flaw import Flaw, FlawKind
from scanner.vision.flaws.together import worth_telling


def spot(across_mm, score, x=100.0, kind=FlawKind.HOLE):
    shape = Point(x, 50.0).buffer(across_mm / 2)
    return Flaw("", kind, {1: shape}, score=score)


def test_a_faint_worm_hole_is_told_where_another_is_seen_plainly():
    plain, faint = spot(2.5, 0.9), spot(1.8, 0.2, x=300.0)
    assert worth_telling([plain, faint]) == [plain, faint]


def test_a_worm_hole_that_is_called_a_knot_counts_as_one():
    plain, faint = spot(2.5, 0.9, kind=FlawKind.KNOT), spot(1.8, 0.2, x=300.0, kind=FlawKind.KNOT)
    assert worth_telling([plain, faint]) == [plain, faint]


def test_a_faint_speck_alone_on_a_face_is_not_told():
    assert worth_telling([spot(1.8, 0.2)]) == []


def test_a_nail_hole_says_nothing_of_worms():
    nail, faint = spot(5.0, 0.9), spot(1.8, 0.2, x=300.0)
    assert worth_telling([nail, faint]) == [nail]


def test_a_faint_pin_knot_gains_nothing_by_worm_holes():
    plain, faint = spot(2.5, 0.9), spot(6.0, 0.2, x=300.0, kind=FlawKind.KNOT)
    assert worth_telling([plain, faint]) == [plain]
