"""A shape of the board as a person sees it who looks at one face.

The frame is mm, x right, y down: face 1 as in the board frame, face 2 mirrored back from "seen
through the board".
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

from shapely import get_coordinates

from scanner.geometry.polygons import mirrored

if TYPE_CHECKING:
    from shapely.geometry import Polygon

    from scanner.board.board import Board

Ring = tuple[tuple[float, float], ...]
Mirror = Literal["", "x", "y"]


def mirror_of(board: Board, number: int) -> Mirror:
    """Return how the stored picture of a face is mirrored against what a person sees."""
    if number == 1:
        return ""
    return "y" if board.turned == "sideways" else "x"


def as_seen(board: Board, number: int, shape: Polygon) -> Polygon:
    """Return a shape of the board frame as a person sees it who looks at this face."""
    _, _, length, width = board.faces[1].outline.bounds
    match mirror_of(board, number):
        case "x":
            return mirrored(shape, "end_over_end", length, width)
        case "y":
            return mirrored(shape, "sideways", length, width)
    return shape


def seen_ring(board: Board, number: int, shape: Polygon) -> Ring:
    """Return the corners of `as_seen`, to a hundredth of a mm, no polygon made of them."""
    _, _, length, width = board.faces[1].outline.bounds
    corners: list[list[float]] = get_coordinates(shape.exterior)[:-1].tolist()
    match mirror_of(board, number):
        case "x":
            corners = [[length - x, y] for x, y in corners]
        case "y":
            corners = [[x, width - y] for x, y in corners]
    return tuple((round(x, 2), round(y, 2)) for x, y in corners)


def ring_of(shape: Polygon) -> Ring:
    """Return the corners of a shape, to a hundredth of a mm."""
    return tuple((round(x, 2), round(y, 2)) for x, y in list(shape.exterior.coords)[:-1])
