"""A second photo of the same face under a low lamp (or after a damp wipe), laid over the first.

Both pictures are flat at true scale, so they differ by little: each photo's own scale error, where
the ends were traced, and what a bowed face shifts when the phone moves. Patches of grain found in
both say by how much; a smooth field through them lays one over the other.
"""

from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray
from shapely.geometry import Polygon

from scanner.board.reading import mid_line
from scanner.errors import PhotoError
from scanner.geometry.polygons import largest_polygon
from scanner.vision.cv import grey_of
from scanner.vision.grain import without_saw_marks
from scanner.vision.picture import FacePicture

Floats = NDArray[np.float32]
Doubles = NDArray[np.float64]

# Patches of 80 x 40 mm, searched for within 9 mm at first, then near where the field says.
_PATCH_MM = (80.0, 40.0)
_SEARCH_MM = (9.0, 2.5)
_ALONG, _ACROSS = 22, 5
_LEAST_LIKENESS = 0.35
# Before that all of it is moved by what large patches say together: another photo's height and tilt
# shift a face by a centimetre or two.
_ROUGH_MM_PER_PX, _ROUGH_REACH_MM, _ROUGH_PATCH_MM = 1.0, 30.0, 200.0
# Grain repeats across the board: another peak, this far off, must be less good.
_OTHER_PEAK_MM = 2.0
_CLEARER_BY = 0.04
_SLOW_MM = (10.0, 4.0)
# A patch whose likeness falls by b a pixel squared is told within sqrt(this (1 - r^2) / b) px: as
# if it held 250 independent pixels (Cramer-Rao bound of a shift).
_UNLIKE = 0.004
_LEAST_SD_MM = 0.25
# What the field's terms usually come to, mm, along the board and across: traced ends say as much.
# The last is for a cupped face.
_USUAL_MM = (
    np.array([0.7, 0.8, 0.5, 0.7, 0.5, 0.5, 0.3]),
    np.array([2.0, 2.0, 1.5, 2.0, 1.5, 1.0, 0.5]),
)
# Saw marks shade differently under each light; they change along the board only.
_SAW_MARK_MM = 2.5
_FEWEST, _LEAST_SHARE = 8, 0.35
# With so many the face lies the way up that was tried first.
_PLAINLY_SHARE = 0.6
_NEAR_MM = 1.0
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
    patches
        How many agree.
    """

    picture: FacePicture
    apart_mm: float
    patches: int
    _start: Doubles
    _field: Doubles
    _second: FacePicture

    def places_in_second(self, mm: Doubles) -> Doubles:
        """Return (N, 2) where the second picture shows places of the first, mm of either."""
        first = self.picture
        pixels = (mm - np.asarray(first.origin_mm)) / first.mm_per_px
        there = _places(pixels, self._start, self._field, first.mm_per_px)
        moved = there * self._second.mm_per_px + np.asarray(self._second.origin_mm)
        return np.asarray(moved, dtype=np.float64)


@dataclass(frozen=True, slots=True, eq=False)
class _Matches:
    """(N, 2) middles of patches found in both, how far off; (N, 2, 2) covariance, picture mm."""

    at: Doubles
    off: Doubles
    covariance: Doubles


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
    best: tuple[int, Doubles, Doubles] | None = None
    wood, its_wood = _inner(first, outline), _inner(second, its_outline)
    texture = _texture(first.pixels, wood, first.mm_per_px)

    def laid(start: Doubles, field: Doubles | None = None) -> Floats:
        pixels, shown = (_moved(one, start, first, field) for one in (second.pixels, its_wood))
        return _texture(pixels, shown, first.mm_per_px)

    for turned in (False, True):
        start = _from_ends(first, outline, second, its_outline, turned=turned)
        start = start.copy()
        start[:, 2] += start[:, :2] @ _roughly_off(texture, laid(start), first, outline)
        found = _matched(texture, laid(start), first, outline, _SEARCH_MM[0])
        field, agree = _field(found)
        count = int(agree.sum())
        if best is None or count > best[0]:
            best = count, start, field
        if count >= _PLAINLY_SHARE * len(found.at) and count >= 2 * _FEWEST:
            break
    assert best is not None
    _, start, field = best
    found = _matched(texture, laid(start, field), first, outline, _SEARCH_MM[1])
    more, agree = _field(found)
    wanted = max(_FEWEST, _LEAST_SHARE * len(found.at))
    apart = 0.0
    if agree.any():
        # Across the grain: along it patches say little, and a check is as long as it is.
        left = found.off[agree] - _terms(found.at[agree]) @ more
        apart = float(np.percentile(np.abs(left[:, 1]), 95))
    if agree.sum() < wanted or apart > MOST_APART_MM:
        raise PhotoError(
            f"{name} could not be laid over the first photo of the face:"
            f" {int(agree.sum())} places of its grain agree",
            "take it of the same face from the same place, with only the lamp moved, or leave it"
            " out",
        )
    # Small against their own size, the two fields add up.
    whole = field + more
    pixels = _moved(second.pixels, start, first, whole)
    seen = _moved(second.seen.astype(np.uint8), start, first, whole) > 0
    picture = replace(first, pixels=pixels, seen=seen & first.seen, grass=None)
    return LaidOver(picture, apart, int(agree.sum()), start, whole, second)


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


def _roughly_off(texture: Floats, other: Floats, face: FacePicture, outline: Polygon) -> Doubles:
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
    pixels: NDArray[np.uint8], start: Doubles, first: FacePicture, field: Doubles | None = None
) -> NDArray[np.uint8]:
    """Return the second picture's pixels at the first one's places."""
    rows, columns = first.pixels.shape[:2]
    y, x = np.mgrid[0:rows, 0:columns].astype(np.float64)
    here = np.column_stack([x.ravel(), y.ravel()])
    there = _places(here, start, field, first.mm_per_px).astype(np.float32)
    there = there.reshape(rows, columns, 2)
    moved = cv2.remap(pixels, there, None, cv2.INTER_LINEAR)  # type: ignore[call-overload]
    return np.asarray(moved, dtype=np.uint8)


def _places(pixels: Doubles, start: Doubles, field: Doubles | None, mm_per_px: float) -> Doubles:
    """Return (N, 2) pixels of the second picture where it shows pixels of the first."""
    if field is not None:
        pixels = pixels + _terms(pixels * mm_per_px) @ field / mm_per_px
    return np.asarray(pixels @ start[:, :2].T + start[:, 2])


def _terms(mm: Doubles) -> Doubles:
    """Return (N, 7) the terms of the field at places in the first picture, mm."""
    u, v = mm[:, 0] / 1000.0, mm[:, 1] / 100.0
    return np.column_stack([np.ones_like(u), u, v, u * u, u * v, u * u * u, v * v])


def _inner(face: FacePicture, outline: Polygon) -> NDArray[np.uint8]:
    """Return (H, W), 1 on the face's wood and 0 at its arrises and beyond.

    A photo from one side shows the board's edge below an arris, another one does not: a match of
    such seams is off by the edge's breadth.
    """
    wood = np.zeros(face.pixels.shape[:2], np.uint8)
    ring = np.asarray(largest_polygon(outline.buffer(-_RIM_MM)).exterior.coords)
    if len(ring):
        pixels = (ring - face.origin_mm) / face.mm_per_px
        cv2.fillPoly(wood, [np.round(pixels).astype(np.int32)], 1)
    return wood


def _texture(pixels: NDArray[np.uint8], wood: NDArray[np.uint8], mm_per_px: float) -> Floats:
    """Return a picture's fine structure in every light: less slow changes, less saw marks."""
    weight = wood.astype(np.float32)
    light = np.asarray(np.log(grey_of(pixels).astype(np.float32) + 8.0), dtype=np.float32)
    # A lamp from one side shows saw marks aside of where the room's light shows them, which
    # pulls matches along the board.
    light = without_saw_marks(light, weight, mm_per_px) * weight

    def mean(along: float, across: float) -> Floats:
        top, bottom = (
            cv2.GaussianBlur(one, (0, 0), along, sigmaY=across) for one in (light, weight)
        )
        return np.asarray(top / np.maximum(bottom, 1e-3), dtype=np.float32)

    fine = mean(_SAW_MARK_MM / mm_per_px, 0.8)
    slow = mean(_SLOW_MM[0] / mm_per_px, _SLOW_MM[1] / mm_per_px)
    return np.asarray(np.clip(fine - slow, -0.4, 0.4) * weight, dtype=np.float32)


