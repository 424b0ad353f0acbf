"""What the page shows of a lot: plain values, ready to draw, in the frame a person sees.

A drawing's frame is mm, x right, y down, as the person looks at the face: face 1 as in the board
frame, face 2 mirrored back from "seen through the board".
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from statistics import fmean
from typing import TYPE_CHECKING

from PIL import Image
from shapely.geometry import Polygon, box

from scanner.app.lot.asked_parts import asked_parts
from scanner.app.nodding.flaw_state import FlawView, flaw_views
from scanner.app.nodding.seen_face import Mirror, Ring, as_seen, mirror_of, ring_of
from scanner.app.nodding.taught_by_nods import taught_elsewhere
from scanner.app.placing.layout_state import LayoutView, layout_view
from scanner.board.measured import Measured
from scanner.board.species import UNNAMED, species_key
from scanner.board.volume import sawn_width_mm
from scanner.geometry.polygons import writing_room
from scanner.lot.off_board import off_board_lines
from scanner.placement.copy_names import copy_name
from scanner.placement.curves.shapes import shape_on_blank
from scanner.placement.wanted.turned import turned_shape
from scanner.sheets.words import slices_with

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Mapping, Sequence
    from pathlib import Path

    from scanner.board.board import Board, Face
    from scanner.placement.layout import Layout, Placement
    from scanner.placement.parts import Part
    from scanner.storage.lots import Lot
    from scanner.storage.rows import BoardStanding

# As much floor as lets an edge be told from the picture's end.
_ROUND_THE_WOOD_MM = 15.0
# On the page finer bends of a curve are not seen.
_FINE_MM = 0.4
# A traced arris has a corner every few mm, and all of them travel with every tap; those that turn
# its line by less than a tenth of a picture's pixel are left out.
_STRAIGHT_MM = 0.05
_FACES = ("face 1", "face 2")


@dataclass(frozen=True, slots=True)
class PartView:
    """A placed part: its label, the face that shows, how far it is, and its ring by face.

    ``written``: what its place bears, in rows: of slices over each other the one drawn last bears
    all their names. ``rooms``: boxes by face inside which its name is written; none where its ring
    is a rectangle.
    """

    label: str
    show_face: int | None
    state: str
    rings: dict[int, Ring]
    rooms: dict[int, Ring]
    written: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class FaceView:
    """A face: stored picture (None: not photographed) and where it lies, outline, state."""

    number: int
    picture: str | None
    place: tuple[float, float, float, float] | None  # x, y, width, height of the picture, mm
    mirror: Mirror
    frame: tuple[float, float, float, float]  # x0, y0, x1, y1 of the wood and a little floor, mm
    outline: Ring
    looked_over: bool


@dataclass(frozen=True, slots=True)
class BoardView:
    """One board, ready to draw."""

    id: str
    head: str
    size: str
    trust: str
    notes: tuple[str, ...]
    faces: tuple[FaceView, ...]
    flaws: tuple[FlawView, ...]
    ends: tuple[tuple[str, bool], ...]  # and whether each was looked at
    parts: tuple[PartView, ...]


@dataclass(frozen=True, slots=True)
class LotView:
    """The lot at a revision."""

    name: str
    revision: int
    lines: tuple[BoardStanding, ...]
    next_undo: str | None
    next_redo: str | None
    has_parts: bool
    layout: LayoutView
    units: str

    @property
    def boards_done(self) -> int:
        """How many boards are looked over."""
        return sum(line.is_done for line in self.lines)

    def first_to_do(self, among: Collection[str] | None = None) -> str | None:
        """Return the first board, or the first of some, that is not looked over."""
        return next(
            (
                line.id
                for line in self.lines
                if not line.is_done and (among is None or line.id in among)
            ),
            None,
        )


def lot_view(lot: Lot) -> LotView:
    """Return what the page says of the whole lot."""
    return LotView(
        name=lot.path.stem,
        revision=lot.revision,
        lines=lot.standings(),
        next_undo=lot.next_undo(),
        next_redo=lot.next_redo(),
        has_parts=lot.parts_text() is not None,
        layout=layout_view(lot),
        units=lot.shop().units,
    )


def board_view(lot: Lot, board_id: str, layout: Layout | None = None) -> BoardView:
    """Return one board, ready to draw, with the parts of a layout on it, else of the newest."""
    board, units = lot.board(board_id), lot.shop().units
    if layout is None:
        saved = lot.layout()
        layout = saved.layout if saved else None
    return BoardView(
        id=board.id,
        head=board_head(board, units),
        size=board_size(board, units),
        trust=board_trust(board),
        notes=(*short_notes(board), *off_board_lines((board,))),
        faces=tuple(_face_view(lot, board, number) for number in sorted(board.faces)),
        flaws=flaw_views(board, units, taught_elsewhere(lot, board)),
        ends=tuple((name, end.looked_over) for name, end in sorted(board.ends.items())),
        parts=_part_views(lot, board, layout) if layout else (),
    )


def board_head(board: Board, units: str) -> str:
    """Return species and thickness in words."""
    wood = "wood not named" if species_key(board.species) == UNNAMED else board.species
    return f"{wood}, {board.thickness.text(units)} thick"


def short_notes(board: Board) -> tuple[str, ...]:
    """Return a board's notes; one that both faces have stands once."""
    said: dict[str, str] = {}
    for note in board.notes:
        face, colon, what = note.partition(": ")
        if colon and face in _FACES:
            said[what] = "both faces" if said.get(what, face) != face else face
        else:
            said[note] = ""
    return tuple(f"{face}: {what}" if face else what for what, face in said.items())


