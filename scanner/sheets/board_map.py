"""The board map: one board with its parts, cuts and running distances, for the bench."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from PIL import Image
from shapely.geometry import Polygon, box

from scanner.board.board import Board
from scanner.lot.totals import (
    AVOIDED,
    NO_PROMISE,
    NOT_LOOKED_OVER,
    BoardTotals,
    LayoutTotals,
    count_text,
    feet_text,
    looked_over_text,
    thickness_text,
    width_text,
)
from scanner.placement.layout import Layout, Placement
from scanner.placement.parts import Part, PartsList
from scanner.placement.shop import Shop
from scanner.sheets.drawing import GREY, Page, Sketch, box_points, disc_radius
from scanner.sheets.face_view import (
    FLAW,
    FaceView,
    board_bounds,
    draw_face,
    draw_flaws,
    flaw_shapes,
    view_of,
)
from scanner.sheets.fonts import text_width, wrapped
from scanner.sheets.labels import spread
from scanner.sheets.paper import MARGIN, PaperName, draw_title, new_sheet
from scanner.sheets.part_marks import (
    draw_cut_line,
    draw_offcuts,
    draw_parts,
    draw_waste,
    placements_on,
)
from scanner.sheets.scale_bar import draw_scale_bar
from scanner.sheets.table import (
    Column,
    draw_table,
    fitted_columns,
    rows_that_fit,
    stretched,
    width_of,
)
from scanner.sheets.tape import TapeEdge, hooked_edge, running_mm, tape_text
from scanner.sheets.words import (
    CutRow,
    bare,
    by_name,
    cautions,
    cut_rows,
    finished_text,
    part_title,
    piece_title,
    unit_name,
)
from scanner.units import length_text, percent_text, size_text

# Room at both ends of a face for the letters A and B.
_END = 20.0
# Both faces together may be this tall; on a wide slab the map matters more than the tables, which
# then go to the next page.
_FACES_TALL, _SLAB_TALL = 236.0, 350.0
_LEAST_ROWS = 4
# Headings, running distances and legend round the faces.
_ROUND_FACES = 125.0
_TABLE_SIZES = (11.0, 10.5, 10.0, 9.5, 9.0, 8.5, 8.0)
_CARE_SIZE = 8.5
_DISC = 6.0
# Between tables.
_GAP = 16.0


@dataclass(frozen=True, slots=True)
class MapContent:
    """What a board map tells: the board, its share of the layout, and the figures."""

    board: Board
    totals: BoardTotals
    layout: Layout
    figures: LayoutTotals
    parts: Mapping[str, Part]
    placements: tuple[Placement, ...]
    cuts: tuple[CutRow, ...]
    edge: TapeEdge
    shop: Shop
    pictures: Mapping[int, Image.Image | None]

    @property
    def units(self) -> str:
        """The shop's units."""
        return self.shop.units


def map_content(
    board: Board,
    totals: BoardTotals,
    layout: Layout,
    figures: LayoutTotals,
    parts: PartsList,
    shop: Shop,
    pictures: Mapping[int, Image.Image | None],
) -> MapContent:
    """Gather what the map of one board tells."""
    named, edge = by_name(parts), hooked_edge(board)
    return MapContent(
        board=board,
        totals=totals,
        layout=layout,
        figures=figures,
        parts=named,
        placements=placements_on(layout, board.id),
        cuts=cut_rows(layout, board, named, edge, shop.units),
        edge=edge,
        shop=shop,
        pictures=pictures,
    )


def board_map(content: MapContent, paper: PaperName) -> tuple[Page, ...]:
    """Return the pages of one board's map; tables too long for the first run on."""
    sketch = new_sheet(paper)
    y = _head(sketch, content)
    bottom = _care(sketch, content)
    y = _faces(sketch, content, y, min(_SLAB_TALL, bottom - y - _ROUND_FACES))
    y = _legend(sketch, y)
    cuts: Sequence[CutRow] = content.cuts
    parts: Sequence[Placement] = content.placements
    if rows_that_fit(bottom - y - 10.0, _TABLE_SIZES[-1]) >= _LEAST_ROWS:
        cuts, parts = _tables(sketch, content, y + 4.0, bottom - 6.0, cuts, parts)
    pages = [sketch.page()]
    while cuts or parts:
        more = new_sheet(paper)
        y = draw_title(more, content.board.id, ["continued"], *_status(content))
        cuts, parts = _tables(more, content, y, more.height - MARGIN, cuts, parts)
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


