"""Rule: the board is thick enough for the finished part, clean-up and warp of the piece milled."""

from scanner.board.board import Board
from scanner.board.form import bend_of_piece_mm, twist_of_piece_mm
from scanner.placement.parts import Part
from scanner.placement.rules.follow import turn_deg
from scanner.placement.rules.ground import Zone
from scanner.placement.shop import Shop
from scanner.placement.wanted.items import rough_size_mm
from scanner.placement.wanted.turned import blank_size_mm
from scanner.units import exact_text


def flattened_mm(board: Board, piece_mm: tuple[float, float], shop: Shop) -> float:
    """Return the thickness left when a piece (length, width) of the board is made flat.

    Bow, cup and half the twist of the piece are lost (the best slab of a twisted piece loses
    half the height of its fourth corner), then the clean-up.
    """
    left = board.thickness.value_mm - shop.cleanup_mm
    if board.warp is None:
        return left
    _, low, _, high = board.faces[1].outline.bounds
    whole = (board.length.value_mm, high - low)
    piece = (min(piece_mm[0], whole[0]), min(piece_mm[1], whole[1]))
    bow = abs(bend_of_piece_mm(board.warp.bow_mm or 0.0, whole[0], piece[0]))
    cup = abs(bend_of_piece_mm(board.warp.cup_mm or 0.0, whole[1], piece[1]))
    twist = abs(twist_of_piece_mm(board.warp.twist_mm or 0.0, whole, piece))
    return left - bow - cup - twist / 2


def refusal(board: Board, part: Part, shop: Shop) -> str | None:
    """Return why the whole board is ruled out, or None.

    A part shorter than the shortest piece the machines take is milled in a piece of that length.
    """
    length, width = blank_size_mm(*rough_size_mm(part, shop), turn_deg(board, part))
    left = flattened_mm(board, (max(length, shop.shortest_piece_mm), width), shop)
    if left + 1e-9 >= part.thickness_mm:
        return None
    there, needed = (_text(mm, shop.units) for mm in (left, part.thickness_mm))
    return f"leaves {there} when flat, {needed} are needed"


def zones(board: Board, part: Part, shop: Shop, show_face: int | None) -> tuple[Zone, ...]:
    """Return the wood of pieces that were seen again and are thinner than the part by now.

    A piece that still has its clean-up before it may give less than it measures: that is not
    reckoned here, since nothing says which of its faces were planed.
    """
    return tuple(
        Zone(one.ground, f"a piece that is {one.thickness.value_mm:.1f} mm thick by now")
        for one in board.pieces
        if one.thickness is not None and one.thickness.value_mm + 1e-9 < part.thickness_mm
    )


def _text(mm: float, units: str) -> str:
    # Always with its tenth: what is there may lack no more.
    return exact_text(mm, units) if units == "inch" else f"{mm:.1f} mm"
