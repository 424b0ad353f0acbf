"""The errand "find a piece again" in a lot: the places that fit are noted; the user says which."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from scanner.app.lot.later_photo import in_plain_words, keep_made, keep_photo, note, typed_options
from scanner.app.lot.open_lot import new_stamp
from scanner.board.measured import Measured
from scanner.errors import LotError
from scanner.storage.lots import Action
from scanner.storage.values import DocumentError, from_document, to_document
from scanner.units import length_text

if TYPE_CHECKING:
    from collections.abc import Callable

    from scanner.app.lot.later_photo import Photo
    from scanner.board.board import Board
    from scanner.storage.lots import Lot
    from scanner.storage.values import Json
    from scanner.vision.second_look.find_again import PiecePlace

    Progress = Callable[[str, float], None]

_NOTE = "piece"
_SEEN = "piece from "
_LOOKED = "looked at a piece of"


@dataclass(frozen=True, slots=True)
class FoundPlace:
    """A place that fits, in words, and the picture with the piece laid under the board's own."""

    board: str
    words: str
    picture: str


@dataclass(frozen=True, slots=True)
class KeptPiece:
    """What was found for a piece that nobody has nodded at yet.

    Attributes
    ----------
    places
        Those that fit, best first; none where the piece fits nowhere.
    is_sure
        Whether the first fits clearly better than the others.
    """

    photo: str
    photo_name: str
    places: tuple[FoundPlace, ...]
    is_sure: bool


def look_at_piece(
    lot: Lot,
    photo: Photo,
    thickness: str,
    rule: str,
    strip_taped: str,
    batten: str,
    progress: Progress,
) -> None:
    """Find a photographed piece on the lot's boards and note the places that fit.

    ``thickness`` is the piece's own; all as typed, "" where nothing was.

    Raises
    ------
    ScannerError
        No scale, no piece, or no board with a picture.
    """
    from scanner.app.later.piece_on_board import measured
    from scanner.app.later.piece_search import search_piece
    from scanner.app.later.piece_wood import wood_of_lot
    from scanner.app.scanning.scan_request import scan_request

    typed = typed_options(rule, strip_taped, batten, thickness)
    with in_plain_words():
        scan_request("piece", Path("photo"), None, typed)
    wood_of = wood_of_lot(lot.path)
    if not wood_of.has_pictures:
        raise LotError("no board of this lot has a picture", "scan boards from photos first")
    stored = keep_photo(lot, photo)
    request = scan_request("piece", lot.folder / stored.file, None, typed)
    with in_plain_words(stored):
        search = search_piece(request, wood_of, progress)
    units = lot.shop().units
    shown = tuple(
        FoundPlace(
            place.board, _words(place, units), keep_made(lot, search.picture_at(place), "piece")
        )
        for place in search.places
    )
    kept = KeptPiece(stored.file, stored.name, shown, search.found.is_sure)
    document: Json = {
        "kept": to_document(kept),
        "places": [to_document(place) for place in search.places],
        "flaws": [to_document(flaw) for flaw in search.flaws],
        "thickness": to_document(measured(request.thickness)),
        "lab": None if search.lab is None else list(search.lab),
    }
    note(lot, _NOTE, document, "looked for a piece on its board")
    progress("done", 1.0)


def kept_piece(lot: Lot) -> KeptPiece | None:
    """Return what was found for the piece that waits for a nod, None where none does."""
    document = lot.note(_NOTE)
    try:
        return from_document(KeptPiece, document["kept"]) if isinstance(document, dict) else None
    except (DocumentError, KeyError):
        return None


def take_place(lot: Lot, number: int) -> str:
    """Take a place as the user says, from 1: the board changes by one action that undo takes back.

    Returns
    -------
    str
        The board.

    Raises
    ------
    LotError
        No piece waits, or it has no such place.
    """
    from scanner.app.later.piece_on_board import with_piece
    from scanner.board.flaw import Flaw
    from scanner.vision.second_look.find_again import PiecePlace

    document: Any = lot.note(_NOTE)
    try:
        place = from_document(PiecePlace, document["places"][number - 1])
        flaws = tuple(from_document(Flaw, flaw) for flaw in document["flaws"])
        thickness, lab = _thickness_of(document["thickness"]), document.get("lab")
    except (DocumentError, KeyError, IndexError, TypeError):
        raise LotError("this piece is not asked about any more", "add its photo again") from None
    drop_piece(lot)
    colour = None if lab is None else (float(lab[0]), float(lab[1]), float(lab[2]))
    change = partial(with_piece, place=place, flaws=flaws, thickness=thickness, lab=colour)
    record_piece(lot, place, change)
    return place.board


def record_piece(lot: Lot, place: PiecePlace, change: Callable[[Board], Board]) -> None:
    """Change the board that a piece is of by one action of the journal, which undo takes back."""
    said = f"{_LOOKED} {place.board} again"
    lot.record(Action(new_stamp(lot, "piece"), place.board, said, change))


def is_of_a_piece(said: str) -> bool:
    """Return whether an action's words tell of a piece that was looked at again."""
    return said.startswith(_LOOKED)


def _thickness_of(document: Any) -> Measured | None:  # noqa: ANN401 (what a note holds)
    # A piece that an older program looked for waits with its bare mm (U of a measured value: 1).
    if isinstance(document, int | float):
        return Measured(float(document), 1.0)
    if document is None:
        return None
    return from_document(Measured, document)


def drop_piece(lot: Lot) -> None:
    """Let the piece that waits for a nod go: it is none of these, or of no use."""
    note(lot, _NOTE, None, "let a piece go that was looked for")


def pieces_seen(lot: Lot) -> tuple[str, ...]:
    """Return what is known of the pieces that were looked at again, a line each."""
    return tuple(
        f"{board.id}: {said}"
        for board in lot.boards()
        for said in board.notes
        if said.startswith(_SEEN)
    )


def _words(place: PiecePlace, units: str) -> str:
    piece = f", piece {place.piece}" if place.piece else ""
    turned = "; in the photo it lies turned end for end" if place.is_turned else ""
    x0, x1 = place.x_mm, place.x_mm + place.length_mm
    unsure = f" (± {length_text(place.along_u_mm, units)} along)" if place.blur_mm else ""
    return (
        f"{place.board}{piece}, face {place.face}, from {length_text(x0, units)} to"
        f" {length_text(x1, units)} of end A{unsure}{turned}"
    )