def _faces(sketch: Sketch, content: MapContent, y: float, slab_tall: float) -> float:
    """Draw both faces from y down; return the y below them.

    ``slab_tall``: how tall both faces of a wide slab may be together.
    """
    board = content.board
    x0, y0, x1, y1 = board_bounds(board)
    room = sketch.width - 2 * (MARGIN + _END)
    scale = room / (x1 - x0)
    if 2 * scale * (y1 - y0) > _FACES_TALL:
        scale = min(scale, slab_tall / 2 / (y1 - y0))
    left = MARGIN + _END + (room - scale * (x1 - x0)) / 2
    label_room = 23.0
    above = content.edge.name == "far"

    sketch.text(MARGIN, y + 11.0, "FACE 1 UP", 11.0, bold=True)
    told = MARGIN + text_width("FACE 1 UP", 11.0, bold=True) + 10.0
    for line in wrapped(
        f"{tape_text(content.edge, content.units)} Mark every crosscut line before the first cut; "
        "keep the kerf on the hatched side.",
        sketch.width - MARGIN - told,
        9.5,
    ):
        sketch.text(told, y + 11.0, line, 9.5)
        y += 12.0
    y += 5.0 + (label_room if above else 14.0)
    face_1 = view_of(board, 1, left, y, scale)
    _ends(sketch, face_1)
    _face(sketch, content, face_1, sizes=True)
    _running(sketch, content, face_1, above=above)
    y += face_1.height + (14.0 if above else label_room) + 8.0

    way = {
        "sideways": "turned over sideways, about its length: end A stays at the left",
        "end_over_end": "turned over end over end: end A is now at the right",
    }[board.turned]
    sketch.text(MARGIN, y + 11.0, "FACE 2", 11.0, bold=True)
    sketch.text(MARGIN + text_width("FACE 2", 11.0, bold=True) + 10.0, y + 11.0, way, 9.5)
    draw_scale_bar(sketch, sketch.width - MARGIN - _END, y + 8.0, scale, content.units)
    y += 19.0
    face_2 = view_of(board, 2, left, y, scale)
    _ends(sketch, face_2)
    _face(sketch, content, face_2, sizes=False)
    return y + face_2.height + 4.0


def _ends(sketch: Sketch, view: FaceView) -> None:
    """Write A and B at the ends, where a person sees them."""
    names = ("B", "A") if view.mirror_x else ("A", "B")
    y = view.y + view.height / 2
    sketch.disc(view.x - 12.0, y, names[0], 10.0, solid=False)
    sketch.disc(view.x + view.width + 12.0, y, names[1], 10.0, solid=False)


def _face(sketch: Sketch, content: MapContent, view: FaceView, *, sizes: bool) -> None:
    """Draw one face with waste, parts, cuts and flaws."""
    board, layout = content.board, content.layout
    draw_face(sketch, board, view, content.pictures.get(view.face))
    draw_waste(sketch, board, layout, view, 7.5)
    taken = draw_offcuts(sketch, board, layout, view, 8.5, content.units)
    discs = []
    for cut in layout.cuts:
        if cut.board == board.id and cut.kind != "crosscut":
            draw_cut_line(sketch, cut, view, 0.8)
    if view.face == 1:
        discs = _disc_places(content, view)
    spots = [spot for _, spot in discs]
    taken += spots
    taken += draw_parts(
        sketch,
        content.placements,
        view,
        content.parts,
        content.units,
        sizes=sizes,
        avoid=[*flaw_shapes(board, view), *spots],
    )
    for cut in layout.cuts:
        if cut.board == board.id and cut.kind == "crosscut":
            draw_cut_line(sketch, cut, view, 1.4, reach=5.0 if view.face == 1 else 0.0)
    for text, spot in discs:
        sketch.disc(spot.centroid.x, spot.centroid.y, text, _DISC)
    draw_flaws(sketch, board, view, size=8.0, blocked=taken)


