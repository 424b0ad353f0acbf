"""Floors with a history and things that stand about: they never touch what is measured."""

import numpy as np
import pytest

from tests.render.floor import floor_of
from tests.render.light import Light
from tests.render.specs import LightSpec
from tests.render.standing import Standing

FREE = (-180.0, 420.0)  # the band of board and rule


def _standing(seed):
    light = Light(LightSpec("indoor", 30.0, 45.0, 0.9, 0.0, "", seed))
    return Standing(seed, "concrete", FREE, 2000.0, light)


def test_things_and_cables_keep_off_the_board_and_the_rule():
    x, y = (g.ravel() for g in np.meshgrid(np.linspace(-900, 2900, 150), np.linspace(*FREE, 25)))
    x, y = x.astype(np.float32), y.astype(np.float32)
    seen = 0
    for seed in range(3000, 3020):
        scene = _standing(seed)
        for thing in scene.things:
            assert thing.outside(x, y).min() > 0
        for cable in scene.cables:
            assert cable.nearest(x, y)[0].min() > cable.radius
        seen += len(scene.things) + len(scene.cables)
    assert seen > 40


def test_a_thing_hides_the_floor_under_it_and_shades_the_floor_beside_it():
    scene = next(s for s in map(_standing, range(3000, 3040)) if s.things)
    thing = scene.things[0]
    x, y = np.float32([thing.x, thing.x + 4000]), np.float32([thing.y, thing.y])
    floor = np.full((2, 3), 0.5, dtype=np.float32)
    eye = np.float32([thing.x, thing.y, 1500.0])
    seen = scene.stand(floor.copy(), x, y, np.float32([1.0, 1.0]), eye)
    assert not np.allclose(seen[0], floor[0]) and np.allclose(seen[1], floor[1])
    assert scene.shadows(x, y)[0] < 0.8 < scene.shadows(x, y)[1] + 0.01


@pytest.mark.slow
@pytest.mark.parametrize("kind", ["concrete", "plywood", "asphalt"])
def test_the_same_seed_lays_the_same_worn_floor(kind):
    x = np.linspace(-500, 2500, 4000, dtype=np.float32)
    y = np.linspace(-900, 900, 4000, dtype=np.float32)
    fp = np.ones_like(x)
    one, two, other = (floor_of(kind, s).shade(x, y, fp)[0] for s in (3001, 3001, 3002))
    assert np.array_equal(one, two) and not np.allclose(one, other)
    assert one.min() >= 0 and one.max() < 1.2
