"""Chalk and crayon on a face: strokes of a colour that this board's own wood does not take."""

from dataclasses import dataclass, replace

import cv2
import numpy as np
from skimage.morphology import skeletonize

from scanner.vision.cv import pieces_in
from scanner.vision.flaws.chalk_colour import (
    GAP_MM,
    GRID_MM,
    LIKELY_UNITS,
    WIDTH_MM,
    Bools,
    Singles,
    colour_metric,
    colour_name,
    gates,
    in_units,
    is_no_wood,
    wood_beneath,
)
from scanner.vision.flaws.closer_look import SeenColours, key_of, looked_closer
from scanner.vision.flaws.dabs import goes_grey, groups_of, pieces_of, thickness_px
from scanner.vision.flaws.drawn_courses import Drawn, DrawnMark, drawn_marks

# In units of the board's own spread of colour: a stroke holds such pixels and spreads to such as
# `LIKELY_UNITS`.
_SURE_UNITS = 5.0
# Black crayon is told from dark wood by its shape alone, so it must stand out more.
_DARK_UNITS = (8.0, 5.0)
# Black crayon in dabs: grey enough that less darkness will do.
_GREY_UNITS = (8.0, 4.0)
_SHORTEST_MM = 45.0
_SLENDER = 3.5
# Nearer an end than this a band of another colour is end paint.
_END_PAINT_MM = 4.0
# A pale rim (sap, wear, a lens's halo) is no stroke: nobody draws along an arris so near to it.
_RIM_MM = 8.0
_ON_RIM_SHARE = 0.4


@dataclass(frozen=True, slots=True, eq=False)
class Stroke:
    """One stroke or several that meet, on the surface's own grid.

    Attributes
    ----------
    colour
        ``white``, ``blue``, ``green``, ``red``, ``yellow`` or ``dark``.
    row, column
        Corner of its box, working px.
    region
        (h, w) pixels of the stroke in the box.
    width_mm, length_mm
        Of the stroke: middle width, and length along its middle line.
    contrast
        How far off the wood's colour it is, in units of the board's own spread.
    is_no_wood
        Whether its colour alone says that it is drawn: wood is never blue, green or so red, and
        nothing in it is paler and greyer at once.
    is_in_dabs
        Whether it is only pieces that lie near each other, the wood between them left out.
    is_followed
        Whether it was looked for closer, with rim and grain taken off and followed where it is
        faint: it counts only as a mark that is told.
    says
        What it is, where its course told that already.
    """

    colour: str
    row: int
    column: int
    region: Bools
    width_mm: float
    length_mm: float
    contrast: float
    is_no_wood: bool
    is_in_dabs: bool = False
    is_followed: bool = False
    says: Drawn | None = None


def seen_colours(lab: Singles, sure: Bools, mm_per_px: float) -> SeenColours | None:
    """Return a face's colours as strokes are looked for in them; None where it is hardly there.

    Parameters
    ----------
    lab
        (H, W, 3) CIELAB of the face, the wood carried out past its rim.
    sure
        (H, W), where the wood is.
    mm_per_px
        Scale of both.
    """
    rows, columns = sure.shape
    ratio = mm_per_px / GRID_MM
    size = (max(8, round(columns * ratio)), max(8, round(rows * ratio)))
    small = np.asarray(cv2.resize(lab, size, interpolation=cv2.INTER_AREA), np.float32)
    wood = cv2.resize(sure.astype(np.uint8), size, interpolation=cv2.INTER_NEAREST) > 0
    if wood.sum() < 400:
        return None
    off = small - wood_beneath(small)
    metric = colour_metric(off, wood)
    units = in_units(off, metric)
    return SeenColours(small, off, units, metric, wood, _near_rim(wood), ratio)


