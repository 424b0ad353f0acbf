"""The validator's own view of the ground: wood, margins, end trim, flaws, thickness."""

import math
from collections.abc import Iterator
from itertools import pairwise

from shapely import clip_by_rect
from shapely.affinity import scale, translate
from shapely.geometry import Polygon, box
from shapely.geometry.base import BaseGeometry

from scanner.board.board import Board, End
from scanner.board.flaw import Flaw
from scanner.placement.layout import Placement
from scanner.placement.parts import Faces, Part
from scanner.placement.shop import Shop
from scanner.placement.validator.limits import SLACK_MM
from scanner.placement.validator.objection import Objection, Rule
from scanner.placement.validator.turn import ground_of, shape_of

# A wavy edge may be this much deeper beside a part than where the trim is measured.
_TRIM_SLACK_MM = 1.0
# The margin is looked at in stretches of this length; it grows by far less along one.
_STRETCH_MM = 100.0
# No margin at all counts as this, since distances are measured in shares of it.
_LEAST_MM = 1e-3
_ONLY_SHOWS = ("stain", "pitch", "wild_grain")


def thickness_left_mm(board: Board, length: float, width: float, cleanup: float) -> float:
    """Return what is left of a piece when it is flat: circle arcs, and half of a twisted corner."""
    left = board.thickness.value_mm - cleanup
    if board.warp is None:
        return left
    low, high = board.faces[1].outline.bounds[1], board.faces[1].outline.bounds[3]
    whole_length, whole_width = board.length.value_mm, high - low
    length, width = min(length, whole_length), min(width, whole_width)
    left -= _arc_mm(abs(board.warp.bow_mm or 0.0), whole_length, length)
    left -= _arc_mm(abs(board.warp.cup_mm or 0.0), whole_width, width)
    twist = abs(board.warp.twist_mm or 0.0) * length * width / (whole_length * whole_width)
    return float(left - twist / 2)


def _arc_mm(rise: float, chord: float, piece: float) -> float:
    if rise <= 0:
        return 0.0
    radius = (chord * chord / 4 + rise * rise) / (2 * rise)
    return radius - math.sqrt(radius * radius - piece * piece / 4)


def ground_objections(p: Placement, part: Part, board: Board, shop: Shop) -> Iterator[Objection]:
    """Say what is wrong with the ground a placement takes."""
    part_box = ground_of(p, part)
    hidden = part.faces is Faces.HIDDEN
    for number, face in board.faces.items():
        wood = _wood(board, number) if hidden else face.outline
        if not wood.buffer(SLACK_MM).covers(part_box):
            yield Objection.to(p, Rule.WOOD, f"is not all within the wood of face {number}")
        elif _too_near(part_box, wood.boundary, board.outline_u_mm, face.u_scale, shop):
            words = f"is nearer to the edge of face {number} than the margin"
            yield Objection.to(p, Rule.MARGIN, words)
        for words in _trims(part_box, board, number, shop):
            yield Objection.to(p, Rule.TRIM, words)
    for flaw in board.flaws:
        for words in _flaw(p, flaw, part, board, shop):
            yield Objection.to(p, Rule.FLAW, words)
    if _may_carry_wane(part):
        for words in _carried_wane(p, board, shop):
            yield Objection.to(p, Rule.FLAW, words)
    for words in _thin_pieces(p, part, board):
        yield Objection.to(p, Rule.THICKNESS, words)
    if board.sapwood and part.sapwood != "any":
        for number, shapes in board.sapwood.items():
            if part.sapwood == "back" and hidden is False and p.show_face not in (None, number):
                continue
            if any(part_box.buffer(-SLACK_MM).intersects(shape) for shape in shapes):
                yield Objection.to(p, Rule.SAPWOOD, f"has sapwood on face {number}")


def thickness_objections(
    p: Placement, part: Part, board: Board, milled: Placement, shop: Shop
) -> Iterator[Objection]:
    """Say whether the rectangle ``milled`` for a part is too thin for it when it is flat."""
    length = max(milled.length_mm, shop.shortest_piece_mm)
    left = thickness_left_mm(board, length, milled.width_mm, shop.cleanup_mm)
    if left < part.thickness_mm - 1e-6:
        have = f"{left:.2f} mm are left when flat, {part.thickness_mm:.2f} are needed"
        yield Objection.to(p, Rule.THICKNESS, f"has too little wood: {have}")


