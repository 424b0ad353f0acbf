"""What the saw leaves: a height field of arcs or slanted lines, and fuzz; and light on it."""

from dataclasses import dataclass

import cv2
import numpy as np

from tests.render_two.noise import cloud, read


@dataclass(frozen=True)
class Saw:
    """A circular saw (``radius`` mm) or a band saw (radius 0, ``slant`` dx over dy)."""

    radius: float
    centre: float
    slant: float
    pitch: float
    depth: float
    jitter: float
    fuzz: float
    seed: int


def draw_saw(rng, width) -> Saw:
    round_saw = rng.random() < 0.45
    return Saw(
        float(rng.uniform(260, 680)) if round_saw else 0.0,
        float(width / 2 + rng.choice([-1, 1]) * rng.uniform(60, 250)),
        float(rng.normal(0, 0.06)),
        float(rng.uniform(2.2, 8.0)),
        float(rng.lognormal(np.log(0.12), 0.6)),
        float(rng.uniform(0.1, 0.5)),
        float(rng.uniform(0.02, 0.07)),
        int(rng.integers(1 << 30)),
    )


def height(saw, face, x, y, across):
    """Return the face's height, mm, at pixels (rows, columns) of a grid."""
    rng = np.random.default_rng((saw.seed, face))
    if saw.radius:
        dy = (y - saw.centre) / saw.radius
        along = x + saw.radius * (1 - np.sqrt(np.clip(1 - dy * dy, 0.02, 1)))
    else:
        along = x + saw.slant * y + 1.5 * np.sin(y / 70 + saw.slant * 40)
    step = 0.2
    count = int(np.ptp(along) / step) + 8
    places = np.arange(count) * step
    drift = np.cumsum(rng.normal(0, saw.jitter * 0.06, count))
    line = np.abs(np.sin(np.pi * (places / saw.pitch + drift))) ** 1.5
    line = line + 0.6 * np.sin(2 * np.pi * places / (saw.pitch * rng.uniform(6, 14)))
    line = line + 0.5 * cv2.GaussianBlur(rng.normal(0, 1, (1, count)), (0, 0), 3)[0]
    strength = 1 + 0.35 * cloud(rng, x.shape, (90, 260))
    marks = read(
        line[None].astype(np.float32),
        (along - along.min()) / step,
        np.zeros(along.size, np.float32),
    ).reshape(x.shape)
    h = saw.depth * marks * np.clip(strength, 0.15, 2)
    fuzz = cloud(rng, x.shape, (1.0, 7.0)) + 0.7 * cloud(rng, x.shape, (1.6, 22.0))
    return (h + saw.fuzz * 0.55 * fuzz).astype(np.float32)


def shade(h, mm_per_px, toward):
    """Return diffuse light on a height field over that on a plane; ``toward`` the lamp, length 1.

    Axes: x right, y down, z out of the picture.
    """
    sx = cv2.Sobel(h, cv2.CV_32F, 1, 0, scale=1 / (8 * mm_per_px))
    sy = cv2.Sobel(h, cv2.CV_32F, 0, 1, scale=1 / (8 * mm_per_px))
    dot = toward[2] - sx * toward[0] - sy * toward[1]
    return np.clip(dot / np.sqrt(1 + sx * sx + sy * sy), 0, None) / toward[2]
