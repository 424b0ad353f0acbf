"""Whether a strip's pieces are glued in the order of their names, none left out and none twice.

Markers out of order are left out of the strip's line one by one, as grain that reads as a marker
is; where those of whole pieces are, the strip is glued otherwise than it was printed to be.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import cv2
import numpy as np

from scanner.geometry.strip_layout import (
    MARKER_MM,
    MARKERS_PER_PIECE,
    PITCH_MM,
    corner_signs,
)
from scanner.vision.rule.marker_order import sides_px

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from scanner.vision.cv import Floats

# So many markers of one piece, all moved alike along the line, are no chance.
_FEWEST = 3
# Moved by no more than this against each other, and by no less from their place, steps of the
# strip: what is left out of its order lies off by a quarter of a step and more.
_ALIKE, _LEAST_MOVED = 0.2, 0.25
# ... and so near to the strip's line, as far as it is drawn on straight.
_BESIDE = 0.4


def doubts_of_order(
    name: str, numbers: NDArray[np.int_], corners: Floats, in_order: NDArray[np.bool_]
) -> tuple[str, ...]:
    """Return a sentence where whole pieces lie on the strip's line, but not in their place.

    Parameters
    ----------
    name
        Of the strip, for the user.
    numbers, corners
        (N,) along the strip and (N, 4, 2), px, of all that reads as a marker of it.
    in_order
        (N,), which of them make the strip.
    """
    if in_order.all():
        return ()
    there, across = _on_strip(numbers[in_order], corners[in_order], corners[~in_order])
    on_line = np.abs(across) < _BESIDE
    own = numbers[~in_order]
    moved = []
    for piece in np.unique(own[on_line] // MARKERS_PER_PIECE):
        rows = on_line & (own // MARKERS_PER_PIECE == piece)
        if rows.sum() >= _FEWEST and _is_moved(there[rows], own[rows].astype(np.float64)):
            moved.append(int(piece))
    if not moved:
        return ()
    one = len(moved) == 1
    return (
        f"{'piece' if one else 'pieces'} {_listed(moved)} of {name} {'lies' if one else 'lie'} "
        "elsewhere than the others say (a piece left out, glued out of order, turned round or far "
        "from its line?), so that only the others tell the scale: glue all pieces in the order of "
        "their names",
    )


def _on_strip(numbers: NDArray[np.int_], corners: Floats, others: Floats) -> tuple[Floats, Floats]:
    """Return where the middles of other markers lie along a strip and across it, (N,), steps."""
    middles = np.column_stack([numbers, np.zeros(len(numbers))])[:, None]
    flat = (middles + corner_signs() * 0.5 * MARKER_MM / PITCH_MM).reshape(-1, 2)
    move, _ = cv2.findHomography(corners.reshape(-1, 2), flat)
    nowhere = np.full(len(others), np.nan)
    if move is None:
        return nowhere, nowhere
    there = cv2.perspectiveTransform(others.mean(axis=1)[None], move)[0]
    return there[:, 0], there[:, 1]


def _is_moved(there: Floats, own: Floats) -> bool:
    """Return whether markers (N,), at places along the line, are moved alike, or turned round."""
    if np.ptp(there + own) < _ALIKE * len(own):
        return True
    moved = there - own
    # What lies far beyond the others is placed by perspective drawn on: a little stretched.
    steps = np.diff(there[np.argsort(own)]) / np.diff(np.sort(own))
    return bool(np.ptp(steps) < _ALIKE and abs(float(np.median(moved))) > _LEAST_MOVED)


def _listed(pieces: list[int]) -> str:
    """Return pieces (0 is the first), rising, as "3", "3, 5" or "1, 3 to 7"."""
    runs: list[list[int]] = []
    for piece in pieces:
        if runs and piece == runs[-1][-1] + 1:
            runs[-1].append(piece)
        else:
            runs.append([piece])
    return ", ".join(
        f"{run[0] + 1} to {run[-1] + 1}" if len(run) > 1 else f"{run[0] + 1}" for run in runs
    )


def are_of_one_strip(corners: Floats) -> bool:
    """Return whether markers (N, 4, 2), px, lie along one line, as those of one strip do."""
    centres = corners.mean(axis=1)
    across = np.linalg.svd(centres - centres.mean(axis=0), full_matrices=False)[2][1]
    return bool(np.abs((centres - centres.mean(axis=0)) @ across).max() < sides_px(corners).max())
