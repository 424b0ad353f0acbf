"""Compare a picture with the expected one in ``tests/golden``, with a tolerance.

``make golden`` (BOTHFACES_GOLDEN=write) draws the expected pictures anew; look at the diff.
"""

import os
from pathlib import Path

import numpy as np
from PIL import Image, ImageFilter

FOLDER = Path(__file__).parent.parent / "golden"
# Type and JPEG come out a little differently by platform: after a slight blur that is a few grey
# levels on a few pixels, while a moved line or a missing word is many levels on many.
TOLERATED_SHARE = 0.002
LEVELS = 40


def differing_share(a: Image.Image, b: Image.Image) -> float:
    """Return the share of pixels that differ clearly after a slight blur; 1 if sizes differ."""
    if a.size != b.size:
        return 1.0
    soft = [
        np.asarray(x.convert("RGB").filter(ImageFilter.GaussianBlur(1)), np.int16) for x in (a, b)
    ]
    return float((np.abs(soft[0] - soft[1]).max(axis=2) > LEVELS).mean())


def assert_like_golden(picture: Image.Image, name: str) -> None:
    """Fail if the picture is not the expected one."""
    path = FOLDER / f"{name}.png"
    if os.environ.get("BOTHFACES_GOLDEN") == "write":
        FOLDER.mkdir(exist_ok=True)
        # Few colours keep the file small; what they lose is far below LEVELS.
        picture.convert("RGB").quantize(96, dither=Image.Dither.NONE).save(path, optimize=True)
    assert path.exists(), f"no expected picture {path.name}: run make golden and look at it"
    share = differing_share(picture, Image.open(path))
    if share > TOLERATED_SHARE:
        picture.save(path.with_suffix(".got.png"))
    assert share <= TOLERATED_SHARE, f"{share:.2%} of {name} differs; see {path.stem}.got.png"
