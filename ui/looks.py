"""First looks at uploaded photos, one after the other in the worker process."""

from __future__ import annotations

import threading
from collections import OrderedDict
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Callable
    from concurrent.futures import Future

    from streamlit.runtime.uploaded_file_manager import UploadedFile

    from scanner.app.lot.propose_pairs import FaceReading, PhotoLook

# Photos of a few lots; a look is small.
_KEPT = 400
_BROKE_OFF = "The first look broke off: {name} may do all the same."


class Looks:
    """What is known of each uploaded photo so far, by its upload and the rule that was named."""

    def __init__(self, submit: Callable[..., Future[Any]]) -> None:
        """Look by ``submit``, which gives work to a process of its own."""
        self._submit = submit
        self._turn = threading.RLock()
        self._looks: OrderedDict[tuple[str, str], PhotoLook] = OrderedDict()
        self._outlines: OrderedDict[tuple[str, str], FaceReading | None] = OrderedDict()
        self._waiting: OrderedDict[tuple[str, str, bool], UploadedFile] = OrderedDict()
        self._thread: threading.Thread | None = None

    @property
    def is_looking(self) -> bool:
        """Whether photos are being looked at."""
        return self._thread is not None

    @property
    def done(self) -> int:
        """How many looks were taken; it grows with each."""
        return len(self._looks) + len(self._outlines)

    def look_of(self, photo: UploadedFile, rule: str) -> PhotoLook | None:
        """Return what is known of a photo, None while nobody has looked; then it is looked at."""
        with self._turn:
            key = (photo.file_id, rule)
            if key not in self._looks:
                self._want((*key, False), photo)
            return self._looks.get(key)

    def outline_of(self, photo: UploadedFile, rule: str) -> FaceReading | None:
        """Return the outline on a photo, None where it is not known (yet)."""
        with self._turn:
            key = (photo.file_id, rule)
            if key not in self._outlines:
                self._want((*key, True), photo)
            return self._outlines.get(key)

    def _want(self, key: tuple[str, str, bool], photo: UploadedFile) -> None:
        self._waiting.setdefault(key, photo)
        if self._thread is None:
            self._thread = threading.Thread(target=self._work, daemon=True)
            self._thread.start()

    def _work(self) -> None:
        while True:
            with self._turn:
                if not self._waiting:
                    self._thread = None
                    return
                # All first looks before the outlines, which take longer.
                key = min(self._waiting, key=lambda one: one[2])
                photo = self._waiting[key]
            self._take(key, photo)

    def _take(self, key: tuple[str, str, bool], photo: UploadedFile) -> None:
        from scanner.app.lot.propose_pairs import PhotoLook, first_outline, look_at_photo

        file_id, rule, is_outline = key
        # One at a time, so that placing parts in the same worker need not wait for all.
        try:
            if is_outline:
                work = self._submit(first_outline, photo.getvalue(), photo.name, rule)
                outline = work.result()
            else:
                asked = self._submit(look_at_photo, photo.getvalue(), photo.name, rule)
                look = asked.result()
        except Exception:
            # A look is a help: that it broke off must not keep anybody from scanning.
            outline = None
            look = PhotoLook(None, (), _BROKE_OFF.format(name=photo.name), True, ())
        with self._turn:
            self._waiting.pop(key, None)
            if is_outline:
                self._outlines[file_id, rule] = outline
            else:
                self._looks[file_id, rule] = look
            for kept in (self._looks, self._outlines):
                while len(kept) > _KEPT:
                    kept.popitem(last=False)
