"""The groups of a layout that are seen together: panels of staves, matched sets, copies of a part.

Each becomes an `Assembly` of finished pieces, in the order of their numbers.
"""

import math
from collections.abc import Iterable, Mapping
from dataclasses import replace

from scanner.board.assembly import Assembly, Member, Way
from scanner.board.board import Board
from scanner.placement.copy_names import copy_name
from scanner.placement.giving.sizes import parts_as_made
from scanner.placement.layout import SAWN_OUT, Layout, Placement
from scanner.placement.parts import Faces, Part, PartsList
from scanner.placement.shop import Shop
from scanner.placement.validator.dropped import dropped_objections
from scanner.placement.wanted.sets import Manner, set_of
from scanner.placement.wanted.staves import jointing_mm

# More pieces than this nobody looks at as one picture.
MOST_MEMBERS = 24


def groups_of(
    layout: Layout, boards: Iterable[Board], parts: PartsList, shop: Shop
) -> tuple[Assembly, ...]:
    """Return every group of two or more pieces, panels first.

    A part of a matched set is in the set's group only, a stave in its panel's only.
    """
    made = {part.name: part for part in parts_as_made(parts, layout.placements, shop)}
    known = {board.id: board for board in boards}
    rows: dict[tuple[int, str], list[Placement]] = {}
    for placed in layout.placements:
        if placed.state == "spoiled" or placed.part not in made or placed.board not in known:
            continue
        rows.setdefault(_group(placed, made[placed.part]), []).append(placed)
    found = []
    for (_, title), own in sorted(rows.items(), key=lambda row: row[0]):
        if not 2 <= len(own) <= MOST_MEMBERS:
            continue
        order = sorted(own, key=lambda p: (p.part, p.copy, p.stave or 0))
        members = tuple(_member(p, made[p.part], known[p.board], shop) for p in order)
        found.append(Assembly(title, _way(own, made), members))
    return tuple(found)


def _group(placed: Placement, part: Part) -> tuple[int, str]:
    if placed.stave is not None:
        return (0, copy_name(part.name, placed.copy, part))
    matched = set_of(part)
    return (1, matched[0]) if matched else (2, part.name)


def _way(own: Iterable[Placement], made: Mapping[str, Part]) -> Way:
    own = tuple(own)
    if own[0].stave is not None:
        return "edge_to_edge"
    matched = set_of(made[own[0].part])
    return "in_a_row" if matched and matched[1] is Manner.IN_ORDER else "stacked"


def _member(placed: Placement, part: Part, board: Board, shop: Shop) -> Member:
    """Return the finished piece in the middle of its rough one."""
    length, width = part.length_mm, part.width_mm
    if placed.stave is not None:
        width = placed.width_mm - jointing_mm(shop)
    along, across = (placed.length_mm - length) / 2, (placed.width_mm - width) / 2
    turn = replace(placed, length_mm=max(along, 0.0), width_mm=max(across, 0.0))
    corner = _corner(turn)
    return Member(
        part=placed.part,
        copy=placed.copy,
        name=copy_name(placed.part, placed.copy, part),
        stave=placed.stave or 0,
        board=placed.board,
        corner_mm=corner,
        size_mm=(min(length, placed.length_mm), min(width, placed.width_mm)),
        angle_deg=placed.angle_deg,
        face=placed.show_face or 1,
        may_show=_may_show(placed, part, board, shop),
        is_face_free=part.faces is not Faces.SHOW,
        is_cut=placed.state in SAWN_OUT,
    )


def _corner(turn: Placement) -> tuple[float, float]:
    """Return the far corner of the turned margin between rough and finished piece."""
    c, s = math.cos(math.radians(turn.angle_deg)), math.sin(math.radians(turn.angle_deg))
    return (
        turn.x_mm + c * turn.length_mm - s * turn.width_mm,
        turn.y_mm + s * turn.length_mm + c * turn.width_mm,
    )


def _may_show(placed: Placement, part: Part, board: Board, shop: Shop) -> tuple[int, ...]:
    if part.faces is not Faces.SHOW or placed.show_face is None:
        return (1, 2)
    other = replace(placed, show_face=3 - placed.show_face)
    if any(dropped_objections(other, (), part, board, shop)):
        return (placed.show_face,)
    return (1, 2)
