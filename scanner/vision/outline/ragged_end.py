"""The straight step of an end whose border the map draws ragged: paint lapped over the face."""

from __future__ import annotations

from typing import TYPE_CHECKING

import cv2
import numpy as np
from scipy import ndimage

from scanner.vision.outline.end_line import TONE_MM, steps, tones_beside

if TYPE_CHECKING:
    from scanner.vision.outline.several import ArrisOdds
    from scanner.vision.outline.side import Doubles
    from scanner.vision.photos.picture import FacePicture

# Paint laps so far over an end; the line drawn through its border lies between that and the saw's.
_INWARD_MM, _OUTWARD_MM = 3.0, 9.0
# Half a pixel of most faces' pictures.
_STEP_MM = 0.25
# The end is read in so many pieces; a fainter step (CIELAB) in one tells nothing.
_PIECES = 24
_LEAST_STEP = 3.0
# Pieces that a line must meet more steps in than the line as it was, to be believed.
_MORE_PIECES = 2
# The line as it was is met a little beside it too: it was not set on the step yet.
_OWN_MM = 0.5
# Log odds a mm that the map gives against the face reaching out so far, over about so much of the
# end. Where paint lay on six rendered ends it gave up to 1.4, past ends in grass, in shadow and on
# boards of floor 2.3 and more. Nearer to its border than its blur it is sure of nothing.
_SURE_FLOOR, _ALONG_MM, _BLUR_MM = 2.0, 10.0, 1.0
# A saw's cut lies as straight as this in the map (nine tenths of it): 284 of 308 rendered ends did.
# Of 16 that strayed by less but by 0.8 mm and more, seven took another line, each to its harm.
_STRAIGHT_MM = 0.95
# Paint laps over a part of an end; elsewhere the map shows where the face ends. A line that it
# comes this near to nowhere, but for so small a share, is another step: the foot of the end's side.
_MEETS_MM, _LEAST_MET = 0.7, 0.1


def is_ragged(stray_mm: Doubles) -> bool:
    """Return whether an end that strays so far (N,) from its line is none of a saw's cut, mm."""
    return bool(np.quantile(np.abs(stray_mm), 0.9) > _STRAIGHT_MM)


def is_met(stray_mm: Doubles) -> bool:
    """Return whether an end as mapped, so far (N,) from a line, comes to it anywhere, mm."""
    return bool((np.abs(stray_mm) < _MEETS_MM).mean() >= _LEAST_MET)


def floor_from_mm(side: ArrisOdds) -> Doubles:
    """Return (S,) how far out at each column of an end the map is sure of floor, mm.

    It is unsure of paint, which it takes for floor all the same. Where it is nowhere sure, as far
    out as it shows.
    """
    columns = _ALONG_MM / float(side.s_mm[1] - side.s_mm[0])
    odds = ndimage.gaussian_filter1d(side.odds, columns, axis=1, mode="nearest")
    past_mm = side.t_mm[:, None] - side.t_mm[odds.argmax(axis=0)]
    lost = odds.max(axis=0) - odds
    sure = (past_mm > _BLUR_MM) & (lost > _SURE_FLOOR * past_mm)
    return np.asarray(np.where(sure.any(axis=0), side.t_mm[sure.argmax(axis=0)], side.t_mm[-1]))


def straight_step(
    face: FacePicture,
    line: Doubles,
    outward: int,
    corner_mm: float,
    floor: tuple[Doubles, Doubles],
) -> Doubles:
    """Return the line (2, 2) beside an end's line that most steps in tone lie on, picture mm.

    Paint's border against the wood wanders; against the floor it ends where the wood does, on one
    straight line with the step from bare wood to floor. Where no other line meets clearly more
    steps the line stays.

    Parameters
    ----------
    face
        The flat picture.
    line
        Two points (x, y), y rising, picture mm.
    outward
        -1 at the left end, +1 at the right one.
    corner_mm
        Corners are worn: so much at both ends of the line tells nothing.
    floor
        Heights (N,), rising, and how far past the line floor is sure to lie there (N,), mm. Another
        line stays within that all along.
    """
    y = np.arange(line[0, 1] + corner_mm, line[1, 1] - corner_mm, face.mm_per_px)
    if len(y) < 2 * _PIECES:
        return line
    over = 4 * TONE_MM
    away = np.arange(-_INWARD_MM - over, _OUTWARD_MM + over, _STEP_MM)
    pieces = np.array_split(np.arange(len(y)), _PIECES)
    lab = tones_beside(face, line, y, outward * away)
    size, first = steps(np.stack([lab[rows].mean(axis=0) for rows in pieces]), _STEP_MM)
    around = np.ones((1, 2 * round(TONE_MM / _STEP_MM) + 1), np.uint8)
    is_step = (size >= np.asarray(cv2.dilate(size, around))) & (size >= _LEAST_STEP)
    met = cv2.dilate(is_step.astype(np.float32), np.ones((1, 3), np.uint8))
    # How far out the line's first and last point may lie, and each piece between them.
    out = np.arange(-_INWARD_MM, _OUTWARD_MM + _STEP_MM / 2, _STEP_MM)
    middles = np.array([y[rows].mean() for rows in pieces])
    share = (middles - line[0, 1]) / (line[1, 1] - line[0, 1])
    count = np.zeros((len(out), len(out)))
    within = np.ones(count.shape, dtype=bool)
    for met_here, down, most in zip(
        np.asarray(met), share, np.interp(middles, *floor), strict=True
    ):
        at = out[:, None] * (1 - down) + out[None, :] * down
        within &= at <= most
        count += met_here[np.rint((at - away[0]) / _STEP_MM - first).astype(int)]
    own = np.abs(out) <= _OWN_MM
    # Floor of boards runs in straight lines too: of lines that meet as many the nearest is taken.
    nearness = -np.abs(out[:, None]) - np.abs(out[None, :])
    count_within = np.where(within, count, -1.0)
    likely = np.where(count_within == count_within.max(), nearness, -np.inf)
    best = np.unravel_index(int(likely.argmax()), count.shape)
    if count_within[best] < count[np.ix_(own, own)].max() + _MORE_PIECES:
        return line
    return np.asarray(line + outward * np.array([[out[best[0]], 0.0], [out[best[1]], 0.0]]))