def board_size(board: Board, units: str) -> str:
    """Return length and width in words, each with its +-."""
    width = Measured(
        sawn_width_mm(station.width.value_mm for station in board.widths),
        # As sheets and summaries say it: widths of one board are off together.
        fmean(station.width.u_mm for station in board.widths),
    )
    return f"{board.length.text(units)} long, {width.text(units)} wide on average"


def board_trust(board: Board) -> str:
    """Return in words what the board's sizes are good for."""
    if board.quality == "good":
        return "Safe for rough layout."
    return "Rough sizes only: tape it."


def _face_view(lot: Lot, board: Board, number: int) -> FaceView:
    face = board.faces[number]
    outline = as_seen(board, number, face.outline)
    place = _picture_place(lot, face)
    seen_place = as_seen(board, number, place).bounds if place else None
    x0, y0, x1, y1 = seen_place or outline.bounds
    wood = as_seen(board, number, board.wood(number)).buffer(_ROUND_THE_WOOD_MM)
    in_sight = wood.intersection(box(x0, y0, x1, y1))
    return FaceView(
        number=number,
        picture=face.picture if place else None,
        place=(x0, y0, x1 - x0, y1 - y0) if seen_place else None,
        mirror=mirror_of(board, number),
        frame=in_sight.bounds,
        outline=ring_of(outline.simplify(_STRAIGHT_MM)),
        looked_over=face.looked_over,
    )


def _picture_place(lot: Lot, face: Face) -> Polygon | None:
    """Return the ground a flat picture covers, board frame, or None where there is none."""
    path = lot.picture(face.picture) if face.picture else None
    if path is None or face.mm_per_px is None or face.picture_origin is None:
        return None
    columns, rows = _picture_size(path)
    # The origin is the centre of the first pixel.
    x, y = (at - face.mm_per_px / 2 for at in face.picture_origin)
    return box(x, y, x + columns * face.mm_per_px, y + rows * face.mm_per_px)


@lru_cache(maxsize=512)
def _picture_size(path: Path) -> tuple[int, int]:
    # Stored pictures are named by their hash, so a size once read stays true.
    with Image.open(path) as picture:
        return picture.size


def _part_views(lot: Lot, board: Board, layout: Layout) -> tuple[PartView, ...]:
    mine = [placed for placed in layout.placements if placed.board == board.id]
    parts = {part.name: part for part in asked_parts(lot)} if mine else {}
    return tuple(part_view(board, p, layout.placements, parts) for p in mine)


def part_view(
    board: Board, placed: Placement, all_placed: Iterable[Placement], parts: Mapping[str, Part]
) -> PartView:
    """Return a placed part as it is drawn on the faces of its board: a curved one as its curve.

    The corners of its blank may carry flaws, and a nest's blanks lie over each other.
    """
    part = parts.get(placed.part)
    label = label_of(placed, all_placed, part)
    written = _written(placed, tuple(all_placed), parts)
    # Of a slice the face that the resaw opens shows, whichever face the board turns up.
    shows = placed.show_face if placed.layer is None else None
    if part is None or part.outline_mm is None:
        rings = _rings(board, turned_shape(placed))
        return PartView(label, shows, placed.state, rings, {}, written)
    shape = shape_on_blank(placed, part).simplify(_FINE_MM)
    rings, rooms = _rings(board, shape), _rings(board, writing_room(shape))
    return PartView(label, shows, placed.state, rings, rooms, written)


def _written(
    placed: Placement, all_placed: Sequence[Placement], parts: Mapping[str, Part]
) -> tuple[str, ...]:
    slices = slices_with(placed, all_placed)
    if not slices:
        return (label_of(placed, all_placed, parts.get(placed.part)),)
    if placed is not slices[-1]:
        return ()
    in_order = sorted(slices, key=lambda one: one.layer or 0)
    names = [label_of(one, all_placed, parts.get(one.part)) for one in in_order]
    return (*names[:-1], f"{names[-1]} (resaw)")


def _rings(board: Board, shape: Polygon) -> dict[int, Ring]:
    return {number: ring_of(as_seen(board, number, shape)) for number in board.faces}


def label_of(placed: Placement, all_placed: Iterable[Placement], part: Part | None) -> str:
    """Return what is written on a part: its name, and its number where there are several.

    Where the parts list asks for several, one of which alone has its place is called as on its
    board map.
    """
    several = any(p.copy != 1 for p in all_placed if p.part == placed.part)
    title = placed.part
    if part is not None or several:
        title = copy_name(placed.part, placed.copy, part)
    return title if placed.stave is None else f"{title}, stave {placed.stave}"
