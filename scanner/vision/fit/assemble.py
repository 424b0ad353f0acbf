"""From what was found in the photos and what the person said to the observations of one fit."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING, TypedDict

import numpy as np

from scanner.errors import PhotoError, SettingsError
from scanner.geometry.strip_layout import (
    PIECE_MM,
    Piece,
    corner_signs,
    corners_mm,
    position_of,
)
from scanner.vision.evidence.observations import (
    Floats,
    LensPrior,
    Marks,
    Observations,
    Reference,
    corner_marks,
)
from scanner.vision.evidence.seen import Bleed, Seen, SeenMarkers, SeenRule
from scanner.vision.fit.camera import Camera, planar_poses, twin
from scanner.vision.fit.face_prior import face_prior
from scanner.vision.fit.graduations import read_evenly
from scanner.vision.fit.references import FREE, rule_reference, strip_references

if TYPE_CHECKING:
    from scanner.vision.setup import Setup

__all__ = ["FEWEST_MARKERS", "Seen", "SeenMarkers", "SeenRule", "assemble"]

# Line-fitted corners are better than this; the floor stands for what the lens model cannot say.
CORNER_SD_PX = 0.3
FEWEST_MARKERS = 6
# No printer at 100 % makes a strip by so much shorter or longer.
_PRINT_SHARE = 0.01
# How far the bleed of outer sides may be from that of a code's inner edges.
CODE_BLEED_SD_MM = 0.15
# How far the bleed of a photo whose codes tell nothing of it may be from that of the others.
UNTOLD_BLEED_SD_MM = 0.25
# A board lies within about this much of its reference when nobody typed its length (8 ft).
USUAL_HALF_BOARD_MM = 1219.0


def marker_marks(photo: int, order: tuple[Piece, ...], seen: SeenMarkers) -> list[Marks]:
    """Return the corner marks of one photo, one set a reference."""
    out: list[Marks] = []
    where = [position_of(int(marker)) for marker in seen.ids]
    for index, piece in enumerate(order):
        rows = [row for row, place in enumerate(where) if place and place.reference == piece]
        if not rows:
            continue
        numbers = [place.number for row in rows if (place := where[row]) is not None]
        count = len(rows)
        out.append(
            corner_marks(
                photo,
                index,
                np.concatenate([corners_mm(number) for number in numbers]),
                seen.corners[rows].reshape(-1, 2),
                np.repeat(np.maximum(seen.sd_px[rows], CORNER_SD_PX), 4),
                np.tile(corner_signs(), (count, 1)),
                np.repeat(np.arange(count), 4),
            )
        )
    return out


def rule_marks(photo: int, index: int, seen: SeenRule) -> Marks:
    """Return the line points of a plain rule as marks; each stands alone."""
    keep, sd_px = read_evenly(seen)
    signs = seen.signs.copy()
    # How far across a graduation was read is a share of the bar between its edges as seen.
    is_line = (signs == 0).all(axis=1)
    signs[is_line, 1] = seen.points_mm[is_line, 1] / (seen.width_mm / 2)
    every = Marks(
        photo,
        index,
        seen.points_mm,
        signs,
        seen.pixels,
        seen.directions[:, None, :],
        sd_px,
        np.arange(len(seen.pixels)),
    )
    kept = every.only(keep)
    return replace(kept, groups=np.arange(len(kept.pixels)))


def _strip_taped(setup: Setup, reference: Reference) -> tuple[float, float, float] | None:
    taped = setup.strip_taped
    if taped is None:
        return None
    pieces = round(reference.size_mm[0] / PIECE_MM)
    nominal = PIECE_MM * max(pieces, round(taped.value_mm / PIECE_MM))
    share = taped.value_mm / nominal - 1.0
    as_long = round(taped.value_mm / PIECE_MM)
    off_mm = abs(taped.value_mm - PIECE_MM * as_long)
    if 0 < as_long < pieces and off_mm <= _PRINT_SHARE * PIECE_MM * as_long:
        raise SettingsError(
            f"the strip was taped as {taped.value_mm:.1f} mm, as long as {as_long} of its pieces, "
            f"but its pieces are seen up to number {pieces}",
            "see that none is left out, glued out of order or cut off, and tape from the start of "
            "piece 1; if all are there, print it again at 100 % (not fit to page)",
        )
    if abs(share) > _PRINT_SHARE:
        raise SettingsError(
            f"the strip was taped as {taped.value_mm:.1f} mm, {100 * abs(share):.1f} % "
            f"{'less' if share < 0 else 'more'} than {nominal:.0f} mm from zero to a joint line",
            "tape it again; if that is its length, print it again at 100 % (not fit to page)",
        )
    return nominal, taped.value_mm, max(0.4, taped.u_mm / 2)


class _BleedPrior(TypedDict, total=False):
    bleed_mm: tuple[float, float]
    sd_bleed: tuple[float, float]
    own_bleed: tuple[tuple[tuple[float, float], tuple[float, float]], ...]


def _bleed(told: list[Bleed | None]) -> _BleedPrior:
    """Return the prior of bleed that the codes of the photos make; nothing where none told.

    What an outer side has more than an inner edge it has both ways, so the difference between
    along and across is surer than bleed itself. What ink does all photos share, what blur and
    light do each has for itself.
    """
    measured = [one for one in told if one is not None]
    if not measured:
        return {}
    values = np.array([one.value_mm for one in measured])
    sds = np.array([one.sd_mm for one in measured])
    along, across = np.average(values, axis=0, weights=1 / sds**2)
    # The same code is read again in every photo, and errs alike.
    sd = float(np.hypot(*sds.min(axis=0)))
    own: list[tuple[tuple[float, float], tuple[float, float]]] = []
    for one in told if len(told) > 1 else ():
        if one is None:
            own.append(((0.0, 0.0), (UNTOLD_BLEED_SD_MM, UNTOLD_BLEED_SD_MM)))
        else:
            apart = (one.value_mm[0] - float(along), one.value_mm[1] - float(across))
            own.append((apart, one.sd_mm))
    return {
        "bleed_mm": (along, across - along),
        "sd_bleed": (CODE_BLEED_SD_MM, sd),
        "own_bleed": tuple(own),
    }


def _on_level(camera: Camera, pixels: Floats, height: float) -> Floats:
    """Return the places (N, 2), mm, that pixels (N, 2) show so high (mm) over the floor."""
    rays = camera.rays(pixels)
    reach = (height - camera.centre[2]) / rays[:, 2]
    return np.asarray(camera.centre[:2] + rays[:, :2] * reach[:, None])


def _start_of_second(marks: Marks, camera: Camera, height: float) -> tuple[float, float, float]:
    """Return where a reference of unknown place lies, seen from a first guess of the camera."""
    there = _on_level(camera, marks.pixels, height)
    here = marks.points_mm
    a, b = here - here.mean(axis=0), there - there.mean(axis=0)
    turn = math.atan2(float((a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]).sum()), float((a * b).sum()))
    cos, sin = math.cos(turn), math.sin(turn)
    x, y = there.mean(axis=0) - np.array([[cos, -sin], [sin, cos]]) @ here.mean(axis=0)
    return float(x), float(y), turn


def _starts(
    lens: LensPrior, marks: Marks, reference: Reference, corners: Floats | None
) -> list[tuple[Floats, Floats]]:
    if corners is None:
        points, pixels = marks.points_mm, marks.pixels
    else:
        length, width = reference.size_mm
        points = np.array([[0, -1], [0, 1], [length, 1], [length, -1]]) * np.array([1, width / 2])
        pixels = corners
    flat = planar_poses(lens.mean, points, pixels)
    lift = np.array([0.0, 0.0, reference.height_mm])
    middle = np.array([*marks.points_mm.mean(axis=0), reference.height_mm])
    # The camera is above the floor: of a pose and its twins keep what looks down.
    tried = []
    for R, t in flat:
        pose = (R, t - R @ lift)
        tried += [pose, twin(*pose, middle)]
    down = [(R, t) for R, t in tried if R[2, 2] < 0 and (R @ middle + t)[2] > 0]

    def misfit(pose: tuple[Floats, Floats]) -> float:
        world = np.column_stack([points, np.full(len(points), reference.height_mm)])
        off = Camera(lens.mean, *pose).project(world) - pixels
        return float(np.nansum(off**2)) if np.isfinite(off).any() else math.inf

    return sorted(down, key=misfit)


def _strip_seen(seen: tuple[Seen, ...], setup: Setup) -> tuple[tuple[Reference, ...], list[Marks]]:
    """Return the strip and its arms, as far as any photo shows them, and their marks."""
    highest: dict[Piece, int] = {}
    for one in seen:
        for marker in one.markers.ids if one.markers is not None else ():
            place = position_of(int(marker))
            if place is not None:
                highest[place.reference] = max(highest.get(place.reference, 0), place.number)
    order, references = strip_references(setup, highest)
    marks: list[Marks] = []
    for index, one in enumerate(seen):
        if one.markers is not None:
            marks += marker_marks(index, order, one.markers)
    return references, marks


def _rules_seen(seen: tuple[Seen, ...], setup: Setup) -> tuple[tuple[Reference, ...], list[Marks]]:
    """Return the plain rules of the first photo, and the marks of all photos."""
    on_face = setup.rule_on == "face"
    sizes = [size for size in (setup.rule, setup.rule2) if size is not None]
    references = tuple(
        rule_reference(sizes[min(i, len(sizes) - 1)], rule, i, on_face=on_face and i == 0)
        for i, rule in enumerate(seen[0].rules)
    )
    marks = [
        rule_marks(index, i, rule)
        for index, one in enumerate(seen)
        for i, rule in enumerate(one.rules)
    ]
    return references, marks


def _starts_of(
    photo: int, one: Seen, marks: list[Marks], references: tuple[Reference, ...]
) -> list[tuple[Floats, Floats]]:
    """Return poses to start from of one photo, by the first reference.

    Raises
    ------
    PhotoError
        The photo does not show it, or shows it as no camera above the floor can.
    """
    first = [m for m in marks if m.photo == photo and m.reference == 0]
    if not first:
        raise PhotoError(
            f"No reference rule found in {one.name}, so there is no scale",
            "lay the rule or strip flat beside the board, all of it in view, and take the "
            "photo again",
        )
    is_rule = bool(one.rules) and not references[0].is_printed
    corners = one.rules[0].corners if is_rule else None
    starts = _starts(one.lens, first[0], references[0], corners)
    if not starts:
        raise PhotoError(
            f"The reference in {one.name} is seen as no camera above the floor can see it",
            "give the photo as taken, not mirrored or stretched",
        )
    return starts


def _placed(
    references: tuple[Reference, ...],
    marks: list[Marks],
    seen: tuple[Seen, ...],
    starts: list[list[tuple[Floats, Floats]]],
) -> tuple[Reference, ...]:
    """Return the references, each that may lie anywhere begun where a photo shows it."""
    placed = []
    for index, reference in enumerate(references):
        if reference.sd_place == FREE:
            first = next(m for m in marks if m.reference == index)
            camera = Camera(seen[first.photo].lens.mean, *starts[first.photo][0])
            start = _start_of_second(first, camera, reference.height_mm)
            reference = replace(reference, place=start)
        placed.append(reference)
    return tuple(placed)


def assemble(
    seen: tuple[Seen, ...], setup: Setup
) -> tuple[Observations, list[list[tuple[Floats, Floats]]]]:
    """Return the observations of one face and, for each photo, poses to start from.

    Raises
    ------
    PhotoError
        A photo shows no reference, or too little of it.
    """
    is_strip = seen[0].markers is not None
    references, marks = (_strip_seen if is_strip else _rules_seen)(seen, setup)
    starts = [_starts_of(index, one, marks, references) for index, one in enumerate(seen)]
    length = references[0].size_mm[0]
    half = max(length / 2, 0.0 if is_strip else USUAL_HALF_BOARD_MM)
    if setup.taped is not None:
        half = max(length / 2, setup.taped.value_mm / 2)
    bleed = _bleed([one.markers.bleed for one in seen if one.markers is not None])
    observations = Observations(
        lenses=tuple(one.lens for one in seen),
        references=_placed(references, marks, seen, starts),
        marks=tuple(marks),
        face=face_prior(setup, (length / 2, 0.0), half),
        taped_strip=_strip_taped(setup, references[0]) if is_strip else None,
        **bleed,
    )
    return observations, starts
