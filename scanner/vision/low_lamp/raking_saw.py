"""Saw marks under a low lamp: stripes across the board, straight or bowed, and where most strong.

The face is cut into narrow strips along the board. Each is moved along by what stripes of one lean
and bow would ask, then all are summed: what adds up better than strips moved at random was a saw's.
The measure is the semblance of seismic stacking (Neidell and Taner, Geophysics 36, 1971, cited from
memory). No pitch is told: rough faces hold no period that it could be held against. How deep marks
are is not told either: one lamp shows how steep they are, against each other.
"""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray
from shapely.geometry import Polygon

from scanner.vision.cv import grey_of, painted
from scanner.vision.photos.picture import FacePicture, SawMarks

Singles = NDArray[np.float32]
Doubles = NDArray[np.float64]
Complexes = NDArray[np.complex128]

# Strips of this width, kept off the rims and the ends.
_STRIP_MM, _RIM_MM, _END_MM = 6.0, 6.0, 12.0
# Fewer tell no lean from a bow.
_FEWEST_STRIPS = 6
# What changes more slowly along is the lamp and the wood. Marks lie 2 to 15 mm apart, a tooth's or
# a turn's feed (a choice, no source).
_SLOW_MM = 5.0
_PERIODS_MM = (2.0, 15.0)
# Marks wander: they are held together over so much of the board at a time.
_PIECE_MM = 300.0
_LEANS = np.linspace(-0.25, 0.25, 21)
_BOWS_MM = np.linspace(-16.0, 16.0, 17)
# Strips moved at random, so often; on 14 rendered faces those whose marks were laid wrongly came to
# 1.4 times the best of these, the others to 2.2 and more.
_RANDOM, _CLEARER = 4, 1.8
# A round saw's blade is seldom wider than 1.4 m (common practice, no source): it bows marks by this
# radius at least.
_WIDEST_RADIUS_MM = 700.0
# Marks bowed less than the first share of what the widest blade asks are a band saw's; from the
# second on, where a bow also sums clearly better than straight lines do, a round saw's; between
# the two nothing is said.
_STRAIGHT_SHARE, _BOWED_SHARE, _BETTER_BOWED = 0.4, 0.8, 1.15
# Marks are strong where they are so many times the median of windows this long; more places than
# a person would go and look at are not told.
_WINDOW_MM, _STRONG = 25.0, 2.0
_MOST_PLACES = 3


@dataclass(frozen=True, slots=True, eq=False)
class _Strips:
    """(M, N) light along each strip; (M,) how far from the middle, mm; the step along, mm."""

    light: Doubles
    y_mm: Doubles
    width_mm: float
    step_mm: float

    def moves(self, lean: float, bow_mm: float) -> Doubles:
        """Return (M,) how far stripes lie along the board at each strip, mm."""
        return lean * self.y_mm + bow_mm * (2 * self.y_mm / self.width_mm) ** 2


def find_saw_marks(first: FacePicture, low: FacePicture, outline: Polygon) -> SawMarks | None:
    """Return how saw marks run under the low lamp; None says nothing of whether there are any.

    Parameters
    ----------
    first, low
        Flat pictures of one face, pixel by pixel over each other.
    outline
        The face to the arris, mm of the pictures; along the board is x.
    """
    under_lamp = _light(low)
    # What both lights show alike is colour, not relief.
    pictures = (under_lamp, under_lamp - _light(first))
    seen = _inside(low, outline)
    found = [_strips(light, seen, low, outline) for light in pictures]
    strips = found[0]
    if strips is None or any(one is None or _clearer(one) < _CLEARER for one in found):
        return None
    spectra, waves = _spectra(strips)
    lean, bow_mm, best = _best(strips, spectra, waves, _LEANS, _BOWS_MM)
    lean, bow_mm, best = _best(
        strips, spectra, waves,
        lean + np.linspace(-0.02, 0.02, 9), bow_mm + np.linspace(-1.5, 1.5, 7),
    )  # fmt: skip
    straight = _best(strips, spectra, waves, _LEANS, np.zeros(1))[2]
    asked_mm = strips.width_mm**2 / (8 * _WIDEST_RADIUS_MM)
    is_bowed = None
    if abs(bow_mm) <= _STRAIGHT_SHARE * asked_mm:
        is_bowed = False
    elif abs(bow_mm) >= _BOWED_SHARE * asked_mm and best > _BETTER_BOWED * straight:
        is_bowed = True
    return SawMarks(is_bowed, bow_mm, lean, _strong_places(strips, lean, bow_mm))


def _light(face: FacePicture) -> Singles:
    return np.asarray(np.log(grey_of(face.pixels).astype(np.float32) + 8.0), dtype=np.float32)


def _inside(face: FacePicture, outline: Polygon) -> Singles:
    """Return (H, W) 1 where wood shows that is not the rim, else 0."""
    wood = outline.buffer(-_RIM_MM)
    inside = painted((wood,), face.origin_mm, face.mm_per_px, face.seen.shape)
    return np.asarray(inside & face.seen, dtype=np.float32)


