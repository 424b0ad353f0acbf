"""One board map: the board with its parts, cuts and running distances, for the bench."""

from scanner.lot.saws import dangers_said, saws_said
from scanner.lot.totals import (
    AVOIDED,
    NO_PROMISE,
    NOT_LOOKED_OVER,
    count_text,
    feet_text,
    looked_over_text,
    thickness_text,
    width_text,
)
from scanner.sheets.content import MapContent
from scanner.sheets.drawing import Page, Sketch, Text, box_points
from scanner.sheets.fonts import wrapped
from scanner.sheets.map_faces import draw_at_means, draw_faces, draw_legend, faces_tall
from scanner.sheets.map_tables import draw_tables, is_room, tables_fit
from scanner.sheets.paper import MARGIN, PaperName, draw_title, new_sheet
from scanner.sheets.words import cautions
from scanner.units import length_text, percent_text

# On a wide slab the map matters more than the tables, which then go to the next page.
_SLAB_TALL = 350.0
# Headings, running distances and legend round the faces.
_ROUND_FACES = 125.0
_CARE_SIZE = 8.5
# How much smaller than they could be the faces may stand so that all is on one sheet.
_SHRUNK = (1.0, 0.94, 0.88, 0.82, 0.76, 0.7)
# Below the fourth of these only where both faces together stay this tall.
_STILL_TALL = 150.0
_NOTE_SIZE, _NOTE_STEP = 8.5, 11.0


def map_page(content: MapContent, paper: PaperName) -> tuple[Page, ...]:
    """Return the pages of one board's map; tables too long for the first run on."""
    sketch = new_sheet(paper)
    top = _head(sketch, content)
    bottom = _care(sketch, content)
    slab = min(_SLAB_TALL, bottom - top - _ROUND_FACES)
    notes = _notes(content, sketch.width - 2 * MARGIN)
    bare = len(sketch.shapes)
    y = draw_legend(sketch, draw_faces(sketch, content, top, slab))
    shrunk, notes_here = _shrunk(content, paper, y, bottom, len(notes))
    if shrunk < 1.0:
        del sketch.shapes[bare:]
        y = draw_legend(sketch, draw_faces(sketch, content, top, slab, shrunk))
    cuts, parts = content.cuts, content.placements
    low = bottom - 6.0
    if notes_here and notes:
        low -= _notes_tall(len(notes))
        _write_notes(sketch, notes, low)
        notes = []
    later = ()
    if notes and not tables_fit(content, sketch.width - 2 * MARGIN, low - y - 4.0, whole=True):
        # There is a next page anyway, and the parts stand on the faces too.
        parts, later = (), parts
    if is_room(low - y - 4.0):
        blank = Sketch(sketch.width, sketch.height)
        if any(draw_tables(blank, content, y + 4.0, low, cuts, parts)):
            low -= 9.0
            said, right = "goes on on the next page", sketch.width - MARGIN
            sketch.text(right, bottom - 4.0, said, 8.0, bold=True, anchor="end")
        cuts, parts = draw_tables(sketch, content, y + 4.0, low, cuts, parts)
    elif cuts:
        sketch.text(MARGIN, y + 16.0, "Cut list: on the next page", 9.5, bold=True)
    pages, parts = [sketch.page()], parts + later
    while cuts or parts or notes:
        more = new_sheet(paper)
        y = draw_title(more, content.board.id, ["continued"], *_status(content))
        low = more.height - MARGIN - _notes_tall(len(notes))
        if cuts:
            y = draw_at_means(more, y - 4.0) + 2.0
        if cuts or parts:
            cuts, parts = draw_tables(more, content, y, low, cuts, parts)
            y = max(shape.y for shape in more.shapes if isinstance(shape, Text)) + 8.0
        if not cuts and not parts:
            _write_notes(more, notes, y)
            notes = []
        pages.append(more.page())
    return tuple(pages)


