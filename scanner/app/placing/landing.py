"""The errand "may it lie here?": where a part lands that is put down on a board by hand."""

from __future__ import annotations

import threading
from collections import OrderedDict
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from shapely.geometry import Point

from scanner.app.lot.asked_parts import asked_parts
from scanner.app.placing.follow_grain import with_grain
from scanner.errors import LotError
from scanner.placement.copy_names import copy_name
from scanner.placement.ground.may_lie import beside_others, nearest_corner, room_of
from scanner.placement.layout import SAWN_OUT
from scanner.placement.parts import PartsList, show_faces
from scanner.placement.rules.follow import follows, turn_deg
from scanner.placement.rules.ground import margin_mm
from scanner.placement.validator.dropped import dropped_objections
from scanner.placement.wanted.turned import blank_of
from scanner.sheets.words import slices_with
from scanner.storage.ticks import copy_of

if TYPE_CHECKING:
    from collections.abc import Callable, Collection, Sequence
    from pathlib import Path

    from shapely.geometry.base import BaseGeometry

    from scanner.board.board import Board
    from scanner.placement.ground.may_lie import Room
    from scanner.placement.layout import Placement
    from scanner.placement.parts import Part
    from scanner.placement.shop import Shop
    from scanner.storage.lots import Lot
    from scanner.storage.ticks import Copy

# Nearer than this to the line of a neighbour, a part is laid on that line: one rip frees both. A
# neighbour lies no further off along the board than what is commonly ripped in one piece.
_IN_LINE_MM = 6.0
_NEIGHBOUR_MM = 300.0
# A person moves one part over a few boards; each room takes a third of a second to work out.
_ROOMS_KEPT = 48


@dataclass(frozen=True, slots=True)
class Landing:
    """Where a part would land, or why it may not lie there.

    Attributes
    ----------
    placement
        The part as it would lie; None where it may not.
    why
        What is in the way, in words; "" where it may lie.
    makes_way
        The planned parts that lie there now and would be given other places.
    with_it
        The other slices of its blank, as they would lie: they come along.
    """

    placement: Placement | None
    why: str = ""
    makes_way: tuple[Placement, ...] = ()
    with_it: tuple[Placement, ...] = ()


@dataclass(frozen=True, slots=True)
class Bench:
    """What a part is put down among: the lot as it is now."""

    lot: Lot
    parts: dict[str, Part]
    shop: Shop
    placements: tuple[Placement, ...]
    # Wood that was spoiled stays spoiled, whatever the layout says.
    spoiled: tuple[Placement, ...]

    def called(self, name: str, copy: int) -> str:
        """Return what a copy is called."""
        return copy_name(name, copy, self.parts.get(name))

    def on(self, board: str, without: Collection[Copy]) -> list[Placement]:
        """Return the parts on a board, some left aside."""
        return [p for p in self.placements if p.board == board and copy_of(p) not in without]

    def slices_beside(self, mover: Placement) -> list[Placement]:
        """Return what else is resawn from the blank of a slice."""
        blank = slices_with(mover, self.placements)
        return [p for p in blank if p.part in self.parts and copy_of(p) != copy_of(mover)]


def bench_of(lot: Lot) -> Bench:
    """Return the lot's parts as they lie and what they ask."""
    saved = lot.layout()
    placements = saved.layout.placements if saved else ()
    ticks = lot.ticks()
    return Bench(
        lot,
        {part.name: part for part in asked_parts(lot)},
        lot.shop(),
        tuple(p for p in placements if p.state != "spoiled"),
        ticks.spoiled,
    )


def stays(placed: Placement) -> bool:
    """Whether a part keeps its place: cut, or said to stay."""
    return placed.locked or placed.state in SAWN_OUT


