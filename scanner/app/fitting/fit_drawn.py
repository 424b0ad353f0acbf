"""How a piece of a group is drawn by a window: from its board's own picture, moved as a whole."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from scanner.app.fitting.dry_fit import Bench
    from scanner.board.assembly import Member, Place
    from scanner.placement.layout import Placement


@dataclass(frozen=True, slots=True)
class PieceDrawn:
    """A piece as it is drawn, mm.

    Attributes
    ----------
    place
        x, y, width, height in the group; ``upright``: its left end is at the foot.
    size, corner, lies_at
        Length and width; its corner on its board, finished and as placed.
    picture
        Stored name of the face that shows; None where it was not photographed.
    picture_at
        x, y, width, height of that picture, board frame.
    piece_from_board
        a, b, c, d, e, f of SVG's matrix.
    along
        1 where the piece runs to the right as its board runs from end A to end B, else -1.
    show_face
        The face the layout lets show, 0 where it leaves that open.
    """

    place: tuple[float, float, float, float]
    upright: bool
    size: tuple[float, float]
    board: str
    corner: tuple[float, float]
    part: str
    copy: int
    lies_at: tuple[float, float]
    show_face: int
    picture: str | None
    picture_at: tuple[float, float, float, float] | None
    piece_from_board: tuple[float, float, float, float, float, float]
    along: int
    arrow: int


def drawn(bench: Bench, member: Member, place: Place, placed: Placement) -> PieceDrawn:
    """Return a piece of a group as a window draws it."""
    board = next(board for board in bench.boards if board.id == member.board)
    face, shown = board.faces[member.face], bench.pictures.get((member.board, member.face))
    picture, at = None, None
    if shown is not None and face.mm_per_px and face.picture_origin:
        # The origin is the centre of the first pixel.
        x, y = (origin - face.mm_per_px / 2 for origin in face.picture_origin)
        wide, high = (px * face.mm_per_px for px in shown.size)
        picture, at = face.picture, (x, y, wide, high)
    a, b, c, d, e, f = member.board_from_piece()
    # A turn and perhaps a mirror: the way back has the same parts, mirrored at the diagonal.
    back = (a, b, d, e, -(a * c + d * f), -(b * c + e * f))
    return PieceDrawn(
        place=(place.x, place.y, place.width, place.height),
        upright=place.upright,
        size=member.size_mm,
        board=member.board,
        corner=member.corner_mm,
        part=member.part,
        copy=member.copy,
        lies_at=(placed.x_mm, placed.y_mm),
        show_face=placed.show_face or 0,
        picture=picture,
        picture_at=at,
        piece_from_board=back,
        along=1 if a > 0 else -1,
        arrow=member.arrow,
    )
