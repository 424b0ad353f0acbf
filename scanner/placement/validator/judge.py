"""Judges a finished layout from geometry alone; shares no code with the search.

Everything is worked out anew from boards, parts and shop: nothing of ``problem``, ``rules``,
``cuts`` or ``bound`` is used, so that a mistake there cannot hide here.
"""

import math
import re
from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence

from shapely.geometry import LineString, Polygon, box

from scanner.board.board import Board
from scanner.board.volume import Tally, board_feet, quarters_of
from scanner.placement.layout import Bound, Layout, Placement
from scanner.placement.parts import Faces, Part, PartsList
from scanner.placement.shop import Shop
from scanner.placement.validator.cuts import cut_objections
from scanner.placement.validator.ground import ground_objections, thickness_objections
from scanner.placement.validator.limits import SAWN, TOLERANCE_MM
from scanner.placement.validator.nests import blank_round, nest_objections, nests_as_one
from scanner.placement.validator.objection import Objection, Rule, copies_of, rows_of
from scanner.placement.validator.sets import set_objections
from scanner.placement.validator.sizes import finished_size_mm, size_objections, size_ranges_mm
from scanner.placement.validator.slices import one_of_each_blank, slice_objections
from scanner.placement.validator.staves import glued_up, stave_objections
from scanner.placement.validator.turn import shape_of, turn_objections
from scanner.units import inches_from_mm


def validate_layout(
    layout: Layout, boards: Sequence[Board], parts: PartsList, shop: Shop
) -> tuple[Objection, ...]:
    """Return what is wrong with a layout; empty where nothing is."""
    board_of = {board.id: board for board in boards}
    part_of = {part.name: part for part in parts}
    found: list[Objection] = []
    on_board: dict[str, list[Placement]] = defaultdict(list)
    for n, p in enumerate(layout.placements):
        if p.part not in part_of or p.board not in board_of:
            words = f"placement {n}: no part {p.part!r} or no board {p.board!r}"
            found.append(Objection(Rule.NAMES, words, p.board))
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


def _one_placement(
    p: Placement, part: Part, board: Board, shop: Shop, milled: Placement
) -> Iterable[Objection]:
    """Judge one placed part; ``milled`` is the rectangle that is milled for it."""
    for words in _finished(p, part, shop):
        yield Objection.to(p, Rule.SIZE, words)
    yield from turn_objections(p, part, board)
    if part.faces is Faces.SHOW and p.show_face not in (1, 2):
        yield Objection.to(p, Rule.SHOW_FACE, "does not say which face shows")
    if part.faces is not Faces.SHOW and p.show_face is not None:
        yield Objection.to(p, Rule.SHOW_FACE, "names a show face, but needs none")
    if not 0 <= p.margin_mm < math.inf:
        yield Objection.to(p, Rule.MARGIN, f"is said to keep a margin of {p.margin_mm:g} mm")
    if p.state in SAWN:
        return  # what is cut cannot be moved any more
    for words in _wrong_board(part, board):
        yield Objection.to(p, Rule.ALLOWED, words)
    yield from thickness_objections(p, part, board, milled, shop)
    yield from ground_objections(p, part, board, shop)


def _finished(p: Placement, part: Part, shop: Shop) -> Iterable[str]:
    """Say which finished size is not what was asked for."""
    finished = finished_size_mm(p, part, shop)
    for side, size, least, most in zip(
        ("long", "wide"), finished, *size_ranges_mm(part), strict=True
    ):
        if p.stave is not None and side == "wide":
            continue  # what its panel makes up to is judged by ``stave_objections``
        if size > most and _is_cut_down(p, part, least, most):
            continue
        if not least - TOLERANCE_MM <= size <= most + TOLERANCE_MM:
            may = f"{least:.1f}" if least == most else f"{least:.1f} to {most:.1f}"
            yield f"is {size:.1f} mm {side} when finished, not {may}"


def _is_cut_down(p: Placement, part: Part, least: float, most: float) -> bool:
    """Say whether a part that is sawn already may be larger than the list asks: it still gives it.

    Not where the size may give, which all copies share, nor where a drawing says the shape.
    """
    return p.state in SAWN and least == most and not part.outline_mm


def _wrong_board(part: Part, board: Board) -> Iterable[str]:
    """Say why a part may not come from a board, whatever its place on it."""
    if part.species and part.species.lower().strip() != board.species.lower().strip():
        yield f"should be {part.species}, the board is {board.species}"
    if part.only_boards and board.id not in part.only_boards:
        yield f"may only come from {', '.join(part.only_boards)}"
    if board.id in part.not_boards:
        yield "must not come from this board"
    if board.keep_whole:
        yield "may not lie here: the board is kept whole"
    limit = re.fullmatch(r"1\s*in\s*(\d+)", part.straight_grain or "")
    if limit and board.slope_one_in is not None and board.slope_one_in < int(limit[1]) - 1e-6:
        yield f"asks for {part.straight_grain}, the board's grain may slope more"
    if board.only_parts is not None and part.name not in board.only_parts:
        yield "may not lie here: the board is kept for other parts"


def _neighbours(placements: Sequence[Placement], kerf: float) -> Iterable[Objection]:
    order = sorted(placements, key=lambda p: p.x_mm)
    for i, a in enumerate(order):
        for b in order[i + 1 :]:
            along = b.x_mm - (a.x_mm + a.length_mm)
            if along >= kerf - TOLERANCE_MM:
                break
            across = max(b.y_mm - a.y_mm - a.width_mm, a.y_mm - b.y_mm - b.width_mm)
            if across < kerf - TOLERANCE_MM:
                words = f"and {b.part} {b.copy} overlap or leave less than a kerf"
                yield Objection.to(a, Rule.KERF, words, b)


