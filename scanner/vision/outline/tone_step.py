"""Where the tone steps beside a long side of the board: at its arris, and at its side's foot.

A lit side of the face's own look passes for the face, and the map wavers between arris and foot by
some millimetres. The picture shows both as steps that run on beside the saw's line for most of the
board, as no ring and no pore does; and they lie as far apart as a square side must show.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import cv2
import numpy as np
from scipy import ndimage

from scanner.vision.outline.bowed_line import LEAST_STRAIGHT, bowed_line

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from scanner.vision.outline.several import ArrisOdds
    from scanner.vision.outline.side import Doubles, Singles
    from scanner.vision.photos.picture import FacePicture

# A side that shows narrower than this has its two steps in one.
NARROWEST_MM = 4.0
# The arris lies this near to the line that is drawn through what the map tells of it; where the
# map tells it further off, wane runs there, and no step beside the line says anything.
_NEAR_MM, _WANE_MM = 5.0, 4.0
# Tones are compared over this on both sides of a step, and every so far.
_TONE_MM, _STEP_MM = 1.0, 0.25
# Steps are means over this along the side, one standard deviation: rings leave the arris sooner.
_ALONG_MM = 80.0
# What the face's own grain steps is told from so much of it; a fainter step tells nothing (CIELAB).
_OWN_FROM_MM, _OWN_TO_MM, _LEAST_STEP = 24.0, 4.0, 1.0
# A step counts by the square of how many times it is the grain's, up to this.
_MOST_TIMES = 3.0
# Sides are not quite square, nor is a rough-sawn board of one thickness.
_FOOT_SLACK_MM = 1.0
# A line through an arris that is none of a saw's: its own course, less what is shorter than this.
_SMOOTH_MM = 100.0


def step_odds(
    view: FacePicture, name: str, side: ArrisOdds, t_mm: Doubles, reached: NDArray[np.intp]
) -> Singles:
    """Return log odds (T + 1, S) of the arris lying on each border of rows, by steps in tone.

    Parameters
    ----------
    view
        The flat picture that shows the side.
    name
        "upper" or "lower".
    side
        What is told of the side; its ``reach_mm`` says where the foot shows.
    t_mm
        (S,) how far out the map puts the arris at each column.
    reached
        The columns that the board reaches.
    """
    board = slice(int(reached[0]), int(reached[-1]) + 1)
    told = np.zeros((len(side.t_mm), len(t_mm)), dtype=np.float32)
    told[:, board] = _beside(
        view, name, side.between(board.start, board.stop), t_mm[board], reached - reached[0]
    )
    return told


def _beside(
    view: FacePicture, name: str, side: ArrisOdds, t_mm: Doubles, reached: NDArray[np.intp]
) -> Singles:
    """Return what `step_odds` does, of the columns between the board's ends alone."""
    line = _line_through(side.s_mm, t_mm, reached)
    shows_mm = float(np.interp(np.median(line), side.t_mm, side.reach_mm))
    past_mm = np.arange(-_OWN_FROM_MM, shows_mm + 2 * _NEAR_MM, _STEP_MM)
    lab, shown = _tones(view, name, side, line, past_mm)
    times, first_mm = _times_the_grains(lab, shown, past_mm, side)
    squares = np.minimum(times, _MOST_TIMES) ** 2
    column = np.arange(len(line), dtype=np.float32)[None]

    def there(away_mm: Doubles) -> Singles:
        row = ((away_mm - first_mm) / _STEP_MM).astype(np.float32)
        at = np.broadcast_to(column, row.shape)
        return np.asarray(cv2.remap(squares, at, row, cv2.INTER_LINEAR), dtype=np.float32)

    away_mm = side.t_mm[:, None] - line
    slack = np.arange(-_FOOT_SLACK_MM, _FOOT_SLACK_MM + _STEP_MM, 2 * _STEP_MM)
    foot = np.max([there(away_mm + side.reach_mm[:, None] + off) for off in slack], axis=0)
    told = (there(away_mm) + foot) * (np.abs(away_mm) <= _NEAR_MM)
    told[:, np.abs(t_mm - line) > _WANE_MM] = 0.0
    return np.asarray(told, dtype=np.float32)


def _line_through(s_mm: Doubles, t_mm: Doubles, reached: NDArray[np.intp]) -> Doubles:
    """Return (S,) the line that a saw left through a mapped arris, or else its smoothed course."""
    line, straight = bowed_line(s_mm, t_mm, reached)
    if straight >= LEAST_STRAIGHT:
        return line
    columns = _SMOOTH_MM / float(s_mm[1] - s_mm[0])
    return np.asarray(ndimage.gaussian_filter1d(t_mm, columns, mode="nearest"), dtype=np.float64)


def _tones(
    view: FacePicture, name: str, side: ArrisOdds, line: Doubles, past_mm: Doubles
) -> tuple[Singles, NDArray[np.bool_]]:
    """Return CIELAB (R, S, 3) so far (R,) past a line along a side, and where it is shown (R, S).

    Each is a column's mean; a column is shown where no pixel of it is hidden.
    """
    mm = view.mm_per_px
    wide = 2 * round(float(side.s_mm[1] - side.s_mm[0]) / mm / 2) + 1
    t = line + past_mm[:, None]
    y = t if name == "lower" else (view.pixels.shape[0] - 1) * mm - t
    x = np.broadcast_to(side.s_mm, y.shape)
    at = (x / mm).astype(np.float32), (y / mm).astype(np.float32)
    tones, shown = (
        cv2.remap(values, *at, how, borderMode=cv2.BORDER_REPLICATE)
        for values, how in (
            (cv2.blur(view.pixels, (wide, 1)), cv2.INTER_LINEAR),
            (cv2.erode(view.seen.view(np.uint8), np.ones((1, wide))), cv2.INTER_NEAREST),
        )
    )
    lab = cv2.cvtColor(np.asarray(tones, np.float32) / 255.0, cv2.COLOR_RGB2LAB)
    return np.asarray(lab), np.asarray(shown) > 0


def _times_the_grains(
    lab: Singles, shown: NDArray[np.bool_], past_mm: Doubles, side: ArrisOdds
) -> tuple[Singles, float]:
    """Return how many times the grain's own steps each step is, and where the first one lies."""
    wide = round(_TONE_MM / _STEP_MM)
    sums = np.cumsum(np.concatenate([np.zeros_like(lab[:1]), lab]), axis=0, dtype=np.float64)
    means = (sums[wide:] - sums[:-wide]) / wide
    hidden = np.cumsum(np.concatenate([np.zeros_like(shown[:1]), ~shown]), axis=0)
    # The rule's own edge, and where the photo ends, are no steps of the board.
    steps = means[wide:] - means[:-wide]
    steps[hidden[2 * wide :] > hidden[: -2 * wide]] = 0.0
    # Rings step to and fro: with their signs they add up to little along a board.
    columns = _ALONG_MM / float(side.s_mm[1] - side.s_mm[0])
    along = ndimage.gaussian_filter1d(steps, columns, axis=1, mode="nearest")
    size = np.linalg.norm(along, axis=-1)
    at_mm = past_mm[wide : wide + len(size)] - _STEP_MM / 2
    own = np.median(size[at_mm < -_OWN_TO_MM], axis=0)
    return (size / np.maximum(own, _LEAST_STEP)).astype(np.float32), float(at_mm[0])
