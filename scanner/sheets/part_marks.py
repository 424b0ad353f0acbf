"""Parts, waste, left-overs and cut lines drawn over a face."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from shapely.geometry import Polygon, box
from shapely.geometry.base import BaseGeometry
from shapely.ops import unary_union

from scanner.board.board import Board
from scanner.geometry.polygons import writing_room
from scanner.placement.curves.shapes import shape_on_blank
from scanner.placement.layout import Cut, Layout, Placement
from scanner.placement.parts import Part
from scanner.placement.wanted.turned import nest_blank, sawn_blanks, turned_shape
from scanner.sheets.drawing import INK, PAPER, PART, Point, Sketch, points_of_ring
from scanner.sheets.face_view import FaceView
from scanner.sheets.part_keys import PartKeys, write_letter
from scanner.sheets.part_labels import write_label
from scanner.sheets.words import blank_title, nest_of, part_title, slices_with
from scanner.units import size_text


def placements_on(layout: Layout, board_id: str) -> tuple[Placement, ...]:
    """Return the placements of a board from end A to end B; spoiled ones are no part any more."""
    here = [p for p in layout.placements if p.board == board_id and p.state != "spoiled"]
    return tuple(sorted(here, key=lambda p: (p.x_mm, p.y_mm)))


def draw_waste(sketch: Sketch, board: Board, layout: Layout, view: FaceView, step: float) -> None:
    """Hatch the wood that becomes neither part nor kept left-over."""
    kept = [turned_shape(p) for p in sawn_blanks(placements_on(layout, board.id))]
    kept += [
        box(o.x_mm, o.y_mm, o.x_mm + o.length_mm, o.y_mm + o.width_mm)
        for o in layout.offcuts
        if o.board == board.id
    ]
    waste = board.wood(view.face).difference(unary_union(kept))
    sketch.hatch(view.shape(waste), step, 45.0, 0.4, INK, casing=0.3)


def draw_offcuts(
    sketch: Sketch, board: Board, layout: Layout, view: FaceView, size: float, units: str
) -> list[Polygon]:
    """Draw the left-overs worth keeping; return the page places of their labels."""
    taken = []
    for offcut in layout.offcuts:
        if offcut.board != board.id:
            continue
        ring = view.box(offcut.x_mm, offcut.y_mm, offcut.length_mm, offcut.width_mm)
        sketch.ring(ring, 0.9, INK, (5.0, 3.0), casing=0.5)
        text = size_text(offcut.length_mm, offcut.width_mm, units)
        taken += write_label(sketch, ring, [f"keep {text}"], size) or write_label(
            sketch, ring, ["keep", text], size
        )
    return taken


@dataclass(frozen=True, slots=True)
class Lettering:
    """How parts are named on a face, and what their names keep off.

    Attributes
    ----------
    units
        Of the rough sizes.
    sizes
        Whether the rough size stands under the name.
    largest
        Largest type size, points.
    avoid
        Flaws on the page, which labels should not hide.
    never
        Numbers of cuts, which no label may hide.
    keys
        Letters for parts that are too small for their names; None leaves those without a name.
    blocked
        Places of what is written already, over which no letter lies.
    """

    units: str
    sizes: bool = True
    largest: float = 11.0
    avoid: Sequence[BaseGeometry] = ()
    never: Sequence[BaseGeometry] = ()
    keys: PartKeys | None = None
    blocked: Sequence[Polygon] = ()


def draw_parts(
    sketch: Sketch,
    placements: Sequence[Placement],
    view: FaceView,
    parts: Mapping[str, Part],
    how: Lettering,
) -> list[Polygon]:
    """Draw the parts with name, rough size and show face; return the labels' page places."""
    taken: list[Polygon] = []
    unnamed: list[tuple[Sequence[Point], str, bool]] = []
    for placement in placements:
        slices = slices_with(placement, placements)
        if slices and slices[0] is not placement:
            continue  # drawn with the first slice of its blank
        nest = nest_of(placement, placements)
        if not nest or nest[0] is placement:
            _draw_blank(sketch, nest_blank(placement, nest), view)
        curve = _draw_curve(sketch, placement, parts.get(placement.part), view)
        lines = [
            blank_title(placement, placements, parts) if slices else part_title(placement, parts)
        ]
        if how.sizes and len(nest) < 2:
            lines.append(size_text(placement.length_mm, placement.width_mm, how.units))
        # A slice shows the face that the resaw opens, which no map can.
        show = placement.show_face == view.face and placement.layer is None
        whole = points_of_ring(view.shape(turned_shape(placement)))
        rooms = _rooms_in_nest(curve) if nest and curve else (whole,)
        spots = _written(sketch, rooms, lines, how, show=show)
        taken += spots
        if not spots and how.keys is not None:
            unnamed.append((rooms[0], how.keys.letter(_meaning(lines[0], placement)), show))
    # Last, so that they step aside for every name.
    for room, letter, show in unnamed:
        others = [*taken, *how.blocked]
        off = [*how.avoid, *how.never]
        taken += write_letter(sketch, room, letter, how.largest, show=show, avoid=off, taken=others)
    return taken


