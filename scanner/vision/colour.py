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
from scanner.vision.picture import WoodColour
from scanner.vision.rectify import FacePlace, flatten

if TYPE_CHECKING:
    from collections.abc import Iterable

    from numpy.typing import NDArray
    from shapely.geometry.base import BaseGeometry

    from scanner.vision.fit.scale_fit import ScaleFit
    from scanner.vision.picture import FacePicture, Photo

# Wood and paper are compared in pieces of this size: one light falls on each.
_STATION_MM = 50.0
_PATCH_MM = 8.0
# Arrises, rims of flaws and sapwood's border show two colours at once.
_RIM_MM = 6.0
_FLAW_RIM_MM = 8.0
# Paper is the light part of the strip; sharpening draws a paler line along the print.
_PAPER_SHARES = (60.0, 90.0)
_LEAST_PATCHES = 30
# A patch takes its white from so many stations of paper nearest to it.
_NEAREST = 3
# Fine enough for the blank paper between the strip's markers.
_PAPER_MM_PER_PX = 1.0
# The darkest of the paper is print; a sheet of white paper has none.
_INK_SHARE = 8.0
_LEAST_PRINTED = 0.35
# Paper brighter than this is burnt out: nothing tells how much brighter it was.
_BURNT = 0.95
# Under a tree spots of sun lie otherwise on wood than on the paper beside it. Where the paper is
# by so much (natural logarithm) brighter here than there, and patches of the wood differ by so much
# (delta E, middle), nothing tells which light fell on which: of 3100-3107 under a tree these were
# the six boards of which five came out 4 to 8 delta E off, the others at most 2.
_DAPPLED, _DAPPLED_SPREAD = 0.5, 5.0
# Printed black against paper (renderings have 0.035, toner about 0.05: from memory, no source).
_INK = 0.045
# Phones deepen contrast (bytes move by so much of a sine: darker below the middle, brighter above)
# and press what is brighter than half of white together (a soft shoulder, of which so much is
# undone: they lift what lies beside bright paper). Wood and paper lie on different parts of these
# curves. Against a shoulder alone the colour of one board moves less from light to light on 22 of
# 29 rendered boards (3100-3109, 3112-3118, 77100-77111: by 0.26, 0.45 and 0.34 delta E on
# average; the first and last chose the figures); another phone has another curve.
_CONTRAST, _SHOULDER = 0.05, 0.4
# Wood does not share all of the cast that paper shows: what is brightest is pressed together most,
# so that paper seems greener or redder than the light that falls on it, and daylight and lamps
# hardly are (they differ along blue and yellow). By row red and blue: by how much of the paper's
# ln(red / green) and ln(blue / green) wood is held too red, too blue. Least squares on boards
# 3100-3117 under four lights.
_NOT_SHARED = np.array([[0.33, 0.24], [-0.07, -0.08]])
_SHOWN = np.linspace(-0.1, 1.1, 2401)
_DEEPENED = _SHOWN + _CONTRAST * np.sin(2 * np.pi * (_SHOWN - 0.5))
_BRIGHTEST = 0.49  # over the middle: nothing tells how much brighter full white was
# sRGB to CIE XYZ with the white of the paper as (1, 1, 1): IEC 61966-2-1, its matrix divided by
# the white D65.
_XYZ = np.array(
    [
        [0.4124 / 0.9505, 0.3576 / 0.9505, 0.1805 / 0.9505],
        [0.2126, 0.7152, 0.0722],
        [0.0193 / 1.089, 0.1192 / 1.089, 0.9505 / 1.089],
    ]
)


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
        (3,) linear RGB of what is printed on it, None on blank paper.
    """

    at_mm: NDArray[np.float64]
    light: NDArray[np.float64]
    ink: NDArray[np.float64] | None = None

    @property
    def varies(self) -> float:
        """By how much it is brighter at one place than at another, natural logarithm."""
        return float(np.ptp(np.log(np.maximum(self.light @ _XYZ[1], 1e-4))))


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
    pixels, places = _inside(face, paper.buffer(-2.0))
    if len(pixels) == 0:
        return None
    along = _long_side(paper)
    station = np.floor(places @ along / _STATION_MM).astype(int)
    at, light, ink = [], [], []
    for number in np.unique(station):
        own = pixels[station == number]
        if len(own) < 200:
            continue
        luma = own @ np.array([0.3, 0.59, 0.11])
        low, high = np.percentile(luma, _PAPER_SHARES)
        blank = own[(luma >= low) & (luma <= high)]
        at.append(places[station == number].mean(axis=0))
        light.append(blank.mean(axis=0))
        ink.append(own[luma <= np.percentile(luma, _INK_SHARE)].mean(axis=0))
    if not at:
        return None
    dark, bright = np.median(ink, axis=0), np.median(light, axis=0)
    if bright.max() > _BURNT:
        return None
    is_printed = bool(dark.mean() < _LEAST_PRINTED * bright.mean())
    return PaperWhite(np.array(at), np.array(light), dark if is_printed else None)


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
    """Return (N, 3) what share of the paper's light the wood gives back.

    What stray light adds to print and wood alike is taken off both.
    """
    paper = PaperWhite(white.at_mm, _as_it_fell(white.light))
    bright = _white_at(places_mm, paper)
    stray = np.zeros(3)
    if white.ink is not None:
        ink = _as_it_fell(white.ink)
        stray = (ink - _INK * np.median(paper.light, axis=0)) / (1 - _INK)
    share = np.maximum(_as_it_fell(light) - stray, 1e-4) / np.maximum(bright - stray, 1e-3)
    return _with_own_cast(share, np.median(paper.light, axis=0))


def _with_own_cast(share: NDArray[np.float64], paper: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return shares with what is the paper's own of its cast given back, as light as before."""
    red, green, blue = np.log(np.maximum(paper, 1e-3))
    more_red, more_blue = _NOT_SHARED @ np.array([red - green, blue - green])
    found = share * np.exp([more_red, 0.0, more_blue])
    return np.asarray(found * (share @ _XYZ[1] / (found @ _XYZ[1]))[:, None])


