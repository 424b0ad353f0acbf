"""The pages of a story stick: paper tape at full size, in pieces of 250 mm to be joined."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from scanner.geometry.strip_layout import PIECE_MM, PIECES_PER_PAGE, STRIP_WIDTH_MM
from scanner.lot.totals import NOT_LOOKED_OVER
from scanner.sheets.fonts import shortened, text_width, wrapped
from scanner.sheets.strip_pages import BLOCK_MM, PAGE_WORDS_MM, Paper, printed_page, refuse_measured
from scanner.sheets.strip_pieces import joint_shapes
from scanner.sheets.strip_shapes import Area, Page, Shape, Stroke, Words
from scanner.units import MM_PER_INCH

if TYPE_CHECKING:
    from scanner.sheets.story_stick import StickCut, StickPart, StickSpan, StoryStick

_HALF = STRIP_WIDTH_MM / 2
_GREY = 0.6
# From the taped edge inwards: graduations, then parts in rows, then what is said of the piece.
_RULED_MM = 10.0
_ROWS_FROM_MM, _ROWS_TO_MM = 12.0, 40.0
_TALLEST_ROW_MM = 11.0
_SAID_MM, _SAID_LINES = 2.0, 3
# The height of a knot's words, and how far they stand from its middle.
_KNOT_MM, _BESIDE_MM = 2.0, 3.2
# The triangles at the joints, and how far words keep from them and from a cut's line.
_TIP_MM, _CLEAR_MM = 3.0, 1.0
# The height of the figures along the taped edge, and of the words at the foot.
_FIGURE_MM, _FOOT_MM = 2.2, 2.0
# Stands for a space at which no line may break.
_TIED = "~"
# Font sizes and capital heights differ; widths are wanted for capitals of so many mm.
_CAPITAL_SHARE = 0.729
# A tape goes to the saw without the board map, which has the other cautions.
_CARE = "Look before you cut; no rough wood on a table saw; heed the map's cautions."


def stick_pages(
    stick: StoryStick, paper: Paper, measured_mm: float | None = None
) -> tuple[Page, ...]:
    """Return the pages of a story stick, three pieces a page.

    Parameters
    ----------
    measured_mm
        What the 250.0 mm between the joint lines of a former print really measures.

    Raises
    ------
    SettingsError
        A measured length that cannot be right.
    """
    both = None if measured_mm is None else (measured_mm, measured_mm * 180.0 / PIECE_MM)
    refuse_measured(paper, both)
    count = max(1, math.ceil(stick.length_mm / PIECE_MM - 1e-6))
    rows = [_piece(stick, number, count) for number in range(count)]
    groups = [rows[n : n + PIECES_PER_PAGE] for n in range(0, count, PIECES_PER_PAGE)]
    return tuple(
        printed_page(group, paper, both, _page_words(stick, f"page {number} of {len(groups)}"))
        for number, group in enumerate(groups, 1)
    )


def _page_words(stick: StoryStick, page: str) -> str:
    """Return a page's last line; a long name is cut there, since each piece has the whole."""
    before, after = f"{page}: story stick of board ", f". {_CARE}"
    if not stick.is_looked_over:
        after = f", {NOT_LOOKED_OVER}{after}"
    room = BLOCK_MM[0] - text_width(before + after, PAGE_WORDS_MM / _CAPITAL_SHARE)
    return f"{before}{_fitted(stick.board, room, PAGE_WORDS_MM)}{after}"


def _piece(stick: StoryStick, number: int, count: int) -> list[Shape]:
    """Return one piece about its left joint line and its axis, the taped edge below."""
    first = number * PIECE_MM
    shapes = joint_shapes(PIECE_MM)
    shapes += _graduations(first, stick)
    for span in stick.spans:
        shapes += _span(span, first)
    most = 1 + max((part.row for part in stick.parts), default=0)
    for part in stick.parts:
        shapes += _part(part, first, most)
    shapes += _knots(stick, first)
    for cut in stick.cuts:
        if -1.0 <= cut.at_mm - first <= PIECE_MM + 1.0:
            shapes += _cut(cut, first)
    name = f"board {stick.board}, piece {number + 1} of {count}"
    hook = f"ruled edge on the {stick.edge.name} edge of face 1, A to the left"
    if number == 0:
        hook = f"0 on the corner at end A, {hook}"
    if stick.edge.name == "far":
        # The far edge lies above the tape: all is turned so that the words stay upright.
        shapes = [_turned_over(shape) for shape in shapes]
    away = -1.0 if stick.edge.name == "far" else 1.0
    shapes += _foot(f"{name}: {hook}", away * (_HALF - 3.0) - 1.0, first, stick)
    for span in stick.spans:
        shapes += _said(span, first, away)
    return shapes


