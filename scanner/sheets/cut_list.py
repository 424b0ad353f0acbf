"""The cut list: each cut with the line to mark for it and what it makes."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType

from scanner.board.board import Board
from scanner.lot.saws import is_across
from scanner.placement.layout import SAWN_OUT, Cut, Layout, Placement
from scanner.placement.parts import Part
from scanner.placement.wanted.turned import blanks_of
from scanner.sheets.board_share import board_share
from scanner.sheets.tape import TapeEdge, edge_y, running_mm
from scanner.sheets.words import bare, blank_title, nest_of, part_title, piece_title

# What the column "at" of a cut list holds.
AT_MEANS = (
    "at: crosscuts from end A along the taped edge; rips in from the far edge, at the A end to the "
    "B end of the line; cuts to length from the piece’s A end"
)
# A cut bounds a part that ends (starts) half a kerf from it; places are rounded to 0.1 mm.
_ROUNDED_MM = 0.35
NOTHING: Mapping[int, str] = MappingProxyType({})
# Beside a cut all of whose parts are sawn out by now. One beside which a part is still wood may
# have been made for another layout, and not all the way.
DONE = "done"
# A blank that is cut out may still have to be resawn.
_RESAWN = ("milled", "resting", "done", "spoiled")


@dataclass(frozen=True, slots=True)
class CutRow:
    """One line of the cut list; ``at`` as ``AT_MEANS`` says, without its unit.

    ``order``: None where it is no straight cut of the layout but a nest or a blank sawn apart.
    ``mind``: what may jump, pinch or spring there, in a few words; `DONE` where it is made already.
    """

    order: int | None
    kind: str
    at: str
    piece: str
    text: str
    mind: str = ""

    @property
    def number(self) -> str:
        """The cut's number, as it stands in the map's discs; "" for a nest or a blank."""
        return "" if self.order is None else str(self.order)


@dataclass(frozen=True, slots=True)
class _Bounded:
    """What ends and what starts at a cut, and the line between: all along one axis, mm.

    A cut's own place is the middle of its kerf; a pencil line is an edge of what it bounds. Where
    one kerf parts two the line is the end of the first.
    """

    line_mm: float
    ends: tuple[str, ...]
    starts: tuple[str, ...]
    piece: str = ""
    is_made: bool = False


def cut_rows(
    layout: Layout,
    board: Board,
    parts: Mapping[str, Part],
    edge: TapeEdge,
    units: str,
    minds: Mapping[int, str] = NOTHING,
) -> tuple[CutRow, ...]:
    """Return the cuts of a board in sawing order; ``minds``: what to mind, by the cut's number."""
    # Each cut asks all placements and pieces.
    layout = board_share(layout, board.id)
    cuts = sorted(layout.cuts, key=lambda c: c.order)
    rows = []
    for cut in cuts:
        if cut.kind == "crosscut":
            found = _pieces_at(layout, cut)
            at = bare(running_mm(board, edge, found.line_mm), units)
            piece = ", ".join((*found.ends, *found.starts))
            text = _crosscut_text(layout, cut, found)
        else:
            found = _parts_at(layout, cut, parts, units)
            piece = found.piece
            at = _place_text(layout, board, cut, found.line_mm, units)
            text = _part_text(cut, found)
        mind = DONE if found.is_made else minds.get(cut.order, "")
        rows.append(CutRow(cut.order, _kind_word(cut), at, piece, text, mind))
    return (*rows, *_resaw_rows(layout, board, parts), *_nest_rows(layout, board, parts))


def _resaw_rows(layout: Layout, board: Board, parts: Mapping[str, Part]) -> list[CutRow]:
    """Return the blanks of a board to be sawn apart into slices, after all straight cuts."""
    blanks: dict[tuple[float, float], list[int]] = {}
    for index, p in enumerate(layout.placements):
        if p.board == board.id and p.layer is not None and p.state not in _RESAWN:
            blanks.setdefault((p.x_mm, p.y_mm), []).append(index)
    rows = []
    for indices in blanks.values():
        titles = [
            part_title(replace(layout.placements[index], layer=None), parts) for index in indices
        ]
        pieces = [
            piece_title(q.id, board.id) for q in layout.pieces if set(indices) & set(q.placements)
        ]
        text = f"on edge in {len(titles)}: {', '.join(titles)}"
        # On edge a blank stands against the fence by a flat face, on a straight edge.
        rows.append(CutRow(None, "resaw", "", ", ".join(pieces), text, "joint first"))
    return rows


def _nest_rows(layout: Layout, board: Board, parts: Mapping[str, Part]) -> list[CutRow]:
    """Return the nests of a board to be sawn apart, after all straight cuts."""
    rows: dict[int, CutRow] = {}
    for index, p in enumerate(layout.placements):
        if p.board != board.id or p.nest in (None, *rows) or p.state == "spoiled":
            continue
        if len(nest_of(p, layout.placements)) < 2:
            continue
        title = blank_title(p, layout.placements, parts)
        pieces = [piece_title(q.id, board.id) for q in layout.pieces if index in q.placements]
        text = f"curves apart: {title.removeprefix('nest of ')}"
        # Nothing curved is fed through a planer: the blank is milled whole.
        rows[p.nest or 0] = CutRow(None, "band saw", "", ", ".join(pieces), text, "mill first")
    return list(rows.values())


def crosscut_line_mm(layout: Layout, cut: Cut) -> float:
    """Return the x of the line to mark for a crosscut, board frame."""
    return _pieces_at(layout, cut).line_mm


