"""Follow a bar through the picture: its two long edges and its ends, to a part of a pixel."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from scanner.vision.cv import Bytes, Floats, sampled

if TYPE_CHECKING:
    from numpy.typing import NDArray

# The band is cut into windows about this many bar widths long; an edge is measured in each.
_WINDOW_WIDTHS = 0.6
_ACROSS = 3.2
_PER_WIDTH = 32
# (share of the usual brightness step that is needed, windows bridged, both edges needed)
_BRIDGING = ((0.2, 3, True), (0.15, 5, True), (0.25, 2, False))


@dataclass(frozen=True, slots=True, eq=False)
class Band:
    """A bar in a photo; ``share`` runs from 0 at its first end to 1 at its other end.

    Attributes
    ----------
    start, stop
        Ends of the middle line, (2,) px.
    upper, lower
        Coefficients of the edges' distances from the middle line over share (cubics: lenses bend
        long edges); upper is the side of ``up``.
    shares, upper_px, lower_px
        Where the edges were really measured, and how far from the middle line (NaN: not seen).
    """

    start: Floats
    stop: Floats
    upper: Floats
    lower: Floats
    shares: Floats
    upper_px: Floats
    lower_px: Floats

    @property
    def length(self) -> float:
        """Length of the middle line, px."""
        return float(np.linalg.norm(self.stop - self.start))

    def _chord_up(self) -> Floats:
        step = (self.stop - self.start) / self.length
        return np.array([step[1], -step[0]])

    def centre(self, share: float) -> Floats:
        """Return the middle of the bar at a share of its length, (2,) px."""
        lift = (np.polyval(self.upper, share) + np.polyval(self.lower, share)) / 2
        return np.asarray(self.start + share * (self.stop - self.start) + lift * self._chord_up())

    def place(self, share: float, lift: float) -> Floats:
        """Return a point of the bar, (2,) px; ``lift`` -0.5 at the lower edge to 0.5 at the upper.

        The same grid lines as `grid`: square to the chord, not to the bar's own bend.
        """
        height = np.polyval(self.upper, share) + np.polyval(self.lower, share)
        height = height / 2 + lift * self.width(share)
        return np.asarray(self.start + share * (self.stop - self.start) + height * self._chord_up())

    def width(self, share: float) -> float:
        """Return the width of the bar, px."""
        return float(np.polyval(self.upper, share) - np.polyval(self.lower, share))

    def along(self, share: float) -> Floats:
        """Return the unit vector along the bar, towards its other end."""
        step = self.centre(min(1.0, share + 0.02)) - self.centre(max(0.0, share - 0.02))
        return np.asarray(step / np.linalg.norm(step))

    def up(self, share: float) -> Floats:
        """Return the unit vector across the bar, to the left of ``along`` as the eye sees it."""
        step = self.along(share)
        return np.array([step[1], -step[0]])

    def edge(self, share: float, side: float) -> Floats | None:
        """Return a measured point of an edge near a share, or None where it is hidden."""
        heights = self.upper_px if side > 0 else self.lower_px
        smooth = np.polyval(self.upper if side > 0 else self.lower, self.shares)
        near = np.isfinite(heights) & (np.abs(self.shares - share) < 0.04)
        if near.sum() < 1:
            return None
        off = float(np.median((heights - smooth)[near]))
        height = np.polyval(self.upper if side > 0 else self.lower, share) + off
        return np.asarray(self.start + share * (self.stop - self.start) + height * self._chord_up())

    def grid(self, columns: int, rows: int) -> Floats:
        """Return points (rows, columns, 2) px that cover the bar; first row at the upper edge."""
        share = np.linspace(0.0, 1.0, columns)
        upper, lower = np.polyval(self.upper, share), np.polyval(self.lower, share)
        down = ((np.arange(rows) + 0.5) / rows)[:, None]
        height = upper + (lower - upper) * down
        line = self.start + share[:, None] * (self.stop - self.start)
        return np.asarray(line + height[..., None] * self._chord_up())


def _edge_height(profile: Floats, heights: Floats, guess: Floats, reach: float) -> Floats:
    """Return the sub-pixel height of the outermost strong rise near a guess, one a window.

    Not the strongest: dense graduations make a second edge where they end.
    """
    rise = np.gradient(profile, axis=1)
    near = np.abs(heights[None] - guess[:, None]) < reach
    weight = np.where(near, np.maximum(rise, 0.0), 0.0)
    strong = weight > 0.55 * weight.max(axis=1, keepdims=True)
    edge = len(heights) - 1 - strong[:, ::-1].argmax(axis=1)
    # From the outermost strong sample to the top of its own step.
    close = np.abs(heights[None] - heights[edge][:, None]) < 1.5
    peak = np.where(close, weight, 0.0).argmax(axis=1)
    weight = weight**2
    step = heights[1] - heights[0]
    # Centroid about the peak only: ticks and shadows nearby must not pull it.
    close = np.abs(heights[None] - heights[peak][:, None]) < max(1.6, 3 * step)
    weight = np.where(close, weight, 0.0)
    total = weight.sum(axis=1)
    out = (weight * heights).sum(axis=1) / np.maximum(total, 1e-9)
    return np.where(total > 0, out, np.nan)


def _strength_at(profile: Floats, heights: Floats, at: Floats, sign: float) -> Floats:
    """Return the brightness step across an edge, one a window."""
    out = np.zeros(len(profile))
    for row, height in enumerate(at):
        if np.isfinite(height):
            inside = np.interp(height - sign * 2.0, heights, profile[row])
            outside = np.interp(height + sign * 2.0, heights, profile[row])
            out[row] = outside - inside
    return out


def _smooth_cubic(share: Floats, values: Floats, degree: int) -> tuple[Floats, NDArray[np.bool_]]:
    """Return a robust polynomial through values, and which of them it keeps."""
    keep = np.isfinite(values)
    coefficients = np.zeros(degree + 1)
    for _ in range(5):
        if keep.sum() < degree + 2:
            break
        coefficients = np.polyfit(share[keep], values[keep], degree)
        off = np.abs(values - np.polyval(coefficients, share))
        scatter = max(0.4, 1.4826 * float(np.nanmedian(off[keep])))
        keep = np.isfinite(values) & (np.nan_to_num(off, nan=np.inf) < 3 * scatter)
    return coefficients, keep


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
) -> list[Band]:
    """Return the bar about a rough middle line, followed both ways as far as it goes.

    Where the ground has the rule's brightness, or lies over it, how far it goes is a matter of
    how much is bridged; the answers differ in that and the graduations must tell.

    Parameters
    ----------
    start, stop
        Rough ends of the middle line, px.
    wide
        Rough width, px.
    fixed_ends
        True: the ends are known to about a bar's width (tapped), do not follow further.
    """
    step = stop - start
    length = float(np.linalg.norm(step))
    if length < 4 * wide:
        return []
    direction = step / length
    up = np.array([direction[1], -direction[0]])
    over = 0.6 * wide if fixed_ends else 0.9 * length
    low, high = _inside_picture(grey, start, direction, -over, length + over)
    window = max(4.0, _WINDOW_WIDTHS * wide)
    count = int((high - low) / window)
    if count < 10:
        return []
    centres: Floats = np.asarray(low + (np.arange(count) + 0.5) * window, dtype=np.float64)
    heights = np.linspace(-_ACROSS / 2, _ACROSS / 2, int(_ACROSS * _PER_WIDTH) + 1) * wide
    per_window = max(3, int(window))
    inner = (np.arange(per_window) + 0.5) / per_window - 0.5
    s = (centres[:, None] + inner * window).ravel()
    points = start + s[:, None, None] * direction + heights[None, :, None] * up
    values = sampled(grey, points).astype(np.float64).reshape(count, per_window, len(heights))
    # Polarity (a bright bar or a dark one) from the rough part itself.
    own = (centres > 0.1 * length) & (centres < 0.9 * length)
    if own.sum() < 5:
        return []
    mean = np.median(values[own], axis=(0, 1))
    middle = mean[np.abs(heights) < 0.3 * wide].mean()
    outside = mean[np.abs(np.abs(heights) - 0.9 * wide) < 0.25 * wide].mean()
    bright = bool(middle > outside)
    # Dense graduations would move the mean edge inwards; between them the bare rule shows.
    profile = np.quantile(values, 0.75 if bright else 0.25, axis=1)
    signed = profile if not bright else -profile
    share: Floats = np.asarray(centres / length, dtype=np.float64)
    # Signed so that outside is higher: the upper edge rises with height, the lower one falls.
    guess = np.zeros(count)
    upper = _edge_height(signed, heights, guess + wide / 2, 0.25 * wide)
    lower = _edge_height(signed[:, ::-1], -heights[::-1], guess + wide / 2, 0.25 * wide) * -1
    rises = [
        _strength_at(signed, heights, upper, 1.0),
        _strength_at(signed, heights, lower, -1.0),
    ]
    ok = np.isfinite(upper) & np.isfinite(lower) & own
    if ok.sum() < 5:
        return []
    curve_u, keep_u = _smooth_cubic(share[own], upper[own], 2)
    curve_l, keep_l = _smooth_cubic(share[own], lower[own], 2)
    if keep_u.mean() < 0.4 or keep_l.mean() < 0.4:
        return []
    strength = [float(np.median(rise[own])) for rise in rises]
    if min(strength) <= 1.0:
        return []
    out: list[Band] = []
    seen_ends: list[tuple[float, float]] = []
    for share_needed, gap, both in _BRIDGING:
        run_of = _Run(share, upper, lower, rises, [share_needed * one for one in strength], wide)
        found = run_of.follow(curve_u, curve_l, gap, both=both)
        if found is None:
            continue
        run, curves, there = found
        ends = _ends(grey, (start, direction, up), curves, length, wide, centres[list(run)], bright)
        if ends is None or any(
            abs(ends[0] - other[0]) + abs(ends[1] - other[1]) < 0.3 * wide for other in seen_ends
        ):
            continue
        seen_ends.append(ends)
        s0, s1 = ends
        new_share: Floats = np.asarray((centres - s0) / (s1 - s0), dtype=np.float64)
        used = (new_share > -0.01) & (new_share < 1.01)
        fit_u, keep_u = _smooth_cubic(new_share[used], np.where(there[0], upper, np.nan)[used], 3)
        fit_l, keep_l = _smooth_cubic(new_share[used], np.where(there[1], lower, np.nan)[used], 3)
        if keep_u.sum() < 6 or keep_l.sum() < 6:
            continue
        out.append(
            Band(
                start + s0 * direction,
                start + s1 * direction,
                fit_u,
                fit_l,
                new_share[used],
                np.where(keep_u, upper[used], np.nan),
                np.where(keep_l, lower[used], np.nan),
            )
        )
    return out


@dataclass(frozen=True, slots=True, eq=False)
class _Run:
    """Both edges in all windows, and how far along the bar they can be followed."""

    share: Floats
    upper: Floats
    lower: Floats
    rises: list[Floats]
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
        index = np.arange(len(self.share))
        run: tuple[int, int] | None = None
        there_u = there_l = np.zeros(len(index), dtype=bool)
        for _ in range(4):
            # Each round the curves are drawn over what the last one found, so that they need
            # not be carried far beyond it.
            off_u = np.abs(self.upper - np.polyval(curve_u, self.share))
            off_l = np.abs(self.lower - np.polyval(curve_l, self.share))
            there_u = (off_u < tolerance) & (self.rises[0] > self.needed[0])
            there_l = (off_l < tolerance) & (self.rises[1] > self.needed[1])
            run = _longest_run(there_u & there_l if both else there_u | there_l, gap)
            if run is None or run[1] - run[0] < 8:
                return None
            within = (index >= run[0]) & (index <= run[1])
            curve_u, _ = _smooth_cubic(
                self.share[within], np.where(there_u, self.upper, np.nan)[within], 2
            )
            curve_l, _ = _smooth_cubic(
                self.share[within], np.where(there_l, self.lower, np.nan)[within], 2
            )
        if run is None or (there_u | there_l)[run[0] : run[1] + 1].mean() < 0.5:
            return None
        return run, (curve_u, curve_l), (there_u, there_l)


def _inside_picture(
    grey: Bytes, start: Floats, direction: Floats, low: float, high: float
) -> tuple[float, float]:
    reach = np.arange(low, high, 1.0)
    points = start + reach[:, None] * direction
    size = np.array([grey.shape[1], grey.shape[0]])
    inside = ((points >= 0) & (points <= size - 1)).all(axis=1)
    if not inside.any():
        return 0.0, 0.0
    return float(reach[inside][0]), float(reach[inside][-1])


def _ends(
    grey: Bytes,
    frame: tuple[Floats, Floats, Floats],
    curves: tuple[Floats, Floats],
    length: float,
    wide: float,
    rough: Floats,
    bright: bool,
) -> tuple[float, float] | None:
    """Return where the bar ends, px along the rough line: the outermost strong step."""
    start, direction, up = frame
    curve_u, curve_l = curves
    out = []
    for where, outward in ((float(rough[0]), -1.0), (float(rough[1]), 1.0)):
        reach = np.arange(-1.6 * wide, 1.6 * wide, 0.5)
        s = where + outward * reach
        share = s / length
        upper, lower = np.polyval(curve_u, share), np.polyval(curve_l, share)
        across = np.linspace(0.12, 0.88, 17)
        height = lower[:, None] + (upper - lower)[:, None] * across
        points = start + s[:, None, None] * direction + height[..., None] * up
        values = sampled(grey, points).astype(np.float64)
        line = np.median(values, axis=1)
        signed = -line if bright else line
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
    if out[1] - out[0] < 4 * wide:
        return None
    return out[0], out[1]
