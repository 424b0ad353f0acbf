"""Chalk and crayon on a face: strokes of a colour that this board's own wood does not take."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray
from skimage.morphology import skeletonize

from scanner.vision.flaws.dabs import goes_grey, groups_of, pieces_of, thickness_px

Floats = NDArray[np.float32]
Bools = NDArray[np.bool_]

# Strokes are searched on a grid of a millimetre: chalk is 4 to 15 mm wide.
GRID_MM = 1.0
# The wood beneath is what most of so wide a neighbourhood shows.
_AROUND_MM = 41
# In units of the board's own spread of colour: a stroke holds such pixels and spreads to such.
_SURE_UNITS = 5.0
_LIKELY_UNITS = 2.8
# Black crayon is told from dark wood by its shape alone, so it must stand out more.
_DARK_UNITS = (8.0, 5.0)
# Chalk skips over the furrows of the saw: gaps that are bridged.
_GAP_MM = 5
# Black crayon in dabs: grey enough that less darkness will do.
_GREY_UNITS = (8.0, 4.0)
_WIDTH_MM = (2.0, 18.0)
_SHORTEST_MM = 45.0
# Of a line that parts are drawn with: so far off what lies around (delta E 1976), and so long.
_LINE_DELTA_E = 12.0
_LINE_MM = 90.0
_SLENDER = 3.5
# Nearer an end than this a band of another colour is end paint.
_END_PAINT_MM = 4.0
# A pale rim (sap, wear, a lens's halo) is no stroke: nobody draws along an arris so near to it.
_RIM_MM = 8.0
_ON_RIM_SHARE = 0.4
# A red that only chalk or crayon has; knots and their halos are redder than the wood by less.
_RED_OF_NO_WOOD = 14.0
_BLUE_OF_NO_WOOD = 2.0
_GREEN_OF_NO_WOOD = -4.0


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


def find_strokes(lab: Floats, sure: Bools, mm_per_px: float) -> tuple[Stroke, ...]:
    """Return what looks drawn on the wood.

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
        return ()
    off = small - _beneath(small)
    units = _units(off, wood)
    found: list[Stroke] = []
    bright, dark = _gates(off)
    ends, rim = _near_ends(wood), _near_rim(wood)
    for gate, sure_units, likely_units, open_px in (
        (bright, _SURE_UNITS, _LIKELY_UNITS, 2),
        (dark, *_DARK_UNITS, 3),
    ):
        strong = wood & gate & (units > sure_units)
        likely = (wood & gate & (units > likely_units)).astype(np.uint8)
        ellipse = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (_GAP_MM, _GAP_MM))
        joined = cv2.morphologyEx(likely, cv2.MORPH_CLOSE, ellipse)
        joined = cv2.morphologyEx(joined, cv2.MORPH_OPEN, np.ones((open_px, open_px), np.uint8))
        count, labels, stats, _ = cv2.connectedComponentsWithStats(joined, connectivity=8)
        sure_px = np.bincount(labels[strong].ravel(), minlength=count)
        for index in range(1, count):
            x, y, w, h, area = (int(v) for v in stats[index])
            if max(w, h) < 0.5 * _SHORTEST_MM or sure_px[index] < 0.2 * area:
                continue
            box = (slice(y, y + h), slice(x, x + w))
            region = labels[box] == index
            if (region & ends[box]).sum() > 0.25 * area:
                continue
            if (region & rim[box]).sum() > _ON_RIM_SHARE * area:
                continue
            colour = "dark" if gate is dark else _colour(np.median(off[box][region], axis=0))
            looks = small[box], off[box], units[box]
            stroke = _measured(colour, region, looks, (x, y), ratio, sure.shape)
            if stroke is not None:
                found.append(stroke)
    grey = wood & dark & goes_grey(off)
    for gate, sure_units, likely_units, named in (
        (wood & bright, _SURE_UNITS, _LIKELY_UNITS, ""),
        (grey, *_GREY_UNITS, "dark"),
    ):
        pieces = pieces_of(gate & (units > likely_units), gate & (units > sure_units), rim)
        for (x, y), region in groups_of(pieces):
            box = (slice(y, y + region.shape[0]), slice(x, x + region.shape[1]))
            shown = off[box], units[box]
            found.append(_in_dabs(region, (x, y), shown, ratio, sure.shape, named))
    return tuple(found)


