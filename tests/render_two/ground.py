"""Floors: concrete, boards, tarmac."""

import cv2
import numpy as np

from tests.render_two.noise import cloud
from tests.render_two.pigment import linear

KINDS = ("concrete", "tarmac", "planks")


def floor(rng, kind, shape, mm):
    """Return the reflectance (rows, columns, 3) of a floor."""
    fine = cloud(rng, shape, (max(1.5 / mm, 1), max(1.5 / mm, 1)))
    slow = cloud(rng, shape, (160 / mm, 190 / mm))
    if kind == "tarmac":
        stones = cloud(rng, shape, (max(4 / mm, 1.2), max(4 / mm, 1.2)))
        tone = 0.09 * np.exp(0.35 * stones + 0.25 * fine + 0.12 * slow)
        return tone[..., None] * np.array([1.0, 1.0, 1.02], np.float32)
    if kind == "planks":
        return _planks(rng, shape, mm, fine, slow)
    base = linear(np.array([158, 153, 146]) * rng.uniform(0.75, 1.15))
    trowel = cloud(rng, shape, (9 / mm, 70 / mm))
    tone = np.exp(0.10 * slow + 0.05 * fine + 0.05 * trowel)
    pits = cloud(rng, shape, (3 / mm, 3 / mm)) > 3.1
    tone = np.where(pits, tone * 0.55, tone)
    return tone[..., None] * base


def _planks(rng, shape, mm, fine, slow):
    """A painted floor of boards that run up the picture."""
    wide = rng.uniform(90, 140) / mm
    column = np.arange(shape[1])[None] / wide + rng.uniform(0, 1)
    number = np.floor(column).astype(int)
    tints = rng.normal(0, 0.08, number.max() + 2)[number]
    gap = np.abs(column - np.round(column)) * wide * mm < 1.2
    paint = linear(np.array([[120, 128, 132], [92, 98, 90], [150, 148, 140]][int(rng.integers(3))]))
    worn = cloud(rng, shape, (60 / mm, 4 / mm))
    tone = np.exp(tints + 0.06 * slow + 0.05 * worn + 0.03 * fine)
    tone = np.where(np.broadcast_to(gap, shape), tone * 0.25, tone)
    return cv2.GaussianBlur((tone[..., None] * paint).astype(np.float32), (0, 0), 0.6)
