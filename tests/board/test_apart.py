"""Where two faces disagree, as places."""

import pickle

from shapely import affinity

from scanner.board.apart import apart
from scanner.board.join import lay_over
from scanner.errors import BoardError
from tests.board.two_faces import FACE, as_turned, knot, reading


def test_faces_of_one_board_disagree_in_nothing():
    knots = (knot(400, 90), knot(1200, 60))
    first, second = reading(FACE, knots), as_turned(FACE, knots, "sideways")
    found = apart(first, lay_over(first, second, 27.0).seen, 27.0)
    assert not any((found.wood_only_1, found.wood_only_2, found.knots_1, found.knots_2))
    assert not found.slants_deg


def test_what_two_boards_disagree_in_is_named_by_place():
    wide = affinity.scale(FACE, 1.0, 1.3, origin=(0, 0))
    first = reading(FACE, (knot(400, 90),))
    second = as_turned(wide, (knot(1200, 60),), "sideways")
    laid = lay_over(first, second, 27.0)
    found = apart(first, laid.seen, 27.0)
    assert not found.wood_only_1
    assert sum(shape.area for shape in found.wood_only_2) > 0.8 * (wide.area - FACE.area)
    assert [round(shape.centroid.x, -1) for shape in found.knots_1] == [400]
    assert [round(shape.centroid.x, -1) for shape in found.knots_2] == [1200]


def test_an_end_that_slants_otherwise_is_named():
    straight = [(0, 0), (1500, 0), (1500, 150), (0, 150)]
    slanting = [(0, 0), (1500, 0), (1507, 150), (0, 150)]
    first, second = (reading(type(FACE)(ring)) for ring in (straight, slanting))
    found = apart(first, first, 27.0)
    assert not found.slants_deg
    (slants,) = apart(first, second, 27.0).slants_deg.items()
    assert slants[0] == "right"
    assert abs(slants[1][0]) < 0.1 and abs(abs(slants[1][1]) - 2.7) < 0.3


def test_a_picture_goes_with_its_problem_to_another_process():
    problem = BoardError("two boards", "give one")
    problem.picture = b"picture"
    again = pickle.loads(pickle.dumps(problem))
    assert (str(again), again.picture) == (str(problem), b"picture")