def _shrunk(
    content: MapContent, paper: PaperName, y: float, bottom: float, notes: int
) -> tuple[float, bool]:
    """Return how much smaller than they could be the faces are drawn, and whether notes fit.

    A map on one sheet is worth slightly smaller faces. ``y``: where the tables begin below faces
    as large as they could be.
    """
    wide = new_sheet(paper).width - 2 * MARGIN
    tall = faces_tall(content, wide)
    for with_notes in (True, False) if notes else (True,):
        low = bottom - 6.0 - (_notes_tall(notes) if with_notes else 0.0)
        for number, shrunk in enumerate(_SHRUNK):
            if number > 3 and shrunk * tall < _STILL_TALL:
                break
            top = y - (1.0 - shrunk) * tall + 4.0
            if tables_fit(content, wide, low - top):
                return shrunk, with_notes
    return 1.0, False


def _notes(content: MapContent, wide: float) -> list[str]:
    """Return which saw suits which cut, and what the words beside the cuts mean, as lines."""
    said = [saws_said(content.cares), *dangers_said(content.cares)]
    return [line for text in said for line in wrapped(text, wide, _NOTE_SIZE)]


def _notes_tall(lines: int) -> float:
    return _NOTE_STEP * lines + 4.0 if lines else 0.0


def _write_notes(sketch: Sketch, notes: list[str], y: float) -> None:
    for number, line in enumerate(notes):
        sketch.text(MARGIN, y + 4.0 + _NOTE_SIZE + _NOTE_STEP * number, line, _NOTE_SIZE)


def _status(content: MapContent) -> tuple[str, bool]:
    text = looked_over_text(content.totals)
    return text, not content.totals.is_looked_over


def _head(sketch: Sketch, content: MapContent) -> float:
    totals, units, figures = content.totals, content.units, content.figures
    lines = [
        f"{totals.species}   {thickness_text(totals, units)}   "
        f"length {totals.length.text(units)}   width {width_text(totals, units)}   "
        f"{feet_text(totals.board_feet)}",
        f"{len(content.placements)} of the layout’s {figures.placed} parts   whole layout: "
        f"{count_text(figures.boards_opened)}, yield {percent_text(figures.yield_share)}, "
        f"waste {percent_text(figures.waste_share)}",
    ]
    margins = [p.margin_mm for p in content.placements]
    if margins:
        lines.append(
            f"Parts keep {length_text(min(margins), units, 1)} or more from flaws and edges: "
            "what measuring and sawing may be off (±)."
        )
    return draw_title(sketch, content.board.id, lines, *_status(content))


def _care(sketch: Sketch, content: MapContent) -> float:
    """Draw the cautions along the foot of the sheet, in two columns; return the y of their top."""
    says = [NO_PROMISE]
    says += cautions(content.board, content.placements, content.parts, content.shop)
    alarm = "" if content.totals.is_looked_over else f"{NOT_LOOKED_OVER}. {AVOIDED}"
    if alarm:
        says.insert(0, alarm)
    step = 1.32 * _CARE_SIZE
    each = (sketch.width - 2 * MARGIN - 62.0 - 14.0) / 2
    blocks = [wrapped(say, each - 10.0, _CARE_SIZE, bold=say == alarm) for say in says]
    # Whole points in each column, as even as they go.
    counts = [len(block) for block in blocks]
    cut = min(range(1, len(counts) + 1), key=lambda k: max(sum(counts[:k]), sum(counts[k:])))
    tall = max(sum(counts[:cut]), sum(counts[cut:]))
    high = step * tall + 10.0
    top = sketch.height - MARGIN - high
    sketch.ring(box_points(MARGIN, top, sketch.width - 2 * MARGIN, high), 1.2)
    sketch.text(MARGIN + 8.0, top + 17.0, "CARE", 13.0, bold=True)
    for column, chosen in enumerate((range(cut), range(cut, len(blocks)))):
        x = MARGIN + 58.0 + column * (each + 14.0)
        y = top + 4.0 + _CARE_SIZE
        for k in chosen:
            sketch.text(x, y, "•", _CARE_SIZE, bold=True)
            for line in blocks[k]:
                sketch.text(x + 8.0, y, line, _CARE_SIZE, bold=says[k] == alarm)
                y += step
    return top
