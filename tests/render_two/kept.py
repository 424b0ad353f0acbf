"""Photographs of the second renderer, kept on disk for the next time."""

import hashlib
import os
import pickle
from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np

from tests.render_two.photo import Photo, photo_of

FOLDER = Path(__file__).resolve().parents[2] / ".cache" / "render_two"


def kept_photo(seed: int, face: int) -> Photo:
    """Return the photograph of a face, rendered unless it was before by the same code."""
    path = FOLDER / f"{seed}-{face}-{_code()}.pickle"
    if not path.exists():
        FOLDER.mkdir(parents=True, exist_ok=True)
        made = photo_of(seed, face)
        packed = cv2.imencode(".png", made.pixels[..., ::-1])[1]
        draft = path.with_suffix(f".{os.getpid()}")
        draft.write_bytes(pickle.dumps((packed, replace(made, pixels=np.zeros(0)))))
        draft.replace(path)
    # Only what this module wrote is read here.
    packed, bare = pickle.loads(path.read_bytes())
    pixels = np.ascontiguousarray(cv2.imdecode(packed, cv2.IMREAD_COLOR)[..., ::-1])
    return replace(bare, pixels=pixels)


def _code() -> str:
    text = b"".join(p.read_bytes() for p in sorted(Path(__file__).parent.glob("*.py")))
    return hashlib.sha256(text).hexdigest()[:16]
