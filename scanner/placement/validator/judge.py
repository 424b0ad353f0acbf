"""Judges a finished layout from geometry alone; shares no code with the search.

Everything is worked out anew from boards, parts and shop: nothing of ``problem``, ``rules``,
``cuts`` or ``bound`` is used, so that a mistake there cannot hide here.
"""

import re
from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence

from shapely.geometry import LineString, Polygon, box

from scanner.board.board import Board
from scanner.board.volume import Tally, board_feet, quarters_of
from scanner.placement.layout import Layout, Placement
from scanner.placement.parts import Faces, Part, PartsList
from scanner.placement.shop import Shop
from scanner.placement.validator.cuts import cut_objections
from scanner.placement.validator.ground import (
    ground_objections,
    thickness_left_mm,
)
from scanner.placement.validator.nests import blank_round, nest_objections, nests_as_one
from scanner.placement.validator.sets import set_objections
from scanner.placement.validator.sizes import finished_size_mm, size_objections, size_ranges_mm
from scanner.placement.validator.slices import one_of_each_blank, slice_objections
from scanner.placement.validator.staves import glued_up, stave_objections
from scanner.placement.validator.turn import shape_of, turn_objections
from scanner.units import inches_from_mm

TOLERANCE_MM = 0.05
_CUT_ALREADY = ("cut", "milled", "resting", "done")


def validate_layout(
    layout: Layout, boards: Sequence[Board], parts: PartsList, shop: Shop
) -> tuple[str, ...]:
    """Return what is wrong with a layout, in words; empty where nothing is."""
    board_of = {board.id: board for board in boards}
    part_of = {part.name: part for part in parts}
    found: list[str] = []
    on_board: dict[str, list[Placement]] = defaultdict(list)
    for n, p in enumerate(layout.placements):
        if p.part not in part_of or p.board not in board_of:
            found.append(f"placement {n}: no part {p.part!r} or no board {p.board!r}")
            continue
        if p.state == "spoiled":
            continue
        on_board[p.board].append(p)
        milled = blank_round(p, layout.placements)
        found += _one_placement(p, part_of[p.part], board_of[p.board], shop, milled)
    for placements in on_board.values():
        found += _neighbours(nests_as_one(one_of_each_blank(placements)), shop.kerf_mm)
    found += _copies(layout, part_of, shop)
    live = [p for placements in on_board.values() for p in placements]
    found += size_objections(glued_up(live, parts, shop), parts, shop)
    found += stave_objections(live, board_of, parts, shop)
    found += set_objections(live, board_of, parts, shop.kerf_mm)
    found += nest_objections(live, part_of, shop.kerf_mm)
    found += _offcuts(layout, board_of, on_board)
    found += slice_objections(live, board_of, parts, shop)
    blanks = {
        id: nests_as_one(one_of_each_blank(placements)) for id, placements in on_board.items()
    }
    found += cut_objections(layout, board_of, blanks, shop)
    found += _totals(layout, board_of, part_of, on_board, shop)
    return tuple(found)


def _label(p: Placement) -> str:
    return f"{p.board}: {p.part} {p.copy} at ({p.x_mm:.1f}, {p.y_mm:.1f})"


