"""Open a photo upright, refuse what is too large or cannot be measured."""

from __future__ import annotations

import contextlib
import hashlib
import io
import struct
import warnings
import zlib
from functools import partial
from typing import TYPE_CHECKING

import cv2
import numpy as np
from PIL import ExifTags, Image, UnidentifiedImageError

from scanner.errors import PhotoError, UnfitPhotoError
from scanner.vision.photos.blur import BLURRED, blur_share
from scanner.vision.photos.exif import Exif, history_of, read_exif
from scanner.vision.photos.heic import is_heic, read_heic
from scanner.vision.photos.picture import Photo

# Damaged EXIF is read as far as it goes; Pillow's remarks on it are no sentence for the user.
warnings.filterwarnings("ignore", category=UserWarning, module=r"PIL\.TiffImagePlugin")

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

    from numpy.typing import NDArray

# What is larger would fill a small computer's memory (a choice; most phones stay under 60 MB).
_LARGEST_BYTES = 200_000_000
_LARGEST_PIXELS = 120_000_000
_FEWER_PIXELS = "give a photo of at most 120 megapixels"
# With fewer, some 450 by 340, a board of 2 m is told no nearer than 4 mm a pixel.
_SMALLEST_PIXELS = 150_000
# Longer ones are stitched: a panorama has no single camera to fit. A picture of 18:9 is let pass
# here and then told to be cropped.
_LONGEST_SHAPE = 2.05
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
# How a picture is turned upright, by its EXIF orientation.
_TURNS: dict[int, tuple[Callable[[cv2.typing.MatLike], cv2.typing.MatLike], ...]] = {
    2: (partial(cv2.flip, flipCode=1),),
    3: (partial(cv2.rotate, rotateCode=cv2.ROTATE_180),),
    4: (partial(cv2.flip, flipCode=0),),
    5: (cv2.transpose,),
    6: (partial(cv2.rotate, rotateCode=cv2.ROTATE_90_CLOCKWISE),),
    7: (cv2.transpose, partial(cv2.rotate, rotateCode=cv2.ROTATE_180)),
    8: (partial(cv2.rotate, rotateCode=cv2.ROTATE_90_COUNTERCLOCKWISE),),
}


def _decode(path: Path, content: bytes, *, is_flat: bool = False) -> tuple[Image.Image, Exif]:
    if is_heic(content):
        with _told_damaged(path):
            picture = read_heic(content, lambda w, h: _look_at_size(path, w, h, is_flat=is_flat))
            return picture, read_exif(picture)
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
        exif = read_exif(picture)
    return picture, exif


def _look_at_size(path: Path, width: int, height: int, *, is_flat: bool) -> None:
    """Refuse, before anything is decoded, what is too large, too small or too long."""
    if width * height > _LARGEST_PIXELS:
        raise PhotoError(
            f"{path.name} has {width} x {height} pixels, more than can be measured at once",
            _FEWER_PIXELS,
        )
    if width * height < _SMALLEST_PIXELS:
        raise UnfitPhotoError(
            f"{path.name} has only {width} x {height} pixels, too few to measure on",
            "give the photo as the phone made it, not a preview",
        )
    if not is_flat and max(width, height) > _LONGEST_SHAPE * min(width, height):
        raise UnfitPhotoError(
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
    way = 1 if picture.format == "HEIF" else picture.getexif().get(ExifTags.Base.Orientation, 1)
    pixels = _rgb(picture)
    # Pillow's own turn takes three times as long.
    for turn in _TURNS.get(way, ()):
        pixels = np.asarray(turn(pixels), dtype=np.uint8)
    return pixels


def _rgb(picture: Image.Image) -> NDArray[np.uint8]:
    if picture.mode in ("RGBA", "LA", "PA"):
        picture = Image.alpha_composite(
            Image.new("RGBA", picture.size, "white"), picture.convert("RGBA")
        )
    if picture.mode.startswith("I;16") or picture.mode == "I":
        # Pillow opens 16-bit PNG as "I" too; a TIFF of true 32 bits comes out white, so not sharp.
        grey = np.asarray(picture, dtype=np.float64) / 257.0
        return np.repeat(np.clip(grey, 0, 255).astype(np.uint8)[..., None], 3, axis=2)
    return np.asarray(picture if picture.mode == "RGB" else picture.convert("RGB"), dtype=np.uint8)


def _content(path: Path) -> bytes:
    try:
        too_large = path.stat().st_size > _LARGEST_BYTES
        content = b"" if too_large else path.read_bytes()
    except IsADirectoryError:
        raise PhotoError(f"{path} is a folder", "name a photo in it") from None
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
    history = history_of(exif, width, height)
    doubts = [f"{path.name} {history.doubt}"] if history.doubt else []
    if blur_share(pixels) > BLURRED:
        doubts.append(f"{path.name} is not sharp: hold the phone still, tap on the board to focus")
    return Photo(
        name=path.name,
        pixels=pixels,
        sha256=hashlib.sha256(content).hexdigest(),
        focal_px=history.focal_px,
        camera=exif.camera,
        is_original=history.is_original,
        doubts=tuple(doubts),
        is_cropped=history.is_cropped,
    )
