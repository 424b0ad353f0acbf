"""What the shop's machines cannot take as it is laid out, in words."""

from scanner.placement.layout import STILL_WOOD, Layout
from scanner.placement.names_in_words import joined
from scanner.placement.parts import PartsList
from scanner.placement.shop import Shop
from scanner.placement.wanted.items import rough_size_mm
from scanner.placement.wanted.turned import blank_of
from scanner.units import length_text


def machines_said(layout: Layout, shop: Shop) -> tuple[str, ...]:
    """Return one sentence for parts too wide for jointer or planer, and one for short pieces.

    Rips come before milling, so what goes over a machine is as wide as a part's strip. A wide board
    is flattened by ripping it, milling the halves and gluing them again along the same line
    (magazine on wide boards and narrow jointers), or on a sled.
    """
    live = [p for p in layout.placements if p.state in STILL_WOOD]
    by_planer = sorted({p.part for p in live if p.width_mm > shop.planer_width_mm + 1e-6})
    by_jointer = sorted({p.part for p in live if p.width_mm > shop.jointer_width_mm + 1e-6})
    by_jointer = [name for name in by_jointer if name not in by_planer]
    said = []
    if by_planer:
        said.append(
            f"{joined(by_planer, 4)}: wider than your planer "
            f"({_text(shop.planer_width_mm, shop)}). Rip it first, mill the halves and glue them "
            "again along the same line (staves: 2 or auto), or flatten it by hand."
        )
    if by_jointer:
        said.append(
            f"{joined(by_jointer, 4)}: wider than your jointer "
            f"({_text(shop.jointer_width_mm, shop)}). Rip it first, mill the halves and glue them "
            "again along the same line (staves: 2 or auto), or flatten one face on a planer sled "
            "or by hand."
        )
    short = [
        piece.id
        for piece in layout.pieces
        if piece.x1_mm - piece.x0_mm < shop.shortest_piece_mm - 0.1
        and any(layout.placements[n] in live for n in piece.placements)
    ]
    if short:
        said.append(
            f"Piece {joined(short, 4)}: shorter than your machines take "
            f"({_text(shop.shortest_piece_mm, shop)}), and the board has no room to leave waste "
            "on. Plane by hand, or on a carrier board."
        )
    return tuple(said)


def snipe_said(layout: Layout, parts: PartsList, shop: Shop) -> tuple[str, ...]:
    """Return a sentence for the finished parts that a planer would snipe at the ends of a piece.

    The search lays no part by it; a finished part is taken to lie in the middle of its rough
    length.
    """
    over = {part.name: (rough_size_mm(part, shop)[0] - part.length_mm) / 2 for part in parts}
    sniped = set()
    for piece in layout.pieces:
        for p in (layout.placements[n] for n in piece.placements):
            blank = blank_of(p)
            room = min(blank.x_mm - piece.x0_mm, piece.x1_mm - blank.x_mm - blank.length_mm)
            room += over.get(p.part, 0.0)
            if p.state in STILL_WOOD and room < shop.snipe_mm - 1e-6:
                sniped.add(p.part)
    if not sniped:
        return ()
    return (
        f"{joined(sorted(sniped), 4)}: the planer may snipe what you need at the ends of a piece "
        f"({_text(shop.snipe_mm, shop)}). Feed waste of the same thickness right before and after "
        "it, or give more length allowance.",
    )


def _text(mm: float, shop: Shop) -> str:
    return length_text(mm, shop.units)