def _in_dabs(
    region: Bools,
    corner: tuple[int, int],
    looks: tuple[Floats, Floats],
    ratio: float,
    shape: tuple[int, ...],
    named: str,
) -> Stroke:
    """Return pieces that lie near each other as one stroke, the wood between them left out."""
    off, units = looks
    large, row, column = _at_full_scale(region, corner, ratio, shape)
    return Stroke(
        colour=named or _colour(np.median(off[region], axis=0)),
        row=row,
        column=column,
        region=large,
        width_mm=float(np.clip(thickness_px(region) * GRID_MM, *_WIDTH_MM)),
        length_mm=float(np.hypot(*region.shape)) * GRID_MM,
        contrast=float(np.median(units[region])),
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


def drawn_pixels(lab: Floats, wood: Bools) -> Bools:
    """Return (H, W) pixels of a colour that only chalk or coloured crayon has on this wood.

    No shape is asked for: who knows where lines are wanted looks there. Black is left out, which
    only its shape tells from dark wood.

    Parameters
    ----------
    lab
        (H, W, 3) CIELAB at `GRID_MM` a pixel, the wood carried out past its rim.
    wood
        (H, W), where the wood is.
    """
    off = lab - _beneath(lab)
    bright, _ = _gates(off)
    return np.asarray(wood & bright & (_units(off, wood) > _LIKELY_UNITS))


def line_pixels(lab: Floats, mm_per_px: float) -> tuple[Bools, Floats]:
    """Return (H, W) pixels of long thin lines of a coloured crayon or chalk, and what is beneath.

    For a picture of board and floor together, where no board's own spread of colour is known.

    Parameters
    ----------
    lab
        (H, W, 3) CIELAB.
    mm_per_px
        Its scale.
    """
    around = round(_AROUND_MM / mm_per_px) | 1
    beneath = _beneath(lab, around)
    off = lab - beneath
    bright, _ = _gates(off)
    strong = (bright & (np.linalg.norm(off, axis=2) > _LINE_DELTA_E)).astype(np.uint8)
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * round(_GAP_MM / mm_per_px) + 1,) * 2)
    joined = cv2.morphologyEx(strong, cv2.MORPH_CLOSE, disc)
    inner = cv2.distanceTransform(joined, cv2.DIST_L2, 5) * mm_per_px
    _, labels, stats, _ = cv2.connectedComponentsWithStats(joined, connectivity=8)
    long = np.maximum(stats[:, 2], stats[:, 3]) * mm_per_px >= _LINE_MM
    long[0] = False
    for index in np.flatnonzero(long):
        x, y, w, h = (int(v) for v in stats[index, :4])
        box = (slice(y, y + h), slice(x, x + w))
        depth = inner[box][labels[box] == index]
        long[index] = 2 * float(np.percentile(depth, 95)) <= _WIDTH_MM[1]
    drawn = cv2.dilate(long[labels].astype(np.uint8), np.ones((3, 3), np.uint8))
    return drawn > 0, beneath


def stroke_pixels(strokes: tuple[Stroke, ...], shape: tuple[int, ...]) -> Bools:
    """Return (H, W) pixels of all strokes, their soft rims too."""
    canvas = np.zeros(shape[:2], dtype=np.uint8)
    for stroke in strokes:
        h, w = stroke.region.shape
        part = canvas[stroke.row : stroke.row + h, stroke.column : stroke.column + w]
        part |= stroke.region[: part.shape[0], : part.shape[1]].astype(np.uint8)
    return cv2.dilate(canvas, np.ones((5, 5), np.uint8)).astype(bool)


