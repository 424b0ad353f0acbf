"""What found no place: one line for each reason beside the boards, all of it after the cuts."""

import re
from collections.abc import Sequence
from dataclasses import dataclass

from scanner.placement.layout import Unplaced
from scanner.sheets.fonts import shortened, text_width
from scanner.sheets.paper import MARGIN
from scanner.sheets.under_way import Sheets, write_paragraph

_FOOT, _LINE, _SIZE = 12.0, 13.0, 9.5
_GAP = 8.0
# A reason may take so much of its line before the names beside it are cut short.
_MOST_FOR_REASON = 0.6
_NO_ROOM = re.compile(r"more (?:copies|parts) than the wood has room for\b.*")
_SIZED = re.compile(r" over [\d/ .]+(?:in|mm)? ?[x×] ?[\d/ .]+(?:in|mm)$")


@dataclass(frozen=True, slots=True)
class _Line:
    """What one line says: the parts in bold, why, and whether that is all there is to say."""

    names: str
    why: str
    is_all: bool


def write_gist(sheets: Sheets, unplaced: Sequence[Unplaced], wide: float) -> None:
    """Write what is missing and why: one line a reason, with the parts that share it."""
    for rows in _by_gist(unplaced):
        line = _line(rows, wide)
        sheets.need(_LINE)
        sheets.sketch.text(MARGIN, sheets.y + 9.0, line.names, _SIZE, bold=True)
        x = MARGIN + text_width(line.names, _SIZE, bold=True) + _GAP
        sheets.sketch.text(x, sheets.y + 9.0, line.why, _SIZE)
        sheets.y += _LINE


def write_reasons(sheets: Sheets, unplaced: Sequence[Unplaced]) -> None:
    """Write in full what the lines left out, and what would let those parts fit."""
    wide = sheets.sketch.width - 2 * MARGIN
    long = [rows for rows in _by_gist(unplaced) if not _line(rows, wide).is_all]
    if not long:
        return
    sheets.need(18.0 + 3 * _LINE)
    title = "What was not placed, and why"
    sheets.sketch.text(MARGIN, sheets.y + 11.0, title, 11.0, bold=True)
    sheets.y += 18.0
    for group in long:
        for rows in _by_words(group):
            first = rows[0]
            nearest = f" ({first.nearest})" if first.nearest else ""
            text = f"{', '.join(_counted(row) for row in rows)}: {first.reason}{nearest}"
            write_paragraph(sheets, text, wide, bold=False)
    sheets.y += _FOOT


def _by_gist(unplaced: Sequence[Unplaced]) -> list[list[Unplaced]]:
    groups: dict[str, list[Unplaced]] = {}
    for row in unplaced:
        groups.setdefault(_gist(row.reason), []).append(row)
    return list(groups.values())


def _by_words(unplaced: Sequence[Unplaced]) -> list[list[Unplaced]]:
    """Return rows together that say the same in every word."""
    groups: dict[tuple[str, str], list[Unplaced]] = {}
    for row in unplaced:
        groups.setdefault((row.reason, row.nearest), []).append(row)
    return list(groups.values())


def _gist(reason: str) -> str:
    """Return a reason without what differs from part to part: who could give it, and the size."""
    if _NO_ROOM.fullmatch(reason):
        return "no room left beside what counts for more"
    return _SIZED.sub(" over its size", reason)


def _line(rows: Sequence[Unplaced], wide: float) -> _Line:
    """Return one line for parts of one gist; names that do not fit are counted."""
    # A reason of one part's own is told with its size and what came nearest where that fits.
    why, is_all = _gist(rows[0].reason), False
    if len(_by_words(rows)) == 1:
        nearest = f" ({rows[0].nearest})" if rows[0].nearest else ""
        full = f"{rows[0].reason}{nearest}"
        whole = _titled(rows, len(rows))
        if _fits(whole, full, wide):
            why, is_all = full, True
    why = why[:1].upper() + why[1:]
    shown = next(
        (n for n in range(len(rows), 1, -1) if _fits(_titled(rows, n), why, wide)),
        1,
    )
    names = shortened(_titled(rows, shown), (1 - _MOST_FOR_REASON) * wide, _SIZE, bold=True)
    names = _titled(rows, shown) if _fits(_titled(rows, shown), why, wide) else names
    room = wide - text_width(names, _SIZE, bold=True) - _GAP
    return _Line(names, shortened(why, room, _SIZE), is_all)


def _fits(names: str, why: str, wide: float) -> bool:
    return text_width(names, _SIZE, bold=True) + _GAP + text_width(why, _SIZE) <= wide


def _titled(rows: Sequence[Unplaced], shown: int) -> str:
    said = ", ".join(_counted(row) for row in rows[:shown])
    more = len(rows) - shown
    return f"Not placed: {said}{f' and {more} more' if more else ''}"


def _counted(row: Unplaced) -> str:
    return f"{row.copies} × {row.part}"
