"""One board from what was read off its faces, and the files that hold it."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from scanner.app.scanning.board_looks import looks_of_scans
from scanner.app.scanning.saw_mark_notes import saw_mark_note
from scanner.app.scanning.two_boards import picture_of_why
from scanner.board.board import Board, Face
from scanner.board.form import Warp
from scanner.board.join import join_faces
from scanner.errors import BoardError
from scanner.files.board_file import board_from_text, board_json
from scanner.files.picture_file import jpeg_bytes, png_bytes
from scanner.files.write import refuse_given, write_files
from scanner.sheets.found_picture import draw_found

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    import numpy as np
    from numpy.typing import NDArray

    from scanner.app.scanning.scan_request import ScanRequest
    from scanner.board.board import Turned
    from scanner.vision.photos.picture import FaceScan


def save_board(
    request: ScanRequest, scans: Mapping[int, FaceScan], folder: Path, notes: tuple[str, ...] = ()
) -> Board:
    """Join the faces and write board.json and the pictures, all or none; return the board.

    Parameters
    ----------
    scans
        By face; face 2 may be missing.
    notes
        What the user should know besides what the scans say.

    Raises
    ------
    BoardError
        The faces cannot be of one board; its ``picture`` shows why.
    FileError
        The folder cannot be written into.
    """
    from scanner.vision.one_length import with_one_length

    apart: tuple[str, ...] = ()
    if 2 in scans:
        one, two, apart = with_one_length(scans[1], scans[2])
        scans = {1: one, 2: two}
    board, pictures = _board(request, scans)
    board = replace(board, notes=(*board.notes, *apart, *notes))
    text = board_json(board)
    # What goes on is what the file holds: its hundredths, so that layouts judge the same board.
    board = board_from_text(text, f"{board.id}/board.json")
    files = {"board.json": text.encode()}
    for number, scan in scans.items():
        if scan.raking is not None:
            # As the person saw it: face 2 is not seen through the board here.
            files[f"{board.id}-face{number}-raking.jpg"] = jpeg_bytes(scan.raking.pixels)
    for number, pixels in pictures.items():
        files[f"{board.id}-face{number}.jpg"] = jpeg_bytes(pixels)
        found = draw_found(board, number, pixels)
        files[f"{board.id}-face{number}-found.png"] = png_bytes(found)
    photos = (*request.photos_1, *request.photos_2, *request.raking.values())
    for name in files:
        path = folder / name
        refuse_given(path, *photos, ending=path.suffix)
    write_files(folder, files)
    return board


def _board(
    request: ScanRequest, scans: Mapping[int, FaceScan]
) -> tuple[Board, dict[int, NDArray[np.uint8]]]:
    """Return the board, and its flat pictures as the files hold them."""
    from scanner.vision.turn_over import seen_through

    first = scans[1]
    reading = first.reading
    notes = [f"face 1: {doubt}" for doubt in first.doubts]
    faces = {1: _face(request.id, 1, first)}
    pictures = {1: first.picture.pixels}
    turned: Turned = "sideways"
    sapwood = {1: reading.sapwood, 2: ()}
    if first.saw_marks is not None:
        notes.append(saw_mark_note(1, first.saw_marks))
    if 2 in scans:
        second = scans[2]
        names = (first.photos[0], second.photos[0])
        has_cards = first.card is not None and second.card == (first.card[0], 3 - first.card[1])
        thickness_mm = request.thickness.value_mm
        try:
            joined = join_faces(reading, second.reading, thickness_mm, names, has_cards=has_cards)
        except BoardError as problem:
            problem.picture = picture_of_why(first, second, thickness_mm, problem)
            raise
        turned, flaws = joined.turned, joined.flaws
        sapwood[2] = joined.sapwood_2
        _, _, *extent = second.reading.outline.bounds
        pixels, origin = seen_through(
            second.picture, (extent[0], extent[1]), turned, joined.turn_rad, joined.shift_mm
        )
        faces[2] = replace(
            _face(request.id, 2, second), outline=joined.outline_2, picture_origin=origin
        )
        pictures[2] = pixels
        notes += [f"face 2: {doubt}" for doubt in second.doubts]
        if second.saw_marks is not None:
            notes.append(
                saw_mark_note(
                    2,
                    second.saw_marks,
                    lambda x_mm: (
                        joined.shift_mm[0] + (x_mm if turned == "sideways" else extent[0] - x_mm)
                    ),
                )
            )
        notes += list(joined.doubts)
    else:
        flaws = reading.flaws
        faces[2] = Face(outline=reading.outline, u_scale=first.u_scale)
        notes.append("face 2 was not photographed: nothing is known of it")
    warp = request.warp or Warp()
    board = Board(
        id=request.id,
        species=request.species,
        thickness=request.thickness,
        length=reading.length,
        widths=reading.widths,
        faces=faces,
        flaws=flaws,
        sapwood=sapwood if any(sapwood.values()) else None,
        outline_u_mm=max(scan.reading.outline_u_mm for scan in scans.values()),
        quality="rough" if any(scan.quality == "rough" for scan in scans.values()) else "good",
        turned=turned,
        warp=replace(warp, crook_mm=round(reading.crook_mm, 2)),
        notes=tuple(dict.fromkeys(notes)),
    )
    return replace(board, looks=looks_of_scans(board, scans, pictures)), pictures


def _face(board_id: str, number: int, scan: FaceScan) -> Face:
    return Face(
        outline=scan.reading.outline,
        photos=scan.photos,
        picture=f"{board_id}-face{number}.jpg",
        mm_per_px=scan.picture.mm_per_px,
        picture_origin=scan.picture.origin_mm,
        rule=scan.rule,
        u_scale=scan.u_scale,
    )
