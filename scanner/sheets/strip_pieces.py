"""One piece of strip or cross arm: markers, graduations, joint lines, glue tab, name."""

from __future__ import annotations

from scanner.geometry.strip_layout import (
    ARM_PIECE_MM,
    GRADUATION_BAND_MM,
    MARKERS_PER_PIECE,
    PIECE_MM,
    STRIP_WIDTH_MM,
    TAB_MM,
    Piece,
    centre_mm,
    id_of,
)
from scanner.sheets.strip_shapes import Area, Shape, Stroke, Words, marker_shapes
from scanner.units import MM_PER_INCH

_HALF = STRIP_WIDTH_MM / 2
_GREY = 0.55


def _graduations(first_mm: float, length_mm: float) -> list[Shape]:
    """Return the graduations of a piece that starts so far from zero, about its axis."""
    shapes: list[Shape] = []
    for quarter in range(
        int(first_mm / MM_PER_INCH * 4), int((first_mm + length_mm) / MM_PER_INCH * 4) + 1
    ):
        x = quarter * MM_PER_INCH / 4 - first_mm
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


def joint_shapes(length_mm: float) -> list[Shape]:
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
    inch = round((first + PIECE_MM / 2) / MM_PER_INCH) * MM_PER_INCH - first
    shapes += _name(f"{reference} {index + 1:02d}", inch + 5.5)
    return shapes + joint_shapes(PIECE_MM)


def arm_piece(index: int) -> list[Shape]:
    """Return one of the two pieces of the cross arm."""
    shapes: list[Shape] = []
    for number in range(3 * index, 3 * index + 3):
        x = centre_mm(number) - index * ARM_PIECE_MM
        shapes += marker_shapes(id_of("arm", number), x, 0.0)
    shapes += _name(f"arm {index + 1:02d}", 60.0)
    return shapes + joint_shapes(ARM_PIECE_MM)
