"""Two scanned faces made equally long: a board has one length, told best by both together."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

import cv2
import numpy as np
from shapely import affinity

from scanner.board.join import moved_reading
from scanner.board.measured import Measured
from scanner.vision.fit.both_faces import length_of_both, scale_u_of_both

if TYPE_CHECKING:
    from numpy.typing import NDArray
    from shapely.geometry import Polygon

    from scanner.vision.photos.picture import FacePicture, FaceScan

# Three standard deviations, where the U of the difference is two.
_FAR = 1.5


def with_one_length(
    first: FaceScan, second: FaceScan
) -> tuple[FaceScan, FaceScan, tuple[str, ...]]:
    """Return both faces drawn out or in to the length that both tell, and doubts.

    A bow that nobody measured draws one face out and the other in. Where the two differ by more
    than that and all else allows, U covers both and a doubt says so; where it is far more, nobody
    can say which is wrong, so both are left as they are. So are faces whose lengths a tape told.
    """
    if first.told is None or second.told is None:
        return first, second, ()
    length, apart, allowed = length_of_both(first.told, second.told)
    if abs(apart) <= allowed:
        u_scale = scale_u_of_both(first.told, second.told)
        one, two = (_as_long(scan, length, min(scan.u_scale, u_scale)) for scan in (first, second))
        return one, two, ()
    doubt = (
        f"The two faces tell lengths {abs(apart):.0f} mm apart, which the length's ± now covers:"
        " tape the board and give its length"
    )
    if abs(apart) > _FAR * allowed:
        own = first.reading.length
        reading = replace(first.reading, length=_covering(own, own.value_mm - apart))
        return replace(first, reading=reading), second, (doubt,)
    for scan in (first, second):
        length = _covering(length, scan.reading.length.value_mm)
    u_scale = length.u_mm / length.value_mm
    one, two = (_as_long(scan, length, max(scan.u_scale, u_scale)) for scan in (first, second))
    return one, two, (doubt,)


def _covering(length: Measured, other_mm: float) -> Measured:
    """Return a length whose U reaches another."""
    apart = math.ceil(10 * abs(length.value_mm - other_mm)) / 10
    return Measured(length.value_mm, max(length.u_mm, apart))


def _as_long(scan: FaceScan, length: Measured, u_scale: float) -> FaceScan:
    """Return a face drawn out along the board to a length; its left end stays at zero."""
    share = length.value_mm / scan.reading.length.value_mm

    def drawn(shape: Polygon) -> Polygon:
        return affinity.scale(shape, share, 1.0, origin=(0, 0))

    reading = replace(
        moved_reading(scan.reading, drawn),
        length=length,
        widths=tuple(replace(one, x_mm=one.x_mm * share) for one in scan.reading.widths),
    )
    marks = scan.saw_marks
    return replace(
        scan,
        reading=reading,
        u_scale=u_scale,
        picture=_picture_drawn(scan.picture, share),
        raking=None if scan.raking is None else _picture_drawn(scan.raking, share),
        saw_marks=marks
        and replace(
            marks, strong_mm=tuple((low * share, high * share) for low, high in marks.strong_mm)
        ),
    )


def _picture_drawn(picture: FacePicture, share: float) -> FacePicture:
    """Return a flat picture drawn out along x about x = 0."""
    columns = picture.pixels.shape[1]
    # Under half a pixel at the far end a second resampling would only blur.
    if abs(share - 1.0) * columns < 0.5:
        return picture
    x, y = picture.origin_mm
    new = (round((columns - 1) * share) + 1, picture.pixels.shape[0])
    move = np.array([[share, 0.0, 0.0], [0.0, 1.0, 0.0]])

    def mask(one: NDArray[np.bool_] | None) -> NDArray[np.bool_] | None:
        if one is None:
            return None
        there = cv2.warpAffine(one.astype(np.uint8), move, new, flags=cv2.INTER_NEAREST)
        return np.asarray(there, dtype=np.uint8) > 0

    pixels = cv2.warpAffine(
        picture.pixels, move, new, flags=cv2.INTER_CUBIC, borderMode=cv2.BORDER_REPLICATE
    )
    seen = mask(picture.seen)
    return replace(
        picture,
        pixels=np.asarray(pixels, dtype=np.uint8),
        origin_mm=(x * share, y),
        seen=picture.seen if seen is None else seen,
        grass=mask(picture.grass),
        rule=mask(picture.rule),
    )
