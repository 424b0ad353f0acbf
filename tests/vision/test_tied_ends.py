"""A tape tied to ends that were first traced wrongly is tied anew to those that are traced last."""

import numpy as np
import pytest
from shapely.geometry import Polygon

from scanner.board.reading import mid_line
from scanner.vision.face_reading import length_between, off_the_tape
from scanner.vision.first_look import tied_anew, with_board
from scanner.vision.outline.trace import TracedOutline
from scanner.vision.place import place_around
from scanner.vision.rectify import FacePlace
from scanner.vision.scale import fit_seen
from tests.bench.projected import KINDS, LEVELS, draw_scene

pytestmark = pytest.mark.slow
PAST_END_MM = 8.0


@pytest.fixture(scope="module")
def scene():
    return draw_scene(521, KINDS["rule + taped length"], LEVELS["good"])


@pytest.fixture(scope="module")
def by_rule(scene):
    return fit_seen(scene.seen, scene.setup, "plain")


def traced_in(scene, fit, past_mm: float) -> tuple[TracedOutline, FacePlace]:
    """Return the board as a fit lays it, its second end traced so far past the true one."""
    ends = scene.board.ends
    along = (ends[1] - ends[0]) / np.linalg.norm(ends[1] - ends[0])
    across = np.array([-along[1], along[0]]) * 60.0
    far = ends[1] + past_mm * along
    corners = np.array([ends[0] - across, far - across, far + across, ends[0] + across])
    there = fit.face_from_photo(0, scene.cameras[0].project(scene.board.world(corners)))
    step = there[1] - there[0]
    place = place_around(Polygon(there), float(np.arctan2(step[1], step[0])))
    side = np.zeros((0, 2))
    outline = Polygon(place.place_from_rule(there))
    none = np.zeros(0)
    return TracedOutline(outline, (), side, side, side, side, none, none), place


def middles(traced: TracedOutline, place: FacePlace) -> np.ndarray:
    return place.rule_from_place(np.array(mid_line(traced.outline)))


@pytest.fixture(scope="module")
def mistied(scene, by_rule):
    """The fit of a tape tied to an end first traced past the true one."""
    return with_board((None,), by_rule, *traced_in(scene, by_rule, PAST_END_MM))[0]


def test_an_end_first_traced_past_the_true_one_costs_the_length_nothing(scene, by_rule, mistied):
    traced, place = traced_in(scene, mistied, 0.0)
    read = np.linalg.norm(np.subtract(*middles(traced, place)))
    assert read < scene.taped.value_mm - PAST_END_MM / 2
    again = tied_anew((None,), by_rule, mistied, traced, place)
    assert again is not None
    tied, *_ = again
    ends = middles(*traced_in(scene, tied, 0.0))
    length = length_between(tied, ends)
    assert length.value_mm == pytest.approx(scene.taped.value_mm, abs=0.5)
    # As sure as its tape (U of 3 mm).
    assert 3.0 < length.u_mm < 3.5
    assert off_the_tape(tied, ends) == ()
    # Tied to the ends as traced, nothing is left to do.
    assert tied_anew((None,), by_rule, tied, *traced_in(scene, tied, 0.0)) is None


def test_ends_that_are_not_those_of_the_tape_are_told_and_u_covers_them(scene, mistied):
    ends = middles(*traced_in(scene, mistied, 0.0))
    (doubt,) = off_the_tape(mistied, ends)
    assert "8 mm nearer than its taped length" in doubt
    length = length_between(mistied, ends)
    assert length.u_mm > abs(length.value_mm - scene.taped.value_mm)


def test_a_board_that_nobody_taped_is_left_as_it_is(scene, by_rule):
    assert tied_anew((None,), by_rule, by_rule, *traced_in(scene, by_rule, PAST_END_MM)) is None
