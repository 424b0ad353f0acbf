"""What is printed on the pages of strip, cross arm and cards, as shapes in mm.

Shapes are apart from the PDF so that they can be drawn otherwise and read back. Page frame: mm,
x right, y up from the lower left corner of the landscape page.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from scanner.errors import SettingsError
from scanner.geometry.marker_codes import MODULES, marker_modules
from scanner.geometry.strip_layout import (
    ARM_PIECE_MM,
    FIRST_CARD_ID,
    GRADUATION_BAND_MM,
    LAST_CARD_ID,
    MARKER_MM,
    MARKERS_PER_PIECE,
    MODULE_MM,
    PIECE_MM,
    STRIP_WIDTH_MM,
    TAB_MM,
    Piece,
    centre_mm,
    id_of,
    pieces_for,
)

Paper = Literal["a4", "letter"]
# ISO 216 and ANSI/ASME Y14.1, landscape, mm.
PAPER_MM: dict[Paper, tuple[float, float]] = {"a4": (297.0, 210.0), "letter": (279.4, 215.9)}
PIECES_PER_PAGE = 3
ROW_GAP_MM = 4.0
BLOCK_MM = (PIECE_MM + TAB_MM, PIECES_PER_PAGE * STRIP_WIDTH_MM + 2 * ROW_GAP_MM)
UPRIGHT_LINE_MM = 180.0
# No common printer reaches nearer to the paper's border.
PRINTER_MARGIN_MM = 4.0
INCH_MM = 25.4
CARDS_PER_PAGE = 6
CARD_MM = (124.0, 60.0)
_HALF = STRIP_WIDTH_MM / 2
_GREY = 0.55


@dataclass(frozen=True, slots=True)
class Area:
    """A filled polygon; grey 0 is black, 1 white."""

    points: tuple[tuple[float, float], ...]
    grey: float = 0.0


@dataclass(frozen=True, slots=True)
class Stroke:
    """A straight line of some width, mm."""

    start: tuple[float, float]
    stop: tuple[float, float]
    width: float = 0.3
    grey: float = 0.0


@dataclass(frozen=True, slots=True)
class Words:
    """Text with the height of its capitals, mm, starting at a point (or centred on it)."""

    at: tuple[float, float]
    text: str
    height: float = 2.5
    grey: float = 0.0
    centred: bool = False
    turn_deg: float = 0.0


Shape = Area | Stroke | Words


@dataclass(frozen=True, slots=True)
class Page:
    """One landscape page: its size and what is on it, mm."""

    size_mm: tuple[float, float]
    shapes: tuple[Shape, ...]


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
        How many board cards.
    measured_mm
        What the 250.0 mm and the upright 180.0 mm line of a first print really measure.
    """

    length_mm: float
    paper: Paper = "a4"
    second: bool = False
    arm: bool = False
    cards: int = 0
    measured_mm: tuple[float, float] | None = None


def _box(x: float, y: float, width: float, height: float, grey: float = 0.0) -> Area:
    return Area(((x, y), (x + width, y), (x + width, y + height), (x, y + height)), grey)


def marker_shapes(marker_id: int, x: float, y: float) -> list[Shape]:
    """Return a marker about its centre: a black square and its white modules."""
    left, top = x - MARKER_MM / 2, y + MARKER_MM / 2
    shapes: list[Shape] = [_box(left, top - MARKER_MM, MARKER_MM, MARKER_MM)]
    modules = marker_modules(marker_id)
    for row in range(MODULES):
        column = 0
        while column < MODULES:
            run = 0
            while column + run < MODULES and modules[row, column + run]:
                run += 1
            if run:
                # One box a run: no hairlines between neighbouring white modules.
                place = (left + column * MODULE_MM, top - (row + 1) * MODULE_MM)
                shapes.append(_box(*place, run * MODULE_MM, MODULE_MM, 1.0))
            column += max(1, run)
    return shapes