def _matched(
    texture: Floats,
    other: Floats,
    face: FacePicture,
    outline: Polygon,
    reach_mm: float,
) -> _Matches:
    """Return the patches that are found in both."""
    mm = face.mm_per_px
    half = np.array([round(size / 2 / mm) for size in _PATCH_MM])
    reach = round(reach_mm / mm)
    x0, y0, x1, y1 = (
        value / mm for value in np.subtract(outline.bounds, [*face.origin_mm, *face.origin_mm])
    )
    half[1] = min(half[1], int((y1 - y0) / 2 - 2))
    at: list[Doubles] = []
    off: list[Doubles] = []
    covariance: list[Doubles] = []
    if half[1] < 8:
        return _Matches(np.zeros((0, 2)), np.zeros((0, 2)), np.ones((0, 2, 2)))
    for x in np.linspace(x0 + half[0], x1 - half[0], _ALONG):
        for y in np.unique(np.round(np.linspace(y0 + half[1], y1 - half[1], _ACROSS))):
            cx, cy = round(float(x)), round(float(y))
            patch = texture[cy - half[1] : cy + half[1], cx - half[0] : cx + half[0]]
            top, left = max(cy - half[1] - reach, 0), max(cx - half[0] - reach, 0)
            around = other[top : cy + half[1] + reach, left : cx + half[0] + reach]
            if (
                patch.shape != (2 * half[1], 2 * half[0])
                or (np.array(around.shape) <= patch.shape).any()
            ):
                continue
            found = _peak(cv2.matchTemplate(around, patch, cv2.TM_CCOEFF_NORMED), mm)
            if found is not None:
                start = np.array([left - (cx - half[0]), top - (cy - half[1])])
                at.append(np.array([cx, cy]) * mm)
                off.append((found[0] + start) * mm)
                covariance.append(found[1] * mm**2 + np.eye(2) * _LEAST_SD_MM**2)
    return _Matches(
        np.array(at).reshape(-1, 2), np.array(off).reshape(-1, 2),
        np.array(covariance).reshape(-1, 2, 2),
    )  # fmt: skip


