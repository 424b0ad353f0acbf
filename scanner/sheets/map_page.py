"""One board map: the board with its parts, cuts and running distances, for the bench."""

from dataclasses import dataclass

from scanner.lot.saws import Danger, dangers_said, saws_said
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
from scanner.sheets.drawing import Page, Shape, Sketch, box_points
from scanner.sheets.face_view import board_bounds
from scanner.sheets.fonts import wrapped
from scanner.sheets.map_faces import (
    ENDS_WIDE,
    DrawnFaces,
    draw_at_means,
    draw_faces,
    draw_legend,
    face_scale,
)
from scanner.sheets.map_tables import SMALLEST, Listed, Room, draw_listed, draw_what_fits
from scanner.sheets.paper import MARGIN, PaperName, draw_title, new_sheet
from scanner.sheets.words import cautions
from scanner.units import length_text, percent_text

# On a wide slab the map matters more than the tables, which then go to the next page.
_SLAB_TALL = 350.0
# Headings, running distances and legend round the faces.
_ROUND_FACES = 125.0
_CARE_SIZE = 8.5
# How much smaller than they could be the faces may stand, so that all is on one sheet.
_SHRUNK = (1.0, 0.94, 0.88, 0.82, 0.76, 0.7)
# Below the fourth of these only where both faces together stay this tall.
_STILL_TALL = 150.0
# Room beside smaller faces for parts and notes; they become no smaller than this share.
_ASIDE, _LEAST_SHARE = (185.0, 215.0, 250.0, 285.0), 0.6
# Between tables and cautions.
_ABOVE_CARE = 6.0
# So many more parts may lose their names to letters by it.
_LETTERS = 1
# Type as large as this is worth smaller faces.
_EASY_TYPE = 9.5


@dataclass(frozen=True, slots=True)
class _Way:
    """How large the faces are, points a mm, and what is kept free beside them."""

    scale: float
    aside: float


@dataclass(frozen=True, slots=True)
class _Faces:
    """Faces and legend drawn one way: their shapes, and the y where the tables begin."""

    way: _Way
    shapes: tuple[Shape, ...]
    drawn: DrawnFaces
    y: float


def map_page(content: MapContent, paper: PaperName) -> tuple[Page, ...]:
    """Return the pages of one board's map; tables too long for the first run on."""
    sketch = new_sheet(paper)
    top = _head(sketch, content)
    bottom = _care(sketch, content)
    wide = sketch.width - 2 * MARGIN
    # Short parts have their point among the cautions.
    said = dangers_said(content.cares, elsewhere={Danger.MILL_FIRST})
    notes = (saws_said(content.cares), *said) if content.cares else ()
    listed = Listed(content.cuts, content.placements, tuple(note for note in notes if note))
    slab = min(_SLAB_TALL, bottom - top - _ROUND_FACES)
    full = _Way(face_scale(content, wide, slab), 0.0)
    largest = _drawn(content, paper, top, full)
    bare = len(sketch.shapes)
    ways = _ways(content, wide, slab, full.scale)
    for way, least in [(way, least) for least in (_EASY_TYPE, SMALLEST) for way in ways]:
        if not _would_fit(content, listed, way, least, largest, (wide, bottom)):
            continue
        faces = largest if way == full else _drawn(content, paper, top, way)
        if way.aside and faces.drawn.letters > largest.drawn.letters + _LETTERS:
            continue
        sketch.shapes[bare:] = faces.shapes
        below = Room(MARGIN, faces.y, wide, bottom - _ABOVE_CARE - faces.y)
        beside = faces.drawn.beside if way.aside else None
        if draw_listed(sketch, content, listed, below, beside, least):
            return (sketch.page(),)
    sketch.shapes[bare:] = largest.shapes
    return _run_on(
        sketch,
        content,
        listed,
        paper,
        Room(MARGIN, largest.y, wide, bottom - _ABOVE_CARE - largest.y),
    )


def _drawn(content: MapContent, paper: PaperName, top: float, way: _Way) -> _Faces:
    """Draw faces and legend one way, on a sheet of their own."""
    alone = new_sheet(paper)
    drawn = draw_faces(alone, content, top, way.scale, way.aside)
    y = draw_legend(alone, drawn.below) + 4.0
    return _Faces(way, tuple(alone.shapes), drawn, y)


def _ways(content: MapContent, wide: float, slab: float, full: float) -> list[_Way]:
    """Return the ways to draw the faces, the largest first."""
    _, y0, _, y1 = board_bounds(content.board)
    ways = [
        _Way(shrunk * full, 0.0)
        for number, shrunk in enumerate(_SHRUNK)
        if number < 4 or 2 * shrunk * full * (y1 - y0) >= _STILL_TALL
    ]
    for aside in _ASIDE:
        scale = face_scale(content, wide, slab, aside)
        if scale >= _LEAST_SHARE * full:
            ways.append(_Way(scale, aside))
    return sorted(ways, key=lambda way: -way.scale)


def _would_fit(
    content: MapContent,
    listed: Listed,
    way: _Way,
    least: float,
    largest: _Faces,
    room: tuple[float, float],
) -> bool:
    """Reckon whether the tables have room, as drawing labels and legend takes far longer.

    ``room``: between the margins, and the y down to which tables may reach.
    """
    wide, bottom = room
    x0, y0, x1, y1 = board_bounds(content.board)
    less = 2 * (largest.way.scale - way.scale) * (y1 - y0)
    below = Room(0.0, 0.0, wide, bottom - _ABOVE_CARE - (largest.y - less))
    beside = None
    if way.aside:
        free = wide - way.scale * (x1 - x0) - ENDS_WIDE
        beside = Room(0.0, 0.0, free, largest.drawn.beside.high - less)
    return draw_listed(Sketch(wide, bottom), content, listed, below, beside, least)


def _run_on(
    sketch: Sketch, content: MapContent, listed: Listed, paper: PaperName, room: Room
) -> tuple[Page, ...]:
    """Draw what fits below the faces, and the rest on further pages."""
    # The whole cut list on one page, in large type, rather than torn in two.
    sketch.text(MARGIN, room.y + 10.0, "Cut list: on the next page", 9.5, bold=True)
    room = Room(room.x, room.y + 18.0, room.wide, room.high - 18.0)
    rest = listed
    for parts, notes in ((listed.parts, listed.notes), (listed.parts, ()), ((), listed.notes)):
        if draw_listed(sketch, content, Listed((), parts, notes), room, None, SMALLEST):
            rest = Listed(listed.cuts, () if parts else listed.parts, () if notes else listed.notes)
            break
    pages = [sketch.page()]
    while any((rest.cuts, rest.parts, rest.notes)):
        more = new_sheet(paper)
        y = draw_title(more, content.board.id, ["continued"], *_status(content))
        if rest.cuts:
            y = draw_at_means(more, y - 4.0) + 2.0
        room = Room(MARGIN, y, more.width - 2 * MARGIN, more.height - MARGIN - y)
        if draw_listed(more, content, rest, room, None, SMALLEST):
            rest = Listed((), (), ())
        else:
            rest = draw_what_fits(more, content, rest, room)
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
