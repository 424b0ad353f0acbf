"""The layout sheet: all boards of a layout at a glance, cut list, what found no place, figures."""

from collections.abc import Sequence

from scanner.lot.money import Money, lot_cost_lines
from scanner.lot.off_board import flaws_on_wood
from scanner.lot.saws import dangers_said, saws_said
from scanner.lot.totals import (
    NOT_LOOKED_OVER,
    LayoutTotals,
    closing_lines,
    count_text,
    feet_text,
    looked_over_text,
)
from scanner.sheets.content import MapContent
from scanner.sheets.cut_list import AT_MEANS
from scanner.sheets.drawing import GREY, Page, Point, Sketch
from scanner.sheets.face_view import (
    FaceView,
    board_bounds,
    draw_face,
    draw_flaw,
    flaw_shapes,
    view_of,
)
from scanner.sheets.fonts import text_width, wrapped
from scanner.sheets.not_placed import write_gist, write_reasons
from scanner.sheets.paper import MARGIN, PaperName, draw_title
from scanner.sheets.part_keys import PartKeys, key_height, write_key
from scanner.sheets.part_marks import Lettering, draw_offcuts, draw_parts, draw_waste
from scanner.sheets.table import (
    ROW_STEP,
    Column,
    draw_table,
    fitted_columns,
    rows_that_fit,
    stretched,
    width_of,
)
from scanner.sheets.under_way import Sheets, write_paragraph
from scanner.sheets.words import unit_name
from scanner.units import percent_text

# The bottom of a sheet's last lines.
_FOOT = 12.0
_COLUMN_GAP = 26.0
_TALLEST = 84.0
_TABLE = 9.0
# Between two columns of the cut list.
_GAP = 14.0
# What a cut makes may be cut short by so much.
_GIVES = 16.0
# Over and under each face.
_HEAD, _NOTE = 16.0, 13.0
# Largest type of a part's name.
_NAME = 10.0
# Faces stand one under the other if that makes them no smaller than this; beside each other they
# would be half as large.
_LEAST_SHRUNK = 0.6


def layout_sheet(
    contents: Sequence[MapContent],
    figures: LayoutTotals,
    paper: PaperName,
    money: Money | None = None,
) -> tuple[Page, ...]:
    """Return the pages: boards first, then the cut list in sawing order, then what it costs."""
    facts = [
        f"{figures.placed} of {figures.asked} parts placed on {count_text(figures.boards_opened)}, "
        f"{feet_text(figures.board_feet)}",
        f"Yield {percent_text(figures.yield_share)} (finished parts out of the wood of the boards "
        f"used), waste {percent_text(figures.waste_share)}"
        if figures.boards_opened
        else "No board is opened.",
    ]
    status = _status_of(figures)
    sheets = Sheets(
        paper, lambda sketch, lines: draw_title(sketch, "Layout", lines, *status), facts
    )
    _statements(sheets, figures)
    _boards(sheets, contents)
    _cut_list(sheets, contents)
    write_reasons(sheets, figures.unplaced)
    if money is not None:
        _costs(sheets, money)
    return sheets.pages()


def _status_of(figures: LayoutTotals) -> tuple[str, bool]:
    """Return what stands in the title beside it, and whether it warns."""
    missing = len(figures.not_looked_over)
    if not missing:
        return "all boards looked over", False
    return f"{count_text(missing).upper()} {NOT_LOOKED_OVER}", True


def _statements(sheets: Sheets, figures: LayoutTotals) -> None:
    """Write what found no place, who did not look, and that nothing is promised."""
    wide = sheets.sketch.width - 2 * MARGIN
    write_gist(sheets, figures.unplaced, wide)
    for text in closing_lines(figures):
        write_paragraph(sheets, text, wide, bold=False)
    sheets.y += 4.0


