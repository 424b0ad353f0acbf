"""Pictures and tables that never change, kept on disk by the code that draws them.

Every process looks at one copy of a file in memory, and of that only at what it asks for.
"""

import hashlib
import inspect
import os
from collections.abc import Callable
from functools import lru_cache
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

F32 = NDArray[np.float32]
_source_of = lru_cache(inspect.getsource)  # it reads the whole file each time


def kept(name: str, seed: int, draw: Callable[[int], F32], *also: Callable[..., object]) -> F32:
    """Return ``draw(seed)``, read-only; the same code (``also`` in it) draws it only once."""
    drawn_by = "".join(_source_of(f) for f in (draw, *also))
    mark = hashlib.sha256(drawn_by.encode()).hexdigest()[:12]
    folder = Path(__file__).resolve().parents[2] / ".cache" / "render"
    path = folder / f"{name}-{seed}-{mark}.npy"
    if not path.exists():
        folder.mkdir(parents=True, exist_ok=True)
        draft = path.with_suffix(f".{os.getpid()}.npy")
        np.save(draft, draw(seed))
        draft.replace(path)
    return np.asarray(np.load(path, mmap_mode="r"))
