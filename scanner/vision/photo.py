"""Open a photo upright, refuse what is too large or cannot be measured.

What phones write into EXIF, and what editors leave stale in it, was read off real files; the
cases are in ``tests/vision/test_photo.py``.
"""

from __future__ import annotations

import contextlib
import hashlib
import io
import math
import struct
import warnings
import zlib
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import cv2
import numpy as np
from PIL import ExifTags, Image, ImageOps, UnidentifiedImageError

from scanner.errors import PhotoError
from scanner.vision.heic import is_heic, read_heic
from scanner.vision.picture import Photo

# Damaged EXIF is read as far as it goes; Pillow's remarks on it are no sentence for the user.
warnings.filterwarnings("ignore", category=UserWarning, module=r"PIL\.TiffImagePlugin")

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from numpy.typing import NDArray

LARGEST_BYTES = 200_000_000
LARGEST_PIXELS = 120_000_000
_FEWER_PIXELS = "give a photo of at most 120 megapixels"
SMALLEST_PIXELS = 150_000
# Longer ones are stitched: a panorama has no single camera to fit.
LONGEST_SHAPE = 2.05
# A phone's own pictures; others were cropped.
USUAL_SHAPES = (1.0, 4 / 3, 3 / 2, 16 / 9)
# The smallest size that a phone's own camera makes today; copies by messengers stay below it.
SMALLEST_ORIGINAL_PIXELS = 3_000_000
FULL_FRAME_DIAGONAL_MM = 43.267
# Equivalent focal lengths outside of this are typing errors of the maker, 0 is "unknown".
PLAUSIBLE_FOCAL_35_MM = (10.0, 300.0)
# Blur measure above which edges are wider than about 4 px: see `blur_share`.
BLURRED = 0.72
_FIXED_POINT = 128


@dataclass(frozen=True, slots=True)
class _Exif:
    """What EXIF says of the camera; the place where the photo was taken is never read."""

    focal_35_mm: float | None
    size_px: tuple[int, int] | None
    zoom: float
    camera: str
    is_empty: bool


# What Pillow's readers of pixels and EXIF raise over damaged files.
_DAMAGED = (
    ArithmeticError,
    EOFError,
    LookupError,
    OSError,
    struct.error,
    SyntaxError,
    TypeError,
    ValueError,
    zlib.error,
)


def _number(value: Any) -> float | None:  # noqa: ANN401 (EXIF values come in any type)
    try:
        number = float(value)
    except (TypeError, ValueError, ZeroDivisionError):
        return None
    return number if math.isfinite(number) else None


def _text(value: Any) -> str:  # noqa: ANN401 (as above)
    return value.strip(" \0") if isinstance(value, str) else ""


def _read_exif(picture: Image.Image) -> _Exif:
    top = picture.getexif()
    inner = top.get_ifd(ExifTags.IFD.Exif)
    focal = _number(inner.get(ExifTags.Base.FocalLengthIn35mmFilm))
    if focal is not None and not PLAUSIBLE_FOCAL_35_MM[0] <= focal <= PLAUSIBLE_FOCAL_35_MM[1]:
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
    return _Exif(focal, size, zoom, " ".join(word for word in words if word), is_empty)


def _decode(path: Path, content: bytes, *, is_flat: bool = False) -> tuple[Image.Image, _Exif]:
    if is_heic(content):
        with _told_damaged(path):
            picture = read_heic(content, lambda w, h: _look_at_size(path, w, h, is_flat=is_flat))
            return picture, _read_exif(picture)
    mend = "give a JPEG, PNG or HEIC file as the phone made it"
    try:
        with warnings.catch_warnings():
            # The cap below is ours and says it in a sentence.
            warnings.simplefilter("ignore", Image.DecompressionBombWarning)
            picture = Image.open(io.BytesIO(content))
    except UnidentifiedImageError:
        raise PhotoError(f"{path.name} is not a picture", mend) from None
    except Image.DecompressionBombError:
        raise PhotoError(
            f"{path.name} has more pixels than can be measured at once", _FEWER_PIXELS
        ) from None
    except (OSError, ValueError):
        raise PhotoError(f"{path.name} cannot be opened as a picture", mend) from None
    _look_at_size(path, *picture.size, is_flat=is_flat)
    with _told_damaged(path):
        picture.load()
        exif = _read_exif(picture)
    return picture, exif


def _look_at_size(path: Path, width: int, height: int, *, is_flat: bool) -> None:
    """Refuse, before anything is decoded, what is too large, too small or too long."""
    if width * height > LARGEST_PIXELS:
        raise PhotoError(
            f"{path.name} has {width} x {height} pixels, more than can be measured at once",
            _FEWER_PIXELS,
        )
    if width * height < SMALLEST_PIXELS:
        raise PhotoError(
            f"{path.name} has only {width} x {height} pixels, too few to measure on",
            "give the photo as the phone made it, not a preview",
        )
    if not is_flat and max(width, height) > LONGEST_SHAPE * min(width, height):
        raise PhotoError(
            f"{path.name} is a panorama ({width} x {height} pixels), which has no single camera",
            "take one plain photo, or several plain photos along the board",
        )


@contextlib.contextmanager
def _told_damaged(path: Path) -> Iterator[None]:
    try:
        yield
    except _DAMAGED:
        raise PhotoError(
            f"{path.name} is damaged or only half there", "copy it from the phone again"
        ) from None


