"""Rule: a part lies within the common wood of both faces, and keeps the outline's margin."""

from shapely.geometry import box

from scanner.board.board import Board
from scanner.placement.parts import Faces, Part
from scanner.placement.rules.ground import Zone, frame_of, grown
from scanner.placement.shop import Shop

# How far the ground outside the board is drawn: more than any margin.
_AROUND_MM = 60.0


def zones(board: Board, part: Part, shop: Shop, show_face: int | None) -> tuple[Zone, ...]:
    """Return the ground outside each face; a hidden part may reach into wane."""
    x0, y0, x1, y1 = frame_of(board)
    around = box(x0 - _AROUND_MM, y0 - _AROUND_MM, x1 + _AROUND_MM, y1 + _AROUND_MM)
    found = []
    for number, face in board.faces.items():
        wood = board.wood(number) if part.faces is Faces.HIDDEN else face.outline
        ground = grown(around.difference(wood), board.outline_u_mm, face.u_scale, shop, y1)
        found.append(Zone(ground, "the board's edge"))
    return tuple(found)