def _thin_pieces(p: Placement, part: Part, board: Board) -> Iterator[str]:
    """Say where a part takes wood of a piece that was measured thinner than it is to be."""
    taken = ground_of(p, part)
    for piece in board.pieces:
        if piece.thickness is not None and piece.thickness.value_mm < part.thickness_mm - 1e-6:
            # A piece's place is known to some millimetres: only what lies well inside counts.
            rim = min(7.0, 0.3 * min(piece.length_mm, piece.width_mm))
            x1, y1 = piece.x_mm + piece.length_mm, piece.y_mm + piece.width_mm
            inner = box(piece.x_mm + rim, piece.y_mm + rim, x1 - rim, y1 - rim)
            if inner.intersects(taken):
                yield f"takes wood that is {piece.thickness.value_mm:.1f} mm thick by now"


def _wood(board: Board, number: int) -> BaseGeometry:
    wood: BaseGeometry = board.faces[number].outline
    for flaw in board.flaws:
        if flaw.kind == "wane" and flaw.state != "struck" and number in flaw.outlines:
            wood = wood.union(flaw.outlines[number].buffer(0.01))
    pieces = list(getattr(wood, "geoms", [wood]))
    return Polygon(max(pieces, key=lambda piece: float(piece.area)).exterior)


def _too_near(
    part_box: BaseGeometry, thing: BaseGeometry, u: float, u_scale: float, shop: Shop
) -> bool:
    """Whether a thing comes nearer than sqrt(U^2 + (u_scale d)^2) + sawing tolerance.

    d is how far the thing lies along the board (x) for what is between them along it, and how far
    across it (y) for what is between them across: with both distances in shares of their margins,
    they must be one margin apart.
    """
    left, low, right, high = part_box.bounds
    most = math.hypot(u, u_scale * (max(right, high) + 100)) + shop.sawing_tolerance_mm + 1
    if part_box.distance(thing) > most:
        return False
    inner = part_box.buffer(-SLACK_MM, join_style="mitre")
    x = left - most
    while x < right + most:
        # Before the part across the board, beside it, and behind it.
        for y0, y1 in ((low - most, low), (low, high), (high, high + most)):
            near = clip_by_rect(thing, x, y0, x + _STRETCH_MM, y1)
            if near.is_empty:
                continue
            at = (near.bounds[0], near.bounds[3 if y1 == low else 1])
            along, across = (
                max(math.hypot(u, u_scale * max(d, 0.0)) + shop.sawing_tolerance_mm, _LEAST_MM)
                for d in at
            )
            shares = (scale(s, 1 / along, 1 / across, origin=(0.0, 0.0)) for s in (inner, near))
            if next(shares).distance(next(shares)) < 1.0:
                return True
        x += _STRETCH_MM
    return False


def end_trim_mm(end: End, shop: Shop) -> float:
    """Return what an end loses: its own figure, or the shop's for ends seen or not."""
    if end.trim_mm is not None:
        return end.trim_mm
    return shop.end_trim_seen_mm if end.looked_over else shop.end_trim_unseen_mm


def _trims(part_box: BaseGeometry, board: Board, number: int, shop: Shop) -> Iterator[str]:
    """Drawn out towards the end by the trim, the part must still lie on the wood."""
    left, _, right, _ = part_box.bounds
    wood = _wood(board, number)
    for name, end in board.ends.items():
        trim = end_trim_mm(end, shop)
        moved = translate(part_box, -trim if name == "A" else trim)
        at_end = moved.union(part_box).convex_hull.difference(part_box)
        reach = trim + 150
        is_near = left - wood.bounds[0] < reach if name == "A" else wood.bounds[2] - right < reach
        if trim > 0 and is_near and not wood.buffer(_TRIM_SLACK_MM).covers(at_end):
            yield f"takes the {trim:.0f} mm that end {name} loses on face {number}"


