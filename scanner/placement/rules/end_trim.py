"""Rule: each end loses its trim before a part begins."""

from shapely.affinity import translate
from shapely.geometry import box

from scanner.board.board import Board, End
from scanner.placement.parts import Part
from scanner.placement.rules.ground import Zone, frame_of
from scanner.placement.shop import Shop

# An end that is not square, or rounded, is over within this length.
_END_REACH_MM = 150.0


def trim_mm(end: End, shop: Shop) -> float:
    """Return what an end loses: the user's own trim, or the shop's (seen or unseen end)."""
    if end.trim_mm is not None:
        return end.trim_mm
    return shop.end_trim_seen_mm if end.looked_over else shop.end_trim_unseen_mm


def zones(board: Board, part: Part, shop: Shop, show_face: int | None) -> tuple[Zone, ...]:
    """Return the ground within the trim of end A and of end B, measured along the board."""
    x0, y0, x1, y1 = frame_of(board)
    found = []
    for name, end in board.ends.items():
        trim = trim_mm(end, shop)
        if trim <= 0:
            continue
        for number in board.faces:
            wood = board.wood(number)
            reach = trim + _END_REACH_MM
            near = (
                box(x0 - 1, y0 - 1, wood.bounds[0] + reach, y1 + 1)
                if name == "A"
                else box(wood.bounds[2] - reach, y0 - 1, x1 + 1, y1 + 1)
            )
            # What the outline, moved along by the trim, no longer covers is too near to the end.
            moved = translate(wood, trim if name == "A" else -trim)
            found.append(Zone(near.difference(moved), f"the end trim of end {name}"))
    return tuple(found)