def _beneath(small: Floats, around_px: int = _AROUND_MM) -> Floats:
    """Return the wood's colour around each place: strokes are the lesser part of it."""
    # OpenCV's wide medians take bytes only; a and b twice as fine as L.
    scale = np.array([2.5, 2.0, 2.0], dtype=np.float32)
    shift = np.array([0, 128, 128], dtype=np.float32)
    packed = np.clip(small * scale + shift, 0, 255).astype(np.uint8)
    return np.asarray((cv2.medianBlur(packed, around_px) - shift) / scale, np.float32)


def _units(off: Floats, wood: Bools) -> Floats:
    """Return how unusual each pixel's colour is here, in units of the board's own spread."""
    sample = off[wood].astype(np.float64)
    own = sample[:: max(1, len(sample) // 40_000)]
    # What the camera's noise and JPEG alone leave of a stroke-wide mean.
    floor = np.diag([1.2**2, 0.7**2, 0.9**2])
    inverse = np.linalg.inv(np.cov(own.T) + floor)
    for _ in range(4):
        distance = np.sqrt(np.einsum("ni,ij,nj->n", own, inverse, own))
        calm = own[distance < max(2.5, float(np.percentile(distance, 60)))]
        # Cut at 2.5 deviations a normal cloud in three dimensions keeps 0.75 of its variance.
        inverse = np.linalg.inv(np.cov(calm.T) / 0.75 + floor)
    flat = off.reshape(-1, 3).astype(np.float64)
    distance = np.sqrt(np.einsum("ni,ij,nj->n", flat, inverse, flat))
    return np.asarray(distance.reshape(wood.shape), dtype=np.float32)


def _gates(off: Floats) -> tuple[Bools, Bools]:
    """Return where the colour is off the wood's as chalk or coloured crayon is, and as black is.

    Wood goes darker, browner and yellower together; it turns neither paler and greyer at once, nor
    blue, green, nor red or yellow without darkening.
    """
    light, red, yellow = off[..., 0], off[..., 1], off[..., 2]
    white = (light > 2.5) & (yellow < 0.25 * light) & (red < 0.25 * light)
    blue = (yellow < -5.0) & (yellow < -0.35 * np.abs(light))
    green = (red < -4.0) & (light > -6.0)
    strong_red = (red > 5.0) & (red > 0.6 * np.abs(light)) & (red > 0.9 * yellow)
    strong_yellow = (yellow > 7.0) & ((light > -2.0) | (yellow > 1.2 * np.abs(light)))
    bright = white | blue | green | strong_red | strong_yellow
    return bright, (light < -9.0) & ~bright


def _colour(off: Floats) -> str:
    """Return the name of a colour by how it differs (L, a, b) from the wood."""
    light, red, yellow = (float(v) for v in off)
    if light > 2.5 and max(red, yellow) < 0.25 * light and yellow > -1.2 * light:
        return "white"
    by_weight = {"red": red, "green": -1.3 * red, "yellow": 0.8 * yellow, "blue": -0.8 * yellow}
    return max(by_weight, key=lambda name: by_weight[name])


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
    looks: tuple[Floats, Floats, Floats],
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
    if not _WIDTH_MM[0] <= width <= _WIDTH_MM[1] or length < _SLENDER * width:
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
        is_no_wood=_is_no_wood(colour, looks[0][region], looks[1][region]),
    )


def _is_no_wood(colour: str, seen: Floats, off: Floats) -> bool:
    """Return whether no wood looks so: by the colour itself (L, a, b) and how it is off the wood's.

    Dead knots and iron stain are greyer than the wood around, but never blue.
    """
    match colour:
        case "white" | "yellow":
            return True
        case "blue":
            return float(np.median(seen[:, 2])) < _BLUE_OF_NO_WOOD
        case "green":
            return float(np.median(seen[:, 1])) < _GREEN_OF_NO_WOOD
        case "red":
            return float(np.median(off[:, 1])) > _RED_OF_NO_WOOD
        case _:
            return False
