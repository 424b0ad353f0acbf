"""What found no place: one line each beside the boards, all of it after the cuts."""

import re

from scanner.lot.totals import unplaced_text
from scanner.placement.layout import Unplaced
from scanner.sheets.fonts import text_width, wrapped
from scanner.sheets.layout_pages import Sheets, write_paragraph
from scanner.sheets.paper import MARGIN

_FOOT, _LINE, _SIZE = 12.0, 13.0, 9.5


def write_gist(sheets: Sheets, row: Unplaced, wide: float) -> None:
    """Write what is missing and why on one line: all of it where it fits, else the gist."""
    what, room = _what(row), _room(row, wide)
    sheets.need(_LINE)
    sheets.sketch.text(MARGIN, sheets.y + 9.0, what, _SIZE, bold=True)
    why = _why(row)
    if text_width(why, _SIZE) > room:
        gist = wrapped(re.split(r": |; ", row.reason, maxsplit=1)[0] + " …", room, _SIZE)
        why = gist[0] if len(gist) == 1 else f"{gist[0]} …"
    sheets.sketch.text(MARGIN + wide - room, sheets.y + 9.0, why, _SIZE)
    sheets.y += _LINE


def write_reasons(sheets: Sheets) -> None:
    """Write in full what did not fit on one line, and what would let those parts fit."""
    wide = sheets.sketch.width - 2 * MARGIN
    long = [row for row in sheets.figures.unplaced
            if text_width(_why(row), _SIZE) > _room(row, wide)]  # fmt: skip
    if not long:
        return
    sheets.need(18.0 + 3 * _LINE)
    title = "What was not placed, and why"
    sheets.sketch.text(MARGIN, sheets.y + 11.0, title, 11.0, bold=True)
    sheets.y += 18.0
    for row in long:
        write_paragraph(sheets, unplaced_text(row), wide, bold=False)
    sheets.y += _FOOT


def _what(row: Unplaced) -> str:
    return f"Not placed: {row.copies} × {row.part}"


def _why(row: Unplaced) -> str:
    why = unplaced_text(row)[len(_what(row)) + 2 :]
    return why[:1].upper() + why[1:]


def _room(row: Unplaced, wide: float) -> float:
    return wide - text_width(_what(row), _SIZE, bold=True) - 8.0