def land(
    bench: Bench,
    mover: Placement,
    board_id: str,
    corner: tuple[float, float],
    reach_mm: float,
    without: Collection[Copy] = (),
    in_line: bool = True,
) -> Landing:
    """Return where a part lands whose corner of smallest x and y is wished at a place.

    It lands where it pushes nothing away if such a place is within reach, else where only planned
    parts make way for it. A slice takes the others of its blank along.

    Parameters
    ----------
    corner
        Board frame, mm.
    reach_mm
        How far from there it may land.
    without
        Further parts that count as picked up.
    in_line
        Whether it is laid on the line of a neighbour's edge that is near.

    Raises
    ------
    LotError
        The part is not in the parts list, or the lot has no such board.
    """
    part = bench.parts.get(mover.part)
    if part is None:
        raise LotError(f"{mover.part} is not in the parts list", "put it back into the list")
    slices = bench.slices_beside(mover)
    if (cut := next((p for p in slices if p.state in SAWN_OUT), None)) is not None:
        name = bench.called(cut.part, cut.copy)
        return Landing(None, f"{name}, resawn from the same blank, is cut already.")
    board = bench.lot.board(board_id)
    if board_id != mover.board and follows(part):
        mover = replace(mover, angle_deg=_turn_there(bench, board, part))
    in_line = in_line and not mover.angle_deg
    # Others keep clear of the whole blank of a turned part.
    away = {copy_of(mover), *map(copy_of, slices), *without}
    others = [blank_of(p) for p in bench.on(board_id, away)]
    fixed = [*filter(stays, others), *(gone for gone in bench.spoiled if gone.board == board_id)]
    kerf = bench.shop.kerf_mm
    rooms = [_room(bench, board, part, mover, face) for face in show_faces(part, mover.show_face)]
    # Rather turned over than another part pushed away.
    for among in ([*fixed, *others], fixed):
        for room in rooms:
            clear = beside_others(room, among, kerf)
            at = nearest_corner(clear, *corner, reach_mm)
            if at is None:
                continue
            x, y = _in_line(at, mover, among, clear) if in_line else at
            landed = _laid(mover, board, (x, y), room.show_face, bench.shop)
            with_it = tuple(_under(landed, p) for p in slices)
            if any(
                any(dropped_objections(p, fixed, bench.parts[p.part], board, bench.shop))
                for p in (landed, *with_it)
            ):
                continue
            makes_way = tuple(p for p in others if _meets(landed, p, kerf))
            return Landing(landed, "", makes_way, with_it)
    return Landing(None, _why(rooms[0], mover, corner, fixed, bench.shop, bench.called))


def _turn_there(bench: Bench, board: Board, part: Part) -> float:
    """Return by how much a part that follows the grain is turned on another board."""
    pictures = tuple(face.picture for _, face in sorted(board.faces.items()))
    key = (bench.lot.path, board.id, pictures)
    with _turn:
        known = _courses.get(key)
    if known is None:
        (grained,) = with_grain(
            (board,), PartsList((part,)), lambda one, face: _picture_of(bench.lot, one, face)
        )
        known = (grained.grain_deg,)
        with _turn:
            _courses[key] = known
    return turn_deg(replace(board, grain_deg=known[0]), part)


def _picture_of(lot: Lot, board: Board, face: int) -> Path | None:
    picture = board.faces[face].picture
    return lot.picture(picture) if picture else None


def turned(bench: Bench, placed: Placement) -> Landing:
    """Return a part as it lies, its other face to the show side."""
    part = bench.parts.get(placed.part)
    if part is None or placed.show_face is None:
        raise LotError(f"{placed.part} asks for no show face", "turn another part")
    board = bench.lot.board(placed.board)
    other = replace(placed, show_face=3 - placed.show_face, locked=True)
    if not any(dropped_objections(other, (), part, board, bench.shop)):
        return Landing(other)
    room = _room(bench, board, part, placed, other.show_face)
    return Landing(None, _said(room.in_the_way(placed.x_mm, placed.y_mm)))


def _laid(
    mover: Placement, board: Board, at: tuple[float, float], show_face: int | None, shop: Shop
) -> Placement:
    x, y = round(at[0], 2), round(at[1], 2)
    scale = max(face.u_scale for face in board.faces.values())
    margin = margin_mm(board.outline_u_mm, scale, min(x, y), shop)
    return replace(
        mover,
        board=board.id,
        x_mm=x,
        y_mm=y,
        show_face=show_face,
        margin_mm=round(margin, 2),
        locked=True,
        state="planned",
        nest=None,  # taken out of its nest, it has a blank of its own
    )


