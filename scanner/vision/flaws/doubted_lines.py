"""Checks that the network sees but is not sure of, where the picture itself bears them out.

The network's score of a line falls with how many lines of the face look as much like a check, and
on wood unlike that which it was trained on it is sure of little. Both are no reason against a line
that stands out from the face's own lines. But the network must see it nearly all along: where its
share is high in places only, dark lines that stand out are ring lines and pores.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from scanner.geometry.polygons import union_of
from scanner.vision.flaws.dark_lines import (
    LINE_FEATURES,
    DarkCourses,
    Line,
    are_one,
    find_lines,
    outline_of,
)
from scanner.vision.flaws.line_model import CRACK

if TYPE_CHECKING:
    from numpy.typing import NDArray
    from shapely.geometry import Polygon

    from scanner.vision.flaws.surface import Floats, Surface

# The mean along the line of the network's share within a millimetre of it. Set on whole scans
# (used-up boards 7403-7412 and 7435-7440, 32 faces), 58 flat faces (seeds 5200-5371) and 24 faces
# of the third renderer (5000-5023): lines whose clearer fifth alone has a share of 0.4 are 2 checks
# and 22 others, 1 and 7, 11 and 23; these are 2 and 3, 1 and 1, 8 and 6, and of 69, 145 and 76
# checks over 20 mm one fewer is found.
_LEAST_SHARE, _NEAR_PX = 0.75, 2
# The least score by the picture alone.
_LEAST_SCORE = 0.2
# How often those told are right: on the first renderer's faces 3 of 7, on the third's 8 of 14.
DOUBTED_SCORE = 0.4
# Of a line that is told already so much lies beside what is told.
_TOLD_SHARE, _TOLD_MM = 0.4, 2.0


def doubted_checks(
    surface: Surface, share: Floats, told: list[Polygon], dark: DarkCourses | None = None
) -> list[Polygon]:
    """Return outlines (face mm) of lines that may be checks, beside those that are told.

    Parameters
    ----------
    surface
        The face.
    share
        (H, W) how surely the network sees a check, 0 to 1.
    told
        Outlines of the checks that are told already, face mm.
    dark
        Of `dark_lines.dark_courses`, where they were formed before.
    """
    lines = find_lines(surface, lambda points: _share_along(share, points) >= _LEAST_SHARE, dark)
    if not lines:
        return []
    scores = CRACK.odds(np.array([line.measures for line in lines]), LINE_FEATURES)
    near = union_of([outline.buffer(_TOLD_MM) for outline in told])
    taken: list[Line] = []
    found: list[Polygon] = []
    for index in np.argsort(-scores, kind="stable"):
        line = lines[index]
        if scores[index] < _LEAST_SCORE:
            break
        if any(are_one(line, other) for other in taken):
            continue
        taken.append(line)
        outline = outline_of(line, surface)
        if outline.is_empty or outline.intersection(near).area > _TOLD_SHARE * outline.area:
            continue
        found.append(outline)
    return found


def _share_along(share: Floats, points: NDArray[np.float64]) -> float:
    """Return the mean of the network's share along a line."""
    columns = points[:, 0].astype(int)
    rows = np.round(points[:, 1]).astype(int)
    steps = np.arange(-_NEAR_PX, _NEAR_PX + 1)[:, None]
    near = share[np.clip(rows[None] + steps, 0, len(share) - 1), columns]
    return float(near.max(axis=0).mean())
