"""Ground truth of a board's flaws: what shows of each on both faces, board frame, mm."""

from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from tests.render.cracks import Marks
from tests.render.knots import Knots
from tests.render.marks import Mark
from tests.render.noise import F32
from tests.render.shape import F64, Shape

Ring = list[list[float]]


@dataclass(frozen=True)
class FlawTruth:
    """A flaw as it shows; ``outlines`` by face ("1", "2"), board frame, mm."""

    kind: str
    outlines: dict[str, list[Ring]]
    sound: bool | None = None
    through: bool = False
    reach: float | None = None
    look: str = ""


def rounded(points: NDArray[np.floating], digits: int = 2) -> Ring:
    return [[round(float(v), digits) for v in p] for p in points]


def _contours(field: NDArray[np.floating], x0: float, y0: float, step: float) -> list[F64]:
    """Return the outlines where a field is below 1, mm."""
    mask = (field < 1).astype(np.uint8)
    rings, _ = cv2.findContours(mask, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_SIMPLE)
    return [r[:, 0, :] * step + [x0, y0] for r in rings if len(r) >= 3 and cv2.contourArea(r) > 2]


def _grid(x: float, y: float, rx: float, ry: float, step: float) -> tuple[F32, F32]:
    xs = np.arange(x - rx, x + rx + step, step, dtype=np.float32)
    ys = np.arange(y - ry, y + ry + step, step, dtype=np.float32)
    gx, gy = np.meshgrid(xs, ys)
    return gx, gy


def flaws_of(shape: Shape, moved: Any) -> list[FlawTruth]:
    t = shape.board.thickness_mm
    faces = (("1", 0.0), ("2", t))
    flaws: list[FlawTruth] = []
    knots, marks = Knots(shape), Marks(shape)

    def inside(gx: F32, gy: F32, z: float) -> NDArray[np.bool_]:
        out = shape.outside(gx.ravel(), gy.ravel(), np.float32(z), ragged=False)[0]
        return (out <= 0).reshape(gx.shape)

    for k in knots.branches:
        shown: dict[str, list[Ring]] = {}
        wild: dict[str, list[Ring]] = {}
        for face, z in faces:
            x, y, s = k.at_height(z)
            slant = abs(1 / k.axis[2])
            reach = 1.6 * k.spec.radius * min(slant, 6) + 6
            gx, gy = _grid(x, y, reach * 1.2, reach, 0.5)
            flat = (gx.ravel(), gy.ravel(), np.full(gx.size, z, np.float32))
            share, rho, *_ = knots.distance(k, *flat)
            field = np.where(rho > 0.3, share, 9).reshape(gx.shape)
            on = inside(gx, gy, z)
            rings = _contours(np.where(on, field, 9), float(gx[0, 0]), float(gy[0, 0]), 0.5)
            if rings and s > 0:
                shown[face] = [rounded(moved(r)) for r in rings]
            gx, gy = _grid(x, y, reach * 2.4, reach * 1.5, 1.0)
            *_, turned = knots.deflect(gx.ravel(), gy.ravel(), np.full(gx.size, z, np.float32))
            field = np.where(inside(gx, gy, z), 1.45 - turned.reshape(gx.shape), 9)
            rings = _contours(field, float(gx[0, 0]), float(gy[0, 0]), 1.0)
            if rings:
                wild[face] = [rounded(moved(max(rings, key=len)))]
        if shown:
            flaws.append(
                FlawTruth("knot", shown, k.spec.look == "sound", len(shown) == 2, None, k.spec.look)
            )
        if wild:
            flaws.append(FlawTruth("wild_grain", wild, None, len(wild) == 2))
    for crack in marks.cracks:
        rings_by = {f: crack.outline(z) for f, z in faces}
        shown = {f: [rounded(moved(r))] for f, r in rings_by.items() if r is not None}
        if shown:
            spec = crack.spec
            reach = max(spec.reach1, spec.reach2) if spec.end else None
            flaws.append(
                FlawTruth(
                    spec.kind, shown, None, bool(spec.end), reach, "end" if spec.end else "surface"
                )
            )
    for spot in marks.spots:
        shown = {}
        for face, z in faces:
            rx, ry = (
                spot.spec.size[0] * 1.5 + 3,
                min(spot.spec.size[1], shape.board.width_mm) * 1.5 + 3,
            )
            step = 0.25 if spot.spec.kind == "hole" else 1.0
            gx, gy = _grid(spot.spec.x, spot.spec.y, rx, ry, step)
            share = spot.share(gx.ravel(), gy.ravel(), np.full(gx.size, z, np.float32))
            field = np.where(inside(gx, gy, z), share.reshape(gx.shape), 9)
            rings = _contours(field, float(gx[0, 0]), float(gy[0, 0]), step)
            if rings:
                shown[face] = [rounded(moved(r)) for r in rings]
        if shown:
            flaws.append(
                FlawTruth(spot.spec.kind, shown, None, len(shown) == 2, None, spot.spec.look)
            )
    return flaws + _marked(shape, moved) + _wane(shape, moved)


def _marked(shape: Shape, moved: Any) -> list[FlawTruth]:
    found = []
    for spec in shape.board.marks:
        ring = Mark(shape, spec).outline(str(spec.face))
        if ring is not None:
            shown = {str(spec.face): [rounded(moved(ring))]}
            found.append(FlawTruth("marked", shown, None, False, None, spec.kind))
    return found


def _wane(shape: Shape, moved: Any) -> list[FlawTruth]:
    wane = shape.board.wane
    if wane is None:
        return []
    x = np.arange(0, shape.board.length_mm, 5.0)
    heights = np.linspace(0, shape.board.thickness_mm, 9)
    edges = np.stack([shape.edge(x, h, wane.side) for h in heights])
    outer = edges.max(axis=0) if wane.side > 0 else edges.min(axis=0)
    shown: dict[str, list[Ring]] = {}
    for face, z in (("1", 0.0), ("2", shape.board.thickness_mm)):
        inner = shape.edge(x, z, wane.side, with_bark=False)
        wide = np.abs(outer - inner) > 1.0
        rings = []
        for run in np.split(np.arange(len(x)), np.nonzero(np.diff(wide.astype(int)))[0] + 1):
            if wide[run[0]] and len(run) > 3:
                band = np.vstack(
                    [
                        np.column_stack([x[run], inner[run]]),
                        np.column_stack([x[run], outer[run]])[::-1],
                    ]
                )
                rings.append(rounded(moved(band)))
        if rings:
            shown[face] = rings
    return [FlawTruth("wane", shown, None, len(shown) == 2)] if shown else []
