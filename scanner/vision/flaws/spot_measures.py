"""What can be measured on each dark spot of a face: on all of them at once, map by map."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, TypeAlias

import cv2
import numpy as np
from numpy.typing import NDArray

from scanner.vision.flaws.surface import WORK_MM_PER_PX

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from scanner.vision.flaws.surface import Singles, Surface

Bools = NDArray[np.bool_]
Doubles = NDArray[np.float64]
# A piece of the face: its row and column, and its pixels (h, w) in that box.
Piece: TypeAlias = tuple[int, int, Bools]

FEATURES = (
    "log_size",
    "darker",
    "darker_peak",
    "around",
    "tint",
    "redder",
    "yellower",
    "step",
    "solidity",
    "roundness",
    "along",
    "swirl",
    "turn",
    "disorder",
    "beyond",
    "at_edge",
    "texture",
    "browner",
    "greyer",
    "sharpness",
)

_THREE = np.ones((3, 3), np.uint8)
# Wood round a spot is looked at over so many pixels at least.
_LEAST_COLLAR_PX, _LEAST_AROUND_PX = 6, 12
_STRIP_PX = 64


@dataclass(frozen=True, slots=True)
class _Places:
    """Places of one piece in the flat maps: itself, just round it, its rim, and further round.

    ``hull_px``: area of its convex hull; ``touching``: pixels near by that are no wood.
    """

    spot: NDArray[np.int32]
    collar: NDArray[np.int32]
    rim: NDArray[np.int32]
    around: NDArray[np.int32]
    hull_px: float
    touching: int


def measured(surface: Surface, pieces: Sequence[Piece]) -> Iterator[tuple[Piece, Doubles]]:
    """Yield each piece with its measures, in the order of `FEATURES`.

    Those are left out that are too small to say.
    """
    rows, columns = surface.wood.shape
    # Made once: a box cut out of it tells where its pixels lie in the flat maps.
    places_px = np.arange(rows * columns, dtype=np.int32).reshape(rows, columns)
    kept, places = [], []
    for piece in pieces:
        found = _places_of(piece, surface.wood, places_px)
        if found is not None:
            kept.append(piece)
            places.append(found)
    if not kept:
        return iter(())
    return zip(kept, _measures(surface, places), strict=True)


def _places_of(piece: Piece, wood: Bools, places_px: NDArray[np.int32]) -> _Places | None:
    row, column, region = piece
    radius = float(np.sqrt(np.count_nonzero(region) / np.pi))
    margin = int(np.ceil(1.5 * radius)) + 4
    top, left = max(0, row - margin), max(0, column - margin)
    height, width = region.shape
    window = np.s_[top : row + height + margin, left : column + width + margin]
    there, flat = wood[window], places_px[window]
    inside = np.zeros(there.shape, dtype=np.uint8)
    inside[row - top : row - top + height, column - left : column - left + width] = region
    away = np.asarray(cv2.distanceTransform(1 - inside, cv2.DIST_L2, 3))
    collar = flat[(away > 1) & (away <= max(3.0, 0.8 * radius)) & there]
    around = flat[(away > 0) & (away <= 4 + 1.3 * radius) & there]
    if len(collar) < _LEAST_COLLAR_PX or len(around) < _LEAST_AROUND_PX:
        return None
    rim = inside.view(np.bool_) & (cv2.erode(inside, _THREE) == 0)
    hull = cv2.convexHull(np.asarray(cv2.findNonZero(inside)))
    hull_px = cv2.contourArea(hull) + 0.5 * cv2.arcLength(hull, True) + 1
    touching = int(np.count_nonzero(~there & (away <= 4)))
    return _Places(flat[inside.view(np.bool_)], collar, flat[rim], around, hull_px, touching)


class _Many:
    """Places of all pieces in a row, over which means are formed piece by piece."""

    def __init__(self, places: list[NDArray[np.int32]]) -> None:
        self.counts = np.array([len(one) for one in places])
        self.starts = np.concatenate([[0], np.cumsum(self.counts)[:-1]])
        self.at = np.concatenate(places)

    def of(self, values: NDArray[np.floating]) -> NDArray[np.floating]:
        """Return a map's values at all places in a row."""
        return values.ravel().take(self.at)

    def mean(self, values: NDArray[np.floating]) -> Doubles:
        """Return means over each piece of values at all places in a row."""
        return np.asarray(np.add.reduceat(values, self.starts) / self.counts, np.float64)

    def mean_of(self, values: NDArray[np.floating]) -> Doubles:
        """Return means of a map over each piece."""
        return self.mean(self.of(values))

    def each(self, of_piece: Doubles) -> Doubles:
        """Return each piece's own number at all of its places."""
        return np.repeat(of_piece, self.counts)

    def percentile(self, values: NDArray[np.floating], percent: float) -> Doubles:
        """Return a percentile over each piece of values at all places in a row."""
        sure = values[np.lexsort((values, np.repeat(np.arange(len(self.counts)), self.counts)))]
        share = 0.01 * percent * (self.counts - 1)
        low = np.floor(share).astype(int)
        high = np.minimum(low + 1, self.counts - 1)
        first, second = (sure[self.starts + k].astype(np.float64) for k in (low, high))
        return np.asarray(first + (share - low) * (second - first))


