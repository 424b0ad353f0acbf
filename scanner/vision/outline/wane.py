"""Wane beside a traced arris: where the arris leaves the line that the saw cut."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from scanner.geometry.polygons import polygon_of
from scanner.vision.outline.bowed_line import FEWEST, LEAST_STRAIGHT, STRAY_MM, WAVE_MM, bowed_line

if TYPE_CHECKING:
    from collections.abc import Callable

    from shapely.geometry import Polygon

    from scanner.vision.outline.floor_beyond import Beyond

Doubles = NDArray[np.float64]

# A sawn edge wanders by a millimetre or two over its length; wane goes further in, and where it
# shows it need not go so far in.
_LEAST_DEPTH_MM, _LEAST_SHOWN_MM = 3.5, 2.5
# No deeper than a sawn edge may wander, it is told where the map tells wane at each place, and on
# the whole at least this share of what is lost: bark on a log's edge hardly goes in at all. Depths
# from 1.0 to 1.8 mm and shares to 0.8 tell the same on 27 rendered faces (5250-5335): one wane
# more, none of it false there or on 19 kept back (7340-7393).
_SHALLOW_MM, _SHALLOW_SHARE = 1.2, 0.5
_LEAST_LENGTH_MM = 25.0
# An edge's own wander is so many times the median of how far it strays outwards, within bounds.
_SAWN_WANDER_MM, _LEAST_WANDER_MM, _OWN_WANDER = 2.0, 0.5, 1.5
# Wane is drawn out to where the arris comes this near to the sawn line again.
_MEETS_MM = 1.0
_LEAST_AREA_MM2 = 40.0
# Wane is told where the map tells at least this share of what is lost past the arris: mostly it
# slopes off out of sight. On 49 rendered faces (seeds 5200-5242) 24 of 25 stretches of wane had
# 0.045 and more; edges that wander, shadows and grass had 0.008 and less, but for one.
_LEAST_WANE_SHARE = 0.03
# How far a board goes is told no better than this. It counts where nothing shows, too: without it
# 4 of 25 small wanes (seeds 7340-7361) were lost, whose bark the map does not see.
_ENDS_SLACK_MM = 2.0
# Where the map tells this much, the saw's line is looked for beyond it, so far off as that is known
# (one standard deviation).
_SURE_WANE_MM, _WANE_OFF_MM = 1.0, 3.0
# What is known of a sawn line before it is seen, one standard deviation at the board's ends: how
# it runs away from the opposite edge (boards taper) and how it bows against it (hardly: crook bends
# both edges alike). Of one edge alone nearly nothing is known. Common practice, no source.
_TAPER_MM, _BOW_MM = 4.0, 1.5
_ALONE_TAPER_MM, _ALONE_BOW_MM = 20.0, 6.0
_LEAST_SAWN = 0.1
_ROUNDS = 16


@dataclass(frozen=True, slots=True, eq=False)
class Past:
    """What shows past each point of a traced arris, across it.

    Attributes
    ----------
    wane_mm
        (N,) how wide the map tells wane there, mm.
    least_mm, most_mm
        (N,) how far past the arris the board goes at least and at most, mm. The two differ where
        its side is turned away, so that wane may slope off out of sight, and where wane shows
        further out than it would lie down on the floor.
    beyond
        Gives how it looks there, to tell the floor by; None where nobody knows.
    """

    wane_mm: Doubles
    least_mm: Doubles
    most_mm: Doubles
    beyond: Callable[[], Beyond] | None = None

    def of(self, points: NDArray[np.bool_]) -> Past:
        """Return the same of some of the points."""
        look = self.beyond
        return Past(
            self.wane_mm[points],
            self.least_mm[points],
            self.most_mm[points],
            (lambda: look().of(points)) if look else None,
        )

    def ends_mm(self, sawn_mm: Doubles) -> Doubles:
        """Return (S,) how far past the arris wane may go, mm; the saw's line lies ``sawn_mm`` off.

        Dark bark in a shadow is floor to the map, which the floor itself shows it not to be.
        """
        ends_mm = self.most_mm + _ENDS_SLACK_MM
        hidden = sawn_mm > np.maximum(ends_mm, _LEAST_SHOWN_MM)
        if self.beyond is not None and hidden.any():
            ends_mm = np.maximum(ends_mm, self.beyond().floor_mm(sawn_mm, hidden))
        return np.minimum(sawn_mm, ends_mm)


def sawn_line(
    edge: Doubles, outward: int, opposite: Doubles | None = None, past: Past | None = None
) -> Doubles:
    """Return y of the sawn edge at each point of a traced arris: a bowed line past any wane.

    Where wane takes most of an edge, the short stretch that is left of the saw's line does not tell
    how it bows: a line drawn on from there cuts through the wane or runs out past the bark. The
    opposite edge tells it, since crook bends the whole board. Even wane over much more than half of
    an edge, where none shows past it, may still be taken for a board that tapers.

    Parameters
    ----------
    edge
        (N, 2) traced points, x rising, mm.
    outward
        -1 where the board lies below the edge (upper side), +1 where it lies above.
    opposite
        (M, 2) traced points of the board's other long side.
    past
        What shows past the edge: where that is wane, its outer border lies on the saw's line, or
        inside of it.
    """
    middle, half = edge[:, 0].mean(), max(float(np.ptp(edge[:, 0])) / 2, 1.0)
    x = (edge[:, 0] - middle) / half
    out, stray_mm = outward * edge[:, 1], np.full(len(edge), STRAY_MM)
    if past is not None:
        is_wane = past.wane_mm > _SURE_WANE_MM
        out = out + np.where(is_wane, past.least_mm, 0.0)
        stray_mm[is_wane] = _WANE_OFF_MM
    design = np.column_stack([np.ones_like(x), x, x * x])
    like, taper_mm, bow_mm = np.zeros(3), _ALONE_TAPER_MM, _ALONE_BOW_MM
    if opposite is not None and len(opposite) >= FEWEST:
        line, straight = bowed_line(opposite[:, 0], opposite[:, 1], np.arange(len(opposite)))
        if straight >= LEAST_STRAIGHT:
            bow, run, _ = outward * np.polyfit((opposite[:, 0] - middle) / half, line, 2)
            like, taper_mm, bow_mm = np.array([0.0, run, bow]), _TAPER_MM, _BOW_MM
    from_like = out - design @ like
    weight = 2 * half / max(len(x) - 1, 1) / WAVE_MM / stray_mm**2
    known = np.diag([0.0, taper_mm**-2, bow_mm**-2])
    # Start at the outer envelope: wane only ever takes wood away.
    keep = from_like >= np.percentile(from_like, 50)
    fit = np.zeros(3)
    for turn in range(_ROUNDS):
        sawn, held = design[keep], weight[keep, None] * design[keep]
        fit = np.linalg.solve(sawn.T @ held + known, held.T @ from_like[keep])
        depth = design @ fit - from_like
        near = depth < _SAWN_WANDER_MM
        if turn >= _ROUNDS // 2:
            near &= ~_running_out(depth, keep)
        if near.mean() < _LEAST_SAWN:
            break
        keep = near
    return np.asarray(outward * (design @ (like + fit)), dtype=np.float64)


def _running_out(depth: Doubles, keep: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Return where wane runs out on both sides of its deep stretches.

    No deeper there than a saw wanders, it would draw the line in by 1 to 2 mm: it is followed to
    where the edge strays from its line no further than it does outwards, where no wane moves it.
    """
    strays = -depth[keep & (depth <= 0)]
    own_mm = _OWN_WANDER * float(np.median(strays)) if len(strays) else 0.0
    out = np.zeros(len(depth), dtype=bool)
    for run in _runs(depth > _LEAST_SHOWN_MM):
        first, last = _widened(depth, run, min(max(own_mm, _LEAST_WANDER_MM), _SAWN_WANDER_MM))
        out[first : last + 1] = True
    return out


