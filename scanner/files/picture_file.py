"""Pictures as bytes for files."""

from __future__ import annotations

import io
from typing import TYPE_CHECKING

from PIL import Image

if TYPE_CHECKING:
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
