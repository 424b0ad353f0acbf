"""Which way the grain runs over a face: a direction field from the structure tensor."""

from collections.abc import Iterable
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from scanner.vision.rim import parts_round, reach_px

Singles = NDArray[np.float32]

# Fine enough for pores and ring lines, coarse enough to forget single pixels' noise.
_GRADIENT_MM = 0.7
_GATHER_MM = 3.0
# Saw marks run across the whole face; what is alike over this height is taken for one.
_SAW_MARK_HEIGHT_MM = 14.0


@dataclass(frozen=True, slots=True, eq=False)
class GrainField:
    """Direction of the grain at each pixel.

    Attributes
    ----------
    angle_rad
        (H, W), from x towards y (down), in (-pi/2, pi/2].
    coherence
        (H, W), 0 (no direction) to 1 (lines all one way).
    """

    angle_rad: Singles
    coherence: Singles


def masked_blur(values: Singles, weight: Singles, sigma_x_px: float, sigma_y_px: float) -> Singles:
    """Return a Gaussian mean that only counts pixels by their weight (0 where none is near).

    Wide means are formed on a coarser grid: nothing finer than a sixth of sigma is in them.
    """
    return masked_blurs((values,), weight, sigma_x_px, sigma_y_px)[0]


def masked_blurs(
    maps: Iterable[Singles], weight: Singles, sigma_x_px: float, sigma_y_px: float
) -> tuple[Singles, ...]:
    """Return `masked_blur` of each of several maps (H, W) of one weight."""
    shrink_x, shrink_y = (max(1, int(sigma / 6)) for sigma in (sigma_x_px, sigma_y_px))
    rows, columns = weight.shape
    is_coarse = shrink_x > 1 or shrink_y > 1
    size = (-(-columns // shrink_x), -(-rows // shrink_y))
    if is_coarse:
        sigma_x_px, sigma_y_px = sigma_x_px * size[0] / columns, sigma_y_px * size[1] / rows

    def blurred(values: Singles) -> Singles:
        small = _resized(values, size, cv2.INTER_AREA) if is_coarse else values
        soft = cv2.GaussianBlur(
            small, (0, 0), sigma_x_px, sigmaY=sigma_y_px, borderType=cv2.BORDER_REFLECT
        )
        return np.asarray(soft, dtype=np.float32)

    def mean_of(values: Singles) -> Singles:
        mean = blurred(values * weight)
        np.divide(mean, have, out=mean)
        return _resized(mean, (columns, rows)) if is_coarse else mean

    have = np.maximum(blurred(weight), np.float32(1e-4))
    return tuple(mean_of(values) for values in maps)


def carried_out(values: Singles, there: NDArray[np.bool_], sigma_px: float) -> Singles:
    """Return a map (H, W) or (H, W, C) with the mean of what is near wherever nothing is.

    ``sigma_px``: under 12, as `masked_blurs` forms such means on the map's own grid.
    """
    carried = values.copy()
    reach = reach_px(sigma_px)
    for part, inner in parts_round(there, (reach, reach)):
        bare = ~there[part][inner]
        seen = values[part].reshape(*there[part].shape, -1)
        channels = (seen[..., channel] for channel in range(seen.shape[2]))
        means = masked_blurs(channels, there[part].astype(np.float32), sigma_px, sigma_px)
        target = carried[part][inner].reshape(*bare.shape, -1)
        for channel, mean in enumerate(means):
            target[bare, channel] = mean[inner][bare]
    return carried


def _resized(values: Singles, size: tuple[int, int], how: int = cv2.INTER_LINEAR) -> Singles:
    return np.asarray(cv2.resize(values, size, interpolation=how), dtype=np.float32)


def without_saw_marks(light: Singles, weight: Singles, mm_per_px: float) -> Singles:
    """Return the lightness less what changes fast along the board but hardly across it."""
    along = light - masked_blur(light, weight, 8.0 / mm_per_px, 0.5 / mm_per_px)
    marks = masked_blur(along, weight, 0.4 / mm_per_px, _SAW_MARK_HEIGHT_MM / mm_per_px)
    return np.asarray(light - marks, dtype=np.float32)


def grain_field(
    light: Singles, wood: NDArray[np.bool_], mm_per_px: float, gather_mm: float = _GATHER_MM
) -> GrainField:
    """Return the grain's direction over a face.

    Parameters
    ----------
    light
        (H, W) lightness, any unit, the board along x.
    wood
        (H, W), where there is wood; elsewhere the field means nothing.
    mm_per_px
        Scale.
    gather_mm
        Radius over which one direction is formed.

    References
    ----------
    J. Bigun and G. H. Granlund 1987, "Optimal orientation detection of linear symmetry".
    """
    weight = wood.astype(np.float32)
    calm = without_saw_marks(light, weight, mm_per_px)
    # Off the board the nearest wood goes on, so that the edge itself makes no gradient.
    calm = carried_out(calm, wood, 3 / mm_per_px)
    sigma = _GRADIENT_MM / mm_per_px
    soft = cv2.GaussianBlur(calm, (0, 0), sigma)
    g_x, g_y = cv2.Scharr(soft, cv2.CV_32F, 1, 0), cv2.Scharr(soft, cv2.CV_32F, 0, 1)
    del calm, soft
    inner = cv2.erode(
        wood.astype(np.uint8), np.ones((3, 3), np.uint8), iterations=max(1, round(2 * sigma))
    ).astype(np.float32)
    # Square roots keep one hard line (a pencil line, a check) from outvoting the grain around it.
    strength = np.sqrt(g_x * g_x + g_y * g_y) + np.float32(1e-6)
    gather = gather_mm / mm_per_px
    products = (one * other / strength for one, other in ((g_x, g_x), (g_y, g_y), (g_x, g_y)))
    g_xx, g_yy, g_xy = masked_blurs(products, inner, gather, gather)
    whole = np.maximum(g_xx + g_yy, np.float32(1e-6))
    off_x, off_y = np.subtract(g_xx, g_yy, out=g_xx), np.multiply(g_xy, np.float32(2), out=g_xy)
    angle = np.arctan2(off_y, off_x)
    angle *= np.float32(0.5)
    angle += np.float32(np.pi / 2)
    np.subtract(angle, np.float32(np.pi), out=angle, where=angle > np.pi / 2)
    np.multiply(off_x, off_x, out=off_x)
    off_x += np.multiply(off_y, off_y, out=off_y)
    coherence = np.sqrt(off_x, out=off_x)
    coherence /= whole
    return GrainField(angle, coherence)


def turned_from(angle_rad: Singles, axis_rad: float | Singles) -> Singles:
    """Return the smallest turn between directions without an arrow, 0 to pi/2."""
    turn = np.abs(angle_rad - axis_rad) % np.pi
    return np.asarray(np.minimum(turn, np.pi - turn), dtype=np.float32)