def _peak(
    likeness: NDArray[np.float32] | cv2.typing.MatLike, mm: float
) -> tuple[Doubles, Doubles] | None:
    """Return the peak (x, y), px with parts, and its spread; None where faint or not alone."""
    values = np.asarray(likeness, dtype=np.float32)
    row, column = (int(v) for v in np.unravel_index(int(values.argmax()), values.shape))
    best = float(values[row, column])
    if best < _LEAST_LIKENESS or not np.isfinite(best):
        return None
    apart = round(_OTHER_PEAK_MM / mm)
    rest = values.copy()
    rest[
        max(row - apart, 0) : row + apart + 1, max(column - 3 * apart, 0) : column + 3 * apart
    ] = -1
    if rest.max() > best - _CLEARER_BY:
        return None
    if not (0 < row < values.shape[0] - 1 and 0 < column < values.shape[1] - 1):
        return None
    around = values[row - 1 : row + 2, column - 1 : column + 2].astype(np.float64)
    # Grain that runs askew ties what is told along the board to what is told across it.
    bends = np.array(
        [
            [around[1, 0] - 2 * best + around[1, 2], 0.0],
            [0.0, around[0, 1] - 2 * best + around[2, 1]],
        ]
    )
    bends[0, 1] = bends[1, 0] = (around[2, 2] - around[2, 0] - around[0, 2] + around[0, 0]) / 4
    turned = np.linalg.eigh(bends)
    # Along a ridge as good as level the peak is anywhere.
    bends = (
        turned.eigenvectors
        @ np.diag(np.minimum(turned.eigenvalues, -1e-5))
        @ (turned.eigenvectors.T)
    )
    climb = np.array([around[1, 2] - around[1, 0], around[2, 1] - around[0, 1]]) / 2
    part = np.clip(-np.linalg.solve(bends, climb), -1.0, 1.0)
    spread = -np.linalg.inv(bends) * _UNLIKE * (1.0 - best * best)
    return np.array([column, row]) + part, spread


def _field(found: _Matches) -> tuple[Doubles, NDArray[np.bool_]]:
    """Return the smooth field (7, 2) through most of the matches, and which of them agree.

    Grain says much less along itself than across, so each match counts by its own spread, which
    lies along the grain, and the ends, which the first move was taken from, count as well.
    """
    count = len(_USUAL_MM[0])
    none = np.zeros((count, 2)), np.zeros(len(found.at), dtype=bool)
    if len(found.at) < _FEWEST:
        return none
    terms = _terms(found.at)
    spread, ways = np.linalg.eigh(found.covariance)
    sd = np.sqrt(spread)
    sd_xy = np.sqrt(np.diagonal(found.covariance, axis1=1, axis2=2))
    kept = (np.abs(found.off - np.median(found.off, axis=0)) < 3.0 + 2.0 * sd_xy).all(axis=1)
    # Rows of (x, y) by both axes' terms.
    both = np.einsum("nt,ab->natb", terms, np.eye(2)).reshape(len(terms), 2, 2 * count)
    certain = np.linalg.inv(found.covariance)
    pull = np.diag(np.column_stack(_USUAL_MM).ravel() ** -2)
    field = np.zeros((count, 2))
    for limit in (3.0, 2.0, _NEAR_MM, _NEAR_MM):
        if kept.sum() < _FEWEST:
            return none
        rows, weight = both[kept], certain[kept]
        left_side = np.einsum("nai,nab,nbj->ij", rows, weight, rows) + pull
        right_side = np.einsum("nai,nab,nb->i", rows, weight, found.off[kept])
        field = np.linalg.solve(left_side, right_side).reshape(count, 2)
        # Along and across each match's own grain.
        left = np.abs(np.einsum("nba,nb->na", ways, found.off - terms @ field))
        kept = (left < limit * np.maximum(1.0, sd / _LEAST_SD_MM / 2)).all(axis=1)
    return (field, np.asarray(kept)) if kept.sum() >= _FEWEST else none
