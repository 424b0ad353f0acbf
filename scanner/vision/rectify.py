"""Undo lens and tilt: the face seen square on."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from scanner.vision.picture import FacePicture, Photo
    from scanner.vision.scale import ScaleFit


@dataclass(frozen=True, slots=True)
class FacePlace:
    """A rectangle in the rule frame: first corner, turn (x towards y), size along and across."""

    origin_mm: tuple[float, float]
    angle_rad: float
    size_mm: tuple[float, float]


def flatten(
    photos: tuple[Photo, ...], fit: ScaleFit, place: FacePlace, mm_per_px: float
) -> FacePicture:
    """Return the face inside a place, square on; rows run along y down."""
    raise NotImplementedError


def ground_place(fit: ScaleFit, photos: tuple[Photo, ...]) -> FacePlace:
    """Return the region round the rule that the photos show, capped."""
    raise NotImplementedError
