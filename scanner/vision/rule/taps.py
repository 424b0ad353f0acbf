"""Four rough taps on a rule's corners, moved onto the rule: edges and ends to part of a pixel."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product
from typing import TYPE_CHECKING

import numpy as np

from scanner.vision.cv import Bytes, Floats, sampled

if TYPE_CHECKING:
    from scanner.vision.setup import RuleSize

# A finger is off by this much at most, and usually by less (sd), px of the photo.
REACH_PX, _USUAL_PX = 20.0, 9.0
# Offsets tried, and then those between them; brightness is read at these heights over a line.
_TRIES = np.arange(-REACH_PX, REACH_PX + 0.01, 1.0)
_FINE = np.arange(-1.0, 1.01, 0.25)
_HEIGHTS = np.arange(-REACH_PX - 4, REACH_PX + 4.01, 0.5)
# Steps that are no more than this are noise.
_NOISE_GREY = 4.0
_WINDOWS = 48
_PER_WINDOW = 24
# The likeliest lines of each edge that are tried against those of the other one.
_TRIED = 24
# A told width is seen shortened by tilt, hardly below this and never above this.
_NARROWEST, _WIDEST = 0.4, 1.15
# A rule narrower than this shows no two edges; perspective tapers it by less than this.
_LEAST_WIDE_PX, _MOST_TAPER = 3.0, 1.6
# An edge shows along most of its length (its score, see `_fall`): noise alone reaches 0.1 to 0.2.
_LEAST_SCORE = 0.35
# What a line scores (1: every window shows a full step) is worth this much in odds.
_WORTH = 12.0


@dataclass(frozen=True, slots=True, eq=False)
class _Line:
    """An edge tried: how far its two ends lie from where they were tapped, px, and its score."""

    first_px: float
    second_px: float
    score: float


@dataclass(frozen=True, slots=True, eq=False)
class _Edges:
    """Both long edges: their odds (ln), 1 for a bright rule or -1 for a dark one, the corners."""

    odds: float
    sign: float
    quad: Floats


def in_turn(taps: Floats) -> Floats:
    """Return four corners (4, 2) so that the first and second are those of the zero end.

    They come round the rule from its zero end: the first side is that end or a long edge.
    """
    sides = np.linalg.norm(np.roll(taps, -1, axis=0) - taps, axis=1)
    return taps if sides[0] < sides[1] else np.roll(taps, 1, axis=0)


def refine_taps(grey: Bytes, taps: Floats, size: RuleSize) -> Floats | None:
    """Return the corners (4, 2) px of the rule that was tapped, in the order of `in_turn`.

    None where no two edges of a rule are seen there.

    Parameters
    ----------
    grey
        Brightness, full size.
    taps
        (4, 2) px, round the rule from its zero end, each at most `REACH_PX` off.
    size
        The rule as told; its width, where known, says how far apart the edges may lie.
    """
    quad = in_turn(np.asarray(taps, dtype=np.float64))
    sides = np.linalg.norm(np.roll(quad, -1, axis=0) - quad, axis=1)
    # Written so that sides which are no numbers fail too.
    if not (sides.min() > 0 and sides[[1, 3]].min() > 2 * REACH_PX):
        return None
    found = [one for sign in (1.0, -1.0) if (one := _edges(grey, quad, size, sign)) is not None]
    if not found:
        return None
    best = max(found, key=lambda one: one.odds)
    return _with_ends(grey, best.quad, best.sign)


def _edges(grey: Bytes, quad: Floats, size: RuleSize, sign: float) -> _Edges | None:
    """Return the tapped quad moved onto the likeliest two long edges of a rule.

    ``sign`` 1: the rule is brighter than what lies beside it.
    """
    nears = _best_lines(grey, quad[3], quad[0], sign)
    fars = _best_lines(grey, quad[1], quad[2], sign)
    best: _Edges | None = None
    length = float(np.linalg.norm(quad[2] + quad[3] - quad[0] - quad[1]) / 2)
    for near, far in product(nears, fars):
        odds = _WORTH * (near.score + far.score) - _strain(near) - _strain(far)
        if best is not None and odds <= best.odds:
            continue
        moved = _moved(quad, near, far)
        if _is_rule(moved, length, size):
            best = _Edges(odds, sign, moved)
    return best


def _strain(line: _Line) -> float:
    return 0.5 * (line.first_px**2 + line.second_px**2) / _USUAL_PX**2


def _is_rule(quad: Floats, length: float, size: RuleSize) -> bool:
    widths = np.linalg.norm([quad[1] - quad[0], quad[2] - quad[3]], axis=1)
    if widths.min() < _LEAST_WIDE_PX or widths.max() > _MOST_TAPER * widths.min():
        return False
    if size.width_mm is None:
        return True
    square_on = size.width_mm / size.length_mm * length
    return bool(_NARROWEST * square_on < widths.mean() < _WIDEST * square_on)


def _outward(first: Floats, second: Floats) -> Floats:
    """Return the unit vector to the left hand of a way, as the eye sees it."""
    step = (second - first) / np.linalg.norm(second - first)
    return np.array([step[1], -step[0]])


def _moved(quad: Floats, near: _Line, far: _Line) -> Floats:
    out = quad.copy()
    beside = _outward(quad[3], quad[0])
    out[3] += near.first_px * beside
    out[0] += near.second_px * beside
    beside = _outward(quad[1], quad[2])
    out[1] += far.first_px * beside
    out[2] += far.second_px * beside
    return out


def _fall(values: Floats, sign: float) -> Floats:
    """Return how brightness falls along the last axis, 1 for a usual full step.

    Cut off there, so that one strong place does not speak for a whole line.
    """
    fall = np.zeros_like(values)
    fall[:, 2:-2] = sign * (values[:, :-4] - values[:, 4:])
    usual = float(np.median(np.maximum(fall, 0).max(axis=1))) + _NOISE_GREY
    return np.clip(fall / usual, -1.0, 1.0)


def _best_lines(grey: Bytes, first: Floats, second: Floats, sign: float) -> list[_Line]:
    """Return the lines near a tapped one over which brightness falls outwards most."""
    share = 0.02 + 0.96 * (np.arange(_WINDOWS * _PER_WINDOW) + 0.5) / (_WINDOWS * _PER_WINDOW)
    foot = first + share[:, None] * (second - first)
    points = foot[:, None] + _HEIGHTS[None, :, None] * _outward(first, second)
    values = sampled(grey, points).astype(np.float64).reshape(_WINDOWS, _PER_WINDOW, -1)
    # Between graduations the bare rule shows.
    fall = _fall(np.quantile(values, 0.75 if sign > 0 else 0.25, axis=1), sign)
    share = share.reshape(_WINDOWS, _PER_WINDOW).mean(axis=1)
    score = _scores(fall, share, _TRIES, _TRIES)
    found: list[_Line] = []
    for place in np.argsort(-score, axis=None)[:400]:
        row, column = np.unravel_index(place, score.shape)
        at = float(_TRIES[row]), float(_TRIES[column])
        if score[row, column] >= _LEAST_SCORE and all(
            abs(at[0] - o.first_px) + abs(at[1] - o.second_px) > 3.0 for o in found
        ):
            found.append(_between(fall, share, *at))
        if len(found) == _TRIED:
            break
    return found


def _scores(fall: Floats, share: Floats, firsts: Floats, seconds: Floats) -> Floats:
    """Return the mean fall along lines (firsts, seconds) with those offsets at their ends."""
    height = firsts[:, None, None] * (1 - share) + seconds[None, :, None] * share
    place = np.rint((height - _HEIGHTS[0]) / (_HEIGHTS[1] - _HEIGHTS[0])).astype(np.int_)
    place = place.clip(0, len(_HEIGHTS) - 1)
    return np.asarray(fall[np.arange(len(share)), place].mean(axis=2))


def _between(fall: Floats, share: Floats, first: float, second: float) -> _Line:
    """Return the best line about one that was tried, to a quarter of a pixel."""
    near = _scores(fall, share, first + _FINE, second + _FINE)
    row, column = np.unravel_index(int(near.argmax()), near.shape)
    return _Line(first + float(_FINE[row]), second + float(_FINE[column]), float(near.max()))


def _with_ends(grey: Bytes, quad: Floats, sign: float) -> Floats:
    """Return a quad whose long edges lie right, moved along them onto the rule's ends."""
    out = quad.copy()
    for one, other, behind_one, behind_other in ((0, 1, 3, 2), (2, 3, 1, 0)):
        ways = np.array([quad[one] - quad[behind_one], quad[other] - quad[behind_other]])
        ways /= np.linalg.norm(ways, axis=1, keepdims=True)
        line = _end(grey, quad[[one, other]], ways, sign)
        out[one] += line.first_px * ways[0]
        out[other] += line.second_px * ways[1]
    return out


def _end(grey: Bytes, corners: Floats, ways: Floats, sign: float) -> _Line:
    """Return how far an end's two corners must move outwards along their edges."""
    share = np.linspace(0.1, 0.9, _WINDOWS)
    foot = corners[0] + share[:, None] * (corners[1] - corners[0])
    way = ways[0] + share[:, None] * (ways[1] - ways[0])
    values = sampled(grey, foot[:, None] + _HEIGHTS[None, :, None] * way[:, None])
    fall = _fall(values.astype(np.float64), sign)
    score = _scores(fall, share, _TRIES, _TRIES)
    strain = 0.5 * (_TRIES[:, None] ** 2 + _TRIES[None] ** 2) / _USUAL_PX**2
    row, column = np.unravel_index(int((_WORTH * score - strain).argmax()), score.shape)
    return _between(fall, share, float(_TRIES[row]), float(_TRIES[column]))