def _disc_places(content: MapContent, view: FaceView) -> list[tuple[str, Polygon]]:
    """Return a place on its line for the number of each rip and final cut, near its start.

    Where lines lie close the numbers step aside along them.
    """
    found: list[tuple[str, Polygon]] = []
    for cut in sorted(content.layout.cuts, key=lambda c: c.order):
        if cut.board != content.board.id or cut.kind == "crosscut":
            continue
        a, b = sorted((view.point(*cut.from_mm), view.point(*cut.to_mm)))
        radius = disc_radius(str(cut.order), _DISC)
        length = max(math.dist(a, b), 1.0)
        steps = max(1, int((length - 2 * radius - 6.0) / 2.0))
        places = []
        for step in range(steps):
            along = length / 2 if steps == 1 else radius + 3.0 + 2.0 * step
            x, y = a[0] + (b[0] - a[0]) * along / length, a[1] + (b[1] - a[1]) * along / length
            places.append(box(x - radius, y - radius, x + radius, y + radius))
        free = (p for p in places if not any(p.intersects(other) for _, other in found))
        found.append((str(cut.order), next(free, places[0])))
    return found


def _running(sketch: Sketch, content: MapContent, view: FaceView, *, above: bool) -> None:
    """Write each crosscut's number and what the tape reads there, along the hooked edge."""
    crosscuts = []
    for cut in content.layout.cuts:
        if cut.board == content.board.id and cut.kind == "crosscut":
            x = (cut.from_mm[0] + cut.to_mm[0]) / 2
            text = bare(running_mm(content.board, content.edge, x), content.units)
            crosscuts.append((view.point(x, 0.0)[0], str(cut.order), text))
    crosscuts.sort()
    size = 11.0
    left, right = MARGIN, sketch.width - MARGIN
    while True:
        widths = [_tag_width(order, text, size) for _, order, text in crosscuts]
        if size <= 6.5 or sum(widths) + 4.0 * len(widths) <= right - left:
            break
        size -= 0.5
    centres = spread([x for x, _, _ in crosscuts], widths, left, right, 4.0)
    edge = view.y if above else view.y + view.height
    sign = -1.0 if above else 1.0
    y = edge + sign * 16.0
    for (x, order, text), centre, wide in zip(crosscuts, centres, widths, strict=True):
        sketch.line([(x, edge + sign * 5.0), (centre, y - sign * 7.0)], 0.8)
        radius = disc_radius(order, 0.8 * size)
        sketch.disc(centre - wide / 2 + radius, y, order, 0.8 * size)
        sketch.text(centre - wide / 2 + 2 * radius + 2.0, y + 0.36 * size, text, size, bold=True)
    _piece_names(sketch, content, view, above=above)


def _piece_names(sketch: Sketch, content: MapContent, view: FaceView, *, above: bool) -> None:
    """Name the pieces on the side away from the tape."""
    y = view.y + view.height + 11.0 if above else view.y - 4.0
    for piece in content.layout.pieces:
        if piece.board != content.board.id:
            continue
        a, b = view.point(piece.x0_mm, 0.0)[0], view.point(piece.x1_mm, 0.0)[0]
        title = piece_title(piece.id, content.board.id)
        text = f"piece {title}"
        text = text if text_width(text, 8.5) < b - a - 8.0 else title
        sketch.text((a + b) / 2, y, text, 8.5, anchor="middle", color=GREY)


def _tag_width(order: str, text: str, size: float) -> float:
    return 2 * disc_radius(order, 0.8 * size) + 2.0 + text_width(text, size, bold=True)


