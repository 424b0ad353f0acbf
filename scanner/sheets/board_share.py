"""One board's share of a layout, so that what is told of a board costs no more in a large lot."""

from dataclasses import replace

from scanner.placement.layout import Layout


def board_share(layout: Layout, board_id: str) -> Layout:
    """Return the layout with the placements, pieces, cuts and left-overs of one board alone.

    The summary and what found no place stay those of the whole layout.
    """
    here = [index for index, p in enumerate(layout.placements) if p.board == board_id]
    number = {index: new for new, index in enumerate(here)}
    return replace(
        layout,
        placements=tuple(layout.placements[index] for index in here),
        pieces=tuple(
            replace(piece, placements=tuple(number[i] for i in piece.placements if i in number))
            for piece in layout.pieces
            if piece.board == board_id
        ),
        cuts=tuple(cut for cut in layout.cuts if cut.board == board_id),
        offcuts=tuple(offcut for offcut in layout.offcuts if offcut.board == board_id),
    )
