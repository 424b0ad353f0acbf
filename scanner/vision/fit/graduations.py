"""How surely a rule's graduations were read, told by how evenly they lie along its edges.

Along one edge they follow a smooth course: perspective and the lens bend it, but never set one line
off the next. What is left of it is how they were read. Both edges together tell the tilt about the
rule by how a step differs between them, some tenths of a pixel over a whole rule, so that it
matters whether a line is known to half a pixel or to a fifth, and one figure taken for a line.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from scanner.vision.evidence.observations import Floats
    from scanner.vision.evidence.seen import SeenRule

# On used-up rendered photos lines lie within 0.1 px of their course; the rest is for what no lens
# model says, which goes slowly from line to line.
LEAST_SD_PX = 0.2
# Numbers that a course has, and lines of which it leaves something to tell.
_COURSE, _FEWEST = 5, 10
# Further off its course than this (robust sd) a line is another thing's.
_STRAY_SD = 3.0
# Where more of an edge's lines stray there is no course that they stray from.
_MOST_STRAYS = 0.3
_ROUNDS = 20
# A step towards least absolute distances never divides by less, px.
_LEAST_OFF_PX = 0.03


def read_evenly(seen: SeenRule) -> tuple[NDArray[np.bool_], Floats]:
    """Return which marks of a rule to keep, (N,), and their sd, (N,) px.

    Marks that are no graduations, and edges with few of these, stay as they are.
    """
    keep = np.ones(len(seen.pixels), dtype=bool)
    sd_px = np.array(seen.sd_px, dtype=np.float64)
    is_line = (seen.signs == 0).all(axis=1)
    for height in np.unique(seen.points_mm[is_line, 1]):
        row = np.flatnonzero(is_line & (seen.points_mm[:, 1] == height))
        if len(row) < _FEWEST:
            continue
        along = seen.directions[row].mean(axis=0)
        off = _off_course(seen.points_mm[row, 0], seen.pixels[row] @ along)
        # What a course may bend for is not seen of the scatter.
        free = len(row) / (len(row) - _COURSE)
        scatter = max(LEAST_SD_PX, 1.4826 * free * float(np.median(np.abs(off))))
        stays = np.abs(off) <= _STRAY_SD * scatter
        if stays.mean() < 1 - _MOST_STRAYS:
            sd_px[row] = scatter
            continue
        keep[row[~stays]] = False
        scatter = float(np.sqrt((off[stays] ** 2).sum() / (stays.sum() - _COURSE)))
        sd_px[row] = max(LEAST_SD_PX, scatter)
    return keep, sd_px


def _off_course(x_mm: Floats, seen_px: Floats) -> Floats:
    """Return how far places along an edge, (N,) px, lie off their smooth course over ``x_mm``.

    The course is a cubic as perspective shows it, (a + bx + cx^2 + dx^3) / (1 + ex), with the least
    sum of absolute distances, so that single strays do not bend it.
    """
    x = 2 * (x_mm - x_mm.mean()) / max(np.ptp(x_mm), 1e-9)
    middle, half = seen_px.mean(), max(np.ptp(seen_px) / 2, 1e-9)
    u = (seen_px - middle) / half
    columns = np.column_stack([np.ones_like(x), x, x**2, x**3, -u * x])
    weights = np.ones_like(x)
    off = np.zeros_like(x)
    for _ in range(_ROUNDS):
        root = np.sqrt(weights)
        course, *_rest = np.linalg.lstsq(columns * root[:, None], u * root, rcond=None)
        below = 1 + course[4] * x
        off = half * (u - columns[:, :4] @ course[:4] / below)
        weights = below**-2 / np.maximum(np.abs(off), _LEAST_OFF_PX)
    return np.asarray(off)
