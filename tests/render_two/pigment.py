"""Colour by absorption and scattering (Kubelka and Munk, 1931), in linear red, green and blue."""

import numpy as np


def linear(srgb):
    """Return linear reflectance of sRGB values 0-255 (IEC 61966-2-1)."""
    value = np.asarray(srgb, np.float32) / 255
    return np.where(value <= 0.04045, value / 12.92, ((value + 0.055) / 1.055) ** 2.4)


def srgb(light):
    """Return sRGB values 0-255 of linear light."""
    value = np.clip(light, 0, 1)
    return 255 * np.where(value <= 0.0031308, 12.92 * value, 1.055 * value ** (1 / 2.4) - 0.055)


def absorption(reflectance):
    """Return absorption over scattering of a thick layer of this reflectance."""
    r = np.clip(np.asarray(reflectance, np.float32), 0.003, 0.97)
    return (1 - r) ** 2 / (2 * r)


def reflectance(ratio):
    """Return the reflectance of a thick layer with this absorption over scattering."""
    return 1 + ratio - np.sqrt(ratio * ratio + 2 * ratio)


BARK = absorption(linear((74, 60, 48)))
TAR = absorption(linear((38, 29, 23)))
GUM = absorption(linear((88, 50, 28)))
BLUE = absorption(linear((104, 108, 112)))
MINERAL = absorption(linear((92, 84, 80)))
ROTTEN = absorption(linear((104, 74, 48)))
GREY = absorption(linear((128, 122, 114)))
KNOT = absorption(linear((108, 68, 42)))
