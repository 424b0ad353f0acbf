"""The errand "hold the marks": a photo of the marked board against the layout, before the saw."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from shapely import LineString, affinity, offset_curve

from scanner.app.placing.given_layout import refuse_other_boards
from scanner.app.scanning.scan_board import scan_photos, setup_of
from scanner.board.lay_again import lay_again, seen_with_end_a_left
from scanner.errors import PlacementError
from scanner.files.board_file import read_board
from scanner.files.json_text import json_text, rounded
from scanner.files.layout_file import read_layout
from scanner.files.picture_file import png_bytes
from scanner.files.write import refuse_unwritable, write_files
from scanner.lot.drawn_marks import (
    MOST_OFF_MM,
    MarksVerdict,
    judge_marks,
    lines_on_wood,
    mistakes_by_part,
    wanted_lines,
)
from scanner.placement.copy_names import copies_in
from scanner.placement.wanted.turned import sawn_blanks
from scanner.sheets.marks_picture import draw_marks
from scanner.sheets.words import blank_title

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence
    from pathlib import Path

    from shapely.geometry import Polygon

    from scanner.app.scanning.scan_request import ScanRequest
    from scanner.board.board import Board
    from scanner.board.lay_again import LaidAgain
    from scanner.placement.copy_names import Counted
    from scanner.placement.layout import Layout, Placement
    from scanner.vision.photos.picture import FacePicture, FaceScan

    Progress = Callable[[str, float], None]

CAUTION = (
    "Only lines of chalk or crayon along the parts are looked at, not what is written in them;"
    " hold the board map beside the board before you saw."
)

# Of a board's own outline laid into the photo so much is left out: it is not laid better.
_RIM_MM = 2.0
# A lit or worn arris passes for a line along it, so a line there counts for nothing further in: of
# 640 lines wanted on bare faces 29 were told as drawn, and 10 since.
_ARRIS_MM = 6.0
ALL_RIGHT = "every line of the layout is drawn where it belongs"


@dataclass(frozen=True, slots=True)
class MarksAnswer:
    """What was seen of the marks: the verdict, lines to print, what was written."""

    face: int
    verdict: MarksVerdict
    lines: tuple[str, ...]
    written: tuple[Path, ...]


def hold_marks(
    request: ScanRequest,
    board_file: Path,
    layout_file: Path,
    folder: Path,
    *,
    face: int | None = None,
    progress: Progress = lambda step, share: None,
) -> MarksAnswer:
    """Compare the lines drawn on a board with its layout; write ``marks.json`` and ``marks.png``.

    Parameters
    ----------
    request
        The photo of the marked face, with what was said of rule or strip.
    face
        Where the user says which face it is; else it is found.

    Raises
    ------
    BoardError
        The photo shows another board.
    PlacementError
        The layout has no part on this board.
    """
    refuse_unwritable(folder)
    board, layout = read_board(board_file), read_layout(layout_file)
    here = _parts_on(layout, board)
    refuse_other_boards(layout, (board,))
    # The board says how thick it is; nobody shall have to type it again.
    setup = setup_of(replace(request, thickness=board.thickness), 1, ())
    scan = scan_photos(request.photos_1, setup, progress, is_marked=True)
    laid = lay_marked(board, scan, face)
    verdict = judge_face(board, here, scan, laid, copies_in(layout))
    lines = list(mistakes_by_part(verdict)) or [ALL_RIGHT]
    if not laid.is_clear:
        lines.append(
            f"the photo fits face {laid.face} best, but another face or end nearly as well:"
            " say --face if this is wrong"
        )
    lines.append(CAUTION)
    picture = draw_marks(board.id, laid, verdict, scan.picture)
    record = {
        "format": "marks",
        "version": 1,
        "board": board.id,
        "face": laid.face,
        "pattern": verdict.pattern,
        "lines": [
            {
                "part": one.line.part,
                "side": one.line.side,
                "off": None if one.off_mm is None else rounded(one.off_mm),
                "right": one.is_right,
            }
            for one in verdict.lines
        ],
    }
    written = write_files(
        folder, {"marks.json": json_text(record).encode(), "marks.png": png_bytes(picture)}
    )
    progress("done", 1.0)
    return MarksAnswer(laid.face, verdict, tuple(lines), written)


def lay_marked(board: Board, scan: FaceScan, face: int | None) -> LaidAgain:
    """Lay the scan of a marked face over its board; see `lay_again`."""
    from scanner.vision.second_look.unmarked import unmarked

    reading, (low_x, low_y) = unmarked(scan)
    laid = lay_again(board, reading, face)
    a, b, d, e, dx, dy = laid.known_from_new
    shift = (dx - a * low_x - b * low_y, dy - d * low_x - e * low_y)
    return replace(laid, known_from_new=(a, b, d, e, *shift))


def judge_face(
    board: Board,
    placements: Sequence[Placement],
    scan: FaceScan,
    laid: LaidAgain,
    rows: Mapping[str, Counted] | None = None,
) -> MarksVerdict:
    """Judge what is drawn on a scanned face that lies on its board as told.

    The board's own outline says where its wood is: a line drawn along an arris passes for it.
    ``rows`` tells how often each part is asked for, so that one asked for once has no number.
    """
    known = seen_with_end_a_left(board, laid.face, board.faces[laid.face].outline)
    outline = affinity.affine_transform(known, laid.new_from_known).buffer(-_RIM_MM)
    return judge_picture(board, placements, scan.picture, outline, laid, rows)


def judge_picture(
    board: Board,
    placements: Sequence[Placement],
    picture: FacePicture,
    outline: Polygon,
    laid: LaidAgain,
    rows: Mapping[str, Counted] | None = None,
) -> MarksVerdict:
    """Judge what is drawn on a flat picture of a face; ``outline`` of its wood, face mm."""
    from scanner.vision.second_look.drawn import drawn_on, line_offsets

    drawn = drawn_on(picture, outline)
    inner = outline.buffer(-_ARRIS_MM)
    a, b, d, e, x0, y0 = laid.new_from_known

    def offsets(
        begin: tuple[float, float], end: tuple[float, float], reach_mm: float
    ) -> tuple[float, ...]:
        p, q = ((a * x + b * y + x0, d * x + e * y + y0) for x, y in (begin, end))
        found = line_offsets(drawn, p, q, reach_mm)
        return tuple(
            off for off in found if abs(off) <= MOST_OFF_MM or _is_within(inner, p, q, off)
        )

    _, _, length, width = board.faces[1].outline.bounds
    is_back = laid.face == 2
    # Sawn out, and so drawn, is the blank: of a nest or of slices one, of a curve the square one.
    blanks = sawn_blanks([place for place in placements if not place.angle_deg])
    lines = wanted_lines(
        blanks, lambda blank: blank_title(blank, placements, rows or {}), width, is_back=is_back
    )
    wood = seen_with_end_a_left(board, laid.face, board.wood(laid.face))
    return judge_marks(lines_on_wood(lines, wood), offsets, (length, width))


def _is_within(
    wood: Polygon, begin: tuple[float, float], end: tuple[float, float], off_mm: float
) -> bool:
    """Whether most of the line that lies so far to the left of another lies on the wood."""
    line = LineString([begin, end])
    aside = offset_curve(line, -off_mm)
    return bool(aside.intersection(wood).length > 0.5 * line.length)


def _parts_on(layout: Layout, board: Board) -> tuple[Placement, ...]:
    here = tuple(p for p in layout.placements if p.board == board.id and p.state != "spoiled")
    if not here:
        raise PlacementError(
            f"the layout has no part on {board.id}", "give the board.json of the marked board"
        )
    return here
