"""What EXIF tells of the camera, and of what was done to a photo after it was taken.

What phones write into EXIF, and what editors leave stale in it, was read off real files; the
cases are in ``tests/vision/test_photo.py``.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from PIL import ExifTags

if TYPE_CHECKING:
    from PIL import Image

# A phone's own pictures; others were cropped.
_USUAL_SHAPES = (1.0, 4 / 3, 3 / 2, 16 / 9)
# The smallest size that a phone's own camera makes today; copies by messengers stay below it.
_SMALLEST_ORIGINAL_PIXELS = 3_000_000
_FULL_FRAME_DIAGONAL_MM = 43.267
# Equivalent focal lengths outside of this are typing errors of the maker, 0 is "unknown".
_PLAUSIBLE_FOCAL_35_MM = (10.0, 300.0)


@dataclass(frozen=True, slots=True)
class Exif:
    """What EXIF says of the camera; the place where the photo was taken is never read."""

    focal_35_mm: float | None
    size_px: tuple[int, int] | None
    zoom: float
    camera: str
    is_empty: bool


@dataclass(frozen=True, slots=True)
class History:
    """What was done to a photo since it was taken, and what that leaves of its camera.

    Attributes
    ----------
    focal_px
        By the diagonal of the 35 mm equivalent (43.27 mm); None where EXIF has no plausible value
        or its sizes show that the picture was changed.
    doubt
        What to tell the user, without the photo's name; empty where nothing was done.
    """

    focal_px: float | None
    is_original: bool = True
    is_cropped: bool = False
    doubt: str = ""


def _number(value: Any) -> float | None:  # noqa: ANN401 (EXIF values come in any type)
    try:
        number = float(value)
    except (TypeError, ValueError, ZeroDivisionError):
        return None
    return number if math.isfinite(number) else None


def _text(value: Any) -> str:  # noqa: ANN401 (as above)
    return value.strip(" \0") if isinstance(value, str) else ""


def read_exif(picture: Image.Image) -> Exif:
    """Return what the EXIF of an opened picture tells; nothing of it is trusted yet."""
    top = picture.getexif()
    inner = top.get_ifd(ExifTags.IFD.Exif)
    focal = _number(inner.get(ExifTags.Base.FocalLengthIn35mmFilm))
    if focal is not None and not _PLAUSIBLE_FOCAL_35_MM[0] <= focal <= _PLAUSIBLE_FOCAL_35_MM[1]:
        focal = None
    width = _number(inner.get(ExifTags.Base.ExifImageWidth))
    height = _number(inner.get(ExifTags.Base.ExifImageHeight))
    size = (int(width), int(height)) if width and height else None
    # 0 and 0/0 both mean "no zoom".
    zoom = _number(inner.get(ExifTags.Base.DigitalZoomRatio)) or 1.0
    words = (
        _text(top.get(ExifTags.Base.Make)),
        _text(top.get(ExifTags.Base.Model)),
        _text(inner.get(ExifTags.Base.LensModel)),
    )
    # An orientation alone is no camera: many writers add it to anything.
    is_empty = focal is None and size is None and not any(words)
    return Exif(focal, size, zoom, " ".join(word for word in words if word), is_empty)


def history_of(exif: Exif, width: int, height: int) -> History:
    """Return what EXIF and the size (px) of a photo tell of its past, the gravest first."""
    focal_px: float | None = None
    if exif.focal_35_mm is not None:
        focal_px = exif.focal_35_mm * math.hypot(width, height) / _FULL_FRAME_DIAGONAL_MM
    if exif.size_px is not None and sorted(exif.size_px) != sorted((width, height)):
        was = max(exif.size_px) / min(exif.size_px)
        now = max(width, height) / min(width, height)
        is_cropped = abs(was / now - 1) > 0.01
        what = "cropped" if is_cropped else "resized"
        doubt = (
            f"was {what} after it was taken (EXIF says {exif.size_px[0]} x {exif.size_px[1]}): "
            "give the photo as the phone made it"
        )
        return History(None, is_original=False, is_cropped=is_cropped, doubt=doubt)
    if not _has_usual_shape(width, height):
        doubt = (
            f"seems cropped ({width} x {height} pixels is no camera's shape): give the photo as "
            "the phone made it"
        )
        return History(None, is_original=False, is_cropped=True, doubt=doubt)
    if exif.zoom > 1.01:
        doubt = "was taken with digital zoom: go nearer instead"
        return History(focal_px, is_original=False, doubt=doubt)
    if exif.is_empty:
        small = width * height < _SMALLEST_ORIGINAL_PIXELS
        reason = " and is small, as messengers make their copies" if small else ""
        doubt = f"tells nothing of its camera{reason}: give the original photo"
        return History(focal_px, is_original=False, doubt=doubt)
    return History(focal_px)


def _has_usual_shape(width: int, height: int) -> bool:
    ratio = max(width, height) / min(width, height)
    return any(abs(ratio / shape - 1) < 0.01 for shape in _USUAL_SHAPES)
