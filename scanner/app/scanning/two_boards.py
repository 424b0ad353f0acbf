"""The picture of why two faces are not taken for one board's, and where it is kept."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from scanner.board.apart import apart
from scanner.board.join import lay_over
from scanner.files.picture_file import jpeg_bytes
from scanner.files.write import write_files
from scanner.sheets.apart_picture import ShownFace, draw_apart

if TYPE_CHECKING:
    from pathlib import Path

    from scanner.errors import ScannerError
    from scanner.vision.photos.picture import FaceScan


def picture_of_why(
    first: FaceScan, second: FaceScan, thickness_mm: float, problem: ScannerError
) -> bytes:
    """Return both faces laid over each other with what disagrees marked, JPEG.

    Parameters
    ----------
    first, second
        The scans of both faces.
    thickness_mm
        Of the board.
    problem
        The refusal, whose words stand over the picture.
    """
    from scanner.vision.turn_over import seen_through

    laid = lay_over(first.reading, second.reading, thickness_mm)
    _, _, *extent = second.reading.outline.bounds
    pixels, origin = seen_through(
        second.picture, (extent[0], extent[1]), laid.turned, laid.turn_rad, laid.shift_mm
    )
    faces = (
        ShownFace(
            first.photos[0],
            first.picture.pixels,
            first.picture.origin_mm,
            first.picture.mm_per_px,
            first.reading.wood,
        ),
        ShownFace(second.photos[0], pixels, origin, second.picture.mm_per_px, laid.seen.wood),
    )
    found = apart(first.reading, laid.seen, thickness_mm)
    drawn = draw_apart(faces, found, f"{problem.what}.")
    return jpeg_bytes(np.asarray(drawn.convert("RGB"), dtype=np.uint8))


def keep_why(problem: ScannerError, folder: Path, board_id: str) -> ScannerError:
    """Write the picture of why into the folder, and return the problem with its place named."""
    if problem.picture is None:
        return problem
    (path,) = write_files(folder, {f"{board_id}-two-boards.jpg": problem.picture})
    return type(problem)(problem.what, f"{problem.mend} ({path} shows what disagrees)")
