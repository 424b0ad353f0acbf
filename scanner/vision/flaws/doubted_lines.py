"""Checks that the network sees but is not sure of, where the picture itself bears them out.

The network's score of a line falls with how many lines of the face look as much like a check, and
on wood unlike that which it was trained on it is sure of little. Both are no reason against a line
that stands out from the face's own lines. Without a share of the network's, dark lines that stand
out are ring lines far oftener than checks (40 rendered faces, seeds 5201-5221: 4 checks among
40; with it 2 among 7).
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

# A fifth of the line has at least this share of the network's, within a millimetre of it.
_LEAST_SHARE, _SHARE_AT, _NEAR_PX = 0.4, 80, 2
# The least score by the picture alone. Both limits were set on the faces named above and on 30
# real training boards. On 44 others (seeds 5267-5317) they tell 3 more of 100 checks over 20 mm
# and 2 more false ones; on 35 of another making, which nothing was set by, 11 more of 198 and none.
_LEAST_SCORE = 0.2
# How often those told are right on the renderer's faces: 5 of 12 of these 84.
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
    """Return the network's share that a fifth of a line has."""
    columns = points[:, 0].astype(int)
    rows = np.round(points[:, 1]).astype(int)
    steps = np.arange(-_NEAR_PX, _NEAR_PX + 1)[:, None]
    near = share[np.clip(rows[None] + steps, 0, len(share) - 1), columns]
    return float(np.percentile(near.max(axis=0), _SHARE_AT))
