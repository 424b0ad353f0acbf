"""What the shop's machines cannot take as it is laid out, in words."""

from collections.abc import Sequence

from scanner.placement.layout import Layout
from scanner.placement.shop import Shop
from scanner.units import length_text


def machines_said(layout: Layout, shop: Shop) -> tuple[str, ...]:
    """Return one sentence for parts too wide for jointer or planer, and one for short pieces.

    Rips come before milling, so what goes over a machine is as wide as a part's strip. A wide board
    is flattened by ripping it, milling the halves and gluing them again along the same line
    (magazine on wide boards and narrow jointers), or on a sled.
    """
    live = [p for p in layout.placements if p.state in ("planned", "laid_out")]
    by_planer = sorted({p.part for p in live if p.width_mm > shop.planer_width_mm + 1e-6})
    by_jointer = sorted({p.part for p in live if p.width_mm > shop.jointer_width_mm + 1e-6})
    by_jointer = [name for name in by_jointer if name not in by_planer]
    said = []
    if by_planer:
        said.append(
            f"{_names(by_planer)}: wider than your planer ({_text(shop.planer_width_mm, shop)}). "
            "Rip it first, mill the halves and glue them again along the same line (staves: 2 or "
            "auto), or flatten it by hand."
        )
    if by_jointer:
        said.append(
            f"{_names(by_jointer)}: wider than your jointer ({_text(shop.jointer_width_mm, shop)})."
            " Rip it first, mill the halves and glue them again along the same line (staves: 2 or "
            "auto), or flatten one face on a planer sled or by hand."
        )
    short = [
        piece.id
        for piece in layout.pieces
        if piece.x1_mm - piece.x0_mm < shop.shortest_piece_mm - 0.1
        and any(layout.placements[n] in live for n in piece.placements)
    ]
    if short:
        said.append(
            f"Piece {_names(short)}: shorter than your machines take "
            f"({_text(shop.shortest_piece_mm, shop)}), and the board has no room to leave waste "
            "on. Plane by hand, or on a carrier board."
        )
    return tuple(said)


def _text(mm: float, shop: Shop) -> str:
    return length_text(mm, shop.units)


def _names(names: Sequence[str]) -> str:
    return ", ".join(names[:4]) + (f" and {len(names) - 4} more" if len(names) > 4 else "")
