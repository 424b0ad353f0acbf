"""Pictures as bytes for files."""

from __future__ import annotations

import io
from typing import TYPE_CHECKING

from PIL import Image

from scanner.errors import FileError

if TYPE_CHECKING:
    from pathlib import Path

    import numpy as np
    from numpy.typing import NDArray

# A face of 8 ft at 0.5 mm per pixel is about 0.7 MB at this quality, without visible blocks.
_QUALITY = 88


def jpeg_bytes(pixels: NDArray[np.uint8]) -> bytes:
    """Return (H, W, 3) uint8 RGB as JPEG."""
    out = io.BytesIO()
    Image.fromarray(pixels).save(out, "JPEG", quality=_QUALITY, subsampling=0)
    return out.getvalue()


def png_bytes(picture: Image.Image) -> bytes:
    """Return a picture as PNG."""
    out = io.BytesIO()
    picture.save(out, "PNG", optimize=False)
    return out.getvalue()


def open_picture(path: Path, coarser: int = 1) -> Image.Image:
    """Return the flat picture in a file, as RGB (see `read_picture`).

    Raises
    ------
    FileError
        It cannot be read, or is none or only half of one.
    """
    try:
        return read_picture(path.read_bytes(), coarser)
    except (OSError, SyntaxError, ValueError) as problem:
        raise FileError(
            f"{path}, a board's flat picture, is damaged or none",
            "copy or scan it again, or set its picture in board.json to null",
        ) from problem


def read_picture(content: bytes, coarser: int = 1) -> Image.Image:
    """Return a picture from a file's bytes, as RGB.

    Parameters
    ----------
    coarser
        1, 2, 4 or 8: each pixel stands for so many across and down. JPEG is read thus at a
        fraction of the time (a block's first coefficients alone, ITU-T T.81).
    """
    with Image.open(io.BytesIO(content)) as picture:
        sides = picture.size
        picture.draft("RGB", (max(1, sides[0] // coarser), max(1, sides[1] // coarser)))
        # What is no JPEG comes as it is, and a very narrow one less coarse than was asked.
        left = coarser // round(sides[0] / picture.width)
        opened = picture.convert("RGB")
    return opened.reduce(left) if left > 1 else opened