def plain_strokes(seen: SeenColours, shape: tuple[int, ...]) -> tuple[Stroke, ...]:
    """Return the strokes that are one piece: only these can be told to be no wood.

    ``shape``: (H, W) of the surface.
    """
    off, units, wood, rim = seen.off, seen.units, seen.wood, seen.rim
    found: list[Stroke] = []
    bright, dark = gates(off)
    ends = _near_ends(wood)
    for gate, sure_units, likely_units, open_px in (
        (bright, _SURE_UNITS, LIKELY_UNITS, 2),
        (dark, *_DARK_UNITS, 3),
    ):
        strong = wood & gate & (units > sure_units)
        likely = (wood & gate & (units > likely_units)).astype(np.uint8)
        ellipse = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (GAP_MM, GAP_MM))
        joined = cv2.morphologyEx(likely, cv2.MORPH_CLOSE, ellipse)
        joined = cv2.morphologyEx(joined, cv2.MORPH_OPEN, np.ones((open_px, open_px), np.uint8))
        labels, boxes = pieces_in(np.asarray(joined, np.uint8), connectivity=8)
        sure_px = np.bincount(labels[strong].ravel(), minlength=len(boxes))
        for index in range(1, len(boxes)):
            x, y, w, h, area = (int(v) for v in boxes[index])
            if max(w, h) < 0.5 * _SHORTEST_MM or sure_px[index] < 0.2 * area:
                continue
            box = (slice(y, y + h), slice(x, x + w))
            region = labels[box] == index
            if (region & ends[box]).sum() > 0.25 * area:
                continue
            if (region & rim[box]).sum() > _ON_RIM_SHARE * area:
                continue
            colour = "dark" if gate is dark else colour_name(np.median(off[box][region], axis=0))
            looks = seen.lab[box], off[box], units[box]
            stroke = _measured(colour, region, looks, (x, y), seen.ratio, shape)
            if stroke is not None:
                found.append(stroke)
    return tuple(found)


def other_strokes(seen: SeenColours, shape: tuple[int, ...]) -> tuple[Stroke, ...]:
    """Return the strokes that are in dabs, that are followed, and that their course tells.

    ``shape``: (H, W) of the surface.
    """
    off, units, wood, rim = seen.off, seen.units, seen.wood, seen.rim
    found: list[Stroke] = []
    bright, dark = gates(off)
    grey = wood & dark & goes_grey(off)
    for gate, sure_units, likely_units, named in (
        (wood & bright, _SURE_UNITS, LIKELY_UNITS, ""),
        (grey, *_GREY_UNITS, "dark"),
    ):
        may_be, strong = gate & (units > likely_units), gate & (units > sure_units)
        told: set[tuple[int, ...]] = set()
        for (x, y), region in groups_of(pieces_of(may_be, strong, rim)):
            told.add(key_of((x, y), region))
            box = (slice(y, y + region.shape[0]), slice(x, x + region.shape[1]))
            shown = off[box], units[box]
            found.append(_in_dabs(region, (x, y), shown, seen.ratio, shape, named))
        for (x, y), region, plain in looked_closer(
            seen, may_be, strong, told, is_black=named == "dark"
        ):
            box = (slice(y, y + region.shape[0]), slice(x, x + region.shape[1]))
            shown = off[box], units[box]
            stroke = _in_dabs(region, (x, y), shown, seen.ratio, shape, named, plain)
            found.append(replace(stroke, is_followed=True))
    found += [_of_course(mark, seen.ratio, shape) for mark in drawn_marks(seen)]
    return tuple(found)


def _of_course(mark: DrawnMark, ratio: float, shape: tuple[int, ...]) -> Stroke:
    """Return a mark that its course told as a stroke."""
    large, row, column = _at_full_scale(mark.region, mark.corner, ratio, shape)
    return Stroke(
        colour=mark.colour,
        row=row,
        column=column,
        region=large,
        width_mm=float(np.clip(thickness_px(mark.region) * GRID_MM, *WIDTH_MM)),
        length_mm=float(np.hypot(*mark.region.shape)) * GRID_MM,
        contrast=mark.units,
        is_no_wood=False,
        is_in_dabs=True,
        is_followed=True,
        says=mark.says,
    )


