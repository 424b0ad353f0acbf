"""The colour of a face's clear wood, against white paper that lies in the same light.

It is the colour of the rough-sawn face, not of the planed one: saw marks and dust scatter light.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import cv2
import numpy as np
from shapely.geometry import Polygon

from scanner.geometry.polygons import union_of
from scanner.vision.looks.phone import phone_of
from scanner.vision.photos.light import XYZ, bytes_of, lab_of, linear_light
from scanner.vision.photos.picture import WoodColour
from scanner.vision.rectify import FacePlace, flatten

if TYPE_CHECKING:
    from collections.abc import Iterable

    from numpy.typing import NDArray
    from shapely.geometry.base import BaseGeometry

    from scanner.vision.fit.scale_fit import ScaleFit
    from scanner.vision.photos.picture import FacePicture, Photo

# Wood and paper are compared in pieces of this size: one light falls on each.
_STATION_MM = 50.0
_PATCH_MM = 8.0
# Arrises, rims of flaws and sapwood's border show two colours at once.
_RIM_MM = 6.0
_FLAW_RIM_MM = 8.0
# Sharpening draws a paler line along the print and a blacker one along its own border: bytes of 10
# and 23 for 40 in the middle. So both are read so far from their borders (or, in print too fine for
# that, where it is widest).
_OFF_BORDER_MM = 4.0
_WIDEST = 0.9
# What gives back less than this share of the paper beside it is print.
_PRINT_SHARE, _PAPER_PERCENTILE = 0.4, 75.0
# Fewer pixels of paper or print are mostly their borders.
_LEAST_PIXELS = 60
# Stations that differ by no more than this share lie in one light.
_ONE_LIGHT = 0.1
_LEAST_PATCHES = 30
# A patch takes its white from so many stations of paper nearest to it.
_NEAREST = 3
# Fine enough for the blank paper between the strip's markers.
_PAPER_MM_PER_PX = 1.0
# A sheet of white paper has no print: less than this share of it is dark (a strip has a third).
_LEAST_PRINTED = 0.05
# Paper brighter than this is burnt out: nothing tells how much brighter it was, nor how it varies.
_BURNT = 0.9
# Under a tree spots of sun lie otherwise on wood than on the paper beside it. Where the paper is
# by so much (natural logarithm) brighter here than there, and patches of the wood differ by so much
# (delta E, middle), nothing tells which light fell on which: of 3100-3107 under a tree these were
# the six boards of which five came out 4 to 8 delta E off, the others at most 2.
_DAPPLED, _DAPPLED_SPREAD = 0.5, 5.0


@dataclass(frozen=True, slots=True, eq=False)
class PaperWhite:
    """White paper as the photo shows it, at stations along it.

    Attributes
    ----------
    at_mm
        (N, 2) middles of the stations, in the frame of the face's picture.
    light
        (N, 3) linear RGB, 0 to 1.
    ink
        (3,) linear RGB of what is printed on it where `most` of it lies, None on blank paper.
    """

    at_mm: NDArray[np.float64]
    light: NDArray[np.float64]
    ink: NDArray[np.float64] | None = None

    @property
    def most(self) -> NDArray[np.bool_]:
        """Which stations (N,) lie in the light that most of them have, the brighter of two."""
        luma = self.light @ XYZ[1]
        usual = np.quantile(luma, 0.5, method="higher")
        return np.asarray(np.abs(luma - usual) <= _ONE_LIGHT * usual)

    @property
    def varies(self) -> float:
        """By how much it is brighter at one place than at another, natural logarithm."""
        return float(np.ptp(np.log(np.maximum(self.light @ XYZ[1], 1e-4))))


def strip_white(photos: tuple[Photo, ...], fit: ScaleFit, place: FacePlace) -> PaperWhite | None:
    """Return the white of the coded strip's paper, None without a strip or where it is burnt out.

    Parameters
    ----------
    photos, fit
        Of one face, as scanned.
    place
        Of the face's picture: the white is given in its frame.
    """
    if fit.kind != "strip":
        return None
    area = fit.rule_area_mm()
    rings = [
        Polygon(place.place_from_rule(np.array(part.exterior.coords)))
        for part in getattr(area, "geoms", (area,))
    ]
    paper = union_of(rings)
    if paper.is_empty:
        return None
    x0, y0, x1, y1 = paper.bounds
    first = place.rule_from_place(np.array([[x0, y0]]))[0]
    around = FacePlace((float(first[0]), float(first[1])), place.angle_rad, (x1 - x0, y1 - y0))
    picture = flatten(photos, fit, around, _PAPER_MM_PER_PX)
    return paper_white(replace(picture, origin_mm=(x0, y0)), paper)


def paper_white(face: FacePicture, paper: BaseGeometry) -> PaperWhite | None:
    """Return the white of paper that a flat picture shows, None where it shows none or burnt out.

    Parameters
    ----------
    face
        A flat picture in which the paper lies (its ``seen`` says what a photo shows).
    paper
        Where the paper is, in the picture's frame, mm; what is printed on it does not matter.
    """
    inside = _painted(face, paper.buffer(-2.0)) & face.seen
    rows, columns = np.nonzero(inside)
    if len(rows) == 0:
        return None
    places = np.column_stack([columns, rows]).astype(np.float64)
    places = places * face.mm_per_px + np.array(face.origin_mm)
    pixels = linear_light(face.pixels[rows, columns])
    station = np.floor(places @ _long_side(paper) / _STATION_MM).astype(int)
    is_print = _printed(pixels @ XYZ[1], station)
    blank = ~is_print & (_from_border(inside, ~is_print) * face.mm_per_px >= _OFF_BORDER_MM)
    at, light, numbers = [], [], []
    for number in np.unique(station):
        own = blank & (station == number)
        if own.sum() < _LEAST_PIXELS:
            continue
        at.append(places[own].mean(axis=0))
        light.append(np.median(pixels[own], axis=0))
        numbers.append(number)
    if not at:
        return None
    white = PaperWhite(np.array(at), np.array(light))
    if np.median(white.light, axis=0).max() > _BURNT:
        return None
    if is_print.mean() < _LEAST_PRINTED:
        return white
    deep = _from_border(inside, is_print) * face.mm_per_px
    is_print &= np.isin(station, np.array(numbers)[white.most])
    if not is_print.any():
        return white
    reach = min(_OFF_BORDER_MM, float(np.quantile(deep[is_print], _WIDEST)))
    return replace(white, ink=np.median(pixels[is_print & (deep >= reach)], axis=0))


def _printed(luma: NDArray[np.float64], station: NDArray[np.int_]) -> NDArray[np.bool_]:
    """Return which pixels (N,) of paper are print, by what is bright at their station."""
    found = np.zeros(len(luma), dtype=np.bool_)
    for number in np.unique(station):
        own = station == number
        found[own] = luma[own] < _PRINT_SHARE * np.percentile(luma[own], _PAPER_PERCENTILE)
    return found


def _from_border(inside: NDArray[np.bool_], chosen: NDArray[np.bool_]) -> NDArray[np.float64]:
    """Return how far (N,) the pixels of a mask (H, W) lie from those not chosen (N,), px."""
    canvas = np.zeros(inside.shape, dtype=np.uint8)
    canvas[inside] = chosen
    away = cv2.distanceTransform(canvas, cv2.DIST_L2, 3)[inside]
    return np.asarray(away, dtype=np.float64)


def wood_colour(
    face: FacePicture,
    outline: BaseGeometry,
    apart: Iterable[Polygon],
    white: PaperWhite,
) -> WoodColour | None:
    """Return the colour of the clear wood of a face, None where nothing tells it.

    Too little wood shows, or spots of sun lie on wood and paper.

    Parameters
    ----------
    face
        The flat picture.
    outline
        The face to the arris, or that of it whose colour is asked for, face mm.
    apart
        What is not clear heartwood: flaws, and sapwood where the face has both, face mm.
    white
        Paper in the same light.
    """
    clear = outline.buffer(-_RIM_MM).difference(union_of([s.buffer(_FLAW_RIM_MM) for s in apart]))
    lab = _patches(face, clear, white)
    if len(lab) < _LEAST_PATCHES:
        return None
    middle = np.median(lab, axis=0)
    for _ in range(2):  # a shadow over a part of the face is another light, not another wood
        away = np.linalg.norm(lab - middle, axis=1)
        middle = np.median(lab[away <= 2.5 * np.median(away)], axis=0)
    spread = float(np.median(np.linalg.norm(lab - middle, axis=1)))
    if spread > _DAPPLED_SPREAD and white.varies > _DAPPLED:
        return None
    return WoodColour((float(middle[0]), float(middle[1]), float(middle[2])), spread)


def _patches(face: FacePicture, clear: BaseGeometry, white: PaperWhite) -> NDArray[np.float64]:
    """Return (N, 3) CIELAB of the patches of clear wood, each against the paper beside it."""
    step = max(1, round(_PATCH_MM / face.mm_per_px))
    rows, columns = (side // step for side in face.pixels.shape[:2])
    if rows == 0 or columns == 0:
        return np.zeros((0, 3))
    whole = (_painted(face, clear) & face.seen)[: rows * step, : columns * step]
    full = whole.reshape(rows, step, columns, step).mean(axis=(1, 3)) > 0.99
    light = linear_light(face.pixels[: rows * step, : columns * step])
    mean = light.reshape(rows, step, columns, step, 3).mean(axis=(1, 3))[full]
    row, column = np.nonzero(full)
    places = np.column_stack([column, row]).astype(np.float64)
    places = (places + 0.5) * step * face.mm_per_px + np.array(face.origin_mm)
    return lab_of(_shares(mean, places, white))


def _shares(
    light: NDArray[np.float64],
    places_mm: NDArray[np.float64],
    white: PaperWhite,
) -> NDArray[np.float64]:
    """Return (N, 3) what share of the paper's light the wood gives back."""
    paper = bytes_of(white.light)
    middle = np.median(paper[white.most], axis=0)
    phone = phone_of(middle, None if white.ink is None else bytes_of(white.ink))
    # The cast of the light is told by paper and print together; from station to station it goes
    # by the paper alone.
    beside = phone.of_paper(paper) / phone.of_paper(middle[None])
    falls = phone.paper * _white_at(places_mm, PaperWhite(white.at_mm, beside))
    return phone.of_wood(bytes_of(light)) / np.maximum(falls, 1e-3)


