"""Worm holes that no other finder tells: dark round specks that the network sees faintly.

A hole of 1.5 mm is three pixels of the working scale. The network's share there is often too low,
or too small a patch, for a spot of its own, and the finder of dark spots looks for larger ones. But
such a hole is as dark along the grain as across it, and unlike the face's other specks: pores are
long, and where saw marks cross ring lines there are many alike.

On a lawn none is told: a blade that lies over the wood leaves just such a speck beneath its tip, up
to 25 mm from the rim, and the rest of a pale one looks like wood.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import cv2
import numpy as np
from shapely.geometry import Point

from scanner.board.flaw import Flaw, FlawKind
from scanner.geometry.frames import face_from_picture
from scanner.vision.flaws.learned_odds import worm_odds
from scanner.vision.flaws.learned_regions import size_text
from scanner.vision.flaws.small_outline import by_depth
from scanner.vision.flaws.surface import WORK_MM_PER_PX

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from scanner.vision.flaws.surface import Bools, Singles, Surface

    Doubles = NDArray[np.float64]

# Light is curved over about a hole's width; a speck is the roundest place so far round it, and the
# network's greatest share there counts.
_BLUR_PX, _NEAR_PX = 1.2, 5
# Nearer to the arris than this, light and floor make specks of their own.
_RIM_PX = 5
# So many of a face's plainest specks are judged.
_MOST = 60
# A speck nearly as plain is its like.
_ALIKE = 0.7
# A hole is looked for within this of its speck's middle; what runs on as far as `by_depth` draws is
# a corner of something larger.
_SEEN_MM, _RUNS_ON_MM = 1.3, 1.65
_FAINTEST_LIGHT = 0.01


def find_worm_holes(surface: Surface, share: Singles, least_score: float) -> list[Flaw]:
    """Return the specks of a face that may be worm holes, the likeliest first; on a lawn none.

    Parameters
    ----------
    surface
        The face.
    share
        (H, W) how surely the network sees a knot, a hole or a bark pocket, 0 to 1.
    least_score
        Fainter ones are left out.
    """
    if surface.is_on_lawn:
        return []
    middles_mm, measures = specks(surface, share)
    scores = worm_odds(measures)
    found = []
    for index in np.argsort(-scores, kind="stable"):
        if scores[index] < least_score:
            break
        middle = Point(middles_mm[index])
        outline = by_depth(middle.buffer(_SEEN_MM), surface)
        if not outline.contains(middle) or outline.hausdorff_distance(middle) > _RUNS_ON_MM:
            continue
        found.append(
            Flaw(
                id="",
                kind=FlawKind.HOLE,
                outlines={1: outline},
                score=round(float(scores[index]), 3),
                reason=f"dark round speck like a worm hole, {size_text(outline)}",
                u_mm=surface.u_mm,
            )
        )
    return found


def specks(surface: Surface, share: Singles) -> tuple[Doubles, Doubles]:
    """Return the middles (N, 2) of a face's plainest dark specks, face mm, and their measures.

    The measures are (N, len(WORM_MEASURES)): least over greatest curvature of light, the root of
    the network's share, and the logarithm of how many specks of the face are alike.
    """
    inner = _inner(surface.wood)
    least, greatest = _curvatures(surface.lab)
    around = np.ones((_NEAR_PX, _NEAR_PX), np.uint8)
    rows, columns = np.nonzero(inner & (cv2.dilate(least, around) == least) & (least > 0))
    curved = least[rows, columns].astype(np.float64)
    order = np.argsort(-curved, kind="stable")
    every, order = curved[order], order[:_MOST]
    rows, columns, curved = rows[order], columns[order], curved[order]
    seen = np.asarray(cv2.dilate(share, around))[rows, columns].astype(np.float64)
    measures = np.column_stack(
        [
            curved / np.maximum(greatest[rows, columns], 1e-4),
            np.sqrt(seen),
            np.log1p(np.searchsorted(-every, -_ALIKE * curved) - 1),
        ]
    )
    places = np.column_stack([columns, rows]).astype(np.float64)
    return face_from_picture(places, surface.origin_mm, WORK_MM_PER_PX), measures


def _inner(wood: Bools) -> Bools:
    size = 2 * _RIM_PX + 1
    return np.asarray(cv2.erode(wood.astype(np.uint8), np.ones((size, size), np.uint8)) > 0)


def _curvatures(lab: Singles) -> tuple[Singles, Singles]:
    """Return how much the logarithm of light is curved, the way that it is least and most."""
    light = lab[..., 0] + np.float32(16.0)
    light /= np.float32(116.0)
    light **= 3
    light += np.float32(_FAINTEST_LIGHT)
    np.log(light, out=light)
    soft = cv2.GaussianBlur(light, (0, 0), _BLUR_PX)
    along, across, aslant = (
        np.asarray(cv2.Sobel(soft, cv2.CV_32F, dx, dy, ksize=3, scale=0.25), dtype=np.float32)
        for dx, dy in ((2, 0), (0, 2), (1, 1))
    )
    middle = np.float32(0.5) * (along + across)
    half = np.hypot(np.float32(0.5) * (along - across), aslant)
    return middle - half, middle + half
