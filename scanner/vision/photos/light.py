"""Light and colour as the standards say: sRGB bytes, linear light, CIELAB."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

# sRGB to CIE XYZ with the white of the paper as (1, 1, 1): IEC 61966-2-1, its matrix divided by
# the white D65.
XYZ = np.array(
    [
        [0.4124 / 0.9505, 0.3576 / 0.9505, 0.1805 / 0.9505],
        [0.2126, 0.7152, 0.0722],
        [0.0193 / 1.089, 0.1192 / 1.089, 0.9505 / 1.089],
    ]
)


def linear_light(pixels: NDArray[np.uint8]) -> NDArray[np.float64]:
    """Return light in proportion to what fell on the sensor, 0 to 1 (IEC 61966-2-1, sRGB)."""
    return np.asarray(light_of(np.arange(256) / 255.0)[pixels], dtype=np.float64)


def light_of(shown: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the light of bytes 0 to 1 (IEC 61966-2-1)."""
    power = (np.maximum(shown, 0.0) + 0.055) / 1.055
    return np.asarray(np.where(shown <= 0.04045, shown / 12.92, power**2.4))


def bytes_of(light: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the bytes, 0 to 1, of light (IEC 61966-2-1)."""
    root = np.maximum(light, 0.0) ** (1 / 2.4)
    return np.asarray(np.where(light <= 0.0031308, 12.92 * light, 1.055 * root - 0.055))


def lab_of(share: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return (N, 3) CIELAB of linear RGB as shares of white (N, 3) (ISO/CIE 11664-4)."""
    xyz = np.maximum(np.asarray(share) @ XYZ.T, 0.0)
    least = (6 / 29) ** 3
    f = np.where(xyz > least, np.cbrt(xyz), xyz / (3 * (6 / 29) ** 2) + 4 / 29)
    x, y, z = f.T
    return np.column_stack([116 * y - 16, 500 * (x - y), 200 * (y - z)])