def _white_at(places_mm: NDArray[np.float64], white: PaperWhite) -> NDArray[np.float64]:
    """Return (N, 3) the paper's light nearest to each place."""
    away = np.linalg.norm(places_mm[:, None] - white.at_mm[None], axis=2)
    count = min(_NEAREST, len(white.at_mm))
    nearest = np.argsort(away, axis=1)[:, :count]
    return np.asarray(np.median(white.light[nearest], axis=1))


def _painted(face: FacePicture, shape: BaseGeometry) -> NDArray[np.bool_]:
    canvas = np.zeros(face.pixels.shape[:2], dtype=np.uint8)
    for part in getattr(shape, "geoms", (shape,)):
        if not isinstance(part, Polygon) or part.is_empty:
            continue
        for ring, value in ((part.exterior, 1), *((hole, 0) for hole in part.interiors)):
            corners = (np.asarray(ring.coords) - face.origin_mm) / face.mm_per_px
            # Quick for the thousands of corners that clear wood round its flaws has.
            cv2.fillPoly(canvas, [np.round(corners * 16).astype(np.int32)], value, shift=4)
    return canvas.astype(bool)


def _long_side(shape: BaseGeometry) -> NDArray[np.float64]:
    """Return the unit vector along a shape's longer side."""
    box = shape.minimum_rotated_rectangle
    corners = np.asarray(box.exterior.coords)[:3]
    sides = np.diff(corners, axis=0)
    long = sides[int(np.argmax(np.hypot(*sides.T)))]
    return np.asarray(long / np.hypot(*long), dtype=np.float64)
