"""Goes along a course that a hand may have drawn: how much of one ink each part of it carries.

Each part is held against the wood on both its sides, averaged over the part: so strokes that are
only dabs, thinner than a photo's colours are sharp, still speak.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, TypeAlias

import cv2
import numpy as np

from scanner.vision.cv import pieces_in
from scanner.vision.flaws.chalk_colour import gates

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from numpy.typing import NDArray

    from scanner.vision.flaws.chalk_colour import Bools, Singles
    from scanner.vision.flaws.closer_look import SeenColours

    Numbers: TypeAlias = NDArray[np.float64]

# All in px of a millimetre. Across a course so far is looked; a hand wavers so far; a stroke is
# so wide; the wood beside it lies so far away; a photo spreads its colour so wide.
_ACROSS = np.arange(-16, 17)
_WAVERS = np.arange(-6, 7)
_STROKE, _ONE_SIDE, _OTHER_SIDE, _SPREAD = (-2, 2), (-9, -6), (6, 9), (-4, 4)
# Points that make a part, and what a pixel of wavering from one part to the next costs in shares.
POINTS_A_PART = 4
_WAVER_COST = 0.04
# A part carries the ink: so much of it on both sides, so like it in colour (cosine), and so far off
# the wood in units of the board's own spread.
_LEAST_SHARE, _ALIKE, _LEAST_UNITS = 0.12, 0.5, 1.0
# A place is looked at closer where so many parts have an ink so far off the wood, and so grey if
# it is dark; how many are, and how far apart in px.
_HOPEFUL_PARTS, _HOPEFUL_UNITS, _MOST_LOOKED_AT, _SAME_PLACE_PX = 14, 3.5, 4, 8.0
_HOPEFUL_GREY = 0.3
# A course is moved by chance to where it carries most, so far (px) each time; the later times only
# where so many parts carry ink. How many moves are tried at once.
_MOVES_PX, _MOVES_IF_NEARLY, _NEARLY = (4.0, 4.0, 3.0, 3.0, 2.5, 2.0, 1.5), 3, 18
MOVES_AT_ONCE = 8


@dataclass(frozen=True, slots=True, eq=False)
class Carried:
    """What the parts of a course carry.

    Attributes
    ----------
    has_ink
        (N,), which parts carry the ink.
    share
        (N,), how much of the ink each carries; 1 is as much as the plainest third.
    wavers_px
        (N,), how far outward of the course each part's stroke lies.
    ink
        (3,), how far the plainest third is off the wood beside it (L, a, b).
    ink_units
        The same in units of the board's own spread.
    spread
        (3,), the same for the plainer half, over all the width that a photo spreads colour.
    one_side, other_side
        (3,), what the wood looks like on either side: inside, and outward.
    """

    has_ink: NDArray[np.bool_]
    share: Numbers
    wavers_px: NDArray[np.int_]
    ink: Numbers
    ink_units: float
    spread: Numbers
    one_side: Numbers
    other_side: Numbers

    @property
    def longest_gap(self) -> int:
        """How many parts in a row, round the end too, carry none."""
        have = np.flatnonzero(self.has_ink)
        count = len(self.has_ink)
        if not len(have):
            return count
        return int((np.diff(np.append(have, have[0] + count)) - 1).max())

    @property
    def strays_px(self) -> float:
        """How far the stroke jumps from part to part: a hand's hardly does, chance's does."""
        return float(np.abs(np.diff(self.wavers_px)).mean())


def carried(lab: Singles, at: Numbers, outward: Numbers, metric: Numbers) -> list[Carried]:
    """Return what each of several courses carries.

    Parameters
    ----------
    lab
        (H, W, 3) CIELAB, a millimetre a pixel.
    at, outward
        (M, N * `POINTS_A_PART`, 2) points along M courses (x, y) and unit vectors across them.
    metric
        (3, 3), inverse covariance of the board's own colours.
    """
    count = len(at)
    if not count:
        return []
    seen = (at + _ACROSS[:, None, None, None] * outward).astype(np.float32)
    # OpenCV maps no picture wider than 32767 px.
    seen = seen.reshape(len(_ACROSS) * count, -1, 2)
    colours = cv2.remap(
        lab, seen[..., 0], seen[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
    )
    parts = colours.reshape(len(_ACROSS), count, -1, POINTS_A_PART, 3).mean(axis=3)
    sums = np.concatenate([np.zeros((1, *parts.shape[1:])), parts.cumsum(axis=0, dtype=np.float64)])
    stroke, one, other, spread = (
        _over(sums, *band) for band in (_STROKE, _ONE_SIDE, _OTHER_SIDE, _SPREAD)
    )
    off_one, off_other = stroke - one, stroke - other
    units_one, units_other = _length(off_one, metric), _length(off_other, metric)
    units = np.minimum(units_one, units_other)
    off = np.where((units_one < units_other)[..., None], off_one, off_other)
    best = units.argmax(axis=0)
    third = max(1, best.shape[1] // 3)
    plainest = np.argsort(-_taken(units, best), axis=1)[:, :third]
    inks = np.take_along_axis(_taken(off, best), plainest[..., None], axis=1)
    ink = np.sort(inks, axis=1)[:, third // 2]
    weight = ink @ metric
    strength = np.maximum((ink * weight).sum(axis=1), 1e-9)
    along_ink = weight[None, :, :, None]
    shares = np.minimum(off_one @ along_ink, off_other @ along_ink)[..., 0]
    shares /= strength[:, None]
    path = _steadiest(shares)
    own_off, own_units, own_share = (_taken(what, path) for what in (off, units, shares))
    alike = (own_off @ weight[:, :, None])[..., 0] / np.sqrt(strength)[:, None]
    has_ink = own_share > _LEAST_SHARE
    has_ink &= (alike > _ALIKE * np.maximum(own_units, 1e-6)) & (own_units > _LEAST_UNITS)
    plainer = np.argsort(-own_share, axis=1)[:, : max(1, best.shape[1] // 2), None]
    wide = np.take_along_axis(_taken(spread - 0.5 * (one + other), path), plainer, axis=1)
    sides = (_taken(side, path).mean(axis=1) for side in (one, other))
    rows = (
        has_ink,
        own_share,
        _WAVERS[path],
        ink,
        np.sqrt(strength),
        wide.mean(axis=1),
        *sides,
    )
    return [Carried(*row) for row in zip(*rows, strict=True)]


def _over(sums: Numbers, low: int, high: int) -> Numbers:
    """Return means over a band across the courses, for each way they may waver, (W, M, N, 3)."""
    first = _WAVERS - _ACROSS[0]
    return np.asarray((sums[first + high + 1] - sums[first + low]) / (high - low + 1))


def _length(off: Numbers, metric: Numbers) -> Numbers:
    return np.asarray(np.sqrt(((off @ metric) * off).sum(axis=-1)))


def _taken(what: Numbers, ways: NDArray[np.int_]) -> Numbers:
    """Return (M, N, ...) of (W, M, N, ...): each part's own way of wavering, (M, N)."""
    m, n = np.indices(ways.shape)
    return np.asarray(what[ways, m, n])


