"""One board map: the board with its parts, cuts and running distances, for the bench."""

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
from scanner.sheets.drawing import Page, Sketch, box_points
from scanner.sheets.fonts import wrapped
from scanner.sheets.map_faces import draw_faces, draw_legend
from scanner.sheets.map_tables import draw_tables, is_room
from scanner.sheets.paper import MARGIN, PaperName, draw_title, new_sheet
from scanner.sheets.words import cautions
from scanner.units import length_text, percent_text

# On a wide slab the map matters more than the tables, which then go to the next page.
_SLAB_TALL = 350.0
# Headings, running distances and legend round the faces.
_ROUND_FACES = 125.0
_CARE_SIZE = 8.5


def map_page(content: MapContent, paper: PaperName) -> tuple[Page, ...]:
    """Return the pages of one board's map; tables too long for the first run on."""
    sketch = new_sheet(paper)
    y = _head(sketch, content)
    bottom = _care(sketch, content)
    y = draw_faces(sketch, content, y, min(_SLAB_TALL, bottom - y - _ROUND_FACES))
    y = draw_legend(sketch, y)
    cuts, parts = content.cuts, content.placements
    if is_room(bottom - y - 10.0):
        top, low = y + 4.0, bottom - 6.0
        blank = Sketch(sketch.width, sketch.height)
        if any(draw_tables(blank, content, top, low, cuts, parts)):
            low -= 9.0
            said, right = "goes on on the next page", sketch.width - MARGIN
            sketch.text(right, bottom - 4.0, said, 8.0, bold=True, anchor="end")
        cuts, parts = draw_tables(sketch, content, top, low, cuts, parts)
    pages = [sketch.page()]
    while cuts or parts:
        more = new_sheet(paper)
        y = draw_title(more, content.board.id, ["continued"], *_status(content))
        cuts, parts = draw_tables(more, content, y, more.height - MARGIN, cuts, parts)
        pages.append(more.page())
    return tuple(pages)


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
