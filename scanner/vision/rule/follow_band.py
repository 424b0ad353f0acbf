"""Follow a bar through the picture as far as it goes, and see where it ends."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from scanner.vision.cv import Bytes, Floats, sampled
from scanner.vision.rule.band import Band, along_curve, smooth_curve
from scanner.vision.rule.bar_edges import Edges, measure_edges

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

# Rules are longer than so many of their widths.
STOUTEST = 2.7
# (share of the usual brightness step that is needed, windows bridged, both edges needed)
_BRIDGING = ((0.2, 3, True), (0.15, 5, True), (0.25, 2, False))


def _longest_run(present: NDArray[np.bool_], gap: int) -> tuple[int, int] | None:
    """Return first and last index of the longest run of True, bridging gaps."""
    where = np.flatnonzero(present)
    if len(where) == 0:
        return None
    breaks = np.flatnonzero(np.diff(where) > gap)
    starts = np.concatenate([[0], breaks + 1])
    stops = np.concatenate([breaks, [len(where) - 1]])
    best = int(np.argmax(where[stops] - where[starts]))
    return int(where[starts[best]]), int(where[stops[best]])


def follow_band(
    grey: Bytes, start: Floats, stop: Floats, wide: float, *, fixed_ends: bool = False
) -> Iterator[Band]:
    """Yield the bar about a rough middle line, followed both ways as far as it goes.

    Where the ground has the rule's brightness, or lies over it, how far it goes is a matter of
    how much is bridged; the answers differ in that and the graduations must tell.

    Parameters
    ----------
    start, stop
        Rough ends of the middle line, px.
    wide
        Rough width, px.
    fixed_ends
        True: the ends are known (tapped and refined), do not follow further.
    """
    length = float(np.linalg.norm(stop - start))
    if length < STOUTEST * wide:
        return
    edges = measure_edges(grey, start, stop, wide, over=0.0 if fixed_ends else 0.9 * length)
    if edges is None:
        return
    own = edges.own
    curve_u, keep_u = smooth_curve(edges.share[own], edges.upper[own], 2)
    curve_l, keep_l = smooth_curve(edges.share[own], edges.lower[own], 2)
    strength = [float(np.median(rise[own])) for rise in edges.rises]
    if keep_u.mean() < 0.4 or keep_l.mean() < 0.4 or min(strength) <= 1.0:
        return
    seen_ends: list[tuple[float, float]] = []
    for share_needed, gap, both in _BRIDGING:
        run_of = _Run(edges, [share_needed * one for one in strength], wide)
        found = run_of.follow(curve_u, curve_l, gap, both=both)
        if found is None:
            continue
        run, curves, there = found
        ends: tuple[float, float] | None = (0.0, length)
        if not fixed_ends:
            ends = _ends(grey, edges, curves, wide, edges.centres[list(run)])
        if ends is None or any(
            abs(ends[0] - other[0]) + abs(ends[1] - other[1]) < 0.3 * wide for other in seen_ends
        ):
            continue
        seen_ends.append(ends)
        band = _band_between(edges, ends, there)
        if band is not None:
            yield band


def _band_between(
    edges: Edges, ends: tuple[float, float], there: tuple[NDArray[np.bool_], NDArray[np.bool_]]
) -> Band | None:
    """Return the bar between two places along the rough line, its edges smooth curves."""
    s0, s1 = ends
    share: Floats = np.asarray((edges.centres - s0) / (s1 - s0), dtype=np.float64)
    used = (share > -0.01) & (share < 1.01)
    upper, lower = edges.upper[used], edges.lower[used]
    fit_u, keep_u = smooth_curve(share[used], np.where(there[0][used], upper, np.nan), 3)
    fit_l, keep_l = smooth_curve(share[used], np.where(there[1][used], lower, np.nan), 3)
    if keep_u.sum() < 6 or keep_l.sum() < 6:
        return None
    return Band(
        edges.start + s0 * edges.direction,
        edges.start + s1 * edges.direction,
        fit_u,
        fit_l,
        share[used],
        np.where(keep_u, upper, np.nan),
        np.where(keep_l, lower, np.nan),
    )


@dataclass(frozen=True, slots=True, eq=False)
class _Run:
    """Both edges in all windows, and how far along the bar they can be followed."""

    edges: Edges
    needed: list[float]
    wide: float

    def follow(
        self, curve_u: Floats, curve_l: Floats, gap: int, *, both: bool
    ) -> (
        tuple[tuple[int, int], tuple[Floats, Floats], tuple[NDArray[np.bool_], NDArray[np.bool_]]]
        | None
    ):
        """Return the first and last window, the edges' curves, and where each edge was seen."""
        tolerance = max(1.5, 0.08 * self.wide)
        index = np.arange(len(self.edges.share))
        run: tuple[int, int] | None = None
        there_u = there_l = np.zeros(len(index), dtype=bool)
        for _ in range(4):
            # Each round the curves are drawn over what the last one found, so that they need
            # not be carried far beyond it.
            off_u = np.abs(self.edges.upper - along_curve(curve_u, self.edges.share))
            off_l = np.abs(self.edges.lower - along_curve(curve_l, self.edges.share))
            there_u = (off_u < tolerance) & (self.edges.rises[0] > self.needed[0])
            there_l = (off_l < tolerance) & (self.edges.rises[1] > self.needed[1])
            run = _longest_run(there_u & there_l if both else there_u | there_l, gap)
            if run is None or run[1] - run[0] < 8:
                return None
            within = (index >= run[0]) & (index <= run[1])
            curve_u, _ = smooth_curve(
                self.edges.share[within], np.where(there_u, self.edges.upper, np.nan)[within], 2
            )
            curve_l, _ = smooth_curve(
                self.edges.share[within], np.where(there_l, self.edges.lower, np.nan)[within], 2
            )
        if run is None or (there_u | there_l)[run[0] : run[1] + 1].mean() < 0.5:
            return None
        return run, (curve_u, curve_l), (there_u, there_l)


