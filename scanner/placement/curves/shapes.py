"""Curved parts: the rough shape on its rectangular blank."""

from shapely.affinity import rotate, translate
from shapely.geometry import Polygon

from scanner.board.board import Board
from scanner.placement.layout import Layout, Placement
from scanner.placement.parts import Part, PartsList
from scanner.placement.rules.follow import turn_deg
from scanner.placement.shop import Shop
from scanner.placement.wanted.items import rough_size_mm
from scanner.placement.wanted.sets import Arrangement, Size
from scanner.placement.wanted.turned import SHAPE_SLICES, cover_of, slices_of


def rough_shape(part: Part, shop: Shop) -> Polygon:
    """Return a part's shape with its allowance all round, from its blank's corner, mm.

    The blank is the part's rough size. All round the smaller allowance is given, half on each
    side; what the other allowance is larger by stays between shape and blank.
    """
    length, width = rough_size_mm(part, shop)
    more = min(length - part.length_mm, width - part.width_mm) / 2
    inside = ((length - part.length_mm) / 2, (width - part.width_mm) / 2)
    return translate(Polygon(part.outline_mm), *inside).buffer(max(more, 0.0), join_style="mitre")


def shape_on_blank(p: Placement, part: Part) -> Polygon:
    """Return a curved part's finished shape in the middle of its rectangle on the board, mm."""
    more = (p.length_mm - part.length_mm) / 2, (p.width_mm - part.width_mm) / 2
    shape = translate(Polygon(part.outline_mm), p.x_mm + more[0], p.y_mm + more[1])
    middle = (p.x_mm + p.length_mm / 2, p.y_mm + p.width_mm / 2)
    return rotate(shape, 180.0, origin=middle) if p.half_turn else shape


def shapes_said(parts: PartsList, layout: Layout) -> tuple[str, ...]:
    """Return one sentence that says how curved parts leave their blanks."""
    placed = {p.part for p in layout.placements}
    names = [part.name for part in parts if part.outline_mm is not None and part.name in placed]
    if not names:
        return ()
    nested = {p.part for p in layout.placements if p.nest is not None and p.state != "spoiled"}
    in_nests = [part.name for part in parts if part.name in nested]
    together = (
        f"{', '.join(in_nests)}: several are nested in one blank, as the board map draws them. "
        "Mill the blank whole, trace them all, then saw between them once, along the middle.",
    )
    return (
        *(together if in_nests else ()),
        f"{', '.join(names)}: saw the blank square and mill it, then trace the shape, its grain "
        "line along the blank, and saw it on the band saw. Only the shape and its allowance are "
        "clear: the blank's corners may carry flaws or lie off the board.",
    )


def is_upright_rectangle(board: Board, part: Part) -> bool:
    """Whether a part takes a plain rectangle along the board: the fast path."""
    return part.outline_mm is None and not turn_deg(board, part)


def cover_on(board: Board, part: Part, shop: Shop, row: int, kerf: int) -> tuple[Arrangement, Size]:
    """Return boxes that cover a turned or curved part on a board, and the size of its blank."""
    rough, turn = rough_size_mm(part, shop), turn_deg(board, part)
    if turn:
        return slices_of(part, rough, turn, row, kerf)
    return cover_of(part, rough_shape(part, shop), rough, SHAPE_SLICES, row, kerf)
