"""Pictures that take seconds to draw and never change, kept on disk by the code that draws them."""

import hashlib
import inspect
import os
from collections.abc import Callable
from pathlib import Path

import numpy as np

from tests.render.noise import F32


def kept(name: str, seed: int, draw: Callable[[int], F32], *also: Callable[..., object]) -> F32:
    """Return ``draw(seed)``, read back where the same code (``also`` in it) drew it before."""
    drawn_by = "".join(inspect.getsource(f) for f in (draw, *also))
    mark = hashlib.sha256(drawn_by.encode()).hexdigest()[:12]
    folder = Path(__file__).resolve().parents[2] / ".cache" / "render"
    path = folder / f"{name}-{seed}-{mark}.npy"
    if not path.exists():
        folder.mkdir(parents=True, exist_ok=True)
        draft = path.with_suffix(f".{os.getpid()}.npy")
        np.save(draft, draw(seed))
        draft.replace(path)
    picture: F32 = np.load(path)
    picture.setflags(write=False)
    return picture
