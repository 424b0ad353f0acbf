"""The fit's written-out derivatives against plain differences."""

import numpy as np
import pytest

from scanner.vision.fit.assemble import assemble
from scanner.vision.fit.camera import rotation, turn_slopes
from scanner.vision.fit.least_squares import solve
from scanner.vision.fit.model import State
from scanner.vision.fit.residuals import Rows
from tests.bench.projected import KINDS, LEVELS, draw_scene


@pytest.fixture(scope="module")
def solved():
    scene = draw_scene(3002, KINDS["two photos"], LEVELS["good"])
    observations, starts = assemble(scene.seen, scene.setup)
    solution, _ = solve(observations, starts)
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
