"""The two faces on a board map: parts, cuts, running distances, pieces."""

from dataclasses import dataclass

from shapely.geometry import box

from scanner.sheets.content import MapContent
from scanner.sheets.cut_discs import CutDisc, cut_discs, draw_discs
from scanner.sheets.cut_list import AT_MEANS, crosscut_line_mm
from scanner.sheets.drawing import GREY, Sketch, disc_radius
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
from scanner.sheets.map_tables import Room
from scanner.sheets.paper import MARGIN
from scanner.sheets.part_keys import PartKeys, key_height, write_key
from scanner.sheets.part_marks import (
    Lettering,
    draw_cut_line,
    draw_offcuts,
    draw_parts,
    draw_waste,
)
from scanner.sheets.scale_bar import draw_scale_bar
from scanner.sheets.tape import running_mm, tape_text
from scanner.sheets.words import bare, piece_title

# Room at both ends of a face for the letters A and B.
_END = 20.0
# Both faces of a usual board together may be this tall: the tables need the rest.
_FACES_TALL = 236.0
# What a short scale bar with its words takes, and what stands beside the faces keeps off them.
_SCALE_BAR, _BESIDE = 120.0, 12.0
# What of a sheet's width goes to ends and gap where something stands beside the faces.
ENDS_WIDE = 2 * _END + _BESIDE


@dataclass(frozen=True, slots=True)
class DrawnFaces:
    """Both faces as they were drawn.

    Attributes
    ----------
    below
        The y below them.
    beside
        What is free at their right.
    letters
        How many parts had no room for their names.
    """

    below: float
    beside: Room
    letters: int


def face_scale(content: MapContent, wide: float, slab_tall: float, aside: float = 0.0) -> float:
    """Return how large the faces can be, points a mm, between margins so far apart.

    Parameters
    ----------
    slab_tall
        How tall both faces of a wide slab may be together.
    aside
        What is kept free at their right.
    """
    x0, y0, x1, y1 = board_bounds(content.board)
    scale = (wide - 2 * _END) / (x1 - x0)
    if 2 * scale * (y1 - y0) > _FACES_TALL:
        keys = _keys_of(content, min(scale, slab_tall / 2 / (y1 - y0)))
        scale = min(scale, (slab_tall - key_height(keys, wide)) / 2 / (y1 - y0))
    return min(scale, (wide - aside - 2 * _END) / (x1 - x0))


def draw_faces(
    sketch: Sketch, content: MapContent, y: float, scale: float, aside: float = 0.0
) -> DrawnFaces:
    """Draw both faces from y down, points a mm by ``scale``.

    ``aside``: what is kept free at their right; else they stand in the middle of the sheet.
    """
    board = content.board
    x0, _, x1, _ = board_bounds(board)
    full = sketch.width - 2 * MARGIN
    keys = PartKeys()
    left = MARGIN + _END
    if not aside:
        left += (full - 2 * _END - scale * (x1 - x0)) / 2
    right = left + scale * (x1 - x0) + _END if aside else sketch.width - MARGIN
    label_room = 23.0
    above = content.edge.name == "far"

    sketch.text(MARGIN, y + 11.0, "FACE 1 UP", 11.0, bold=True)
    told = MARGIN + text_width("FACE 1 UP", 11.0, bold=True) + 10.0
    for line in wrapped(
        f"{tape_text(content.edge, content.units)} Mark every crosscut line before the first cut; "
        f"the kerf goes outside the piece. {content.landmark}",
        sketch.width - MARGIN - told,
        9.5,
    ):
        sketch.text(told, y + 11.0, line, 9.5)
        y += 12.0
    top = y + 8.0
    y += 5.0 + (label_room if above else 14.0)
    face_1 = view_of(board, 1, left, y, scale)
    _ends(sketch, face_1)
    _face(sketch, content, face_1, keys, sizes=True)
    _running(sketch, content, face_1, right, above=above)
    y += face_1.height + (14.0 if above else label_room) + 8.0

    way, short = {
        "sideways": ("turned over sideways, about its length: end A stays at the left", "sideways"),
        "end_over_end": ("turned over end over end: end A is now at the right", "end over end"),
    }[board.turned]
    told = MARGIN + text_width("FACE 2", 11.0, bold=True) + 10.0
    if told + text_width(way, 9.5) + _SCALE_BAR > right - _END:
        way = f"turned over {short}"
    sketch.text(MARGIN, y + 11.0, "FACE 2", 11.0, bold=True)
    sketch.text(told, y + 11.0, way, 9.5)
    said = told + text_width(way, 9.5) + 10.0
    draw_scale_bar(sketch, right - _END, y + 8.0, scale, content.units, said)
    y += 19.0
    face_2 = view_of(board, 2, left, y, scale)
    _ends(sketch, face_2)
    _face(sketch, content, face_2, keys, sizes=False)
    y += face_2.height + 4.0
    free = right + _BESIDE
    beside = Room(free, top, sketch.width - MARGIN - free, y - top)
    write_key(sketch, keys, MARGIN, y, full)
    return DrawnFaces(y + key_height(keys, full), beside, len(keys.meanings))


