"""The phone after the lens: blur, fringes, vignette, noise, its filter, tone, sharpening; JPEG."""

from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image

from tests.render.noise import F32
from tests.render.specs import PhotoSpec


def develop(light: F32, photo: PhotoSpec) -> NDArray[np.uint8]:
    """Return the picture (H, W, 3) uint8 that the phone makes of the light on its sensor."""
    rng = np.random.default_rng((photo.seed, photo.face, 601))
    height, width = light.shape[:2]
    picture = cv2.GaussianBlur(light, (0, 0), photo.blur_px)
    fringe = float(rng.normal(0, 1.6e-4))
    _spread(picture, (photo.camera.cx, photo.camera.cy), fringe)
    # Meter for the middle tones, keep the brightest parts just below white.
    luma = picture[::8, ::8] @ np.float32([0.3, 0.59, 0.11])
    h, w = luma.shape
    inner = luma[h // 8 : -(h // 8), w // 8 : -(w // 8)]
    middle = float(np.exp(np.log(inner + 1e-3).mean()))
    bright, brightest = (float(v) for v in np.percentile(luma, [85, 97]))
    gain = min(0.30 / middle, 0.62 / bright, 0.95 / brightest)
    gain *= float(np.exp(rng.normal(0.0, 0.08)))
    cx, cy = photo.camera.cx, photo.camera.cy
    y, x = np.ogrid[:height, :width]
    r2 = ((x - cx) ** 2 + (y - cy) ** 2).astype(np.float32) / photo.camera.focal**2
    picture *= (gain / (1 + 0.5 * r2))[..., None]
    # A small lens is softer towards the corners.
    softer = np.clip(1.3 * r2 - 0.1, 0, 0.8)[..., None]
    picture += softer * (cv2.GaussianBlur(picture, (0, 0), 1.1) - picture)
    picture += (
        np.float32(rng.uniform(0.003, 0.010)) * picture[::8, ::8].mean(axis=(0, 1)) / 0.2
    )  # light strayed in the lens
    scale = max(width, height) / 3264
    _add_noise(picture, rng, photo.noise)
    tone = _tone(np.clip(picture, 0, 3))
    tone = _without_noise(tone, photo.noise, scale)
    tone = _locally_even(tone, scale, float(rng.uniform(0.08, 0.18)))
    crisp = float(rng.uniform(0.55, 1.0))
    soft = cv2.GaussianBlur(tone, (0, 0), 1.1)
    halo = cv2.GaussianBlur(soft, (0, 0), 2.2)
    tone += np.float32(crisp) * (tone - soft) + np.float32(0.22 * crisp) * (soft - halo)
    grey = (tone @ np.float32([0.3, 0.59, 0.11]))[..., None]
    tone = grey + (tone - grey) * np.float32(rng.uniform(0.92, 1.06))
    warm, green = rng.normal(0.0, 0.022), rng.normal(-0.004, 0.008)  # white balance
    tone *= np.float32([1 + warm, 1 + green, 1 - warm])
    tone += np.float32(rng.uniform(0.02, 0.055)) * np.sin(2 * np.pi * (tone - 0.5))
    return np.clip(tone * 255 + 0.5, 0, 255).astype(np.uint8)


def _spread(picture: F32, centre: tuple[float, float], share: float) -> None:
    """Let red and blue be drawn a hair larger and smaller than green, as cheap lenses do."""
    height, width = picture.shape[:2]
    for channel, k in ((0, 1 + share), (2, 1 - share)):
        move = np.float32([[k, 0, centre[0] * (1 - k)], [0, k, centre[1] * (1 - k)]])
        picture[..., channel] = cv2.warpAffine(
            np.ascontiguousarray(picture[..., channel]),
            move,
            (width, height),
            flags=cv2.INTER_LINEAR,
            borderMode=cv2.BORDER_REPLICATE,
        )


def _without_noise(tone: F32, noise: float, scale: float) -> F32:
    """Return the picture as a phone's filter leaves it: faint texture and fine colour smeared.

    Detail fainter than a threshold shrinks; edges stay. Colour keeps less detail than brightness.
    """
    weights = np.float32([0.3, 0.59, 0.11])
    luma = tone @ weights
    colour = tone - luma[..., None]
    colour = cv2.GaussianBlur(colour, (0, 0), 2.6 * scale + 0.4)
    faint = np.float32(0.006 + 0.006 * noise)
    for sigma, share in ((0.9, 0.8), (2.0, 0.55)):
        base = cv2.GaussianBlur(luma, (0, 0), sigma)
        detail = luma - base
        power = detail * detail
        luma = base + detail * (power + (1 - share) * faint**2) / (power + faint**2)
    return luma[..., None] + colour


def _locally_even(tone: F32, scale: float, much: float) -> F32:
    """Return the picture with large differences of brightness evened out, shadows lifted."""
    height, width = tone.shape[:2]
    small = cv2.resize(
        tone @ np.float32([0.3, 0.59, 0.11]),
        (width // 8, height // 8),
        interpolation=cv2.INTER_AREA,
    )
    # Two widths: the narrower one leaves the faint halos along edges that phones leave.
    near = cv2.GaussianBlur(small, (0, 0), 5 * scale + 1)
    wide = cv2.GaussianBlur(small, (0, 0), 26 * scale + 2)
    base = cv2.resize(0.4 * near + 0.6 * wide, (width, height), interpolation=cv2.INTER_LINEAR)
    gain = ((0.52 + 0.02) / (base + 0.02)) ** np.float32(much)
    return tone * gain[..., None]


def _add_noise(picture: F32, rng: np.random.Generator, strength: float) -> None:
    """Add shot and read noise, half smoothed away as phones do, with blotches of colour left."""
    height, width = picture.shape[:2]
    sd = (
        np.sqrt(0.00016 * np.clip(picture.mean(axis=2), 0, 1) + 2.5e-6).astype(np.float32)
        * strength
    )
    white = rng.standard_normal((height, width), dtype=np.float32)
    grain = 0.5 * white + 1.1 * cv2.GaussianBlur(white, (0, 0), 0.8)
    small = rng.standard_normal((-(-height // 3), -(-width // 3), 3), dtype=np.float32)
    colour = cv2.resize(small, (width, height), interpolation=cv2.INTER_LINEAR)
    picture += (sd * grain)[..., None] + (0.55 * sd)[..., None] * colour
    np.maximum(picture, 0, out=picture)


def _tone(linear: F32) -> F32:
    """Return display values 0..1: sRGB with a phone's soft shoulder and slightly deep shadows."""
    x = linear
    x = np.where(x > 0.5, 0.5 + 0.5 * (1 - np.exp(-(x - 0.5) / 0.5)), x).astype(np.float32)
    out = np.where(
        x <= 0.0031308, 12.92 * x, 1.055 * np.power(np.maximum(x, 1e-6), 1 / 2.4) - 0.055
    )
    out = out.astype(np.float32)
    return out + np.float32(0.05) * np.sin(2 * np.pi * (out - 0.5)) * (1 - out) * out * 2


_STORED = {
    1: None,
    3: Image.Transpose.ROTATE_180,
    6: Image.Transpose.ROTATE_90,
    8: Image.Transpose.ROTATE_270,
}


def write_jpeg(
    pixels: NDArray[np.uint8], photo: PhotoSpec, path: Path, quality: int | None = None
) -> Path:
    """Write a JPEG with the EXIF a phone writes (no place), the pixels turned as they were held."""
    picture = Image.fromarray(pixels)
    turn = _STORED[photo.orientation]
    if turn is not None:
        picture = picture.transpose(turn)
    exif = Image.Exif()
    exif[0x010F], exif[0x0110] = "Rendered", "Phone"
    exif[0x0112] = photo.orientation
    exif[0x0131] = "bothfaces tests/render"
    exif[0x0132] = photo.taken
    ifd = exif.get_ifd(0x8769)
    ifd[0x9003] = photo.taken
    ifd[0x920A] = photo.focal_mm
    ifd[0xA405] = photo.focal_35mm
    ifd[0xA002], ifd[0xA003] = picture.size
    path.parent.mkdir(parents=True, exist_ok=True)
    picture.save(path, "JPEG", quality=quality or photo.jpeg_quality, exif=exif, subsampling=2)
    return path
