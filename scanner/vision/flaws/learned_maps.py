"""What the learned network says of each pixel of a face: shares by claim, tile by tile."""

import itertools
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from threading import Lock

import cv2
import numpy as np
from numpy.typing import NDArray

Singles = NDArray[np.float32]
Bools = NDArray[np.bool_]

# Claims of the network, in the order of its answer. ``spot`` is a knot, hole or bark pocket;
# ``core`` rises from 0 at a spot's rim to 1 at its middle and parts spots that touch; ``loose``
# means something inside knots only.
CHANNELS = ("spot", "core", "loose", "hole", "bark_pocket", "check", "resin", "pith", "stain")

_FOLDER = Path(__file__).parents[1] / "weights"
# Two networks of one shape and one training: one for pictures of flatbed and line cameras, proven
# on real wood; one for phone photographs, which saw more of them.
WEIGHTS = _FOLDER / "flaws.onnx"
PHOTO_WEIGHTS = _FOLDER / "photo_flaws.onnx"
# Four halvings inside the network.
_STEP_PX = 16
# Near the rim of a tile the network lacks its surroundings: at 96 px shares still differ by 0.02
# from those of one whole picture, at 160 px by nothing.
_OVERLAP_PX = 96
_TILE_PX = 1024
# Light in ratios to the face's own clear wood: species and exposure drop out.
DARKEST = 0.02
UNIT = 0.4
BEYOND = 4.0


@dataclass(frozen=True, slots=True, eq=False)
class ShareMaps:
    """Shares 0..1 by claim, each (H, W)."""

    values: Singles

    def of(self, name: str) -> Singles:
        """Return one claim's map."""
        share: Singles = self.values[CHANNELS.index(name)]
        return share


def clear_wood(rgb: NDArray[np.uint8], wood: Bools) -> Singles:
    """Return the middle colour (3,) of the wood, 0..1."""
    mask = wood.view(np.uint8) if wood.any() else None
    middles = []
    for channel in range(3):
        counts = cv2.calcHist([rgb], [channel], mask, [256], [0, 256])
        reached = np.cumsum(np.asarray(counts, dtype=np.float64).ravel())
        # Of an even number both middle ones count.
        ranks = (reached[-1] - 1) // 2, reached[-1] // 2
        middles.append(np.searchsorted(reached, ranks, side="right").mean())
    return np.asarray(np.array(middles) / 255.0, dtype=np.float32)


def against_clear_wood(rgb: NDArray[np.uint8], clear: Singles) -> Singles:
    """Return (H, W, 3) log ratios to the clear wood, in the unit the network was trained on."""
    steps = np.arange(256, dtype=np.float32) / 255.0 + DARKEST
    table = np.log(steps[:, None] / (clear[None] + DARKEST)) / UNIT
    table = np.clip(table, -BEYOND, BEYOND).astype(np.float32)
    return np.asarray(cv2.LUT(np.ascontiguousarray(rgb), table[None]), dtype=np.float32)


# One picture at a time: a network holds the picture that it is at work on.
_AT_WORK = Lock()


@cache
def _network(path: Path) -> cv2.dnn.Net:
    return cv2.dnn.readNetFromONNX(str(path))


def share_maps(rgb: NDArray[np.uint8], wood: Bools, weights: Path = WEIGHTS) -> ShareMaps:
    """Return the network's shares over a face.

    Parameters
    ----------
    rgb
        (H, W, 3) uint8, the board along x, 0.5 mm per pixel.
    wood
        (H, W), where the face is; outside of it the shares are 0.
    """
    values = np.zeros((len(CHANNELS), *wood.shape), dtype=np.float32)
    if not wood.any():
        return ShareMaps(values)
    net = _network(weights)
    # A little of what lies round the board tells the network where the arris is; no more is worth
    # the time.
    there = np.flatnonzero(wood.any(axis=1))
    band = slice(max(0, there[0] - _STEP_PX), there[-1] + _STEP_PX + 1)
    shown, clear = rgb[band], clear_wood(rgb, wood)
    rows, columns = shown.shape[:2]
    shown_spans = [
        (max(0, start - _OVERLAP_PX), min(columns, stop + _OVERLAP_PX), start, stop)
        for start, stop in tiles(columns)
    ]
    # The widest first: the network takes its memory once instead of anew for each wider tile.
    for left, right, start, stop in sorted(shown_spans, key=lambda span: span[0] - span[1]):
        tile = against_clear_wood(_padded(shown[:, left:right]), clear)
        with _AT_WORK:
            net.setInput(np.ascontiguousarray(tile.transpose(2, 0, 1)[None]))
            answer = net.forward()[0]
        np.multiply(
            answer[:, :rows, start - left : stop - left],
            wood[band, start:stop],
            out=values[:, band, start:stop],
        )
    return ShareMaps(values)


def tiles(columns: int) -> list[tuple[int, int]]:
    """Return spans that divide the columns about evenly, each of about `_TILE_PX` at most.

    They start on the network's own grid: halved four times, a shifted tile is another picture.
    """
    count = max(1, -(-columns // _TILE_PX))
    inner = np.linspace(0, columns, count + 1)[1:-1]
    ends = [0, *(int(end) // _STEP_PX * _STEP_PX for end in inner), columns]
    return list(itertools.pairwise(ends))


def _padded(values: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """Return the tile with its rim carried on to sides that the network can halve."""
    rows, columns = values.shape[:2]
    more = (-rows % _STEP_PX, -columns % _STEP_PX)
    return np.pad(values, ((0, more[0]), (0, more[1]), (0, 0)), mode="edge")
