"""Short texts that the sheets share: sizes, part titles, cuts and cautions in plain words."""

from collections.abc import Mapping
from dataclasses import dataclass

from scanner.board.board import Board
from scanner.board.flaw import FlawKind, FlawState
from scanner.placement.layout import Cut, Layout, Placement
from scanner.placement.parts import Part, PartsList
from scanner.placement.shop import Shop
from scanner.sheets.tape import TapeEdge, edge_y, running_mm
from scanner.units import MM_PER_INCH, length_text, size_text

# Push stick (table-saw manual): narrower than 6 in, shorter than 12 in.
_PUSH_STICK_WIDTH_MM = 6 * MM_PER_INCH
_PUSH_STICK_LENGTH_MM = 12 * MM_PER_INCH


# What the column "at" of a cut list holds.
AT_MEANS = (
    "at: a crosscut from end A along the taped edge; a rip in from the far edge, "
    "at the A end to the B end of its line"
)


@dataclass(frozen=True, slots=True)
class CutRow:
    """One line of the cut list.

    ``at``: of a crosscut what the tape reads; of a rip how far in from the far edge the line runs,
    at its A end and at its B end. No unit; that stands in the heading.
    """

    order: int
    kind: str
    at: str
    piece: str
    text: str


def bare(length_mm: float, units: str) -> str:
    """Return a length without its unit, for columns and marks that name it once."""
    return length_text(length_mm, units).removesuffix(" mm").removesuffix(" in")


def unit_name(units: str) -> str:
    """Return the unit that bare lengths are in."""
    return "in" if units == "inch" else "mm"


def piece_title(piece_id: str, board_id: str) -> str:
    """Return a piece's name where the board is known: ``2`` for ``B01-2``."""
    return piece_id.removeprefix(f"{board_id}-")


def part_title(placement: Placement, parts: Mapping[str, Part]) -> str:
    """Return a part's name, with its copy number where there are several."""
    part = parts.get(placement.part)
    if part is not None and part.quantity + part.spares == 1:
        return placement.part
    return f"{placement.part} {placement.copy}"


def by_name(parts: PartsList) -> dict[str, Part]:
    """Return the parts by their names."""
    return {part.name: part for part in parts}


def finished_text(placement: Placement, parts: Mapping[str, Part], units: str) -> str:
    """Return a part's finished size, or a dash where the parts list does not know it."""
    part = parts.get(placement.part)
    return "–" if part is None else size_text(part.length_mm, part.width_mm, units)


def cut_rows(
    layout: Layout, board: Board, parts: Mapping[str, Part], edge: TapeEdge, units: str
) -> tuple[CutRow, ...]:
    """Return the cuts of a board in sawing order, each with what it does."""
    rows = []
    cuts = sorted((cut for cut in layout.cuts if cut.board == board.id), key=lambda c: c.order)
    for cut in cuts:
        across = abs(cut.to_mm[0] - cut.from_mm[0]) <= abs(cut.to_mm[1] - cut.from_mm[1])
        x = (cut.from_mm[0] + cut.to_mm[0]) / 2
        if cut.kind == "crosscut":
            at = bare(running_mm(board, edge, crosscut_line_mm(layout, cut)), units)
            piece, text = _crosscut_words(layout, cut, x)
        else:
            at = "" if across else _from_far_edge(layout, board, cut, units)
            piece, text = _side_words(layout, cut, parts, units, across=across)
        rows.append(CutRow(cut.order, _kind_word(cut, across=across), at, piece, text))
    return tuple(rows)


def cautions(
    board: Board, placements: tuple[Placement, ...], parts: Mapping[str, Part], shop: Shop
) -> tuple[str, ...]:
    """Return what to mind before and at the saw, this board's own points first.

    Sources: a magazine issue on rough lumber and its tips page (S88, S105), table-saw and jointer
    manuals (S110, S93), a crosscut-saw article by an extension author.
    """
    units = shop.units
    found = []
    pieces = [(p, part_title(p, parts)) for p in placements]
    short = [title for p, title in pieces if p.length_mm < shop.shortest_piece_mm]
    if short:
        least = length_text(shop.shortest_piece_mm, units)
        found.append(
            f"{_and(_few(short))}: shorter than {least}, your shortest for jointer and planer. "
            "Leave such a part joined to its neighbour until it is milled, or plane it by hand."
        )
    narrow = any(
        p.width_mm < _PUSH_STICK_WIDTH_MM or p.length_mm < _PUSH_STICK_LENGTH_MM for p in placements
    )
    counted = [flaw for flaw in board.flaws if flaw.counts]
    if any(f.kind is FlawKind.KNOT and f.sound is not True for f in counted):
        found.append("Cut loose knots out before jointer and planer; look for metal and grit.")
    else:
        found.append("Look for metal and grit before jointer and planer.")
    if any(f.kind is FlawKind.PITH or (f.kind is FlawKind.SPLIT) for f in counted):
        found.append("Pith or a split may close the kerf and pinch the blade.")
    if not all(end.looked_over for end in board.ends.values()):
        found.append("Look at every fresh end: where a crack shows, cut again before you measure.")
    if any(f.state is FlawState.POSSIBLE for f in counted) or not board.is_looked_over:
        found.append("Look at both faces and both edges before the first cut.")
    found.append(
        "Rough, bowed, cupped, twisted or crooked wood does not go on a table saw: band saw, "
        "jig saw, circular saw or a sled, until one face is flat and one edge straight."
    )
    push = "push stick, " if narrow else ""
    found.append(
        f"Never stand in line with the blade; riving knife, {push}light passes, eyes and ears "
        "covered, dust drawn off and a mask on."
    )
    found.append(
        "The manuals of your machines, the rules of your place and people trained on the machine "
        "come before this sheet."
    )
    return tuple(found)


