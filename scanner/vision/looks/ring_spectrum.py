"""How often growth rings come, place by place across a face: the spectrum of its crosscuts."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from scanner.vision.grain import masked_blur, without_saw_marks

Floats = NDArray[np.float64]

# A crosscut is the mean over this much of the board's length: pores and fibres go, rings stay.
_SLICE_MM = 8.0
# Rings are counted in windows of this width, so far apart.
_WINDOW_MM = 32.0
_STEP_MM = 4.0
# What is broader than this across the grain is no ring.
_BROAD_MM = 8.0
_LEAST_SLICES = 10
# Rings per mm: from one in 25 mm to nearly one a millimetre, in equal shares.
_LEAST_PER_MM, _MOST_PER_MM, _STEP = 0.04, 0.95, 0.05
LOG_STEP = float(np.log1p(_STEP))
LOG_FIRST = float(np.log(_LEAST_PER_MM))
_COUNT = int((np.log(_MOST_PER_MM) - LOG_FIRST) / LOG_STEP) + 1
# A ring's sharp border repeats at twice its rate, which speaks for it; what is seen at half the
# rate says that the rings are twice as wide. Development lots 3000-3007.
_TWICE, _HALF = 0.3, 0.3


@dataclass(frozen=True, slots=True, eq=False)
class RingTable:
    """What rates of rings show across a face.

    Attributes
    ----------
    y_mm
        (N,) middles of the windows, board frame.
    shows
        (N, F) how much more a rate shows there than others do, natural logarithms; rate k is
        exp(LOG_FIRST + k LOG_STEP) rings per mm.
    contrast
        Spread of the logarithm of light across the rings.
    """

    y_mm: Floats
    shows: Floats
    contrast: float


def ring_table(
    crosscut: tuple[Floats, NDArray[np.bool_]], mm_per_px: float, top_mm: float
) -> RingTable | None:
    """Return the rates of rings across a face, None where too little clear wood shows.

    Parameters
    ----------
    crosscut
        See `crosscuts`.
    top_mm
        y of the first row's centre.
    """
    slices, is_full = crosscut
    size, step = round(_WINDOW_MM / mm_per_px), max(1, round(_STEP_MM / mm_per_px))
    rates = np.asarray(np.fft.rfftfreq(2 * size, mm_per_px), dtype=np.float64)
    bell = np.hanning(size)[:, None]
    places, spectra, powers = [], [], []
    for top in range(0, len(slices) - size + 1, step):
        full = is_full[top : top + size].mean(axis=0) > 0.9
        if full.sum() < _LEAST_SLICES:
            continue
        part = slices[top : top + size, full]
        part = part - part.mean(axis=0)
        power = np.abs(np.fft.rfft(part * bell, 2 * size, axis=0)) ** 2
        # Each crosscut has one vote: a dark one is no surer than a pale one.
        spectra.append((power / (power.sum(axis=0) + 1e-12)).mean(axis=1))
        powers.append(float((part**2).mean()))
        places.append(top_mm + (top + size / 2 - 0.5) * mm_per_px)
    if not spectra:
        return None
    shows = _whitened(rates, np.array(spectra, dtype=np.float64))
    return RingTable(np.array(places), shows, float(np.sqrt(np.mean(powers))))


def crosscuts(
    pixels: NDArray[np.uint8], wood: NDArray[np.bool_], mm_per_px: float
) -> tuple[Floats, NDArray[np.bool_]]:
    """Return the ring pattern across the board, a column a slice, and where it is clear wood.

    Parameters
    ----------
    pixels
        (H, W, 3) uint8 RGB, the board along x.
    wood
        (H, W), clear wood.

    Returns
    -------
    tuple
        Both (H, C): the logarithm of light against its surroundings, 0 where no wood shows, and
        whether wood shows.
    """
    weight = wood.astype(np.float32)
    grey = cv2.cvtColor(pixels, cv2.COLOR_RGB2GRAY).astype(np.float32)
    light = np.where(wood, np.log(np.maximum(grey, 4.0)), 0).astype(np.float32)
    calm = without_saw_marks(light, weight, mm_per_px)
    broad = _BROAD_MM / mm_per_px
    band = np.where(wood, calm - masked_blur(calm, weight, broad, broad), 0)
    n = max(1, round(_SLICE_MM / mm_per_px))
    count = band.shape[1] // n
    shape = (len(band), count, n)
    share = weight[:, : count * n].reshape(shape).mean(axis=2)
    sums = band[:, : count * n].reshape(shape).mean(axis=2)
    is_full = share > 0.6
    return np.where(is_full, sums / np.maximum(share, 1e-6), 0).astype(np.float64), is_full


def _whitened(rates: Floats, spectra: Floats) -> Floats:
    """Return how much each rate stands out, with what its double and its half say."""
    use = (rates >= _LEAST_PER_MM) & (rates <= _MOST_PER_MM)
    logs = np.log(spectra[:, use] + 1e-9)
    at = np.log(rates[use])
    # Wood has more broad streaks than fine ones, whatever its rings do.
    course = np.polyfit(np.tile(at, len(logs)), logs.ravel(), 2)
    grid = LOG_FIRST + LOG_STEP * np.arange(_COUNT)
    plain = np.array([np.interp(grid, at, row - np.polyval(course, at)) for row in logs])
    octave = round(float(np.log(2)) / LOG_STEP)
    shows = plain.copy()
    shows[:, :-octave] += _TWICE * plain[:, octave:]
    shows[:, octave:] -= _HALF * plain[:, :-octave]
    return shows