def _graduations(first_mm: float, length_mm: float) -> list[Shape]:
    """Return the graduations of a piece that starts so far from zero, about its axis."""
    shapes: list[Shape] = []
    for quarter in range(
        int(first_mm / INCH_MM * 4), int((first_mm + length_mm) / INCH_MM * 4) + 1
    ):
        x = quarter * INCH_MM / 4 - first_mm
        if not 0 <= x <= length_mm:
            continue
        tall = (5.0, 2.0, 3.0, 2.0)[quarter % 4]
        shapes.append(Stroke((x, -_HALF), (x, -_HALF + tall)))
        if quarter % 4 == 0 and 1.0 < x < length_mm - 6:
            shapes.append(Words((x + 0.7, -_HALF + 3.3), str(quarter // 4), 2.4))
    for cm in range(int(first_mm / 10), int((first_mm + length_mm) / 10) + 1):
        x = cm * 10 - first_mm
        if not 0 <= x <= length_mm:
            continue
        tall = 5.0 if cm % 5 == 0 else 3.0
        shapes.append(Stroke((x, _HALF), (x, _HALF - tall)))
        if 1.0 < x < length_mm - 6:
            shapes.append(Words((x + 0.7, _HALF - 5.6), str(cm), 2.4))
    return shapes


def _joints(length_mm: float) -> list[Shape]:
    """Return joint lines, the triangles whose tips must meet, and the glue tab."""
    shapes: list[Shape] = []
    for x, inward in ((0.0, 1.0), (length_mm, -1.0)):
        shapes.append(Stroke((x, -_HALF), (x, _HALF), 0.2, _GREY))
        for y in (-_HALF + 3.0, _HALF - 3.0):
            base = x + 3.0 * inward
            shapes.append(Area(((x, y), (base, y + 1.5), (base, y - 1.5))))
    step = 4.0
    lift = -_HALF
    while lift + TAB_MM <= _HALF:
        start, stop = (length_mm, lift), (length_mm + TAB_MM, lift + TAB_MM)
        shapes.append(Stroke(start, stop, 0.2, _GREY))
        lift += step
    for y in (-_HALF, _HALF):
        shapes.append(Stroke((0.0, y), (length_mm + TAB_MM, y), 0.1, _GREY))
    return shapes


def _name(name: str, after_mm: float) -> list[Shape]:
    """Return the piece's name and an arrow to zero, in the outer band."""
    y = -_HALF + GRADUATION_BAND_MM - 2.6
    tip = after_mm + 12.0
    return [
        Words((after_mm, y + 0.1), name, 2.0),
        Stroke((tip, y + 1.0), (tip + 5.0, y + 1.0), 0.3),
        Area(((tip - 1.5, y + 1.0), (tip, y + 1.8), (tip, y + 0.2))),
    ]


def strip_piece(reference: Piece, index: int) -> list[Shape]:
    """Return one piece of a strip about its left joint line and its axis."""
    first = index * PIECE_MM
    shapes: list[Shape] = []
    for number in range(index * MARKERS_PER_PIECE, (index + 1) * MARKERS_PER_PIECE):
        shapes += marker_shapes(id_of(reference, number), centre_mm(number) - first, 0.0)
    shapes += _graduations(first, PIECE_MM)
    # Beside the number of the inch nearest the middle there is room.
    inch = round((first + PIECE_MM / 2) / INCH_MM) * INCH_MM - first
    shapes += _name(f"{reference} {index + 1:02d}", inch + 5.5)
    return shapes + _joints(PIECE_MM)


def arm_piece(index: int) -> list[Shape]:
    """Return one of the two pieces of the cross arm."""
    shapes: list[Shape] = []
    for number in range(3 * index, 3 * index + 3):
        x = centre_mm(number) - index * ARM_PIECE_MM
        shapes += marker_shapes(id_of("arm", number), x, 0.0)
    shapes += _name(f"arm {index + 1:02d}", 60.0)
    return shapes + _joints(ARM_PIECE_MM)


def _moved(shapes: list[Shape], x: float, y: float) -> list[Shape]:
    out: list[Shape] = []
    for shape in shapes:
        match shape:
            case Area(points, grey):
                out.append(Area(tuple((a + x, b + y) for a, b in points), grey))
            case Stroke((a, b), (c, d), width, grey):
                out.append(Stroke((a + x, b + y), (c + x, d + y), width, grey))
            case Words((a, b), text, height, grey, centred, turn):
                out.append(Words((a + x, b + y), text, height, grey, centred, turn))
    return out


def _scaled(shapes: list[Shape], scale: tuple[float, float]) -> list[Shape]:
    """Return shapes stretched along and up the page; line widths and letters stay."""
    sx, sy = scale
    out: list[Shape] = []
    for shape in shapes:
        match shape:
            case Area(points, grey):
                out.append(Area(tuple((a * sx, b * sy) for a, b in points), grey))
            case Stroke((a, b), (c, d), width, grey):
                out.append(Stroke((a * sx, b * sy), (c * sx, d * sy), width, grey))
            case Words((a, b), text, height, grey, centred, turn):
                out.append(Words((a * sx, b * sy), text, height, grey, centred, turn))
    return out


def _upright_line() -> list[Shape]:
    """Return the upright check line in the tab column of a block."""
    x = PIECE_MM + TAB_MM / 2
    low = (BLOCK_MM[1] - UPRIGHT_LINE_MM) / 2
    high = low + UPRIGHT_LINE_MM
    shapes: list[Shape] = [Stroke((x, low), (x, high), 0.2)]
    shapes += [Stroke((x - 2, y), (x + 2, y), 0.2) for y in (low, high)]
    text = f"check: {UPRIGHT_LINE_MM:.1f} mm"
    return [*shapes, Words((x + 2.8, BLOCK_MM[1] / 2 - 12), text, 2.0, turn_deg=90.0)]


def _page(rows: list[list[Shape]], order: StripOrder, foot: str) -> Page:
    size = PAPER_MM[order.paper]
    block: list[Shape] = []
    for row, shapes in enumerate(rows):
        y = BLOCK_MM[1] - _HALF - row * (STRIP_WIDTH_MM + ROW_GAP_MM)
        block += _moved(shapes, 0.0, y)
    block += _upright_line()
    along, upright = order.measured_mm or (PIECE_MM, UPRIGHT_LINE_MM)
    scale = (PIECE_MM / along, UPRIGHT_LINE_MM / upright)
    wide, high = BLOCK_MM[0] * scale[0], BLOCK_MM[1] * scale[1]
    margin = ((size[0] - wide) / 2, (size[1] - high) / 2)
    placed = _moved(_scaled(block, scale), *margin)
    head = (
        "Print at 100 %, never fit to page. Each piece is 250.0 mm from joint line to joint line."
    )
    words: list[Shape] = [
        Words((margin[0], size[1] - margin[1] + 2.0), head, 2.6),
        Words((margin[0], margin[1] - 5.0), foot, 2.6),
    ]
    return Page(size, tuple(placed + words))


def _refuse_wrong(order: StripOrder) -> None:
    if order.cards < 0 or order.cards > LAST_CARD_ID - FIRST_CARD_ID + 1:
        most = LAST_CARD_ID - FIRST_CARD_ID + 1
        raise SettingsError(f"{order.cards} board cards were asked for", f"ask for 0 to {most}")
    if order.measured_mm is None:
        return
    size = PAPER_MM[order.paper]
    for measured, told, room, block, name in (
        (order.measured_mm[0], PIECE_MM, size[0], BLOCK_MM[0], "250.0 mm"),
        (order.measured_mm[1], UPRIGHT_LINE_MM, size[1], BLOCK_MM[1], "upright 180.0 mm"),
    ):
        if not 0.9 < measured / told < 1.1:
            raise SettingsError(
                f"the {name} line cannot measure {measured:.1f} mm",
                "measure it again on a page printed at 100 %",
            )
        if block * told / measured > room - 2 * PRINTER_MARGIN_MM:
            raise SettingsError(
                f"a strip corrected for a {name} line of {measured:.1f} mm does not fit the page",
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
    for first in range(0, order.cards, CARDS_PER_PAGE):
        numbers = range(first, min(order.cards, first + CARDS_PER_PAGE))
        groups.append((_card_rows(numbers), "board cards"))
    pages = []
    for index, (rows, what) in enumerate(groups):
        pages.append(_page(rows, order, f"page {index + 1} of {len(groups)}: {what}"))
    return tuple(pages)


def _card_rows(numbers: range) -> list[list[Shape]]:
    """Return cards two a row: a marker, and room to write board and face on."""
    rows: list[list[Shape]] = []
    for place, number in enumerate(numbers):
        if place % 2 == 0:
            rows.append([])
        left = (place % 2) * (CARD_MM[0] + 2.0)
        shapes = marker_shapes(FIRST_CARD_ID + number, 30.0, 0.0)
        for y, label in ((12.0, "board"), (0.0, "face"), (-12.0, "end A lies here")):
            shapes.append(Words((58.0, y), label, 2.6))
            shapes.append(Stroke((58.0, y - 2.0), (118.0, y - 2.0), 0.2, _GREY))
        shapes.append(Words((58.0, -24.0), f"card {number + 1}", 2.0))
        shapes.append(Stroke((0.0, -_HALF), (CARD_MM[0], -_HALF), 0.1, _GREY))
        shapes.append(Stroke((0.0, _HALF), (CARD_MM[0], _HALF), 0.1, _GREY))
        shapes.append(Stroke((CARD_MM[0], -_HALF), (CARD_MM[0], _HALF), 0.1, _GREY))
        rows[-1] += _moved(shapes, left, 0.0)
    return rows
