"""Which colours only chalk or crayon has on wood: pixel by pixel, before any shape is asked for."""

import cv2
import numpy as np
from numpy.typing import NDArray

Singles = NDArray[np.float32]
Bools = NDArray[np.bool_]

# Strokes are searched on a grid of a millimetre: chalk is 4 to 15 mm wide.
GRID_MM = 1.0
# The wood beneath is what most of so wide a neighbourhood shows.
_AROUND_MM = 41
# Of a stroke: in units of the board's own spread of colour it spreads to such pixels.
LIKELY_UNITS = 2.8
# Chalk skips over the furrows of the saw: gaps that are bridged.
GAP_MM = 5
WIDTH_MM = (2.0, 18.0)
# Of a line that parts are drawn with: so far off what lies around (delta E 1976), and so long.
_LINE_DELTA_E = 12.0
_LINE_MM = 90.0
# A red that only chalk or crayon has; knots and their halos are redder than the wood by less.
_RED_OF_NO_WOOD = 14.0
_BLUE_OF_NO_WOOD = 2.0
_GREEN_OF_NO_WOOD = -4.0
# Blue ink takes red and green and leaves the blue: of the light it takes, at least this share of
# yellow. What darkens by so much and takes less is black, or dark wood.
BLACK_DARKENS, BLUE_YELLOW = 9.0, 0.5


def drawn_pixels(lab: Singles, wood: Bools) -> Bools:
    """Return (H, W) pixels of a colour that only chalk or coloured crayon has on this wood.

    No shape is asked for: who knows where lines are wanted looks there. Black is left out, which
    only its shape tells from dark wood.

    Parameters
    ----------
    lab
        (H, W, 3) CIELAB at `GRID_MM` a pixel, the wood carried out past its rim.
    wood
        (H, W), where the wood is.
    """
    off = lab - wood_beneath(lab)
    bright, _ = gates(off)
    return np.asarray(wood & bright & (colour_units(off, wood) > LIKELY_UNITS))


def line_pixels(lab: Singles, mm_per_px: float) -> tuple[Bools, Singles]:
    """Return (H, W) pixels of long thin lines of a coloured crayon or chalk, and what is beneath.

    For a picture of board and floor together, where no board's own spread of colour is known.

    Parameters
    ----------
    lab
        (H, W, 3) CIELAB.
    mm_per_px
        Its scale.
    """
    around = round(_AROUND_MM / mm_per_px) | 1
    beneath = wood_beneath(lab, around)
    off = lab - beneath
    bright, _ = gates(off)
    strong = (bright & (np.linalg.norm(off, axis=2) > _LINE_DELTA_E)).astype(np.uint8)
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * round(GAP_MM / mm_per_px) + 1,) * 2)
    joined = cv2.morphologyEx(strong, cv2.MORPH_CLOSE, disc)
    inner = cv2.distanceTransform(joined, cv2.DIST_L2, 5) * mm_per_px
    _, labels, stats, _ = cv2.connectedComponentsWithStats(joined, connectivity=8)
    long = np.maximum(stats[:, 2], stats[:, 3]) * mm_per_px >= _LINE_MM
    long[0] = False
    for index in np.flatnonzero(long):
        x, y, w, h = (int(v) for v in stats[index, :4])
        box = (slice(y, y + h), slice(x, x + w))
        depth = inner[box][labels[box] == index]
        long[index] = 2 * float(np.percentile(depth, 95)) <= WIDTH_MM[1]
    drawn = cv2.dilate(long[labels].astype(np.uint8), np.ones((3, 3), np.uint8))
    return drawn > 0, beneath


def wood_beneath(small: Singles, around_px: int = _AROUND_MM) -> Singles:
    """Return the wood's colour around each place: strokes are the lesser part of it."""
    # OpenCV's wide medians take bytes only; a and b twice as fine as L.
    scale = np.array([2.5, 2.0, 2.0], dtype=np.float32)
    shift = np.array([0, 128, 128], dtype=np.float32)
    packed = np.clip(small * scale + shift, 0, 255).astype(np.uint8)
    return np.asarray((cv2.medianBlur(packed, around_px) - shift) / scale, np.float32)


