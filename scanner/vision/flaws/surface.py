"""A face made ready for the finders: cropped, at one scale, measured against its own clear wood."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, TypeVar

import cv2
import numpy as np
from numpy.typing import NDArray
from shapely.geometry import Polygon

from scanner.geometry.frames import face_from_picture
from scanner.geometry.polygons import polygon_of
from scanner.vision.flaws.chalk import (
    Stroke,
    other_strokes,
    plain_strokes,
    seen_colours,
    stroke_pixels,
)
from scanner.vision.grain import GrainField, carried_out, grain_field, masked_blur
from scanner.vision.rim import share_over

if TYPE_CHECKING:
    from collections.abc import Callable

    from scanner.vision.flaws.learned_maps import ShareMaps
    from scanner.vision.photos.picture import FacePicture

Singles = NDArray[np.float32]
Bools = NDArray[np.bool_]
Values = TypeVar("Values", NDArray[np.float32], NDArray[np.bool_])

# One scale for every finder, so that their sizes in px mean the same on every picture.
WORK_MM_PER_PX = 0.5
_BORDER_MM = 6.0
# Beneath a stroke the wood goes on as it lies near by: so far along the grain, and across it no
# further than it must (sigmas). Under the least share of bare wood there is none to go by.
_WIPED_ALONG_PX, _WIPED_PX, _LEAST_BARE = 24.0, (2.0, 6.0, 11.0), 1e-3


@dataclass(frozen=True, slots=True, eq=False, weakref_slot=True)
class Surface:
    """The wood of one face at `WORK_MM_PER_PX`, with its own clear wood as the measure.

    Attributes
    ----------
    origin_mm
        Face mm of the centre of the first pixel.
    wood
        (H, W) where the face is.
    lab
        (H, W, 3) CIELAB, L 0..100.
    darker
        (H, W) how much darker than the wood further along the grain on both sides, in units of
        the board's own spread (about normal with deviation 1 in clear wood).
    darker_around
        (H, W) the same against the wood all round.
    tint
        (H, W) change of colour (a, b) against the wood around, in units of its own spread.
    light_spread
        The board's own spread of L in clear wood (one unit of ``darker``).
    grain
        Direction field.
    strokes
        What looks drawn on the wood; beneath those that can be nothing else (`is_no_wood`) the wood
        goes on in all the maps above.
    raked
        The same pixels under a low lamp; None without such a photo.
    shares
        Waits for what the network says of this wood; None where it was not asked ahead.
    """

    origin_mm: tuple[float, float]
    wood: Bools
    lab: Singles
    darker: Singles
    darker_around: Singles
    tint: Singles
    light_spread: float
    grain: GrainField
    u_mm: float
    strokes: tuple[Stroke, ...] = ()
    raked: Surface | None = None
    shares: Callable[[], ShareMaps] | None = None

    def outline_of(self, region: Bools | NDArray[np.uint8], smooth_mm: float = 0.5) -> Polygon:
        """Return the largest outline of a region of pixels, face mm."""
        soft = cv2.GaussianBlur(
            np.pad(region.astype(np.float32), 3), (0, 0), max(0.6, smooth_mm / WORK_MM_PER_PX)
        )
        found, _ = cv2.findContours(
            (soft > 0.5).astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE
        )
        if not found:
            return Polygon()
        ring = max(found, key=cv2.contourArea).reshape(-1, 2).astype(np.float64) - 3.0
        if len(ring) < 4:
            return Polygon()
        # Contours run through pixel centres: half a pixel of the region lies outside them.
        shape = polygon_of(face_from_picture(ring, self.origin_mm, WORK_MM_PER_PX))
        return polygon_of(
            np.asarray(
                shape.buffer(0.5 * WORK_MM_PER_PX).simplify(0.15).exterior.coords, dtype=np.float64
            )
        )

    def pixels_of(self, shape: Polygon) -> Bools:
        """Return the pixels inside a polygon of face mm."""
        return paint(shape, self.origin_mm, self.wood.shape)


def paint(shape: Polygon, origin_mm: tuple[float, float], size: tuple[int, ...]) -> Bools:
    """Return (H, W) pixels at the working scale that lie inside a polygon of face mm."""
    canvas = np.zeros(size[:2], dtype=np.uint8)
    if shape.is_empty:
        return canvas.astype(bool)
    ring = (np.asarray(shape.exterior.coords) - np.asarray(origin_mm)) / WORK_MM_PER_PX
    cv2.fillPoly(canvas, [np.round(ring * 16).astype(np.int32)], 1, shift=4)
    return canvas.astype(bool)


def robust_spread(values: Singles) -> float:
    """Return the deviation of the middle half, scaled to a normal's one deviation."""
    low, high = np.percentile(values, [25, 75])
    return float(max((high - low) / 1.349, 1e-3))


