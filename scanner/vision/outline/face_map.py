"""Where a flat picture shows the face, the wane beside it and the board's sides: a learned map."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from pathlib import Path
from threading import Lock
from typing import TYPE_CHECKING

import cv2
import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from scanner.vision.photos.picture import FacePicture

Singles = NDArray[np.float32]
Bools = NDArray[np.bool_]

WEIGHTS = Path(__file__).parents[1] / "weights" / "outline.onnx"
MM_PER_PX = 1.0
# The faces that it was taught were painted so much too large on every side: painting counts every
# quarter of a pixel that a ring touches, on average half of one (`tests.bench.learn_outlines`).
LABEL_RIM_MM = 0.125
# Four halvings inside the network.
_STEP_PX = 16
# Light in ratios to the picture's middle, which is wood: species and exposure drop out.
_DARKEST, _UNIT, _BEYOND = 0.02, 0.4, 4.0
# How far a square side would show past its arris is told in this unit, up to `_BEYOND` of it.
_REACH_UNIT_MM = 20.0
# One pixel that the network is certain of must not outweigh its neighbours.
_CERTAIN = 5.0
# What counts as the rule is wider than its batten, which may be any width: a board that lies near
# to it reaches so far into it at most, and this much of the floor beside it counts, too.
_UNDER_RIM_MM, _BESIDE_MM = 12.0, 3.0


@dataclass(frozen=True, slots=True, eq=False)
class FaceMap:
    """Log odds by pixel of `step_mm`, each (H, W); the first pixel's centre lies at `first_mm`.

    Attributes
    ----------
    face
        That the flat face shows there.
    wane
        That wane shows there.
    body
        That any of the board shows there: face, wane or side.
    seen
        Where a photo shows wood or floor; elsewhere the odds are worth nothing. Beside a rule that
        lies near to the board, where the face ends as well.
    step_mm, first_mm
        (x, y), counted from the centre of the flat picture's first pixel.
    """

    face: Singles
    wane: Singles
    body: Singles
    seen: Bools
    step_mm: tuple[float, float]
    first_mm: tuple[float, float]

    def other_shares(self) -> tuple[Singles, Singles]:
        """Return the shares (H, W) of the board's side, and of wane."""
        face, wane, body = (1.0 / (1.0 + np.exp(-one)) for one in (self.face, self.wane, self.body))
        return np.clip(body - face - wane, 0.0, 1.0).astype(np.float32), wane.astype(np.float32)


# One picture at a time: a network holds the picture that it is at work on, and two boards may be
# scanned at once.
_AT_WORK = Lock()


@cache
def _network(path: Path) -> cv2.dnn.Net:
    return cv2.dnn.readNetFromONNX(str(path))


def face_map(face: FacePicture, weights: Path = WEIGHTS) -> FaceMap:
    """Return the map of a flat picture whose board lies along x about its middle."""
    rows, columns = face.seen.shape
    mm = face.mm_per_px
    size = (max(8, round(columns * mm / MM_PER_PX)), max(8, round(rows * mm / MM_PER_PX)))
    step = (columns * mm / size[0], rows * mm / size[1])
    first = ((step[0] - mm) / 2, (step[1] - mm) / 2)
    pixels = np.asarray(cv2.resize(face.pixels, size, interpolation=cv2.INTER_AREA), np.uint8)
    seen = _most(face.seen, size)
    # The network looks at the rule too, though nothing is told there: with a rule near the arris
    # hidden it sees no floor beyond, and takes wood for the floor or floor for the wood.
    shown = seen if face.rule is None else _most(face.seen | face.rule, size)
    inputs = np.concatenate(
        [_against_middle(pixels, shown), shown[None], _reach(face, size, step, first)]
    ).astype(np.float32)
    more = (-size[1] % _STEP_PX, -size[0] % _STEP_PX)
    padded = np.pad(inputs, ((0, 0), (0, more[0]), (0, more[1])))
    with _AT_WORK:
        net = _network(weights)
        net.setInput(np.ascontiguousarray(padded[None]))
        odds = net.forward()[0, :, : size[1], : size[0]]
    # Face, wane and side shut each other out: their shares add up to the board's.
    some = np.clip((1.0 / (1.0 + np.exp(-odds))).sum(axis=0), 1e-3, 1 - 1e-3)
    face_odds, wane, body = (
        np.clip(one, -_CERTAIN, _CERTAIN).astype(np.float32)
        for one in (odds[0], odds[1], np.log(some / (1 - some)))
    )
    if face.rule is not None:
        seen = seen | _runs_on(face_odds > 0, seen, shown, step[1])
    return FaceMap(face_odds, wane, body, seen, step, first)


def _runs_on(face: Bools, seen: Bools, shown: Bools, step_mm: float) -> Bools:
    """Return where the face runs on, across the board, into what counts as the rule, and ends.

    With a little floor beside it. Where it runs on too far to end in the rule's mere rim the
    batten passes for it, and nothing is told.
    """
    across: NDArray[np.uint8] = np.ones((3, 1), dtype=np.uint8)
    reached = face & seen
    further = reached
    for _ in range(round(_UNDER_RIM_MM / step_mm)):
        grown = (cv2.dilate(reached.view(np.uint8), across) > 0) & face & shown
        further = grown & ~reached
        reached = grown | reached
    at_rule = cv2.dilate((shown & ~seen).view(np.uint8), across) > 0
    ends = reached & at_rule & ~further.any(axis=0)
    beside = np.ones((2 * round(_BESIDE_MM / step_mm) + 1, 1), dtype=np.uint8)
    return (cv2.dilate(ends.view(np.uint8), beside) > 0) & shown


def _most(flags: Bools, size: tuple[int, int]) -> Bools:
    """Return which pixels of a smaller picture are flagged in more than half of their area."""
    share = cv2.resize(flags.astype(np.float32), size, interpolation=cv2.INTER_AREA)
    return np.asarray(np.asarray(share) > 0.5)


def _against_middle(pixels: NDArray[np.uint8], seen: Bools) -> Singles:
    """Return (3, H, W) log ratios of light to that of the picture's middle; 0 where unseen."""
    rows, columns = seen.shape
    middle = (slice(2 * rows // 5, 3 * rows // 5 + 1), slice(columns // 8, columns - columns // 8))
    light = np.log(pixels.astype(np.float32) / 255.0 + _DARKEST)
    wood = light[middle][seen[middle]]
    own = np.median(wood if len(wood) else light.reshape(-1, 3), axis=0)
    ratio = np.clip((light - own) / _UNIT, -_BEYOND, _BEYOND) * seen[..., None]
    return np.asarray(ratio.transpose(2, 0, 1), dtype=np.float32)


def _reach(
    face: FacePicture, size: tuple[int, int], step: tuple[float, float], first: tuple[float, float]
) -> Singles:
    """Return (2, H, W): from an arris at each pixel, which way and how far its side would show."""
    reach = np.zeros((2, size[1], size[0]), dtype=np.float32)
    if face.foot_mm is None:
        return reach
    for axis in (0, 1):
        at = face.origin_mm[axis] + first[axis] + np.arange(size[axis]) * step[axis]
        far = face.side_share * (face.foot_mm[axis] - at) / _REACH_UNIT_MM
        reach[axis] = np.expand_dims(np.clip(far, -_BEYOND, _BEYOND), axis)
    return reach
