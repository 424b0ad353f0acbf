"""From the network's shares to regions of the face: spots that touch are parted, lines joined."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray
from shapely.geometry import Polygon
from skimage.morphology import h_maxima
from skimage.segmentation import watershed

from scanner.geometry.frames import face_from_picture
from scanner.geometry.polygons import polygon_of
from scanner.vision.cv import pieces_in
from scanner.vision.flaws.learned_maps import ShareMaps
from scanner.vision.flaws.surface import WORK_MM_PER_PX

Singles = NDArray[np.float32]
Bools = NDArray[np.bool_]

# A spot's region reaches down to this share, and to this part of its own best share: a faint
# knot is outlined by its own strength.
_SPOT_SHARE = 0.30
_SPOT_OF_BEST = 0.5
_SMALLEST_SPOT_PX = 20
# A middle is a top of ``core``, at least this high and this much over what lies between.
_MIDDLE = 0.35
_STANDS_OUT = 0.12
_SMOOTH_SHARE = 0.08
# Wider than this part of the smaller spot, a border is no neck between two spots.
_NECK_SHARE = 0.7
_LINE_GAP_PX = 12


@dataclass(frozen=True, slots=True)
class LineLimits:
    """When a line is worth telling: chosen on boards the network had not seen (flaws.md).

    Attributes
    ----------
    sure, likely
        Grown from pixels over the first share into those over the second.
    shortest_px
        Length along the board.
    least_mean
        Mean share over the whole line.
    """

    sure: float
    likely: float
    shortest_px: int
    least_mean: float


LINE_LIMITS = {
    "check": LineLimits(0.99, 0.8, 40, 0.92),
    "resin": LineLimits(0.5, 0.3, 16, 0.0),
    "pith": LineLimits(0.5, 0.3, 40, 0.0),
}


@dataclass(frozen=True, slots=True, eq=False)
class Region:
    """Pixels of one candidate inside a box of the face.

    Attributes
    ----------
    row, column
        Corner of the box.
    pixels
        (h, w) of the box.
    """

    row: int
    column: int
    pixels: Bools

    @property
    def area_px(self) -> int:
        """Pixels in the region."""
        return int(self.pixels.sum())

    def of(self, values: Singles) -> Singles:
        """Return the values (N,) of a map of the face in the region."""
        inside: Singles = self.box_of(values)[self.pixels]
        return inside

    def mean(self, values: Singles) -> float:
        """Return the mean of a map of the face over the region."""
        return float(self.of(values).mean())

    def most(self, values: Singles) -> float:
        """Return the greatest value of a map of the face in the region."""
        return float(self.of(values).max())

    def box_of(self, values: Singles) -> Singles:
        """Return a map of the face in the region's box, (h, w)."""
        h, w = self.pixels.shape
        return values[self.row : self.row + h, self.column : self.column + w]


def outline_mm(region: Region, origin_mm: tuple[float, float]) -> Polygon:
    """Return the outline of a region, face mm; its rim is rounded by half a pixel."""
    soft = cv2.GaussianBlur(np.pad(region.pixels.astype(np.float32), 3), (0, 0), 0.6)
    rings, _ = cv2.findContours(
        (soft > 0.5).astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE
    )
    if not rings:
        return Polygon()
    ring = max(rings, key=cv2.contourArea).reshape(-1, 2).astype(np.float64)
    if len(ring) < 3:
        return Polygon()
    ring += np.array([region.column, region.row]) - 3.0
    # Contours run through pixel centres: half a pixel of the region lies outside them.
    shape = polygon_of(face_from_picture(ring, origin_mm, WORK_MM_PER_PX))
    rounded = shape.buffer(0.5 * WORK_MM_PER_PX).simplify(0.12)
    return polygon_of(np.asarray(rounded.exterior.coords, dtype=np.float64))


def size_text(outline: Polygon) -> str:
    """Return how long and wide an outline is, as a reason says it."""
    x0, y0, x1, y1 = outline.bounds
    return f"{x1 - x0:.0f} x {y1 - y0:.0f} mm"


def spot_regions(maps: ShareMaps, smallest_px: int = _SMALLEST_SPOT_PX) -> list[Region]:
    """Return the regions that may be knots, holes or bark pockets, at least so large."""
    share, core = maps.of("spot"), maps.of("core")
    found: list[Region] = []
    for region in _pieces(share > _SPOT_SHARE):
        best = region.most(share)
        cut = region.box_of(share) > max(_SPOT_SHARE, _SPOT_OF_BEST * best)
        for piece in _parted(Region(region.row, region.column, region.pixels & cut), core):
            if piece.area_px >= smallest_px:
                found.append(piece)
    return found


