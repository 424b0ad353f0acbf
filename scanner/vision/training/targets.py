"""What the network should say of each pixel of a training face, painted from its marks."""

from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from scanner.vision.flaws.learned_maps import CHANNELS
from scanner.vision.training.faces import TrainingFace
from scanner.vision.training.snap import snapped

Bools = NDArray[np.bool_]

# One whole number a pixel: bit c says claim c holds, bit c + SKIP that nothing is known of it,
# bit c + SOME that somewhere in this column of the box it holds; WOOD marks the face. All under
# 2^24, so that float32 holds them exactly while they are moved about.
SKIP = len(CHANNELS)
WOOD = 1 << (2 * len(CHANNELS))
_LINES = ("check", "resin", "pith")
SOME = {name: 1 << (2 * len(CHANNELS) + 1 + n) for n, name in enumerate(_LINES)}

SPOTS = ("knot", "hole", "bark_pocket")
_CLAIM = {
    "check": "check",
    "split": "check",
    "shake": "check",
    "resin": "resin",
    "pitch": "resin",
    "pith": "pith",
    "stain": "stain",
}
_CRACKS = ("check", "split", "shake")
# A knot of 12 mm weighs 1 a pixel; smaller ones more, so that each knot counts, not each pixel.
_USUAL_AREA_PX = 450.0
_WEIGHTS = (0.6, 4.0)
WEIGHT_UNIT = 40.0
_RIM_PX = 4
# Of a spot known by its box the middle is surely spot, the outside surely not.
_SURE_SHARE = 0.45


@dataclass(frozen=True, slots=True, eq=False)
class Planes:
    """Targets of one face: ``code`` (H, W) int32, ``core`` and ``weight`` (H, W) uint8."""

    code: NDArray[np.int32]
    core: NDArray[np.uint8]
    weight: NDArray[np.uint8]


def bit(name: str, *, skip: bool = False) -> int:
    """Return the bit of one claim."""
    return 1 << (CHANNELS.index(name) + (SKIP if skip else 0))


def _painted(points: NDArray[np.float64], shape: tuple[int, int]) -> Bools:
    canvas = np.zeros(shape, dtype=np.uint8)
    cv2.fillPoly(canvas, [np.round(points * 16).astype(np.int32)], 1, shift=4)
    return canvas.astype(bool)


def _box_px(box: list[float], shape: tuple[int, int], share: float = 1.0) -> tuple[slice, slice]:
    x0, y0, x1, y1 = box
    w, h = (x1 - x0) * (1 - share) / 2, (y1 - y0) * (1 - share) / 2
    rows = slice(max(0, round(y0 + h)), min(shape[0], round(y1 - h) + 1))
    return rows, slice(max(0, round(x0 + w)), min(shape[1], round(x1 - w) + 1))


def planes(face: TrainingFace) -> Planes:
    """Return the targets of a face."""
    shape = face.pixels.shape[:2]
    made = Planes(
        np.where(_painted(face.outline, shape), WOOD, 0).astype(np.int32),
        np.zeros(shape, np.uint8),
        np.full(shape, round(WEIGHT_UNIT), np.uint8),
    )
    made.code[...] |= bit("loose", skip=True)
    # Large spots first, so that a small one on top keeps its own middle.
    for flaw in sorted(face.flaws, key=lambda f: -_extent(f)):
        kind = flaw["kind"]
        if kind in SPOTS:
            _paint_spot(made, flaw, is_real=face.source == "real")
        elif kind in _CLAIM:
            if face.widened and kind in _CRACKS and "polygon" in flaw:
                ring = np.asarray(flaw["polygon"], dtype=np.float64)
                flaw = flaw | {"polygon": snapped(ring, face.pixels).tolist()}
            _paint_region(made, flaw, _CLAIM[kind])
        elif kind == "other":
            where = _where(flaw, shape)
            for name in CHANNELS:
                made.code[where] |= bit(name, skip=True)
    return made


def _extent(flaw: dict[str, Any]) -> float:
    points = np.asarray(flaw.get("polygon") or np.reshape(flaw["box"], (2, 2)), dtype=np.float64)
    return float(np.prod(np.ptp(points, axis=0)))


def _where(flaw: dict[str, Any], shape: tuple[int, int]) -> Bools:
    if "polygon" in flaw:
        return _painted(np.asarray(flaw["polygon"], dtype=np.float64), shape)
    inside = np.zeros(shape, dtype=bool)
    inside[_box_px(flaw["box"], shape)] = True
    return inside


def _paint_region(made: Planes, flaw: dict[str, Any], claim: str) -> None:
    where = _where(flaw, made.code.shape)
    if flaw.get("faint"):
        # Thinner than the picture shows: it can neither be asked for nor denied.
        made.code[where] |= bit(claim, skip=True)
    elif "polygon" in flaw:
        made.code[where] |= bit(claim)
    else:
        made.code[where] |= bit(claim, skip=True) | SOME.get(claim, 0)


def _paint_spot(made: Planes, flaw: dict[str, Any], *, is_real: bool) -> None:
    shape = made.code.shape
    kind = str(flaw["kind"])
    if "polygon" in flaw:
        sure = where = _where(flaw, shape)
    else:
        where = _where(flaw, shape)
        sure = np.zeros(shape, dtype=bool)
        sure[_box_px(flaw["box"], shape, _SURE_SHARE)] = True
        made.code[where & ~sure] |= bit("spot", skip=True) | bit("core", skip=True)
    rows, columns = np.flatnonzero(where.any(1)), np.flatnonzero(where.any(0))
    if not len(rows):
        return
    rim = _RIM_PX + 1
    box = (
        slice(max(0, rows[0] - rim), rows[-1] + rim + 1),
        slice(max(0, columns[0] - rim), columns[-1] + rim + 1),
    )
    inside = where[box]
    claims = bit("spot") | (bit(kind) if kind != "knot" else 0)
    made.code[sure] |= claims
    made.code[where] &= ~np.int32(bit("loose"))
    if kind == "knot" and flaw.get("sound") is not None:
        made.code[where] &= ~np.int32(bit("loose", skip=True))
        made.code[where] |= 0 if flaw["sound"] else bit("loose")
    if is_real:
        # Bark rings and fallen knots are not told apart by these marks.
        made.code[where] |= bit("bark_pocket", skip=True)
    depth = cv2.distanceTransform(np.pad(inside, 1).astype(np.uint8), cv2.DIST_L2, 5)[1:-1, 1:-1]
    core = np.round(255 * depth / max(float(depth.max()), 1e-6)).astype(np.uint8)
    made.core[box] = np.where(inside, core, made.core[box])
    weight = np.clip(np.sqrt(_USUAL_AREA_PX / max(int(inside.sum()), 1)), *_WEIGHTS)
    near = cv2.dilate(inside.astype(np.uint8), np.ones((2 * _RIM_PX + 1,) * 2, np.uint8)) > 0
    stronger = np.maximum(made.weight[box], np.uint8(round(weight * WEIGHT_UNIT)))
    made.weight[box] = np.where(near, stronger, made.weight[box])
