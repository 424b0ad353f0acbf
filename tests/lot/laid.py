"""A layout of given placements, and wood whose lines wander over its pieces."""

import numpy as np

from scanner.placement.layout import Bound, Layout, Summary
from scanner.vision.looks.joint_look import MM_PER_PX


def layout_of(*placements):
    return Layout(
        "three_stage_trimmed", 3.2, 1, 0, placements, (), (), (), (),
        Summary(len(placements), len(placements), 1, 1.0, 1.0, 0.5), Bound("value", "any", 0, 0),
    )  # fmt: skip


def streaky(seed):
    """Return wood of one long picture whose lines wander: (H, W, 3)."""
    rng = np.random.default_rng(seed)
    y, x = np.mgrid[0:330, 0:800] * MM_PER_PX
    wander = 6 * np.sin(x / 130 + rng.random()) + 0.02 * y * np.sin(x / 90)
    lines = np.sin(2 * np.pi * (y + wander) / (5 + 0.012 * y))
    shade = 30 * np.sin(x / 70 + y / 60 + rng.random())
    light = 150 + 25 * lines + shade + rng.normal(0, 3, x.shape)
    return np.clip(np.stack([light, 0.8 * light, 0.6 * light], axis=2), 0, 255).astype(np.uint8)
