"""The errand "open the sample": scan the sample set into a lot, where the demo has not run yet."""

from __future__ import annotations

import tempfile
from pathlib import Path
from typing import TYPE_CHECKING

from scanner.app.demo import sample_folder, sample_request
from scanner.app.lot.open_lot import give_sample_parts, take_board
from scanner.app.scanning.scan_board import scan_board
from scanner.files.sample_set import read_sample_set

if TYPE_CHECKING:
    from collections.abc import Callable

    from scanner.storage.lots import Lot

    Progress = Callable[[str, float], None]


def scan_sample(lot: Lot, progress: Progress, samples: Path | None = None) -> None:
    """Scan each sample board into the lot, and take the sample parts list.

    Boards that the lot has already are left as they are, so that a broken-off run goes on.
    """
    folder = samples or sample_folder()
    boards = read_sample_set(folder)
    give_sample_parts(lot, folder)
    for number, sample in enumerate(boards):
        if any(board.id == sample.id for board in lot.boards()):
            continue

        def report(step: str, share: float, done: int = number, name: str = sample.id) -> None:
            progress(f"{name}, {step}", (done + share) / len(boards))

        with tempfile.TemporaryDirectory(prefix="bothfaces-") as place:
            result = scan_board(sample_request(sample), Path(place), report)
            take_board(lot, result.board, Path(place), {})
    progress("done", 1.0)