def _boards(sheets: Sheets, contents: Sequence[MapContent]) -> None:
    """Draw both faces of each board: one under the other if all fit on the page, else beside."""
    if not contents:
        return
    sizes = [
        (x1 - x0, y1 - y0)
        for x0, y0, x1, y1 in (board_bounds(content.board) for content in contents)
    ]
    full = sheets.sketch.width - 2 * MARGIN
    fixed = len(sizes) * (_HEAD + 2 * _NOTE)
    room_for_faces = sheets.left - fixed
    faces_tall = sum(2 * _scale(size, full) * size[1] for size in sizes)
    shrunk = min(1.0, room_for_faces / faces_tall)
    is_stacked = shrunk >= _LEAST_SHRUNK
    if is_stacked:
        room_for_faces -= sum(
            key_height(_keys(content, _scale(size, full) * shrunk), full)
            for content, size in zip(contents, sizes, strict=True)
        )
        shrunk = min(shrunk, room_for_faces / faces_tall)
    wide = full * shrunk if is_stacked else (full - _COLUMN_GAP) / 2
    for content, size in zip(contents, sizes, strict=True):
        scale = _scale(size, full) * shrunk if is_stacked else _scale(size, wide)
        high = size[1] * scale + _NOTE
        keys = _keys(content, scale)
        faces = _HEAD + (2 * high if is_stacked else high)
        room = faces + key_height(keys, full)
        sheets.need(room)
        below = (MARGIN, sheets.y + _HEAD + high)
        beside = (MARGIN + wide + _COLUMN_GAP, sheets.y + _HEAD)
        _title(sheets.sketch, content, sheets.y)
        _face(sheets.sketch, content, 1, (MARGIN, sheets.y + _HEAD), scale, keys)
        _face(sheets.sketch, content, 2, below if is_stacked else beside, scale, keys)
        write_key(sheets.sketch, keys, MARGIN, sheets.y + faces, full)
        sheets.y += room


def _keys(content: MapContent, scale: float) -> PartKeys:
    """Return the letters that the parts of a board will need at a scale."""
    keys = PartKeys()
    for face in (1, 2):
        _parts(Sketch(0.0, 0.0), content, view_of(content.board, face, 0.0, 0.0, scale), keys)
    return keys


def _scale(size_mm: tuple[float, float], wide: float) -> float:
    return min(wide / size_mm[0], _TALLEST / size_mm[1])


def _title(sketch: Sketch, content: MapContent, y: float) -> None:
    board, totals, units = content.board, content.totals, content.units
    sketch.text(MARGIN, y + 11.0, board.id, 12.0, bold=True)
    x = MARGIN + text_width(board.id, 12.0, bold=True) + 8.0
    told = (
        f"{totals.species}   {totals.quarters}/4   {totals.length.text(units)} long   "
        f"{totals.width.text(units)} wide   {feet_text(totals.board_feet)}   "
    )
    sketch.text(x, y + 11.0, told, 8.5)
    sketch.text(x + text_width(told, 8.5), y + 11.0, looked_over_text(totals), 8.5, bold=True)


def _face(
    sketch: Sketch, content: MapContent, face: int, at: Point, scale: float, keys: PartKeys
) -> None:
    board = content.board
    view = view_of(board, face, *at, scale)
    draw_face(sketch, board, view, content.pictures.get(face))
    draw_waste(sketch, board, content.layout, view, 6.0)
    draw_offcuts(sketch, board, content.layout, view, 7.0, content.units)
    _parts(sketch, content, view, keys)
    for flaw in flaws_on_wood(board, face):
        draw_flaw(sketch, flaw, view, 0.8)
    ends = ("B", "A") if view.mirror_x else ("A", "B")
    below = view.y + view.height + 8.5
    sketch.text(view.x, below, ends[0], 8.0, bold=True)
    sketch.text(view.x + view.width, below, ends[1], 8.0, bold=True, anchor="end")
    turned = board.turned.replace("_", " ")
    note = "face 1" if face == 1 else f"face 2, turned over {turned}"
    if text_width(note, 8.0) < view.width - 30.0:
        sketch.text(view.x + view.width / 2, below, note, 8.0, anchor="middle", color=GREY)
    else:
        sketch.text(view.x + view.width + 6.0, view.y + 8.0, note, 8.0, color=GREY)


def _parts(sketch: Sketch, content: MapContent, view: FaceView, keys: PartKeys) -> None:
    off = flaw_shapes(content.board, view)
    how = Lettering(content.units, sizes=False, largest=_NAME, avoid=off, keys=keys)
    draw_parts(sketch, content.placements, view, content.parts, how)