def _copies(layout: Layout, part_of: dict[str, Part], shop: Shop) -> Iterable[Objection]:
    live = [p for p in layout.placements if p.state != "spoiled" and p.part in part_of]
    for (name, copy, _), times in Counter((p.part, p.copy, p.stave) for p in live).items():
        if times > 1:
            words = f"{name} {copy} is placed {times} times"
            yield Objection(Rule.COPIES, words, parts=((name, copy),))
    placed = Counter(p.part for p in glued_up(live, tuple(part_of.values()), shop))
    missing = Counter[str]()
    for entry in layout.unplaced:
        missing[entry.part] += entry.copies
        if entry.part not in part_of:
            yield Objection(Rule.UNPLACED, f"unplaced: no part {entry.part!r}")
        if entry.copies < 1 or not entry.reason.strip():
            words = f"unplaced: {entry.part} needs a number of copies and a reason"
            yield Objection(Rule.UNPLACED, words)
    for name, part in part_of.items():
        most = part.quantity + part.spares
        if placed[name] > most:
            words = f"{name}: {placed[name]} placed, {most} asked for"
            yield Objection(Rule.COPIES, words, parts=rows_of(name))
        listed = min(placed[name], part.quantity) + missing[name]
        # What is said to be missing may count the spares that found no place, or leave them out.
        is_told = listed == part.quantity or placed[name] + missing[name] == most
        # Earlier layouts left fillers out.
        if not is_told and (missing[name] or not part.filler):
            words = (
                f"{name}: {placed[name]} placed and {missing[name]} unplaced do not make "
                f"{part.quantity}"
            )
            yield Objection(Rule.UNPLACED, words, parts=rows_of(name))


def _offcuts(
    layout: Layout, board_of: dict[str, Board], on_board: dict[str, list[Placement]]
) -> Iterable[Objection]:
    for o in layout.offcuts:
        where = f"offcut on {o.board} at {o.x_mm:.1f}"
        if o.board not in board_of or o.length_mm <= 0 or o.width_mm <= 0:
            words = f"offcut on {o.board} has no board or no size"
            yield Objection(Rule.OFFCUT, words, o.board)
            continue
        shape = box(o.x_mm, o.y_mm, o.x_mm + o.length_mm, o.y_mm + o.width_mm).buffer(-TOLERANCE_MM)
        if not all(face.outline.covers(shape) for face in board_of[o.board].faces.values()):
            yield Objection(Rule.OFFCUT, f"{where} is not all wood", o.board)
        for flaw in board_of[o.board].flaws:
            if flaw.counts and any(s.intersects(shape) for s in flaw.outlines.values()):
                yield Objection(Rule.OFFCUT, f"{where} is not clear of {flaw.id}", o.board)
        for cut in layout.cuts:
            if cut.board == o.board and LineString((cut.from_mm, cut.to_mm)).intersects(shape):
                words = f"{where} is cut in two by cut {cut.order}"
                yield Objection(Rule.OFFCUT, words, o.board)
        for p in on_board.get(o.board, ()):
            rest = shape_of(p)
            if rest.distance(shape) < layout.kerf_mm - TOLERANCE_MM:
                words = f"{where} lies on {p.part} {p.copy}"
                yield Objection(Rule.OFFCUT, words, o.board, copies_of(p))


def _totals(
    layout: Layout,
    board_of: dict[str, Board],
    part_of: dict[str, Part],
    on_board: dict[str, list[Placement]],
    shop: Shop,
) -> Iterable[Objection]:
    s = layout.summary
    opened = [board_of[id] for id in on_board]
    area = sum(_gross_mm2(board) for board in opened)
    live = [p for group in on_board.values() for p in group]
    placed = glued_up(live, tuple(part_of.values()), shop)
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
            yield Objection(Rule.SUMMARY, f"summary says {name} {said}, it is {is_true}")
    for words in _bound(layout.bound, [part_of[p.part] for p in placed], area):
        yield Objection(Rule.BOUND, words)
    unseen = {board.id for board in opened if not board.is_looked_over}
    if set(layout.not_looked_over) != unseen:
        said_unseen = sorted(layout.not_looked_over)
        words = f"not looked over are {sorted(unseen)}, said are {said_unseen}"
        yield Objection(Rule.LOOKED_OVER, words)


def _bound(bound: Bound, placed: Sequence[Part], area_mm2: float) -> Iterable[str]:
    """Say whether a bound is crossed, or the gap to it told wrongly."""
    value = sum(part.priority * part.length_mm * part.width_mm for part in placed)
    if bound.of == "value":
        gap = 1 - value / bound.value if bound.value > 0 else 0.0
        if value > bound.value * (1 + 1e-9):
            yield f"the layout's value {value:.0f} is more than its bound {bound.value:.0f}"
    else:
        gap = 1 - bound.value / area_mm2 if area_mm2 > 0 else 0.0
        if area_mm2 < bound.value * (1 - 1e-9):
            yield (
                f"the boards opened have {area_mm2:.0f} mm2, less than the bound {bound.value:.0f}"
            )
    if abs(gap - bound.gap) > 1e-6:
        yield f"the gap to the bound is {gap:.6f}, not {bound.gap:.6f}"


def _finished_mm2(p: Placement, part: Part, shop: Shop) -> float:
    """Return the finished area of what is placed; a curve does not fill its rectangle."""
    length, width = (
        most if size > most and _is_cut_down(p, part, least, most) else size
        for size, least, most in zip(
            finished_size_mm(p, part, shop), *size_ranges_mm(part), strict=True
        )
    )
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
