"""Rendered photos from straight above along a board, and the step where two of them join."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from scanner.vision.first_look import first_look, rough_place, with_board
from scanner.vision.scale import fit_scale
from tests.bench.projected import SEAM_MM
from tests.render.camera import aim

if TYPE_CHECKING:
    from scanner.vision.photos.picture import Photo
    from scanner.vision.setup import Setup
    from tests.render.specs import BoardSpec, PhoneSpec, PhotoSpec
    from tests.render.truth import PhotoTruth

# Walking along, about every 2 to 3 ft from 1 to 1.5 m (geometry of the fit, section 10).
_STEP_MM, _ABOVE_MM = 800.0, 1350.0
# Nobody sees a step at a seam but where there is wood.
_PLACES = 5


def photos_along(
    seed: int, board: BoardSpec, first: PhotoSpec, phone: PhoneSpec
) -> list[PhotoSpec]:
    """Return photos from above along a board that lies as in ``first``; both ends lie under one."""
    random = np.random.default_rng((seed, 41))
    count = max(2, math.ceil(board.length_mm / _STEP_MM))
    size = max(first.camera.size), min(first.camera.size)
    focal = phone.focal_35mm * math.hypot(*size) / 43.27 * phone.stretch
    out = []
    for photo in range(count):
        share = photo / (count - 1) - 0.5
        x = first.board_x + share * (board.length_mm - 150) + random.normal(0, 25)
        y = first.board_y / 2 + random.normal(0, 25)
        middle = [
            (length - 1) / 2 + off * max(size) + random.normal(0, 6 / 4032) * max(size)
            for length, off in zip(size, phone.centre_off, strict=True)
        ]
        camera = aim(
            np.array([x, y, 0.0]),
            _ABOVE_MM * random.uniform(0.95, 1.1),
            random.uniform(0, 6),
            -90.0 + random.normal(0, 5),
            random.normal(0, 3),
            focal=focal,
            centre=(middle[0], middle[1]),
            size=size,
            lens=phone.lens,
        )
        out.append(
            replace(
                first,
                seed=first.seed + 7919 * photo,
                camera=camera,
                orientation=1,
                ground_seed=first.ground_seed or first.seed,
            )
        )
    return out


def seam_steps(
    photos: tuple[Photo, ...], setup: Setup, truths: list[PhotoTruth], length_mm: float
) -> list[list[float]]:
    """Return [step, most allowed], mm, where two photos draw true places of the face midway."""
    name = photos[0].name
    fit = fit_scale(photos, setup)
    place, *told = rough_place(photos, fit, name)
    traced, place = first_look(photos, fit, place, name, *told)
    fit, traced, place = with_board(photos, fit, traced, place)
    low_y, high_y = traced.outline.bounds[1], traced.outline.bounds[3]
    across = np.linspace(0.1, 0.9, _PLACES) * (high_y - low_y)
    along = np.linspace(0.0, length_mm, 400)
    middle = np.column_stack([along, np.full(400, (high_y - low_y) / 2)])
    feet = []
    for truth in truths:
        off = truth.reference_from_board(middle)[:, :2] - np.array(truth.eye[:2])
        feet.append(float(along[np.linalg.norm(off, axis=1).argmin()]))
    out = []
    order = sorted(range(len(photos)), key=lambda photo: feet[photo])
    for one, other in pairwise(order):
        x = (feet[one] + feet[other]) / 2
        places = np.column_stack([np.full(_PLACES, x), across])
        both = [
            fit.face_from_photo(photo, truths[photo].photo_from_face(places))
            for photo in (one, other)
        ]
        steps = np.linalg.norm(both[0] - both[1], axis=1)
        out += [[round(float(step), 3), SEAM_MM] for step in steps]
    return out
