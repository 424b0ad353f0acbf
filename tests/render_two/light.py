"""The light of a picture, and what a camera makes of it."""

from dataclasses import dataclass

import cv2
import numpy as np

from tests.render_two.pigment import srgb


@dataclass(frozen=True)
class Light:
    """Sun (``direct`` 0 when overcast) toward a way in the picture, and the sky.

    ``toward``: x right, y down, z out of the ground, length 1.
    """

    toward: tuple[float, float, float]
    direct: float
    sky: tuple[float, float, float]
    sun: tuple[float, float, float]
    exposure: float
    white: tuple[float, float, float]
    noise: float
    blur: float
    quality: int


def draw_light(rng) -> Light:
    sunny = rng.random() < 0.5
    around = rng.uniform(0, 2 * np.pi)
    up = np.radians(rng.uniform(28, 65) if sunny else rng.uniform(35, 80))
    toward = (np.cos(up) * np.cos(around), np.cos(up) * np.sin(around), np.sin(up))
    warm = rng.normal(0, 0.04)
    return Light(
        tuple(float(v) for v in toward),
        float(rng.uniform(0.45, 0.75)) if sunny else float(rng.uniform(0.12, 0.3)),
        (0.95 - warm, 1.0, 1.05 + warm) if sunny else (1.0, 1.0, 1.0),
        (1.06, 1.0, 0.90),
        float(rng.uniform(0.82, 1.12)),
        tuple(float(v) for v in 1 + rng.normal(0, 0.025, 3)),
        float(rng.uniform(0.004, 0.012)),
        float(rng.uniform(0.35, 0.8)),
        int(rng.integers(82, 96)),
    )


def lit(light, albedo, facing, shadow):
    """Return light from a surface; ``facing`` relative to level, ``shadow`` 0 (dark) to 1."""
    direct = (light.direct * facing * shadow)[..., None] * np.array(light.sun, np.float32)
    return albedo * (direct + (1 - light.direct) * np.array(light.sky, np.float32))


def developed(light, radiance, rng):
    """Return the uint8 RGB picture of linear light: blur, noise, tone, JPEG's losses."""
    out = radiance * (light.exposure * np.array(light.white, np.float32))
    out = cv2.GaussianBlur(out, (0, 0), light.blur)
    grain = rng.standard_normal(out.shape, dtype=np.float32)
    out = out + grain * light.noise * np.sqrt(np.clip(out, 0.01, 1))
    picture = np.round(srgb(out)).astype(np.uint8)
    code = cv2.imencode(".jpg", picture[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, light.quality])[1]
    return np.ascontiguousarray(cv2.imdecode(code, cv2.IMREAD_COLOR)[..., ::-1])