def _one_placement(
    p: Placement, part: Part, board: Board, shop: Shop, milled: Placement
) -> Iterable[str]:
    label = _label(p)
    length, width = p.length_mm, p.width_mm
    finished = finished_size_mm(p, part, shop)
    for side, size, least, most in zip(
        ("long", "wide"), finished, *size_ranges_mm(part), strict=True
    ):
        if p.stave is not None and side == "wide":
            continue  # what its panel makes up to is judged by ``stave_objections``
        if not least - TOLERANCE_MM <= size <= most + TOLERANCE_MM:
            may = f"{least:.1f}" if least == most else f"{least:.1f} to {most:.1f}"
            yield f"{label} is {size:.1f} mm {side} when finished, not {may}"
    yield from (f"{label} {objection}" for objection in turn_objections(p, part, board))
    if part.faces is Faces.SHOW and p.show_face not in (1, 2):
        yield f"{label} does not say which face shows"
    if part.faces is not Faces.SHOW and p.show_face is not None:
        yield f"{label} names a show face, but needs none"
    if p.state in _CUT_ALREADY:
        return  # what is cut cannot be moved any more
    if part.species and part.species.lower().strip() != board.species.lower().strip():
        yield f"{label} should be {part.species}, the board is {board.species}"
    if part.only_boards and board.id not in part.only_boards:
        yield f"{label} may only come from {', '.join(part.only_boards)}"
    if board.id in part.not_boards:
        yield f"{label} must not come from this board"
    if board.keep_whole:
        yield f"{label}: the board is kept whole"
    limit = re.fullmatch(r"1\s*in\s*(\d+)", part.straight_grain or "")
    if limit and board.slope_one_in is not None and board.slope_one_in < int(limit[1]) - 1e-6:
        yield f"{label} asks for {part.straight_grain}, the board's grain may slope more"
    if board.only_parts is not None and part.name not in board.only_parts:
        yield f"{label}: the board is kept for other parts"
    length, width = max(milled.length_mm, shop.shortest_piece_mm), milled.width_mm
    left = thickness_left_mm(board, length, width, shop.cleanup_mm)
    if left < part.thickness_mm - 1e-6:
        yield f"{label}: {left:.2f} mm are left when flat, {part.thickness_mm:.2f} are needed"
    for objection in ground_objections(p, part, board, shop):
        yield f"{label} {objection}"


def _neighbours(placements: Sequence[Placement], kerf: float) -> Iterable[str]:
    order = sorted(placements, key=lambda p: p.x_mm)
    for i, a in enumerate(order):
        for b in order[i + 1 :]:
            along = b.x_mm - (a.x_mm + a.length_mm)
            if along >= kerf - TOLERANCE_MM:
                break
            across = max(b.y_mm - a.y_mm - a.width_mm, a.y_mm - b.y_mm - b.width_mm)
            if across < kerf - TOLERANCE_MM:
                yield f"{_label(a)} and {b.part} {b.copy} overlap or leave less than a kerf"


def _copies(layout: Layout, part_of: dict[str, Part], shop: Shop) -> Iterable[str]:
    live = [p for p in layout.placements if p.state != "spoiled" and p.part in part_of]
    for (name, copy, _), times in Counter((p.part, p.copy, p.stave) for p in live).items():
        if times > 1:
            yield f"{name} {copy} is placed {times} times"
    placed = Counter(p.part for p in glued_up(live, tuple(part_of.values()), shop))
    missing = Counter[str]()
    for entry in layout.unplaced:
        missing[entry.part] += entry.copies
        if entry.part not in part_of:
            yield f"unplaced: no part {entry.part!r}"
        if entry.copies < 1 or not entry.reason.strip():
            yield f"unplaced: {entry.part} needs a number of copies and a reason"
    for name, part in part_of.items():
        most = part.quantity + part.spares
        if placed[name] > most:
            yield f"{name}: {placed[name]} placed, {most} asked for"
        listed = min(placed[name], part.quantity) + missing[name]
        # What is said to be missing may count the spares that found no place, or leave them out.
        is_told = listed == part.quantity or placed[name] + missing[name] == most
        if not part.filler and not is_told:
            yield (
                f"{name}: {placed[name]} placed and {missing[name]} unplaced do not make "
                f"{part.quantity}"
            )


def _offcuts(
    layout: Layout, board_of: dict[str, Board], on_board: dict[str, list[Placement]]
) -> Iterable[str]:
    for o in layout.offcuts:
        if o.board not in board_of or o.length_mm <= 0 or o.width_mm <= 0:
            yield f"offcut on {o.board} has no board or no size"
            continue
        shape = box(o.x_mm, o.y_mm, o.x_mm + o.length_mm, o.y_mm + o.width_mm).buffer(-TOLERANCE_MM)
        if not all(face.outline.covers(shape) for face in board_of[o.board].faces.values()):
            yield f"offcut on {o.board} at {o.x_mm:.1f} is not all wood"
        for flaw in board_of[o.board].flaws:
            if flaw.counts and any(s.intersects(shape) for s in flaw.outlines.values()):
                yield f"offcut on {o.board} at {o.x_mm:.1f} is not clear of {flaw.id}"
        for cut in layout.cuts:
            if cut.board == o.board and LineString((cut.from_mm, cut.to_mm)).intersects(shape):
                yield f"offcut on {o.board} at {o.x_mm:.1f} is cut in two by cut {cut.order}"
        for p in on_board.get(o.board, ()):
            rest = shape_of(p)
            if rest.distance(shape) < layout.kerf_mm - TOLERANCE_MM:
                yield f"offcut on {o.board} at {o.x_mm:.1f} lies on {p.part} {p.copy}"