def _under(landed: Placement, other: Placement) -> Placement:
    """Return another slice of a blank that has landed."""
    shown = landed.show_face if other.show_face else None
    return replace(landed, part=other.part, copy=other.copy, layer=other.layer, show_face=shown)


def _in_line(
    at: tuple[float, float], mover: Placement, others: Sequence[Placement], clear: BaseGeometry
) -> tuple[float, float]:
    """Return a place on the line of a neighbour's edge where one is near, else the place itself."""
    x, y = at
    lines = sorted(
        (
            line
            for p in others
            if p.x_mm - x - mover.length_mm < _NEIGHBOUR_MM
            and x - p.x_mm - p.length_mm < _NEIGHBOUR_MM
            for line in (p.y_mm, p.y_mm + p.width_mm - mover.width_mm)
        ),
        key=lambda line: abs(line - y),
    )
    for line in lines:
        if abs(line - y) <= _IN_LINE_MM and clear.covers(Point(x, line)):
            return x, line
    return at


def _meets(one: Placement, two: Placement, kerf: float) -> bool:
    one, two = blank_of(one), blank_of(two)
    along = max(two.x_mm - one.x_mm - one.length_mm, one.x_mm - two.x_mm - two.length_mm)
    across = max(two.y_mm - one.y_mm - one.width_mm, one.y_mm - two.y_mm - two.width_mm)
    return max(along, across) < kerf


def _why(
    room: Room,
    mover: Placement,
    corner: tuple[float, float],
    fixed: Sequence[Placement],
    shop: Shop,
    called: Callable[[str, int], str],
) -> str:
    """Say what is in the way at a wished place."""
    if room.refusal is not None:
        return f"{room.board.id} {room.refusal}."
    wished = replace(mover, x_mm=corner[0], y_mm=corner[1])
    parts = [
        f"{called(p.part, p.copy)} ({'spoiled' if p.state == 'spoiled' else 'it stays there'})"
        for p in fixed
        if _meets(wished, p, shop.kerf_mm)
    ]
    return _said((*room.in_the_way(*corner), *parts))


def _said(names: Sequence[str]) -> str:
    if not names:
        return "No crosscut, rip, crosscut could free it beside what stays there."
    shown = ", ".join(names[:3])
    return f"In the way: {shown}{' and more' if len(names) > 3 else ''}."


_rooms: OrderedDict[tuple[object, ...], Room] = OrderedDict()
# The course of the grain of boards that a part was carried to, by their pictures.
_courses: dict[tuple[object, ...], tuple[float | None]] = {}
_turn = threading.Lock()


def _room(bench: Bench, board: Board, part: Part, mover: Placement, face: int | None) -> Room:
    """Return where a part of this size may lie on a board; kept while the board stays the same."""
    # A part is a frozen value; of the board all counts but what was written beside it.
    ground = tuple(
        (flaw.kind, flaw.state, flaw.sound, flaw.is_through, flaw.reach_mm, *(
            (number, shape.wkb) for number, shape in flaw.outlines.items()
        ))
        for flaw in board.flaws
    )  # fmt: skip
    key = (
        bench.lot.path, board.id, tuple((n, f.outline.wkb) for n, f in board.faces.items()),
        tuple(board.ends.items()), board.keep_whole, board.only_parts, ground, part, bench.shop,
        board.thickness, board.warp, board.slope_one_in, board.pieces,
        mover.length_mm, mover.width_mm, face, mover.angle_deg,
    )  # fmt: skip
    with _turn:
        if key in _rooms:
            _rooms.move_to_end(key)
            return _rooms[key]
    size = (mover.length_mm, mover.width_mm)
    room = room_of(board, part, size, bench.shop, face, mover.angle_deg)
    with _turn:
        _rooms[key] = room
        while len(_rooms) > _ROOMS_KEPT:
            _rooms.popitem(last=False)
    return room
