"""Long work on a lot in a process of its own: what it loads does not stay in the page's memory.

A process costs a tap nothing, and where it breaks down the page goes on.
"""

from __future__ import annotations

from multiprocessing import get_context
from typing import TYPE_CHECKING, Any

from scanner.app.lot.open_lot import open_lot
from scanner.errors import ScannerError
from ui.desks import begin_worker

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence
    from multiprocessing.connection import Connection
    from pathlib import Path

    from scanner.app.lot.add_boards import Outcome
    from scanner.app.lot.open_lot import Lot
    from ui.desks import Progress
    from ui.uploads import BoardUploads, TypedFacts, Upload


def work_apart(
    errand: Callable[..., Any],
    path: Path,
    *given: object,
    progress: Progress,
) -> Any:  # noqa: ANN401 (whatever the errand returns)
    """Run ``errand(lot, *given, progress)`` on the lot in another process; return what it returns.

    Raises
    ------
    ScannerError
        As the errand raised it.
    RuntimeError
        The process broke down.
    """
    # Started anew rather than forked: threads do not survive a fork.
    context = get_context("spawn")
    ours, theirs = context.Pipe(duplex=False)
    worker = context.Process(target=_work, args=(errand, path, given, theirs), daemon=True)
    worker.start()
    theirs.close()
    try:
        while True:
            kind, told = ours.recv()
            if kind == "step":
                progress(*told)
            elif kind == "problem":
                raise told
            else:
                return told
    except EOFError:
        raise RuntimeError("the process that did it ended too early") from None
    finally:
        ours.close()
        worker.join()


def _work(
    errand: Callable[..., object], path: Path, given: tuple[object, ...], told: Connection
) -> None:
    """Do the errand and tell how far it is; runs in the other process."""
    begin_worker()
    try:
        lot = open_lot(path, create=False)
        try:
            done = errand(lot, *given, lambda step, share: told.send(("step", (step, share))))
        finally:
            lot.close()
    except ScannerError as problem:
        told.send(("problem", problem))
    else:
        told.send(("done", done))


def add_uploads(
    lot: Lot,
    uploads: Sequence[BoardUploads],
    facts: TypedFacts,
    progress: Progress,
) -> tuple[Outcome, ...]:
    """Scan uploaded photos, board by board; return what became of each."""
    from scanner.app.lot.add_board import UploadedPhoto
    from scanner.app.lot.add_boards import BoardPhotos, add_boards

    def ready(photos: tuple[Upload, ...]) -> tuple[UploadedPhoto, ...]:
        return tuple(UploadedPhoto(photo.name, photo.content) for photo in photos)

    boards = [
        BoardPhotos(
            ready(one.face_1), ready(one.face_2), one.corners_1 or None, one.corners_2 or None
        )
        for one in uploads
    ]
    return add_boards(lot, boards, facts.options(), progress)
