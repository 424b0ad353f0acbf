"""A second photo of the same face under a low lamp (or after a damp wipe), laid over the first.

Both pictures are flat at true scale, so they differ by little: each photo's own scale error, where
the ends were traced, and what a bowed face shifts when the phone moves. Patches of grain found in
both say by how much; a smooth field through them lays one over the other.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray
from shapely.geometry import Polygon

from scanner.board.reading import mid_line
from scanner.errors import PhotoError
from scanner.geometry.polygons import largest_polygon
from scanner.vision.cv import grey_of, painted
from scanner.vision.grain import without_saw_marks
from scanner.vision.low_lamp.raking_field import (
    FEWEST,
    Field,
    agreed_field,
    agreeing,
    along_u_mm,
    pooled_field,
)
from scanner.vision.low_lamp.raking_patches import Matches, likeness_of, matches_of
from scanner.vision.photos.picture import FacePicture

Singles = NDArray[np.float32]
Doubles = NDArray[np.float64]

# Patches are searched for within so much (along, across) at first, held together about where that
# lays them, and looked at once more where they then lie.
_SEARCH_MM, _POOLED_MM, _CHECKED_MM = (9.0, 9.0), (9.0, 4.0), (2.5, 2.5)
# Before that all of it is moved by what large patches say together: another photo's height and tilt
# shift a face by a centimetre or two.
_ROUGH_MM_PER_PX, _ROUGH_REACH_MM, _ROUGH_PATCH_MM = 1.0, 30.0, 200.0
# Saw marks shade differently under each light; they change along the board only. What is as fine is
# left out, more of it where the field is told along the board.
_FINE_MM, _LESS_FINE_MM = 2.5, 4.0
# What changes more slowly than this, along and across, is light and stain, not grain.
_SLOW_MM = (10.0, 4.0)
# Where fewer of the patches agree the two are of other wood, or the photo shows too little.
_LEAST_SHARE = 0.35
# With so many the face lies the way up that was tried first.
_PLAINLY_SHARE = 0.6
# So near to an arris wood is not compared: its rim is rounded, chipped or traced a little off.
_RIM_MM = 2.5
# Further apart than this the two cannot be read together (a check is searched within 2 mm).
MOST_APART_MM = 1.0


@dataclass(frozen=True, slots=True, eq=False)
class LaidOver:
    """The second picture on the first one's pixels.

    Attributes
    ----------
    picture
        Same size, scale and origin as the first; ``seen`` where the second shows wood.
    apart_mm
        95 % of the patches that agree lie no further from the field than this, across the board.
    along_u_mm
        U of where it lies along the board, at 95 % of places: grain says little along itself.
    """

    picture: FacePicture
    apart_mm: float
    along_u_mm: float
    _start: Doubles
    _field: Field
    _second: FacePicture

    def places_in_second(self, mm: Doubles) -> Doubles:
        """Return (N, 2) where the second picture shows places of the first, mm of either."""
        first = self.picture
        pixels = (mm - np.asarray(first.origin_mm)) / first.mm_per_px
        there = _places(pixels, self._start, self._field, first.mm_per_px)
        moved = there * self._second.mm_per_px + np.asarray(self._second.origin_mm)
        return np.asarray(moved, dtype=np.float64)


def lay_over(
    first: FacePicture, outline: Polygon, second: FacePicture, its_outline: Polygon, name: str
) -> LaidOver:
    """Return the second picture of a face laid over the first.

    Parameters
    ----------
    first, second
        Flat pictures of the same face, either way up.
    outline, its_outline
        The face to the arris in each, mm of its own picture.
    name
        Of the second photo, for messages.

    Raises
    ------
    PhotoError
        It shows another face, or too little of this one's grain.
    """
    wood, its_wood = _inner(first, outline), _inner(second, its_outline)
    texture = _texture(first.pixels, wood, first.mm_per_px)
    box = np.subtract(outline.bounds, [*first.origin_mm] * 2).reshape(2, 2)

    def laid(start: Doubles, field: Field | None = None, fine_mm: float = _FINE_MM) -> Singles:
        pixels, shown = (_moved(one, start, first, field) for one in (second.pixels, its_wood))
        return _texture(pixels, shown, first.mm_per_px, fine_mm)

    ways = [
        _from_ends(first, outline, second, its_outline, turned=turned) for turned in (False, True)
    ]
    start, field = _the_way_up(ways, laid, texture, first, outline)
    less_fine = _texture(first.pixels, wood, first.mm_per_px, _LESS_FINE_MM)
    there = laid(start, field, _LESS_FINE_MM)
    likeness = likeness_of(less_fine, there, first, outline, _POOLED_MM)
    more, spread = pooled_field(likeness, field)
    field = field.plus(more)
    found = matches_of(likeness_of(texture, laid(start, field), first, outline, _CHECKED_MM))
    apart = _apart_mm(found, name)
    pixels = _moved(second.pixels, start, first, field)
    seen = _moved(second.seen.astype(np.uint8), start, first, field) > 0
    picture = replace(first, pixels=pixels, seen=seen & first.seen, grass=None)
    x, y = np.meshgrid(*np.linspace(box[0], box[1], 9).T)
    along_u = along_u_mm(spread, np.column_stack([x.ravel(), y.ravel()]), field.middle_mm)
    u_mm = float(np.percentile(along_u, 95))
    return LaidOver(picture, apart, u_mm, start, field, second)


def _the_way_up(
    ways: Sequence[Doubles],
    laid: Callable[[Doubles], Singles],
    texture: Singles,
    first: FacePicture,
    outline: Polygon,
) -> tuple[Doubles, Field]:
    """Return how the second picture lies, of two ways up, and its first field.

    The way in which more patches agree; the second is not tried where they plainly do in the first.
    """
    middle = np.subtract(outline.bounds, [*first.origin_mm] * 2).reshape(2, 2).mean(axis=0)
    tried: list[tuple[int, Doubles, Field]] = []
    for way in ways:
        start = way.copy()
        start[:, 2] += start[:, :2] @ _roughly_off(texture, laid(start), first, outline)
        found = matches_of(likeness_of(texture, laid(start), first, outline, _SEARCH_MM))
        field, agree = agreed_field(found, middle)
        count = int(agree.sum())
        tried.append((count, start, field))
        if count >= _PLAINLY_SHARE * len(found.at) and count >= 2 * FEWEST:
            break
    _, start, field = max(tried, key=lambda one: one[0])
    return start, field


def _apart_mm(found: Matches, name: str) -> float:
    """Return how far 95 % of the patches lie off across the grain, laid over as well as may be.

    Along it patches say little, and a check is as long as it is.

    Raises
    ------
    PhotoError
        Too few agree, or they lie too far off.
    """
    agree = agreeing(found, np.zeros_like(found.off))
    wanted = max(FEWEST, _LEAST_SHARE * len(found.at))
    apart = float(np.percentile(np.abs(found.off[agree, 1]), 95)) if agree.any() else 0.0
    if agree.sum() < wanted or apart > MOST_APART_MM:
        raise PhotoError(
            f"{name} could not be laid over the first photo of the face:"
            f" {int(agree.sum())} places of its grain agree",
            "take it of the same face from the same place, with only the lamp moved, or leave it"
            " out",
        )
    return apart


def _from_ends(
    first: FacePicture,
    outline: Polygon,
    second: FacePicture,
    its_outline: Polygon,
    *,
    turned: bool,
) -> Doubles:
    """Return (2, 3) the move from the first picture's pixels to the second's, by both ends."""
    here = (np.array(mid_line(outline)) - first.origin_mm) / first.mm_per_px
    there = (np.array(mid_line(its_outline)) - second.origin_mm) / second.mm_per_px
    if turned:
        there = there[::-1]
    a, b = here[1] - here[0], there[1] - there[0]
    turn = complex(*b) / complex(*a)
    spin = np.array([[turn.real, -turn.imag], [turn.imag, turn.real]])
    return np.column_stack([spin, there[0] - spin @ here[0]])


def _roughly_off(texture: Singles, other: Singles, face: FacePicture, outline: Polygon) -> Doubles:
    """Return by how much (x, y), px, all of the second picture lies off: large patches together."""
    shrink = max(1, round(_ROUGH_MM_PER_PX / face.mm_per_px))
    step = face.mm_per_px * shrink
    small, around = (
        cv2.resize(one, None, fx=1 / shrink, fy=1 / shrink, interpolation=cv2.INTER_AREA)
        for one in (texture, other)
    )
    reach = round(_ROUGH_REACH_MM / step)
    around = np.pad(np.asarray(around), reach)
    x0, y0, x1, y1 = (
        round(value / step) for value in np.subtract(outline.bounds, [*face.origin_mm] * 2)
    )
    y0, y1 = max(y0 + 2, 0), min(y1 - 2, small.shape[0])
    long = round(_ROUGH_PATCH_MM / step)
    total = np.zeros((2 * reach + 1, 2 * reach + 1))
    for left in range(max(x0, 0), min(x1, small.shape[1]) - long + 1, long):
        patch = small[y0:y1, left : left + long]
        there = around[y0 : y1 + 2 * reach, left : left + long + 2 * reach]
        likeness = cv2.matchTemplate(there, patch, cv2.TM_CCOEFF_NORMED)
        total += np.nan_to_num(np.clip(likeness, 0, 1), posinf=0.0)
    row, column = np.unravel_index(int(total.argmax()), total.shape)
    return np.array([column - reach, row - reach], dtype=np.float64) * shrink


def _moved(
    pixels: NDArray[np.uint8], start: Doubles, first: FacePicture, field: Field | None = None
) -> NDArray[np.uint8]:
    """Return the second picture's pixels at the first one's places."""
    rows, columns = first.pixels.shape[:2]
    y, x = np.mgrid[0:rows, 0:columns].astype(np.float64)
    here = np.column_stack([x.ravel(), y.ravel()])
    there = _places(here, start, field, first.mm_per_px).astype(np.float32)
    there = there.reshape(rows, columns, 2)
    moved = cv2.remap(pixels, there, None, cv2.INTER_LINEAR)  # type: ignore[call-overload]
    return np.asarray(moved, dtype=np.uint8)


def _places(pixels: Doubles, start: Doubles, field: Field | None, mm_per_px: float) -> Doubles:
    """Return (N, 2) pixels of the second picture where it shows pixels of the first."""
    if field is not None:
        pixels = pixels + field.at(pixels * mm_per_px) / mm_per_px
    return np.asarray(pixels @ start[:, :2].T + start[:, 2])


def _inner(face: FacePicture, outline: Polygon) -> NDArray[np.uint8]:
    """Return (H, W), 1 on the face's wood and 0 at its arrises and beyond.

    A photo from one side shows the board's edge below an arris, another one does not: a match of
    such seams is off by the edge's breadth.
    """
    wood = largest_polygon(outline.buffer(-_RIM_MM))
    inner = painted((wood,), face.origin_mm, face.mm_per_px, face.pixels.shape)
    return inner.astype(np.uint8)


def _texture(
    pixels: NDArray[np.uint8],
    wood: NDArray[np.uint8],
    mm_per_px: float,
    fine_mm: float = _FINE_MM,
) -> Singles:
    """Return a picture's fine structure in every light: less slow changes, less saw marks."""
    weight = wood.astype(np.float32)
    light = np.asarray(np.log(grey_of(pixels).astype(np.float32) + 8.0), dtype=np.float32)
    # A lamp from one side shows saw marks aside of where the room's light shows them, which
    # pulls matches along the board.
    light = without_saw_marks(light, weight, mm_per_px) * weight

    def mean(along: float, across: float) -> Singles:
        top, bottom = (
            cv2.GaussianBlur(one, (0, 0), along, sigmaY=across) for one in (light, weight)
        )
        return np.asarray(top / np.maximum(bottom, 1e-3), dtype=np.float32)

    fine = mean(fine_mm / mm_per_px, 0.8)
    slow = mean(_SLOW_MM[0] / mm_per_px, _SLOW_MM[1] / mm_per_px)
    return np.asarray(np.clip(fine - slow, -0.4, 0.4) * weight, dtype=np.float32)