def line_regions(maps: ShareMaps, kind: str, limits: LineLimits | None = None) -> list[Region]:
    """Return the regions of one kind of line; pieces in a row are one."""
    return lines_of(maps.of(kind), limits or LINE_LIMITS[kind])


def lines_of(share: Singles, limits: LineLimits) -> list[Region]:
    """Return the regions of a map (H, W) of shares that are lines; pieces in a row are one."""
    bridge = np.ones((3, _LINE_GAP_PX + 1), np.uint8)
    whole = (share > limits.likely).astype(np.uint8)
    joined = cv2.morphologyEx(whole, cv2.MORPH_CLOSE, bridge) > 0
    return [
        region
        for region in _pieces(joined)
        if region.most(share) > limits.sure
        and region.pixels.shape[1] >= limits.shortest_px
        and region.mean(share) >= limits.least_mean
    ]


def parts_of(region: Region) -> list[Region]:
    """Return the connected parts of a region."""
    return [
        Region(region.row + part.row, region.column + part.column, part.pixels)
        for part in _pieces(region.pixels)
    ]


def _pieces(where: Bools) -> list[Region]:
    """Return the connected pieces of a mask."""
    labels, boxes = pieces_in(where.astype(np.uint8), connectivity=8)
    found = []
    for index in range(1, len(boxes)):
        x, y, w, h, _area = (int(v) for v in boxes[index])
        found.append(Region(y, x, labels[y : y + h, x : x + w] == index))
    return found


def _parted(region: Region, core: Singles) -> list[Region]:
    """Return the spots of a region: one for each middle that stands apart from the others."""
    if not region.pixels.any():
        return []
    # A middle is as wide as its spot: a large one may have a ragged top.
    sigma = max(0.8, _SMOOTH_SHARE * float(np.sqrt(region.area_px)))
    inside = np.where(region.pixels, region.box_of(core), 0.0).astype(np.float32)
    height = np.asarray(cv2.GaussianBlur(inside, (0, 0), sigma), dtype=np.float32)
    height = np.where(region.pixels, height, 0.0).astype(np.float32)
    tops = h_maxima(height, _STANDS_OUT).astype(np.uint8)
    tops[height < _MIDDLE] = 0
    count, labels = cv2.connectedComponents(tops, connectivity=8)
    if count <= 2:
        return [region]
    shares = _without_wide_necks(watershed(-height, labels, mask=region.pixels))
    return [
        _tight(Region(region.row, region.column, shares == index))
        for index in np.unique(shares)
        if index
    ]


def _without_wide_necks(shares: NDArray[np.int32]) -> NDArray[np.int32]:
    """Return the parts with those joined again whose common border is no neck."""
    joined = shares.copy()
    while True:
        pair = _widest_neck(joined)
        if pair is None:
            return joined
        joined[joined == pair[1]] = pair[0]


def _widest_neck(shares: NDArray[np.int32]) -> tuple[int, int] | None:
    """Return two parts whose border is wide for the smaller of them, or None."""
    borders: dict[tuple[int, int], int] = {}
    for one, other in ((shares[:, :-1], shares[:, 1:]), (shares[:-1], shares[1:])):
        apart = (one != other) & (one > 0) & (other > 0)
        low, high = np.minimum(one, other)[apart], np.maximum(one, other)[apart]
        for key in zip(low.tolist(), high.tolist(), strict=True):
            borders[key] = borders.get(key, 0) + 1
    areas = np.bincount(shares.ravel())
    worst, widest = None, _NECK_SHARE
    for (low_part, high_part), border in borders.items():
        across = 2.0 * np.sqrt(min(areas[low_part], areas[high_part]) / np.pi)
        # A border of pixel sides is about 1.27 times as long as the line it follows.
        share = border / 1.27 / across
        if share > widest:
            worst, widest = (low_part, high_part), float(share)
    return worst


def _tight(region: Region) -> Region:
    rows, columns = np.flatnonzero(region.pixels.any(1)), np.flatnonzero(region.pixels.any(0))
    if not len(rows):
        return region
    top, left = int(rows[0]), int(columns[0])
    inner = region.pixels[top : rows[-1] + 1, left : columns[-1] + 1]
    return Region(region.row + top, region.column + left, inner)
