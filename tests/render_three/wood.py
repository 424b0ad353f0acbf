"""The clear wood of a face: rings, fibres, pores, rays, figure, streaks and sapwood."""

import cv2
import numpy as np

from tests.render_three import BASE_MM
from tests.render_three.fields import dashes, octaves, ramp, smooth, streaks
from tests.render_three.grain import Grain
from tests.render_three.species import Species

_STEPS = 64  # of the table, a ring


def _ring_tables(
    rng: np.random.Generator, species: Species, most: float
) -> tuple[np.ndarray, np.ndarray]:
    """Return how late the wood is and how porous, 0-1, by ring and place in it."""
    count = int(most) + 3
    late, porous = [], []
    gradual = rng.uniform(0.3, 0.8)
    abrupt = rng.uniform(0.02, 0.12)
    dark_rings = rng.random() < 0.35
    place = np.linspace(0, 1, _STEPS, endpoint=False)
    for _ in range(count):
        strength = np.clip(rng.normal(0.75, 0.25), 0.1, 1.2)
        if dark_rings and rng.random() < 0.08:
            strength *= rng.uniform(1.5, 2.6)
        late_from = np.clip(gradual + rng.normal(0, 0.08), 0.15, 0.9)
        rise = ramp(place, late_from - 0.25, 0.97) * (1 - ramp(place, 1 - abrupt, 1.0))
        late.append(rise * strength)
        porous.append((1 - ramp(place, 0.12, 0.12 + rng.uniform(0.1, 0.3))) * rng.uniform(0.6, 1))
    return (
        np.concatenate(late).astype(np.float32),
        np.concatenate(porous).astype(np.float32),
    )


def paint_wood(
    rng: np.random.Generator, grain: Grain, species: Species, ring_mm: float
) -> np.ndarray:
    """Return clear wood on the whole canvas, (H, W, 3) float32 of linear light."""
    h, w = grain.shape
    ring = grain.full(grain.ring)
    # Unequal years: a slow swing of the count itself.
    swing = np.sin(ring * np.float32(0.37) + np.float32(rng.uniform(0, 6))) * np.float32(0.6)
    ring = ring + swing + np.float32(1.0)
    np.maximum(ring, 0, out=ring)
    late_table, porous_table = _ring_tables(rng, species, float(ring.max()))
    at = np.minimum((ring * _STEPS).astype(np.int32), len(late_table) - 1)
    late = late_table[at] * np.float32(species.contrast)
    fibre = grain.full(grain.fibre)
    low = float(fibre.min())
    tall = int((float(fibre.max()) - low) / BASE_MM) + 2
    texture = _along_fibres(rng, (tall, w), species)
    columns = np.broadcast_to(np.arange(w, dtype=np.float32), (h, w))
    rows = (fibre - np.float32(low)) / np.float32(BASE_MM)
    laid = cv2.remap(texture, columns, rows, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REFLECT)
    shade = 1 + laid[..., 0] * np.float32(rng.uniform(0.02, 0.07))
    pores = laid[..., 1]
    if species.pores == "ring":
        pores = pores * (0.06 + porous_table[at])
    shade *= 1 - np.float32(species.pore_dark) * pores
    shade *= 1 + octaves(rng, (h, w), 400, 160, 3) * np.float32(rng.uniform(0.01, 0.06))
    _figure(rng, shade, laid[..., 2])
    sap = _sapwood(rng, grain, fibre)
    wood = np.empty((h, w, 3), np.float32)
    for c in range(3):
        base = species.early[c] + (species.late[c] - species.early[c]) * late
        if sap is not None:
            base += (species.sap[c] - species.early[c]) * sap
        wood[..., c] = np.maximum(base, 0.1 * species.late[c]) * shade
    return wood


def _along_fibres(rng: np.random.Generator, shape: tuple[int, int], species: Species) -> np.ndarray:
    """Return what runs along the fibres, (H, W, 3): fine fibres, pores, flecks of rays."""
    texture = np.zeros((*shape, 3), np.float32)
    texture[..., 0] = (
        0.7 * streaks(rng, shape, 50, 1.0)
        + 0.7 * streaks(rng, shape, 14, 1.0)
        + 0.5 * streaks(rng, shape, 220, 2.5)
        + 0.4 * rng.standard_normal(shape, dtype=np.float32)
    )
    if species.pore_share > 0:
        long = max(int(species.pore_mm / BASE_MM), 2)
        near = smooth(rng, shape, 120, 20)
        texture[..., 1] = dashes(rng, shape, species.pore_share, long) * ramp(near, -1.6, 0.4)
    if rng.random() < 0.25:
        # Flecks lie a little across the fibres, as rays do where the board is quarter-sawn.
        length = rng.uniform(8, 40)
        spots = smooth(rng, shape, length, rng.uniform(2.0, 8.0))
        texture[..., 2] = ramp(spots, 1.3, 1.7) * rng.choice([-1.0, 1.0])
    return texture


def _figure(rng: np.random.Generator, shade: np.ndarray, flecks: np.ndarray) -> None:
    """Lay flecks and the light and dark of wavy fibres onto the shade, in place."""
    shade *= 1 + flecks * np.float32(rng.uniform(0.04, 0.18))
    if rng.random() < 0.15:
        curl = smooth(rng, shade.shape, rng.uniform(8, 30) / BASE_MM / 2, rng.uniform(120, 400))
        shade *= 1 + curl * np.float32(rng.uniform(0.03, 0.10))


def _sapwood(rng: np.random.Generator, grain: Grain, fibre: np.ndarray) -> np.ndarray | None:
    """Return how far the wood is sapwood, 0-1 (H, W), or None."""
    if rng.random() > 0.3:
        return None
    low, high = float(fibre.min()), float(fibre.max())
    border = low + (high - low) * rng.uniform(0.1, 0.4)
    soft = rng.uniform(1, 8)
    sap = ramp(border - fibre, -soft, soft)
    return sap if rng.random() < 0.5 else ramp(fibre - (high + low - border), -soft, soft)