def prepare(
    face: FacePicture,
    outline: Polygon,
    ask: Callable[[Singles, Bools], Callable[[], ShareMaps]] | None = None,
) -> Surface:
    """Return the face's wood at the working scale with its darkness, tint and grain.

    Parameters
    ----------
    face
        The flat picture.
    outline
        The face to the arris, face mm.
    ask
        Called with ``lab`` and ``wood`` as soon as both stand, while the rest is still measured;
        what it gives becomes ``shares``.
    """
    x0, y0, x1, y1 = outline.bounds
    origin = (x0 - _BORDER_MM, y0 - _BORDER_MM)
    columns = int(np.ceil((x1 - x0 + 2 * _BORDER_MM) / WORK_MM_PER_PX))
    rows = int(np.ceil((y1 - y0 + 2 * _BORDER_MM) / WORK_MM_PER_PX))
    ratio = WORK_MM_PER_PX / face.mm_per_px
    shift_x = (origin[0] - face.origin_mm[0]) / face.mm_per_px
    shift_y = (origin[1] - face.origin_mm[1]) / face.mm_per_px
    move = np.array([[ratio, 0, shift_x], [0, ratio, shift_y]], dtype=np.float64)
    flags = cv2.WARP_INVERSE_MAP | cv2.INTER_LINEAR
    pixels = face.pixels
    if ratio > 1.2:
        pixels = np.asarray(cv2.GaussianBlur(pixels, (0, 0), 0.45 * ratio), dtype=np.uint8)
    rgb = cv2.warpAffine(
        pixels, move, (columns, rows), flags=flags, borderMode=cv2.BORDER_REPLICATE
    )
    seen = cv2.warpAffine(
        face.seen.astype(np.uint8), move, (columns, rows), flags=cv2.WARP_INVERSE_MAP
    ).astype(bool)
    wood = paint(outline, origin, (rows, columns)) & seen
    # Two pixels of the arris carry the floor's colour: the wood inside it goes on instead.
    sure = cv2.erode(wood.astype(np.uint8), np.ones((3, 3), np.uint8), iterations=2).astype(bool)
    lab = _carried_out(_lab_of(np.asarray(rgb, dtype=np.uint8)), sure)
    colours = seen_colours(lab, sure, WORK_MM_PER_PX)
    strokes = plain_strokes(colours, sure.shape) if colours else ()
    drawn = tuple(stroke for stroke in strokes if stroke.is_no_wood)
    if drawn:
        lab = _wiped(lab, sure, stroke_pixels(drawn, sure.shape))
    shares = ask(lab, wood) if ask else None
    if colours:
        strokes += other_strokes(colours, sure.shape)
    light = lab[..., 0]
    weight = sure.astype(np.float32)
    darker_L = _darker_than_along(light, weight)
    around_L = masked_blur(light, weight, 40.0, 40.0) - light
    light_spread = max(robust_spread(darker_L[sure]) if sure.any() else 1.0, 0.6)
    spread_around = max(robust_spread(around_L[sure]) if sure.any() else 1.0, 0.6)
    return Surface(
        origin_mm=origin,
        wood=wood,
        lab=lab,
        darker=darker_L / np.float32(light_spread),
        darker_around=around_L / np.float32(spread_around),
        tint=_tint(lab, weight, sure),
        light_spread=light_spread,
        grain=grain_field(light, wood, WORK_MM_PER_PX),
        u_mm=max(0.5, face.u_point_mm),
        strokes=strokes,
        shares=shares,
    )


