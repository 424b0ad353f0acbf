"""Rule: where sapwood may show."""

from scanner.board.board import Board
from scanner.placement.parts import Faces, Part
from scanner.placement.rules.ground import Zone, grown
from scanner.placement.shop import Shop


def zones(board: Board, part: Part, shop: Shop, show_face: int | None) -> tuple[Zone, ...]:
    """Return the sapwood a part must not carry: ``no`` anywhere, ``back`` off the show face.

    A part without a show face has no back, so ``back`` then means ``no``.
    """
    if part.sapwood == "any" or not board.sapwood:
        return ()
    only_show = part.sapwood == "back" and part.faces is Faces.SHOW
    return tuple(
        Zone(grown(shape, board.outline_u_mm, board.faces[number].u_scale, shop), "sapwood")
        for number, shapes in board.sapwood.items()
        if not only_show or number == show_face
        for shape in shapes
    )
