"""What is printed on the pages of strip, cross arm and cards, as shapes in mm.

Shapes are apart from the PDF so that they can be drawn otherwise and read back. Page frame: mm,
x right, y up from the lower left corner of the landscape page.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from scanner.errors import SettingsError
from scanner.geometry.card_codes import LAST_BOARD, card_id
from scanner.geometry.strip_layout import (
    CARD_MARKER_X_MM,
    CARD_MM,
    MARKERS_PER_PIECE,
    PIECE_MM,
    PIECES_PER_PAGE,
    STRIP_WIDTH_MM,
    TAB_MM,
    Piece,
    id_of,
    pieces_for,
)
from scanner.sheets.strip_pieces import arm_piece, strip_piece
from scanner.sheets.strip_shapes import (
    Area,
    Page,
    Shape,
    Stroke,
    Words,
    card_marker_shapes,
    moved,
    scaled,
)

Paper = Literal["a4", "letter"]
# ISO 216 and ANSI/ASME Y14.1, landscape, mm.
PAPER_MM: dict[Paper, tuple[float, float]] = {"a4": (297.0, 210.0), "letter": (279.4, 215.9)}
ROW_GAP_MM = 4.0
BLOCK_MM = (PIECE_MM + TAB_MM, PIECES_PER_PAGE * STRIP_WIDTH_MM + 2 * ROW_GAP_MM)
UPRIGHT_LINE_MM = 180.0
# Capitals of the lines above and below the pieces.
PAGE_WORDS_MM = 2.6
# No common printer reaches nearer to the paper's border.
PRINTER_MARGIN_MM = 4.0
CARDS_PER_PAGE = 6
_HALF = STRIP_WIDTH_MM / 2
_GREY = 0.55


@dataclass(frozen=True, slots=True)
class StripOrder:
    """What to print.

    Attributes
    ----------
    length_mm
        At least this long; whole pieces are printed.
    second
        Strip B (for the other side of the board) instead of strip A.
    arm
        The cross arm as one page more.
    cards
        For how many boards: two cards each, one a face.
    measured_mm
        What the 250.0 mm and the upright 180.0 mm line of a first print really measure.
    """

    length_mm: float
    paper: Paper = "a4"
    second: bool = False
    arm: bool = False
    cards: int = 0
    measured_mm: tuple[float, float] | None = None


def _upright_line() -> list[Shape]:
    """Return the upright check line in the tab column of a block."""
    x = PIECE_MM + TAB_MM / 2
    low = (BLOCK_MM[1] - UPRIGHT_LINE_MM) / 2
    high = low + UPRIGHT_LINE_MM
    shapes: list[Shape] = [Stroke((x, low), (x, high), 0.2)]
    shapes += [Stroke((x - 2, y), (x + 2, y), 0.2) for y in (low, high)]
    text, start = f"measure: {UPRIGHT_LINE_MM:.1f} mm", BLOCK_MM[1] / 2 - 12
    # On the hatched tab figures are hard to read.
    a, b, bottom, top = x + 0.5, x + 3.6, start - 1.0, start + 28.0
    shapes.append(Area(((a, bottom), (b, bottom), (b, top), (a, top)), 1.0))
    return [*shapes, Words((x + 2.8, start), text, 2.0, turn_deg=90.0)]


def printed_page(
    rows: list[list[Shape]],
    paper: Paper,
    measured_mm: tuple[float, float] | None,
    foot: str,
) -> Page:
    """Return a page of up to three pieces, each drawn about its left joint line and its axis.

    With what the check lines of a former print measured the page makes up for the printer.
    """
    size = PAPER_MM[paper]
    block: list[Shape] = []
    for row, shapes in enumerate(rows):
        y = BLOCK_MM[1] - _HALF - row * (STRIP_WIDTH_MM + ROW_GAP_MM)
        block += moved(shapes, 0.0, y)
    block += _upright_line()
    along, upright = measured_mm or (PIECE_MM, UPRIGHT_LINE_MM)
    scale = (PIECE_MM / along, UPRIGHT_LINE_MM / upright)
    wide, high = BLOCK_MM[0] * scale[0], BLOCK_MM[1] * scale[1]
    margin = ((size[0] - wide) / 2, (size[1] - high) / 2)
    placed = moved(scaled(block, scale), *margin)
    head = (
        "Print at 100 %, never fit to page. Each piece is 250.0 mm from joint line to joint line."
    )
    words: list[Shape] = [
        Words((margin[0], size[1] - margin[1] + 2.0), head, PAGE_WORDS_MM),
        Words((margin[0], margin[1] - 5.0), foot, PAGE_WORDS_MM),
    ]
    return Page(size, tuple(placed + words))


def _refuse_wrong(order: StripOrder) -> None:
    if not 0 <= order.cards <= LAST_BOARD:
        raise SettingsError(
            f"cards for {order.cards} boards were asked for", f"ask for 0 to {LAST_BOARD}"
        )
    refuse_measured(order.paper, order.measured_mm)


def refuse_measured(paper: Paper, measured_mm: tuple[float, float] | None) -> None:
    """Refuse check lines that cannot be right, or that no page has room to make up for."""
    if measured_mm is None:
        return
    size = PAPER_MM[paper]
    for measured, told, room, block, name in (
        (measured_mm[0], PIECE_MM, size[0], BLOCK_MM[0], "250.0 mm"),
        (measured_mm[1], UPRIGHT_LINE_MM, size[1], BLOCK_MM[1], "upright 180.0 mm"),
    ):
        if not 0.9 < measured / told < 1.1:
            raise SettingsError(
                f"the {name} line cannot measure {measured:.1f} mm",
                "measure it again on a page printed at 100 %",
            )
        if block * told / measured > room - 2 * PRINTER_MARGIN_MM:
            raise SettingsError(
                f"a print corrected for a {name} line of {measured:.1f} mm does not fit the page",
                "switch off fit to page in the print window and print it again without --measured",
            )


def strip_pages(order: StripOrder) -> tuple[Page, ...]:
    """Return all pages of an order.

    Raises
    ------
    SettingsError
        A strip too long, too many cards, or a measured check line that cannot be right.
    """
    _refuse_wrong(order)
    try:
        count = pieces_for(order.length_mm)
    except ValueError:
        raise SettingsError(
            f"a strip of {order.length_mm:.0f} mm cannot be made", "ask for 10 in to 16 ft"
        ) from None
    reference: Piece = "B" if order.second else "A"
    groups: list[tuple[list[list[Shape]], str]] = []
    for first in range(0, count, PIECES_PER_PAGE):
        indices = range(first, min(count, first + PIECES_PER_PAGE))
        low = id_of(reference, indices[0] * MARKERS_PER_PIECE)
        high = id_of(reference, (indices[-1] + 1) * MARKERS_PER_PIECE - 1)
        rows = [strip_piece(reference, index) for index in indices]
        groups.append((rows, f"strip {reference}, markers {low} to {high}"))
    if order.arm:
        low, high = id_of("arm", 0), id_of("arm", 5)
        groups.append(([arm_piece(0), arm_piece(1)], f"cross arm, markers {low} to {high}"))
    cards = [(board, face) for board in range(1, order.cards + 1) for face in (1, 2)]
    for first in range(0, len(cards), CARDS_PER_PAGE):
        groups.append((_card_rows(cards[first : first + CARDS_PER_PAGE]), "board cards"))
    pages = []
    for index, (rows, what) in enumerate(groups):
        foot = f"page {index + 1} of {len(groups)}: {what}"
        pages.append(printed_page(rows, order.paper, order.measured_mm, foot))
    return tuple(pages)


def _card_rows(cards: list[tuple[int, int]]) -> list[list[Shape]]:
    """Return cards two a row: the two faces of a board beside each other."""
    return [
        [
            shape
            for place, card in enumerate(cards[row : row + 2])
            for shape in moved(_card(*card), place * (CARD_MM[0] + 2.0), 0.0)
        ]
        for row in range(0, len(cards), 2)
    ]


def _card(board: int, face: int) -> list[Shape]:
    """Return a card about the middle of its left border: what it says, for people and cameras."""
    right = CARD_MARKER_X_MM + 26.0
    shapes = card_marker_shapes(card_id(board, face), CARD_MARKER_X_MM, 0.0)
    shapes += [
        Words((right, 9.0), f"board {board}", 7.0),
        Words((right, -4.0), f"face {face}", 7.0),
        Words((right, -14.0), "end A lies here", 3.2),
        Words((right, -21.0), "on the floor at the end, not on the wood", 2.0, 0.3),
    ]
    shapes += [Stroke((0.0, y), (CARD_MM[0], y), 0.1, _GREY) for y in (-_HALF, _HALF)]
    shapes += [Stroke((x, -_HALF), (x, _HALF), 0.1, _GREY) for x in (0.0, CARD_MM[0])]
    return shapes
