"""Checks that the network sees but is not sure of, where the picture itself bears them out.

The network's score of a line falls with how many lines of the face look as much like a check, and
on wood unlike that which it was trained on it is sure of little. Both are no reason against a line
that stands out from the face's own lines. Of a faint line it may be unsure for its faintness; a
plain one it must see nearly all along: where it is sure in places only, dark lines that stand out
are ring lines and rows of pores.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from scanner.geometry.polygons import union_of
from scanner.vision.flaws.dark_lines import DarkCourses, find_lines
from scanner.vision.flaws.line_measures import LINE_FEATURES, Line, are_one, outline_of
from scanner.vision.flaws.line_model import CRACK

if TYPE_CHECKING:
    from numpy.typing import NDArray
    from shapely.geometry import Polygon

    from scanner.vision.flaws.surface import Singles, Surface

# A fifth of the line has at least this share of the network's, within a millimetre of it; the mean
# along one that is plainer than so many of the board's own spreads is at least `_PLAIN_MEAN`. Set
# on whole scans (used-up boards 7403-7412 and 7435-7440, 32 faces), 68 flat faces (seeds 5200-5371)
# and 24 faces of the third renderer (5000-5023): without the second limit these were 2 checks and
# 22 others, 4 and 7, 11 and 23; with it 2 and 5, 4 and 3, 9 and 8.
_LEAST_SHARE, _SHARE_AT, _NEAR_PX = 0.4, 80, 2
_FAINT, _PLAIN_MEAN = 6.0, 0.75
# The least score by the picture alone.
_LEAST_SCORE = 0.2
# How often those told are right: 6 of 14 on the first renderer's faces, 9 of 17 on the third's.
DOUBTED_SCORE = 0.4
_DEPTH = LINE_FEATURES.index("depth")
# Of a line that is told already so much lies beside what is told.
_TOLD_SHARE, _TOLD_MM = 0.4, 2.0


def doubted_checks(
    surface: Surface, share: Singles, told: list[Polygon], dark: DarkCourses | None = None
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
    lines = [
        line
        for line in find_lines(surface, lambda points: _is_seen_in_places(share, points), dark)
        if line.measures[_DEPTH] < _FAINT or _share_along(share, line.points).mean() >= _PLAIN_MEAN
    ]
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


def _is_seen_in_places(share: Singles, points: NDArray[np.float64]) -> bool:
    return bool(np.percentile(_share_along(share, points), _SHARE_AT) >= _LEAST_SHARE)


def _share_along(share: Singles, points: NDArray[np.float64]) -> Singles:
    """Return the network's share at each point of a line."""
    columns = points[:, 0].astype(int)
    rows = np.round(points[:, 1]).astype(int)
    steps = np.arange(-_NEAR_PX, _NEAR_PX + 1)[:, None]
    near: Singles = share[np.clip(rows[None] + steps, 0, len(share) - 1), columns].max(axis=0)
    return near
