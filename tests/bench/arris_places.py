"""How far the long edges of a found outline lie from the true ones, place by place.

Parts are marked from the board's own edges, so the found face is first laid over the true one as
well as it goes: moved across and turned, never stretched.
"""

import numpy as np
from numpy.typing import NDArray
from shapely.geometry import Polygon

from scanner.board.reading import span_along_y_mm

# Corners are worn, and an end's own error is the length's.
_FROM_END_MM = 15.0
_EVERY_MM = 6.0
# What strays by more than this pulls little at where the face is laid.
_STRAY_MM = 1.0


def off_mm(found: Polygon, true: Polygon) -> NDArray[np.float64]:
    """Return (2, N): how far out of the true upper and lower edge the found ones lie, mm."""
    first, last = true.bounds[0] + _FROM_END_MM, true.bounds[2] - _FROM_END_MM
    x = np.arange(first, last, _EVERY_MM)
    spans = [(span_along_y_mm(true, at), span_along_y_mm(found, at)) for at in x]
    both = [(at, *t, *f) for at, (t, f) in zip(x, spans, strict=True) if t and f]
    x, true_y0, true_y1, found_y0, found_y1 = np.array(both).T
    out = np.array([true_y0 - found_y0, found_y1 - true_y1])
    moved = (out[1] - out[0]) / 2
    design = np.column_stack([np.ones_like(x), (x - x.mean()) / 1000])
    weight = np.ones_like(x)
    for _ in range(6):
        root = np.sqrt(weight)
        fit = np.linalg.lstsq(design * root[:, None], moved * root, rcond=None)[0]
        weight = 1 / (1 + ((moved - design @ fit) / _STRAY_MM) ** 2)
    return np.array([out[0] + design @ fit, out[1] - design @ fit])