def _legend(sketch: Sketch, y: float) -> float:
    """Explain the lines once, small."""
    x, base = MARGIN, y + 9.0
    entries = (
        ("waste", "hatch"),
        ("weakens", "solid"),
        ("only shows", "dash"),
        ("wild grain", "dot"),
        ("? nobody has looked at it yet", ""),
        ("SHOW: this side is the show face", ""),
        ("numbers in discs: cuts in sawing order", ""),
    )
    for text, kind in entries:
        if kind == "hatch":
            sketch.hatch(box(x, base - 8.0, x + 16.0, base), 4.0, 45.0, 0.5)
        elif kind:
            dash = {"solid": None, "dash": (4.0, 2.5), "dot": (1.0, 2.0)}[kind]
            ring = [(x, base - 8), (x + 16, base - 8), (x + 16, base), (x, base)]
            if kind == "solid":
                sketch.hatch(box(x, base - 8.0, x + 16.0, base), 4.5, -60.0, 0.7, FLAW)
            sketch.ring(ring, 1.0, FLAW, dash)
        x += 20.0 if kind else 0.0
        sketch.text(x, base, text, 7.5, color=GREY)
        x += text_width(text, 7.5) + 14.0
    return base + 4.0


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


def _tables(
    sketch: Sketch,
    content: MapContent,
    top: float,
    bottom: float,
    cuts: Sequence[CutRow],
    parts: Sequence[Placement],
) -> tuple[Sequence[CutRow], Sequence[Placement]]:
    """Draw cut list and parts side by side; return what found no room."""
    wide = sketch.width - 2 * MARGIN
    cut_cells, part_cells = _cut_cells(cuts, content), [_part_cells(p, content) for p in parts]
    for size in _TABLE_SIZES:
        rows = rows_that_fit(bottom - top, size)
        columns = 1 if len(cuts) <= rows else 2
        cut_columns = fitted_columns(_cut_headings(content.units), cut_cells, size)
        part_columns = fitted_columns(_part_headings(content.units), part_cells, size)
        cuts_wide = columns * (width_of(cut_columns) + _GAP)
        parts_wide = width_of(part_columns)
        is_room = len(parts) <= rows and len(cuts) <= columns * rows
        if is_room and cuts_wide + parts_wide <= wide:
            break
    # The smallest type and still too wide: the widest column gives way.
    spare = (wide - parts_wide - columns * _GAP) / columns - width_of(cut_columns)
    cut_columns = stretched(cut_columns, min(spare, 0.0))
    rows = max(rows, 1)
    # Even columns read better than a full one and a stub.
    per_column = rows if columns == 1 else min(rows, -(-len(cuts) // 2))
    x = MARGIN
    for number in range(columns):
        batch = cut_cells[number * per_column : (number + 1) * per_column]
        if batch:
            draw_table(sketch, x, top, cut_columns, batch, size)
            x += width_of(cut_columns) + _GAP
    if part_cells:
        left = max(x, sketch.width - MARGIN - parts_wide)
        draw_table(sketch, left, top, part_columns, part_cells[:rows], size)
    return cuts[columns * per_column :], parts[rows:]


def _cut_headings(units: str) -> list[Column]:
    return [
        Column("cut", anchor="end", bold=True),
        Column("kind"),
        Column(f"at, {unit_name(units)}", anchor="end", bold=True),
        Column("piece", anchor="middle"),
        Column("makes", gives=True),
    ]


def _cut_cells(rows: Sequence[CutRow], content: MapContent) -> list[list[str]]:
    units = content.units
    return [
        [
            str(row.order),
            row.kind,
            "" if row.at_mm is None else bare(row.at_mm, units),
            row.piece,
            row.text,
        ]
        for row in rows
    ]


def _part_headings(units: str) -> list[Column]:
    return [
        Column("part", bold=True, gives=True),
        Column(f"rough, {unit_name(units)}"),
        Column("finished"),
        Column("show face"),
    ]


def _part_cells(placement: Placement, content: MapContent) -> list[str]:
    units = content.units
    show = "" if placement.show_face is None else f"face {placement.show_face}"
    rough = size_text(placement.length_mm, placement.width_mm, units)
    finished = finished_text(placement, content.parts, units)
    unit = f" {unit_name(units)}"
    return [
        part_title(placement, content.parts),
        rough.removesuffix(unit),
        finished.removesuffix(unit),
        show,
    ]
