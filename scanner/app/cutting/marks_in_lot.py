"""The errand "hold the marks" on a lot's own board and layout, its answer noted in the lot."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from scanner.app.lot.later_photo import (
    in_plain_words,
    keep_made,
    keep_photo,
    kept_note,
    note,
    typed_options,
)
from scanner.errors import LotError
from scanner.placement.copy_names import copies_in
from scanner.placement.layout import STILL_WOOD
from scanner.storage.values import to_document

if TYPE_CHECKING:
    from collections.abc import Callable

    from scanner.app.lot.later_photo import Photo
    from scanner.app.scanning.scan_request import ScanRequest, TypedOptions
    from scanner.placement.layout import Placement
    from scanner.storage.lots import Lot
    from scanner.storage.photos import StoredPicture

    Progress = Callable[[str, float], None]

_NOTE = "marks-"


@dataclass(frozen=True, slots=True)
class KeptMarks:
    """What was seen of the marks on a board.

    Attributes
    ----------
    photo, picture
        Stored names: the photo, and the face with the layout's lines laid over it.
    said
        The mistakes in words; none where every line is right.
    is_clear
        False where another face or end would fit the photo nearly as well.
    placed
        Tells the parts on the board then from those now.
    rule, strip_taped, batten
        As typed, so that the photo can be looked at again.
    """

    board: str
    face: int
    photo: str
    photo_name: str
    picture: str
    said: tuple[str, ...]
    lines: int
    is_clear: bool
    placed: str
    rule: str = ""
    strip_taped: str = ""
    batten: str = ""


def boards_with_parts(lot: Lot) -> tuple[str, ...]:
    """Return the boards that the newest layout has uncut parts on, in the order of the lot."""
    saved = lot.layout()
    if saved is None:
        return ()
    used = {place.board for place in saved.layout.placements if _is_to_cut(place)}
    return tuple(line.id for line in lot.standings() if line.id in used)


def look_at_marks(
    lot: Lot,
    board: str,
    photo: Photo,
    rule: str,
    strip_taped: str,
    batten: str,
    progress: Progress,
) -> None:
    """Hold a photo of a marked board against the layout and note what was seen.

    ``rule``, ``strip_taped`` and ``batten`` as typed, "" where nothing was.

    Raises
    ------
    ScannerError
        No scale, another board, or no part of the layout on it.
    """
    typed = typed_options(rule, strip_taped, batten)
    with in_plain_words():
        _request(Path("photo"), typed)
    stored = keep_photo(lot, photo)
    _look(lot, board, stored, typed, None, progress)


def look_again_as(lot: Lot, board: str, face: int, progress: Progress) -> None:
    """Hold the same photo against the layout once more, as a photo of the face that the user says.

    Raises
    ------
    ScannerError
        As for the first look, or the photo is gone.
    """
    from scanner.storage.photos import StoredPicture

    kept = kept_marks(lot, board)
    path = lot.picture(kept.photo) if kept is not None else None
    if kept is None or path is None:
        raise LotError(f"the photo of {board} is not here any more", "add it again")
    stored = StoredPicture(kept.photo, kept.photo_name, path.stat().st_size)
    _look(
        lot, board, stored, typed_options(kept.rule, kept.strip_taped, kept.batten), face, progress
    )


def kept_marks(lot: Lot, board: str) -> KeptMarks | None:
    """Return what was last seen of the marks on a board, None where nobody looked."""
    return kept_note(lot, _NOTE + board, KeptMarks)


def is_of_this_layout(lot: Lot, kept: KeptMarks) -> bool:
    """Whether the parts lie on the board as they did when its marks were looked at."""
    return kept.placed == mark_of_parts(lot, kept.board)


def _look(
    lot: Lot,
    board_id: str,
    stored: StoredPicture,
    typed: TypedOptions,
    face: int | None,
    progress: Progress,
) -> None:
    from scanner.app.cutting.hold_marks import judge_face, lay_marked
    from scanner.app.scanning.scan_board import scan_photos, setup_of
    from scanner.lot.drawn_marks import mistakes_by_part
    from scanner.sheets.marks_picture import draw_marks

    board, here, saved = lot.board(board_id), _parts_on(lot, board_id), lot.layout()
    if not here or saved is None:
        raise LotError(f"the layout has no part on {board_id}", "choose a board with parts")
    request = _request(lot.folder / stored.file, typed)
    with in_plain_words(stored):
        # The board says how thick it is; nobody shall have to type it again.
        setup = setup_of(replace(request, thickness=board.thickness), 1, ())
        scan = scan_photos(request.photos_1, setup, progress, is_marked=True)
        progress("holding the lines against the layout", 0.95)
        laid = lay_marked(board, scan, face)
        verdict = judge_face(board, here, scan, laid, copies_in(saved.layout))
    kept = KeptMarks(
        board=board_id,
        face=laid.face,
        photo=stored.file,
        photo_name=stored.name,
        picture=keep_made(lot, draw_marks(board_id, laid, verdict, scan.picture), "marks"),
        said=mistakes_by_part(verdict),
        lines=len(verdict.lines),
        is_clear=laid.is_clear or face is not None,
        placed=mark_of_parts(lot, board_id),
        rule=typed.rule or "",
        strip_taped=typed.strip_taped or "",
        batten=typed.batten or "",
    )
    note(lot, _NOTE + board_id, to_document(kept), f"{board_id}: looked at the marks")
    progress("done", 1.0)


def _request(photo: Path, typed: TypedOptions) -> ScanRequest:
    from scanner.app.scanning.scan_request import scan_request

    return scan_request("marks", photo, None, typed)


def _parts_on(lot: Lot, board: str) -> tuple[Placement, ...]:
    saved = lot.layout()
    placed = saved.layout.placements if saved is not None else ()
    return tuple(p for p in placed if p.board == board and _is_to_cut(p))


def _is_to_cut(place: Placement) -> bool:
    return place.state in STILL_WOOD


def mark_of_parts(lot: Lot, board: str) -> str:
    """Return what tells how the uncut parts lie on a board."""
    placed = _parts_on(lot, board)
    lies = sorted(
        (p.part, p.copy, p.stave or 0, round(p.x_mm, 1), round(p.y_mm, 1), round(p.angle_deg, 1))
        for p in placed
    )
    return hashlib.sha256(repr(lies).encode()).hexdigest()
