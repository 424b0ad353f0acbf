"""Rendered photographs kept on disk, by the hash of their recipes and of this renderer."""

import hashlib
import os
from functools import lru_cache
from pathlib import Path

from tests.render.photo import render_photo, save_photo
from tests.render.specs import BoardSpec, PhotoSpec, spec_hash
from tests.render.truth import Truth

FOLDER = Path(__file__).resolve().parents[2] / ".cache" / "render"


@lru_cache(maxsize=1)
def _code_hash() -> str:
    others = ("test_", "samples", "speed")  # what draws no picture changes no picture
    modules = (p for p in Path(__file__).parent.glob("*.py") if not p.name.startswith(others))
    text = b"".join(p.read_bytes() for p in sorted(modules))
    return hashlib.sha256(text).hexdigest()[:12]


def cached_photo(board: BoardSpec, photo: PhotoSpec) -> tuple[Path, Truth]:
    """Return the JPEG's path and its truth, rendering only what was never rendered before."""
    name = f"{spec_hash(board, photo)[:20]}-{_code_hash()}"
    path, notes = FOLDER / f"{name}.jpg", FOLDER / f"{name}.json"
    if not (path.exists() and notes.exists()):
        FOLDER.mkdir(parents=True, exist_ok=True)
        rendered = render_photo(board, photo)
        draft = FOLDER / f"{name}.{os.getpid()}.jpg"
        save_photo(rendered, draft)
        draft.replace(path)
        draft_notes = notes.with_suffix(f".{os.getpid()}.json")
        draft_notes.write_text(rendered.truth.to_json(), encoding="utf-8")
        draft_notes.replace(notes)
    return path, Truth.from_json(notes.read_text(encoding="utf-8"))
