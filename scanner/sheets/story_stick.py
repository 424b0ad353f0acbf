"""What a story stick tells of one board: its cuts, pieces, parts and knots along the taped edge.

A story stick is marked once and laid along the work, so that nothing is measured twice.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from scanner.board.board import Board
from scanner.board.flaw import FlawKind
from scanner.lot.off_board import flaws_on_wood
from scanner.placement.layout import Cut, Layout, Placement
from scanner.placement.parts import Part
from scanner.placement.wanted.turned import sawn_blanks
from scanner.sheets.cut_list import crosscut_line_mm, cut_rows
from scanner.sheets.tape import BIG_KNOT_MM, TapeEdge, hooked_edge, running_mm
from scanner.sheets.words import bare, blank_title, piece_title
from scanner.units import size_text

# A shorter stretch of a left-over has no room for its words.
_SEEN_MM = 40.0


@dataclass(frozen=True, slots=True)
class StickCut:
    """A crosscut line; the kerf falls on the side of ``kerf_side`` (-1 towards end A)."""

    at_mm: float
    kerf_side: int
    text: str


@dataclass(frozen=True, slots=True)
class StickSpan:
    """What lies between two crosscuts: a piece with its rips, waste, or waste with a left-over.

    ``keep`` is the size of a left-over worth keeping, "" where all of it is waste.
    """

    from_mm: float
    to_mm: float
    piece: str | None
    rips: tuple[str, ...]
    keep: str = ""


@dataclass(frozen=True, slots=True)
class StickPart:
    """How far a part reaches; ``row`` counts from the taped edge inwards."""

    from_mm: float
    to_mm: float
    row: int
    title: str


@dataclass(frozen=True, slots=True)
class StickKnot:
    """A big knot to check the board's end and face by."""

    at_mm: float
    text: str


@dataclass(frozen=True, slots=True)
class StoryStick:
    """All that is printed for one board; mm along the taped edge from its corner at end A."""

    board: str
    edge: TapeEdge
    units: str
    length_mm: float
    cuts: tuple[StickCut, ...]
    spans: tuple[StickSpan, ...]
    parts: tuple[StickPart, ...]
    knots: tuple[StickKnot, ...]
    is_looked_over: bool


def story_stick(layout: Layout, board: Board, parts: Mapping[str, Part], units: str) -> StoryStick:
    """Return the marks of a board's story stick, from its share of the layout."""
    edge = hooked_edge(board)

    def along(x: float) -> float:
        return running_mm(board, edge, x)

    end = along(board.faces[1].outline.bounds[2])
    cuts = sorted(
        (c for c in layout.cuts if c.board == board.id and c.kind == "crosscut"),
        key=lambda cut: cut.order,
    )
    marks = tuple(
        _cut_mark(layout, cut, along(crosscut_line_mm(layout, cut)), units) for cut in cuts
    )
    return StoryStick(
        board=board.id,
        edge=edge,
        units=units,
        length_mm=end,
        cuts=marks,
        spans=tuple(_spans(layout, board, parts, edge, units, end)),
        parts=tuple(
            StickPart(
                along(p.x_mm),
                along(p.x_mm + p.length_mm),
                row,
                blank_title(p, layout.placements, parts),
            )
            for p, row in _rows(layout, board, edge)
        ),
        knots=tuple(
            StickKnot(along((x0 + x1) / 2), f"knot on face {face}")
            for face in sorted(board.faces)
            for flaw in flaws_on_wood(board, face)
            if flaw.kind is FlawKind.KNOT
            for x0, y0, x1, y1 in (flaw.outlines[face].bounds,)
            if max(x1 - x0, y1 - y0) >= BIG_KNOT_MM
        ),
        is_looked_over=board.is_looked_over,
    )


def _cut_mark(layout: Layout, cut: Cut, at_mm: float, units: str) -> StickCut:
    """Return the line: the kerf lies on the far side of what the line ends."""
    middle = (cut.from_mm[0] + cut.to_mm[0]) / 2
    side = 1 if middle >= crosscut_line_mm(layout, cut) else -1
    return StickCut(at_mm, side, f"cut {cut.order} at {bare(at_mm, units)}")


def _spans(
    layout: Layout,
    board: Board,
    parts: Mapping[str, Part],
    edge: TapeEdge,
    units: str,
    end_mm: float,
) -> list[StickSpan]:
    rows = cut_rows(layout, board, parts, edge, units)
    pieces = sorted((p for p in layout.pieces if p.board == board.id), key=lambda p: p.x0_mm)
    keeps = sorted(
        (running_mm(board, edge, o.x_mm), running_mm(board, edge, o.x_mm + o.length_mm),
         size_text(o.length_mm, o.width_mm, units))
        for o in layout.offcuts
        if o.board == board.id
    )  # fmt: skip
    spans: list[StickSpan] = []
    done = 0.0
    for piece in pieces:
        low, high = (running_mm(board, edge, x) for x in (piece.x0_mm, piece.x1_mm))
        if low > done + 0.5:
            spans += _rests(done, low, keeps)
        title = piece_title(piece.id, board.id)
        rips = tuple(row.at for row in rows if row.kind == "rip" and row.piece == title)
        spans.append(StickSpan(low, high, title, rips))
        done = high
    if done < end_mm - 0.5:
        spans += _rests(done, end_mm, keeps)
    return spans


def _rests(
    from_mm: float, to_mm: float, keeps: Sequence[tuple[float, float, str]]
) -> list[StickSpan]:
    """Return what no piece takes, from waste to left-over to waste.

    Of left-overs beside each other the stretch is one, with all their sizes.
    """
    inside: list[tuple[float, float, str]] = []
    for low, high, size in keeps:
        a, b = max(low, from_mm), min(high, to_mm)
        # One that lies beside a part is no stretch of its own: the map shows it.
        if b - a < _SEEN_MM:
            continue
        if inside and a < inside[-1][1]:
            first, last, sizes = inside.pop()
            inside.append((first, max(last, b), f"{sizes}, {size}"))
        else:
            inside.append((a, b, size))
    spans, done = [], from_mm
    for a, b, size in inside:
        if a > done + 0.5:
            spans.append(StickSpan(done, a, None, ()))
        spans.append(StickSpan(a, b, None, (), size))
        done = b
    if done < to_mm - 0.5:
        spans.append(StickSpan(done, to_mm, None, ()))
    return spans


def _rows(layout: Layout, board: Board, edge: TapeEdge) -> list[tuple[Placement, int]]:
    """Return each blank that is sawn out with how many lie between it and the taped edge."""
    sign = -1 if edge.name == "near" else 1
    mine = sorted(
        sawn_blanks([p for p in layout.placements if p.board == board.id and p.state != "spoiled"]),
        key=lambda p: (sign * (p.y_mm + p.width_mm / 2), p.x_mm),
    )
    rows: list[tuple[Placement, int]] = []
    for p in mine:
        over = [
            row
            for q, row in rows
            if q.x_mm < p.x_mm + p.length_mm and p.x_mm < q.x_mm + q.length_mm
        ]
        rows.append((p, max(over, default=-1) + 1))
    return rows