def _measures(surface: Surface, places: list[_Places]) -> Doubles:
    """Return (N, len(FEATURES)) the measures of pieces."""
    spot = _Many([one.spot for one in places])
    collar = _Many([one.collar for one in places])
    rim = _Many([one.rim for one in places])
    around = _Many([one.around for one in places])
    area = spot.counts.astype(np.float64)
    columns = surface.wood.shape[1]
    unit = float(np.float32(surface.light_spread))
    # Maps are formed one after another and let go again: a long face's are large.
    lab = surface.lab
    found: dict[str, Doubles] = {}
    lightness = np.ascontiguousarray(lab[..., 0])
    light = np.asarray(cv2.GaussianBlur(lightness, (0, 0), 1.0), np.float32)
    depth = collar.mean_of(light) - spot.mean_of(light)
    g_x = cv2.Sobel(light, cv2.CV_32F, 1, 0, scale=0.125)
    g_y = cv2.Sobel(light, cv2.CV_32F, 0, 1, scale=0.125)
    step = rim.mean(np.hypot(rim.of(np.asarray(g_x)), rim.of(np.asarray(g_y))))
    del light, g_x, g_y
    texture, usual = _texture(lightness, surface.wood)
    found["texture"] = spot.mean_of(texture) / usual
    del texture, lightness
    for name, channel in (("redder", 1), ("yellower", 2)):
        soft = np.asarray(cv2.GaussianBlur(lab[..., channel], (0, 0), 1.5), np.float32)
        found[name] = spot.mean_of(soft) - collar.mean_of(soft)
    browner, dimmer = _brown_and_dim(lab, spot, collar)
    doubled = np.float32(2) * surface.grain.angle_rad
    coherence = surface.grain.coherence
    sine, cosine = (
        spot.mean(turn(spot.of(doubled)) * spot.of(coherence)) for turn in (np.sin, np.cos)
    )
    sin2 = np.sin(around.of(doubled)) * around.of(coherence)
    # Grain that parts before the spot and closes behind it turns by the sign of -dx * dy.
    rows_px, columns_px = np.divmod(spot.at, columns)
    c_y, c_x = spot.mean(rows_px), spot.mean(columns_px)
    y, x = np.divmod(around.at, columns)
    expected = -np.sign((x - around.each(c_x)) * (y - around.each(c_y)))
    along, aside, wide, thin = _spread(spot, columns_px - spot.each(c_x), rows_px - spot.each(c_y))
    dark = spot.of(surface.darker)
    touching = np.array([one.touching for one in places]) / np.maximum(1.0, rim.counts)
    hull = np.maximum([one.hull_px for one in places], area)
    found |= {
        "log_size": np.log(2 * np.sqrt(area / np.pi) * WORK_MM_PER_PX),
        "darker": spot.mean(dark),
        "darker_peak": spot.percentile(dark, 90),
        "around": spot.mean_of(surface.darker_around),
        "tint": spot.mean_of(surface.tint),
        "step": step / unit,
        "solidity": area / hull,
        "roundness": thin / wide,
        "along": np.log(np.sqrt(along / aside)),
        "swirl": around.mean(expected * sin2),
        "turn": around.mean(np.abs(sin2)),
        "disorder": 1.0 - np.hypot(sine, cosine),
        "beyond": depth / unit,
        "at_edge": np.minimum(touching, 1.0),
        "browner": browner,
        "greyer": np.clip(browner / np.maximum(dimmer, 0.03), -1.5, 1.5),
        "sharpness": np.minimum(step / np.maximum(depth, 1.0), 1.0),
    }
    return np.column_stack([found[name] for name in FEATURES])


def _texture(lightness: Singles, wood: Bools) -> tuple[Singles, float]:
    """Return how uneven a face is over a millimetre or two, and how uneven it is usually."""
    fine = lightness - cv2.GaussianBlur(lightness, (0, 0), 2.0)
    np.multiply(fine, fine, out=fine)
    texture = np.asarray(cv2.GaussianBlur(fine, (0, 0), 2.0), np.float32)
    np.sqrt(texture, out=texture)
    return texture, float(np.median(texture[wood])) + 1e-3


def _brown_and_dim(lab: Singles, spot: _Many, collar: _Many) -> tuple[Doubles, Doubles]:
    """Return by how much each spot is browner (log red / blue) and dimmer than its collar.

    A shadow dims all colours about alike, blue (the sky's) least; wood darkens by browning.
    """
    brown, bright = np.empty(lab.shape[:2], np.float32), np.empty(lab.shape[:2], np.float32)
    # Strip by strip: a long face's colours take much memory.
    for top in range(0, len(lab), _STRIP_PX):
        strip = slice(top, top + _STRIP_PX)
        rgb = np.asarray(cv2.cvtColor(lab[strip], cv2.COLOR_LAB2RGB), np.float32)
        np.log(np.maximum(rgb, np.float32(0.01), out=rgb), out=rgb)
        np.subtract(rgb[..., 0], rgb[..., 2], out=brown[strip])
        np.mean(rgb, axis=2, out=bright[strip])
    over = []
    for values in (brown, bright):
        soft = np.asarray(cv2.GaussianBlur(values, (0, 0), 1.5), np.float32)
        over.append(spot.mean_of(soft) - collar.mean_of(soft))
    return over[0], -over[1]


def _spread(
    spot: _Many, off_x: Doubles, off_y: Doubles
) -> tuple[Doubles, Doubles, Doubles, Doubles]:
    """Return each piece's variance along x and y, and its deviations along its own axes, px."""
    over = np.maximum(spot.counts - 1, 1) / spot.counts
    xx, yy, xy = (spot.mean(v) / over for v in (off_x * off_x, off_y * off_y, off_x * off_y))
    # Half a pixel's own extent keeps a line one pixel thick from being infinitely thin.
    xx, yy = xx + 0.1, yy + 0.1
    middle, half = 0.5 * (xx + yy), np.hypot(0.5 * (xx - yy), xy)
    wide, thin = (np.sqrt(np.maximum(middle + sign * half, 0.05)) for sign in (1, -1))
    return xx, yy, wide, thin
