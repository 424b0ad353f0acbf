"""What saw, weather and handling did to the face: marks of the blade, fuzz, grey, dirt, water."""

import numpy as np

from tests.render_three import BASE_MM
from tests.render_three.fields import octaves, ramp, smooth
from tests.render_three.species import Species


def _band_saw(rng: np.random.Generator, shape: tuple[int, int]) -> np.ndarray:
    """Return lines across the board at about even steps, of unequal strength."""
    h, w = shape
    step = rng.uniform(1.2, 9) / BASE_MM
    lean = rng.normal(0, 0.12)
    x = (
        np.arange(w, dtype=np.float32)[None, :]
        + np.float32(lean) * np.arange(h, dtype=np.float32)[:, None]
    )
    x = x + smooth(rng, shape, 300, 300) * np.float32(0.6 * step)
    wave = np.sin(x * np.float32(2 * np.pi / step))
    sharp = np.sign(wave) * np.abs(wave) ** np.float32(rng.uniform(0.5, 3))
    held = np.clip(0.6 + 0.5 * smooth(rng, shape, 150, 60), 0, 1.4)
    return sharp * held


def _circular_saw(rng: np.random.Generator, shape: tuple[int, int]) -> np.ndarray:
    """Return arcs of a round blade."""
    h, w = shape
    radius = rng.uniform(180, 500) / BASE_MM
    y = np.arange(h, dtype=np.float32)[:, None] - np.float32(rng.uniform(-0.5, 1.5) * h)
    bulge = np.sqrt(np.maximum(radius**2 - y**2, 1.0)) * rng.choice([-1.0, 1.0])
    x = np.arange(w, dtype=np.float32)[None, :] + bulge.astype(np.float32)
    step = rng.uniform(1.0, 5) / BASE_MM
    wave = np.sin(x * np.float32(2 * np.pi / step)) + 0.5 * np.sin(
        x * np.float32(2 * np.pi / (step * 2.7))
    )
    return wave * np.clip(0.5 + 0.6 * smooth(rng, shape, 200, 80), 0, 1.4)


def paint_surface(rng: np.random.Generator, canvas: np.ndarray, species: Species) -> None:
    """Lay the marks of saw and weather over the canvas (H, W, 3), in place."""
    shape = canvas.shape[:2]
    shade = np.ones(shape, np.float32)
    how = rng.random()
    if how < 0.3:
        shade += _band_saw(rng, shape) * np.float32(rng.uniform(0.01, 0.09))
    elif how < 0.5:
        shade += _circular_saw(rng, shape) * np.float32(rng.uniform(0.01, 0.08))
    if how < 0.75:
        fuzz = 0.6 * smooth(rng, shape, 5, 2.0) + 0.5 * smooth(rng, shape, 14, 3)
        torn = ramp(smooth(rng, shape, 200, 60), 0.2, 1.6)
        shade += fuzz * np.float32(rng.uniform(0.01, 0.05)) * (0.4 + 1.6 * torn)
    if rng.random() < 0.4:
        dirt = octaves(rng, shape, rng.uniform(100, 600), rng.uniform(30, 150), 4)
        shade *= 1 - ramp(dirt, rng.uniform(-1, 0.5), 2.8) * np.float32(rng.uniform(0.05, 0.4))
    if rng.random() < 0.3:
        specks = ramp(smooth(rng, shape, 3, 2.5), rng.uniform(2.0, 2.9), 3.2)
        shade *= 1 - specks * np.float32(rng.uniform(0.2, 0.7))
    canvas *= shade[..., None]
    if species.weathered:
        _weather(rng, canvas, species.weathered)
    for _ in range(rng.poisson(0.3)):
        _water_mark(rng, canvas)
    if rng.random() < 0.12:
        _sticker_marks(rng, canvas)
    if rng.random() < 0.12:
        _dust(rng, canvas)


def _weather(rng: np.random.Generator, canvas: np.ndarray, much: float) -> None:
    """Turn the wood grey, unevenly, and let its streaks stand out."""
    shape = canvas.shape[:2]
    grey = canvas.mean(axis=2)
    level = float(grey.mean())
    silver = (0.35 * level + 0.65 * grey) * np.float32(rng.uniform(0.7, 1.15))
    silver *= 1 + 0.09 * smooth(rng, shape, 160, 2.5) + 0.06 * smooth(rng, shape, 40, 1.2)
    share = np.clip(much + 0.2 * octaves(rng, shape, 300, 60, 3), 0, 1)
    for c, tint in enumerate((1.02, 1.0, 0.96)):
        canvas[..., c] += (silver * np.float32(tint) - canvas[..., c]) * share


def _water_mark(rng: np.random.Generator, canvas: np.ndarray) -> None:
    """A drop or a run of water: a darker or paler patch with a dark border."""
    h, w = canvas.shape[:2]
    size = int(rng.uniform(15, 120) / BASE_MM)
    x, y = int(rng.integers(0, w)), int(rng.integers(0, h))
    patch = canvas[max(y - size // 2, 0) : y + size // 2, max(x - size, 0) : x + size]
    if min(patch.shape[:2]) < 8:
        return
    rows = np.linspace(-1, 1, patch.shape[0], dtype=np.float32)[:, None]
    columns = np.linspace(-1, 1, patch.shape[1], dtype=np.float32)[None, :]
    far = np.hypot(rows, columns) + 0.12 * smooth(rng, patch.shape[:2], size / 2, size / 2)
    inner = (1 - ramp(far, 0.68, 0.74)) * np.float32(rng.normal(-0.08, 0.07))
    rim = np.exp(-(((far - 0.72) / 0.02) ** 2)) * np.float32(rng.uniform(0, 0.22))
    patch *= (1 + inner - rim)[..., None]


def _sticker_marks(rng: np.random.Generator, canvas: np.ndarray) -> None:
    """Bands across, where sticks lay between the boards of the pile."""
    h, w = canvas.shape[:2]
    wide = rng.uniform(15, 40) / BASE_MM
    change = np.float32(rng.normal(-0.06, 0.08))
    for _ in range(int(rng.integers(1, 3))):
        lean = rng.normal(0, 0.04) * np.arange(h, dtype=np.float32)[:, None]
        at = np.arange(w, dtype=np.float32)[None, :] - np.float32(rng.uniform(0, w)) + lean
        soft = np.float32(rng.uniform(0.5, 6) / BASE_MM)
        worn = np.clip(0.8 + 0.4 * octaves(rng, (h, w), 60, 60, 3), 0, 1.3)
        canvas *= (1 + change * worn * ramp(wide / 2 - np.abs(at), -soft, soft))[..., None]


def _dust(rng: np.random.Generator, canvas: np.ndarray) -> None:
    """Pale dust of the saw, strewn."""
    shape = canvas.shape[:2]
    grains = ramp(smooth(rng, shape, 2.5, 2.0), 1.6, 2.4) * ramp(
        smooth(rng, shape, 300, 150), -1, 1
    )
    pale = np.array([0.62, 0.52, 0.38], np.float32)
    canvas += (pale - canvas) * (grains * np.float32(rng.uniform(0.3, 0.8)))[..., None]
