"""Whether a knot is sound or loose: the network's word, and what the knot itself looks like.

The network alone leans on how dark a knot is. What is measured here beside its word tells a whole,
brown knot from a torn, grey one with a black rim.
"""

import cv2
import numpy as np
from numpy.typing import NDArray

from scanner.vision.flaws.learned_maps import ShareMaps, against_clear_wood
from scanner.vision.flaws.learned_regions import Region
from scanner.vision.flaws.spot_model import Model

Singles = NDArray[np.float32]
Doubles = NDArray[np.float64]

# Light and colour are log ratios to the board's clear wood, as the network sees it.
KNOT_MEASURES = (
    "loose",  # the network's log odds, mean over the knot
    "darkest",  # light that a twentieth of the knot is below
    "log_area",
    "texture",  # unevenness over a millimetre or two
    "browner_middle",
    "greener_inside",
    "browner_rim",  # just outside of the knot
    "light_around",  # 3.5 to 5.5 mm away
)

# By `scanner.vision.training.fit_soundness`, on 1030 knots of real training boards through networks
# that had not seen them; sound and loose ones weigh the same.
NOT_SOUND = Model(
    0.017,
    (
        ("loose", -0.3272, 2.997, 0.867, 0.093),
        ("darkest", -2.077, 0.8691, -1.378, 0.268),
        ("log_area", 5.609, 1.18, 0.707, 0.289),
        ("texture", 0.2894, 0.1338, 1.242, 0.366),
        ("browner_middle", 0.5517, 0.3354, -0.467, 0.026),
        ("greener_inside", 0.02206, 0.05943, -0.268, 0.102),
        ("browner_rim", 0.06711, 0.1323, 0.283, -0.093),
        ("light_around", 0.04109, 0.2708, 0.351, -0.026),
    ),
)

# In a photograph the network tells more, and the rows above, fitted on softwood under a line
# camera, take figure for tearing. By `tests.bench.fit_loose` on 185 knots of 40 boards of the first
# renderer (seeds 8000-8039) and 109 of the third (3000-3047), none of which the network was taught;
# renderers weigh alike, and sound and loose knots. More of the measures tell no more on both.
NOT_SOUND_ON_PHOTO = Model(
    -0.489,
    (
        ("loose", -1.103, 4.117, 1.479, 0.0),
        ("darkest", -2.019, 0.9406, -0.766, 0.0),
        ("log_area", 6.848, 0.9778, 0.568, 0.0),
        ("greener_inside", -0.04196, 0.05838, 0.545, 0.0),
    ),
)

_EVEN = 0.5
_AROUND_PX = 12
_TEXTURE_PX = 2.0
_LEAST_SHARE = 1e-4


def knot_measures(
    rgb: NDArray[np.uint8], clear: Singles, region: Region, maps: ShareMaps
) -> list[float]:
    """Return what a knot's soundness is judged by, in the order of `KNOT_MEASURES`.

    Parameters
    ----------
    rgb
        (H, W, 3) uint8, the face.
    clear
        Its clear wood (3,), 0..1 (`clear_wood`).
    region
        The knot's pixels.
    maps
        The network's shares of the face.
    """
    rows, columns = _around(region, rgb.shape)
    inside = np.zeros((rows.stop - rows.start, columns.stop - columns.start), np.uint8)
    top, left = region.row - rows.start, region.column - columns.start
    h, w = region.pixels.shape
    inside[top : top + h, left : left + w] = region.pixels
    cut = against_clear_wood(rgb[rows, columns], clear)
    light = np.ascontiguousarray(cut.mean(axis=2))
    brown = cut[..., 0] - cut[..., 2]
    green = cut[..., 1] - 0.5 * (cut[..., 0] + cut[..., 2])
    deep = cv2.distanceTransform(np.pad(inside, 1), cv2.DIST_L2, 5)[1:-1, 1:-1] - 0.5
    share = deep / max(float(deep.max()), 0.5)
    away = cv2.distanceTransform(1 - inside, cv2.DIST_L2, 5) - 0.5
    knot = inside > 0
    odds = np.clip(maps.of("loose")[rows, columns][knot], _LEAST_SHARE, 1 - _LEAST_SHARE)
    fine = light - cv2.GaussianBlur(light, (0, 0), _TEXTURE_PX)
    values = {
        "loose": np.log(odds / (1 - odds)).mean(),
        "darkest": np.percentile(light[knot], 5),
        "log_area": np.log(region.area_px),
        "texture": fine[knot].std(),
        "browner_middle": _mean(brown, knot & (share > 0.75)),
        "greener_inside": _mean(green, knot & (share > 0.5) & (share <= 0.75)),
        "browner_rim": _mean(brown, ~knot & (away < 2.0)),
        "light_around": _mean(light, ~knot & (away > 7.0) & (away <= 11.0)),
    }
    return [float(values[name]) for name in KNOT_MEASURES]


def loose_odds(measures: Doubles, model: Model = NOT_SOUND) -> Doubles:
    """Return for knots (N, len(KNOT_MEASURES)) how likely each is loose, hollow or cracked."""
    return model.odds(measures, KNOT_MEASURES)


def sound_on_flat(measures: list[float]) -> bool:
    """Return whether a knot on a flat picture is sound."""
    return bool(loose_odds(np.array([measures]))[0] < _EVEN)


def sound_on_photo(measures: list[float]) -> bool | None:
    """Return False where a knot in a photograph is likely not sound, else None.

    That a knot is sound is left to the person with the board: a loose one may look it.
    """
    odds = loose_odds(np.array([measures]), NOT_SOUND_ON_PHOTO)[0]
    return False if odds >= _EVEN else None


def _around(region: Region, shape: tuple[int, ...]) -> tuple[slice, slice]:
    h, w = region.pixels.shape
    rows = slice(max(0, region.row - _AROUND_PX), min(shape[0], region.row + h + _AROUND_PX))
    left = max(0, region.column - _AROUND_PX)
    return rows, slice(left, min(shape[1], region.column + w + _AROUND_PX))


def _mean(values: Singles, where: NDArray[np.bool_]) -> float:
    return float(values[where].mean()) if where.any() else 0.0
