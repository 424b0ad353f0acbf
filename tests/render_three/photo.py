"""The photograph: sampled, blurred, noisy, sharpened, compressed, then laid flat again."""

from dataclasses import dataclass

import cv2
import numpy as np

from tests.render_three import BASE_MM, FINAL_MM

_LEVELS = 4096


@dataclass(frozen=True)
class Camera:
    """How one face is photographed: mm of wood a pixel both ways, and the picture's faults."""

    along_mm: float
    across_mm: float
    blur_px: float
    smear_px: float
    smear_deg: float
    noise: float
    smoothed: bool
    sharp: float
    sharp_px: float
    quality: int
    exposure: float
    contrast: float
    saturation: float


def draw_camera(rng: np.random.Generator) -> Camera:
    """Return a camera: 0.3-1.3 mm a pixel, often foreshortened one way."""
    mm = float(np.exp(rng.uniform(np.log(0.3), np.log(1.0))))
    oblique = rng.uniform(1, 1.6) if rng.random() < 0.6 else 1.0
    along, across = (mm * oblique, mm) if rng.random() < 0.25 else (mm, mm * oblique)
    return Camera(
        along_mm=min(along, 1.3),
        across_mm=min(across, 1.3),
        blur_px=float(rng.uniform(0.4, 1.0)),
        smear_px=float(rng.uniform(1.5, 4)) if rng.random() < 0.15 else 0.0,
        smear_deg=float(rng.uniform(0, 180)),
        noise=float(np.exp(rng.uniform(np.log(0.002), np.log(0.03)))),
        smoothed=bool(rng.random() < 0.5),
        sharp=float(rng.uniform(0.3, 1.8)) if rng.random() < 0.7 else 0.0,
        sharp_px=float(rng.uniform(0.7, 1.8)),
        quality=int(rng.integers(60, 96)),
        exposure=float(rng.uniform(0.75, 1.3)),
        contrast=float(rng.uniform(0.0, 0.4)),
        saturation=float(rng.uniform(0.5, 0.9)),
    )


def photographed(rng: np.random.Generator, canvas: np.ndarray, camera: Camera) -> np.ndarray:
    """Return the canvas (H, W, 3) of linear light as a flattened photograph, uint8 RGB."""
    h, w = canvas.shape[:2]
    size = (round(w * BASE_MM / camera.along_mm), round(h * BASE_MM / camera.across_mm))
    seen = cv2.resize(canvas, size, interpolation=cv2.INTER_AREA)
    seen = cv2.GaussianBlur(seen, (0, 0), camera.blur_px)
    if camera.smear_px:
        seen = cv2.filter2D(seen, -1, _smear(camera), borderType=cv2.BORDER_REFLECT)
    bright = float(np.percentile(seen[..., 1], 97))
    seen *= np.float32(camera.exposure * 0.62 / max(bright, 0.02) * np.clip(bright / 0.5, 0.3, 1))
    grain = rng.standard_normal(seen.shape, dtype=np.float32)
    seen += grain * camera.noise * np.sqrt(np.maximum(seen, 0.0) + np.float32(0.02))
    byte = _developed(seen, camera)
    if camera.smoothed:
        byte = cv2.bilateralFilter(byte, 5, 12 + 900 * camera.noise, 1.5)
    if camera.sharp:
        soft = cv2.GaussianBlur(byte, (0, 0), camera.sharp_px)
        byte = cv2.addWeighted(byte, 1 + camera.sharp, soft, -camera.sharp, 0)
    _, packed = cv2.imencode(".jpg", byte[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, camera.quality])
    opened = cv2.imdecode(packed, cv2.IMREAD_COLOR)[..., ::-1]
    final = (round(w * BASE_MM / FINAL_MM), round(h * BASE_MM / FINAL_MM))
    fine = max(camera.along_mm, camera.across_mm) < FINAL_MM
    how = cv2.INTER_AREA if fine else cv2.INTER_CUBIC
    return np.ascontiguousarray(cv2.resize(np.ascontiguousarray(opened), final, interpolation=how))


def _smear(camera: Camera) -> np.ndarray:
    """Return the kernel of a hand that moved."""
    kernel = np.zeros((9, 9), np.float32)
    way = np.deg2rad(camera.smear_deg)
    for s in np.linspace(-0.5, 0.5, 33) * camera.smear_px:
        x, y = 4 + s * np.cos(way), 4 + s * np.sin(way)
        kernel[round(y), round(x)] += 1
    return kernel / kernel.sum()


def _developed(seen: np.ndarray, camera: Camera) -> np.ndarray:
    """Return sRGB bytes through a phone's curve."""
    v = np.linspace(0, 1.6, _LEVELS)
    v = np.minimum(v, 1.0) - np.where(v > 0.8, (np.minimum(v, 1.0) - 0.8) * 0.3, 0)
    srgb = np.where(v <= 0.0031308, 12.92 * v, 1.055 * v ** (1 / 2.4) - 0.055)
    curve = srgb + camera.contrast * (srgb * srgb * (3 - 2 * srgb) - srgb)
    table = np.clip(curve * 255, 0, 255).astype(np.float32)
    grey = seen.mean(axis=2, keepdims=True)
    seen = grey + (seen - grey) * np.float32(camera.saturation)
    at = np.clip(seen * ((_LEVELS - 1) / 1.6), 0, _LEVELS - 1).astype(np.int32)
    return np.round(table[at]).astype(np.uint8)
