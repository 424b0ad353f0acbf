"""The errand "find a piece again": a photo of a cut or planed piece to its place on its board."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING

import numpy as np

from scanner.app.later.piece_in_lot import record_piece
from scanner.app.later.piece_on_board import measured, with_piece
from scanner.app.later.piece_wood import wood_of_files, wood_of_lot
from scanner.errors import BoardError, SettingsError
from scanner.files.board_file import board_json
from scanner.files.json_text import json_text, rounded
from scanner.files.picture_file import png_bytes
from scanner.files.write import refuse_unwritable, write_files

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence
    from pathlib import Path

    from scanner.app.later.piece_search import PieceSearch
    from scanner.app.scanning.scan_request import ScanRequest
    from scanner.board.board import Board
    from scanner.vision.second_look.find_again import PiecePlace


@dataclass(frozen=True, slots=True)
class PieceAnswer:
    """What became of a piece: the places that fit, the one taken, what to do next."""

    places: tuple[PiecePlace, ...]
    taken: PiecePlace | None
    is_sure: bool
    written: tuple[Path, ...]
    lines: tuple[str, ...]


def find_piece(
    request: ScanRequest,
    boards: Sequence[Path],
    folder: Path,
    *,
    layout: Path | None = None,
    lot: Path | None = None,
    take: int | None = None,
    is_confirmed: bool = False,
) -> PieceAnswer:
    """Find a piece on its board and write ``piece.json`` and a picture to nod at.

    Parameters
    ----------
    request
        One photo of the piece beside strip or rule (``photos_1``), and its thickness.
    boards
        board.json of every board that it may come from.
    layout
        layout.json whose crosscuts made the piece: then only its pieces are looked at.
    lot
        Lot file instead of boards and layout; with ``is_confirmed`` its board is changed by one
        action that undo takes back, and the page lays the parts out again.
    take
        Which of the listed places the person says it is, from 1.
    is_confirmed
        The person looked at the picture: the board is written anew, flaws of this face as seen now.

    Raises
    ------
    ScannerError
        No scale, no piece, no board with a picture, or an answer that is not there.
    """
    from scanner.app.later.piece_search import search_piece

    if lot is not None and (boards or layout is not None):
        raise SettingsError(
            "--lot brings its own boards and layout", "leave out the board.json files and --layout"
        )
    refuse_unwritable(folder)
    wood_of = wood_of_lot(lot) if lot is not None else wood_of_files(boards, layout)
    if not wood_of.has_pictures:
        raise BoardError("no board given has a flat picture", "scan the boards from photos first")
    search = search_piece(request, wood_of)
    taken = _taken(search, take)
    files = {"piece.json": json_text(_record(search, taken, request)).encode()}
    if taken is not None:
        files["piece-found.png"] = png_bytes(search.picture_at(taken))
        changed = partial(
            with_piece,
            place=taken,
            flaws=search.flaws,
            thickness=measured(request.thickness),
            lab=search.lab,
        )
        if is_confirmed and lot is not None:
            _record_in_lot(lot, taken, changed)
        elif is_confirmed:
            board = wood_of.board(taken.board)
            files[f"{board.id}/board.json"] = board_json(changed(board)).encode()
    return PieceAnswer(
        places=search.places,
        taken=taken,
        is_sure=search.found.is_sure,
        written=write_files(folder, files),
        lines=_lines(search, taken, layout, lot, is_confirmed=is_confirmed),
    )


def _record_in_lot(path: Path, place: PiecePlace, change: Callable[[Board], Board]) -> None:
    """Change the lot's board by one action of its journal."""
    from scanner.storage.lots import open_lot

    lot = open_lot(path, create=False)
    try:
        record_piece(lot, place, change)
    finally:
        lot.close()


def _taken(search: PieceSearch, take: int | None) -> PiecePlace | None:
    places = search.places
    if take is None:
        return places[0] if search.found.is_sure else None
    if not 1 <= take <= len(places):
        raise SettingsError(
            f"--take {take}: {len(places)} places are listed", "give the number of one of them"
        )
    return places[take - 1]


def _record(
    search: PieceSearch, taken: PiecePlace | None, request: ScanRequest
) -> Mapping[str, object]:
    red, green, blue = (round(float(c)) for c in np.median(search.pixels[search.wood], axis=0))
    return {
        "format": "piece",
        "version": 1,
        "photo": request.photos_1[0].name,
        "sure": search.found.is_sure,
        "gap": rounded(search.found.gap),
        "taken": None if taken is None else _place_record(taken),
        "places": [_place_record(place) for place in search.places],
        "thickness": {"value": request.thickness.value_mm, "u": request.thickness.u_mm},
        "colour": f"#{red:02x}{green:02x}{blue:02x}",
        "lab": None if search.lab is None else [rounded(value) for value in search.lab],
        "flaws": len(search.flaws),
    }


def _place_record(place: PiecePlace) -> dict[str, object]:
    return {
        "board": place.board,
        "face": place.face,
        "x": rounded(place.x_mm),
        "y": rounded(place.y_mm),
        "length": rounded(place.length_mm),
        "width": rounded(place.width_mm),
        "x_u": rounded(place.along_u_mm),
        "turned": place.is_turned,
        "piece": place.piece or None,
        "score": rounded(place.score),
    }


def _lines(
    search: PieceSearch,
    taken: PiecePlace | None,
    layout: Path | None,
    lot: Path | None,
    *,
    is_confirmed: bool,
) -> tuple[str, ...]:
    if not search.places:
        return ("the piece fits nowhere on these boards: is its board among them?",)
    listed = [
        f"  {n}. {place.board}{f', piece {place.piece}' if place.piece else ''}, face {place.face},"
        f" from {place.x_mm:.0f}{f' ± {place.along_u_mm:.0f}' if place.blur_mm else ''} mm of end A"
        f"{', turned end for end in the photo' if place.is_turned else ''}"
        for n, place in enumerate(search.places, 1)
    ]
    if taken is None:
        return (
            "which of these is it? no place fits clearly better than the others"
            " (look at knots and rings, then say --take 1)",
            *listed,
        )
    again = f" --keep {layout}" if layout is not None else " --keep layout.json"
    done = (
        "the lot's board was changed: the page lays the parts out again, undo takes it back"
        if lot is not None
        else f"board written anew; lay the parts out again with it: place PARTS BOARD.json{again}"
    )
    then = (
        done
        if is_confirmed
        else "look at piece-found.png; if it is the same wood, run it again with --confirm"
    )
    return (f"found{'' if search.found.is_sure else ' as you say'}:", *listed[:1], then)
