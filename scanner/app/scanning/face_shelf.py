"""Scanned faces that wait for their other side: their pictures on disk, so memory stays small."""

from __future__ import annotations

import pickle
import tempfile
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from scanner.board.reading import FaceReading
    from scanner.vision.photos.picture import FaceScan


@dataclass(frozen=True, slots=True)
class WaitingFace:
    """A face on the shelf: what pairing asks of it, and where the rest lies."""

    place: int
    photos: tuple[str, ...]
    card: tuple[int, int] | None
    reading: FaceReading


@dataclass
class FaceShelf:
    """Keeps faces in a temporary folder of its own; use it in a ``with`` block."""

    faces: dict[int, WaitingFace] = field(default_factory=dict)
    _folder: tempfile.TemporaryDirectory[str] = field(
        default_factory=lambda: tempfile.TemporaryDirectory(prefix="bothfaces-")
    )

    def __enter__(self) -> FaceShelf:
        return self

    def __exit__(self, *problem: object) -> None:
        self._folder.cleanup()

    def put(self, place: int, scan: FaceScan) -> WaitingFace:
        """Keep a face until its other side is there; ``place``: its number among all faces."""
        # Only ever read back by the run that wrote it.
        self._file(place).write_bytes(pickle.dumps(scan))
        face = WaitingFace(place, scan.photos, scan.card, scan.reading)
        self.faces[place] = face
        return face

    def take(self, place: int) -> FaceScan:
        """Give a face back and forget it."""
        del self.faces[place]
        kept = self._file(place)
        scan: FaceScan = pickle.loads(kept.read_bytes())
        kept.unlink()
        return scan

    def _file(self, place: int) -> Path:
        return Path(self._folder.name) / f"{place}.face"