def _lab_of(rgb: NDArray[np.uint8]) -> Singles:
    """Return (H, W, 3) CIELAB; a long face's floats are large, so they are formed in one place."""
    lab = rgb.astype(np.float32)
    lab /= np.float32(255)
    return np.asarray(cv2.cvtColor(lab, cv2.COLOR_RGB2LAB, dst=lab), dtype=np.float32)


def _carried_out(lab: Singles, sure: Bools) -> Singles:
    """Return the picture with the wood's rim carried outwards over what is not wood."""
    filled = carried_out(lab, sure, 3.0)
    reach = share_over(sure.astype(np.float32), (3.0, 3.0), 1e-4)
    filled[~reach] = cv2.mean(lab, mask=sure.view(np.uint8))[:3]
    return filled


def _wiped(lab: Singles, sure: Bools, drawn: Bools) -> Singles:
    """Return the picture with what is drawn on it replaced by the wood along the grain.

    The middle of a broad stroke lies further from bare wood: it is looked for further across.
    """
    bare = (sure & ~drawn).astype(np.float32)
    wiped, left = lab.copy(), drawn
    for across_px in _WIPED_PX:
        near = left & share_over(bare, (_WIPED_ALONG_PX, across_px), _LEAST_BARE)
        if near.any():
            for channel in range(3):
                wood = masked_blur(lab[..., channel], bare, _WIPED_ALONG_PX, across_px)
                wiped[..., channel][near] = wood[near]
        left = left & ~near
    return wiped


def _darker_than_along(light: Singles, weight: Singles) -> Singles:
    """Return how much darker each spot is than the wood along the grain on either side.

    The lighter side does not count: a streak, a ring band or a shadow goes on to one side at
    least, a knot to neither. One-sided means come from shifted Gaussians.
    """
    fine = masked_blur(light, weight, 1.0, 1.0)
    best: Singles | None = None
    for reach_mm in (14.0, 32.0):
        reach = reach_mm / WORK_MM_PER_PX
        mean = masked_blur(light, weight, 0.35 * reach, 4.0)
        have = share_over(weight, (0.35 * reach, 4.0), 0.2)
        step = round(reach)
        left_have, right_have = _shifted(have, step), _shifted(have, -step)
        left = np.where(left_have, _shifted(mean, step), mean)
        right = np.where(right_have, _shifted(mean, -step), left)
        left = np.where(left_have, left, right)
        contrast = np.minimum(left, right)
        contrast -= fine
        best = contrast if best is None else np.maximum(best, contrast, out=best)
    assert best is not None
    return best


def _shifted(values: Values, columns: int) -> Values:
    """Return the array moved right by columns (left if negative), zeros entering."""
    moved = np.zeros_like(values)
    if columns > 0:
        moved[:, columns:] = values[:, :-columns]
    else:
        moved[:, :columns] = values[:, -columns:]
    return moved


def _tint(lab: Singles, weight: Singles, sure: Bools) -> Singles:
    """Return the distance of (a, b) from the wood around, in units of its own spread."""
    total = np.zeros(lab.shape[:2], dtype=np.float32)
    for channel in (1, 2):
        values = np.asarray(cv2.GaussianBlur(lab[..., channel], (0, 0), 1.5), dtype=np.float32)
        off = values - masked_blur(values, weight, 50.0, 50.0)
        spread = max(robust_spread(off[sure]) if sure.any() else 1.0, 0.4)
        total += (off / np.float32(spread)) ** 2
    return np.sqrt(total)