def _kind_word(cut: Cut) -> str:
    if cut.kind == "final":
        return "to length" if is_across(cut) else "to width"
    return cut.kind


def _ends_at(edge_mm: float, cut_mm: float, kerf_mm: float) -> bool:
    """Whether what reaches up to an edge is bounded by a cut (given at its middle or its edge)."""
    return min(abs(edge_mm + kerf_mm / 2 - cut_mm), abs(edge_mm - cut_mm)) <= _ROUNDED_MM


def _starts_at(edge_mm: float, cut_mm: float, kerf_mm: float) -> bool:
    return min(abs(edge_mm - kerf_mm / 2 - cut_mm), abs(edge_mm - cut_mm)) <= _ROUNDED_MM


def _pieces_at(layout: Layout, cut: Cut) -> _Bounded:
    x, kerf = (cut.from_mm[0] + cut.to_mm[0]) / 2, layout.kerf_mm
    pieces = [piece for piece in layout.pieces if piece.board == cut.board]
    ends = [piece for piece in pieces if _ends_at(piece.x1_mm, x, kerf)]
    starts = [piece for piece in pieces if _starts_at(piece.x0_mm, x, kerf)]
    lines = [piece.x1_mm for piece in ends] + [piece.x0_mm for piece in starts]
    return _Bounded(
        lines[0] if lines else x,
        tuple(piece_title(piece.id, cut.board) for piece in ends),
        tuple(piece_title(piece.id, cut.board) for piece in starts),
        is_made=_are_cut(
            [layout.placements[index] for piece in (*ends, *starts) for index in piece.placements]
        ),
    )


def _are_cut(placements: list[Placement]) -> bool:
    return bool(placements) and all(p.state in SAWN_OUT for p in placements)


def _crosscut_text(layout: Layout, cut: Cut, found: _Bounded) -> str:
    if found.ends and found.starts:
        return f"{found.ends[0]} ends, {found.starts[0]} starts"
    if found.starts:
        first = min(piece.x0_mm for piece in layout.pieces if piece.board == cut.board)
        return "starts; end A comes off" if found.line_mm == first else "starts"
    return "ends" if found.ends else "on the line"


def _parts_at(layout: Layout, cut: Cut, parts: Mapping[str, Part], units: str) -> _Bounded:
    """Return the parts whose sides a rip or final cut makes."""
    axis = 0 if is_across(cut) else 1
    at, kerf = (cut.from_mm[axis] + cut.to_mm[axis]) / 2, layout.kerf_mm
    low, high = sorted((cut.from_mm[1 - axis], cut.to_mm[1 - axis]))
    ends: dict[str, list[str]] = {}
    starts: list[str] = []
    end_lines: list[float] = []
    start_lines: list[float] = []
    pieces: set[str] = set()
    bounded: list[Placement] = []
    for index, p in enumerate(blanks_of(layout.placements)):
        spans = ((p.x_mm, p.length_mm), (p.y_mm, p.width_mm))
        (start, size), (other, reach) = spans[axis], spans[1 - axis]
        is_nest = len(nest_of(p, layout.placements)) > 1
        # A straight cut frees the whole blank, whatever slices it is resawn into.
        whole = replace(p, layer=None)
        title = _nest_title(p, layout, parts) if is_nest else part_title(whole, parts)
        if p.board != cut.board or not low <= other + reach / 2 <= high:
            continue
        if _ends_at(start + size, at, kerf):
            titles = ends.setdefault(bare(size, units), [])
            titles += [title] if title not in titles else []
            end_lines.append(start + size)
        elif _starts_at(start, at, kerf):
            starts += [title] if title not in starts else []
            start_lines.append(start)
        else:
            continue
        bounded.append(p)
        pieces |= {piece.id for piece in layout.pieces if index in piece.placements}
    return _Bounded(
        max(end_lines, default=min(start_lines, default=at)),
        tuple(f"{', '.join(titles)} to {size}" for size, titles in ends.items()),
        tuple(starts),
        piece_title(min(pieces), cut.board) if pieces else "",
        _are_cut(bounded),
    )


def _nest_title(p: Placement, layout: Layout, parts: Mapping[str, Part]) -> str:
    """Return a nest's title as short as a column asks for."""
    return blank_title(p, layout.placements, parts).replace("nest of ", "nest ", 1)


def _part_text(cut: Cut, found: _Bounded) -> str:
    """Return what a cut makes; where it sizes a part, the next part's first side goes unsaid."""
    if found.ends:
        return "; ".join(found.ends)
    side = "A end" if is_across(cut) else "far side"
    return f"{side} of {', '.join(found.starts)}" if found.starts else "on the line"


def _place_text(layout: Layout, board: Board, cut: Cut, line_mm: float, units: str) -> str:
    """Return where to mark: a cut to length from the piece's A end, a rip from the far edge."""
    if is_across(cut):
        holding = [
            piece.x0_mm
            for piece in layout.pieces
            if piece.board == cut.board and piece.x0_mm <= line_mm <= piece.x1_mm
        ]
        return bare(line_mm - holding[0], units) if holding else ""
    outline = board.faces[1].outline
    marks = [
        bare(max(0.0, line_mm - edge_y(outline, x, "far")), units)
        for x in sorted((cut.from_mm[0], cut.to_mm[0]))
    ]
    return marks[0] if marks[0] == marks[1] else f"{marks[0]} to {marks[1]}"
