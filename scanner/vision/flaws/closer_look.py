"""Strokes looked at closer: without the rim and the grain they ran into, followed where faint."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import cv2
import numpy as np

from scanner.vision.flaws.chalk_colour import GRID_MM, Bools, Singles, colour_name, is_no_wood
from scanner.vision.flaws.dabs import groups_of, pieces_of, without_grain
from scanner.vision.flaws.faint_strokes import carried_on

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

# Paint on an end reaches so far onto the face.
_END_BAND_MM = 30.0
# So much of a faint stroke is sure, and it is at least so large: a small one is as often figure.
_SURE_SHARE, _FAINT_SIZE_MM = 0.2, 40.0
# Strokes that cross are thicker than one; what is thicker still is a knot or a hole.
_THICKEST_MM = 16.0


@dataclass(frozen=True, slots=True, eq=False)
class SeenColours:
    """A face's colours a millimetre a pixel, as `faint_strokes.carried_on` takes them.

    ``lab``: (H, W, 3) CIELAB itself; ``rim``: (H, W) wood near an arris or an end; ``ratio``: the
    surface's own scale over the grid's.
    """

    lab: Singles
    off: Singles
    units: Singles
    metric: NDArray[np.float64]
    wood: Bools
    rim: Bools
    ratio: float = 0.5


def looked_closer(
    seen: SeenColours, likely: Bools, sure: Bools, known: set[tuple[int, ...]], *, is_black: bool
) -> Iterator[tuple[tuple[int, int], Bools, Bools]]:
    """Yield groups of pieces: corner (x, y), pixels of its box, and those that say its colour.

    Parameters
    ----------
    likely, sure
        (H, W) pixels that a stroke may have, and those that one must have some of.
    known
        Keys (`key_of`) of groups that are known already; what is yielded is added.
    is_black
        Whether black crayon is looked for.
    """
    bare = pieces_of(without_grain(likely & ~seen.rim), sure, np.zeros_like(sure))
    beneath = seen.lab[..., 0] - seen.off[..., 0]
    more = carried_on(
        seen.off, seen.units, beneath, seen.metric, seen.wood, bare, sure, is_black=is_black
    )
    more &= bare | without_grain(more & ~seen.rim)
    for is_faint, pieces in ((False, bare), (True, more)):
        for (x, y), region in groups_of(pieces):
            key = key_of((x, y), region)
            box = (slice(y, y + region.shape[0]), slice(x, x + region.shape[1]))
            own = region & sure[box]
            if key in known or not _may_be_drawn(region, own, x, seen.wood, is_faint=is_faint):
                continue
            known.add(key)
            if is_black or _is_ink(seen.lab[box], seen.off[box], seen.units[box], own):
                yield (x, y), region, own if is_faint else region


def key_of(corner: tuple[int, int], region: Bools) -> tuple[int, ...]:
    """Return what tells one group of pieces from another."""
    return (*corner, *region.shape, int(region.sum()))


def _may_be_drawn(region: Bools, own: Bools, x: int, wood: Bools, *, is_faint: bool) -> bool:
    """Return whether pieces lie away from the ends, are thin, and sure enough.

    ``x``: first column of their box; ``own``: the sure pixels among them.
    """
    columns = np.flatnonzero(wood.any(axis=0))
    at = np.nonzero(region)[1] + x
    reach = _END_BAND_MM / GRID_MM
    if np.mean((at < columns[0] + reach) | (at > columns[-1] - reach)) > 0.5:
        return False
    away = cv2.distanceTransform(np.pad(region, 1).astype(np.uint8), cv2.DIST_L2, 5)
    if not own.any() or 2.0 * float(away.max()) * GRID_MM > _THICKEST_MM:
        return False
    size = float(np.sqrt(np.prod(region.shape))) * GRID_MM
    return not is_faint or (own.sum() >= _SURE_SHARE * region.sum() and size >= _FAINT_SIZE_MM)


def _is_ink(lab: Singles, off: Singles, units: Singles, own: Bools) -> bool:
    """Return whether no wood has this colour.

    The thicker half of the ink says it: thin ink lets the wood's colour through.
    """
    thick = own & (units >= float(np.median(units[own])))
    return is_no_wood(colour_name(np.median(off[thick], axis=0)), lab[thick], off[thick])
