"""One side of a flat face laid out for tracing: rows run outwards, columns along the side."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import cv2
import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from scanner.vision.picture import FacePicture

Floats = NDArray[np.float32]
Doubles = NDArray[np.float64]

# Across a side an arris is looked for this finely; along it looks are means over the second.
ROW_MM = 0.5
ALONG_MM = 4.0
# How far the arris may lie inside the place where the rough rectangle has it.
INWARD_MM = 55.0
# Ends are placed less surely: edges of grass or shadow go on past them.
END_INWARD_MM = 110.0
# L, a, b (CIELAB), log unrest of L along the picture's x and along its y.
LOOKS = 5
# Unrest is gathered over this, one standard deviation.
_UNREST_MM = 1.5
_RIM_MM = 20.0
_END_WOOD_MM = 260.0
# Fewer looks at the floor than this tell nothing of it.
_FEWEST_FLOOR = 60


@dataclass(frozen=True, slots=True, eq=False)
class Side:
    """One side of the board.

    Attributes
    ----------
    looks
        (T, S, LOOKS) means over `ALONG_MM` along the side.
    hidden
        (T, S) where neither floor nor wood shows: unseen, or the rule.
    t_mm
        (T,) how far out each row lies, from the picture's own origin of that side.
    s_mm
        (S,) where along the side each column lies.
    guess_mm
        Where the arris is expected, t.
    foot_mm
        How far out the point below the camera lies, t, or None.
    side_share
        Thickness over camera height: how much nearer to that point, as a share of the distance,
        the foot of the board's side shows than its arris.
    """

    looks: Floats
    hidden: NDArray[np.bool_]
    t_mm: Doubles
    s_mm: Doubles
    guess_mm: float
    foot_mm: float | None = None
    side_share: float = 0.0

    def reach_mm(self) -> Doubles:
        """Return (T,) how far past each row the foot of a square side would show; 0 if hidden."""
        if self.foot_mm is None:
            return np.zeros(len(self.t_mm))
        return np.maximum(self.side_share * (self.foot_mm - self.t_mm), 0.0)

    def between(self, first: int, stop: int) -> Side:
        """Return a stretch of the side, columns first ... stop - 1."""
        return replace(
            self,
            looks=np.ascontiguousarray(self.looks[:, first:stop]),
            hidden=np.ascontiguousarray(self.hidden[:, first:stop]),
            s_mm=self.s_mm[first:stop],
        )


def looks_of(rgb: NDArray[np.uint8], step_mm: tuple[float, float]) -> Floats:
    """Return (H, W, LOOKS) of a picture whose pixels are ``step_mm`` wide and high."""
    lab = cv2.cvtColor(rgb.astype(np.float32) / 255.0, cv2.COLOR_RGB2LAB)
    light = np.ascontiguousarray(lab[..., 0])
    unrest = []
    for kernel in (np.array([[-0.5, 1.0, -0.5]]), np.array([[-0.5], [1.0], [-0.5]])):
        fine = cv2.filter2D(light, cv2.CV_32F, kernel.astype(np.float32))
        wide, high = (_UNREST_MM / step for step in step_mm)
        energy = cv2.GaussianBlur(fine * fine, (0, 0), wide, sigmaY=high)
        unrest.append(4.0 * np.log1p(np.sqrt(energy)))
    return np.dstack([lab, *unrest]).astype(np.float32)


class Sides:
    """A flat face, its board along x, whose four sides can be laid; samples of wood and floor.

    Parameters
    ----------
    margins_mm
        How much floor the rough place has beyond the board along x and along y.
    """

    def __init__(self, face: FacePicture, margins_mm: tuple[float, float]) -> None:
        self.face = face
        rows, columns = face.seen.shape
        self.size_mm = ((columns - 1) * face.mm_per_px, (rows - 1) * face.mm_per_px)
        self.margins_mm = (
            min(margins_mm[0], self.size_mm[0] / 4),
            min(margins_mm[1], self.size_mm[1] / 4),
        )

    def lay(self, name: str) -> Side:
        """Return a whole side: "upper" and "lower" along x, "left" and "right" along y."""
        along_x = name in ("upper", "lower")
        axis = 1 if along_x else 0  # of the outward way
        extent, margin = self.size_mm[axis], self.margins_mm[axis]
        inward = INWARD_MM if along_x else END_INWARD_MM
        inner = max(extent - margin - inward, extent / 2)
        mm = self.face.mm_per_px
        depth = round((extent - inner) / mm) + 1
        outward_last = name in ("lower", "right")
        cut = slice(-depth, None) if outward_last else slice(0, depth)
        area = (cut, slice(None)) if along_x else (slice(None), cut)
        steps = (ALONG_MM, ROW_MM) if along_x else (ROW_MM, ALONG_MM)
        looks, seen = self._shrunk(area, steps)
        if not along_x:
            looks, seen = looks.transpose(1, 0, 2), seen.T
        if not outward_last:
            looks, seen = looks[::-1], seen[::-1]
        rows, columns = seen.shape
        row, column = depth * mm / rows, (self.size_mm[1 - axis] + mm) / columns
        t = extent + mm / 2 - (np.arange(rows)[::-1] + 0.5) * row
        s = (np.arange(columns) + 0.5) * column - mm / 2
        return Side(
            np.ascontiguousarray(looks),
            np.ascontiguousarray(seen < 0.5),
            t,
            s,
            extent - margin,
            self._foot(name),
            self.face.side_share,
        )

    def _foot(self, name: str) -> float | None:
        if self.face.foot_mm is None:
            return None
        x, y = (self.face.foot_mm[k] - self.face.origin_mm[k] for k in (0, 1))
        width, height = self.size_mm
        return float({"upper": height - y, "lower": y, "left": width - x, "right": x}[name])

    def _shrunk(
        self, area: tuple[slice, slice], steps_mm: tuple[float, float]
    ) -> tuple[Floats, Floats]:
        """Return looks and seen share of a part of the picture at another scale."""
        pixels, seen = self.face.pixels[area], self.face.seen[area].astype(np.float32)
        size = tuple(
            max(1, round(count * self.face.mm_per_px / step))
            for count, step in zip(seen.shape[::-1], steps_mm, strict=True)
        )
        pixels = np.asarray(cv2.resize(pixels, size, interpolation=cv2.INTER_AREA), np.uint8)
        seen = np.asarray(cv2.resize(seen, size, interpolation=cv2.INTER_AREA), np.float32)
        return looks_of(pixels, steps_mm), seen

    def wood(self, name: str) -> Floats:
        """Return looks (N, LOOKS) of the board's middle as that side's looks are formed."""
        mm = self.face.mm_per_px
        (width, height), (margin_x, margin_y) = self.size_mm, self.margins_mm
        y0 = margin_y + (height - 2 * margin_y) / 4
        x0, x1 = 2 * margin_x, width - 2 * margin_x
        if name in ("left", "right"):
            near = margin_x + END_INWARD_MM + np.array([0.0, _END_WOOD_MM])
            x0, x1 = near if name == "left" else np.sort(width - near)
        rows = slice(round(y0 / mm), round((height - y0) / mm) + 1)
        columns = slice(max(0, round(x0 / mm)), round(x1 / mm) + 1)
        steps = (ALONG_MM, ROW_MM) if name in ("upper", "lower") else (ROW_MM, ALONG_MM)
        return self._shrunk((rows, columns), steps)[0].reshape(-1, LOOKS)


def floor_of(sides: tuple[Side, ...]) -> Floats:
    """Return looks (N, LOOKS) along the outer rims of laid sides: floor, lit and in shadow."""
    found = []
    for side in sides:
        rim_t, rim_s = round(_RIM_MM / ROW_MM), round(_RIM_MM / ALONG_MM)
        outer = np.zeros(side.hidden.shape, dtype=bool)
        outer[-rim_t:] = True
        outer[:, :rim_s] = outer[:, -rim_s:] = True
        found.append(side.looks[outer & ~side.hidden])
    looks = np.concatenate(found)
    if len(looks) < _FEWEST_FLOOR:
        looks = np.concatenate([side.looks.reshape(-1, LOOKS) for side in sides])
    return looks