def _foot(text: str, y: float, first: float, stick: StoryStick) -> list[Shape]:
    """Return the words that name a piece, where no cut crosses them if there is such a place."""
    wide = text_width(text, _FOOT_MM / _CAPITAL_SHARE)
    low, high = 2 * _TIP_MM, PIECE_MM - _TIP_MM - _CLEAR_MM
    lines = sorted(x for cut in stick.cuts if low < (x := cut.at_mm - first) < high)
    starts = [low, *(x + _CLEAR_MM for x in lines)]
    ends = [*(x - _CLEAR_MM for x in lines), high]
    free = (a for a, b in zip(starts, ends, strict=True) if b - a >= wide)
    x = next(free, low)
    # Between cuts too close for it the line breaks off below the words.
    return [_sheet(x, y - 0.6, wide, _FOOT_MM + 1.2), Words((x, y), text, _FOOT_MM)]


def _graduations(first: float, stick: StoryStick) -> list[Shape]:
    """Return ticks along the taped edge, every 10 mm or quarter inch, numbered as they run."""
    step, numbered = (MM_PER_INCH / 4, 4) if stick.units == "inch" else (10.0, 10)
    shapes: list[Shape] = []
    for k in range(math.ceil(first / step - 1e-9), math.floor((first + PIECE_MM) / step) + 1):
        x = k * step - first
        if k * step > stick.length_mm:
            break
        tall = 6.0 if k % numbered == 0 else 4.0 if k % (numbered // 2) == 0 else 2.5
        shapes.append(Stroke((x, -_HALF), (x, -_HALF + tall), 0.2))
        if k % numbered == 0:
            shapes += _figure(x, str(k // 4) if stick.units == "inch" else str(k * 10))
    return shapes


def _figure(x: float, text: str) -> list[Shape]:
    """Return a graduation's figure beside its tick, clear of the triangles at both joints."""
    start = max(x + 0.7, _TIP_MM + _CLEAR_MM)
    end = start + text_width(text, _FIGURE_MM / _CAPITAL_SHARE)
    if end > PIECE_MM - _TIP_MM - _CLEAR_MM:
        return []
    return [Words((start, -_HALF + 3.6), text, _FIGURE_MM)]


def _span(span: StickSpan, first: float) -> list[Shape]:
    low, high = max(0.0, span.from_mm - first), min(PIECE_MM, span.to_mm - first)
    if span.piece is not None or high <= low:
        return []
    return _keep(low, high, span.keep) if span.keep else _waste(low, high)


def _said(span: StickSpan, first: float, away: float) -> list[Shape]:
    """Return which piece this is and its rips, on the side away from the taped edge."""
    low, high = max(0.0, span.from_mm - first), min(PIECE_MM, span.to_mm - first)
    room = high - low - 6.0
    if span.piece is None or room < 30.0:
        return []
    told = f"piece {span.piece}"
    if span.rips:
        # A figure broken from its fraction would be read as another one.
        whole = ", ".join(rip.replace(" ", _TIED) for rip in span.rips)
        told += f"; rips in from the far edge, A end to B end: {whole}"
    wide = wrapped(told, room, _SAID_MM / _CAPITAL_SHARE)
    lines = [line.replace(_TIED, " ") for line in wide]
    if len(lines) > _SAID_LINES:
        lines = [*lines[: _SAID_LINES - 1], "… the rest on the board's map"]
    top = _HALF - 9.0 if away > 0 else -_HALF + 6.0 + 3.4 * (len(lines) - 1)
    return [
        Words((low + 3.0, top - 3.4 * number), line, _SAID_MM) for number, line in enumerate(lines)
    ]


def _waste(low: float, high: float) -> list[Shape]:
    """Return slanting lines over wood that falls off."""
    shapes: list[Shape] = []
    bottom, top = -_HALF + _ROWS_FROM_MM, -_HALF + _ROWS_TO_MM
    tall = top - bottom
    x = low - tall
    while x < high:
        a, b = max(x, low), min(x + tall, high)
        if b > a:
            shapes.append(Stroke((a, bottom + a - x), (b, bottom + b - x), 0.15, _GREY))
        x += 6.0
    if high - low > 20.0:
        middle = (low + high) / 2
        shapes.append(_sheet(middle - 8.0, bottom + tall / 2 - 2.5, 16.0, 5.5))
        shapes.append(Words((middle, bottom + tall / 2 - 1.0), "waste", 2.4, centred=True))
    return shapes


def _keep(low: float, high: float, size: str) -> list[Shape]:
    """Return a bare stretch with the left-over in it: nobody shall saw it up as waste."""
    middle = -_HALF + (_ROWS_FROM_MM + _ROWS_TO_MM) / 2
    room = high - low - 4.0
    # Never half a size: "400 × 22…" would be taken for another one.
    for words in (f"keep {size}, see the map", "keep, see the map", "keep"):
        if text_width(words, 2.4 / _CAPITAL_SHARE) <= room:
            break
    else:
        return []
    return [Words(((low + high) / 2, middle - 1.0), words, 2.4, centred=True)]


def _part(part: StickPart, first: float, rows: int) -> list[Shape]:
    low, high = part.from_mm - first, part.to_mm - first
    if high <= 0 or low >= PIECE_MM:
        return []
    tall = min(_TALLEST_ROW_MM, (_ROWS_TO_MM - _ROWS_FROM_MM) / rows)
    y = -_HALF + _ROWS_FROM_MM + part.row * tall
    a, b = max(0.0, low), min(PIECE_MM, high)
    shapes: list[Shape] = [Stroke((a, y + t), (b, y + t), 0.3) for t in (0.6, tall - 0.6)]
    shapes += [
        Stroke((x, y + 0.6), (x, y + tall - 0.6), 0.3) for x in (low, high) if 0 <= x <= PIECE_MM
    ]
    height = min(3.2, tall - 3.4)
    title = _fitted(part.title, b - a - 4.0, height)
    if title:
        shapes.append(Words(((a + b) / 2, y + (tall - height) / 2), title, height, centred=True))
    return shapes


def _cut(cut: StickCut, first: float) -> list[Shape]:
    """Return a line over the whole tape, a cross on the side that the kerf takes, and its name."""
    x = cut.at_mm - first
    shapes: list[Shape] = [Stroke((x, -_HALF), (x, _HALF), 0.5)]
    side = x + cut.kerf_side * 3.2
    y = -_HALF + _RULED_MM - 1.0
    shapes += [
        Stroke((side - 1.6, y - 1.6 * slope), (side + 1.6, y + 1.6 * slope), 0.3)
        for slope in (1, -1)
    ]
    if 3.0 < x < PIECE_MM:
        # The name stands on the side that falls off, on a clean ground.
        right = x + 3.6 if cut.kerf_side > 0 else x - 1.2
        low, tall = -_HALF + _ROWS_FROM_MM + 1.0, 1.2 * len(cut.text) * 1.6
        shapes.append(_sheet(right - 2.9, low - 0.6, 3.4, tall))
        shapes.append(Words((right, low), cut.text, 2.4, turn_deg=90.0))
    return shapes


def _knots(stick: StoryStick, first: float) -> list[Shape]:
    """Return the knots of a piece, those that lie too close for a word each under one."""
    here = sorted(
        (knot.at_mm - first, knot.text)
        for knot in stick.knots
        if 0 <= knot.at_mm - first < PIECE_MM
    )
    groups: list[list[tuple[float, str]]] = []
    for x, text in here:
        if groups and x - groups[-1][-1][0] < _words_mm(text) + 2 * _BESIDE_MM:
            groups[-1].append((x, text))
        else:
            groups.append([(x, text)])
    y = -_HALF + _ROWS_TO_MM + 2.2
    shapes: list[Shape] = []
    for group in groups:
        for x, _ in group:
            ring = tuple((x + 2.0 * math.cos(a), y + 2.0 * math.sin(a)) for a in _ROUND)
            shapes.append(Area(ring, 0.3))
        faces = [text.removeprefix("knot on face ") for _, text in group]
        said = (
            group[0][1] if len(group) == 1 else f"knots, left to right on face {', '.join(faces)}"
        )
        start = group[-1][0] + _BESIDE_MM
        if start + _words_mm(said) > PIECE_MM:
            start = group[0][0] - _BESIDE_MM - _words_mm(said)
        shapes.append(Words((start, y - 1.0), said, _KNOT_MM))
    return shapes


def _words_mm(text: str) -> float:
    return text_width(text, _KNOT_MM / _CAPITAL_SHARE)


def _sheet(x: float, y: float, wide: float, tall: float) -> Area:
    return Area(((x, y), (x + wide, y), (x + wide, y + tall), (x, y + tall)), 1.0)


def _fitted(text: str, room_mm: float, capital_mm: float) -> str:
    return shortened(text, room_mm, capital_mm / _CAPITAL_SHARE)


def _turned_over(shape: Shape) -> Shape:
    """Return a shape with up and down exchanged, its words upright."""
    match shape:
        case Area(points, grey):
            return Area(tuple((x, -y) for x, y in points), grey)
        case Stroke((a, b), (c, d), width, grey):
            return Stroke((a, -b), (c, -d), width, grey)
        case Words((x, y), text, height, grey, centred, turn):
            low = -y if turn == 0 else -y - len(text) * 0.8 * height
            return Words(
                (x, low - (height if turn == 0 else 0.0)), text, height, grey, centred, turn
            )


_ROUND = [2 * math.pi * k / 20 for k in range(20)]