def _in_dabs(
    region: Bools,
    corner: tuple[int, int],
    looks: tuple[Singles, Singles],
    ratio: float,
    shape: tuple[int, ...],
    named: str,
    plain: Bools | None = None,
) -> Stroke:
    """Return pieces that lie near each other as one stroke, the wood between them left out.

    ``plain``: the part of the region that says its colour, where not all of it does.
    """
    off, units = looks
    plain = region if plain is None else plain
    large, row, column = _at_full_scale(region, corner, ratio, shape)
    return Stroke(
        colour=named or colour_name(np.median(off[plain], axis=0)),
        row=row,
        column=column,
        region=large,
        width_mm=float(np.clip(thickness_px(region) * GRID_MM, *WIDTH_MM)),
        length_mm=float(np.hypot(*region.shape)) * GRID_MM,
        contrast=float(np.median(units[plain])),
        is_no_wood=False,
        is_in_dabs=True,
    )


def _at_full_scale(
    region: Bools, corner: tuple[int, int], ratio: float, shape: tuple[int, ...]
) -> tuple[Bools, int, int]:
    """Return a region of the grid (``corner``: x, y) in working px, with its row and column."""
    h, w = region.shape
    large = cv2.resize(
        region.astype(np.uint8),
        (max(1, round(w / ratio)), max(1, round(h / ratio))),
        interpolation=cv2.INTER_NEAREST,
    ).astype(bool)
    row, column = round(corner[1] / ratio), round(corner[0] / ratio)
    return large[: shape[0] - row, : shape[1] - column], row, column


def stroke_pixels(strokes: tuple[Stroke, ...], shape: tuple[int, ...]) -> Bools:
    """Return (H, W) pixels of all strokes, their soft rims too."""
    canvas = np.zeros(shape[:2], dtype=np.uint8)
    for stroke in strokes:
        h, w = stroke.region.shape
        part = canvas[stroke.row : stroke.row + h, stroke.column : stroke.column + w]
        part |= stroke.region[: part.shape[0], : part.shape[1]].astype(np.uint8)
    return cv2.dilate(canvas, np.ones((5, 5), np.uint8)).astype(bool)


def _near_ends(wood: Bools) -> Bools:
    """Return the wood within `_END_PAINT_MM` of an end."""
    reach = round(_END_PAINT_MM / GRID_MM)
    near = np.zeros_like(wood)
    near[:, reach:] |= wood[:, reach:] & ~wood[:, :-reach]
    near[:, :-reach] |= wood[:, :-reach] & ~wood[:, reach:]
    near[:, :reach] |= wood[:, :reach]
    near[:, -reach:] |= wood[:, -reach:]
    return near


def _near_rim(wood: Bools) -> Bools:
    """Return the wood within `_RIM_MM` of an arris or an end."""
    padded = np.pad(wood.astype(np.uint8), 1)
    away = cv2.distanceTransform(padded, cv2.DIST_L2, 3)[1:-1, 1:-1]
    return np.asarray(wood & (away * GRID_MM <= _RIM_MM))


def _measured(
    colour: str,
    region: Bools,
    looks: tuple[Singles, Singles, Singles],
    corner: tuple[int, int],
    ratio: float,
    shape: tuple[int, ...],
) -> Stroke | None:
    """Return the region as a stroke, or None where it is a blot, a band or a crumb."""
    padded = np.pad(region, 2)
    inner = cv2.distanceTransform(padded.astype(np.uint8), cv2.DIST_L2, 5)
    middle = skeletonize(padded)
    length = float(middle.sum()) * GRID_MM
    if length < _SHORTEST_MM:
        return None
    width = 2.0 * float(np.percentile(inner[middle], 60)) * GRID_MM
    if not WIDTH_MM[0] <= width <= WIDTH_MM[1] or length < _SLENDER * width:
        return None
    large, row, column = _at_full_scale(region, corner, ratio, shape)
    return Stroke(
        colour=colour,
        row=row,
        column=column,
        region=large,
        width_mm=width,
        length_mm=length,
        contrast=float(np.median(looks[2][region])),
        is_no_wood=is_no_wood(colour, looks[0][region], looks[1][region]),
    )