def _ends(
    grey: Bytes, edges: Edges, curves: tuple[Floats, Floats], wide: float, rough: Floats
) -> tuple[float, float] | None:
    """Return where the bar ends, px along the rough line: the outermost strong step."""
    curve_u, curve_l = curves
    out = []
    for where, outward in ((float(rough[0]), -1.0), (float(rough[1]), 1.0)):
        far = min(1.6 * wide, 0.15 * edges.length)
        reach = np.arange(-far, far, 0.5)
        s = where + outward * reach
        share = s / edges.length
        upper, lower = along_curve(curve_u, share), along_curve(curve_l, share)
        across = np.linspace(0.12, 0.88, 17)
        height = lower[:, None] + (upper - lower)[:, None] * across
        points = edges.place(s[:, None], height)
        values = sampled(grey, points).astype(np.float64)
        line = np.median(values, axis=1)
        signed = -line if edges.is_bright else line
        lag = 2
        rise = np.zeros(len(line))
        rise[lag:-lag] = signed[2 * lag :] - signed[: -2 * lag]
        if rise.max() <= 0:
            return None
        # The outermost step that is not much weaker than the strongest: beyond it is floor.
        strong = np.flatnonzero(rise > 0.6 * rise.max())
        peak = int(strong[np.argmax(rise[strong])])
        near = slice(max(0, peak - 4), peak + 5)
        weight = np.maximum(rise[near], 0) ** 2
        out.append(float((weight * s[near]).sum() / weight.sum()))
    if out[1] - out[0] < STOUTEST * wide:
        return None
    return out[0], out[1]


def straight_band(quad: Floats) -> Band:
    """Return the bar between four corners (4, 2) px, those of its first end first."""
    start, stop = quad[:2].mean(axis=0), quad[2:].mean(axis=0)
    step = (stop - start) / np.linalg.norm(stop - start)
    up = np.array([step[1], -step[0]])
    # The higher and the lower corner of each end.
    heights = np.sort([(quad[:2] - start) @ up, (quad[2:] - stop) @ up], axis=1)
    share = np.linspace(0.02, 0.98, 25)
    lower, upper = (
        np.array([0.0, 0.0, heights[1, row] - heights[0, row], heights[0, row]]) for row in (0, 1)
    )
    return Band(
        start, stop, upper, lower, share, along_curve(upper, share), along_curve(lower, share)
    )