def _strips(light: Singles, seen: Singles, face: FacePicture, outline: Polygon) -> _Strips | None:
    """Return the fine light along narrow strips; None on a face too small to say anything of."""
    mm = face.mm_per_px
    sigma = _SLOW_MM / mm
    share = cv2.GaussianBlur(seen, (0, 0), sigma, sigmaY=0.1)
    slow = cv2.GaussianBlur(light * seen, (0, 0), sigma, sigmaY=0.1) / np.maximum(share, 1e-3)
    fine = np.clip((light - slow) * seen, -0.3, 0.3)
    x0, y0, x1, y1 = np.subtract(outline.bounds, [*face.origin_mm] * 2)
    rows = round(_STRIP_MM / mm)
    tops = np.arange(round((y0 + _RIM_MM) / mm), round((y1 - _RIM_MM) / mm) - rows + 1, rows)
    left, right = round((x0 + _END_MM) / mm), round((x1 - _END_MM) / mm)
    right = min(right, fine.shape[1])
    if len(tops) < _FEWEST_STRIPS or left < 0 or (right - left) * mm < _PIECE_MM:
        return None
    lit = [fine[top : top + rows, left:right].sum(axis=0) for top in tops]
    counted = [seen[top : top + rows, left:right].sum(axis=0) for top in tops]
    means = np.array(lit, np.float64) / np.maximum(np.array(counted), rows / 2)
    middle = (tops + rows / 2) * mm - (y0 + y1) / 2
    return _Strips(means, middle, float(y1 - y0), mm)


def _spectra(strips: _Strips) -> tuple[Complexes, Doubles]:
    """Return (M, K, F) the spectra of K pieces of each strip, and (F,) the waves per mm."""
    whole = strips.light.shape[1]
    pieces = max(1, int(whole * strips.step_mm / _PIECE_MM))
    long = whole // pieces
    cut = strips.light[:, : pieces * long].reshape(len(strips.light), pieces, long)
    waves = np.asarray(np.fft.rfftfreq(long, strips.step_mm), dtype=np.float64)
    kept = (waves > 1 / _PERIODS_MM[1]) & (waves < 1 / _PERIODS_MM[0])
    return np.fft.rfft(cut * np.hanning(long), axis=2)[:, :, kept], waves[kept]


def _best(
    strips: _Strips, spectra: Complexes, waves: Doubles, leans: Doubles, bows_mm: Doubles
) -> tuple[float, float, float]:
    """Return the lean and bow of the stripes that add up best, and their semblance, 0 to 1."""
    most = len(spectra) * float((np.abs(spectra) ** 2).sum()) or 1.0
    best = (0.0, 0.0, -1.0)
    for lean in leans:
        for bow_mm in bows_mm:
            turn = np.exp(2j * np.pi * strips.moves(lean, bow_mm)[:, None] * waves)
            stack = np.einsum("mkf,mf->kf", spectra, turn)
            semblance = float((np.abs(stack) ** 2).sum()) / most
            if semblance > best[2]:
                best = (float(lean), float(bow_mm), semblance)
    return best


def _clearer(strips: _Strips) -> float:
    """Return how many times better the stripes add up than strips moved at random."""
    spectra, waves = _spectra(strips)
    found = _best(strips, spectra, waves, _LEANS, _BOWS_MM)[2]
    rng = np.random.default_rng(0)
    floor = 1e-9
    for _ in range(_RANDOM):
        moves = rng.uniform(0, _PIECE_MM, (*spectra.shape[:2], 1))
        moved = spectra * np.exp(2j * np.pi * moves * waves)
        floor = max(floor, _best(strips, moved, waves, _LEANS, _BOWS_MM[::2])[2])
    return found / floor


def _strong_places(strips: _Strips, lean: float, bow_mm: float) -> tuple[tuple[float, float], ...]:
    """Return where along the board, at mid-width, marks stand out far above the middle of all."""
    long = strips.light.shape[1]
    waves = np.asarray(np.fft.rfftfreq(long, strips.step_mm), dtype=np.float64)
    kept = (waves > 1 / _PERIODS_MM[1]) & (waves < 1 / _PERIODS_MM[0])
    turn = np.exp(2j * np.pi * strips.moves(lean, bow_mm)[:, None] * waves)
    stack = np.fft.irfft((np.fft.rfft(strips.light) * turn * kept).mean(axis=0), long)
    window = round(_WINDOW_MM / strips.step_mm)
    count = long // window
    strength = np.sqrt((stack[: count * window].reshape(count, window) ** 2).mean(axis=1))
    strong = np.flatnonzero(strength > _STRONG * np.median(strength))
    # One window between two strong ones does not part them.
    runs = np.split(strong, np.flatnonzero(np.diff(strong) > 2) + 1) if len(strong) else []
    runs = sorted(runs, key=lambda run: -float(strength[run].max()))[:_MOST_PLACES]
    places = ((float(run[0]), float(run[-1]) + 1.0) for run in runs)
    return tuple(sorted((_END_MM + a * _WINDOW_MM, _END_MM + b * _WINDOW_MM) for a, b in places))
