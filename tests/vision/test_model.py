"""The fit's written-out derivatives against plain differences."""

from dataclasses import replace

import numpy as np
import pytest

from scanner.vision.evidence.observations import FacePoint, PointView
from scanner.vision.evidence.seen import Bleed
from scanner.vision.fit.assemble import assemble
from scanner.vision.fit.camera import rotation, turn_slopes
from scanner.vision.fit.least_squares import solve
from scanner.vision.fit.model import Model, State
from scanner.vision.fit.residuals import Rows
from tests.bench.projected import KINDS, LEVELS, draw_scene
from tests.bench.scenes import project


@pytest.fixture(scope="module")
def solved():
    scene = draw_scene(3002, KINDS["two photos"], LEVELS["good"])
    observations, starts = assemble(scene.seen, scene.setup)
    # Two places of the face, seen in both photos; a cup that they may tell.
    places = scene.board.ties[:2]
    pixels = [project(camera, scene.board.world(places)) for camera in scene.cameras]
    points = tuple(
        FacePoint(
            tuple(PointView(photo, *map(float, seen[i]), 0.4) for photo, seen in enumerate(pixels)),
            (float(place[0]), float(place[1])),
        )
        for i, place in enumerate(places)
    )
    face = replace(observations.face, sd_form=(1.5, 1.0))
    solution, _ = solve(replace(observations, face=face, points=points), starts)
    return solution


@pytest.mark.parametrize("turn", [(0.0, 0.0, 0.0), (1e-5, -2e-5, 1e-5), (0.4, -0.2, 0.9)])
def test_derivatives_of_a_rotation(turn):
    at, step = np.array(turn), 1e-6
    for axis, slope in enumerate(turn_slopes(at)):
        move = step * np.eye(3)[axis]
        differences = (rotation(at + move) - rotation(at - move)) / (2 * step)
        assert slope == pytest.approx(differences, abs=1e-8)


@pytest.mark.slow
def test_derivatives_of_every_residual_by_every_unknown(solved):
    # Off the solution, so that no derivative is nothing by chance.
    values = solved.state.values + np.random.default_rng(4).normal(0, 0.05, solved.model.size)
    state = State(values, solved.state.turns)
    rows = Rows(solved.model)
    rows.freeze_world(state)
    written = rows.jacobian(state)
    step = 1e-5
    for unknown in range(solved.model.size):
        move = step * np.eye(solved.model.size)[unknown]
        ahead = rows.residuals(State(values + move, state.turns))
        back = rows.residuals(State(values - move, state.turns))
        differences = (ahead - back) / (2 * step)
        size = np.abs(differences).max()
        assert written[:, unknown] == pytest.approx(differences, abs=2e-3 * size + 1e-6)


def test_each_photo_has_the_bleed_that_its_own_codes_tell():
    scene = draw_scene(3002, KINDS["two photos"], LEVELS["good"])
    seen = [
        replace(one, markers=replace(one.markers, bleed=Bleed((told, told), (0.05, 0.06))))
        for one, told in zip(scene.seen, (-0.7, -0.3), strict=True)
    ]
    observations, _ = assemble(tuple(seen), scene.setup)
    model = Model(observations)
    start = State(np.zeros(model.size), (np.eye(3), np.eye(3)))
    shared = model.value(start, "print")
    for photo, told in enumerate((-0.7, -0.3)):
        along, across = shared[2] + model.value(start, f"bleed {photo}")
        assert (along, across + shared[3]) == pytest.approx((told, told))
    # One photo alone keeps its own; a lone photo needs none.
    alone, _ = assemble(tuple(seen[:1]), scene.setup)
    assert alone.own_bleed == ()
    assert alone.bleed_mm[0] == pytest.approx(-0.7)
