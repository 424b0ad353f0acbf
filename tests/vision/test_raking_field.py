import numpy as np
import pytest

from scanner.vision.low_lamp.raking_field import Field, along_u_mm, pooled_field, terms_at
from scanner.vision.low_lamp.raking_patches import Likeness

MIDDLE = np.array([800.0, 110.0])
# Bowed and cupped, and seen by the second photo from further along the board.
TRUE = np.array([[0.3, 0.2], [0.2, 0.1], [0.0, 0.0], [-1.2, 0.3], [0.1, 0], [0, 0], [1.4, -0.35]])


def ridges(wander_mm, seed=1):
    """Return patches whose likeness stands on a ridge along the grain, its top anywhere near."""
    rng = np.random.default_rng(seed)
    x, y = np.meshgrid(np.linspace(40, 1560, 22), np.linspace(20, 200, 5))
    at = np.column_stack([x.ravel(), y.ravel()])
    off = terms_at(at, MIDDLE) @ TRUE + rng.normal(0, [wander_mm, 0.05], at.shape)
    rows, columns = (np.arange(size) - size // 2 for size in (17, 37))
    along = (columns[None, None, :] * 0.5 - off[:, 0, None, None]) / 7.0
    across = (rows[None, :, None] * 0.5 - off[:, 1, None, None]) / 0.8
    values = 0.6 * np.exp(-(along**2 + across**2) / 2)
    return Likeness(at, np.asarray(values, np.float32), 0.5)


def test_ridges_whose_tops_wander_are_held_together_by_one_smooth_field():
    likeness = ridges(2.0)
    flat = Field(np.zeros((7, 2)), MIDDLE)
    more, spread = pooled_field(likeness, flat)
    off = Field(more - TRUE, MIDDLE).at(likeness.at)
    assert np.abs(off[:, 0]).max() < 1.0
    assert np.abs(off[:, 1]).max() < 0.15
    u_mm = along_u_mm(spread, likeness.at, MIDDLE)
    assert u_mm.min() > 0.3 and u_mm.max() < 2.0
    assert (np.abs(off[:, 0]) < u_mm).mean() > 0.9


def test_where_patches_tell_nothing_the_field_stays_and_its_u_says_so():
    at = ridges(0.0).at
    nothing = Likeness(at, np.zeros((len(at), 17, 37), np.float32), 0.5)
    more, spread = pooled_field(nothing, Field(np.zeros((7, 2)), MIDDLE))
    assert more == pytest.approx(np.zeros((7, 2)))
    assert along_u_mm(spread, at, MIDDLE).min() > 1.0


def test_a_face_too_narrow_for_patches_leaves_the_field_as_it_is():
    none = Likeness(np.zeros((0, 2)), np.zeros((0, 17, 37), np.float32), 0.5)
    more, spread = pooled_field(none, Field(np.zeros((7, 2)), MIDDLE))
    assert more == pytest.approx(np.zeros((7, 2)))
    assert along_u_mm(spread, MIDDLE[None], MIDDLE)[0] == pytest.approx(2.0)
