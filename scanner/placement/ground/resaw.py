"""Bookmatched sets: slices of one thick blank, sawn apart on edge and opened like a book."""

from scanner.board.board import Board
from scanner.placement.rules.thickness import flattened_mm
from scanner.placement.shop import Shop
from scanner.placement.wanted.items import rough_size_mm
from scanner.placement.wanted.sets import Manner, MatchedSet

# What flattening takes off each slice, both faces together: 1/8 in (trade magazine on resawing).
SLICE_LOSS_MM = 3.2


def thickness_needed_mm(thickness_mm: float, slices: int, shop: Shop) -> float:
    """Return how thick flat wood must be for so many slices of this finished thickness."""
    return slices * (thickness_mm + SLICE_LOSS_MM) + (slices - 1) * shop.kerf_mm


def slices_deep(board: Board, one: MatchedSet, shop: Shop) -> int:
    """Return how many members of a bookmatched set one blank of the board gives, at least 2 or 0.

    The blank is flattened by its warp alone; the clean-up of its faces is in each slice's share.
    """
    first = one.members[0]
    sizes = {(m.length_mm, m.width_mm, m.thickness_mm) for m in one.members}
    if one.manner is not Manner.BOOKMATCH or len(sizes) > 1:
        return 0
    length, width = rough_size_mm(first, shop)
    flat = flattened_mm(board, (max(length, shop.shortest_piece_mm), width), shop)
    have = flat + shop.cleanup_mm + 1e-9
    most = max(
        (
            n
            for n in range(1, len(one.members) + 1)
            if thickness_needed_mm(first.thickness_mm, n, shop) <= have
        ),
        default=0,
    )
    return most if most > 1 else 0