@dataclass(frozen=True, slots=True)
class Lost:
    """Where a traced arris leaves the line that the saw cut.

    Attributes
    ----------
    whole
        Between arris and line.
    seen
        The same, but no further out than the board ends; the whole where next to nothing is seen.
    is_wane
        Whether wane shows there.
    """

    whole: Polygon
    seen: Polygon
    is_wane: bool


def lost_beside(
    edge: Doubles,
    outward: int,
    opposite: Doubles | None = None,
    past: Past | None = None,
) -> tuple[Lost, ...]:
    """Return the areas between a traced arris and the line that the saw cut; see `sawn_line`.

    ``past`` tells what shows past the edge, if that is known. A natural edge that goes through the
    whole thickness ends before the saw's line.
    """
    line = sawn_line(edge, outward, opposite, past)
    depth = outward * (line - edge[:, 1])
    last = depth if past is None else past.ends_mm(depth)
    found = []
    # Out to where the arris meets the sawn line again; two deep stretches may so be one.
    spans = {_widened(depth, run, _MEETS_MM) for run in _runs(_may_be_lost(depth, past))}
    for first, stop in sorted(spans):
        part = slice(first, stop + 1)
        if edge[stop, 0] - edge[first, 0] < _LEAST_LENGTH_MM:
            continue
        is_deep = depth[part].max() > _LEAST_SHOWN_MM
        share = _LEAST_WANE_SHARE if is_deep else _SHALLOW_SHARE
        least = share * depth[part].mean()
        is_wane = past is not None and bool(past.wane_mm[part].mean() > least)
        if not is_wane and depth[part].max() <= _LEAST_DEPTH_MM:
            continue
        whole, seen = (_between(edge[part], outward * deep[part]) for deep in (depth, last))
        if whole.area > _LEAST_AREA_MM2:
            found.append(Lost(whole, seen if seen.area > _LEAST_AREA_MM2 else whole, is_wane))
    return tuple(found)


def _may_be_lost(depth: Doubles, past: Past | None) -> NDArray[np.bool_]:
    """Return at which points an arris lies so far inside the saw's line that wood may be lost."""
    lost = depth > _LEAST_SHOWN_MM
    if past is not None:
        lost |= (depth > _SHALLOW_MM) & (past.wane_mm > _SURE_WANE_MM)
    return np.asarray(lost)


def _between(edge: Doubles, wide_mm: Doubles) -> Polygon:
    outer = np.column_stack([edge[:, 0], edge[:, 1] + wide_mm])
    return polygon_of(np.vstack([edge, outer[::-1]]))


def _widened(depth: Doubles, run: tuple[int, int], least_mm: float) -> tuple[int, int]:
    """Return the run with all points beside it that lie further than this inside the sawn line."""
    first, last = run
    while first > 0 and depth[first - 1] > least_mm:
        first -= 1
    while last < len(depth) - 1 and depth[last + 1] > least_mm:
        last += 1
    return first, last


def _runs(flags: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """Return first and last index of each unbroken run of True; short gaps are bridged."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], flags, [False]]).astype(np.int8)))
    runs = [(int(a), int(b) - 1) for a, b in zip(edges[::2], edges[1::2], strict=True)]
    joined: list[tuple[int, int]] = []
    for run in runs:
        if joined and run[0] - joined[-1][1] <= 4:
            joined[-1] = (joined[-1][0], run[1])
        else:
            joined.append(run)
    return joined