def _keys_of(content: MapContent, scale: float) -> PartKeys:
    """Return the letters that the parts will need at a scale."""
    keys = PartKeys()
    for face in (1, 2):
        view = view_of(content.board, face, 0.0, 0.0, scale)
        _face(Sketch(0.0, 0.0), content, view, keys, sizes=face == 1)
    return keys


def _ends(sketch: Sketch, view: FaceView) -> None:
    """Write A and B at the ends, where a person sees them."""
    names = ("B", "A") if view.mirror_x else ("A", "B")
    y = view.y + view.height / 2
    sketch.disc(view.x - 12.0, y, names[0], 10.0, solid=False)
    sketch.disc(view.x + view.width + 12.0, y, names[1], 10.0, solid=False)


def _face(
    sketch: Sketch, content: MapContent, view: FaceView, keys: PartKeys, *, sizes: bool
) -> None:
    """Draw one face with waste, parts, cuts and flaws."""
    board, layout = content.board, content.layout
    draw_face(sketch, board, view, content.pictures.get(view.face))
    draw_waste(sketch, board, layout, view, 7.5)
    taken = draw_offcuts(sketch, board, layout, view, 8.5, content.units)
    discs: list[CutDisc] = []
    for cut in layout.cuts:
        if cut.board == board.id and cut.kind != "crosscut":
            draw_cut_line(sketch, cut, view, 0.8)
    if view.face == 1:
        cuts = [cut for cut in layout.cuts if cut.board == board.id]
        discs = cut_discs(cuts, view, flaw_shapes(board, view))
    spots = [disc.spot for disc in discs]
    taken += spots
    how = Lettering(
        content.units,
        sizes=sizes,
        avoid=flaw_shapes(board, view),
        never=spots,
        keys=keys,
        blocked=tuple(taken),
    )
    taken += draw_parts(sketch, content.placements, view, content.parts, how)
    for cut in layout.cuts:
        if cut.board == board.id and cut.kind == "crosscut":
            draw_cut_line(sketch, cut, view, 1.4, reach=5.0 if view.face == 1 else 0.0)
    keys.add_flaws(draw_flaws(sketch, board, view, size=8.0, blocked=taken))
    # Over the flaws, whose lines would cross them out.
    draw_discs(sketch, discs)


def _running(
    sketch: Sketch, content: MapContent, view: FaceView, right: float, *, above: bool
) -> None:
    """Write each crosscut's number and what the tape reads there, along the hooked edge."""
    crosscuts = []
    for cut in content.layout.cuts:
        if cut.board == content.board.id and cut.kind == "crosscut":
            x = crosscut_line_mm(content.layout, cut)
            text = bare(running_mm(content.board, content.edge, x), content.units)
            crosscuts.append((view.point(x, 0.0)[0], str(cut.order), text))
    crosscuts.sort()
    size = 11.0
    left = MARGIN
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


def draw_legend(sketch: Sketch, y: float) -> float:
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
        if x + text_width(text, 7.5) > sketch.width - MARGIN:
            x, base = MARGIN, base + 11.0
        sketch.text(x, base, text, 7.5, color=GREY)
        x += text_width(text, 7.5) + 14.0
    return draw_at_means(sketch, base + 4.0)


def draw_at_means(sketch: Sketch, y: float) -> float:
    """Say what the cut list's column "at" holds; return the y below."""
    for line in wrapped(AT_MEANS, sketch.width - 2 * MARGIN, 7.5):
        sketch.text(MARGIN, y + 7.0, line, 7.5, color=GREY)
        y += 11.0
    return y