def _steadiest(shares: Numbers) -> NDArray[np.int_]:
    """Return which way each part wavers, (M, N), so that shares (W, M, N) are great and steady."""
    cost = _WAVER_COST * np.abs(_WAVERS[:, None] - _WAVERS[None, :])
    reached = shares[:, :, 0].T
    came_from = []
    for part in np.moveaxis(shares, 2, 0)[1:]:
        ways = reached[:, None, :] - cost
        came_from.append(ways.argmax(axis=2))
        reached = part.T + ways.max(axis=2)
    path = [reached.argmax(axis=1)]
    own = np.arange(shares.shape[1])
    for before in reversed(came_from):
        path.append(before[own, path[-1]])
    return np.stack(path[::-1], axis=1)


@dataclass(frozen=True, slots=True, eq=False)
class Course:
    """A course that was gone along: ``strokes``, each (N, 2) px of the grid along its middle."""

    strokes: tuple[Numbers, ...]
    carries: Carried


def merit(carries: Carried) -> float:
    """Return what a course is worth: the parts that carry ink, long gaps and jumps taken off."""
    gap = max(0, carries.longest_gap - 2)
    share = float(np.clip(carries.share, -0.3, 1).mean())
    return float(carries.has_ink.sum() - 0.5 * gap - carries.strays_px + 2 * share)