def colour_units(off: Singles, wood: Bools) -> Singles:
    """Return how unusual each pixel's colour is here, in units of the board's own spread."""
    return in_units(off, colour_metric(off, wood))


def colour_metric(off: Singles, wood: Bools) -> NDArray[np.float64]:
    """Return the inverse covariance (3, 3) of the board's own colours."""
    sample = off[wood].astype(np.float64)
    own = sample[:: max(1, len(sample) // 40_000)]
    # What the camera's noise and JPEG alone leave of a stroke-wide mean.
    floor = np.diag([1.2**2, 0.7**2, 0.9**2])
    inverse = np.linalg.inv(np.cov(own.T) + floor)
    for _ in range(4):
        distance = np.sqrt(np.einsum("ni,ij,nj->n", own, inverse, own))
        calm = own[distance < max(2.5, float(np.percentile(distance, 60)))]
        # Cut at 2.5 deviations a normal cloud in three dimensions keeps 0.75 of its variance.
        inverse = np.linalg.inv(np.cov(calm.T) / 0.75 + floor)
    return np.asarray(inverse, dtype=np.float64)


def in_units(off: Singles, metric: NDArray[np.float64]) -> Singles:
    """Return the length of each (H, W, 3) colour in a metric (3, 3), shape (H, W)."""
    flat = off.reshape(-1, 3).astype(np.float64)
    distance = np.sqrt(np.einsum("ni,ij,nj->n", flat, metric, flat))
    return np.asarray(distance.reshape(off.shape[:2]), dtype=np.float32)


def gates(off: Singles) -> tuple[Bools, Bools]:
    """Return where the colour is off the wood's as chalk or coloured crayon is, and as black is.

    Wood goes darker, browner and yellower together; it turns neither paler and greyer at once, nor
    blue, green, nor red or yellow without darkening.
    """
    light, red, yellow = off[..., 0], off[..., 1], off[..., 2]
    white = (light > 2.5) & (yellow < 0.25 * light) & (red < 0.25 * light)
    blue = (yellow < -5.0) & (yellow < -0.35 * np.abs(light))
    green = (red < -4.0) & (light > -6.0)
    strong_red = (red > 5.0) & (red > 0.6 * np.abs(light)) & (red > 0.9 * yellow)
    strong_yellow = (yellow > 7.0) & ((light > -2.0) | (yellow > 1.2 * np.abs(light)))
    bright = white | blue | green | strong_red | strong_yellow
    return bright, (light < -9.0) & ~bright


def colour_name(off: Singles) -> str:
    """Return the name of a colour by how it differs (L, a, b) from the wood."""
    light, red, yellow = (float(v) for v in off)
    if light > 2.5 and max(red, yellow) < 0.25 * light and yellow > -1.2 * light:
        return "white"
    by_weight = {"red": red, "green": -1.3 * red, "yellow": 0.8 * yellow, "blue": -0.8 * yellow}
    name = max(by_weight, key=lambda name: by_weight[name])
    is_dark = light < -BLACK_DARKENS and yellow > BLUE_YELLOW * light
    return "dark" if name == "blue" and is_dark else name


def is_no_wood(colour: str, seen: Singles, off: Singles) -> bool:
    """Return whether no wood looks so: by the colour itself (L, a, b) and how it is off the wood's.

    Dead knots and iron stain are greyer than the wood around, but never blue.
    """
    match colour:
        case "white" | "yellow":
            return True
        case "blue":
            return float(np.median(seen[:, 2])) < _BLUE_OF_NO_WOOD
        case "green":
            return float(np.median(seen[:, 1])) < _GREEN_OF_NO_WOOD
        case "red":
            return float(np.median(off[:, 1])) > _RED_OF_NO_WOOD
        case _:
            return False