def _as_it_fell(light: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return light as it fell, from light as the bytes say it: the phone's curves undone."""
    straight = np.interp(_bytes_of(light), _DEEPENED, _SHOWN)
    fell = _light_of(straight)
    over = np.clip(fell - 0.5, 0.0, _BRIGHTEST)
    unpressed = 0.5 - 0.5 * np.log(1 - 2 * over)
    return np.asarray(fell + _SHOULDER * np.where(fell > 0.5, unpressed - fell, 0.0))


def _white_at(places_mm: NDArray[np.float64], white: PaperWhite) -> NDArray[np.float64]:
    """Return (N, 3) the paper's light nearest to each place."""
    away = np.linalg.norm(places_mm[:, None] - white.at_mm[None], axis=2)
    count = min(_NEAREST, len(white.at_mm))
    nearest = np.argsort(away, axis=1)[:, :count]
    return np.asarray(np.median(white.light[nearest], axis=1))


def linear_light(pixels: NDArray[np.uint8]) -> NDArray[np.float64]:
    """Return light in proportion to what fell on the sensor, 0 to 1 (IEC 61966-2-1, sRGB)."""
    return np.asarray(_light_of(np.arange(256) / 255.0)[pixels], dtype=np.float64)


def _light_of(shown: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the light of bytes 0 to 1 (IEC 61966-2-1)."""
    power = (np.maximum(shown, 0.0) + 0.055) / 1.055
    return np.asarray(np.where(shown <= 0.04045, shown / 12.92, power**2.4))


def _bytes_of(light: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the bytes, 0 to 1, of light (IEC 61966-2-1)."""
    root = np.maximum(light, 0.0) ** (1 / 2.4)
    return np.asarray(np.where(light <= 0.0031308, 12.92 * light, 1.055 * root - 0.055))


def lab_of(share: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return (N, 3) CIELAB of linear RGB as shares of white (N, 3) (ISO/CIE 11664-4)."""
    xyz = np.maximum(np.asarray(share) @ _XYZ.T, 0.0)
    least = (6 / 29) ** 3
    f = np.where(xyz > least, np.cbrt(xyz), xyz / (3 * (6 / 29) ** 2) + 4 / 29)
    x, y, z = f.T
    return np.column_stack([116 * y - 16, 500 * (x - y), 200 * (y - z)])


def _inside(
    face: FacePicture, shape: BaseGeometry
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return linear RGB (N, 3) and places (N, 2) of the pixels in a shape that a photo shows."""
    rows, columns = np.nonzero(_painted(face, shape) & face.seen)
    places = np.column_stack([columns, rows]).astype(np.float64)
    places = places * face.mm_per_px + np.array(face.origin_mm)
    return linear_light(face.pixels[rows, columns]), places


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