def _totals(
    layout: Layout,
    board_of: dict[str, Board],
    part_of: dict[str, Part],
    on_board: dict[str, list[Placement]],
    shop: Shop,
) -> Iterable[str]:
    s = layout.summary
    placed = [p for group in on_board.values() for p in group]
    opened = [board_of[id] for id in on_board]
    area = sum(_gross_mm2(board) for board in opened)
    placed = glued_up(placed, tuple(part_of.values()), shop)
    upper = [p for p in placed if p.layer in (None, 1)]  # a blank's ground counts once
    finished = sum(_finished_mm2(p, part_of[p.part], shop) for p in upper)
    asked = sum(part.quantity + part.spares for part in part_of.values())
    true = {
        "placed": (s.placed, len(placed)),
        "asked": (s.asked, asked),
        "boards opened": (s.boards_opened, len(opened)),
        "area opened": (s.area_opened_mm2, area),
        "board feet": (s.board_feet, _feet(board_of.values(), opened)),
        "yield": (s.yield_share, finished / area if area else 0.0),
    }
    for name, (said, is_true) in true.items():
        if abs(said - is_true) > 1e-6 * max(1.0, abs(is_true)):
            yield f"summary says {name} {said}, it is {is_true}"
    b = layout.bound
    value = sum(
        part_of[p.part].priority * part_of[p.part].length_mm * part_of[p.part].width_mm
        for p in placed
    )
    if b.of == "value":
        gap = 1 - value / b.value if b.value > 0 else 0.0
        if value > b.value * (1 + 1e-9):
            yield f"the layout's value {value:.0f} is more than its bound {b.value:.0f}"
    else:
        gap = 1 - b.value / area if area > 0 else 0.0
        if area < b.value * (1 - 1e-9):
            yield f"the boards opened have {area:.0f} mm2, less than the bound {b.value:.0f}"
    if abs(gap - b.gap) > 1e-6:
        yield f"the gap to the bound is {gap:.6f}, not {b.gap:.6f}"
    unseen = {board.id for board in opened if not board.is_looked_over}
    if set(layout.not_looked_over) != unseen:
        yield f"not looked over are {sorted(unseen)}, said are {sorted(layout.not_looked_over)}"


def _finished_mm2(p: Placement, part: Part, shop: Shop) -> float:
    """Return the finished area of what is placed; a curve does not fill its rectangle."""
    length, width = finished_size_mm(p, part, shop)
    return float(Polygon(part.outline_mm).area) if part.outline_mm else length * width


def _gross_mm2(board: Board) -> float:
    wood = board.faces[1].outline
    for flaw in board.flaws:
        if flaw.kind == "wane" and flaw.state != "struck" and 1 in flaw.outlines:
            wood = wood.union(flaw.outlines[1].buffer(0.01))
    pieces: list[Polygon] = list(getattr(wood, "geoms", [wood]))
    return float(max(Polygon(piece.exterior).area for piece in pieces))


def _feet(boards: Iterable[Board], opened: Sequence[Board]) -> float:
    """Return board feet of the opened boards; the whole lot is tallied in its order (NHLA)."""
    tally = Tally()
    total = 0.0
    ids = {board.id for board in opened}
    for board in boards:
        low, high = board.faces[1].outline.bounds[1], board.faces[1].outline.bounds[3]
        widths = [station.width.value_mm for station in board.widths] or [high - low]
        measure = tally.surface_measure(
            inches_from_mm(sum(widths) / len(widths)), inches_from_mm(board.length.value_mm)
        )
        if board.id in ids:
            total += float(board_feet([measure], quarters_of(board.thickness.value_mm)))
    return total