def _is_forbidden(flaw: Flaw, part: Part, show_face: int | None) -> bool:
    """Read the table of flaws and faces, written out anew (wane of hidden parts apart)."""
    if flaw.state == "struck":
        return False
    if flaw.state == "possible" or part.faces is Faces.BOTH:
        return True
    if flaw.kind in ("knot", "wild_grain") and part.straight_grain not in (None, "follow"):
        return True  # the grain turns there
    size = max((_longest_mm(shape) for shape in flaw.outlines.values()), default=0.0)
    if flaw.kind == "knot":
        harms = not flaw.sound
    elif flaw.kind == "hole":
        harms = size >= 2.0
    else:
        harms = flaw.kind not in _ONLY_SHOWS
    # A knot may be too large wherever one may be at all: on the back of a show part, too.
    too_big = part.max_knot_mm is not None and size > part.max_knot_mm + 1e-6
    harms = harms or (flaw.kind == "knot" and too_big)
    if part.faces is Faces.SHOW:
        shows = show_face in flaw.outlines or flaw.is_through
        return shows or harms or flaw.kind == "wild_grain"
    return harms


def _longest_mm(shape: Polygon) -> float:
    corners = list(shape.minimum_rotated_rectangle.exterior.coords)
    return max(math.dist(a, b) for a, b in pairwise(corners))


def _flaw(p: Placement, flaw: Flaw, part: Part, board: Board, shop: Shop) -> Iterator[str]:
    judged = [ground_of(p, part)]
    if not _is_forbidden(flaw, part, p.show_face):
        if flaw.kind != "wild_grain" or flaw.state == "struck":
            return
        # Wild grain weakens near the part's long arrises only.
        if part.outline_mm is None:
            judged = [shape_of(p, 0, 25), shape_of(p, p.width_mm - 25)]
    if _may_carry_wane(part) and _is_known_wane(flaw):
        return
    for number, outline in flaw.outlines.items():
        thing = _drawn_out(flaw, outline, board)
        u_scale = board.faces[number].u_scale
        bad = [_too_near(shape, thing, flaw.u_mm, u_scale, shop) for shape in judged]
        inside = any(shape.buffer(-SLACK_MM).intersects(thing) for shape in judged)
        if any(bad) or inside:
            kind = flaw.kind.words
            yield f"is too near to {kind} {flaw.id} (face {number}) for {part.faces}"


def _may_carry_wane(part: Part) -> bool:
    """Whether one long edge may: of a hidden part, unless it is curved."""
    return part.faces is Faces.HIDDEN and part.outline_mm is None


def _is_known_wane(flaw: Flaw) -> bool:
    return flaw.kind == "wane" and flaw.state not in ("possible", "struck")


def _carried_wane(p: Placement, board: Board, shop: Shop) -> Iterator[str]:
    """All wane stays within 10 mm of one long edge: without it the part is clear of any."""
    without = (shape_of(p, 10), shape_of(p, 0, p.width_mm - 10))
    is_clear = [True, True]
    for flaw in board.flaws:
        for number, outline in flaw.outlines.items() if _is_known_wane(flaw) else ():
            u_scale = board.faces[number].u_scale
            near = [_too_near(rest, outline, flaw.u_mm, u_scale, shop) for rest in without]
            if all(near):
                yield f"is too near to wane {flaw.id} (face {number}) for hidden"
            else:
                is_clear = [was and not now for was, now in zip(is_clear, near, strict=True)]
    if not any(is_clear):
        yield "carries wane on both long edges, where one may have some"


def _drawn_out(flaw: Flaw, outline: Polygon, board: Board) -> BaseGeometry:
    """Return a crack from an end, as long as it is on its longer face."""
    if flaw.reach_mm is None or flaw.kind not in ("check", "split", "shake"):
        return outline
    start, _, stop, _ = board.faces[1].outline.bounds
    x0, y0, x1, y1 = outline.bounds
    if x0 + x1 < start + stop:
        return outline.union(box(x0, y0, max(x1, start + flaw.reach_mm), y1))
    return outline.union(box(min(x0, stop - flaw.reach_mm), y0, x1, y1))
