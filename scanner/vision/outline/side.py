"""One side of a flat face laid out for tracing: rows run outwards, columns along the side."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from scanner.vision.outline.floor_beyond import Beyond

if TYPE_CHECKING:
    from scanner.vision.outline.face_map import FaceMap
    from scanner.vision.photos.picture import FacePicture

Singles = NDArray[np.float32]
Doubles = NDArray[np.float64]

# Along a side odds are means over this: an arris is straight over it, a speck of dirt is not.
ALONG_MM = 4.0
# Ends are looked for no further in than this from the picture's rim.
_END_INWARD_MM = 420.0
# Where neither wood nor floor shows, no arris is told; an arris out of sight is not to be hoped
# for either.
_UNSEEN_ODDS = -0.3
# Where its side shows, an arris lies a known way in from the side's foot: what is told of the foot
# counts this much beside what is told of the arris itself. It decides where a lit side looks like
# the face.
_FOOT_WEIGHT = 0.25
# A side that shows narrower than this has no foot apart from its arris.
_NARROWEST_SIDE_MM = 2.0
# A single column's border is noisy: the middle one of so many counts.
BORDER_COLUMNS = 11
# The map is never quite certain: a share of wane below this is none. Further past the arris than
# this it is another board's.
_LEAST_WANE, _WIDEST_WANE_MM = 0.05, 60.0
# What is shown of a column's pixels counts from this share on.
_MOST = 0.9
# A board that goes on shows so much of its face across, wherever the map doubts it: no board is
# narrower (`outline/trace.py`).
_GOES_ON_MM = 25.0
# Sides are not quite square, nor is a rough-sawn board of one thickness.
_FOOT_SLACK_MM = 1.0


@dataclass(frozen=True, slots=True, eq=False)
class Side:
    """One side of the board.

    Attributes
    ----------
    odds, body
        (T, S) log odds that the face shows, and that any of the board does; means over `ALONG_MM`
        along the side.
    t_mm
        (T + 1,) how far out each row's inner border lies (and the last row's outer one), from the
        picture's own origin of that side.
    seen
        (T, S) share that a photo shows.
    s_mm
        (S,) where along the side each column lies.
    reach_mm
        (T + 1,) how far past each border the foot of a square side would show, were the arris
        there; 0 where that side is turned away or nothing is known of the camera.
    flank, wane
        (T, S) shares that the map calls the board's side, and wane.
    """

    odds: Singles
    body: Singles
    seen: Singles
    t_mm: Doubles
    s_mm: Doubles
    reach_mm: Doubles
    flank: Singles
    wane: Singles

    def arris_odds(self) -> Singles:
        """Return (T + 1, S) log odds of the arris lying on each border of rows, up to a constant.

        All rows further in then show face, all further out something else.
        """
        told = _sums(self.odds)
        if self.reach_mm[len(self.reach_mm) // 2] < _NARROWEST_SIDE_MM:
            return told
        row_mm = float(self.t_mm[1] - self.t_mm[0])
        slack = np.ones((2 * round(_FOOT_SLACK_MM / row_mm) + 1, 1), np.uint8)
        foot_odds = cv2.dilate(_sums(self.body), slack)
        foot = np.round(np.arange(len(told)) + self.reach_mm / row_mm).astype(int)
        return np.asarray(told + _FOOT_WEIGHT * foot_odds[np.minimum(foot, len(told) - 1)])


def arris_over_foot(side: Side) -> Doubles | None:
    """Return (S,) how far out the arris lies by the foot of the board's side alone, mm.

    The board is where its body shows; a square side is seen to reach a known way past its arris.
    None where the side does not show.
    """
    if side.reach_mm[len(side.reach_mm) // 2] < _NARROWEST_SIDE_MM:
        return None
    return arris_at_most(side)


def arris_at_most(side: Side) -> Doubles:
    """Return (S,) how far out the arris lies at most, mm, by where any of the board is last seen.

    There it is where no wane lies beside it and the board's side is square.
    """
    last_mm = side.t_mm[_sums(side.body).argmax(axis=0)]
    return np.asarray(np.interp(last_mm, side.t_mm + side.reach_mm, side.t_mm))


def board_ends(side: Side) -> Doubles | None:
    """Return (S,) how far out the board goes, mm, by where any of it is last seen.

    The last that is seen lies on the floor: a square side's foot, or where wane ends below. None
    where that side is turned away, so that wane may slope off out of sight.
    """
    if side.reach_mm[len(side.reach_mm) // 2] <= 0:
        return None
    return ndimage.median_filter(arris_at_most(side), size=BORDER_COLUMNS, mode="nearest")


def _sums(odds: Singles) -> Singles:
    """Return (T + 1, S) sums of the rows further in than each border."""
    inner = np.zeros((1, odds.shape[1]), dtype=np.float32)
    return np.vstack([inner, np.cumsum(odds, axis=0)])


class Sides:
    """The four sides of a mapped face, its board along x about the picture's middle."""

    def __init__(self, told: FaceMap, face: FacePicture) -> None:
        self.told = told
        self._foot = None
        if face.foot_mm is not None:
            self._foot = tuple(f - o for f, o in zip(face.foot_mm, face.origin_mm, strict=True))
        self._share, self._pixels = face.side_share, face.pixels
        rows, columns = told.face.shape
        # From the centre of the first pixel of the flat picture to that of its last.
        self.size_mm = (
            columns * told.step_mm[0] - 2 * (told.step_mm[0] / 2 - told.first_mm[0]),
            rows * told.step_mm[1] - 2 * (told.step_mm[1] / 2 - told.first_mm[1]),
        )
        known = [
            np.where(told.seen, odds, np.float32(_UNSEEN_ODDS)) for odds in (told.face, told.body)
        ]
        self._odds = np.dstack(known)
        self._shares = np.dstack([told.seen, *(one * told.seen for one in told.other_shares())])

    def lay(self, name: str) -> Side:
        """Return a whole side: "upper" and "lower" along x, "left" and "right" along y."""
        odds, body = np.moveaxis(self._laid(name, self._odds), -1, 0)
        seen, flank, wane = np.moveaxis(self._laid(name, self._shares), -1, 0)
        axis = 1 if name in ("upper", "lower") else 0  # of the outward way
        step, other = self.told.step_mm[axis], self.told.step_mm[1 - axis]
        depth, columns = odds.shape
        wide = self._odds.shape[axis] * other / columns
        first = self.told.first_mm[1 - axis] - other / 2
        outer = self.size_mm[axis] - self.told.first_mm[axis] + step / 2
        t = outer - (depth - np.arange(depth + 1)) * step
        return Side(
            odds,
            body,
            seen,
            t,
            first + (np.arange(columns) + 0.5) * wide,
            self._reach_mm(t, axis, is_last=name in ("lower", "right")),
            flank,
            wane,
        )

    def wane_mm(self, name: str, arris_mm: Doubles) -> Doubles:
        """Return (S,) how wide the map tells wane past an arris of "upper" or "lower", mm.

        ``arris_mm`` (S,) is how far out the arris lies at each column.
        """
        share = np.asarray(1.0 / (1.0 + np.exp(-self.told.wane)), dtype=np.float32)
        share[(share < _LEAST_WANE) | ~self.told.seen] = 0.0
        laid = self._laid(name, share)
        t = self.lay(name).t_mm
        step = t[1] - t[0]
        past = np.clip((t[1:, None] - arris_mm) / step, 0.0, 1.0)
        past[t[:-1, None] - arris_mm > _WIDEST_WANE_MM] = 0.0
        return np.asarray((laid * past).sum(axis=0) * step, dtype=np.float64)

    def beyond(self, name: str, arris_mm: Doubles) -> Beyond:
        """Return how the picture looks past an arris of "upper" or "lower"; see `wane_mm`."""
        rows, columns = self.told.seen.shape
        pixels = cv2.resize(self._pixels, (columns, rows), interpolation=cv2.INTER_AREA)
        laid = self._laid(name, np.dstack([pixels, self.told.seen]).astype(np.float32))
        side = self.lay(name)
        out_mm = arris_mm + np.arange(_WIDEST_WANE_MM)[:, None] + 0.5
        row = (out_mm - side.t_mm[0]) / (side.t_mm[1] - side.t_mm[0]) - 0.5
        column = np.broadcast_to(np.arange(len(arris_mm)), row.shape)
        past = cv2.remap(laid, column.astype(np.float32), row.astype(np.float32), cv2.INTER_LINEAR)
        rgb = np.asarray(past[..., :3], dtype=np.float32) / 255.0
        looks = np.asarray(cv2.cvtColor(rgb, cv2.COLOR_RGB2LAB), dtype=np.float32)
        seen = past[..., 3] > _MOST
        shows_mm = np.interp(arris_mm, side.t_mm, side.reach_mm)
        return Beyond(looks.swapaxes(0, 1), seen.T, shows_mm)

    def hides_mm(self, name: str, arris_mm: Doubles) -> Doubles:
        """Return (S,) how far past an arris of "upper" or "lower" the board may go on unseen, mm.

        0 where its side shows; without bounds where nothing is known of the camera.
        """
        if self._foot is None:
            return np.full_like(arris_mm, np.inf)
        return np.maximum(-self._shows_mm(arris_mm, 1, is_last=name == "lower"), 0.0)

    def _laid(self, name: str, values: Singles) -> Singles:
        """Return (T, S, ...) the rows of a side of a map (H, W, ...), from the inmost one out."""
        along_x = name in ("upper", "lower")
        axis = 1 if along_x else 0
        step, other = self.told.step_mm[axis], self.told.step_mm[1 - axis]
        turned = values if along_x else values.swapaxes(0, 1)
        count = turned.shape[0]
        depth = count // 2 if along_x else min(count // 2, round(_END_INWARD_MM / step))
        rows = turned[-depth:] if name in ("lower", "right") else turned[:depth][::-1]
        columns = max(2, round(rows.shape[1] * other / ALONG_MM))
        laid = cv2.resize(
            np.ascontiguousarray(rows), (columns, depth), interpolation=cv2.INTER_AREA
        )
        return np.asarray(laid, dtype=np.float32)

    def _reach_mm(self, t: Doubles, axis: int, *, is_last: bool) -> Doubles:
        if self._foot is None:
            return np.zeros_like(t)
        return np.maximum(self._shows_mm(t, axis, is_last=is_last), 0.0)

    def _shows_mm(self, t: Doubles, axis: int, *, is_last: bool) -> Doubles:
        """Return how far past an arris its side's foot shows; below 0 it lies hidden so far in."""
        assert self._foot is not None
        foot = self._foot[axis] if is_last else self.size_mm[axis] - self._foot[axis]
        return np.asarray(self._share * (foot - t), dtype=np.float64)

    def board_columns(self) -> NDArray[np.intp]:
        """Return which columns of a long side the board reaches, by the middle of its width.

        Between two of these it goes on, too, where the map doubts its middle but sees face beside:
        a board has no gap, and its arris is told there as anywhere.
        """
        face = self._odds[..., 0]
        rows = len(face)
        middle = face[2 * rows // 5 : 3 * rows // 5 + 1].mean(axis=0)
        shown_mm = np.count_nonzero(face > 0, axis=0) * self.told.step_mm[1]
        columns = self.lay("upper").odds.shape[1]
        along, wide_mm = (
            cv2.resize(one.astype(np.float32)[None], (columns, 1), interpolation=cv2.INTER_AREA)[0]
            for one in (middle, shown_mm)
        )
        reached = along > 0
        if not reached.any():
            return np.flatnonzero(reached)
        first, last = np.flatnonzero(reached)[[0, -1]]
        reached[first : last + 1] |= wide_mm[first : last + 1] >= _GOES_ON_MM
        return np.flatnonzero(reached)