def _upright(picture: Image.Image) -> NDArray[np.uint8]:
    # HEIC carries its turn in its own box, already done by the decoder, and may repeat it in
    # EXIF: turning by EXIF as well would turn it twice.
    if picture.format != "HEIF":
        # In place: a copy of 50 megapixels is 200 MB.
        ImageOps.exif_transpose(picture, in_place=True)
    if picture.mode in ("RGBA", "LA", "PA"):
        picture = Image.alpha_composite(
            Image.new("RGBA", picture.size, "white"), picture.convert("RGBA")
        )
    if picture.mode.startswith("I;16") or picture.mode == "I":
        grey = np.asarray(picture, dtype=np.float64) / 257.0
        return np.repeat(np.clip(grey, 0, 255).astype(np.uint8)[..., None], 3, axis=2)
    return np.asarray(picture if picture.mode == "RGB" else picture.convert("RGB"), dtype=np.uint8)


def blur_share(pixels: NDArray[np.uint8]) -> float:
    """Return how little a picture changes when it is blurred once more: 0 sharp to 1 blurred.

    References
    ----------
    F. Crete and others, "The blur effect: perception and estimation with a new no-reference
    perceptual blur metric", SPIE 6492 (2007); here on the middle of the picture, the sharper of
    both directions.
    """
    height, width = pixels.shape[:2]
    rows = slice(max(0, height // 2 - 512), height // 2 + 512)
    columns = slice(max(0, width // 2 - 768), width // 2 + 768)
    grey = cv2.cvtColor(np.ascontiguousarray(pixels[rows, columns]), cv2.COLOR_RGB2GRAY)
    # Sensor noise is not sharpness. Fixed point: as exact as needed, and quick.
    sharp = cv2.GaussianBlur(grey.astype(np.uint16) * _FIXED_POINT, (0, 0), 0.8)
    shares = []
    for axis, window in ((1, (9, 1)), (0, (1, 9))):
        change = _change(sharp, axis)
        # What falls below zero is cut off there.
        lost = cv2.subtract(change, _change(cv2.blur(sharp, window), axis))
        total = cv2.sumElems(change)[0]
        shares.append(1.0 - cv2.sumElems(lost)[0] / total if total > 0 else 1.0)
    return min(shares)


def _change(values: cv2.typing.MatLike, axis: int) -> cv2.typing.MatLike:
    """Return how much neighbours along an axis differ."""
    if axis == 1:
        return cv2.absdiff(values[:, 1:], values[:, :-1])
    return cv2.absdiff(values[1:], values[:-1])


def _has_usual_shape(width: int, height: int) -> bool:
    ratio = max(width, height) / min(width, height)
    return any(abs(ratio / shape - 1) < 0.01 for shape in USUAL_SHAPES)


def _content(path: Path) -> bytes:
    try:
        too_large = path.stat().st_size > LARGEST_BYTES
        content = b"" if too_large else path.read_bytes()
    except OSError:
        raise PhotoError(f"{path.name} cannot be read", "name a photo that exists") from None
    if too_large:
        raise PhotoError(f"{path.name} is larger than 200 MB", "give a photo, not a film")
    return content


def read_flat_pixels(path: Path) -> NDArray[np.uint8]:
    """Return (H, W, 3) RGB of a picture that needs no camera: a flatbed scan, a line camera's.

    Raises
    ------
    PhotoError
        Not a picture, half a picture, too small or too large.
    """
    picture, _ = _decode(path, _content(path), is_flat=True)
    with _told_damaged(path):
        return _upright(picture)


def read_photo(path: Path) -> Photo:
    """Return a photo turned upright (once) and at full size.

    Parameters
    ----------
    path
        A JPEG, PNG, HEIC or other picture that Pillow reads.

    Returns
    -------
    Photo
        ``focal_px`` by the diagonal of the 35 mm equivalent (43.27 mm), None where EXIF has no
        plausible value or its sizes show that the picture was changed after it was taken.

    Raises
    ------
    PhotoError
        Not a picture, half a picture, too small, too large, or a panorama.
    """
    content = _content(path)
    picture, exif = _decode(path, content)
    with _told_damaged(path):
        pixels = _upright(picture)
    height, width = pixels.shape[:2]
    doubts: list[str] = []
    focal_px: float | None = None
    if exif.focal_35_mm is not None:
        focal_px = exif.focal_35_mm * math.hypot(width, height) / FULL_FRAME_DIAGONAL_MM
    is_original, is_cropped = True, False
    if exif.size_px is not None and sorted(exif.size_px) != sorted((width, height)):
        was = max(exif.size_px) / min(exif.size_px)
        now = max(width, height) / min(width, height)
        is_original, is_cropped, focal_px = False, abs(was / now - 1) > 0.01, None
        what = "cropped" if is_cropped else "resized"
        doubts.append(
            f"{path.name} was {what} after it was taken (EXIF says {exif.size_px[0]} x "
            f"{exif.size_px[1]}): give the photo as the phone made it"
        )
    elif not _has_usual_shape(width, height):
        is_original, is_cropped, focal_px = False, True, None
        doubts.append(
            f"{path.name} seems cropped ({width} x {height} pixels is no camera's shape): "
            "give the photo as the phone made it"
        )
    elif exif.zoom > 1.01:
        is_original = False
        doubts.append(f"{path.name} was taken with digital zoom: go nearer instead")
    elif exif.is_empty:
        is_original = False
        small = width * height < SMALLEST_ORIGINAL_PIXELS
        reason = " and is small, as messengers make their copies" if small else ""
        doubts.append(f"{path.name} tells nothing of its camera{reason}: give the original photo")
    if blur_share(pixels) > BLURRED:
        doubts.append(f"{path.name} is not sharp: hold the phone still, tap on the board to focus")
    return Photo(
        name=path.name,
        pixels=pixels,
        sha256=hashlib.sha256(content).hexdigest(),
        focal_px=focal_px,
        camera=exif.camera,
        is_original=is_original,
        doubts=tuple(doubts),
        is_cropped=is_cropped,
    )