def _draw_blank(sketch: Sketch, blank: Placement, view: FaceView) -> None:
    """Draw the rectangle that the saws free for a part, or for a whole nest."""
    sawn = points_of_ring(view.shape(turned_shape(blank)))
    sketch.area(sawn, PAPER, 0.16)
    sketch.ring(sawn, 1.3, PART, casing=0.8)


def _draw_curve(
    sketch: Sketch, placement: Placement, part: Part | None, view: FaceView
) -> Sequence[Point]:
    """Draw a curved part's outline and return it; nothing of a part with straight sides."""
    if part is None or part.outline_mm is None:
        return ()
    curve = points_of_ring(view.shape(shape_on_blank(placement, part)))
    sketch.ring(curve, 1.1, PART, (4.0, 2.0), casing=0.6)
    return curve


def _written(
    sketch: Sketch,
    rooms: Sequence[Sequence[Point]],
    lines: Sequence[str],
    how: Lettering,
    *,
    show: bool,
) -> list[Polygon]:
    """Write a label into the first room that has space for it; return its page places."""
    for room in rooms:
        spots = write_label(
            sketch,
            room,
            lines,
            how.largest,
            bold_first=True,
            show=show,
            avoid=how.avoid,
            never=how.never,
        )
        if spots:
            return spots
    return []


def _meaning(title: str, placement: Placement) -> str:
    """Return what the key says of a part: its name, and its show face, which a letter lacks."""
    if placement.show_face is None or placement.layer is not None:
        return title
    return f"{title} (SHOW: face {placement.show_face})"


def _rooms_in_nest(curve: Sequence[Point]) -> tuple[Sequence[Point], ...]:
    """Return where a nested part's name may stand: inside its curve, else about that place.

    The middles of two nested parts' rectangles may be one and the same.
    """
    shape = Polygon(curve)
    inside = writing_room(shape)
    (x0, y0, x1, y1), at = shape.bounds, inside.centroid
    wide, tall = (x1 - x0) / 2, (y1 - y0) / 2
    about = box(at.x - wide, at.y - tall, at.x + wide, at.y + tall)
    return points_of_ring(inside), points_of_ring(about)


def draw_cut_line(
    sketch: Sketch, cut: Cut, view: FaceView, width: float, reach: float = 0.0
) -> None:
    """Draw a cut; ``reach`` lets a crosscut run out over the face on the page."""
    a, b = view.point(*cut.from_mm), view.point(*cut.to_mm)
    if reach:
        top, bottom = (a, b) if a[1] < b[1] else (b, a)
        a, b = (top[0], top[1] - reach), (bottom[0], bottom[1] + reach)
    sketch.line([a, b], width, INK, casing=0.6)