def _cut_list(sheets: Sheets, contents: Sequence[MapContent]) -> None:
    """Write the cuts of all boards in sawing order, in columns that run over the pages."""
    if not any(content.cuts for content in contents):
        return
    headings, rows = _cut_table(contents)
    room = sheets.sketch.width - 2 * MARGIN
    # Smaller type where that lets two columns stand side by side.
    for size in (_TABLE, 8.5, 8.0, _TABLE):
        columns = fitted_columns(headings, rows, size)
        across = max(1, min(3, int((room + _GAP) / (width_of(columns) - _GIVES + _GAP))))
        if across > 1:
            break
    columns = stretched(columns, min(0.0, (room + _GAP) / across - _GAP - width_of(columns)))
    # A list that would be torn near the foot but not on a page of its own gets that page.
    whole = 18.0 + (-(-len(rows) // across) + 2) * ROW_STEP * size
    page = sheets.sketch.height - 2 * MARGIN - 40.0
    is_low = sheets.left < 0.45 * page
    # A few rows of a longer one would be overlooked there.
    some = 18.0 + (12 if is_low else 5) * ROW_STEP * size
    sheets.need(whole if is_low and whole <= page else some)
    while rows:
        _cut_list_heading(sheets, room)
        height = sheets.left
        each = min(rows_that_fit(height, size), -(-len(rows) // across))
        x, lowest = MARGIN, sheets.y
        for _ in range(across):
            batch, rows = rows[:each], rows[each:]
            if batch:
                bottom = draw_table(sheets.sketch, x, sheets.y, columns, batch, size)
                lowest = max(lowest, bottom)
                x += width_of(columns) + _GAP
        sheets.y = lowest
        if rows:
            sheets.turn()
    sheets.y += _FOOT
    _minds(sheets, contents)


def _cut_table(contents: Sequence[MapContent]) -> tuple[list[Column], list[list[str]]]:
    """Return columns and rows of all boards' cuts; no cautions' column where there are none."""
    headings = [
        Column("board"),
        Column("cut", anchor="end", bold=True),
        Column("kind"),
        Column(f"at, {unit_name(contents[0].units)}", anchor="end", bold=True),
        Column("piece", anchor="middle"),
        Column("makes", gives=True),
        Column("mind"),
    ]
    rows = [
        [content.board.id, cut.number, cut.kind, cut.at, cut.piece, cut.text, cut.mind]
        for content in contents
        for cut in content.cuts
    ]
    if any(row[-1] for row in rows):
        return headings, rows
    return headings[:-1], [row[:-1] for row in rows]


def _cut_list_heading(sheets: Sheets, room: float) -> None:
    """Write the cut list's title, and what its figures are measured from, on this page."""
    sheets.sketch.text(MARGIN, sheets.y + 11.0, "Cut list, in sawing order", 11.0, bold=True)
    note = f"{AT_MEANS}. The cautions on the boards’ own maps hold for every cut."
    for line in wrapped(note, room, 8.0):
        sheets.sketch.text(MARGIN, sheets.y + 23.0, line, 8.0, color=GREY)
        sheets.y += 10.5
    sheets.y += 18.0


def _minds(sheets: Sheets, contents: Sequence[MapContent]) -> None:
    """Write which saw suits which cut, and what the words beside the cuts mean."""
    cares = [content.cares for content in contents]
    saws = [
        f"{content.board.id}: {saws_said(content.cares)}" for content in contents if content.cares
    ]
    said = [*saws, *dangers_said(tuple(care for own in cares for care in own))]
    room = sheets.sketch.width - 2 * MARGIN
    for text in said:
        for line in wrapped(text, room, 8.5):
            sheets.need(11.5)
            sheets.sketch.text(MARGIN, sheets.y + 8.0, line, 8.5)
            sheets.y += 11.5
    sheets.y += _FOOT if said else 0.0


def _costs(sheets: Sheets, money: Money) -> None:
    """Write what the boards cost, and each part with its share of the waste."""
    headings = [
        Column("part", gives=True),
        Column("placed", anchor="end"),
        Column("each costs", anchor="end", bold=True),
        Column("of it its own wood", anchor="end"),
    ]
    rows = [
        [row.part, str(row.copies), money.text(row.each), money.text(row.wood)]
        for row in money.parts
    ]
    sheets.need(18.0 + 5 * ROW_STEP * _TABLE)
    for line in lot_cost_lines(money):
        sheets.sketch.text(MARGIN, sheets.y + 11.0, line[0].upper() + line[1:], 9.5)
        sheets.y += 13.0
    columns = fitted_columns(headings, rows, _TABLE)
    while rows:
        room = rows_that_fit(sheets.left, _TABLE)
        if room < 2:
            sheets.turn()
            continue
        batch, rows = rows[:room], rows[room:]
        sheets.y = draw_table(sheets.sketch, MARGIN, sheets.y, columns, batch, _TABLE) + _FOOT