Tried: TypeAlias = "tuple[float, Numbers, Carried]"


def best_places(tried: list[Tried], moved: Callable[[Numbers, float], list[Tried]]) -> list[Tried]:
    """Return the best of the courses tried, one a place, each moved to where it carries most.

    Parameters
    ----------
    tried
        Each course's merit, its numbers (points (K, 2), or those of an ellipse, its middle first)
        and what it carries.
    moved
        Tries a course's numbers moved by chance, so many px wide, several times at once.
    """
    found: list[Tried] = []
    places: list[Numbers] = []
    for one in sorted(tried, key=lambda one: -one[0]):
        if len(found) == _MOST_LOOKED_AT:
            break
        if not _is_hopeful(one[2]):
            continue
        place = one[1].mean(axis=0) if one[1].ndim == 2 else one[1][:2]
        if all(np.abs(place - other).max() > _SAME_PLACE_PX for other in places):
            places.append(place)
            found.append(_improved(one, moved))
    return sorted(found, key=lambda one: -one[0])


def _improved(best: Tried, moved: Callable[[Numbers, float], list[Tried]]) -> Tried:
    for step, wide_px in enumerate(_MOVES_PX):
        if step == _MOVES_IF_NEARLY and best[2].has_ink.sum() < _NEARLY:
            break
        best = max([best, *moved(best[1], wide_px)], key=lambda one: one[0])
    return best


def _is_hopeful(carries: Carried) -> bool:
    if carries.has_ink.sum() < _HOPEFUL_PARTS or carries.ink_units < _HOPEFUL_UNITS:
        return False
    light, *colour = carries.ink
    is_bright = gates(np.asarray(carries.ink, np.float32)[None, None])[0].item()
    return bool(is_bright or (light < 0 and max(colour) < _HOPEFUL_GREY * abs(light)))


def near_pieces(
    may_be: Bools, near_px: int, least_side_px: float, least_px: int
) -> Iterator[Numbers]:
    """Yield the pixels (N, 2), x and y, of each piece that may be a mark's.

    Parameters
    ----------
    may_be
        (H, W), the pixels that a stroke may have.
    near_px
        Pixels so near to each other are one piece.
    least_side_px, least_px
        A piece is at least so wide and so high, with so many pixels.
    """
    near = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (near_px, near_px))
    joined = cv2.dilate(may_be.astype(np.uint8), near)
    labels, boxes = pieces_in(np.asarray(joined, np.uint8), connectivity=8)
    for index in range(1, len(boxes)):
        x, y, w, h, _ = (int(v) for v in boxes[index])
        if min(w, h) < least_side_px:
            continue
        box = np.s_[y : y + h, x : x + w]
        rows, columns = np.nonzero((labels[box] == index) & may_be[box])
        if len(rows) >= least_px:
            yield np.column_stack([columns + x, rows + y]).astype(np.float64)


def fours_of(points: Numbers, tries: int, apart_px: float, rng: np.random.Generator) -> Numbers:
    """Return four of the points drawn at a time, (tries, 4, 2), x not so far from the first's."""
    points = points[np.argsort(points[:, 0])]
    first = rng.integers(0, len(points), tries)
    low = np.searchsorted(points[:, 0], points[first, 0] - apart_px)
    high = np.searchsorted(points[:, 0], points[first, 0] + apart_px)
    others = low[:, None] + (rng.random((tries, 3)) * (high - low)[:, None]).astype(int)
    return np.asarray(points[np.column_stack([first, others])])


def plainness(seen: SeenColours) -> Singles:
    """Return how unusual each place is, (H, W), a little smoothed; what is plain counts alike."""
    most = np.minimum(seen.units, np.float32(12))
    return np.asarray(cv2.GaussianBlur(most, (0, 0), 1.5), np.float32)