def crosscut_line_mm(layout: Layout, cut: Cut) -> float:
    """Return the x of the line to mark for a crosscut: the end of the piece it bounds.

    A cut's own place is the middle of its kerf; a pencil line is the piece's edge. Where one kerf
    parts two pieces the line is the end of the first.
    """
    x = (cut.from_mm[0] + cut.to_mm[0]) / 2
    pieces = [piece for piece in layout.pieces if piece.board == cut.board]
    ends = [piece.x1_mm for piece in pieces if _near(piece.x1_mm, x, layout)]
    starts = [piece.x0_mm for piece in pieces if _near(piece.x0_mm, x, layout)]
    return (ends or starts or [x])[0]


def rip_line_mm(layout: Layout, cut: Cut) -> float:
    """Return the y of the line to mark for a rip: the edge of the part it bounds."""
    y = (cut.from_mm[1] + cut.to_mm[1]) / 2
    left, right = sorted((cut.from_mm[0], cut.to_mm[0]))
    here = [
        p
        for p in layout.placements
        if p.board == cut.board and left <= p.x_mm + p.length_mm / 2 <= right
    ]
    near_sides = [p.y_mm + p.width_mm for p in here if _near(p.y_mm + p.width_mm, y, layout)]
    far_sides = [p.y_mm for p in here if _near(p.y_mm, y, layout)]
    return max(near_sides) if near_sides else min(far_sides, default=y)


def _few(words: list[str], most: int = 3) -> list[str]:
    """Return the first words and how many more there are."""
    return words if len(words) <= most + 1 else [*words[:most], f"{len(words) - most} more"]


def _and(words: list[str]) -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"


def _kind_word(cut: Cut, *, across: bool) -> str:
    if cut.kind == "final":
        return "crosscut" if across else "rip"
    return cut.kind


def _near(a: float, b: float, layout: Layout) -> bool:
    # A cut may be given at the part's edge or in the middle of its kerf.
    return abs(a - b) <= layout.kerf_mm + 0.6


def _crosscut_words(layout: Layout, cut: Cut, x: float) -> tuple[str, str]:
    """Return the piece or pieces a crosscut bounds, and how."""
    pieces = [piece for piece in layout.pieces if piece.board == cut.board]
    starts = [piece for piece in pieces if _near(piece.x0_mm, x, layout)]
    ends = [piece for piece in pieces if _near(piece.x1_mm, x, layout)]
    if starts and ends:
        one, two = (piece_title(found[0].id, cut.board) for found in (ends, starts))
        return f"{one}, {two}", f"{one} ends, {two} starts"
    if starts:
        is_first = _near(min(piece.x0_mm for piece in pieces), x, layout)
        title = piece_title(starts[0].id, cut.board)
        return title, "starts; end A comes off" if is_first else "starts"
    return (piece_title(ends[0].id, cut.board), "ends") if ends else ("", "on the line")


def _side_words(
    layout: Layout, cut: Cut, parts: Mapping[str, Part], units: str, *, across: bool
) -> tuple[str, str]:
    """Return the piece that a rip or final cut works on, and the part sides it makes."""
    axis = 0 if across else 1
    at = (cut.from_mm[axis] + cut.to_mm[axis]) / 2
    along = sorted((cut.from_mm[1 - axis], cut.to_mm[1 - axis]))
    low_side, high_side, piece_ids = [], [], set()
    for index, p in enumerate(layout.placements):
        if p.board != cut.board:
            continue
        start, size = ((p.x_mm, p.length_mm), (p.y_mm, p.width_mm))[axis]
        other, reach = ((p.x_mm, p.length_mm), (p.y_mm, p.width_mm))[1 - axis]
        shared = min(along[1], other + reach) - max(along[0], other)
        if shared < 0.5 * min(reach, along[1] - along[0]):
            continue
        title = part_title(p, parts)
        if _near(start, at, layout):
            low_side.append(f"{title}, {'end A side' if across else 'far side'}")
        elif _near(start + size, at, layout):
            high_side.append(f"{title} to {bare(size, units)}")
        else:
            continue
        piece_ids |= {piece.id for piece in layout.pieces if index in piece.placements}
    piece = piece_title(min(piece_ids), cut.board) if piece_ids else ""
    return piece, "; ".join((*high_side, *low_side)) or "on the line"


def _from_far_edge(layout: Layout, board: Board, cut: Cut, units: str) -> str:
    """Return how far in from the far edge a rip line runs, at its A end and at its B end."""
    outline, y = board.faces[1].outline, rip_line_mm(layout, cut)
    marks = [
        bare(max(0.0, y - edge_y(outline, x, "far")), units)
        for x in sorted((cut.from_mm[0], cut.to_mm[0]))
    ]
    return marks[0] if marks[0] == marks[1] else f"{marks[0]} to {marks[1]}"
